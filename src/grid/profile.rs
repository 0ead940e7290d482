//! A profile across a line, averaged along it, and the valley fitted to it.

use super::ridge::Polarity;
use nalgebra::{SMatrix, SVector, Vector2};

/// Samples per pixel across the line.
const FINE: f64 = 2.0;

/// Brightness across a line, averaged over stations along it.
pub struct Profile {
    reach: i32,
    sum: Vec<f64>,
    /// Of the sum, what the far half of the stations gave.
    far: Vec<f64>,
    count: f64,
    far_count: f64,
}

/// A line's cross-section: a Gaussian on a sloping ground.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Valley {
    /// Where the line runs, px along the normal.
    pub middle: f64,
    /// Standard error of that.
    pub error: f64,
    /// Depth over the ground; negative for a light line.
    pub depth: f64,
    /// Standard deviation, px.
    pub width: f64,
    /// What the fit leaves, over the ground.
    pub left: f64,
    /// Depth in the far half of the stations over that in all: near one for a line, near zero for the arm of a small cross.
    pub lasting: f64,
}

impl Profile {
    /// An empty profile reaching `reach` px to both sides.
    pub fn new(reach: f64) -> Self {
        let reach = (reach * FINE).round().max(3.0) as i32;
        Self { reach, sum: vec![0.0; (2 * reach + 1) as usize], far: vec![0.0; (2 * reach + 1) as usize], count: 0.0, far_count: 0.0 }
    }

    /// Adds the samples along `normal` through `at`; false when some lie outside the picture. `light` gives as many as are asked for, one
    /// step after another from a place on.
    pub fn add<L: Iterator<Item = f32>>(
        &mut self,
        at: Vector2<f64>,
        normal: Vector2<f64>,
        far: bool,
        light: impl Fn(Vector2<f64>, Vector2<f64>, usize) -> Option<L>,
    ) -> bool {
        let first = at - normal * (f64::from(self.reach) / FINE);
        let Some(light) = light(first, normal / FINE, self.sum.len()) else { return false };
        if far {
            self.sum.iter_mut().zip(&mut self.far).zip(light).for_each(|((s, f), v)| (*s, *f) = (*s + f64::from(v), *f + f64::from(v)));
        } else {
            self.sum.iter_mut().zip(light).for_each(|(s, v)| *s += f64::from(v));
        }
        self.count += 1.0;
        self.far_count += f64::from(u8::from(far));
        true
    }

    /// Fits a valley (or a crest) by Gauss–Newton from the deepest sample near the middle.
    pub fn fit(&self, polarity: Polarity, width: f64) -> Option<Valley> {
        if self.count == 0.0 {
            return None;
        }
        let sign = if polarity == Polarity::Dark { 1.0 } else { -1.0 };
        let y: Vec<f64> = self.sum.iter().map(|s| s / self.count).collect();
        let n = y.len();
        let x = |k: usize| (k as f64 - f64::from(self.reach)) / FINE;
        let (left, right) = (0.5 * (y[0] + y[1]), 0.5 * (y[n - 1] + y[n - 2]));
        let half = f64::from(self.reach) / FINE;
        let (ground, tilt) = (0.5 * (left + right), 0.5 * (right - left) / half);
        let deep = |k: usize| sign * (ground + tilt * x(k) - y[k]);
        let best = (1..n - 1).max_by(|&a, &b| deep(a).total_cmp(&deep(b)))?;
        if deep(best) <= 0.0 || ground <= 0.0 {
            return None;
        }
        let mut p = SVector::<f64, 5>::from([ground, tilt, sign * deep(best), x(best), width]);
        let mut inverse = SMatrix::<f64, 5, 5>::zeros();
        let mut rest = 0.0;
        for round in 0..8 {
            let mut normal = SMatrix::<f64, 5, 5>::zeros();
            let mut right = SVector::<f64, 5>::zeros();
            rest = 0.0;
            for (k, v) in y.iter().enumerate() {
                let s = (x(k) - p[3]) / p[4];
                let g = (-0.5 * s * s).exp();
                let d = v - (p[0] + p[1] * x(k) - p[2] * g);
                let row = SVector::<f64, 5>::from([1.0, x(k), -g, -p[2] * g * s / p[4], -p[2] * g * s * s / p[4]]);
                normal += row * row.transpose();
                right += row * d;
                rest += d * d;
            }
            inverse = normal.try_inverse()?;
            let step = inverse * right;
            p += step;
            if !(0.3..20.0).contains(&p[4]) || p[3].abs() > half {
                return None;
            }
            if round > 1 && step[3].abs() < 2e-3 {
                break;
            }
        }
        // Samples are two to the pixel, so every other one is news.
        let variance = FINE * rest / (n as f64 / FINE - 5.0).max(1.0) / FINE;
        let error = (variance * inverse[(3, 3)] * FINE).sqrt().max(0.01);
        let ground = p[0] + p[1] * p[3];
        let plain = ground > 0.0 && p[2] * sign > 0.0;
        let lasting = self.lasting(p[3], p[4]) / p[2];
        plain.then_some(Valley { middle: p[3], error, depth: p[2] / ground, width: p[4], left: (rest / n as f64).sqrt() / ground, lasting })
    }

    /// Depth of a valley of known place and width in the far half of the stations.
    fn lasting(&self, middle: f64, width: f64) -> f64 {
        let n = self.far.len();
        let g: Vec<f64> = (-self.reach..=self.reach).map(|k| (-0.5 * ((f64::from(k) / FINE - middle) / width).powi(2)).exp()).collect();
        let mean = g.iter().sum::<f64>() / n as f64;
        let (over, under) = g.iter().zip(&self.far).fold((0.0, 0.0), |s, (g, y)| (s.0 + (g - mean) * y, s.1 + (g - mean).powi(2)));
        -over / (under * self.far_count.max(1.0))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A known valley on a slope comes back.
    #[test]
    fn a_valley_on_a_slope_is_met() {
        let at = |p: Vector2<f64>| (0.5 + 0.01 * p.y - 0.2 * (-(p.y - 0.37f64).powi(2) / (2.0 * 1.2 * 1.2)).exp()) as f32;
        let light = |from: Vector2<f64>, step: Vector2<f64>, count| Some((0..count).map(move |k| at(from + step * k as f64)));
        let mut profile = Profile::new(6.0);
        for x in 0..5 {
            assert!(profile.add(Vector2::new(f64::from(x), 0.0), Vector2::y(), x > 2, light));
        }
        let v = profile.fit(Polarity::Dark, 1.0).expect("a plain valley");
        assert!((v.middle - 0.37).abs() < 1e-3 && (v.width - 1.2).abs() < 1e-3, "{v:?}");
        assert!((v.lasting - 1.0).abs() < 0.1, "{v:?}");
        assert!(profile.fit(Polarity::Light, 1.0).is_none_or(|v| v.left > 0.1 * v.depth.abs()));
    }
}
