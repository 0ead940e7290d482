//! Edges as bars that are hinged at their corners: what an outline does when it is opened somewhere and no edge may change its length.
//!
//! Cloth round the point of a sewn dart is a cone. Walked round, its outline turns by less than a full turn, by just the dart's angle
//! (Gauss and Bonnet), while a picture of it, pressed flat, shows a full one: the edges lie as long as they are, and the corners between them
//! are seen too sharp, by the dart's angle in all. So the bars keep length and shape, and the corners take it up, evenly: least squares of
//! how far each turns, under the condition that the outline closes, by Newton's method with Lagrange's multipliers.

use kurbo::{Affine, Point, Vec2};
use nalgebra::{DMatrix, DVector};

/// Newton's steps at most; three or four are usual.
const STEPS: usize = 40;
/// A step this small, radians, is the last.
const SETTLED: f64 = 1e-13;

/// How far each of several bars in a row turns, radians, when the row is to reach from `from` to `to`, what it hangs on turns by `ends`, and
/// `stiff` says how hard each of the hinges is to turn (one more than there are bars, first and last included). Nothing where two places
/// can't be joined so.
pub(super) fn turned(bars: &[Vec2], stiff: &[f64], ends: [f64; 2], from: Point, to: Point) -> Option<Vec<f64>> {
    let m = bars.len();
    if m < 2 || stiff.len() != m + 1 {
        return None;
    }
    // What each hinge turns by is D·a + d.
    let hinge = DMatrix::from_fn(m + 1, m, |j, k| {
        if j == k {
            1.0
        } else if j == k + 1 {
            -1.0
        } else {
            0.0
        }
    });
    let mut fixed = DVector::zeros(m + 1);
    fixed[0] = -ends[0];
    fixed[m] = ends[1];
    let weighed = hinge.transpose() * DMatrix::from_diagonal(&DVector::from_column_slice(stiff));
    let curved = &weighed * &hinge;
    let mut a = DVector::from_fn(m, |k, _| ends[0] + (ends[1] - ends[0]) * (k + 1) as f64 / (m + 1) as f64);
    for _ in 0..STEPS {
        let lie = |k: usize| turn(bars[k], a[k]);
        let reach = (0..m).fold(from, |p, k| p + lie(k)) - to;
        let mut left = DMatrix::zeros(m + 2, m + 2);
        let mut right = DVector::zeros(m + 2);
        left.view_mut((0, 0), (m, m)).copy_from(&curved);
        right.rows_mut(0, m).copy_from(&-(&weighed * (&hinge * &a + &fixed)));
        for k in 0..m {
            // A bar that turns moves its end straight across.
            let across = lie(k).turn_90();
            for (row, by) in [(m, across.x), (m + 1, across.y)] {
                left[(row, k)] = by;
                left[(k, row)] = by;
            }
        }
        right[m] = -reach.x;
        right[m + 1] = -reach.y;
        let step = left.lu().solve(&right)?;
        a += step.rows(0, m);
        if !a.iter().all(|x| x.is_finite()) {
            return None;
        }
        if step.rows(0, m).amax() < SETTLED {
            return Some(a.iter().copied().collect());
        }
    }
    None
}

/// What carries a bar that started at `was` and now starts at `is`.
pub(super) fn carried(was: Point, is: Point, by: f64) -> Affine {
    Affine::translate(is - was) * Affine::rotate_about(by, was)
}

pub(super) fn turn(v: Vec2, by: f64) -> Vec2 {
    let (s, c) = by.sin_cos();
    Vec2::new(c * v.x - s * v.y, s * v.x + c * v.y)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Two bars of length 1 from end to end of a line of length 1.2 stand at the angle whose cosine is 0.6 (trigonometry), whatever their hinges.
    #[test]
    fn two_bars_make_a_triangle() {
        let bars = [Vec2::new(1.0, 0.0), Vec2::new(1.0, 0.0)];
        let start = Point::ZERO;
        let a = turned(&bars, &[1.0, 1.0, 1.0], [0.3, -0.3], start, Point::new(1.2, 0.0)).expect("joined");
        assert!((a[0].cos() - 0.6).abs() < 1e-9 && (a[0] + a[1]).abs() < 1e-9, "{a:?}");
        assert_eq!(turned(&bars, &[1.0, 1.0, 1.0], [0.3, -0.3], start, Point::new(3.0, 0.0)), None);
    }

    /// A square's three sides, one end moved by a little: they reach it, and turned back they are as they were.
    #[test]
    fn a_row_of_bars_reaches_what_it_is_asked_for() {
        let bars = [Vec2::new(0.0, 100.0), Vec2::new(-100.0, 0.0), Vec2::new(0.0, -100.0)];
        let to = Point::new(3.0, -5.0);
        let a = turned(&bars, &[1.0; 4], [0.0, 0.0], Point::new(100.0, 0.0), to).expect("joined");
        let end = bars.iter().zip(&a).fold(Point::new(100.0, 0.0), |p, (b, a)| p + turn(*b, *a));
        assert!(end.distance(to) < 1e-9, "{end:?}");
        let stiff = turned(&bars, &[1e4, 1e4, 1.0, 1.0], [0.0, 0.0], Point::new(100.0, 0.0), to).expect("joined");
        // What is stiff turns less, as far as the ends let it.
        let strain = |a: &[f64]| a[0] * a[0] + (a[1] - a[0]).powi(2);
        assert!(strain(&stiff) < strain(&a), "{stiff:?} {a:?}");
    }
}
