//! Penalised surfaces: two values over a rectangle, as a tensor product of cubic B-splines held smooth by a penalty on second
//! differences of their coefficients along rows and columns.
//!
//! Eilers & Marx, "Flexible smoothing with B-splines and penalties" (1996), and "Multivariate calibration with temperature
//! interaction using two-dimensional penalized signal regression" (2003) for the two-dimensional penalty. Second differences leave
//! planes free. Numbered along the shorter side, the normal equations are banded.

use nalgebra::{Matrix2, Vector2};

/// Coefficients of one square of the surface, each way.
const OVERLAP: usize = 4;

/// Second differences.
const DIFFERENCE: [f64; 3] = [1.0, -2.0, 1.0];

/// Holds a coefficient that no sample and no neighbour ties down, as a share of the samples' mean weight: too little to be seen elsewhere.
const RIDGE: f64 = 1e-9;

/// A smooth surface of two values over evenly spaced knots.
#[derive(Clone, Debug, PartialEq)]
pub struct Surface {
    /// The corner of the rectangle from which knots are counted.
    pub origin: Vector2<f64>,
    /// Distance of neighbouring knots.
    pub step: f64,
    /// Spans along x and y.
    pub spans: [usize; 2],
    /// `(spans[0] + 3) × (spans[1] + 3)` coefficients, row by row.
    pub coefficients: Vec<Vector2<f64>>,
}

/// One place the surface is to pass near.
#[derive(Clone, Copy, Debug)]
pub struct SurfaceSample {
    /// Where.
    pub at: Vector2<f64>,
    /// What it should be there.
    pub value: Vector2<f64>,
    /// Weight, one over the variance.
    pub weight: f64,
}

impl Surface {
    /// Fits a surface over a rectangle from `origin`, `spans` knot distances of `step` wide and high, with penalty `lambda`. `None` when
    /// there is nothing to fit, or the equations are singular.
    pub fn fit(samples: &[SurfaceSample], origin: Vector2<f64>, step: f64, spans: [usize; 2], lambda: f64) -> Option<Self> {
        let good = step > 0.0 && step.is_finite() && lambda > 0.0 && spans.iter().all(|s| *s > 0);
        if samples.is_empty() || !good {
            return None;
        }
        let mut surface = Self { origin, step, spans, coefficients: Vec::new() };
        let mut equations = Banded::of(surface.counts());
        for s in samples {
            let (cell, [u, v]) = surface.place(s.at);
            let (u, v) = (basis(u), basis(v));
            equations.weight += s.weight;
            let terms = |k: usize| ([cell[0] + k % OVERLAP, cell[1] + k / OVERLAP], u[k % OVERLAP] * v[k / OVERLAP]);
            equations.add(&std::array::from_fn::<_, { OVERLAP * OVERLAP }, _>(terms), s.weight, s.value);
        }
        let [columns, rows] = surface.counts();
        for y in 0..rows {
            for x in 0..columns {
                let (across, down) = (x + 2 < columns, y + 2 < rows);
                let row = std::array::from_fn::<_, 3, _>(|k| ([x + k, y], DIFFERENCE[k]));
                let column = std::array::from_fn::<_, 3, _>(|k| ([x, y + k], DIFFERENCE[k]));
                if across {
                    equations.add(&row, lambda, Vector2::zeros());
                }
                if down {
                    equations.add(&column, lambda, Vector2::zeros());
                }
            }
        }
        surface.coefficients = equations.solve()?;
        surface.is_whole().then_some(surface)
    }

    /// Whether it has as many coefficients as its spans ask for, and only numbers.
    pub fn is_whole(&self) -> bool {
        let count = self.spans[0].checked_add(3).zip(self.spans[1].checked_add(3)).and_then(|(a, b)| a.checked_mul(b));
        self.spans.iter().all(|s| *s > 0)
            && self.step > 0.0
            && self.step.is_finite()
            && self.origin.iter().all(|v| v.is_finite())
            && count == Some(self.coefficients.len())
            && self.coefficients.iter().all(|c| c.iter().all(|v| v.is_finite()))
    }

    /// The surface at a place; beyond its rectangle, that of the nearest place within.
    pub fn at(&self, at: Vector2<f64>) -> Vector2<f64> {
        let (cell, [u, v]) = self.place(at);
        self.combine(cell, basis(u), basis(v))
    }

    /// Its derivative by place, a column a coordinate; nothing across the border of the rectangle beyond it.
    pub fn slope(&self, at: Vector2<f64>) -> Matrix2<f64> {
        let (cell, [u, v]) = self.place(at);
        let far = |k: usize| at[k] < self.origin[k] || at[k] > self.origin[k] + self.step * self.spans[k] as f64;
        let by = |k: usize, slope: Vector2<f64>| if far(k) { Vector2::zeros() } else { slope / self.step };
        Matrix2::from_columns(&[by(0, self.combine(cell, basis_slope(u), basis(v))), by(1, self.combine(cell, basis(u), basis_slope(v)))])
    }

    fn counts(&self) -> [usize; 2] {
        self.spans.map(|s| s + OVERLAP - 1)
    }

    /// The square a place falls in, and how far along it.
    fn place(&self, at: Vector2<f64>) -> ([usize; 2], [f64; 2]) {
        let along = [0, 1].map(|k| ((at[k] - self.origin[k]) / self.step).clamp(0.0, self.spans[k] as f64));
        let cell = [0, 1].map(|k| (along[k].floor() as usize).min(self.spans[k] - 1));
        (cell, [0, 1].map(|k| along[k] - cell[k] as f64))
    }

    fn combine(&self, cell: [usize; 2], u: [f64; OVERLAP], v: [f64; OVERLAP]) -> Vector2<f64> {
        let columns = self.counts()[0];
        let row = |k: usize| {
            let first = (cell[1] + k) * columns + cell[0];
            self.coefficients.get(first..first + OVERLAP).map_or_else(Vector2::zeros, |c| c.iter().zip(u).map(|(c, b)| c * b).sum())
        };
        (0..OVERLAP).map(|k| row(k) * v[k]).sum()
    }
}

fn basis(t: f64) -> [f64; OVERLAP] {
    let s = 1.0 - t;
    let middle = |a: f64| (4.0 - 6.0 * a * a + 3.0 * a * a * a) / 6.0;
    [s * s * s / 6.0, middle(t), middle(s), t * t * t / 6.0]
}

fn basis_slope(t: f64) -> [f64; OVERLAP] {
    let s = 1.0 - t;
    let middle = |a: f64| (-12.0 * a + 9.0 * a * a) / 6.0;
    [-s * s / 2.0, middle(t), -middle(s), t * t / 2.0]
}

/// Normal equations whose unknowns stand in a rectangle and are tied to near ones only.
struct Banded {
    counts: [usize; 2],
    /// Elements below the diagonal that are kept, with it.
    width: usize,
    /// Element (i, i − d) at i · width + d.
    band: Vec<f64>,
    right: Vec<Vector2<f64>>,
    /// Weight of all samples.
    weight: f64,
}

impl Banded {
    fn of(counts: [usize; 2]) -> Self {
        let (n, short) = (counts[0] * counts[1], counts[0].min(counts[1]));
        let width = (OVERLAP - 1) * (short + 1) + 1;
        Self { counts, width, band: vec![0.0; n * width], right: vec![Vector2::zeros(); n], weight: 0.0 }
    }

    /// The number of an unknown: along the shorter side first.
    fn number(&self, [x, y]: [usize; 2]) -> usize {
        if self.counts[0] <= self.counts[1] { y * self.counts[0] + x } else { x * self.counts[1] + y }
    }

    fn add(&mut self, terms: &[([usize; 2], f64)], weight: f64, value: Vector2<f64>) {
        for &(a, fa) in terms {
            let i = self.number(a);
            self.right[i] += value * (weight * fa);
            for &(b, fb) in terms {
                let j = self.number(b);
                if j <= i {
                    self.band[i * self.width + i - j] += weight * fa * fb;
                }
            }
        }
    }

    /// Cholesky's decomposition within the band, and both substitutions; the unknowns row by row.
    fn solve(mut self) -> Option<Vec<Vector2<f64>>> {
        let (n, w) = (self.right.len(), self.width);
        let least = RIDGE * self.weight / n as f64;
        for i in 0..n {
            self.band[i * w] += least;
            for d in (0..w.min(i + 1)).rev() {
                let j = i - d;
                let common = (w - 1 - d).min(j);
                let own = &self.band[i * w + d + 1..i * w + d + 1 + common];
                let other = &self.band[j * w + 1..j * w + 1 + common];
                let sum = self.band[i * w + d] - own.iter().zip(other).map(|(a, b)| a * b).sum::<f64>();
                if d == 0 && !(sum > 0.0 && sum.is_finite()) {
                    return None;
                }
                self.band[i * w + d] = if d == 0 { sum.sqrt() } else { sum / self.band[j * w] };
            }
        }
        let mut x = std::mem::take(&mut self.right);
        for i in 0..n {
            for d in 1..w.min(i + 1) {
                let earlier = x[i - d];
                x[i] -= earlier * self.band[i * w + d];
            }
            x[i] /= self.band[i * w];
        }
        for i in (0..n).rev() {
            x[i] /= self.band[i * w];
            let own = x[i];
            for d in 1..w.min(i + 1) {
                x[i - d] -= own * self.band[i * w + d];
            }
        }
        let [columns, rows] = self.counts;
        Some((0..rows).flat_map(|y| (0..columns).map(move |c| [c, y])).map(|a| x[self.number(a)]).collect())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn samples(of: impl Fn(Vector2<f64>) -> Vector2<f64>) -> Vec<SurfaceSample> {
        let places = (0..21).flat_map(|y| (0..13).map(move |x| Vector2::new(f64::from(x) * 10.0 - 40.0, f64::from(y) * 10.0 + 15.0)));
        places.map(|at| SurfaceSample { at, value: of(at), weight: 2.0 }).collect()
    }

    /// Eilers & Marx (1996), property of the penalty: with differences of order d a heavy penalty leaves polynomials of degree d - 1.
    #[test]
    fn heavy_penalty_leaves_planes() {
        let plane = |p: Vector2<f64>| Vector2::new(0.3 * p.x - 0.2 * p.y + 1.0, -0.1 * p.x + 4.0);
        for lambda in [1e-3, 1.0, 1e5] {
            let s = Surface::fit(&samples(plane), Vector2::new(-45.0, 10.0), 15.0, [9, 15], lambda).expect("fits");
            for at in [Vector2::new(3.0, 77.0), Vector2::new(-40.0, 15.0), Vector2::new(80.0, 215.0)] {
                assert!((s.at(at) - plane(at)).norm() < 1e-4, "{lambda}: {at}");
            }
            assert!((s.slope(Vector2::new(3.0, 77.0)) - Matrix2::new(0.3, -0.2, -0.1, 0.0)).norm() < 1e-5);
        }
    }

    #[test]
    fn waves_are_followed_either_way_round() {
        let wave = |p: Vector2<f64>| Vector2::new((p.x / 20.0).sin() * (p.y / 25.0).cos(), (p.y / 18.0).sin());
        let lying = |s: &[SurfaceSample]| -> Vec<SurfaceSample> {
            s.iter().map(|s| SurfaceSample { at: s.at.yx(), value: s.value.yx(), ..*s }).collect()
        };
        let up = samples(wave);
        let s = Surface::fit(&up, Vector2::new(-45.0, 10.0), 10.0, [13, 22], 1e-4).expect("fits");
        let t = Surface::fit(&lying(&up), Vector2::new(10.0, -45.0), 10.0, [22, 13], 1e-4).expect("fits");
        for at in [Vector2::new(4.0, 77.0), Vector2::new(-31.0, 40.0), Vector2::new(62.0, 181.0)] {
            assert!((s.at(at) - wave(at)).norm() < 0.02, "{at}: {} {}", s.at(at), wave(at));
            assert!((t.at(at.yx()).yx() - s.at(at)).norm() < 1e-9);
            let d = 1e-5;
            let by = |e: Vector2<f64>| (s.at(at + e * d) - s.at(at - e * d)) / (2.0 * d);
            assert!((s.slope(at) - Matrix2::from_columns(&[by(Vector2::x()), by(Vector2::y())])).norm() < 1e-6);
        }
    }

    #[test]
    fn nothing_to_fit() {
        assert!(Surface::fit(&[], Vector2::zeros(), 1.0, [4, 4], 1.0).is_none());
        let one = [SurfaceSample { at: Vector2::zeros(), value: Vector2::x(), weight: f64::NAN }];
        assert!(Surface::fit(&one, Vector2::zeros(), 1.0, [4, 4], 1.0).is_none());
    }
}
