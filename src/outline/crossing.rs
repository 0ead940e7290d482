//! Where two neighbouring edges cross: a low curve is laid through each side at a distance from the corner, where
//! blur has not rounded it, and both are continued as the curves they are until they meet.
//!
//! How far each side reaches and how much it may bend is chosen by intersecting confidence intervals (Goldenshluger
//! & Nemirovski, "On spatially adaptive estimation of nonparametric regression", 1997): the surest fit that does
//! not contradict any less sure but less biased one.

use super::noise::Noise;
use super::trail::{Site, Trail};
use crate::solve::Polynomial;
use nalgebra::{Matrix2, Vector2};

/// Points nearer to a corner than this are rounded by blur and by the search, mm.
pub(super) const ROUNDED: f64 = 3.0;

/// Farthest point used on a side, mm; a neckline changes its bend over about twice that.
pub(super) const REACH: f64 = 60.0;

/// Stretches tried on each side, mm, from the first point used.
const STRETCHES: [f64; 8] = [3.0, 5.0, 8.0, 12.0, 18.0, 25.0, 38.0, 60.0];

/// Shortest stretch on which a direction (first degree), a bend (second) or a change of bend (third) can be told from
/// noise, mm.
const SHORTEST: [f64; 3] = [0.0, 6.0, 20.0];

/// Width of the intervals in standard errors. Wider trusts long stretches more; 1.5 gave the least error on
/// sampled garment outlines with correlated noise.
const INTERVAL: f64 = 1.5;

/// Slope against its chord up to which a side is still a function of the distance along it.
const STEEPEST: f64 = 1.3;

/// One side of a corner: v(u) in a frame of its own.
#[derive(Clone, Debug)]
pub(super) struct Side {
    origin: Vector2<f64>,
    axis: Vector2<f64>,
    curve: Polynomial,
    inflate: f64,
}

/// A crossing of two sides.
#[derive(Clone, Copy, Debug)]
pub(super) struct Crossing {
    /// Where, mm.
    pub at: Vector2<f64>,
    /// Standard error in any direction together, mm.
    pub error: f64,
    /// Turn from the one side into the other, radians.
    pub turn: f64,
    /// Standard error of the turn, radians.
    pub turn_error: f64,
}

impl Side {
    fn point(&self, u: f64) -> Vector2<f64> {
        self.origin + self.axis * u + Vector2::new(-self.axis.y, self.axis.x) * self.curve.at(u)
    }

    /// Direction away from the corner.
    fn tangent(&self, u: f64) -> Vector2<f64> {
        (self.axis + Vector2::new(-self.axis.y, self.axis.x) * self.curve.slope(u)).normalize()
    }

    fn along(&self, p: Vector2<f64>) -> f64 {
        (p - self.origin).dot(&self.axis)
    }

    /// Standard error square to the side at `u`, and of its direction.
    fn errors(&self, u: f64) -> (f64, f64) {
        let lean = 1.0 + self.curve.slope(u).powi(2);
        (self.curve.error_at(u) * self.inflate / lean.sqrt(), self.curve.slope_error_at(u) * self.inflate / lean)
    }

    /// Lays a curve through the sites from `skip` to `reach` after (`way` 1) or before (`way` -1) distance `s`,
    /// judged by where it comes out near `target`.
    pub fn fit(trail: &Trail, noise: &Noise, s: f64, way: f64, (skip, reach): (f64, f64), target: Vector2<f64>) -> Option<Self> {
        let sites: Vec<Site> =
            if way > 0.0 { trail.between(s + skip, s + reach).collect() } else { trail.between(s - reach, s - skip).rev().collect() };
        let first = sites.first()?;
        let far = sites.iter().take_while(|t| (t.s - first.s).abs() <= 12.0).last()?;
        let axis = (far.at - first.at).try_normalize(1e-9)?;
        let local: Vec<[f64; 3]> = sites
            .iter()
            .map(|t| {
                let d = t.at - first.at;
                [d.dot(&axis), axis.perp(&d), noise.weight(t.error)]
            })
            .collect();
        let toward = (target - first.at).dot(&axis);
        let curve = surest(&sites, &local, noise, toward)?;
        Some(Self { origin: first.at, axis, curve, inflate: noise.alike.sqrt() })
    }
}

/// The surest polynomial that contradicts none of the less sure ones.
fn surest(sites: &[Site], local: &[[f64; 3]], noise: &Noise, toward: f64) -> Option<Polynomial> {
    let mut tried: Vec<(f64, f64, Polynomial)> = Vec::new();
    let mut last = 0;
    for stretch in STRETCHES {
        let n = sites.iter().take_while(|t| (t.s - sites[0].s).abs() <= stretch + 1e-9).count();
        if n == last {
            continue;
        }
        last = n;
        if local[..n].windows(2).any(|w| w[1][0] <= w[0][0] - 0.5) || local[n - 1][1].abs() > STEEPEST * local[n - 1][0].abs() {
            break;
        }
        for (degree, shortest) in SHORTEST.into_iter().enumerate() {
            let degree = degree + 1;
            if n < degree + 2 && !(degree == 1 && n >= 2) || stretch < shortest {
                continue;
            }
            let Some(curve) = Polynomial::fit(&local[..n], degree) else { continue };
            // A stretch that this degree can't follow says nothing about the corner.
            if n > degree + 2 && curve.misfit > noise.allowed_misfit(n) {
                continue;
            }
            let spread = curve.error_at(toward) * noise.alike.sqrt();
            tried.push((curve.at(toward), spread, curve));
        }
    }
    tried.sort_by(|a, b| b.1.total_cmp(&a.1));
    let (mut low, mut high) = (f64::NEG_INFINITY, f64::INFINITY);
    let mut best = None;
    for (value, spread, curve) in tried {
        low = low.max(value - INTERVAL * spread);
        high = high.min(value + INTERVAL * spread);
        if low > high && best.is_some() {
            break;
        }
        best = Some(curve);
    }
    best
}

/// Continues both sides until they meet near `from`; `None` when they run side by side.
pub(super) fn cross(before: &Side, after: &Side, from: Vector2<f64>) -> Option<Crossing> {
    let (mut a, mut b) = (before.along(from), after.along(from));
    for _ in 0..20 {
        let gap = after.point(b) - before.point(a);
        let (ta, tb) = (before.axis_slope(a), after.axis_slope(b));
        let m = Matrix2::from_columns(&[ta, -tb]);
        let step = m.try_inverse()? * gap;
        // A step longer than this has left the region where the curves mean anything.
        let step = step * (5.0 / step.amax().max(5.0));
        a += step.x;
        b += step.y;
        if step.amax() < 1e-9 {
            break;
        }
    }
    let at = before.point(a);
    let met = (at - after.point(b)).norm() < 1e-6;
    if !met {
        return None;
    }
    // Both tangents point away from the corner: the travel comes in against the first.
    let (into, out) = (-before.tangent(a), after.tangent(b));
    let turn = into.perp(&out).atan2(into.dot(&out));
    let ((ea, da), (eb, db)) = (before.errors(a), after.errors(b));
    let sine = turn.sin().abs().max(0.05);
    Some(Crossing { at, error: ea.hypot(eb) / sine, turn, turn_error: da.hypot(db) })
}

impl Side {
    fn axis_slope(&self, u: f64) -> Vector2<f64> {
        self.axis + Vector2::new(-self.axis.y, self.axis.x) * self.curve.slope(u)
    }
}
