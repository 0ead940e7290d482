//! Reads the position code: which coded sheet the lattice is, and which of its nodes each node is.
//!
//! In: a picture, and nodes of ruled lines numbered anyhow. Out: the sheet's code and the turn that gives every node its address on the sheet; nothing
//! where the lines carry no code. The places of all marks are known to a fraction of a pixel, so reading is sampling; what the sides
//! of all squares in view say is then held against the two patterns in every place and in all eight positions of a square,
//! so that shadows, folds and dirt are outvoted. What can go wrong: a ruling with other things half way between its lines (told by how improbable
//! the agreement is), and a mirrored picture (read, and said to be mirrored).

use super::Node;
use super::arms::light;
use super::map::SheetMap;
use super::number::Turn;
use crate::sheet::SheetCode;
use crate::sheet::code::{ALONG, LINES, MARK_RADIUS, Pattern, of_rests, patterns};
use crate::shot::Shot;
use crate::solve::median;
use nalgebra::Vector2;
use rayon::prelude::*;
use std::collections::HashMap;

/// Where a mark is looked at, off the line's middle, in radii of a mark: beside the line itself, which is there either way.
const BESIDE: [f64; 4] = [-0.75, -0.5, 0.5, 0.75];
/// And along the line, in radii from the middle of the side.
const ALONG_MARK: [f64; 3] = [-0.4, 0.0, 0.4];
/// Where the line goes without a mark either way, squares from the node: what a mark is darker than.
const WITHOUT: [f64; 4] = [0.33, 0.37, 0.63, 0.67];
/// Where the ground is clear of the line, in radii of a mark off its middle.
const CLEAR_OF_LINE: [f64; 2] = [-1.4, 1.4];
/// A mark is darker than its surroundings by at least this share; less is grain.
const FAINT: f64 = 0.06;
/// Sides looked at first.
const GLANCE: usize = 64;
/// Most sides that may say neither yes nor no: marks and no marks are two heaps with a gap between them.
const UNDECIDED: f64 = 0.3;
/// Natural logarithm of the odds against an agreement by chance from which it is none: e^34 is 6 × 10^14, against 5 × 10^8 places
/// and positions that are tried.
const SURE: f64 = 34.0;
/// The same where the address is known to some squares, beyond what trying these costs: e^6 is 400.
const NEARBY: f64 = 6.0;
/// Lines are this share as dark as those beside the nodes, or are no lines of the sheet's.
const PALER: f64 = 0.25;
/// A side whose middle is lighter than the rest by more than this share has something lying on it.
const LIGHTER: f64 = 0.12;
/// How far beyond the nodes sides are looked for, squares, and most of them: a sheet in view has fewer.
const BEYOND: i32 = 30;
const MOST_SIDES: usize = 20_000;
/// Least share of sides that agree.
const AGREE: f64 = 0.75;

/// What the code says.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Reading {
    /// Which sheet.
    pub code: SheetCode,
    /// How its addresses follow from those given; mirrored pictures turn over.
    pub turn: Turn,
    /// Whether the picture is mirrored.
    pub mirrored: bool,
}

/// One side of a square: the address it begins at, whether it goes on along j (not i), and whether there is a mark.
#[derive(Clone, Copy)]
pub(super) struct Side {
    from: [i32; 2],
    down: bool,
    marked: bool,
}

/// Addresses of the nodes a side joins.
fn ends(from: [i32; 2], down: bool) -> [[i32; 2]; 2] {
    [from, [from[0] + i32::from(!down), from[1] + i32::from(down)]]
}

impl Side {
    /// Addresses of the nodes it joins.
    pub fn ends(&self) -> [[i32; 2]; 2] {
        ends(self.from, self.down)
    }

    /// Where it begins when addresses are turned, and whether it then goes on along j.
    fn turned(&self, turn: Turn) -> ([i32; 2], bool) {
        let [a, b] = self.ends().map(|n| turn.of(n));
        ([a[0].min(b[0]), a[1].min(b[1])], a[0] == b[0])
    }
}

/// Reads the code of lines; `None` where there is none.
pub(super) fn read(shot: &Shot, nodes: &[Node], map: &SheetMap) -> Option<Reading> {
    told_by(&look(shot, nodes, map)?)
}

/// What sides of squares say together; `None` where they are too few or say nothing.
pub(super) fn told_by(sides: &[Side]) -> Option<Reading> {
    // The eight positions of a square: new i and new j as steps of the old ones.
    let ways = [[1, 0], [0, 1], [-1, 0], [0, -1]];
    let positions = ways.iter().flat_map(|i| ways.iter().map(move |j| (*i, *j))).filter(|(i, j)| i[0] * j[0] + i[1] * j[1] == 0);
    let best = positions
        .collect::<Vec<_>>()
        .into_par_iter()
        .map(|(i, j)| place(sides, Turn { from: [0, 0], i, j }))
        .max_by(|a, b| a.odds.total_cmp(&b.odds))?;
    if best.odds < SURE || best.agree < AGREE {
        return None;
    }
    let Turn { i, j, .. } = best.turn;
    let seen: Vec<[i32; 2]> = sides.iter().flat_map(Side::ends).map(|a| best.turn.of(a)).collect();
    let least = [0, 1].map(|k| seen.iter().map(|a| a[k]).min().unwrap_or_default());
    let most = [0, 1].map(|k| seen.iter().map(|a| a[k]).max().unwrap_or_default());
    let in_plane = |a: [i32; 2]| {
        let [x, y] = [0, 1].map(|k| usize::try_from(best.at[k] as i32 + a[k] - best.first[k]).ok());
        SheetCode::of_plane(x?, y?)
    };
    let (code, at) = in_plane(least)?;
    // All of a sheet lies in the area of one sheet.
    in_plane(most).filter(|(other, _)| *other == code)?;
    // The old address of node (0, 0): the turn undone, which is its transpose.
    let zero = [least[0] - at[0], least[1] - at[1]];
    let from = [0, 1].map(|k| zero[0] * i[k] + zero[1] * j[k]);
    Some(Reading { code, turn: Turn { from, i, j }, mirrored: i[0] * j[1] - i[1] * j[0] < 0 })
}

/// By how much the address of a few sides has to be set right, when it is known to `reach` squares and to which sheet they belong; `None` where no
/// place, or more than one, answers to what they say.
pub(super) fn shift(sides: &[Side], reading: &Reading, reach: i32) -> Option<[i32; 2]> {
    let at: Vec<([i32; 2], bool, bool)> = sides
        .iter()
        .map(|s| {
            let (from, down) = s.turned(reading.turn);
            (from, down, s.marked)
        })
        .collect();
    let there = |[x, y]: [i32; 2]| {
        let agrees = |([i, j], down, marked): &([i32; 2], bool, bool)| {
            let (i, j) = (i + x, j + y);
            *marked == if *down { reading.code.down(i, j) } else { reading.code.across(i, j) }
        };
        Match { line: 0, along: 0, agree: at.iter().filter(|s| agrees(s)).count(), count: at.len() }.odds()
    };
    let mut rated: Vec<(f64, [i32; 2])> =
        (-reach..=reach).flat_map(|y| (-reach..=reach).map(move |x| [x, y])).map(|by| (there(by), by)).collect();
    rated.sort_by(|a, b| b.0.total_cmp(&a.0));
    let tried = (rated.len() as f64).ln();
    (rated[0].0 > tried + NEARBY && rated[0].0 > rated[1].0 + NEARBY).then_some(rated[0].1)
}

/// What all sides of squares next to nodes say; `None` where they do not fall into two heaps.
pub(super) fn look(shot: &Shot, nodes: &[Node], map: &SheetMap) -> Option<Vec<Side>> {
    let seen = seen(nodes);
    let mut at: Vec<([i32; 2], bool)> =
        nodes.iter().flat_map(|n| [([n.i, n.j], false), ([n.i, n.j], true), ([n.i - 1, n.j], false), ([n.i, n.j - 1], true)]).collect();
    at.sort_unstable();
    at.dedup();
    let one = |&(from, down): &([i32; 2], bool)| {
        let [left, right] = off(&seen, map, from, down);
        let (first, last) = (left.or(right)?, right.or(left)?);
        Some((from, down, left.is_some() && right.is_some(), Looked::at(shot, map, from, down, [first, last])?))
    };
    // Most rulings carry no code, which a few dozen sides tell.
    let few: Vec<_> = at.iter().step_by(at.len().div_ceil(GLANCE).max(1)).filter_map(one).collect();
    heaps(few.iter().map(|s| &s.3))?;
    let looked: Vec<([i32; 2], bool, bool, Looked)> = at.par_iter().filter_map(one).collect();
    // Where only one end of a side is seen, cloth may lie on it: then its line is gone.
    let mut lines: Vec<f64> = looked.iter().filter(|s| s.2).map(|s| s.3.line).collect();
    let line = 0.5 * median(&mut lines)?;
    states(looked.into_iter().filter(|s| s.2 || s.3.line > line).map(|(from, down, _, s)| (from, down, s)).collect())
}

/// The same of every side whose line shows anywhere in the picture, its ends hidden or not: where a map is certain far beyond the nodes.
pub(super) fn look_over(shot: &Shot, nodes: &[Node], map: &SheetMap) -> Option<Vec<Side>> {
    let seen = seen(nodes);
    let range = |k: fn(&Node) -> i32| Some((nodes.iter().map(k).min()? - BEYOND)..=(nodes.iter().map(k).max()? + BEYOND));
    let (columns, rows) = (range(|n| n.i)?, range(|n| n.j)?);
    let at: Vec<([i32; 2], bool)> =
        rows.flat_map(|j| columns.clone().flat_map(move |i| [([i, j], false), ([i, j], true)])).take(MOST_SIDES).collect();
    let one = |&(from, down): &([i32; 2], bool)| {
        let ends = off(&seen, map, from, down);
        let looked = Looked::partly(shot, map, from, down, ends.map(|e| e.or(ends[0]).or(ends[1]).unwrap_or_else(Vector2::zeros)))?;
        Some((from, down, ends.iter().any(Option::is_some), looked))
    };
    let looked: Vec<_> = at.par_iter().filter_map(one).collect();
    let mut lines: Vec<f64> = looked.iter().filter(|s| s.2).map(|s| s.3.line).collect();
    // Beside a node cloth may lie on half of the sides; far lines are paler than near ones.
    lines.sort_by(f64::total_cmp);
    let line = PALER * lines.get(lines.len() * 3 / 4)?;
    states(looked.into_iter().filter(|s| s.3.line > line && s.3.mark > -LIGHTER).map(|(from, down, _, s)| (from, down, s)).collect())
}

/// Where nodes are seen.
fn seen(nodes: &[Node]) -> HashMap<[i32; 2], Vector2<f64>> {
    nodes.iter().map(|n| ([n.i, n.j], n.at.vector())).collect()
}

/// By how much the map misses the two ends of a side, where they are seen, px.
fn off(seen: &HashMap<[i32; 2], Vector2<f64>>, map: &SheetMap, from: [i32; 2], down: bool) -> [Option<Vector2<f64>>; 2] {
    ends(from, down).map(|n| Some(seen.get(&n)? - map.at(f64::from(n[0]), f64::from(n[1]))?.vector()))
}

/// Sides with a mark and without; `None` where they do not fall into two heaps.
fn states(looked: Vec<([i32; 2], bool, Looked)>) -> Option<Vec<Side>> {
    let [without, with] = heaps(looked.iter().map(|s| &s.2))?;
    let half = 0.5 * (without + with);
    Some(looked.into_iter().map(|(from, down, s)| Side { from, down, marked: s.mark > half }).collect())
}

/// How dark sides without and with a mark are; `None` where they do not fall into two heaps.
fn heaps<'a>(looked: impl Iterator<Item = &'a Looked>) -> Option<[f64; 2]> {
    let mut all: Vec<f64> = looked.map(|s| s.mark).collect();
    all.sort_by(f64::total_cmp);
    let at = |share: f64| all.get((share * all.len() as f64) as usize).copied();
    let (without, with) = (at(0.2)?, at(0.8)?);
    let between = |v: &&f64| (0.35..0.65).contains(&((**v - without) / (with - without)));
    let told = with - without > FAINT && all.iter().filter(between).count() as f64 <= UNDECIDED * all.len() as f64;
    told.then_some([without, with])
}

/// What is seen of a side.
struct Looked {
    /// By what share its middle is darker than the rest of it, beside the line.
    mark: f64,
    /// By what share the line is darker than the ground beside it, in the paler of the parts that are looked at.
    line: f64,
}

impl Looked {
    /// Looks along the side that begins at a node; `off` is by how much the map misses its two ends, which is carried over to the places between.
    fn at(shot: &Shot, map: &SheetMap, from: [i32; 2], down: bool, off: [Vector2<f64>; 2]) -> Option<Self> {
        let look = SideInView::new(shot, map, from, down, off)?;
        let (first, last) = WITHOUT.split_at(2);
        let [left, right] = [look.mean(first, &BESIDE)?, look.mean(last, &BESIDE)?];
        let middle = look.mean(&look.middle(), &BESIDE)?;
        let usual = 0.5 * (left + right);
        (usual > 0.0).then_some(Self { mark: 1.0 - middle / usual, line: look.line(first)?.min(look.line(last)?) })
    }

    /// The same by the middle and that half whose line stands out more: the other may be hidden or out of the picture.
    fn partly(shot: &Shot, map: &SheetMap, from: [i32; 2], down: bool, off: [Vector2<f64>; 2]) -> Option<Self> {
        let look = SideInView::new(shot, map, from, down, off)?;
        let (first, last) = WITHOUT.split_at(2);
        let halves = [first, last].into_iter().filter_map(|half| Some((look.line_to_both(half)?, look.mean(half, &BESIDE)?)));
        let (line, usual) = halves.max_by(|a, b| a.0.total_cmp(&b.0))?;
        let middle = look.mean(&look.middle(), &BESIDE)?;
        // With a mark or without, what is clear of the line is lighter than the line.
        (usual > 0.0).then_some(Self { mark: 1.0 - middle / usual, line: line.min(look.line_to_both(&look.middle())?) })
    }
}

/// A side of a square in the picture.
struct SideInView<'a> {
    shot: &'a Shot,
    map: &'a SheetMap,
    start: [f64; 2],
    along: [f64; 2],
    /// The radius of a mark across the side, px.
    across: Vector2<f64>,
    /// By how much the map misses its ends, px.
    off: [Vector2<f64>; 2],
}

impl<'a> SideInView<'a> {
    fn new(shot: &'a Shot, map: &'a SheetMap, from: [i32; 2], down: bool, off: [Vector2<f64>; 2]) -> Option<Self> {
        let along = if down { [0.0, 1.0] } else { [1.0, 0.0] };
        let start = from.map(f64::from);
        let [u, v] = map.frame(start[0] + 0.5 * along[0], start[1] + 0.5 * along[1])?;
        Some(Self { shot, map, start, along, across: if down { u } else { v } * MARK_RADIUS, off })
    }

    /// Where a mark is looked at along the side.
    fn middle(&self) -> [f64; 3] {
        ALONG_MARK.map(|t| 0.5 + t * MARK_RADIUS)
    }

    /// Mean light at places along the side, each so many radii beside it; `None` out of the picture.
    fn mean(&self, along_it: &[f64], beside: &[f64]) -> Option<f64> {
        let mut sum = 0.0;
        for &t in along_it {
            let on = self.map.at(self.start[0] + t * self.along[0], self.start[1] + t * self.along[1])?.vector();
            let at = on + self.off[0] * (1.0 - t) + self.off[1] * t;
            for &s in beside {
                sum += light(self.shot, at + self.across * s)?;
            }
        }
        Some(sum / (along_it.len() * beside.len()) as f64)
    }

    /// By what share its line is darker there than the ground on that side of it where it stands out less: cloth that comes up to it is no ground.
    fn line_to_both(&self, along_it: &[f64]) -> Option<f64> {
        let on = self.mean(along_it, &[0.0])?;
        let [left, right] = [self.mean(along_it, &CLEAR_OF_LINE[..1])?, self.mean(along_it, &CLEAR_OF_LINE[1..])?];
        Some(1.0 - on / left.min(right).max(1e-6))
    }

    /// By what share its line is darker there than the ground beside it.
    fn line(&self, along_it: &[f64]) -> Option<f64> {
        Some(1.0 - self.mean(along_it, &[0.0])? / self.mean(along_it, &CLEAR_OF_LINE)?.max(1e-6))
    }
}

/// Where the sides seen lie in the plane when they are turned so.
struct Place {
    turn: Turn,
    /// Natural logarithm of the odds against so good an agreement by chance, and the share of sides that agree.
    odds: f64,
    agree: f64,
    /// Place in the plane of the node with the turned address `first`.
    at: [usize; 2],
    first: [i32; 2],
}

fn place(sides: &[Side], turn: Turn) -> Place {
    let turned: Vec<([i32; 2], bool, bool)> = sides
        .iter()
        .map(|s| {
            let (from, down) = s.turned(turn);
            (from, down, s.marked)
        })
        .collect();
    let first = [0, 1].map(|k| turned.iter().map(|s| s.0[k]).min().unwrap_or_default());
    // Lines across are numbered by j and go along i, lines down the other way round.
    let [across, down] = [false, true].map(|down| {
        let own = turned.iter().filter(|s| s.1 == down).map(|s| {
            let [i, j] = [0, 1].map(|k| (s.0[k] - first[k]) as usize);
            if down { (i, j, s.2) } else { (j, i, s.2) }
        });
        Match::best(&patterns()[usize::from(down)], own)
    });
    let (agree, count) = (across.agree + down.agree, across.count + down.count);
    Place {
        turn,
        odds: across.odds() + down.odds(),
        agree: agree as f64 / count.max(1) as f64,
        at: [of_rests(down.line, across.along), of_rests(across.line, down.along)],
        first,
    }
}

/// The place in a pattern where most sides agree with it.
#[derive(Clone, Copy)]
struct Match {
    line: usize,
    along: usize,
    agree: usize,
    count: usize,
}

impl Match {
    /// Over all places of the pattern, for sides given by line, place along it, and state.
    fn best(pattern: &Pattern, sides: impl Iterator<Item = (usize, usize, bool)>) -> Self {
        let mut votes = vec![[0i32; ALONG]; LINES];
        let mut count = 0;
        for (line, along, marked) in sides {
            votes[line % LINES][along % ALONG] += if marked { 1 } else { -1 };
            count += 1;
        }
        // Each row twice, so that places run on over its end.
        let rows: Vec<Vec<i32>> = (0..LINES).map(|l| (0..2 * ALONG).map(|a| if pattern.at(l, a) { 1 } else { -1 }).collect()).collect();
        let mut best = Self { line: 0, along: 0, agree: 0, count };
        for line in 0..LINES {
            let mut sums = [0i32; ALONG];
            for (l, row) in votes.iter().enumerate() {
                let states = &rows[(l + line) % LINES];
                for (a, &vote) in row.iter().enumerate().filter(|v| *v.1 != 0) {
                    sums.iter_mut().zip(&states[a..a + ALONG]).for_each(|(sum, state)| *sum += vote * state);
                }
            }
            for (along, sum) in sums.into_iter().enumerate() {
                let agree = ((count as i32 + sum) / 2).max(0) as usize;
                if agree > best.agree {
                    best = Self { line, along, agree, count };
                }
            }
        }
        best
    }

    /// Natural logarithm of the odds against so many sides agreeing by chance (Chernoff's bound, 1952).
    fn odds(&self) -> f64 {
        let (n, p) = (self.count as f64, self.agree as f64 / self.count.max(1) as f64);
        if p <= 0.5 {
            return 0.0;
        }
        let part = |p: f64| if p > 0.0 { p * (2.0 * p).ln() } else { 0.0 };
        n * (part(p) + part(1.0 - p))
    }
}
