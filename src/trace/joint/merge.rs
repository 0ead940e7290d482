//! The outlines of a piece in several pictures made one: each place from the pictures that see it, weighed by how well they do.

use super::super::tracing::Joined;
use super::union::Round;
use crate::length::Mm;
use crate::path::{Flags, SeamPath, SeamPoint};
use crate::solve::TWO_SIDED;
use nalgebra::Vector2;
use std::collections::{BTreeMap, BTreeSet};

/// A point this far from the rough line round the whole, mm, is another line's: of the frame, or of a bay that is a hole in truth.
const BESIDE: f64 = 4.0;
/// Where a line is cut off, its last stretch is left out, mm: rims are bent towards the frame there.
const TRIM: f64 = 8.0;
/// Beyond that it comes in by degrees, mm, so that no step is left where a picture begins.
const FEATHER: f64 = 25.0;
/// Shorter stretches are not used, mm.
const SHORT: f64 = 12.0;
/// Points of one line further apart than this, mm, are two stretches.
const GAP: f64 = 6.0;
/// The line that is followed is left for another when that is so much surer.
const SURER: f64 = 3.0;
/// Two lines further apart than this along the normal are not of one edge, mm.
const REACH: f64 = 6.0;
/// A part of the whole that no picture sees is cut off when longer than this, mm; a shorter one is bridged.
const BRIDGED: f64 = 12.0;
/// What 95 % of places keep.
const SHARE: f64 = 0.95;
/// Cells of the look-up, mm.
const CELL: f64 = 4.0;

/// A line found in a picture, in the common sheet's axes.
pub(super) struct Line<'a> {
    pub path: &'a SeamPath,
    pub picture: usize,
    /// Standard error of a point along its normal from the picture's view, mm.
    pub view_error: &'a dyn Fn(&SeamPoint) -> f64,
}

/// One line from several pictures.
#[derive(Clone, Debug, Default)]
pub(super) struct Merged {
    pub path: SeamPath,
    /// Of each point, which pictures it is from and what share each has.
    pub shares: Vec<Vec<(usize, f64)>>,
    /// Where several see the line: how far apart they have it, and what their errors allow (one standard error of the difference), mm.
    pub apart: Vec<(Mm, f64, f64)>,
    /// Whether a part that no picture sees is left.
    pub cut: Vec<Mm>,
}

impl Merged {
    /// How the pictures agree where several see the line.
    pub fn agreement(&self) -> Joined {
        let mut apart: Vec<f64> = self.apart.iter().map(|a| a.1).collect();
        apart.sort_by(f64::total_cmp);
        let rank = |all: &[f64]| all.get(((all.len() as f64 * SHARE) as usize).min(all.len().saturating_sub(1))).copied().unwrap_or(0.0);
        let most = self.apart.iter().max_by(|a, b| a.1.total_cmp(&b.1));
        let mut allowed: Vec<f64> = self.apart.iter().map(|a| TWO_SIDED * a.2).collect();
        allowed.sort_by(f64::total_cmp);
        let pictures: BTreeSet<usize> = self.shares.iter().flatten().map(|s| s.0).collect();
        Joined {
            pictures: pictures.into_iter().collect(),
            // Points lie about a millimetre apart.
            overlap: self.apart.len() as f64,
            apart: rank(&apart),
            most: most.map_or(0.0, |m| m.1),
            at: most.map_or(Mm::default(), |m| m.0),
            allowed: rank(&allowed),
        }
    }
}

/// One stretch of a line that was seen.
struct Arc {
    line: usize,
    points: Vec<SeamPoint>,
    /// The place along the rough line of each point, going on past its start.
    along: Vec<i64>,
    /// Weight of each point.
    weights: Vec<f64>,
    errors: Vec<f64>,
}

/// Makes one line of those of several pictures that run along `round`.
pub(super) fn merge(round: &Round, lines: &[Line]) -> Merged {
    let n = round.points.len();
    let lookup = Lookup::of(&round.points);
    let arcs: Vec<Arc> = lines.iter().enumerate().flat_map(|(k, line)| arcs(k, line, &lookup, n as i64)).collect();
    let mut at: Vec<Vec<(usize, usize)>> = vec![Vec::new(); n];
    for (a, arc) in arcs.iter().enumerate() {
        for k in 0..arc.points.len() {
            // A line's points are about as far apart as cells: those between two belong to the nearer.
            let next = if k + 1 < arc.along.len() { arc.along[k + 1] } else { arc.along[k] + 1 };
            for place in arc.along[k]..next.max(arc.along[k] + 1) {
                let own = &mut at[place.rem_euclid(n as i64) as usize];
                if own.iter().all(|(b, _)| *b != a) {
                    own.push((a, k));
                }
            }
        }
    }
    let masters = masters(&arcs, &at);
    let mut out = Merged { path: SeamPath { closed: true, ..SeamPath::default() }, ..Merged::default() };
    out.path.correlation_mm = lines.iter().map(|l| l.path.correlation_mm).fold(0.0, f64::max);
    let unseen = unseen(&masters);
    for place in 0..n {
        match masters[place] {
            Some(a) => {
                let arc = &arcs[a];
                for k in near(&at[place], a).map_or_else(Vec::new, |k| own_points(arc, k, place, n)) {
                    put(&mut out, &arcs, &at[place], lines, (a, k));
                }
            }
            None if unseen[place] => {
                let before = round.points[(place + n - 1) % n];
                let d = round.points[(place + 1) % n] - before;
                let normal = Vector2::new(d.y, -d.x).try_normalize(1e-9).unwrap_or_default();
                let flags = Flags { cut: true, unseen: true, ..Flags::default() };
                out.path.points.push(SeamPoint { at: round.points[place], normal, error: 1.0, px: Default::default(), flags });
                out.shares.push(Vec::new());
                out.cut.push(round.points[place]);
            }
            None => {}
        }
    }
    out
}

/// The point of an arc at a place, and those beside it that lie at the same.
fn own_points(arc: &Arc, k: usize, place: usize, n: usize) -> Vec<usize> {
    let here = |j: usize| arc.along[j].rem_euclid(n as i64) as usize == place;
    let first = (k.saturating_sub(4)..=k).find(|&j| here(j)).unwrap_or(k + 1);
    (first..(k + 5).min(arc.points.len())).take_while(|&j| here(j)).collect()
}

fn near(at: &[(usize, usize)], arc: usize) -> Option<usize> {
    at.iter().find(|p| p.0 == arc).map(|p| p.1)
}

/// Adds a point of the line that is followed, moved to where all that see it have it together.
fn put(out: &mut Merged, arcs: &[Arc], at: &[(usize, usize)], lines: &[Line], (a, k): (usize, usize)) {
    let arc = &arcs[a];
    let point = arc.points[k];
    let (mut weight, mut sum, mut square) = (arc.weights[k], 0.0, (arc.weights[k] * arc.errors[k]).powi(2));
    let mut shares = vec![(lines[arc.line].picture, arc.weights[k])];
    let (mut low, mut high, mut allowed) = (0.0f64, 0.0f64, arc.errors[k].powi(2));
    let mut several = false;
    for &(b, j) in at.iter().filter(|p| p.0 != a) {
        let other = &arcs[b];
        let Some(off) = crossing(&other.points, j, &point) else { continue };
        let w = other.weights[j];
        weight += w;
        sum += w * off;
        square += (w * other.errors[j]).powi(2);
        shares.push((lines[other.line].picture, w));
        if w * other.errors[j].powi(2) > 0.5 {
            (low, high, several) = (low.min(off), high.max(off), true);
            allowed += other.errors[j].powi(2);
        }
    }
    let at = point.at + point.normal * (sum / weight);
    if several && arc.weights[k] * arc.errors[k].powi(2) > 0.5 {
        out.apart.push((at, high - low, allowed.sqrt()));
    }
    shares.iter_mut().for_each(|s| s.1 /= weight);
    out.path.points.push(SeamPoint { at, error: (square.sqrt() / weight).max(1e-3), ..point });
    out.shares.push(shares);
}

/// How far out along a point's normal another line passes near its own point `j`.
fn crossing(points: &[SeamPoint], j: usize, from: &SeamPoint) -> Option<f64> {
    let mut best: Option<f64> = None;
    for k in j.saturating_sub(8)..(j + 8).min(points.len().saturating_sub(1)) {
        let (a, b) = (points[k].at - from.at, points[k + 1].at - from.at);
        let (u, v) = (from.normal.perp(&a), from.normal.perp(&b));
        if (u > 0.0) == (v > 0.0) {
            continue;
        }
        let off = from.normal.dot(&(a + (b - a) * (u / (u - v))));
        if off.abs() <= REACH && best.is_none_or(|o: f64| off.abs() < o.abs()) {
            best = Some(off);
        }
    }
    best
}

/// Which arc is followed at each place of the rough line: the surest, kept until another is much surer.
fn masters(arcs: &[Arc], at: &[Vec<(usize, usize)>]) -> Vec<Option<usize>> {
    let n = at.len();
    let surest = |place: usize| {
        let own = at[place].iter().map(|&(a, k)| (a, arcs[a].weights[k]));
        own.max_by(|p, q| p.1.total_cmp(&q.1).then(q.0.cmp(&p.0)))
    };
    let mut out: Vec<Option<usize>> = vec![None; n];
    let mut now: Option<usize> = None;
    // Twice round, so that where it begins is no seam.
    for step in 0..2 * n {
        let place = step % n;
        let held = now.and_then(|a| near(&at[place], a).map(|k| (a, arcs[a].weights[k])));
        now = match (held, surest(place)) {
            (Some((a, w)), Some((_, most))) if most <= SURER * w => Some(a),
            (_, best) => best.map(|b| b.0),
        };
        out[place] = now;
    }
    out
}

/// Places of long stretches that nothing sees.
fn unseen(masters: &[Option<usize>]) -> Vec<bool> {
    let n = masters.len();
    let mut out = vec![false; n];
    let Some(start) = masters.iter().position(Option::is_some) else { return vec![true; n] };
    let mut run: Vec<usize> = Vec::new();
    for step in 0..=n {
        let place = (start + step) % n;
        if masters[place].is_none() {
            run.push(place);
            continue;
        }
        if run.len() as f64 > BRIDGED {
            run.iter().for_each(|&k| out[k] = true);
        }
        run.clear();
    }
    out
}

/// The stretches of a line that run along the rough one, its ends trimmed.
fn arcs(number: usize, line: &Line, lookup: &Lookup, n: i64) -> Vec<Arc> {
    let points = &line.path.points;
    let kept: Vec<Option<i64>> = points.iter().map(|p| if p.flags.cut { None } else { lookup.nearest(p.at) }).collect();
    let start = kept.iter().position(Option::is_none).unwrap_or(0);
    let whole = kept.iter().all(Option::is_some);
    let mut out: Vec<Vec<(SeamPoint, i64)>> = vec![Vec::new()];
    for step in 0..points.len() {
        let k = (start + step) % points.len();
        let Some(place) = kept[k] else {
            out.push(Vec::new());
            continue;
        };
        let current = out.last_mut().and_then(|run| run.last().copied());
        let on = match current {
            None => place,
            Some((before, along)) => {
                let ahead = (place - along + n / 2).rem_euclid(n) - n / 2;
                // Backwards by more than a stumble is another course.
                if before.at.distance(points[k].at) > GAP || ahead.abs() as f64 > 2.0 * GAP {
                    out.push(Vec::new());
                    place
                } else {
                    along + ahead.max(0)
                }
            }
        };
        if let Some(run) = out.last_mut() {
            run.push((points[k], on));
        }
    }
    out.into_iter().filter_map(|run| arc(number, line, run, whole)).collect()
}

fn arc(number: usize, line: &Line, run: Vec<(SeamPoint, i64)>, whole: bool) -> Option<Arc> {
    let mut far = vec![0.0; run.len()];
    for k in 1..run.len() {
        far[k] = far[k - 1] + run[k].0.at.distance(run[k - 1].0.at);
    }
    let length = *far.last()?;
    if length < SHORT {
        return None;
    }
    let kept: Vec<usize> = (0..run.len()).filter(|&k| whole || (far[k] >= TRIM && length - far[k] >= TRIM)).collect();
    let errors: Vec<f64> = kept.iter().map(|&k| run[k].0.error.max(0.01).hypot((line.view_error)(&run[k].0))).collect();
    let weights = kept
        .iter()
        .zip(&errors)
        .map(|(&k, e)| {
            let inside = if whole { 1.0 } else { ((far[k].min(length - far[k]) - TRIM) / FEATHER).clamp(0.0, 1.0) };
            (inside * inside * (3.0 - 2.0 * inside)).max(1e-3) / (e * e)
        })
        .collect();
    (kept.len() > 2).then(|| Arc {
        line: number,
        points: kept.iter().map(|&k| run[k].0).collect(),
        along: kept.iter().map(|&k| run[k].1).collect(),
        weights,
        errors,
    })
}

/// Places of the rough line by where they are.
struct Lookup<'a> {
    points: &'a [Mm],
    cells: BTreeMap<(i32, i32), Vec<usize>>,
}

impl<'a> Lookup<'a> {
    fn of(points: &'a [Mm]) -> Self {
        let mut cells: BTreeMap<(i32, i32), Vec<usize>> = BTreeMap::new();
        for (k, p) in points.iter().enumerate() {
            cells.entry(cell(*p)).or_default().push(k);
        }
        Self { points, cells }
    }

    fn nearest(&self, at: Mm) -> Option<i64> {
        let (x, y) = cell(at);
        let near = (x - 1..=x + 1).flat_map(|x| (y - 1..=y + 1).map(move |y| (x, y))).filter_map(|c| self.cells.get(&c)).flatten();
        let far = near.map(|&k| (k, self.points[k].distance(at))).filter(|n| n.1 <= BESIDE);
        far.min_by(|a, b| a.1.total_cmp(&b.1)).map(|n| n.0 as i64)
    }
}

fn cell(p: Mm) -> (i32, i32) {
    ((p.x / CELL).floor() as i32, (p.y / CELL).floor() as i32)
}
