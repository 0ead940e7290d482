//! How the points of each edge of an outline were found, and how they lie about the line drawn.

use super::tracing::Line;
use crate::length::Mm;
use crate::outline::{Edge, Outline};
use crate::path::{SeamPath, SeamPoint};
use crate::solve::median;
use kurbo::{PathEl, Point, Vec2};

/// Every how many points are asked.
const STEP: usize = 4;
/// How far the legs that stand for an edge may be off it, mm.
const FLAT: f64 = 0.01;
/// The lines an outline is put together from.
const LINES: [Line; 3] = [Line::Rim, Line::Seam, Line::Fold];
/// Points nearer to a corner than this are rounded, mm, and say nothing of the edge's own wandering.
const ROUNDED: f64 = 10.0;
/// So many points must be left to tell it, and this part of the edge's.
const ENOUGH: usize = 12;
const MOST: f64 = 0.6;
/// Half of a normal spread lies within this many standard deviations.
const HALF: f64 = 0.6745;

/// How the points of an edge were found.
pub(super) struct Seen {
    /// Share of them that could not be seen and were carried over from what lies beside them.
    pub unseen: f64,
    /// Share of them that a person placed.
    pub by_hand: f64,
    /// How far off the drawn edge they are (95 %), mm.
    pub off: f64,
    /// Which line most of them are of, where the outline is put together from several.
    pub line: Option<Line>,
    /// How far they wander about the drawn edge, mm: a standard deviation from their median, so that a slip at one place is none.
    pub wander: f64,
}

/// One point beside the edge nearest to it.
struct Beside<'a> {
    point: &'a SeamPoint,
    off: f64,
    line: Option<Line>,
}

/// A short straight part of an edge.
struct Leg {
    from: Point,
    to: Vec2,
}

impl Leg {
    fn distance(&self, at: Mm) -> f64 {
        let off = Point::new(at.x, at.y) - self.from;
        let t = (off.dot(self.to) / self.to.hypot2().max(1e-18)).clamp(0.0, 1.0);
        (off - self.to * t).hypot()
    }
}

/// An edge as legs.
fn legs(edge: &Edge) -> Vec<Leg> {
    let (mut out, mut last) = (Vec::new(), None);
    kurbo::flatten(edge.path.iter(), FLAT, |el| {
        let (PathEl::MoveTo(p) | PathEl::LineTo(p)) = el else { return };
        if let (Some(from), PathEl::LineTo(_)) = (last, el) {
            out.push(Leg { from, to: p - from });
        }
        last = Some(p);
    });
    out
}

/// The same for every edge; `kinds` has the line of each point, where there are several.
pub(super) fn seen(line: &SeamPath, kinds: &[Line], outline: &Outline) -> Vec<Seen> {
    let mut points: Vec<Vec<Beside>> = outline.edges.iter().map(|_| Vec::new()).collect();
    let legs: Vec<(usize, Leg)> = outline.edges.iter().enumerate().flat_map(|(k, e)| legs(e).into_iter().map(move |l| (k, l))).collect();
    for (i, point) in line.points.iter().enumerate().step_by(STEP) {
        let far = legs.iter().map(|(k, l)| (*k, l.distance(point.at)));
        if let Some((k, off)) = far.min_by(|a, b| a.1.total_cmp(&b.1)) {
            points[k].push(Beside { point, off, line: kinds.get(i).copied() });
        }
    }
    let corners: Vec<Mm> = outline.corners.iter().map(|c| c.at).collect();
    points.iter().map(|all| of(all, &corners)).collect()
}

fn of(all: &[Beside], corners: &[Mm]) -> Seen {
    let share = |is: fn(&SeamPoint) -> bool| all.iter().filter(|b| is(b.point)).count() as f64 / all.len().max(1) as f64;
    let mut off: Vec<f64> = all.iter().map(|b| b.off).collect();
    off.sort_by(f64::total_cmp);
    let count = |l: &Line| all.iter().filter(|b| b.line == Some(*l)).count();
    Seen {
        unseen: share(|p| p.flags.unseen),
        by_hand: share(|p| p.flags.by_hand),
        off: off.get((off.len().max(1) - 1) * 95 / 100).copied().unwrap_or(0.0),
        line: LINES.into_iter().filter(|l| count(l) > 0).max_by_key(count),
        wander: wander(all, corners),
    }
}

fn wander(all: &[Beside], corners: &[Mm]) -> f64 {
    let clear = |p: &SeamPoint| {
        let f = p.flags;
        !(f.unseen || f.cut || f.by_hand || f.rival) && corners.iter().all(|c| c.distance(p.at) > ROUNDED)
    };
    let mut off: Vec<f64> = all.iter().filter(|b| clear(b.point)).map(|b| b.off).collect();
    let away = all.iter().filter(|b| corners.iter().all(|c| c.distance(b.point.at) > ROUNDED)).count();
    if off.len() < ENOUGH || (off.len() as f64) < MOST * away as f64 {
        return 0.0;
    }
    median(&mut off).unwrap_or(0.0) / HALF
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::length::Px;
    use crate::outline::{Hints, Settings, assemble, corners};
    use nalgebra::Vector2;

    /// A round piece whose points lie a known way about its circle, alike over some millimetres.
    fn wandering(by: f64) -> SeamPath {
        let point = |k: usize| {
            let t = k as f64 / 900.0 * std::f64::consts::TAU;
            // Waves of about 8 and 5 mm that never repeat together.
            let off = by * ((120.0 * t).sin() + (187.3 * t + 1.0).sin());
            let normal = Vector2::new(t.cos(), t.sin());
            SeamPoint { at: Mm::from(normal * (150.0 + off)), normal, error: by, px: Px::default(), flags: Default::default() }
        };
        SeamPath { points: (0..900).map(point).collect(), closed: true, correlation_mm: 3.0 }
    }

    #[test]
    fn wandering_is_told_as_it_is() {
        let circle = wandering(0.0);
        let outline = assemble(&circle, &corners(&circle, &Hints::default()), &Settings::default()).expect("an outline");
        for by in [0.1, 0.5] {
            let told = seen(&wandering(by), &[], &outline)[0].wander;
            // Two waves of one size have its mean square together; some hundredths are the drawing's own.
            assert!((told - by).abs() < 0.1 * by + 0.05, "{told} for {by}");
        }
    }
}
