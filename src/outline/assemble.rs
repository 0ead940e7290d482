//! Corners and points to one outline: the stretches between corners drawn one by one and joined.

use super::corners::HINT_REACH;
use super::crossing::ROUNDED;
use super::draw::{Drawn, draw, ruled};
use super::noise::Noise;
use super::smooth::Stretch;
use super::trail::{Site, Trail};
use super::{Corner, Edge, Outline, OutlineError, Settings, Shape};
use crate::length::Mm;
use crate::path::SeamPath;
use kurbo::{BezPath, Point};
use nalgebra::Vector2;

/// A corner this far from every point does not belong to the path, mm.
pub(super) const STRAY: f64 = 15.0;

/// Two corners nearer than this along the path are one, mm.
const SAME: f64 = 0.2;

/// Draws the outline of a path with the given corners.
///
/// A closed path gives a closed outline, clockwise as seen when cloth lies inside, anticlockwise for a hole; without
/// corners it is one edge that starts at its topmost point. An open path gives an open one, and a corner at an
/// end holds it there.
///
/// # Errors
/// Too few points, no extent, or a corner that lies nowhere near the path.
pub fn assemble(path: &SeamPath, corners: &[Corner], settings: &Settings) -> Result<Outline, OutlineError> {
    let trail = Trail::new(path)?;
    let noise = Noise::of(&trail);
    let mut placed: Vec<(f64, Corner)> = Vec::new();
    for c in corners {
        if !c.at.is_finite() {
            return Err(OutlineError::CornerAstray { x: c.at.x, y: c.at.y, off: f64::INFINITY });
        }
        let (s, off) = trail.nearest(c.at);
        if off > STRAY && !c.given {
            // The edges beside it cross far away: they run on into one another here.
            continue;
        }
        if off > STRAY {
            return Err(OutlineError::CornerAstray { x: c.at.x, y: c.at.y, off });
        }
        if placed.iter().all(|(t, _)| trail.forward(*t, s).abs().min(trail.forward(s, *t).abs()) > SAME) {
            placed.push((s, c.clone()));
        }
    }
    placed.sort_by(|a, b| a.0.total_cmp(&b.0));
    if trail.closed
        && let Some(first) = corners.first()
        && let Some(k) = placed.iter().position(|(_, c)| c.at == first.at)
    {
        placed.rotate_left(k);
    }
    let parts = stretches(&trail, &placed);
    let told = |p: &Part| is_ruled(p, &placed, &settings.ruled);
    let corners = placed.iter().map(|(_, c)| c.clone()).collect();
    let mut outline = Outline { path: BezPath::new(), corners, edges: Vec::new() };
    for part in parts {
        let drawn = if told(&part) { ruled(&part.stretch, &noise) } else { draw(&part.stretch, &noise, settings) };
        let drawn = drawn.ok_or(OutlineError::TooFewPoints { found: part.stretch.sites.len() })?;
        outline.edges.push(Edge {
            from: part.from,
            to: part.to,
            path: to_path(&drawn),
            shape: drawn.shape,
            cut: part.cut,
            along: drawn.along,
        });
    }
    outline.path = joined(&outline.edges, trail.closed);
    Ok(outline)
}

/// Whether a person has said that a part is straight.
fn is_ruled(part: &Part, placed: &[(f64, Corner)], ruled: &[[Mm; 2]]) -> bool {
    let (Some(from), Some(to)) = (part.from, part.to) else { return false };
    let near = |k: usize, p: Mm| placed[k].1.at.distance(p) <= HINT_REACH;
    ruled.iter().any(|[a, b]| near(from, *a) && near(to, *b) || near(from, *b) && near(to, *a))
}

struct Part {
    from: Option<usize>,
    to: Option<usize>,
    cut: bool,
    stretch: Stretch,
}

fn stretches(trail: &Trail, placed: &[(f64, Corner)]) -> Vec<Part> {
    let n = placed.len();
    if n == 0 && trail.closed {
        let stretch = Stretch { sites: trail.sites.clone(), length: trail.length, ends: [None, None], round: true, step: trail.step() };
        return vec![Part { from: None, to: None, cut: mostly_cut(&trail.sites), stretch }];
    }
    if trail.closed {
        return (0..n)
            .map(|k| {
                let next = (k + 1) % n;
                let (a, b) = (placed[k].0, placed[next].0);
                let length = if n == 1 { trail.length } else { trail.forward(a, b) };
                part(trail, a, length, (Some(k), Some(next)), placed)
            })
            .collect();
    }
    let mut marks: Vec<(f64, Option<usize>)> = placed.iter().enumerate().map(|(k, p)| (p.0, Some(k))).collect();
    // A corner at an end of an open line is that end.
    if marks.first().is_none_or(|m| m.0 > ROUNDED) {
        marks.insert(0, (0.0, None));
    }
    if marks.len() < 2 || marks[marks.len() - 1].0 < trail.length - ROUNDED {
        marks.push((trail.length, None));
    }
    marks.windows(2).map(|w| part(trail, w[0].0, w[1].0 - w[0].0, (w[0].1, w[1].1), placed)).collect()
}

fn part(trail: &Trail, start: f64, length: f64, (from, to): (Option<usize>, Option<usize>), placed: &[(f64, Corner)]) -> Part {
    let end = |k: Option<usize>| k.map(|k| (placed[k].1.at.vector(), placed[k].1.error.max(1e-3)));
    // Near a corner the points are rounded; short edges keep their middle half.
    let skip = |k: Option<usize>| k.map_or(0.0, |k| placed[k].1.rounded.clamp(ROUNDED, 4.0 * ROUNDED).min(length * 0.25));
    let (low, high) = (skip(from), skip(to));
    let local = |t: Site| Site { s: t.s - start, ..t };
    let sites: Vec<Site> = trail.between(start + low, start + length - high).map(local).collect();
    let cut = mostly_cut(&sites);
    Part { from, to, cut, stretch: Stretch { sites, length, ends: [end(from), end(to)], round: false, step: trail.step() } }
}

fn mostly_cut(sites: &[Site]) -> bool {
    sites.iter().filter(|t| t.cut).count() * 2 > sites.len()
}

fn to_path(drawn: &Drawn) -> BezPath {
    let p = |v: Vector2<f64>| Point::new(v.x, v.y);
    let mut path = BezPath::new();
    path.move_to(p(drawn.ends[0]));
    if drawn.shape == Shape::Straight || drawn.cubics.is_empty() {
        path.line_to(p(drawn.ends[1]));
    }
    for c in &drawn.cubics {
        path.curve_to(p(c[1]), p(c[2]), p(c[3]));
    }
    path
}

fn joined(edges: &[Edge], closed: bool) -> BezPath {
    let mut path = BezPath::new();
    for (k, e) in edges.iter().enumerate() {
        path.extend(e.path.elements().iter().skip(usize::from(k > 0)).copied());
    }
    if closed {
        path.close_path();
    }
    path
}
