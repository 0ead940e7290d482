//! A straight line through points some of which do not belong to it.
//!
//! Orthogonal least squares (the main axis of the scatter), reweighted with Tukey's biweight (Beaton & Tukey 1974) from
//! a start that survives up to half of wild points (least median over pairs).

use super::median;
use nalgebra::{Matrix2, SymmetricEigen, Vector2};

/// A line fitted to points.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Line {
    /// Weighted middle of the points.
    pub at: Vector2<f64>,
    /// Unit direction.
    pub along: Vector2<f64>,
    /// Standard deviation of the points that belong to it, across the line.
    pub spread: f64,
}

impl Line {
    /// The line through `points`, each with a weight; `None` for fewer than two, or when they are all in one place.
    pub fn robust(points: &[Vector2<f64>], weights: &[f64]) -> Option<Self> {
        let mut line = start(points)?;
        for _ in 0..20 {
            // Six spreads is where the biweight ends: wide enough to lose few honest points.
            let reach = 6.0 * median_distance(points, &line).max(1e-9);
            let tukey = |p: &Vector2<f64>| {
                let t = (line.distance(*p) / reach).powi(2);
                if t < 1.0 { (1.0 - t).powi(2) } else { 0.0 }
            };
            let all: Vec<f64> = points.iter().zip(weights).map(|(p, w)| w * tukey(p)).collect();
            let next = axis(points, &all)?;
            let moved = (next.along.perp(&line.along)).abs() + line.distance(next.at).abs();
            line = next;
            if moved < 1e-10 {
                break;
            }
        }
        Some(line)
    }

    /// The line through two points; `None` when they are one.
    pub fn through(p: Vector2<f64>, q: Vector2<f64>) -> Option<Self> {
        let along = (q - p).try_normalize(1e-12)?;
        Some(Self { at: p, along, spread: 0.0 })
    }

    /// Signed distance of a point, positive on the side 90° from `along` (x towards y).
    pub fn distance(&self, p: Vector2<f64>) -> f64 {
        self.along.perp(&(p - self.at))
    }

    /// Where two lines cross; `None` when they are parallel within a millionth.
    pub fn cross(&self, other: &Self) -> Option<Vector2<f64>> {
        let det = self.along.perp(&other.along);
        (det.abs() > 1e-6).then(|| self.at + self.along * ((other.at - self.at).perp(&other.along) / det))
    }
}

/// Of the lines through a fixed set of pairs, the one with the least median distance.
fn start(points: &[Vector2<f64>]) -> Option<Line> {
    let n = points.len();
    let mut best: Option<(f64, Line)> = None;
    // Pairs a third, a quarter … of the list apart; 60 of them leave a chance of 1e-8 that all hold a wild point.
    for k in 0..60usize {
        let a = k * 7919 % n.max(1);
        let b = (a + 1 + (k * 104_729 + n / 3) % n.max(2).saturating_sub(1)) % n.max(1);
        let (p, q) = points.get(a).zip(points.get(b))?;
        if let Some(line) = Line::through(*p, *q) {
            let m = median_distance(points, &line);
            if best.is_none_or(|(least, _)| m < least) {
                best = Some((m, line));
            }
        }
    }
    best.map(|b| b.1)
}

fn median_distance(points: &[Vector2<f64>], line: &Line) -> f64 {
    median(&mut points.iter().map(|p| line.distance(*p).abs()).collect::<Vec<_>>()).unwrap_or(0.0)
}

fn axis(points: &[Vector2<f64>], weights: &[f64]) -> Option<Line> {
    let total: f64 = weights.iter().sum();
    if total <= 0.0 {
        return None;
    }
    let at = points.iter().zip(weights).map(|(p, w)| p * *w).sum::<Vector2<f64>>() / total;
    let scatter = points.iter().zip(weights).map(|(p, w)| (p - at) * (p - at).transpose() * *w).sum::<Matrix2<f64>>() / total;
    let eigen = SymmetricEigen::new(scatter);
    let (long, short) = if eigen.eigenvalues[0] > eigen.eigenvalues[1] { (0, 1) } else { (1, 0) };
    if eigen.eigenvalues[long] <= 0.0 {
        return None;
    }
    // Pointing right (or down), so that the same points give the same line in any order.
    let along: Vector2<f64> = eigen.eigenvectors.column(long).into();
    let along = if along.x < -1e-12 || (along.x.abs() <= 1e-12 && along.y < 0.0) { -along } else { along };
    Some(Line { at, along, spread: eigen.eigenvalues[short].max(0.0).sqrt() })
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    proptest! {
        #[test]
        fn a_third_of_wild_points_does_not_move_it(angle in -1.5..1.5f64, off in -50.0..50.0f64, seed in 0u64..1000) {
            let along = Vector2::new(angle.cos(), angle.sin());
            let across = Vector2::new(-along.y, along.x);
            let points: Vec<_> = (0..60u64).map(|k| {
                let wild = if k % 3 == 1 { 4.0 + ((k * 31 + seed) % 17) as f64 } else { 0.0 };
                along * (k as f64 - 30.0) + across * (off + wild)
            }).collect();
            let line = Line::robust(&points, &[1.0; 60]).expect("points apart");
            prop_assert!(line.along.perp(&along).abs() < 1e-9);
            prop_assert!(line.distance(across * off).abs() < 1e-9);
        }
    }

    #[test]
    fn crossing_of_two() {
        let a = Line::robust(&[Vector2::new(0.0, 0.0), Vector2::new(2.0, 2.0)], &[1.0; 2]).expect("apart");
        let b = Line::robust(&[Vector2::new(0.0, 2.0), Vector2::new(2.0, 0.0)], &[1.0; 2]).expect("apart");
        assert!((a.cross(&b).expect("they cross") - Vector2::new(1.0, 1.0)).norm() < 1e-12);
        assert!(a.cross(&a).is_none());
        assert!(Line::robust(&[Vector2::new(1.0, 1.0); 4], &[1.0; 4]).is_none());
        assert!(Line::robust(&[], &[]).is_none());
    }
}
