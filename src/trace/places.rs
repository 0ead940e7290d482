//! The places of a drawn outline at which its edges say how well they are known, at most 5 mm apart; places along a found line.

use crate::length::Mm;
use crate::outline::Outline;
use crate::path::SeamPath;
use kurbo::{ParamCurve, ParamCurveArclen, ParamCurveDeriv};
use nalgebra::Vector2;

/// Accuracy of places along an edge, mm.
const ACCURACY: f64 = 1e-3;

/// One place of an outline and what is known of it.
pub(super) struct Place {
    /// Number of its edge, and the distance along that, mm.
    pub edge: usize,
    pub along: f64,
    pub at: Mm,
    /// Unit normal, out of the piece.
    pub normal: Vector2<f64>,
    /// Standard error of the drawn edge along it, mm.
    pub edge_error: f64,
}

/// Places and normals along a found closed line, about so many mm apart; none where the picture cuts it off.
pub(super) fn stepped(rim: &SeamPath, apart: f64) -> Vec<(Mm, Vector2<f64>)> {
    let mut out: Vec<(Mm, Vector2<f64>)> = Vec::new();
    for p in &rim.points {
        if !p.flags.cut && out.last().is_none_or(|(last, _)| last.distance(p.at) >= 0.8 * apart) {
            out.push((p.at, p.normal));
        }
    }
    out
}

/// The places, edge by edge.
pub(super) fn places(outline: &Outline) -> Vec<Place> {
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
