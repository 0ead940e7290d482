//! Where a mark laid by hand hides the line: led on from both sides, to a corner where they cross, else in one sweep.

use super::Settings;
use crate::length::Mm;
use crate::path::{SeamPath, SeamPoint};
use crate::shot::Area;
use crate::solve::Line;
use crate::view::View;
use nalgebra::Vector2;

/// Points next to what is hidden are left out as well, mm: their fits see half of their window.
const BESIDE: f64 = 1.0;
/// Length of line on either side from which its direction is taken, mm.
const LEAD: f64 = 9.0;
/// The two directions make a corner from this turn on, degrees.
const TURNS: f64 = 15.0;
/// A corner may lie this far outside what is hidden, mm.
const OUTSIDE: f64 = 1.0;
/// Standard error next to what is seen, and its growth with the distance from there, mm and mm a mm.
const ERROR: f64 = 0.15;
const GROWS: f64 = 0.12;
/// Distance of the points that are led on, mm.
const STEP: f64 = 1.0;

/// The line with its hidden points replaced; all of it stays as it is when less than a third is seen.
pub(super) fn bridge(path: SeamPath, view: &View, height: f64, settings: &Settings) -> SeamPath {
    let n = path.points.len();
    let pixel = path.points.first().map_or(1.0, |p| view.px_per_mm(p.at));
    let hides = |p: &SeamPoint| settings.hidden.iter().any(|a| a.holds(p.px) || a.nearest(p.px).distance(p.px) < BESIDE * pixel);
    let hidden: Vec<bool> = path.points.iter().map(hides).collect();
    let count = hidden.iter().filter(|h| **h).count();
    if count == 0 || 3 * count > 2 * n {
        return path;
    }
    // Turned so that it starts with a seen point after a hidden one; an open line starts where it starts.
    let start = if path.closed { (0..n).find(|&k| !hidden[k] && hidden[(k + n - 1) % n]).unwrap_or(0) } else { 0 };
    let mut points = Vec::with_capacity(n);
    let mut k = 0;
    while k < n {
        let at = (start + k) % n;
        if !hidden[at] {
            points.push(path.points[at]);
            k += 1;
            continue;
        }
        let length = (0..n - k).find(|d| !hidden[(start + k + d) % n]).unwrap_or(n - k);
        let after: Vec<SeamPoint> =
            (0..n).map(|d| path.points[(start + k + length + d) % n]).take(if path.closed { n } else { n - k - length }).collect();
        let before: Vec<SeamPoint> = points.iter().rev().copied().collect();
        match (lead(&before), lead(&after)) {
            (Some(a), Some(b)) => points.extend(over(a, b, view, height, &settings.hidden, pixel)),
            // An end of an open line is left as it was.
            _ => points.extend((0..length).map(|d| path.points[(start + k + d) % n])),
        }
        k += length;
    }
    SeamPath { points, ..path }
}

/// Where a line ends that is seen, and its direction from there into what is hidden.
#[derive(Clone, Copy)]
struct Lead {
    at: Mm,
    ahead: Vector2<f64>,
    normal: Vector2<f64>,
}

/// From the points of one side, the nearest first.
fn lead(points: &[SeamPoint]) -> Option<Lead> {
    let first = points.first()?;
    let near: Vec<Vector2<f64>> =
        points.iter().take_while(|p| p.at.distance(first.at) <= LEAD && !p.flags.cut).map(|p| p.at.vector()).collect();
    if near.len() < 4 {
        return None;
    }
    let line = Line::robust(&near, &vec![1.0; near.len()])?;
    let out = first.at.vector() - near[near.len() - 1];
    let ahead = if line.along.dot(&out) < 0.0 { -line.along } else { line.along };
    Some(Lead { at: first.at, ahead, normal: first.normal })
}

/// Points from one side to the other.
fn over(a: Lead, b: Lead, view: &View, height: f64, hidden: &[Area], pixel: f64) -> Vec<SeamPoint> {
    let gap = a.at.distance(b.at);
    let turn = a.ahead.perp(&-b.ahead).atan2(a.ahead.dot(&-b.ahead)).to_degrees();
    let inside = |p: Mm| {
        let px = view.to_px(p, height);
        hidden.iter().any(|h| h.holds(px) || h.nearest(px).distance(px) < OUTSIDE * pixel)
    };
    let corner = crossing(a, b).filter(|c| turn.abs() >= TURNS && inside(*c));
    let count = |length: f64| (length / STEP).ceil().max(1.0) as usize;
    let places: Vec<Mm> = match corner {
        Some(c) => {
            let [to, from] = [a.at.distance(c), c.distance(b.at)];
            let legs = (1..=count(to)).map(|k| a.at.lerp(c, k as f64 / count(to) as f64));
            legs.chain((1..count(from)).map(|k| c.lerp(b.at, k as f64 / count(from) as f64))).collect()
        }
        None => (1..count(gap))
            .map(|k| {
                // Hermite's cubic with both directions, as long as the gap.
                let t = k as f64 / count(gap) as f64;
                let (s, u) = (t * t * (3.0 - 2.0 * t), 1.0 - t);
                a.at.lerp(b.at, s) + (a.ahead * (t * u * u) + b.ahead * (t * t * u)) * gap
            })
            .collect(),
    };
    let normal = |p: Mm| if p.distance(a.at) < p.distance(b.at) { a.normal } else { b.normal };
    places
        .into_iter()
        .map(|at| {
            let mut point = SeamPoint {
                at,
                normal: normal(at),
                error: ERROR + GROWS * at.distance(a.at).min(at.distance(b.at)),
                px: view.to_px(at, height),
                flags: Default::default(),
            };
            point.flags.unseen = true;
            point
        })
        .collect()
}

/// Where both sides led on meet ahead of each.
fn crossing(a: Lead, b: Lead) -> Option<Mm> {
    let line = |l: Lead| Line { at: l.at.vector(), along: l.ahead, spread: 0.0 };
    let c = line(a).cross(&line(b))?;
    let ahead = |l: Lead| (c - l.at.vector()).dot(&l.ahead) > 0.0;
    (ahead(a) && ahead(b)).then(|| Mm::from(c))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::length::Px;
    use crate::view::Model;

    fn view() -> View {
        View::known(Model::Scan { matrix: [4.0, 0.0, 0.0, 4.0, 0.0, 0.0] }, 400, 400)
    }

    fn disc(x: f64, y: f64, radius: f64) -> Area {
        let round = (0..32).map(|k| (f64::from(k) * std::f64::consts::TAU / 32.0).sin_cos());
        Area::new(round.map(|(s, c)| Px::new(4.0 * (x + radius * c), 4.0 * (y + radius * s))).collect()).expect("a disc")
    }

    /// A square of 60 mm, walked clockwise, in which `spoil` moves points.
    fn square(spoil: impl Fn(Mm) -> Mm) -> SeamPath {
        let corners = [[20.0, 20.0], [80.0, 20.0], [80.0, 80.0], [20.0, 80.0]].map(Mm::from);
        let normals = [[0.0, -1.0], [1.0, 0.0], [0.0, 1.0], [-1.0, 0.0]].map(|n| Vector2::new(n[0], n[1]));
        let points = (0..240).map(|k| {
            let (side, t) = (k / 60, (k % 60) as f64 / 60.0);
            let at = spoil(corners[side].lerp(corners[(side + 1) % 4], t));
            SeamPoint { at, normal: normals[side], error: 0.05, px: Px::new(4.0 * at.x, 4.0 * at.y), flags: Default::default() }
        });
        SeamPath { points: points.collect(), closed: true, correlation_mm: 3.0 }
    }

    #[test]
    fn a_hidden_corner_comes_back() {
        // The corner is cut off below the mark, as a first answer would do.
        let cut = |p: Mm| if p.x + p.y < 45.0 { Mm::new(p.x + 0.5 * (45.0 - p.x - p.y), p.y + 0.5 * (45.0 - p.x - p.y)) } else { p };
        let settings = Settings { hidden: vec![disc(20.0, 20.0, 6.0)], ..Settings::default() };
        let path = bridge(square(cut), &view(), 0.0, &settings);
        let near = path.points.iter().map(|p| p.at.distance(Mm::new(20.0, 20.0))).fold(f64::INFINITY, f64::min);
        assert!(near < 0.05, "{near}");
        assert!(path.points.iter().filter(|p| p.at.distance(Mm::new(20.0, 20.0)) < 5.0).all(|p| p.flags.unseen));
        assert!(path.points.iter().filter(|p| p.at.distance(Mm::new(20.0, 20.0)) > 8.0).all(|p| !p.flags.unseen));
    }

    #[test]
    fn a_dent_on_a_side_is_gone_over() {
        let dent = |p: Mm| if p.y == 20.0 && (p.x - 50.0).abs() < 4.0 { Mm::new(p.x, 23.0) } else { p };
        let settings = Settings { hidden: vec![disc(50.0, 20.0, 5.0)], ..Settings::default() };
        let path = bridge(square(dent), &view(), 0.0, &settings);
        let hidden: Vec<&SeamPoint> = path.points.iter().filter(|p| p.flags.unseen).collect();
        assert!(hidden.len() >= 9 && hidden.iter().all(|p| (p.at.y - 20.0).abs() < 0.05));
        let untouched = bridge(square(|p| p), &view(), 0.0, &Settings::default());
        assert_eq!(untouched, square(|p| p));
    }
}
