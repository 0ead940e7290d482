//! Notches on a pattern: cut into the allowance, or into the piece where there is none.

use super::piece::{LineKind, PatternNotch, PatternPiece};
use crate::piece::{How, Layer, NotchAt, Walk, notches};
use kurbo::{BezPath, Line, PathEl, Point, Shape};

/// How deep a notch is drawn where no allowance holds it, mm. Common practice, no source.
const BARE: f64 = 4.0;
/// Distance of the two of a double notch, mm (1/4 in). Common practice, no source.
const APART: f64 = 6.35;

/// A notch where its piece has it; none where its edge is not there.
pub(super) fn drawn(layer: &Layer, notch: &NotchAt, piece: &PatternPiece) -> Vec<PatternNotch> {
    let Some(edge) = layer.edge(&notch.edge).map(|k| &layer.edges[k]) else { return Vec::new() };
    let stitched = piece.lines.iter().any(|l| l.kind == LineKind::Stitch && l.name == edge.name);
    let cut = if stitched { notches(&edge.path, &piece.outer, notch.at, notch.count, notch.style) } else { None };
    let bare = || {
        let walk = Walk::of(&edge.path);
        let count = notch.count.max(1);
        let one = |k: u32| {
            let at = notch.at + (f64::from(k) - f64::from(count - 1) / 2.0) * APART;
            Line::new(walk.at(at), walk.at(at) + walk.along(at).turn_90() * BARE).to_path(0.1)
        };
        (0..count).map(one).collect()
    };
    cut.unwrap_or_else(bare).into_iter().filter_map(|path| told(path, notch.how == How::Assumed)).collect()
}

/// What other programs want to know of a notch that is drawn.
fn told(path: BezPath, assumed: bool) -> Option<PatternNotch> {
    let points: Vec<Point> = path.elements().iter().filter_map(PathEl::end_point).collect();
    let (at, tip, width) = match points.as_slice() {
        [rim, tip] => (*rim, *tip, 0.0),
        [a, tip, b] => (a.midpoint(*b), *tip, a.distance(*b)),
        _ => return None,
    };
    let depth = at.distance(tip);
    (depth > 1e-6).then(|| PatternNotch { at, into: (tip - at) / depth, depth, width, assumed, path })
}
