//! The shadow a lamp casts beside the cloth.
//!
//! In: places along an edge, fitted as if the cloth only kept light off the sheet right beside it. Out: how wide the strip of even
//! shade is at each place. A lamp moves the shadow of the whole edge by one vector on the sheet, so that the strip is as wide as
//! that vector reaches along the normal, and nothing on the lit side: two numbers for all places. What can go wrong: a dark hem or a
//! stripe along the edge looks like a strip of shade, but not on one side only and as wide as the normal says.

use super::fine::{Alike, Place, TRY_EVERY};
use super::guide::Guide;
use super::learn::Rows;
use super::shapes::Shape;
use nalgebra::Vector2;
use rayon::prelude::*;

/// Steps of a strip's width, mm.
pub(super) const CAST_STEP: f64 = 0.25;
/// The widest strip that is asked for, in steps: its end must lie well within the rows that are fitted.
const WIDEST: i32 = 10;
/// Widths tried at a place, in steps, every so many.
const TRY_STEP: i32 = 2;
/// Places asked.
const PROBES: usize = 160;
/// Directions and reaches of the shadow tried, in steps of the width.
const TURNS: usize = 36;
const REACHES: usize = 24;
/// What one place may say for a strip of shade, as a logarithm of odds, and what it must come to in the mean over those on the
/// shaded side.
const MOST: f64 = 6.0;
const CONVINCED: f64 = 1.0;
/// Rows of a profile share light: a row's misfit counts as this part.
const ROW_WORTH: f64 = 0.15;

/// A lamp stands no lower than throws a shadow this many times as long as its edge is high.
const LOW_LAMP: f64 = 4.0;

/// Tells each place the width of the shadow cast there by an edge `height` mm high; whether there is one at all.
pub(super) fn tell(places: &mut [Place], guide: &Guide, rows: &Rows, shape: Shape, height: f64) -> bool {
    let farthest = LOW_LAMP * height / CAST_STEP;
    if farthest < f64::from(TRY_STEP) {
        return false;
    }
    let stride = places.len().div_ceil(PROBES).max(1);
    let probes: Vec<&Place> = places.iter().step_by(stride).filter(|p| p.seen && !p.cut).collect();
    let widths: Vec<i32> = (0..=WIDEST).step_by(TRY_STEP as usize).collect();
    let laid = |p: &Place, cast: i32| Alike { cast, ..p.alike };
    let plans = rows.plans(probes.iter().flat_map(|p| widths.iter().map(|w| laid(p, *w))), shape, TRY_EVERY);
    // For each probe its normal and how much rather it has a strip of each width than none.
    let gains: Vec<(Vector2<f64>, Vec<f64>)> = probes
        .par_iter()
        .map(|p| {
            let least = |w: i32| p.tries(&plans[&laid(p, w)]).misfit.iter().copied().fold(f64::INFINITY, f64::min);
            let none = least(0);
            (guide.normal[p.column], widths.iter().map(|w| (ROW_WORTH * (none - least(*w))).clamp(-MOST, MOST)).collect())
        })
        .collect();
    let Some(shift) = best_shift(&gains, farthest) else { return false };
    places.iter_mut().for_each(|p| p.alike.cast = width(shift, guide.normal[p.column]).round() as i32);
    true
}

/// Width of the strip where the edge has this normal, in steps.
fn width(shift: Vector2<f64>, normal: Vector2<f64>) -> f64 {
    shift.dot(&normal).clamp(0.0, f64::from(WIDEST))
}

/// The shift of the shadow, in steps of the width and at most `farthest`, that gains most; `None` when that is too little.
fn best_shift(gains: &[(Vector2<f64>, Vec<f64>)], farthest: f64) -> Option<Vector2<f64>> {
    let gain = |shift: Vector2<f64>| -> (f64, f64) {
        let shaded = gains.iter().map(|(n, g)| (width(shift, *n), g)).filter(|(w, _)| *w > 0.5 * f64::from(TRY_STEP));
        shaded.fold((0.0, 0.0), |(sum, count), (w, g)| {
            let x = (w / f64::from(TRY_STEP)).min((g.len() - 1) as f64);
            let (k, t) = (x as usize, x.fract());
            (sum + g[k] * (1.0 - t) + g[(k + 1).min(g.len() - 1)] * t, count + 1.0)
        })
    };
    let tried = (0..TURNS).flat_map(|a| {
        let (y, x) = (a as f64 * std::f64::consts::TAU / TURNS as f64).sin_cos();
        (2..=REACHES).map(|r| r as f64).filter(|r| *r <= farthest).map(move |r| Vector2::new(x, y) * r)
    });
    let best = tried.map(|s| (s, gain(s))).max_by(|a, b| a.1.0.total_cmp(&b.1.0))?;
    let (shift, (sum, count)) = best;
    (count >= 8.0 && sum > CONVINCED * count).then_some(shift)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Places round a circle that gain most by the width one shift gives them.
    #[test]
    fn one_shift_explains_all_strips() {
        let shift = Vector2::new(4.0, 3.0);
        let gains: Vec<(Vector2<f64>, Vec<f64>)> = (0..120)
            .map(|k| {
                let (y, x) = (f64::from(k) * 0.05236).sin_cos();
                let n = Vector2::new(x, y);
                let w = width(shift, n);
                (n, (0..=5).map(|k| 3.0 - 0.8 * (2.0 * f64::from(k) - w).abs() - if k == 0 { 3.0 - 0.8 * w } else { 0.0 }).collect())
            })
            .collect();
        let found = best_shift(&gains, 20.0).expect("a shadow");
        assert!((found - shift).norm() < 0.8, "{found}");
        let none: Vec<_> = gains.iter().map(|(n, g)| (*n, g.iter().map(|_| 0.2).collect())).collect();
        assert!(best_shift(&none, 20.0).is_none() && best_shift(&gains, 1.5).is_none());
    }
}
