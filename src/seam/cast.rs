//! Strips of a lamp's shade beside the places of an edge.
//!
//! In: how wide the lamp's one shift makes the strip at each place. Out: the width that the place itself agrees to, for cloth is not equally
//! thick all along its edge, and the strip begins and ends at corners.

use super::fine::{Alike, Place, TRY_EVERY};
use super::learn::Rows;
use super::shapes::Shape;
use rayon::prelude::*;

/// Steps of a strip's width, mm.
pub(super) const STEP: f64 = 0.25;
/// The widest strip whose end the rows of a fit see, mm. Beyond a wider one all is shade.
pub(super) const WIDEST: f64 = 3.25;
/// Widths tried about the one told, in steps; besides, that there is no strip.
const TRIED: [i32; 4] = [-2, -1, 1, 2];
/// Another width is taken where it leaves less than this part of what the one told leaves.
const BETTER: f64 = 0.7;

/// A width in steps; 0 is none.
pub(super) fn steps(width: f64) -> i32 {
    (width / STEP).round() as i32
}

/// Lets each place with a strip choose among the widths near the one told.
pub(super) fn choose(places: &mut [Place], rows: &Rows, shape: Shape) {
    let others = |p: &Place| {
        let cast = p.alike.cast;
        let near = TRIED.map(|d| cast + d).into_iter().filter(move |c| *c > 0 && *c <= steps(WIDEST));
        near.chain([0, cast]).map(|cast| Alike { cast, ..p.alike }).collect::<Vec<_>>()
    };
    let striped = |p: &Place| p.alike.cast > 0 && p.seen;
    let plans = rows.plans(places.iter().filter(|p| striped(p)).flat_map(others), shape, TRY_EVERY);
    places.par_iter_mut().filter(|p| striped(p)).for_each(|p| {
        let least = |a: Alike| p.tries(&plans[&a]).misfit.iter().copied().fold(f64::INFINITY, f64::min);
        let own = BETTER * least(p.alike);
        let best = others(p).into_iter().map(|a| (a, least(a))).filter(|(_, m)| *m < own).min_by(|a, b| a.1.total_cmp(&b.1));
        if let Some((alike, _)) = best {
            p.alike = alike;
        }
    });
}
