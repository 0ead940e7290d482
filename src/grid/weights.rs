//! How heavy each line of a ruling is against the usual one: where every n-th line is heavier, ink of twice the width lies beside
//! the cloth, and would be taken for it if all lines were thought alike.

use super::arms::{self, LineLook};
use super::map::SheetMap;
use super::ridge::Polarity;
use super::{LineWeight, LineWeights, Node};
use crate::shot::Shot;
use std::collections::{BTreeMap, BTreeSet};

/// Places at which a line is measured, spread along it: a median of fewer is easily print or a thread.
const PROBES: usize = 4;
const FEWEST: usize = 2;
/// Lines whose ink (width times depth) is nearer to the usual than this, as a logarithm, are usual ones: it scatters by a fifth.
const ALIKE: f64 = 0.3;
/// Lines this many numbers to either side say what is usual there.
const NEAR: i32 = 4;
/// Greatest departure that is believed: a line five times as heavy is no line of this ruling.
const MOST: f64 = 5.0;

/// Weights of the lines of both families.
pub(super) fn weights(shot: &Shot, nodes: &[Node], map: &SheetMap, polarity: Polarity, usual: &LineLook) -> LineWeights {
    let seen = |a: (i32, i32), axis: usize| arms::along(shot, map, a, axis, polarity, usual);
    LineWeights { across: family(nodes, 0, seen), down: family(nodes, 1, seen) }
}

/// Lines that run along `axis` and are heavier or lighter than usual, by their number. They are looked at where their neighbours are
/// seen: heavy lines may have been taken for none, and have no nodes of their own.
fn family(nodes: &[Node], axis: usize, seen: impl Fn((i32, i32), usize) -> Option<LineLook>) -> BTreeMap<i32, LineWeight> {
    let mut lines: BTreeMap<i32, Vec<(i32, i32)>> = BTreeMap::new();
    let seen_at: BTreeSet<(i32, i32)> = nodes.iter().map(|n| (n.i, n.j)).collect();
    let places: BTreeSet<(i32, i32)> = seen_at.iter().flat_map(|&(i, j)| [(i, j), (i + 1, j), (i, j + 1)]).collect();
    for (i, j) in places {
        let around = [(i, j), (i - 1, j), (i + 1, j), (i, j - 1), (i, j + 1)];
        if around.iter().filter(|a| seen_at.contains(a)).count() > 1 {
            lines.entry(if axis == 0 { j } else { i }).or_default().push((i, j));
        }
    }
    let look = |places: &Vec<(i32, i32)>| {
        let some = places.iter().step_by(places.len().div_ceil(PROBES).max(1));
        let looks: Vec<LineLook> = some.filter_map(|&a| seen(a, axis)).collect();
        if looks.len() < FEWEST { None } else { LineLook::usual(&looks) }
    };
    let found: Vec<(i32, LineLook)> = lines.iter().filter_map(|(&n, places)| Some((n, look(places)?))).collect();
    let odd = |&(n, l): &(i32, LineLook)| {
        // Lines are compared with those about them: where the picture is softer or seen from farther, all are paler.
        let about = found.iter().filter(|f| (f.0 - n).abs() <= NEAR).map(|f| f.1).collect::<Vec<_>>();
        let middle = LineLook::usual(&about)?;
        let [width, depth] = [l.width / middle.width, l.depth / middle.depth].map(|r| r.clamp(1.0 / MOST, MOST));
        ((width * depth).ln().abs() > ALIKE).then_some((n, LineWeight { width, depth }))
    };
    found.iter().filter_map(odd).collect()
}
