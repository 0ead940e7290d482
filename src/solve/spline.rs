//! Penalised splines: a cubic B-spline of many spans held smooth by a penalty on the third differences of its
//! coefficients.
//!
//! Eilers & Marx, "Flexible smoothing with B-splines and penalties" (1996). The third difference leaves parabolas
//! free, so that a curve of constant bend is not flattened. Knots are evenly spaced; the normal equations of an
//! open spline are banded and solved in time proportional to the number of spans.

use nalgebra::{DMatrix, Vector2};

/// A smooth plane curve over a parameter running from 0 to `length`.
#[derive(Clone, Debug)]
pub struct Spline {
    coefficients: Vec<Vector2<f64>>,
    length: f64,
    spans: usize,
    closed: bool,
}

/// One point a spline is to pass near.
#[derive(Clone, Copy, Debug)]
pub struct Sample {
    /// Parameter, from 0 to the length of the spline.
    pub u: f64,
    /// Where the curve should be.
    pub at: Vector2<f64>,
    /// Weight, one over the variance.
    pub weight: f64,
}

impl Spline {
    /// Fits a spline of `spans` spans over `0..=length` with penalty `lambda` on third differences.
    ///
    /// Returns `None` when there is nothing to fit or the equations are singular.
    pub fn fit(samples: &[Sample], length: f64, spans: usize, lambda: f64, closed: bool) -> Option<Self> {
        if samples.len() < 2 || spans < 4 || !(length > 0.0 && length.is_finite() && lambda > 0.0) {
            return None;
        }
        let coefficients =
            if closed { solve_periodic(samples, length, spans, lambda)? } else { solve_banded(samples, length, spans, lambda)? };
        coefficients.iter().all(|c| c.x.is_finite() && c.y.is_finite()).then_some(Self { coefficients, length, spans, closed })
    }

    /// The penalty at which waves of length `wave` are halved, for `weight` of samples per span.
    pub fn penalty_for_wave(wave: f64, length: f64, spans: usize, weight: f64) -> f64 {
        // The third difference answers to a wave with about (h ω)³, squared in the penalty.
        let h = length / spans as f64;
        weight / (std::f64::consts::TAU * h / wave).powi(6)
    }

    /// Length of the parameter range.
    pub fn length(&self) -> f64 {
        self.length
    }

    /// The point at parameter `u`.
    pub fn at(&self, u: f64) -> Vector2<f64> {
        self.combine(u, basis)
    }

    /// The derivative with respect to the parameter at `u`.
    pub fn derivative(&self, u: f64) -> Vector2<f64> {
        self.combine(u, basis_slope) * (self.spans as f64 / self.length)
    }

    /// The cubic Bézier arcs the spline consists of, one a span: control points in order.
    pub fn beziers(&self) -> Vec<[Vector2<f64>; 4]> {
        (0..self.spans)
            .map(|k| {
                let c: [Vector2<f64>; 4] = std::array::from_fn(|j| self.coefficients[self.index(k + j)]);
                [(c[0] + c[1] * 4.0 + c[2]) / 6.0, (c[1] * 2.0 + c[2]) / 3.0, (c[1] + c[2] * 2.0) / 3.0, (c[1] + c[2] * 4.0 + c[3]) / 6.0]
            })
            .collect()
    }

    fn combine(&self, u: f64, weights: fn(f64) -> [f64; 4]) -> Vector2<f64> {
        let (k, t) = place(u, self.length, self.spans, self.closed);
        weights(t).iter().enumerate().map(|(j, b)| self.coefficients[self.index(k + j)] * *b).sum()
    }

    fn index(&self, k: usize) -> usize {
        if self.closed { k % self.spans } else { k }
    }
}

/// The span `u` falls in and how far along it.
fn place(u: f64, length: f64, spans: usize, closed: bool) -> (usize, f64) {
    let v = u / length * spans as f64;
    let v = if closed { v.rem_euclid(spans as f64) } else { v };
    let k = v.floor().clamp(0.0, spans as f64 - 1.0);
    (k as usize, v - k)
}

fn basis(t: f64) -> [f64; 4] {
    let s = 1.0 - t;
    let middle = |a: f64| (4.0 - 6.0 * a * a + 3.0 * a * a * a) / 6.0;
    [s * s * s / 6.0, middle(t), middle(s), t * t * t / 6.0]
}

fn basis_slope(t: f64) -> [f64; 4] {
    let s = 1.0 - t;
    let middle = |a: f64| (-12.0 * a + 9.0 * a * a) / 6.0;
    [-s * s / 2.0, middle(t), -middle(s), t * t / 2.0]
}

/// Third differences.
const DIFFERENCE: [f64; 4] = [-1.0, 3.0, -3.0, 1.0];

/// Basis functions of one span overlap three others, and so do third differences.
const BAND: usize = 4;

fn solve_banded(samples: &[Sample], length: f64, spans: usize, lambda: f64) -> Option<Vec<Vector2<f64>>> {
    let n = spans + 3;
    // band[i][d] is the element (i, i - d) of the normal matrix.
    let mut band = vec![[0.0; BAND]; n];
    let mut right = vec![Vector2::zeros(); n];
    for s in samples {
        let (k, t) = place(s.u.clamp(0.0, length), length, spans, false);
        let b = basis(t);
        for i in 0..4 {
            right[k + i] += s.at * (s.weight * b[i]);
            for j in 0..=i {
                band[k + i][i - j] += s.weight * b[i] * b[j];
            }
        }
    }
    for k in 0..spans {
        for i in 0..4 {
            for j in 0..=i {
                band[k + i][i - j] += lambda * DIFFERENCE[i] * DIFFERENCE[j];
            }
        }
    }
    cholesky_banded(&mut band)?;
    Some(substitute(&band, right))
}

fn cholesky_banded(band: &mut [[f64; BAND]]) -> Option<()> {
    for i in 0..band.len() {
        for d in (0..BAND.min(i + 1)).rev() {
            let j = i - d;
            let mut sum = band[i][d];
            for m in 1..BAND {
                if d + m < BAND && j >= m {
                    sum -= band[i][d + m] * band[j][m];
                }
            }
            if d == 0 {
                if !(sum > 0.0 && sum.is_finite()) {
                    return None;
                }
                band[i][0] = sum.sqrt();
            } else {
                band[i][d] = sum / band[j][0];
            }
        }
    }
    Some(())
}

fn substitute(band: &[[f64; BAND]], mut x: Vec<Vector2<f64>>) -> Vec<Vector2<f64>> {
    let n = band.len();
    for i in 0..n {
        for d in 1..BAND.min(i + 1) {
            let earlier = x[i - d];
            x[i] -= earlier * band[i][d];
        }
        x[i] /= band[i][0];
    }
    for i in (0..n).rev() {
        for d in 1..BAND {
            if i + d < n {
                let later = x[i + d];
                x[i] -= later * band[i + d][d];
            }
        }
        x[i] /= band[i][0];
    }
    x
}

fn solve_periodic(samples: &[Sample], length: f64, spans: usize, lambda: f64) -> Option<Vec<Vector2<f64>>> {
    let mut normal = DMatrix::<f64>::zeros(spans, spans);
    let mut right = DMatrix::<f64>::zeros(spans, 2);
    let mut add = |k: usize, row: &[f64; 4], weight: f64, at: Option<Vector2<f64>>| {
        for i in 0..4 {
            let a = (k + i) % spans;
            if let Some(p) = at {
                right[(a, 0)] += weight * row[i] * p.x;
                right[(a, 1)] += weight * row[i] * p.y;
            }
            for j in 0..4 {
                normal[(a, (k + j) % spans)] += weight * row[i] * row[j];
            }
        }
    };
    for s in samples {
        let (k, t) = place(s.u, length, spans, true);
        add(k, &basis(t), s.weight, Some(s.at));
    }
    for k in 0..spans {
        add(k, &DIFFERENCE, lambda, None);
    }
    let x = normal.cholesky()?.solve(&right);
    Some((0..spans).map(|i| Vector2::new(x[(i, 0)], x[(i, 1)])).collect())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn parabola(n: usize, length: f64) -> Vec<Sample> {
        (0..=n)
            .map(|k| {
                let u = length * k as f64 / n as f64;
                Sample { u, at: Vector2::new(u, 0.01 * u * u - 0.3 * u), weight: 1.0 }
            })
            .collect()
    }

    /// Eilers & Marx (1996), property of the penalty: with differences of order d and a heavy penalty the fit is
    /// the least-squares polynomial of degree d - 1; so a parabola passes unchanged however heavy the penalty.
    #[test]
    fn heavy_penalty_leaves_parabolas() {
        let s = parabola(60, 90.0);
        for lambda in [1e-3, 1.0, 1e6] {
            let f = Spline::fit(&s, 90.0, 30, lambda, false).expect("fits");
            for p in &s {
                assert!((f.at(p.u) - p.at).norm() < 1e-5, "at {}", p.u);
            }
            assert!((f.derivative(45.0) - Vector2::new(1.0, 0.6)).norm() < 1e-5);
        }
    }

    #[test]
    fn beziers_are_the_spline() {
        let s = parabola(60, 90.0);
        let f = Spline::fit(&s, 90.0, 30, 1e-2, false).expect("fits");
        let arcs = f.beziers();
        for (k, a) in arcs.iter().enumerate() {
            let mid = (a[0] + a[1] * 3.0 + a[2] * 3.0 + a[3]) / 8.0;
            assert!((mid - f.at(90.0 * (k as f64 + 0.5) / 30.0)).norm() < 1e-9);
        }
    }

    #[test]
    fn closed_spline_follows_a_circle() {
        let r = 80.0;
        let length = std::f64::consts::TAU * r;
        let s: Vec<Sample> = (0..500)
            .map(|k| {
                let a = std::f64::consts::TAU * k as f64 / 500.0;
                Sample { u: a * r, at: Vector2::new(a.cos(), a.sin()) * r, weight: 1.0 }
            })
            .collect();
        let f = Spline::fit(&s, length, 60, 1e-3, true).expect("fits");
        for k in 0..97 {
            assert!((f.at(length * k as f64 / 97.0).norm() - r).abs() < 1e-3);
        }
    }

    #[test]
    fn nothing_to_fit() {
        assert!(Spline::fit(&[], 10.0, 10, 1.0, false).is_none());
        assert!(Spline::fit(&parabola(5, 1.0), f64::NAN, 10, 1.0, false).is_none());
    }
}
