//! Numbers a lattice for people: origin at the node nearest the picture's centre, i to the right, j down, never mirrored.

use super::looks::Looks;
use super::map::SheetMap;
use super::seek::Found;
use super::{Lattice, Node};
use crate::length::Px;

/// Turns and shifts the addresses; returns the nodes sorted by (j, i), and the map and the looks of the lines for the new addresses.
pub fn number(found: &Found, size: [usize; 2]) -> Option<(Vec<Node>, SheetMap, Option<Looks>)> {
    let centre = Px::new((size[0] as f64 - 1.0) / 2.0, (size[1] as f64 - 1.0) / 2.0);
    let a = found.map.address(centre)?;
    let origin = (a[0].round() as i32, a[1].round() as i32);
    let [u, v] = found.map.frame(f64::from(origin.0), f64::from(origin.1))?;
    // The four turns of (u, v): new i runs along u, -v, -u or v, and j a quarter turn on.
    let turns = [((1, 0), (0, 1)), ((0, -1), (1, 0)), ((-1, 0), (0, -1)), ((0, 1), (-1, 0))];
    let rightward = |t: &((i32, i32), (i32, i32))| (u * f64::from(t.0.0) + v * f64::from(t.0.1)).normalize().x;
    let turn = turns.iter().copied().max_by(|a, b| rightward(a).total_cmp(&rightward(b)))?;
    let (ei, ej) = turn;
    let mut nodes: Vec<Node> = found
        .nodes
        .iter()
        .map(|&((p, q), at, error)| {
            let (x, y) = (p - origin.0, q - origin.1);
            Node { at, i: x * ei.0 + y * ei.1, j: x * ej.0 + y * ej.1, error }
        })
        .collect();
    nodes.sort_by_key(|n| (n.j, n.i));
    let f = f64::from;
    let back = [[f(ei.0), f(ej.0)], [f(ei.1), f(ej.1)]];
    // Lines along the new i are those along the old i, or, after a quarter turn, along the old j.
    let from = if ei.0 != 0 { [0, 1] } else { [1, 0] };
    let number = |axis: usize, n: i32| {
        let e = if axis == 0 { ej } else { ei };
        (e.0 + e.1) * (n - [origin.1, origin.0][from[axis]])
    };
    let looks = found.looks.as_ref().map(|l| l.turned(from, number));
    Some((nodes, found.map.readdressed(back, [f(origin.0), f(origin.1)]), looks))
}

impl Lattice {
    /// Whether a node is kept out of fits so that they can be checked against it: about one in ten, spread evenly.
    pub fn kept_out(i: i32, j: i32) -> bool {
        (i + 3 * j).rem_euclid(10) == 7
    }
}
