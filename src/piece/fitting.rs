//! How well a shape fits the corners of a piece.
//!
//! It is laid on them in every way that keeps their order, stretched across and along and turned as fits best (least squares),
//! and judged by what is left, by how the edges bow and by the corners left over.

use super::layer::{Edge, Layer};
use super::shapes::Shape;
use crate::outline::signed_area;
use nalgebra::{Matrix2, Vector2};

/// More corners than this are no piece that is recognised; the ways to lay a shape on them grow beyond reason.
const MOST_CORNERS: usize = 14;
/// Weights of the misfit: of the corners' distances (squared, in sizes of the piece), of shear, of a bow out of range, of an
/// unusual proportion, of lying turned on the page, and of a right-angled corner left over.
const APART: f64 = 12.0;
const SHEAR: f64 = 0.3;
const BOW: f64 = 2.0;
const PROPORTION: f64 = 0.04;
const TURNED: f64 = 0.03;
const LEFT_OVER: f64 = 0.05;

/// Sides that answer one another differ by less than this share of their length.
const EVEN: f64 = 0.05;

/// How a shape lies on a piece: which corner of the piece each of its corners is, and how well that fits.
pub(super) struct Lay {
    pub corners: Vec<usize>,
    pub misfit: f64,
}

/// The corners of a shape in their order, and how far each side after them may bow.
struct Goal {
    target: Vec<Vector2<f64>>,
    bows: Vec<[f64; 2]>,
}

/// Corners of a piece, and the areas between its edges and their chords, added up along it.
pub(super) struct Geometry {
    corners: Vec<Vector2<f64>>,
    /// Area between the path from the first corner to corner k and the origin, mm².
    swept: Vec<f64>,
    /// Turn at each corner, radians, without sign.
    turns: Vec<f64>,
    size: f64,
}

impl Geometry {
    pub fn of(layer: &Layer) -> Option<Self> {
        let n = layer.corners.len();
        if !(2..=MOST_CORNERS).contains(&n) || layer.edges.len() != n {
            return None;
        }
        let corners: Vec<Vector2<f64>> = layer.corners.iter().map(|c| c.at.vector()).collect();
        let mut swept = vec![0.0];
        layer.edges.iter().for_each(|e| swept.push(swept[swept.len() - 1] + signed_area(&e.path)));
        let size = swept[n].abs().sqrt();
        let turn = |k: usize| {
            let (a, b) = (ends(&layer.edges[(k + n - 1) % n]), ends(&layer.edges[k]));
            a.zip(b).map_or(0.0, |(a, b)| a.1.angle(&b.0))
        };
        (size > 0.0).then(|| Self { turns: (0..n).map(turn).collect(), corners, swept, size })
    }

    /// Bow of the path from corner a on to corner b.
    fn bow(&self, a: usize, b: usize) -> f64 {
        let n = self.corners.len();
        let swept = self.swept[b] - self.swept[a] + if b > a { 0.0 } else { self.swept[n] };
        let chord = self.corners[b] - self.corners[a];
        (swept - 0.5 * self.corners[a].perp(&self.corners[b])) / chord.norm_squared().max(1e-9)
    }

    /// The best way to lay a shape on the corners.
    pub fn lay(&self, shape: &Shape, mirrored: bool) -> Option<Lay> {
        let k = shape.corners.len();
        let order = order(k, mirrored);
        let target: Vec<Vector2<f64>> =
            order.iter().map(|&i| Vector2::from(shape.corners[i].1)).map(|p| if mirrored { Vector2::new(-p.x, p.y) } else { p }).collect();
        let bows = (0..k).map(|i| shape.sides[side_after(&order, i, mirrored)].bow).collect();
        let goal = Goal { target, bows };
        let mut best: Option<Lay> = None;
        for start in 0..self.corners.len() {
            self.choose(&goal, &mut vec![start], 1, &mut best);
        }
        best
    }

    /// Whether sides that answer one another, left and right, are as long as each other.
    pub fn even(&self, shape: &Shape, lay: &Lay) -> bool {
        let k = lay.corners.len();
        let long = |i: usize| (self.corners[lay.corners[(i + 1) % k]] - self.corners[lay.corners[i]]).norm();
        let answers = |i: usize| shape.sides.iter().position(|s| s.name == shape.sides[i].name.replace('<', ">")).filter(|&j| j != i);
        (0..k).filter_map(|i| Some((i, answers(i)?))).all(|(i, j)| (long(i) / long(j)).ln().abs() < EVEN)
    }

    /// Every way to go on choosing corners in order, each at most once.
    fn choose(&self, goal: &Goal, chosen: &mut Vec<usize>, next: usize, best: &mut Option<Lay>) {
        let (n, k) = (self.corners.len(), goal.target.len());
        if chosen.len() == k {
            let misfit = self.misfit(goal, chosen);
            if misfit.is_finite() && best.as_ref().is_none_or(|b| misfit < b.misfit) {
                *best = Some(Lay { corners: chosen.clone(), misfit });
            }
            return;
        }
        for step in next..=(n + chosen.len()).saturating_sub(k) {
            chosen.push((chosen[0] + step) % n);
            self.choose(goal, chosen, step + 1, best);
            chosen.pop();
        }
    }

    fn misfit(&self, goal: &Goal, chosen: &[usize]) -> f64 {
        let k = chosen.len();
        let points: Vec<Vector2<f64>> = chosen.iter().map(|&i| self.corners[i]).collect();
        let Some(fit) = Fit::of(&goal.target, &points) else { return f64::INFINITY };
        let bows: f64 = (0..k)
            .map(|i| {
                let [least, most] = goal.bows[i];
                let bow = self.bow(chosen[i], chosen[(i + 1) % k]);
                let out = (least - bow).max(bow - most).max(0.0);
                (out * out).min(0.25)
            })
            .sum();
        let over: f64 = (0..self.corners.len()).filter(|i| !chosen.contains(i)).map(|i| self.turns[i] / std::f64::consts::FRAC_PI_2).sum();
        APART * (fit.left / self.size).powi(2)
            + SHEAR * fit.shear * fit.shear
            + BOW * bows
            + PROPORTION * fit.proportion.ln().powi(2)
            + TURNED * (1.0 - fit.cosine)
            + LEFT_OVER * over
    }
}

/// Directions in which an edge sets out and arrives.
fn ends(edge: &Edge) -> Option<(Vector2<f64>, Vector2<f64>)> {
    let walk = super::walk::Walk::of(&edge.path);
    let way = |s: f64| Vector2::new(walk.along(s).x, walk.along(s).y);
    let (first, last) = (way(0.0), way(walk.length()));
    (first.norm() > 0.5 && last.norm() > 0.5).then_some((first, last))
}

/// The order in which a shape's corners follow one another clockwise: backwards when it is mirrored.
pub(super) fn order(k: usize, mirrored: bool) -> Vec<usize> {
    if mirrored { (0..k).rev().collect() } else { (0..k).collect() }
}

/// The side that runs from the i-th corner of the order to the next.
pub(super) fn side_after(order: &[usize], i: usize, mirrored: bool) -> usize {
    if mirrored { order[(i + 1) % order.len()] } else { order[i] }
}

/// A shape stretched across and along, turned and moved onto corners, by least squares.
struct Fit {
    /// Root mean square of what is left, mm.
    left: f64,
    /// Shear that would fit still better, as a share of the stretch.
    shear: f64,
    /// Stretch across over stretch along.
    proportion: f64,
    /// Cosine of how far it lies turned on the page.
    cosine: f64,
}

impl Fit {
    fn of(shape: &[Vector2<f64>], points: &[Vector2<f64>]) -> Option<Self> {
        let n = shape.len() as f64;
        if shape.len() == 2 {
            let (a, b) = (shape[1] - shape[0], points[1] - points[0]);
            return Some(Self { left: 0.0, shear: 0.0, proportion: 1.0, cosine: a.dot(&b) / (a.norm() * b.norm()).max(1e-9) });
        }
        let middle = |p: &[Vector2<f64>]| p.iter().sum::<Vector2<f64>>() / n;
        let (sm, pm) = (middle(shape), middle(points));
        let (mut cross, mut own) = (Matrix2::zeros(), Matrix2::zeros());
        for (s, p) in shape.iter().zip(points) {
            cross += (p - pm) * (s - sm).transpose();
            own += (s - sm) * (s - sm).transpose();
        }
        let map = cross * own.try_inverse()?;
        let left = shape.iter().zip(points).map(|(s, p)| (map * (s - sm) + pm - p).norm_squared()).sum::<f64>() / n;
        // Turn, then stretch, then shear along: the first column only turns and stretches.
        let across = map.column(0).norm();
        let way = map.column(0) / across.max(1e-12);
        let (shear, along) = (way.dot(&map.column(1)), way.perp(&map.column(1)));
        if across < 1e-9 || along < 1e-9 {
            return None;
        }
        Some(Self { left: left.sqrt(), shear: shear / along, proportion: across / along, cosine: way.x })
    }
}
