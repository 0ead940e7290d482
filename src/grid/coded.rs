//! The lattice of a coded sheet among all that were found: the one whose code can be read, with all other patches of the same sheet that can. Where a
//! garment leaves but a border in view, seen at a slant, patches are grown apart or numbered wrongly across what is hidden; their
//! addresses on the sheet put them together.

use super::code::{self, Reading, Side};
use super::number::{Numbered, Turn};
use super::seek::{Found, Seen};
use super::settle;
use crate::sheet::SheetKind;
use crate::shot::Shot;
use std::collections::{BTreeMap, BTreeSet};

/// Patches with fewer sides say nothing for themselves anywhere on the sheet.
const FEWEST_SIDES: usize = 40;
/// How far a small patch may be numbered wrongly, squares.
const REACH: i32 = 12;

/// Nodes next to one another, and what the sides between and about them say.
struct Patch<'a> {
    of: &'a Found,
    nodes: Vec<Seen>,
    sides: Vec<Side>,
    reading: Option<Reading>,
}

/// A lattice that one map carries round all that hides it, with what every side in view says of it; `None` where that is no code.
pub(super) fn over(shot: &Shot, found: Found) -> Option<Found> {
    let reading = code::told_by(&code::look_over(shot, &Numbered::as_found(&found).nodes, &found.map)?)?;
    if reading.mirrored {
        return Some(Found { coded: Some(reading), ..found });
    }
    addressed(shot, &found, turned(&found.nodes, reading.turn).collect(), reading)
}

/// The coded sheet's lattice; `None` where none of the lattices carries a code.
pub(super) fn together(shot: &Shot, all: &[Found]) -> Option<Found> {
    let mut patches: Vec<Patch> = all.iter().filter(|f| f.kind == SheetKind::Lines).filter_map(|f| patches(shot, f)).flatten().collect();
    let sheet = |r: &Reading| (r.code, r.mirrored);
    let seen =
        |of: &Reading| patches.iter().filter(|p| p.reading.as_ref().is_some_and(|r| sheet(r) == sheet(of))).map(|p| p.nodes.len()).sum();
    // Of two coded sheets the one of which more is seen.
    let first = patches.iter().filter(|p| p.reading.is_some()).max_by_key(|p| (p.reading.map_or(0usize, |r| seen(&r)), p.nodes.len()))?;
    let (largest, reading) = (first.of, first.reading?);
    if reading.mirrored {
        return Some(Found { coded: Some(reading), ..largest.clone() });
    }
    // Small patches go by the largest of their own lattice.
    let lead = |of: &Found| {
        let own = patches.iter().filter(|p| std::ptr::eq(p.of, of) && p.reading.as_ref().is_some_and(|r| sheet(r) == sheet(&reading)));
        own.max_by_key(|p| p.nodes.len()).and_then(|p| p.reading)
    };
    let leads: Vec<Option<Reading>> = patches.iter().map(|p| lead(p.of)).collect();
    for (patch, lead) in patches.iter_mut().zip(leads) {
        let by = |r: Reading| code::shift(&patch.sides, &r, REACH).map(|[x, y]| Reading { turn: moved(r.turn, [x, y]), ..r });
        patch.reading = patch.reading.filter(|r| sheet(r) == sheet(&reading)).or_else(|| lead.and_then(by));
    }
    patches.sort_by_key(|p| std::cmp::Reverse(p.nodes.len()));
    let mut nodes: BTreeMap<(i32, i32), Seen> = BTreeMap::new();
    for patch in &patches {
        let Some(r) = patch.reading else { continue };
        for node in turned(&patch.nodes, r.turn) {
            nodes.entry(node.0).or_insert(node);
        }
    }
    addressed(shot, largest, nodes.into_values().collect(), reading)
}

/// Nodes by their address after a turn.
fn turned(nodes: &[Seen], turn: Turn) -> impl Iterator<Item = Seen> + '_ {
    nodes.iter().map(move |&((i, j), at, error)| {
        let [i, j] = turn.of([i, j]);
        ((i, j), at, error)
    })
}

/// A lattice whose nodes have the sheet's own addresses.
fn addressed(shot: &Shot, largest: &Found, nodes: Vec<Seen>, reading: Reading) -> Option<Found> {
    let (nodes, map) = settle::clean(nodes, [shot.width, shot.height])?;
    let Numbered { looks, .. } = Numbered::as_found(largest).turned(reading.turn);
    // The addresses are the sheet's own now.
    Some(Found { nodes, map, looks, coded: Some(Reading { turn: Turn::NONE, ..reading }), ..largest.clone() })
}

/// The turn that gives addresses so many squares on.
fn moved(turn: Turn, [x, y]: [i32; 2]) -> Turn {
    let from = [0, 1].map(|k| turn.from[k] - x * turn.i[k] - y * turn.j[k]);
    Turn { from, ..turn }
}

/// A lattice parted where no node is next to another; `None` where it carries no code.
fn patches<'a>(shot: &Shot, found: &'a Found) -> Option<Vec<Patch<'a>>> {
    let sides = code::look(shot, &Numbered::as_found(found).nodes, &found.map)?;
    let mut left: BTreeMap<(i32, i32), Seen> = found.nodes.iter().map(|n| (n.0, *n)).collect();
    let mut out = Vec::new();
    while let Some((&start, _)) = left.first_key_value() {
        let (mut nodes, mut next) = (Vec::new(), vec![start]);
        while let Some(a) = next.pop() {
            let Some(node) = left.remove(&a) else { continue };
            nodes.push(node);
            next.extend([(1, 0), (0, 1), (-1, 0), (0, -1)].map(|d| (a.0 + d.0, a.1 + d.1)));
        }
        let own: BTreeSet<[i32; 2]> = nodes.iter().map(|n| [n.0.0, n.0.1]).collect();
        let sides: Vec<Side> = sides.iter().filter(|s| s.ends().iter().any(|a| own.contains(a))).copied().collect();
        let reading = (sides.len() >= FEWEST_SIDES).then(|| code::told_by(&sides)).flatten();
        out.push(Patch { of: found, nodes, sides, reading });
    }
    Some(out)
}
