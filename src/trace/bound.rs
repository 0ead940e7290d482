//! How far an outline may be out: edge noise, view and height of the cloth, after the best rigid laying-on.
//!
//! The view's error is shared along the outline: its part that only moves or turns the piece is no error of shape
//! and is projected out before the rest is added to what the edge itself is known to.

use crate::length::Mm;
use crate::outline::Outline;
use crate::solve::mixture_bound;
use crate::view::View;
use kurbo::{ParamCurve, ParamCurveArclen, ParamCurveDeriv};
use nalgebra::Vector2;

/// The claim of every bound: this share of points lies within it.
const SHARE: f64 = 0.95;
/// Two standard errors, for a bound at one place.
const TWO_SIDED: f64 = 1.96;
/// Accuracy of places along an edge, mm.
const ACCURACY: f64 = 1e-3;

/// One place of an outline and what is known of it.
struct Place {
    edge: usize,
    along: f64,
    at: Mm,
    normal: Vector2<f64>,
    edge_error: f64,
}

/// What was found out about one outline's accuracy, all in mm.
pub(super) struct Bounds {
    /// Per edge: its bound and the bound along it.
    pub edges: Vec<(f64, Vec<[f64; 2]>)>,
    /// Over all edges that are not cut.
    pub whole: f64,
}

/// Bounds of an outline seen at `height` ± `height_error` above the sheet (mm).
pub(super) fn bounds(outline: &Outline, view: &View, height: f64, height_error: f64) -> Bounds {
    let places = places(outline);
    let shared = shape_errors(&places, view, height, height_error);
    let parts: Vec<[f64; 3]> = places.iter().zip(&shared).map(|(p, [view, height])| [p.edge_error, *view, *height]).collect();
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

fn places(outline: &Outline) -> Vec<Place> {
    let mut out = Vec::new();
    for (k, edge) in outline.edges.iter().enumerate() {
        let segments: Vec<(f64, f64, kurbo::PathSeg)> = edge
            .path
            .segments()
            .scan(0.0, |from, s| {
                let length = s.arclen(ACCURACY);
                let start = *from;
                *from += length;
                Some((start, length, s))
            })
            .collect();
        for &[along, error] in &edge.along {
            let Some(&(start, _, s)) = segments.iter().rev().find(|(start, ..)| *start <= along + ACCURACY) else { continue };
            let t = s.inv_arclen(along - start, ACCURACY).clamp(0.0, 1.0);
            let (p, d) = (s.eval(t), s.to_cubic().deriv().eval(t).to_vec2());
            let length = d.hypot();
            if length > 0.0 {
                out.push(Place {
                    edge: k,
                    along,
                    at: Mm::new(p.x, p.y),
                    normal: Vector2::new(d.y / length, -d.x / length),
                    edge_error: error,
                });
            }
        }
    }
    out
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
