//! Pieces with straight edges, whose lengths and angles arithmetic gives.

#![allow(dead_code)]

use kurbo::BezPath;
use ruboff::length::Mm;
use ruboff::piece::{Corner, Edge, How, Layer, Line};

/// A layer from its corners, each with its name and that of the edge that starts there; edges are known to 0.2 mm, corners to 0.1.
pub fn lines(corners: &[(&str, &str, [f64; 2])]) -> Layer {
    let n = corners.len();
    let edge = |k: usize| {
        let (a, b) = (corners[k].2, corners[(k + 1) % n].2);
        let mut path = BezPath::new();
        path.move_to((a[0], a[1]));
        path.line_to((b[0], b[1]));
        Edge { name: corners[k].1.into(), path, line: Line::Rim, how: How::Seen, bound: Some(0.2) }
    };
    let layer = Layer {
        corners: corners.iter().map(|c| Corner { name: c.0.into(), at: Mm::from(c.2), error: Some(0.1) }).collect(),
        edges: (0..n).map(edge).collect(),
        ..Layer::default()
    };
    layer.check().expect("closed");
    layer
}

/// Half a front as seen, side on the right, fold on the left.
pub fn half_front() -> Layer {
    lines(&[
        ("neck", "shoulder", [60.0, 0.0]),
        ("tip", "armhole", [150.0, 20.0]),
        ("underarm", "side", [200.0, 200.0]),
        ("hem side", "hem", [200.0, 600.0]),
        ("hem centre", "centre", [0.0, 600.0]),
        ("neck centre", "neckline", [0.0, 80.0]),
    ])
}
