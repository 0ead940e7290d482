//! How far an outline may be out: edge noise, view and height of the cloth, after the best rigid laying-on.
//!
//! The view's error is shared along the outline: its part that only moves or turns the piece is no error of shape
//! and is projected out before the rest is added to what the edge itself is known to.

use super::places::{Place, places};
use crate::length::Mm;
use crate::outline::Outline;
use crate::solve::{TWO_SIDED, mixture_bound};
use crate::view::View;

/// The claim of every bound: this share of points lies within it.
const SHARE: f64 = 0.95;

/// What was found out about one outline's accuracy, all in mm.
pub(super) struct Bounds {
    /// Per edge: its bound and the bound along it.
    pub edges: Vec<(f64, Vec<[f64; 2]>)>,
    /// Over all edges that are not cut.
    pub whole: f64,
}

/// A hand smooths a frayed edge over some 25 mm, along which threads alike over 3 mm are worth four: half of what it wanders is left.
const FRAYED_WORTH: f64 = 0.5;

/// Bounds of an outline seen at `height` ± `height_error` above the sheet (mm); `rough` tells how far each edge of cloth itself wanders
/// about the line drawn, mm, nothing where it does not.
pub(super) fn bounds(outline: &Outline, view: &View, (height, height_error): (f64, f64), rough: &[f64]) -> Bounds {
    let places = places(outline);
    let shared = shape_errors(&places, view, height, height_error);
    let frayed = |p: &Place| FRAYED_WORTH * rough.get(p.edge).copied().unwrap_or(0.0);
    let parts: Vec<[f64; 4]> = places.iter().zip(&shared).map(|(p, [view, height])| [p.edge_error, *view, *height, frayed(p)]).collect();
    let total: Vec<f64> = parts.iter().map(|p| p.iter().map(|e| e * e).sum::<f64>().sqrt()).collect();
    let edges = (0..outline.edges.len())
        .map(|k| {
            let of: Vec<usize> = (0..places.len()).filter(|&i| places[i].edge == k).collect();
            let errors: Vec<f64> = of.iter().map(|&i| total[i]).collect();
            let along = of.iter().map(|&i| [places[i].along, TWO_SIDED * total[i]]).collect();
            (mixture_bound(&errors, SHARE), along)
        })
        .collect();
    let seen: Vec<f64> = (0..places.len()).filter(|&i| !outline.edges[places[i].edge].cut).map(|i| total[i]).collect();
    Bounds { edges, whole: mixture_bound(&seen, SHARE) }
}

/// Standard errors of each place along its normal, from the view and from the height, rigid motion taken out.
fn shape_errors(places: &[Place], view: &View, height: f64, height_error: f64) -> Vec<[f64; 2]> {
    let points: Vec<Mm> = places.iter().map(|p| p.at).collect();
    match view.shape_errors(&points, height, height_error) {
        Some(errors) => places
            .iter()
            .zip(errors.view.iter().zip(&errors.height))
            .map(|(p, (cov, moved))| [(p.normal.transpose() * cov * p.normal)[(0, 0)].max(0.0).sqrt(), moved.dot(&p.normal).abs()])
            .collect(),
        None => vec![[0.0; 2]; places.len()],
    }
}
