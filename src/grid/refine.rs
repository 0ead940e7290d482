//! Takes a lattice down to the finest lines of its ruling that can be measured: where only the heavy lines were found, or every third
//! of them, the squares between the nodes are cut and the further nodes measured.

use super::finer;
use super::seek::{Found, MOST_NODES, Seen, learn_at, polarity};
use super::{arms, settle};
use crate::shot::Shot;
use rayon::prelude::*;
use std::collections::BTreeSet;

/// A mixture of rulings is cut a few times at most: thirds of heavy squares, halves, tenths.
const ROUNDS: usize = 4;
/// Share of the further nodes that must be measured for a cut to be made; print, text and scratches hide some.
const SHARE: f64 = 0.5;

/// The lattice of the finest lines that can be measured, and into how many parts still finer lines divide its squares.
pub(super) fn finest(shot: &Shot, mut found: Found) -> (Found, Option<u32>) {
    let Some(polarity) = polarity(found.kind) else { return (found, None) };
    for _ in 0..ROUNDS {
        let Some(parts) = finer::parts(shot, &found.nodes, &found.map, polarity) else { break };
        match cut(shot, &found, parts) {
            Some(finer) => found = finer,
            None => return (found, Some(parts)),
        }
    }
    (found, None)
}

/// The lattice with every square cut into `parts` along both axes; `None` when too few of the further nodes can be measured.
fn cut(shot: &Shot, found: &Found, parts: u32) -> Option<Found> {
    let (polarity, n) = (polarity(found.kind)?, parts as i32);
    let part = 1.0 / f64::from(parts);
    let map = found.map.readdressed([[part, 0.0], [0.0, part]], [0.0, 0.0]);
    let cells = finer::bare(&found.nodes);
    // Whole squares are left out when there are too many nodes, so that those that stay have all their neighbours.
    let step = (cells.len() * (parts * parts) as usize).div_ceil(MOST_NODES);
    let within = |&(i, j): &(i32, i32)| (0..=n).flat_map(move |y| (0..=n).map(move |x| (n * i + x, n * j + y)));
    let wanted: BTreeSet<(i32, i32)> = cells.iter().step_by(step.max(1)).flat_map(within).collect();
    let looks = learn_at(shot, &map, &wanted, polarity)?;
    let all: Vec<(i32, i32)> = wanted.into_iter().collect();
    let one = |&a: &(i32, i32)| arms::measure(shot, &map, a, polarity, Some(&looks)).map(|m| (a, m.at, m.error));
    let seen: Vec<Seen> = all.par_iter().filter_map(one).collect();
    let further = |a: &(i32, i32)| a.0 % n != 0 || a.1 % n != 0;
    let (wanted, measured) = (all.iter().filter(|a| further(a)).count(), seen.iter().filter(|s| further(&s.0)).count());
    if (measured as f64) < SHARE * wanted as f64 {
        return None;
    }
    // Nodes of the coarse lattice with no whole square about them stay.
    let taken: BTreeSet<(i32, i32)> = seen.iter().map(|s| s.0).collect();
    let rest = found.nodes.iter().map(|s| ((n * s.0.0, n * s.0.1), s.1, s.2)).filter(|s| !taken.contains(&s.0));
    let mut nodes: Vec<Seen> = seen.iter().copied().chain(rest).collect();
    nodes.sort_by_key(|s| s.0);
    let (nodes, map) = settle::clean(nodes, [shot.width, shot.height])?;
    Some(Found { nodes, map, looks: Some(looks), ..found.clone() })
}
