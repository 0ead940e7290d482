//! Half a piece that lies on its fold, measured: widths across the fold as they were seen and doubled, all else as of the whole.
//!
//! Half a skirt, a sleeve or a band is laid open for it, as its mirror image would be, and named by the shape that it has then. Half a leg that
//! is folded where it has no outside seam looks like a leg by itself, and is measured as one. Common practice, no source.

use super::draft::LiesOpen;
use super::fullness::unfolded;
use super::layer::{Edge, Layer, alike, ends, joined, mm, point};
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

/// Where an edge of the whole was seen.
#[derive(Clone, Copy, Debug, PartialEq)]
enum Source {
    /// On the half itself, by its number.
    Seen(usize),
    /// On the other half alone.
    Mirrored,
    /// On both, across the fold: the number of the half's.
    Across(usize),
}

impl Source {
    /// The edge of the half that it is, or is half of.
    fn half(self) -> Option<usize> {
        match self {
            Self::Seen(k) | Self::Across(k) => Some(k),
            Self::Mirrored => None,
        }
    }
}

/// The measures of half a piece; none where its whole looks like nothing of its kind.
pub(super) fn halved(half: &Measured, fold: &str) -> Vec<Measure> {
    let Some(fold) = half.layer.edge(fold).filter(|_| half.layer.edges.len() > 2) else { return Vec::new() };
    let leg = matches!(half.kind, PieceKind::TrouserFront | PieceKind::TrouserBack);
    let n = half.layer.edges.len();
    let mouths = half.layer.edges.iter().map(|e| {
        let own = half.open.iter().filter(|o| alike(&o.stretch, &e.name));
        own.map(|o| o.legs[1] - o.legs[0]).collect()
    });
    let mouths: Vec<Vec<f64>> = mouths.collect();
    let laid = if leg { Some((half.layer.clone(), (0..n).map(Source::Seen).collect(), mouths)) } else { whole(half.layer, fold, &mouths) };
    let Some((mut lines, from, mouths)) = laid else { return Vec::new() };
    if !named(&mut lines, half.kind) && !leg {
        return Vec::new();
    }
    let wide = |(e, own): (&Edge, &Vec<f64>)| own.iter().map(|w| LiesOpen { stretch: e.name.clone(), legs: [0.0, *w] }).collect::<Vec<_>>();
    let open: Vec<LiesOpen> = lines.edges.iter().zip(&mouths).flat_map(wide).collect();
    let all = Measured { layer: &lines, kind: half.kind, scale: half.scale, fold: None, open: &open }.all();
    let Some(axis) = Axis::of(half.layer, fold) else { return Vec::new() };
    all.into_iter().flat_map(|m| axis.folded(m, &from, half.kind)).collect()
}

/// A half with its mirror image, from which of its edges each of the whole's is seen, and how wide darts lie open in each, mm; `mouths` are those of the
/// half's.
fn whole(half: &Layer, fold: usize, mouths: &[Vec<f64>]) -> Option<(Layer, Vec<Source>, Vec<Vec<f64>>)> {
    let n = half.edges.len();
    let (mut out, _) = unfolded(half, fold, None).ok()?;
    let seen = |k: usize| if k < n - 1 { Source::Seen((fold + 1 + k) % n) } else { Source::Mirrored };
    let mut from: Vec<Source> = (0..out.edges.len()).map(seen).collect();
    // The mirrored half runs back.
    let own = |k: usize| mouths[(fold + 1 + k) % n].clone();
    let mut open: Vec<Vec<f64>> = (0..n - 1).map(own).chain((0..n - 1).rev().map(own)).collect();
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
            from[before] = [from[before], from[corner]].into_iter().find_map(Source::half).map_or(Source::Mirrored, Source::Across);
            out.edges.remove(corner);
            out.corners.remove(corner);
            from.remove(corner);
            let beyond = open.remove(corner);
            open[before - usize::from(corner < before)].extend(beyond);
        }
    }
    Some((out, from, open))
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
    fn folded(&self, m: Measure, from: &[Source], kind: PieceKind) -> Vec<Measure> {
        let one_side = Measure { side: None, ..m.clone() };
        let [a, b] = match m.taken {
            Taken::Along(edges) => return self.along(one_side, &edges, from),
            Taken::Straight(ends) => ends,
            Taken::Hole(_) => return Vec::new(),
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
        let closed = if m.length > length { m.closed / 2.0 } else { m.closed };
        let half = Measure { name: half, length, closed, bound, taken: Taken::Straight([inner, far]), half_round: round, ..one_side };
        vec![half.clone(), twice(half, doubled)]
    }

    /// A measure along edges of the whole: of one that crosses the fold half of it was seen.
    fn along(&self, m: Measure, edges: &[usize], from: &[Source]) -> Vec<Measure> {
        let all = || edges.iter().filter_map(|&k| from.get(k));
        let seen: Vec<usize> = all().filter_map(|f| f.half()).collect();
        if !all().any(|f| matches!(f, Source::Across(_))) {
            let whole = seen.len() == edges.len();
            return whole.then_some(Measure { taken: Taken::Along(seen), ..m }).into_iter().collect();
        }
        let Some(&(_, half, doubled)) = WIDTHS.iter().find(|w| w.0 == m.name) else { return Vec::new() };
        let bound = m.bound.zip(self.bound).map(|(b, fold)| b / 2.0 + fold);
        let half = Measure { name: half, length: m.length / 2.0, closed: m.closed / 2.0, bound, taken: Taken::Along(seen), ..m };
        vec![half.clone(), twice(half, doubled)]
    }
}

/// The same of both halves.
fn twice(half: Measure, name: &'static str) -> Measure {
    Measure { name, length: 2.0 * half.length, closed: 2.0 * half.closed, bound: half.bound.map(|b| 2.0 * b), half_round: false, ..half }
}

#[cfg(test)]
mod tests {
    use super::super::How;
    use super::super::layer::{Corner, Line};
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
                let all = Measured { layer: &layer, kind, scale: 0.0, fold: Some("fold"), open: &[] }.all();
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

    /// A sleeve whose hem hangs 12 mm lower at its fold than at its underarm is as long as its fold, from the top of the cap to the hem.
    #[test]
    fn a_sleeve_is_as_long_as_from_the_top_of_its_cap_to_its_hem() {
        let sleeve = half(&[(0.0, 0.0), (120.0, 60.0), (190.0, 150.0), (130.0, 580.0), (0.0, 592.0)]);
        for layer in [sleeve.clone(), sleeve.mapped(Affine::FLIP_X), sleeve.mapped(Affine::rotate(0.2))] {
            let all = Measured { layer: &layer, kind: PieceKind::Sleeve, scale: 0.0, fold: Some("fold"), open: &[] }.all();
            assert!((length(&all, "sleeve length") - 592.0).abs() < 1e-6, "{}", length(&all, "sleeve length"));
            assert!((length(&all, "cap height") - 150.0).abs() < 1e-6);
        }
    }

    /// Darts of 20 and 16 mm that lie open in a waist of 170 mm leave 134 of it, 268 doubled; one in the side is closed there. Each says what was closed,
    /// and nothing else does.
    #[test]
    fn darts_that_lie_open_are_closed() {
        let skirt = half(&[(0.0, 0.0), (170.0, 0.0), (230.0, 600.0), (0.0, 600.0)]);
        let dart = |edge: &str, from: f64, to: f64| LiesOpen { stretch: edge.into(), legs: [from, to] };
        let open = [dart("my edge 0", 50.0, 70.0), dart("my edge 0", 100.0, 116.0), dart("my edge 1", 80.0, 92.0)];
        for layer in [skirt.clone(), skirt.mapped(Affine::FLIP_X), skirt.mapped(Affine::rotate(0.2))] {
            let all = Measured { layer: &layer, kind: PieceKind::SkirtPanel, scale: 0.0, fold: Some("fold"), open: &open }.all();
            let want = [
                ("half waist", 134.0, 36.0),
                ("waist, doubled", 268.0, 72.0),
                ("half hem sweep", 230.0, 0.0),
                ("hem sweep, doubled", 460.0, 0.0),
                ("side length", 60f64.hypot(600.0) - 12.0, 12.0),
                ("centre length", 600.0, 0.0),
            ];
            for (name, long, closed) in want {
                let m = all.iter().find(|m| m.name == name).unwrap_or_else(|| panic!("no {name} in {all:?}"));
                assert!((m.length - long).abs() < 1e-6 && (m.closed - closed).abs() < 1e-6, "{name}: {m:?}");
            }
        }
    }

    /// Arcs that part of a circle has on its fold: a waist of 110 mm radius and a hem of 430 are as long as their angle says (arithmetic), halved
    /// and doubled; of half a circle on the fold, the whole is a full one.
    #[test]
    fn half_of_part_of_a_circle_is_measured_along_its_curves() {
        let at = |r: f64, degrees: f64| Point::new(r * degrees.to_radians().cos(), r * degrees.to_radians().sin());
        let line = |a: Point, b: Point| BezPath::from_vec(vec![PathEl::MoveTo(a), PathEl::LineTo(b)]);
        let arc = |r: f64, from: f64, to: f64| {
            let mut path = BezPath::from_vec(vec![PathEl::MoveTo(at(r, from))]);
            kurbo::Arc::new((0.0, 0.0), (r, r), from.to_radians(), (to - from).to_radians(), 0.0)
                .append_iter(1e-6)
                .for_each(|el| path.push(el));
            path
        };
        for degrees in [45.0, 90.0, 180.0] {
            let mut lines = half(&[(0.0, 0.0); 4]);
            let paths = [
                line(at(430.0, degrees), at(110.0, degrees)),
                arc(110.0, degrees, 0.0),
                line(at(110.0, 0.0), at(430.0, 0.0)),
                arc(430.0, 0.0, degrees),
            ];
            // The fold comes last.
            for (k, path) in paths.into_iter().cycle().skip(3).take(4).enumerate() {
                lines.corners[k].at = mm(Walk::of(&path).at(0.0));
                lines.edges[k].path = path;
            }
            for layer in [lines.clone(), lines.mapped(Affine::FLIP_X), lines.mapped(Affine::rotate(2.0))] {
                let all = Measured { layer: &layer, kind: PieceKind::SkirtPanel, scale: 0.0, fold: Some("fold"), open: &[] }.all();
                let long = f64::to_radians(degrees);
                let want = [
                    ("half waist", 110.0 * long),
                    ("waist, doubled", 220.0 * long),
                    ("hem sweep, doubled", 860.0 * long),
                    ("centre length", 320.0),
                    ("side length", 320.0),
                ];
                for (name, long) in want {
                    assert!((length(&all, name) - long).abs() < 0.01, "{degrees}° {name}: {} of {long}", length(&all, name));
                    assert_eq!(all.iter().filter(|m| m.name == name).count(), 1, "{name}");
                }
            }
        }
    }
}
