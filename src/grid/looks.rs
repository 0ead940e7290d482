//! What the lines of a ruling look like, each for itself: where every n-th line is heavier, one look for all would take the heavy lines
//! for something else, or the fine ones for none.

use super::arms::{self, LineLook};
use super::map::SheetMap;
use super::period::{self, Inks};
use super::ridge::Polarity;
use super::{LineWeight, LineWeights};
use crate::shot::Shot;
use std::collections::{BTreeMap, BTreeSet};

/// Places at which a line is measured, spread along it: a median of fewer is easily print or a thread.
const PROBES: usize = 4;
const FEWEST: usize = 2;
/// Lines whose ink (width times depth) is nearer to the usual than this, as a logarithm, are usual ones: it scatters by a fifth.
pub(super) const ALIKE: f64 = 0.3;
/// Lines this many numbers to either side say what is usual there.
const NEAR: i32 = 4;
/// Greatest departure in width or depth that is believed: heavy lines of a mat may be ten times as deep as its faint ones.
const MOST: f64 = 12.0;

/// Lines by their number, of those that run along i (across the picture, numbered by j) and along j.
type Lines<T> = [BTreeMap<i32, T>; 2];

/// Looks of a ruling's lines.
#[derive(Clone, Debug)]
pub(super) struct Looks {
    /// Of most lines; of the finer ones where every n-th is heavier.
    pub usual: LineLook,
    /// Of lines that differ from it, and how they stand to it thereabouts.
    own: Lines<(LineLook, LineWeight)>,
    /// How many fine squares make a heavier one, and how many of these a still heavier one; empty where all lines are alike.
    pub every: Vec<u32>,
}

impl Looks {
    /// All lines alike.
    pub fn alike(usual: LineLook) -> Self {
        Self { usual, own: Lines::default(), every: Vec::new() }
    }

    /// Measures every line of a lattice at a few of its nodes; `usual` is the median over nodes.
    pub fn learn(shot: &Shot, map: &SheetMap, nodes: &BTreeSet<(i32, i32)>, polarity: Polarity, usual: LineLook) -> Self {
        let places = places(nodes);
        let seen = [0, 1].map(|axis| {
            let mut lines: BTreeMap<i32, Vec<(i32, i32)>> = BTreeMap::new();
            places.iter().for_each(|&(i, j)| lines.entry(if axis == 0 { j } else { i }).or_default().push((i, j)));
            let look = |places: &Vec<(i32, i32)>| {
                let some = places.iter().step_by(places.len().div_ceil(PROBES).max(1));
                let looks: Vec<LineLook> = some.filter_map(|&a| arms::along(shot, map, a, axis, polarity)).collect();
                if looks.len() < FEWEST { None } else { LineLook::usual(&looks) }
            };
            lines.iter().filter_map(|(&n, places)| Some((n, look(places)?))).collect::<BTreeMap<i32, LineLook>>()
        });
        let inks = seen.each_ref().map(|lines| lines.iter().map(|(&n, l)| (n, l.ink())).collect::<Inks>());
        let every = period::chain(&inks);
        let heavy = [0, 1].map(|axis| every.first().and_then(|&n| period::phase(&inks[axis], n)));
        let fine = |axis: usize, n: i32| heavy[axis].is_none_or(|first| (n - first).rem_euclid(every[0] as i32) != 0);
        let all: Vec<LineLook> =
            [0, 1].iter().flat_map(|&axis| seen[axis].iter().filter(move |l| fine(axis, *l.0))).map(|l| *l.1).collect();
        let usual = if every.is_empty() { usual } else { LineLook::usual(&all).unwrap_or(usual) };
        let own = [0, 1].map(|axis| odd(&seen[axis], |n| fine(axis, n)));
        Self { usual, own, every }
    }

    /// The look of the line that runs along an axis and has this number.
    pub fn of(&self, axis: usize, number: i32) -> &LineLook {
        self.own[axis].get(&number).map_or(&self.usual, |l| &l.0)
    }

    /// How lines stand to the usual one.
    pub fn weights(&self) -> LineWeights {
        let of = |axis: usize| self.own[axis].iter().map(|(&n, l)| (n, l.1)).collect();
        LineWeights { across: of(0), down: of(1) }
    }

    /// The same with the lattice turned: new axis `k` is the old axis `from[k].0`, and a line's new number is made of its old one.
    pub fn turned(&self, from: [usize; 2], number: impl Fn(usize, i32) -> i32) -> Self {
        let own = [0, 1].map(|axis| self.own[from[axis]].iter().map(|(&n, l)| (number(axis, n), *l)).collect());
        Self { own, every: self.every.clone(), ..*self }
    }
}

/// Where lines are looked at: at the nodes, and where their neighbours are seen; heavy lines may have been taken for none.
fn places(nodes: &BTreeSet<(i32, i32)>) -> BTreeSet<(i32, i32)> {
    let beside = nodes.iter().flat_map(|&(i, j)| [(i, j), (i + 1, j), (i, j + 1)]);
    let around =
        |&(i, j): &(i32, i32)| [(i, j), (i - 1, j), (i + 1, j), (i, j - 1), (i, j + 1)].iter().filter(|a| nodes.contains(a)).count() > 1;
    beside.filter(around).collect()
}

/// Lines heavier or lighter than the fine ones about them: where the picture is softer or seen from farther, all are paler.
fn odd(seen: &BTreeMap<i32, LineLook>, fine: impl Fn(i32) -> bool) -> BTreeMap<i32, (LineLook, LineWeight)> {
    let one = |(&n, l): (&i32, &LineLook)| {
        let about: Vec<LineLook> = seen.range(n - NEAR..=n + NEAR).filter(|f| fine(*f.0)).map(|f| *f.1).collect();
        let middle = LineLook::usual(&about)?;
        let [width, depth] = [l.width / middle.width, l.depth / middle.depth].map(|r| r.clamp(1.0 / MOST, MOST));
        ((width * depth).ln().abs() > ALIKE).then_some((n, (*l, LineWeight { width, depth })))
    };
    seen.iter().filter_map(one).collect()
}
