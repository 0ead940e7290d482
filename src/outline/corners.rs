//! Corners of a path: candidates by turning, each put to the test, each placed where its two edges cross.

use super::assemble::STRAY;
use super::crossing::{Crossing, ROUNDED, cross};
use super::noise::Noise;
use super::side::{REACH, Side};
use super::trail::Trail;
use super::turning::{Candidate, candidates};
use super::{Corner, Hints};
use crate::length::Mm;
use crate::path::SeamPath;
use crate::solve::linear;
use nalgebra::Vector2;

/// A corner turns at least this much within 3 mm either side, degrees. A little is left for the turn's own error.
const LEAST_TURN: f64 = 18.5;

/// A turn known worse than this, degrees, must be larger by `SURE` of the excess: short edges breed false corners.
const VAGUE: f64 = 3.0;

/// Standard errors, see `VAGUE`.
const SURE: f64 = 1.0;

/// Turns below this are weighed against a rounded bend point by point, degrees; above it the gap tells.
const GENTLE: f64 = 50.0;

/// Widest radius that still counts as a rounded corner, mm. A cutter rounds a collar point by two; the search for the
/// rim may round it by as much again.
const ROUND_CORNER: f64 = 6.0;

/// From this radius on, mm, the sides are followed only up to where the rounding begins.
const ROUND: f64 = 2.0;

/// A turn weaker than this share of a corner's and no farther from it, mm, may be a part of it.
const WEAKER: f64 = 0.7;
const ITS_OWN: f64 = 6.0;

/// A given corner takes the place of a found one within this distance, mm.
pub(super) const HINT_REACH: f64 = 5.0;

/// And of one that a mark was laid beside: a sticker's width and a hand's, mm.
const MARK_REACH: f64 = 12.0;

/// A corner that a person laid elsewhere was found no farther off than this, mm.
const LAID: f64 = 15.0;

/// Standard error of a corner that a person laid, mm: no hand points better on cloth.
const BY_HAND: f64 = 0.3;

/// Least turn at which crossing two sides beats the hand-given place, degrees.
const CROSSES: f64 = 8.0;

#[derive(Clone, Copy, Debug)]
struct Found {
    s: f64,
    crossing: Crossing,
    rounded: f64,
    given: bool,
    /// Whether it lies where a person put it.
    exact: bool,
}

/// A crossing no better known than this, mm, is of two edges that run on into one another: no corner but a bend of the noise.
const NOWHERE: f64 = 10.0;

/// The corners of a path, in order along it; those of a closed path begin with the topmost.
///
/// A corner turns 20° or more within 3 mm either side. Given ones are kept however gentle. A path that can't be
/// read has none: `assemble` says why.
pub fn corners(path: &SeamPath, hints: &Hints) -> Vec<Corner> {
    let Ok(trail) = Trail::new(path) else { return Vec::new() };
    let noise = Noise::of(&trail);
    let mut found = confirmed(&trail, &noise);
    found.retain(|f| hints.round.iter().all(|r| (f.crossing.at - r.vector()).norm() > HINT_REACH));
    add_given(&trail, &noise, &mut found, hints);
    add_cuts(&trail, &mut found);
    add_exact(&trail, &mut found, hints);
    settle(&trail, &noise, &mut found);
    found.retain(|f| f.given || f.crossing.error < NOWHERE);
    found
        .into_iter()
        .map(|f| Corner {
            at: Mm::from(f.crossing.at),
            error: f.crossing.error,
            turn_deg: f.crossing.turn.to_degrees().abs(),
            rounded: f.rounded,
            given: f.given,
        })
        .collect()
}

/// Candidates that stand the test.
fn confirmed(trail: &Trail, noise: &Noise) -> Vec<Found> {
    let (strong, weak): (Vec<Candidate>, Vec<Candidate>) = candidates(trail).into_iter().partition(|c| c.turn.abs() >= 35f64.to_radians());
    let mut marks: Vec<f64> = strong.iter().map(|c| c.s).collect();
    let mut found: Vec<Found> = Vec::new();
    for c in &strong {
        if !marks.contains(&c.s) {
            continue;
        }
        if let Some(f) = examine(trail, noise, c.s, &marks) {
            found.push(f);
            continue;
        }
        // Points that are unsure beside a corner turn there too, and leave it no sides to be crossed.
        let apart = |m: f64| trail.forward(m, c.s).min(trail.forward(c.s, m)).abs();
        let its_own = |o: &Candidate| o.s != c.s && o.turn.abs() < WEAKER * c.turn.abs() && apart(o.s) < ITS_OWN;
        let own: Vec<f64> = strong.iter().filter(|o| its_own(o)).map(|o| o.s).filter(|m| found.iter().all(|f| f.s != *m)).collect();
        let rest: Vec<f64> = marks.iter().copied().filter(|m| !own.contains(m)).collect();
        match examine(trail, noise, c.s, &rest).filter(|_| !own.is_empty()) {
            Some(f) => {
                found.push(f);
                marks = rest;
            }
            None => marks.retain(|m| *m != c.s),
        }
    }
    for c in &weak {
        let near = |f: &Found| trail.forward(f.s, c.s).abs().min(trail.forward(c.s, f.s).abs()) < ROUNDED;
        if !found.iter().any(near)
            && let Some(f) = examine(trail, noise, c.s, &marks)
        {
            marks.push(f.s);
            found.push(f);
        }
    }
    // Where neighbours have come or gone, each must still hold.
    let marks: Vec<f64> = found.iter().map(|f| f.s).collect();
    let changed = found.len() != strong.len() || found.iter().any(|f| f.crossing.turn.to_degrees().abs() < GENTLE);
    let mut held: Vec<Found> = if changed { found.iter().filter_map(|f| examine(trail, noise, f.s, &marks)).collect() } else { found };
    held.sort_by(|a, b| a.s.total_cmp(&b.s));
    held.dedup_by(|b, a| b.s - a.s < 1.0);
    held
}

/// How far it is to the neighbouring marks before and after `s`; `None` where there is none.
fn rooms(trail: &Trail, s: f64, marks: &[f64]) -> (f64, f64) {
    let (mut before, mut after) = if trail.closed { (trail.length, trail.length) } else { (s, trail.length - s) };
    for &m in marks {
        if (m - s).abs() < 1e-9 {
            continue;
        }
        let (b, a) = (trail.forward(m, s), trail.forward(s, m));
        if b > 1e-9 {
            before = before.min(b);
        }
        if a > 1e-9 {
            after = after.min(a);
        }
    }
    (before, after)
}

/// First and last distance used on a side with `room` to the next corner; sharp corners are rounded further along.
fn window(room: f64, turn: f64, rounded: f64) -> (f64, f64) {
    let sharp = ((turn.abs() / 2.0).min(1.45).tan() / 1.5).clamp(1.0, 3.0);
    let skip = (ROUNDED * sharp).max(rounded).min(room * 0.25);
    (skip, (room - ROUNDED.min(room * 0.25)).min(REACH))
}

/// Places the corner near `s` by crossing its sides, again from the place found until it stays.
fn place(trail: &Trail, noise: &Noise, s: f64, marks: &[f64], rounded: f64) -> Option<(f64, Crossing)> {
    let (mut s, mut at, mut turn) = (s, trail.at(s), std::f64::consts::FRAC_PI_2);
    let mut last = None;
    for _ in 0..4 {
        let (before, after) = rooms(trail, s, marks);
        let a = Side::fit(trail, noise, s, -1.0, window(before, turn, rounded), at)?;
        let b = Side::fit(trail, noise, s, 1.0, window(after, turn, rounded), at)?;
        let c = cross(&a, &b, at)?;
        let moved = (c.at - at).norm();
        let (next, _) = trail.nearest(Mm::from(c.at));
        let shift = trail.forward(s, next);
        let shift = if trail.closed && shift > trail.length / 2.0 { shift - trail.length } else { shift };
        (s, at, turn) = (s + shift.clamp(-3.0, 3.0), c.at, c.turn);
        last = Some((if trail.closed { s.rem_euclid(trail.length) } else { s }, c));
        if moved < 0.02 {
            break;
        }
    }
    last
}

fn examine(trail: &Trail, noise: &Noise, s: f64, marks: &[f64]) -> Option<Found> {
    let others: Vec<f64> = marks.iter().copied().filter(|m| (m - s).abs() > 1e-9).collect();
    let (mut at_s, mut crossing) = place(trail, noise, s, &others, ROUNDED)?;
    let mut rounded = rounding(trail, &crossing);
    if rounded > ROUNDED {
        (at_s, crossing) = place(trail, noise, at_s, &others, rounded)?;
        rounded = rounded.max(rounding(trail, &crossing));
    }
    let moved = trail.forward(s, at_s).min(trail.forward(at_s, s)).abs();
    let turn = crossing.turn.abs();
    let vague = (crossing.turn_error - VAGUE.to_radians()).max(0.0);
    if moved > 2.0 * ROUNDED || turn < LEAST_TURN.to_radians() + SURE * vague {
        return None;
    }
    let (_, gap) = trail.nearest(Mm::from(crossing.at));
    let open = 1.0 / (turn / 2.0).min(1.5).cos() - 1.0;
    // However unsure the crossing, a bend of 8 mm radius must stay one.
    let slack = 2.0 * crossing.error.min(0.15) + 0.15;
    if gap > (ROUND_CORNER * open + slack).min(STRAY) {
        return None;
    }
    let (before, after) = rooms(trail, at_s, &others);
    if turn.to_degrees() < GENTLE && !is_kink(trail, noise, at_s, &crossing, (before, after)) {
        return None;
    }
    Some(Found { s: at_s, crossing, rounded, given: false, exact: false })
}

/// How far along each side points are rounded, mm: where a circle that leaves the found gap would touch the sides.
fn rounding(trail: &Trail, crossing: &Crossing) -> f64 {
    let half = (crossing.turn.abs() / 2.0).min(1.4);
    let (_, gap) = trail.nearest(Mm::from(crossing.at));
    let radius = gap / (1.0 / half.cos() - 1.0).max(0.05);
    // A gentle corner leaves no gap to judge by.
    if radius > ROUND && half > 0.5 { (1.2 * radius * half.tan()).clamp(ROUNDED, 4.0 * ROUNDED) } else { ROUNDED }
}

/// Half lengths, mm, over which the turn may be spread; up to `SHARP` of them count as a corner.
const SPREADS: [f64; 8] = [0.0, 1.0, 2.0, 3.0, 4.5, 6.5, 9.0, 13.0];

/// How many of the spreads are a corner.
const SHARP: usize = 4;

/// By how much a wider spread must fit better to deny the corner; four is two standard errors of one unknown.
const CONTRADICTED: f64 = 4.0;

/// Whether the points say that the turn happens within about 3 mm rather than along a bend: two parabolas joined by
/// a turn spread over so much length, the same number of unknowns for each spread.
fn is_kink(trail: &Trail, noise: &Noise, s: f64, crossing: &Crossing, (before, after): (f64, f64)) -> bool {
    let side = |room: f64| 25f64.min(room - ROUNDED.min(room * 0.25));
    let sites: Vec<_> = trail.between(s - side(before), s + side(after)).collect();
    let Some(axis) = sites.first().and_then(|a| (sites[sites.len() - 1].at - a.at).try_normalize(1e-9)) else { return false };
    let local: Vec<Vector2<f64>> = sites
        .iter()
        .map(|t| {
            let d = t.at - crossing.at;
            Vector2::new(d.dot(&axis), axis.perp(&d))
        })
        .collect();
    let right: Vec<f64> = local.iter().map(|p| p.y).collect();
    let weights: Vec<f64> = sites.iter().map(|t| noise.weight(t.error)).collect();
    let reach = side(before).min(side(after));
    let weigh = |m: f64| {
        let rows: Vec<Vec<f64>> = local.iter().map(|p| row(p.x / reach, m / reach)).collect();
        let f = linear(&rows, &right, &weights)?;
        Some((f.square / noise.alike, f.values[3] / reach, (f.covariance[(3, 3)] * noise.alike).sqrt() / reach))
    };
    let best = |part: &[f64]| {
        let tried = part.iter().filter(|m| **m < reach).filter_map(|&m| weigh(m));
        tried.min_by(|a, b| a.0.total_cmp(&b.0))
    };
    let (Some(sharp), wide) = (best(&SPREADS[..SHARP]), best(&SPREADS[SHARP..])) else { return false };
    let turns = sharp.1.abs() + sharp.2 > LEAST_TURN.to_radians() * 0.8 && sharp.1.abs() > 2.5 * sharp.2;
    turns && wide.is_none_or(|w| sharp.0 <= w.0 + CONTRADICTED)
}

fn row(u: f64, m: f64) -> Vec<f64> {
    let ramp = if u >= m {
        u
    } else if u > -m {
        (u + m).powi(2) / (4.0 * m)
    } else {
        0.0
    };
    vec![1.0, u, u * u, ramp, u.max(0.0).powi(2)]
}

/// Adds what a person gave: a found corner nearby is taken for it, else the place itself.
fn add_given(trail: &Trail, noise: &Noise, found: &mut Vec<Found>, hints: &Hints) {
    let pointed = hints.corners.iter().map(|h| (h, HINT_REACH));
    for (hint, reach) in pointed.chain(hints.marked.iter().map(|h| (h, MARK_REACH))).filter(|(h, _)| h.is_finite()) {
        let (s, _) = trail.nearest(*hint);
        let apart = |f: &Found| trail.forward(f.s, s).abs().min(trail.forward(s, f.s).abs());
        // Two marks are not laid for one corner.
        let near = |f: &Found| apart(f) <= if f.given { HINT_REACH } else { reach };
        if let Some(near) = found.iter_mut().filter(|f| near(f)).min_by(|a, b| apart(a).total_cmp(&apart(b))) {
            near.given = true;
            continue;
        }
        let marks: Vec<f64> = found.iter().map(|f| f.s).collect();
        let crossed = place(trail, noise, s, &marks, ROUNDED)
            .filter(|(_, c)| c.turn.to_degrees().abs() >= CROSSES && (c.at - hint.vector()).norm() <= HINT_REACH);
        let (s, crossing) = crossed.unwrap_or((s, Crossing { at: trail.at(s), error: 1.0, turn: 0.0, turn_error: 0.1 }));
        found.push(Found { s, crossing, rounded: ROUNDED, given: true, exact: false });
    }
}

/// Puts corners where a person laid them, in place of the found ones they were taken from. The points beside such a corner lie on the line that was not
/// right there: the farther it is off them, the more of them are passed by.
fn add_exact(trail: &Trail, found: &mut Vec<Found>, hints: &Hints) {
    for at in hints.exact.iter().filter(|h| h.is_finite()) {
        let (s, off) = trail.nearest(*at);
        let there = found.len();
        found.retain(|f| f.exact || trail.forward(f.s, s).abs().min(trail.forward(s, f.s).abs()) > HINT_REACH);
        if found.len() == there {
            // It was found farther off: the nearest that nobody speaks of is the one that was laid here.
            let far = |f: &Found| (f.crossing.at - at.vector()).norm();
            let own = (0..found.len()).filter(|k| !found[*k].given).min_by(|a, b| far(&found[*a]).total_cmp(&far(&found[*b])));
            own.filter(|k| far(&found[*k]) <= LAID).map(|k| found.remove(k));
        }
        let crossing = Crossing { at: at.vector(), error: BY_HAND, turn: 0.0, turn_error: 1.0 };
        found.push(Found { s, crossing, rounded: (2.0 * off).clamp(ROUNDED, 4.0 * ROUNDED), given: true, exact: true });
    }
}

/// Where the line comes to the frame or leaves it there is always a corner.
fn add_cuts(trail: &Trail, found: &mut Vec<Found>) {
    let n = trail.sites.len();
    for k in 0..n {
        let Some(j) = (if k + 1 < n { Some(k + 1) } else { trail.closed.then_some(0) }) else { continue };
        if trail.sites[k].cut == trail.sites[j].cut {
            continue;
        }
        let s = trail.sites[k].s + trail.forward(trail.sites[k].s, trail.sites[j].s) / 2.0;
        let near = |f: &Found| trail.forward(f.s, s).abs().min(trail.forward(s, f.s).abs()) < 2.0 * ROUNDED;
        if let Some(f) = found.iter_mut().find(|f| near(f)) {
            f.given = true;
            continue;
        }
        let crossing = Crossing { at: trail.at(s), error: trail.sites[k].error.max(trail.sites[j].error), turn: 0.0, turn_error: 1.0 };
        found.push(Found { s, crossing, rounded: ROUNDED, given: true, exact: false });
    }
}

/// Places all corners once more with every neighbour known, and puts them in order.
fn settle(trail: &Trail, noise: &Noise, found: &mut [Found]) {
    let marks: Vec<f64> = found.iter().map(|f| f.s).collect();
    for f in found.iter_mut().filter(|f| !f.exact) {
        let others: Vec<f64> = marks.iter().copied().filter(|m| (m - f.s).abs() > 1e-9).collect();
        if let Some((s, c)) = place(trail, noise, f.s, &others, f.rounded)
            && c.turn.to_degrees().abs() >= CROSSES
            && (c.at - f.crossing.at).norm() < ROUNDED
        {
            (f.s, f.crossing) = (s, c);
        }
    }
    found.sort_by(|a, b| a.s.total_cmp(&b.s));
    if trail.closed
        && let Some(top) = (0..found.len()).min_by(|&a, &b| {
            let (a, b) = (found[a].crossing.at, found[b].crossing.at);
            a.y.total_cmp(&b.y).then(a.x.total_cmp(&b.x))
        })
    {
        found.rotate_left(top);
    }
}
