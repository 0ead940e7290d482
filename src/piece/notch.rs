//! Notches in the allowance: single for front, double for back (natalieinstitches.com, "The language of notches"), 2 to 3 mm
//! deep and no nearer to the stitch line than 1/8 in ("Notch notes"; maeviary.com, seam allowances).

use super::allowance::outward;
use super::walk::Walk;
use crate::notes::NotchStyle;
use kurbo::{BezPath, ParamCurve, Point, Vec2};

/// Depth wanted, mm.
const DEEP: f64 = 3.0;
/// A notch shallower than this is not seen, mm.
const SHALLOW: f64 = 2.0;
/// What stays between notch and stitch line, mm: 1/8 in.
const CLEAR: f64 = 3.175;
/// Distance of the two of a double notch, mm (1/4 in). Common practice, no source.
const APART: f64 = 6.35;

/// Notches at one place, drawn from the cut line inward; `None` where the allowance is too narrow for one.
///
/// `stitch` and `cut` are the edge's lines, `at` is the distance along the stitch line, mm.
pub fn notches(stitch: &BezPath, cut: &BezPath, at: f64, count: u32, style: NotchStyle) -> Option<Vec<BezPath>> {
    let walk = Walk::of(stitch);
    let first = at - APART * f64::from(count.saturating_sub(1)) / 2.0;
    (0..count).map(|k| notch(&walk, cut, first + APART * f64::from(k), style)).collect()
}

fn notch(stitch: &Walk, cut: &BezPath, at: f64, style: NotchStyle) -> Option<BezPath> {
    let (p, out) = (stitch.at(at), outward(stitch.along(at)));
    let rim = hit(cut, p, out)?;
    let depth = DEEP.min(p.distance(rim) - CLEAR);
    if depth < SHALLOW {
        return None;
    }
    let tip = rim - out * depth;
    let mut path = BezPath::new();
    match style {
        NotchStyle::Slit => {
            path.move_to(rim);
            path.line_to(tip);
        }
        NotchStyle::V => {
            let half = out.turn_90() * (depth / 2.0);
            // Its sides start on the cut line, wherever that runs.
            path.move_to(hit(cut, p - half, out)?);
            path.line_to(tip);
            path.line_to(hit(cut, p + half, out)?);
        }
    }
    Some(path)
}

/// The first place of the cut line straight out from a place.
fn hit(cut: &BezPath, from: Point, out: Vec2) -> Option<Point> {
    let ray = kurbo::Line::new(from, from + out * 1e3);
    let hits = cut.segments().flat_map(|s| s.intersect_line(ray).into_iter().map(move |h| (h.line_t, s.eval(h.segment_t))));
    hits.min_by(|a, b| a.0.total_cmp(&b.0)).map(|h| h.1)
}
