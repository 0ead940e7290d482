//! Numbers a lattice for people: origin at the node nearest the picture's centre, i to the right, j down, never mirrored; or as the
//! position code has it.

use super::looks::Looks;
use super::map::SheetMap;
use super::seek::Found;
use super::{Lattice, Node};
use crate::length::Px;

/// Old addresses to new ones: a new address is the old one less `from`, turned.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Turn {
    /// The old address that becomes (0, 0).
    pub from: [i32; 2],
    /// What the new i runs along, as steps of the old i and j.
    pub i: [i32; 2],
    /// What the new j runs along.
    pub j: [i32; 2],
}

impl Turn {
    /// Addresses as they are.
    pub const NONE: Self = Self { from: [0, 0], i: [1, 0], j: [0, 1] };

    /// The new address of an old one.
    pub fn of(&self, old: [i32; 2]) -> [i32; 2] {
        let (x, y) = (old[0] - self.from[0], old[1] - self.from[1]);
        [x * self.i[0] + y * self.i[1], x * self.j[0] + y * self.j[1]]
    }
}

/// A lattice whose nodes have addresses.
pub(super) struct Numbered {
    /// Sorted by (j, i).
    pub nodes: Vec<Node>,
    pub map: SheetMap,
    pub looks: Option<Looks>,
}

impl Numbered {
    /// With the origin at the node nearest the middle of a picture of this size, i along the direction nearest its right.
    pub fn of(found: &Found, size: [usize; 2]) -> Option<Self> {
        let centre = Px::new((size[0] as f64 - 1.0) / 2.0, (size[1] as f64 - 1.0) / 2.0);
        let a = found.map.address(centre)?;
        let from = [a[0].round() as i32, a[1].round() as i32];
        let [u, v] = found.map.frame(f64::from(from[0]), f64::from(from[1]))?;
        // The four turns of (u, v): new i runs along u, -v, -u or v, and j a quarter turn on.
        let turns = [([1, 0], [0, 1]), ([0, -1], [1, 0]), ([-1, 0], [0, -1]), ([0, 1], [-1, 0])];
        let rightward = |t: &([i32; 2], [i32; 2])| (u * f64::from(t.0[0]) + v * f64::from(t.0[1])).normalize().x;
        let (i, j) = turns.iter().copied().max_by(|a, b| rightward(a).total_cmp(&rightward(b)))?;
        Some(Self::as_found(found).turned(Turn { from, i, j }))
    }

    /// With the addresses it was found with.
    pub fn as_found(found: &Found) -> Self {
        let nodes = found.nodes.iter().map(|&((i, j), at, error)| Node { at, i, j, error }).collect();
        Self { nodes, map: found.map, looks: found.looks.clone() }
    }

    /// With new addresses.
    pub fn turned(mut self, turn: Turn) -> Self {
        for n in &mut self.nodes {
            [n.i, n.j] = turn.of([n.i, n.j]);
        }
        self.nodes.sort_by_key(|n| (n.j, n.i));
        let (i, j) = (turn.i.map(f64::from), turn.j.map(f64::from));
        let back = [[i[0], j[0]], [i[1], j[1]]];
        // Lines along the new i are those along the old i, or, after a quarter turn, along the old j.
        let from = if turn.i[0] != 0 { [0, 1] } else { [1, 0] };
        let number = |axis: usize, n: i32| {
            let e = if axis == 0 { turn.j } else { turn.i };
            (e[0] + e[1]) * (n - [turn.from[1], turn.from[0]][from[axis]])
        };
        self.looks = self.looks.map(|l| l.turned(from, number));
        self.map = self.map.readdressed(back, turn.from.map(f64::from));
        self
    }
}

impl Lattice {
    /// Whether a node is kept out of fits so that they can be checked against it: about one in ten, spread evenly.
    pub fn kept_out(i: i32, j: i32) -> bool {
        (i + 3 * j).rem_euclid(10) == 7
    }
}
