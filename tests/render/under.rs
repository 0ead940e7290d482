//! What is laid between sheet and cloth: tissue paper or clear film, through which the ruling is seen fainter.

use super::curve::{Curve, Point};
use super::random::cloudiness;
use super::sheet::Rgb;

#[derive(Clone, Debug, PartialEq)]
pub struct Under {
    pub outline: Curve,
    pub colour: Rgb,
    /// Share of the light that is its own colour and not the sheet's.
    pub veil: f32,
    /// Unevenness of the light where it does not lie flat, a share.
    pub rumple: f32,
    /// Distance of the folds it was stored in, mm, and how much they change the light.
    pub folds: (f64, f32),
    /// Streaks in which film shines: light added at most.
    pub shine: f32,
    /// Depth of the shadow along its edge.
    pub edge: f32,
    pub seed: u64,
}

impl Under {
    /// White tissue, once folded in squares of a hand and laid flat.
    pub fn tissue(outline: Curve, veil: f32) -> Self {
        Self { outline, colour: [0.82, 0.81, 0.79], veil, rumple: 0.04, folds: (210.0, 0.06), shine: 0.0, edge: 0.1, seed: 7 }
    }

    /// Clear film, which takes little light away and shines in streaks.
    pub fn film(outline: Curve) -> Self {
        Self { outline, colour: [0.6, 0.6, 0.62], veil: 0.08, rumple: 0.02, folds: (400.0, 0.02), shine: 0.25, edge: 0.15, seed: 9 }
    }

    /// What is seen of a sheet of this colour through it.
    pub fn through(&self, sheet: Rgb, [x, y]: Point) -> Rgb {
        let clouds = self.rumple * (cloudiness(self.seed, x, y, 22.0) + 0.5 * cloudiness(self.seed ^ 1, x, y, 6.0));
        let fold = |v: f64| {
            let off = v - (v / self.folds.0).round() * self.folds.0;
            self.folds.1 * (-(off / 0.8).powi(2)).exp() as f32 * if off > 0.0 { 1.0 } else { -1.0 }
        };
        let light = 1.0 + clouds + fold(x) + fold(y);
        let streak = f64::from(cloudiness(self.seed ^ 2, 0.3 * x + 0.7 * y, 0.1 * y, 40.0) - 0.6).max(0.0) as f32;
        std::array::from_fn(|c| (sheet[c] * (1.0 - self.veil) + self.colour[c] * self.veil) * light + self.shine * streak)
    }
}
