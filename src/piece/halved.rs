//! Half a piece that lies on its fold, measured: widths across the fold as they were seen and doubled, all else as of the whole.
//!
//! Half a skirt, a sleeve or a band is laid open for it, as its mirror image would be, and named by the shape that it has then. Half a leg that
//! is folded where it has no outside seam looks like a leg by itself, and is measured as one. Common practice, no source.

use super::fullness::unfolded;
use super::layer::{Layer, ends, joined, mm, point};
use super::measures::{Measure, Measured, Taken};
use super::propose::{AsSeen, proposed};
use super::walk::Walk;
use crate::length::Mm;
use crate::notes::PieceKind;
use kurbo::{Point, Vec2};

/// Widths that may run across a fold: as they are called, of the half, and twice that.
const WIDTHS: [(&str, &str, &str); 10] = [
    ("waist", "half waist", "waist, doubled"),
    ("hem sweep", "half hem sweep", "hem sweep, doubled"),
    ("biceps", "half biceps", "biceps, doubled"),
    ("sleeve opening", "half sleeve opening", "sleeve opening, doubled"),
    ("thigh", "half thigh", "thigh, doubled"),
    ("knee", "half knee", "knee, doubled"),
    ("leg opening", "half leg opening", "leg opening, doubled"),
    ("width", "half width", "width, doubled"),
    ("neck width", "half neck width", "neck width, doubled"),
    ("across shoulders", "half across shoulders", "across shoulders, doubled"),
];

/// Edges that meet at the fold at less than this, degrees, are one when it is laid open.
const ONE: f64 = 30.0;
/// A place this near to the fold, mm, lies on it.
const ON_FOLD: f64 = 0.5;

/// The measures of half a piece; none where its whole looks like nothing of its kind.
pub(super) fn halved(half: &Measured, fold: &str) -> Vec<Measure> {
    let Some(fold) = half.layer.edge(fold).filter(|_| half.layer.edges.len() > 2) else { return Vec::new() };
    let leg = matches!(half.kind, PieceKind::TrouserFront | PieceKind::TrouserBack);
    let n = half.layer.edges.len();
    let laid = if leg { Some((half.layer.clone(), (0..n).map(Some).collect())) } else { whole(half.layer, fold) };
    let Some((mut lines, from)) = laid else { return Vec::new() };
    if !named(&mut lines, half.kind) && !leg {
        return Vec::new();
    }
    let all = Measured { layer: &lines, kind: half.kind, scale: half.scale, fold: None }.all();
    let Some(axis) = Axis::of(half.layer, fold) else { return Vec::new() };
    all.into_iter().flat_map(|m| axis.folded(m, &from, half.kind)).collect()
}

/// A half with its mirror image, and from which of its edges each of the whole's is seen.
fn whole(half: &Layer, fold: usize) -> Option<(Layer, Vec<Option<usize>>)> {
    let n = half.edges.len();
    let (mut out, _) = unfolded(half, fold, None).ok()?;
    let mut from: Vec<Option<usize>> = (0..out.edges.len()).map(|k| (k < n - 1).then_some((fold + 1 + k) % n)).collect();
    // The corners at the fold: the later one first, so that the other keeps its number.
    for corner in [n - 1, 0] {
        let m = out.edges.len();
        let before = (corner + m - 1) % m;
        let [a, b] = [before, corner].map(|k| Walk::of(&out.edges[k].path));
        let (a, b) = (a.along(a.length()), b.along(0.0));
        if m > 3 && a.cross(b).atan2(a.dot(b)).to_degrees().abs() < ONE {
            let mut path = joined([&out.edges[before].path, &out.edges[corner].path]);
            path.pop();
            out.edges[before].path = path;
            from[before] = None;
            out.edges.remove(corner);
            out.corners.remove(corner);
            from.remove(corner);
        }
    }
    Some((out, from))
}

/// Gives all corners and edges the names of their shape.
fn named(lines: &mut Layer, kind: PieceKind) -> bool {
    let mut bare = lines.clone();
    bare.corners.iter_mut().enumerate().for_each(|(k, c)| c.name = format!("corner {}", k + 1));
    bare.edges.iter_mut().enumerate().for_each(|(k, e)| e.name = format!("edge {}", k + 1));
    let Some(by_shape) = proposed(&bare, &AsSeen { kind: Some(kind), ..AsSeen::default() }) else { return false };
    by_shape.apply(&mut bare);
    *lines = bare;
    true
}

/// The fold, with the side on which the half lies.
struct Axis {
    at: Point,
    off: Vec2,
    bound: Option<f64>,
}

impl Axis {
    fn of(half: &Layer, fold: usize) -> Option<Self> {
        let (a, b) = ends(&half.edges[fold].path)?;
        let off = ((b - a) / a.distance(b)).turn_90();
        let far = half.corners.iter().map(|c| (point(c.at) - a).dot(off)).max_by(|p, q| p.abs().total_cmp(&q.abs()))?;
        Some(Self { at: a, off: off * far.signum(), bound: half.edges[fold].bound })
    }

    fn off(&self, p: Mm) -> f64 {
        (point(p) - self.at).dot(self.off)
    }

    /// A measure of the whole as one of the half: across the fold, both; on the half that was seen, itself.
    fn folded(&self, m: Measure, from: &[Option<usize>], kind: PieceKind) -> Vec<Measure> {
        let one_side = Measure { side: None, ..m.clone() };
        let [a, b] = match m.taken {
            Taken::Along(k) => {
                let seen = from.get(k).copied().flatten();
                return seen.map(|k| Measure { taken: Taken::Along(k), ..one_side }).into_iter().collect();
            }
            Taken::Straight(ends) => ends,
        };
        let (near, far) = if self.off(a) < self.off(b) { (a, b) } else { (b, a) };
        let (low, high) = (self.off(near), self.off(far));
        let width = WIDTHS.iter().find(|w| w.0 == m.name);
        let (inner, length) = match width {
            // Across: from the fold out.
            Some(_) if low < -ON_FOLD && high > ON_FOLD => {
                (mm(point(near) + (point(far) - point(near)) * (-low / (high - low))), m.length / 2.0)
            }
            Some(_) if low.abs() <= ON_FOLD && high > ON_FOLD => (near, m.length),
            _ if low.min(high) < -ON_FOLD => return Vec::new(),
            _ => return vec![one_side],
        };
        let Some(&(_, half, doubled)) = width else { return Vec::new() };
        let seen = if m.length > length { m.bound.map(|b| b / 2.0) } else { m.bound };
        let bound = seen.zip(self.bound).map(|(b, fold)| if m.length > length { b + fold } else { b });
        let round = matches!(kind, PieceKind::Sleeve | PieceKind::TrouserFront | PieceKind::TrouserBack);
        let taken = Taken::Straight([inner, far]);
        let half = Measure { name: half, length, bound, taken, half_round: round, ..one_side };
        let twice = Measure { name: doubled, length: 2.0 * length, bound: bound.map(|b| 2.0 * b), half_round: false, ..half.clone() };
        vec![half, twice]
    }
}

#[cfg(test)]
mod tests {
    use super::super::How;
    use super::super::layer::{Corner, Edge, Line};
    use super::*;
    use kurbo::{Affine, BezPath, PathEl};

    /// Straight edges between corners that a person named as they liked, the last of them the fold.
    fn half(corners: &[(f64, f64)]) -> Layer {
        let n = corners.len();
        let at = |k: usize| Point::new(corners[k % n].0, corners[k % n].1);
        let edge = |k: usize| Edge {
            name: if k + 1 == n { "fold".into() } else { format!("my edge {k}") },
            path: BezPath::from_vec(vec![PathEl::MoveTo(at(k)), PathEl::LineTo(at(k + 1))]),
            line: Line::Rim,
            how: How::Seen,
            bound: Some(0.2),
        };
        let corner = |k: usize| Corner { name: format!("my corner {k}"), at: mm(at(k)), error: Some(0.1) };
        Layer { corners: (0..n).map(corner).collect(), edges: (0..n).map(edge).collect(), ..Layer::default() }
    }

    fn length(all: &[Measure], name: &str) -> f64 {
        all.iter().find(|m| m.name == name).unwrap_or_else(|| panic!("no {name} in {all:?}")).length
    }

    type Case<'a> = (&'a Layer, PieceKind, &'a [(&'a str, f64)]);

    /// By arithmetic, on either hand: widths of the half and doubled, lengths as of the whole, each once.
    #[test]
    fn halves_on_the_fold_are_measured() {
        let skirt = half(&[(0.0, 0.0), (170.0, 0.0), (230.0, 600.0), (0.0, 600.0)]);
        let band = half(&[(0.0, 0.0), (350.0, 0.0), (350.0, 40.0), (0.0, 40.0)]);
        let leg = half(&[(290.0, 1050.0), (90.0, 1050.0), (10.0, 250.0), (90.0, 0.0), (290.0, 0.0)]);
        let sleeve = half(&[(0.0, 0.0), (120.0, 60.0), (190.0, 150.0), (130.0, 580.0), (0.0, 580.0)]);
        let biceps = 190.0 - 60.0 * 25.4 / 430.0;
        let thigh = 280.0 - 80.0 * 25.4 / 800.0;
        let cases: [Case; 4] = [
            (
                &skirt,
                PieceKind::SkirtPanel,
                &[
                    ("half waist", 170.0),
                    ("waist, doubled", 340.0),
                    ("hem sweep, doubled", 460.0),
                    ("centre length", 600.0),
                    ("side length", 60f64.hypot(600.0)),
                ],
            ),
            (&band, PieceKind::Waistband, &[("half width", 350.0), ("width, doubled", 700.0), ("height", 40.0)]),
            (
                &leg,
                PieceKind::TrouserFront,
                &[
                    ("half thigh", thigh),
                    ("thigh, doubled", 2.0 * thigh),
                    ("half waist", 200.0),
                    ("leg opening, doubled", 400.0),
                    ("inside leg", 80f64.hypot(800.0)),
                ],
            ),
            (
                &sleeve,
                PieceKind::Sleeve,
                &[
                    ("half biceps", biceps),
                    ("biceps, doubled", 2.0 * biceps),
                    ("sleeve opening, doubled", 260.0),
                    ("sleeve length", 580.0),
                    ("underarm length", 60f64.hypot(430.0)),
                ],
            ),
        ];
        for (layer, kind, want) in cases {
            for layer in [layer.clone(), layer.mapped(Affine::FLIP_X), layer.mapped(Affine::rotate(0.2))] {
                let all = Measured { layer: &layer, kind, scale: 0.0, fold: Some("fold") }.all();
                for (name, long) in want {
                    assert!((length(&all, name) - long).abs() < 1e-6, "{kind:?} {name}: {}", length(&all, name));
                    assert_eq!(all.iter().filter(|m| m.name == *name).count(), 1, "{name}");
                }
                // Where it was taken lies on the half that was seen.
                let inside = layer.outline();
                let within = |p: &Mm| Walk::of(&inside).nearest(point(*p)).1 < 0.01 || kurbo::Shape::contains(&inside, point(*p));
                assert!(all.iter().all(|m| !matches!(&m.taken, Taken::Straight(ends) if !ends.iter().all(within))), "{all:?}");
            }
        }
    }
}
