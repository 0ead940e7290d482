//! How a scene is lit and how the camera's own faults show: light falling off, shadows, blur, noise.

use super::sheet::Rgb;

#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Light {
    /// Brightness of a white surface in the middle, as a share of full scale (linear).
    pub level: f32,
    pub tint: Rgb,
    /// Loss of light from one side of the picture to the other, a share.
    pub falls_off: f32,
    /// The side the light comes from, degrees clockwise from the sheet's right.
    pub from: f64,
    /// Loss towards the picture's corners, a share.
    pub vignette: f32,
    /// Depth of the cast shadow, a share of the light.
    pub shadow: f32,
    /// How much of that depth each colour loses: light that the cloth throws back fills a shadow with the cloth's own hue.
    pub hue: [f32; 3],
    /// Length of the cast shadow per mm of height.
    pub reach: f64,
    /// Softness of the shadow's edge (standard deviation), mm.
    pub softness: f64,
    /// Depth of the narrow shadow right beside the edge, a share, and its width (standard deviation), mm.
    pub contact: f32,
    pub contact_mm: f64,
}

impl Light {
    /// A bright overcast window, soft shadows.
    pub fn soft() -> Self {
        Self {
            level: 0.92,
            tint: [1.0, 0.985, 0.95],
            falls_off: 0.18,
            from: 215.0,
            vignette: 0.12,
            shadow: 0.25,
            hue: [1.0; 3],
            reach: 1.2,
            softness: 1.6,
            contact: 0.3,
            contact_mm: 0.9,
        }
    }

    /// One small lamp from the side.
    pub fn lamp() -> Self {
        Self { shadow: 0.55, reach: 2.2, softness: 0.25, falls_off: 0.35, tint: [1.0, 0.94, 0.82], ..Self::soft() }
    }

    /// A flatbed's even light.
    pub fn flatbed() -> Self {
        Self { level: 0.9, tint: [1.0; 3], falls_off: 0.0, vignette: 0.0, shadow: 0.15, reach: 0.5, softness: 0.6, ..Self::soft() }
    }

    /// No shadows, no falling off: for tests of the renderer.
    pub fn even() -> Self {
        Self { level: 1.0, tint: [1.0; 3], falls_off: 0.0, vignette: 0.0, shadow: 0.0, contact: 0.0, ..Self::soft() }
    }

    /// Light that arrives at a pixel of a picture of `size`.
    #[inline]
    pub fn at(&self, x: f32, y: f32, size: [f32; 2], from: [f32; 2]) -> f32 {
        let half = 0.5 * size[0].hypot(size[1]);
        let (u, v) = ((x - 0.5 * size[0]) / half, (y - 0.5 * size[1]) / half);
        self.level * (1.0 + 0.5 * self.falls_off * (u * from[0] + v * from[1])) * (1.0 - self.vignette * (u * u + v * v))
    }
}

/// What the camera adds.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Sensor {
    /// Standard deviation of the blur, px: 0 for none, otherwise at least 0.7 (below, half pixels are too coarse for it).
    pub blur: f64,
    /// Noise in the dark, and noise per root of light, both as shares of full scale (linear).
    pub dark_noise: f32,
    pub shot_noise: f32,
}

impl Sensor {
    pub fn good() -> Self {
        Self { blur: 0.8, dark_noise: 0.001, shot_noise: 0.006 }
    }

    pub fn clean() -> Self {
        Self { blur: 0.0, dark_noise: 0.0, shot_noise: 0.0 }
    }
}

/// Weights of a Gaussian of standard deviation `sigma` cells, out to four of them, averaged over `parts` neighbouring cells.
fn kernel(sigma: f64, parts: usize) -> Vec<f32> {
    let n = (4.0 * sigma).ceil() as i64;
    let w: Vec<f64> = (-n..=n).map(|k| if sigma > 0.0 { (-0.5 * (k as f64 / sigma).powi(2)).exp() } else { 1.0 }).collect();
    let sum = w.iter().sum::<f64>() * parts as f64;
    let mut out = vec![0f32; w.len() + parts - 1];
    for shift in 0..parts {
        out[shift..].iter_mut().zip(&w).for_each(|(o, v)| *o += (v / sum) as f32);
    }
    out
}

/// Blurs rows of `width` cells by `sigma` cells and averages blocks of `parts` × `parts` of them to one pixel. Done before the
/// picture is sampled, as a lens does; afterwards an edge would move with its place within the pixel. Beyond the border the
/// border's value goes on.
pub fn blur<const N: usize>(data: &[[f32; N]], width: usize, parts: usize, sigma: f64) -> Vec<[f32; N]> {
    let w = kernel(sigma, parts);
    let half = (w.len() - parts) / 2;
    let (columns, height) = (width / parts, data.len() / width);
    // Cells of one place within their pixel stand together, so that each weight is laid on a whole row at once.
    let reach = columns + (w.len() - 1) / parts;
    let mut phases = vec![vec![[0f32; N]; reach]; parts];
    let mut across = vec![[0f32; N]; columns * height];
    for (row, out) in data.chunks_exact(width).zip(across.chunks_exact_mut(columns)) {
        for (phase, line) in phases.iter_mut().enumerate() {
            for (x, cell) in line.iter_mut().enumerate() {
                *cell = row[(x * parts + phase).saturating_sub(half).min(width - 1)];
            }
        }
        for (k, weight) in w.iter().enumerate() {
            lay_on(out, &phases[k % parts][k / parts..][..columns], *weight);
        }
    }
    let mut down = vec![[0f32; N]; columns * (height / parts)];
    for (y, out) in down.chunks_exact_mut(columns).enumerate() {
        for (k, weight) in w.iter().enumerate() {
            let from = (y * parts + k).saturating_sub(half).min(height - 1);
            lay_on(out, &across[from * columns..][..columns], *weight);
        }
    }
    down
}

/// Adds a row times a weight to another.
fn lay_on<const N: usize>(out: &mut [[f32; N]], row: &[[f32; N]], weight: f32) {
    out.as_flattened_mut().iter_mut().zip(row.as_flattened()).for_each(|(o, p)| *o += weight * p);
}
