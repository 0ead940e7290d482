//! Seeks lattices of one kind: candidates, grown patches, whole lattices, measured nodes.

use super::arms::{self, LineLook};
use super::code::Reading;
use super::complete::{Whole, complete};
use super::field::Field;
use super::grow;
use super::joints::{self, Wanted};
use super::looks::Looks;
use super::map::SheetMap;
use super::ridge::{Polarity, Relief, Ridges};
use super::stroke::{self, Stroke};
use super::{Candidate, checker, coded, crosses, dots, led, lines, settle, skipped};
use crate::length::Px;
use crate::sheet::SheetKind;
use crate::shot::{Gray, Shot};
use nalgebra::Vector2;
use rayon::prelude::*;
use std::collections::BTreeSet;

/// A node by its address in the lattice's own numbering, with its standard error, px.
pub type Seen = ((i32, i32), Px, f64);

/// A lattice of one kind, measured.
#[derive(Clone, Debug)]
pub struct Found {
    /// How it is marked.
    pub kind: SheetKind,
    /// Its nodes, sorted by address.
    pub nodes: Vec<Seen>,
    /// The smooth map through them.
    pub map: SheetMap,
    /// What its lines look like, for kinds that have lines.
    pub looks: Option<Looks>,
    /// How good a lattice it is; see [`settle::score`].
    pub score: f64,
    /// What its position code says, where it was read.
    pub coded: Option<Reading>,
    /// Whether another sheet lies beside it, which it was preferred to.
    pub preferred: bool,
}

/// Lattices of a kind measured at full resolution; a picture seldom shows more.
const RIVALS: usize = 3;
/// A lattice this much worse than the best is not worth measuring.
const WORTH: f64 = 0.05;
/// Most nodes measured: beyond that they add time and no accuracy.
pub(super) const MOST_NODES: usize = 3000;
/// Of more, blocks of so many by so many are taken.
const BLOCK: i32 = 4;
/// Nodes looked at first: to learn what the lines look like, and whether the lattice is worth measuring.
const PILOTS: usize = 60;
/// Share of them that must be measured for the rest to be tried.
const PILOT_SHARE: f64 = 0.3;

/// A lattice is taken without a look at other levels, or for long lines half hidden, from this score on: about a tenth of the picture,
/// densely seen.
pub const CLEAR: f64 = 0.10;

/// Marks of one sheet are alike: those at least this share as strong as the middle one of the strongest dozen.
const DOZEN: usize = 12;
const AS_STRONG: f32 = 0.5;

/// Candidates within this of the map, px of the level, are measured from the map's place, which is better known.
const ASIDE: f64 = 1.5;

/// With fewer crossings than this, a picture that seems to show little but noise may be ruled so densely that lines passed for it.
const FEWEST_CROSSINGS: usize = 12;

/// Long lines half hidden are tried too when a lattice has no more nodes than this.
const FEW: usize = 24;

/// Lattices of crosses and dots with fewer nodes than this are held against every dark spot, not only against marks of their kind.
const SMALL: usize = 40;

/// Lattices of one kind in a picture, best first. `relief` is the smoothed form of `gray`.
pub fn seek(shot: &Shot, gray: &Gray, relief: &Relief, kind: SheetKind) -> Vec<Found> {
    let mut ridges = polarity(kind).map(|p| relief.ridges(p));
    let mut strokes = ridges.as_ref().map(stroke::strokes);
    let crossings = |strokes: &Option<Vec<Stroke>>| match strokes {
        Some(strokes) => lines::candidates(relief, strokes),
        None => marks(gray, kind),
    };
    let mut candidates = crossings(&strokes);
    if candidates.len() < FEWEST_CROSSINGS
        && let Some(dense) = polarity(kind).and_then(|p| relief.dense(p))
    {
        strokes = Some(stroke::strokes(&dense));
        ridges = Some(dense);
        candidates = crossings(&strokes);
    }
    let mut found = among(shot, gray, &candidates, ridges.as_ref(), kind);
    if let Some(strokes) = &strokes
        && found.first().is_none_or(|f| f.score < CLEAR || f.nodes.len() < FEW)
    {
        found.extend(joints::seek(shot, strokes, gray.factor, (kind, Wanted::BY_LINES)));
    } else if kind == SheetKind::Dots && found.first().is_none_or(|f| f.score < CLEAR) {
        // A few large dots or squares on a table whose grain has hundreds of spots.
        found.extend(among(shot, gray, strongest(&candidates), None, kind));
    }
    found.sort_by(|a, b| b.score.total_cmp(&a.score));
    found
}

/// The lattice of a coded sheet of which a garment leaves but a narrow border: a few lines begin it, and it is followed round from there.
pub fn seek_border(shot: &Shot, gray: &Gray) -> Option<Found> {
    let (size, factor, relief) = ([shot.width, shot.height], gray.factor, Relief::new(gray));
    let ridges = relief.ridges(Polarity::Dark);
    let strokes = stroke::strokes(&ridges);
    let few = joints::seek(shot, &strokes, factor, (SheetKind::Lines, Wanted::BY_CODE))?;
    let candidates = lines::candidates(&relief, &strokes);
    let field = Field::new(&candidates, size, Some((&ridges, factor)));
    let whole = led::on(&field, &few, size, factor)?;
    let score = settle::score(whole.patch.cells.iter().map(|(a, &k)| (*a, candidates[k].at)), &whole.map, size);
    coded::over(shot, measure(shot, factor, &candidates, &whole, score, SheetKind::Lines)?)
}

/// The candidates about as strong as the strongest dozen. Input strongest first.
fn strongest(candidates: &[Candidate]) -> &[Candidate] {
    let least = candidates.get(DOZEN / 2).map_or(0.0, |c| AS_STRONG * c.strength);
    &candidates[..candidates.partition_point(|c| c.strength >= least)]
}

/// Lattices of crosses too small or blurred for their arms to be told on the level: they are spots there, and crosses when measured.
pub fn seek_small_crosses(shot: &Shot, gray: &Gray) -> Vec<Found> {
    among(shot, gray, &marks(gray, SheetKind::Dots), None, SheetKind::Crosses)
}

/// How good a lattice of a kind a level seems to show, before anything is measured; 0 for none.
pub fn promise(gray: &Gray, relief: &Relief, kind: SheetKind, size: [usize; 2]) -> f64 {
    let ridges = polarity(kind).map(|p| relief.ridges(p));
    let candidates = match &ridges {
        Some(ridges) => lines::candidates(relief, &stroke::strokes(ridges)),
        None => marks(gray, kind),
    };
    let field = Field::new(&candidates, size, ridges.as_ref().map(|r| (r, gray.factor)));
    let patch = settle::promising(&field, grow::lattices(&field, size, gray.factor), size).into_iter().next();
    let whole = patch.and_then(|p| complete(&field, p, size, gray.factor));
    whole.map_or(0.0, |w| settle::score(w.patch.cells.iter().map(|(a, &k)| (*a, candidates[k].at)), &w.map, size))
}

/// Whether most of a lattice's dots are crosses on a closer look.
pub fn crossed(shot: &Shot, found: &Found) -> bool {
    let some: Vec<&Seen> = found.nodes.iter().step_by(found.nodes.len().div_ceil(PILOTS).max(1)).collect();
    let arms = |n: &&&Seen| found.map.frame(f64::from(n.0.0), f64::from(n.0.1)).and_then(|f| crosses::refine(shot, n.1, f)).is_some();
    2 * some.iter().filter(arms).count() > some.len()
}

/// Lattices of a kind among candidates, measured.
fn among(shot: &Shot, gray: &Gray, candidates: &[Candidate], ridges: Option<&Ridges>, kind: SheetKind) -> Vec<Found> {
    let size = [shot.width, shot.height];
    let field = Field::new(candidates, size, ridges.map(|r| (r, gray.factor)));
    let mut wholes: Vec<(f64, Whole)> = Vec::new();
    for patch in settle::promising(&field, grow::lattices(&field, size, gray.factor), size).into_iter().take(2 * RIVALS) {
        let Some(whole) = complete(&field, patch, size, gray.factor) else { continue };
        let score = settle::score(whole.patch.cells.iter().map(|(a, &k)| (*a, candidates[k].at)), &whole.map, size);
        wholes.push((score, whole));
    }
    wholes.sort_by(|a, b| b.0.total_cmp(&a.0));
    let wholes = settle::distinct(wholes);
    let best = wholes.first().map_or(0.0, |w| w.0);
    let worth = wholes.into_iter().filter(|w| w.0 > WORTH * best && !coarse(gray, candidates, &w.1, kind, size)).take(RIVALS);
    let mut found: Vec<Found> = worth.filter_map(|(score, whole)| measure(shot, gray.factor, candidates, &whole, score, kind)).collect();
    found.sort_by(|a, b| b.score.total_cmp(&a.score));
    found
}

/// Whether a lattice of marks that stand alone leaves out most of them.
fn coarse(gray: &Gray, candidates: &[Candidate], whole: &Whole, kind: SheetKind, size: [usize; 2]) -> bool {
    match kind {
        SheetKind::Crosses if whole.patch.cells.len() < SMALL => {
            skipped::skips(candidates, whole, size) || skipped::skips(&marks(gray, SheetKind::Dots), whole, size)
        }
        SheetKind::Crosses | SheetKind::Dots => skipped::skips(candidates, whole, size),
        _ => false,
    }
}

fn marks(gray: &Gray, kind: SheetKind) -> Vec<Candidate> {
    match kind {
        SheetKind::Crosses => crosses::candidates(gray),
        SheetKind::Checker => checker::candidates(gray),
        _ => dots::candidates(gray),
    }
}

/// Which way a kind's lines differ from their ground, when it has lines that run from node to node.
pub fn polarity(kind: SheetKind) -> Option<Polarity> {
    match kind {
        SheetKind::Lines => Some(Polarity::Dark),
        SheetKind::Mat => Some(Polarity::Light),
        _ => None,
    }
}

fn measure(shot: &Shot, factor: usize, candidates: &[Candidate], whole: &Whole, score: f64, kind: SheetKind) -> Option<Found> {
    let size = [shot.width, shot.height];
    let wanted = wanted(whole, size);
    let looks = match polarity(kind) {
        Some(polarity) => Some(learn(shot, whole, polarity)?),
        None => None,
    };
    let aside = |a: (i32, i32)| aside(candidates, whole, a, ASIDE * factor as f64);
    let one = |a: &(i32, i32)| node(shot, whole, aside(*a), kind, looks.as_ref(), *a).map(|(at, error)| (*a, at, error));
    // A lattice of chance crossings, or of another kind of mark, fails nearly everywhere: a few dozen nodes tell.
    let few: Vec<(i32, i32)> = wanted.iter().copied().step_by(wanted.len().div_ceil(PILOTS).max(1)).collect();
    if (few.iter().filter_map(one).count() as f64) < PILOT_SHARE * few.len() as f64 {
        return None;
    }
    let seen: Vec<Seen> = wanted.par_iter().filter_map(one).collect();
    let (mut nodes, map) = settle::clean(seen, size)?;
    if kind == SheetKind::Dots {
        dots::centre(shot, &mut nodes, &map);
    }
    // Thinning must not look like holes: there completeness is that of the grown lattice, and what could not be measured.
    let thinned = wanted.len() < whole.patch.cells.len();
    let score = match thinned {
        true => score * (nodes.len() as f64 / wanted.len() as f64).powi(2),
        false => settle::score(nodes.iter().map(|n| (n.0, n.1)), &map, size),
    };
    Some(Found { kind, nodes, map, looks, score, coded: None, preferred: false })
}

/// One node measured at full resolution about a place `aside` of the map's: place and standard error, px.
fn node(shot: &Shot, whole: &Whole, aside: Vector2<f64>, kind: SheetKind, looks: Option<&Looks>, a: (i32, i32)) -> Option<(Px, f64)> {
    if let Some(polarity) = polarity(kind) {
        return arms::measure_aside(shot, &whole.map, aside, a, polarity, looks).map(|m| (m.at, m.error));
    }
    let (i, j) = (f64::from(a.0), f64::from(a.1));
    let (p, frame) = (whole.map.at(i, j)?, whole.map.frame(i, j)?);
    match kind {
        SheetKind::Dots => dots::refine(shot, p, frame),
        SheetKind::Crosses => crosses::refine(shot, p, frame),
        _ => checker::refine(shot, p, frame),
    }
}

/// How far from the map the candidate at an address lies, where that is more than a candidate's own error: paper that stands up.
fn aside(candidates: &[Candidate], whole: &Whole, a: (i32, i32), least: f64) -> Vector2<f64> {
    let off = |&k: &usize| whole.map.off(&([f64::from(a.0), f64::from(a.1)], candidates[k].at));
    whole.patch.cells.get(&a).and_then(off).filter(|d| d.norm() > least).unwrap_or_else(Vector2::zeros)
}

/// Addresses to measure: where candidates lie, and gaps with at least two placed neighbours; thinned evenly when too many.
fn wanted(whole: &Whole, size: [usize; 2]) -> Vec<(i32, i32)> {
    let cells = &whole.patch.cells;
    let mut all: BTreeSet<(i32, i32)> = cells.keys().copied().collect();
    for &(i, j) in cells.keys() {
        for a in [(i + 1, j), (i - 1, j), (i, j + 1), (i, j - 1)] {
            if all.contains(&a) || super::complete::inside(&whole.map, a, size).is_none() {
                continue;
            }
            if grow::SIDES.iter().filter(|d| cells.contains_key(&(a.0 + d.0, a.1 + d.1))).count() >= 2 {
                all.insert(a);
            }
        }
    }
    // Thinned by blocks, so that those that stay have neighbours.
    let step = all.len().div_ceil(MOST_NODES) as i32;
    all.into_iter().filter(|a| (a.0.div_euclid(BLOCK) + 2 * a.1.div_euclid(BLOCK)).rem_euclid(step.max(1)) == 0).collect()
}

/// What the lines look like: medians over nodes spread over the lattice that show all four arms, then line by line.
fn learn(shot: &Shot, whole: &Whole, polarity: Polarity) -> Option<Looks> {
    learn_at(shot, &whole.map, &whole.patch.cells.keys().copied().collect(), polarity)
}

/// The same at these addresses.
pub(super) fn learn_at(shot: &Shot, map: &SheetMap, all: &BTreeSet<(i32, i32)>, polarity: Polarity) -> Option<Looks> {
    let step = all.len().div_ceil(PILOTS).max(1);
    let seen: Vec<LineLook> =
        all.iter().step_by(step).filter_map(|a| arms::measure(shot, map, *a, polarity, None)).map(|m| m.look).collect();
    Some(Looks::learn(shot, map, all, polarity, LineLook::usual(&seen)?))
}
