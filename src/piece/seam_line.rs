//! The stitch line inside (or outside) what was seen: every edge moved by its own width, corners where neighbours cross.
//!
//! At a slight corner between edges that are moved by unequal widths the moved lines cross far off, or never. There both run over their
//! last stretch to a corner between them (common practice, no source): a seam does not step.

use super::How;
use super::allowance::{Allowance, AllowanceError, CutLine, Finish, beside_all, untangled};
use super::finish::Meet;
use super::layer::{Layer, TOGETHER, ends, joined, mm};
use super::walk::Walk;
use kurbo::{BezPath, PathSeg, Point};

/// Over how much of its length an edge runs to a corner between it and its neighbour, mm, and at most which share.
const EASED_OVER: (f64, f64) = (15.0, 1.0 / 3.0);
/// Lines that leave one line by no more than this, mm, are one.
const STRAIGHT: f64 = 1e-6;

/// The stitch line inside what was seen: every edge moved in by its own width (out when negative), corners where they cross.
/// Edges that moved are marked with `how` it is known that they lie there.
///
/// # Errors
/// As [`super::cut_line`]; and where moved edges no longer meet.
pub fn seam_line(layer: &Layer, inside: &[f64], how: How) -> Result<Layer, AllowanceError> {
    let widths: Vec<Allowance> = inside.iter().map(|w| Allowance { width: -w, finish: Finish::Mitred, how }).collect();
    let moved = beside_all(layer, &widths, Meet::Crossing, &[])?;
    let n = moved.edges.len();
    let mut paths: Vec<BezPath> = moved.edges.iter().map(|e| e.path.clone()).collect();
    for k in (0..n).filter(|_| n > 1) {
        let before = (k + n - 1) % n;
        let (Some((_, end)), Some((start, _))) = (ends(&paths[before]), ends(&paths[k])) else { continue };
        if end.distance(start) > TOGETHER {
            let meet = end.midpoint(start);
            paths[before] = led_to(&paths[before], meet);
            paths[k] = led_to(&paths[k].reverse_subpaths(), meet).reverse_subpaths();
        }
    }
    let mut out = layer.clone();
    paths.iter_mut().for_each(|p| *p = plain(p));
    for (k, (edge, path)) in out.edges.iter_mut().zip(&paths).enumerate() {
        edge.path = path.clone();
        // What nobody measured is still assumed when it was moved.
        if inside[k] != 0.0 && edge.how != How::Assumed {
            edge.how = how;
        }
        if let (Some(corner), Some((start, _))) = (out.corners.get_mut(k), ends(path)) {
            corner.at = mm(start);
        }
    }
    out.check()?;
    untangled(layer, &CutLine { path: joined(&paths), edges: moved.edges })?;
    Ok(out)
}

/// The same line with straight stretches that run on straight made one.
fn plain(path: &BezPath) -> BezPath {
    let mut all: Vec<PathSeg> = Vec::new();
    for s in path.segments() {
        match (all.last_mut(), s) {
            (Some(PathSeg::Line(before)), PathSeg::Line(l))
                if (l.p1 - before.p0).dot(before.p1 - before.p0) > 0.0 && off(*before, l) < STRAIGHT =>
            {
                before.p1 = l.p1;
            }
            _ => all.push(s),
        }
    }
    BezPath::from_path_segments(all.into_iter())
}

/// How far the joint of two lines lies off the line from end to end, mm.
fn off(a: kurbo::Line, b: kurbo::Line) -> f64 {
    let chord = b.p1 - a.p0;
    (a.p1 - a.p0).cross(chord).abs() / chord.hypot().max(1e-9)
}

/// A line whose last stretch runs to another place than its end.
fn led_to(path: &BezPath, end: Point) -> BezPath {
    let walk = Walk::of(path);
    let over = EASED_OVER.0.min(walk.length() * EASED_OVER.1);
    let from = walk.length() - over;
    let mut out = walk.part(0.0, from);
    let handle = over / 3.0;
    out.curve_to(walk.at(from) + walk.along(from) * handle, end - walk.along(walk.length()) * handle, end);
    out
}

#[cfg(test)]
mod tests {
    use super::super::layer::{Corner, Edge, Line, point};
    use super::*;
    use crate::length::Mm;
    use kurbo::ParamCurve;
    use proptest::prelude::*;

    /// A panel whose right side turns by `turn` degrees half way down.
    fn panel(turn: f64) -> Layer {
        let (s, c) = turn.to_radians().sin_cos();
        let at = [(0.0, 0.0), (300.0, 0.0), (300.0, 200.0), (300.0 - 200.0 * s, 200.0 + 200.0 * c), (0.0, 200.0 + 200.0 * c)];
        let edge = |k: usize| {
            let mut path = BezPath::new();
            path.move_to(at[k]);
            path.line_to(at[(k + 1) % 5]);
            Edge { name: format!("e{k}"), path, line: Line::Rim, how: How::Seen, bound: None }
        };
        Layer {
            corners: at.iter().enumerate().map(|(k, p)| Corner { name: format!("c{k}"), at: Mm::new(p.0, p.1), error: None }).collect(),
            edges: (0..5).map(edge).collect(),
            ..Layer::default()
        }
    }

    proptest! {
        /// However slightly or sharply a side turns and however unequally both its edges are moved, the seam closes, lies as far inside as was
        /// told wherever it is not led to a corner, and never steps: its corner lies between both moved lines or where they cross.
        #[test]
        fn corners_of_every_turn_close(turn in -25.0..25.0f64, a in -4.0..8.0f64, b in -4.0..8.0f64) {
            let layer = panel(turn);
            let out = seam_line(&layer, &[0.0, a, b, 0.0, 0.0], How::Noted).expect("a seam");
            out.check().expect("closed");
            for (k, inside) in [(1, a), (2, b)] {
                let stitch = layer.edges[k].path.segments().next().expect("a line");
                let along = stitch.end() - stitch.start();
                let walk = Walk::of(&out.edges[k].path);
                for s in walk.steps(1.0).into_iter().filter(|s| *s > 16.0 && *s < walk.length() - 16.0) {
                    let off = along.normalize().cross(walk.at(s) - stitch.start());
                    prop_assert!((off - inside).abs() < 0.05, "{} for {} at {}", off, inside, s);
                }
            }
            let corner = point(out.corners[2].at);
            // From the lines the edges lie on: a corner moved outwards lies beyond both edges' ends.
            let off = [1, 2].map(|k| {
                let stitch = layer.edges[k].path.segments().next().expect("a line");
                let along = (stitch.end() - stitch.start()).normalize();
                along.cross(corner - stitch.start()).abs()
            });
            prop_assert!(off[0].min(off[1]) < a.abs().max(b.abs()) + 0.05, "{:?}", off);
        }
    }

    /// A shoulder that is moved in beside a curved neckline that is not: however far, at whichever corner the outline starts.
    #[test]
    fn a_moved_edge_meets_a_curve_that_stays() {
        let corners = [[75.0, 0.0], [195.0, 38.0], [230.0, 640.0], [-230.0, 640.0], [-195.0, 38.0], [-75.0, 0.0]];
        let name = ["shoulder left", "side left", "hem", "side right", "shoulder right", "neckline"];
        for first in 0..6 {
            let edge = |k: usize| {
                let (a, b) = (corners[k], corners[(k + 1) % 6]);
                let mut path = BezPath::new();
                path.move_to((a[0], a[1]));
                match name[k] {
                    "neckline" => path.curve_to((-70.0, 80.0), (70.0, 80.0), (b[0], b[1])),
                    _ => path.line_to((b[0], b[1])),
                }
                Edge { name: name[k].into(), path, line: Line::Rim, how: How::Seen, bound: None }
            };
            let at = |k: usize| (first + k) % 6;
            let layer = Layer {
                corners: (0..6).map(|k| Corner { name: name[at(k)].into(), at: corners[at(k)].into(), error: None }).collect(),
                edges: (0..6).map(|k| edge(at(k))).collect(),
                ..Layer::default()
            };
            for w in (1..40).map(|k| 0.2 * f64::from(k)) {
                let inside: Vec<f64> = layer.edges.iter().map(|e| if e.name == "shoulder left" { w } else { 0.0 }).collect();
                let out = seam_line(&layer, &inside, How::Noted).unwrap_or_else(|e| panic!("{w} from {first}: {e}"));
                assert!(out.area() < layer.area(), "{w}");
            }
        }
    }

    /// Two moved lines that turn by 30° cross where trigonometry says: an edge moved by 5 mm meets its unmoved neighbour 5 / sin 30° along it.
    #[test]
    fn a_plain_corner_lies_where_both_cross() {
        let out = seam_line(&panel(30.0), &[0.0, 5.0, 0.0, 0.0, 0.0], How::Noted).expect("a seam");
        let far = out.corners[2].at.distance(Mm::new(300.0, 200.0));
        assert!((far - 10.0).abs() < 1e-6, "{far}");
    }
}
