//! The shapes of an edge's parts, blurred and sharpened, as tables over the distance from the edge.

use crate::solve::within;

/// What all places of a picture share.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Shape {
    /// Blur, mm.
    pub sigma: f64,
    /// Length over which the cloth rolls down, mm.
    pub roll: f64,
    /// Strength of sharpening.
    pub sharpen: f64,
    pub shadow: Shadow,
}

/// How much of the light the shadows beside the cloth take.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Shadow {
    /// One that a lamp casts.
    pub cast: f64,
    /// The contact shadow, right at the edge.
    pub contact: f64,
}

impl Shadow {
    /// What both take together, right at the edge.
    pub fn both(self) -> f64 {
        1.0 - (1.0 - self.cast) * (1.0 - self.contact)
    }
}

/// Length over which the contact shadow fades, mm; its slope is free besides.
const SHADOW: f64 = 2.0;
/// Length over which the end of a cast shadow fades (standard deviation), mm: lamps have a size.
const PENUMBRA: f64 = 0.3;
/// Tables reach this far from the edge, mm, in steps of `TABLE_STEP`; the finest blur met is ten steps wide.
const TABLE_REACH: f64 = 4.8;
const TABLE_STEP: f64 = 0.01;
/// A sharpening filter's wide part is about this much wider than the picture's blur.
const HALO: f64 = 3.0;

/// The model's shapes as functions of the distance from the edge.
pub(super) struct Table {
    /// Blurred cloth, roll, cloth's slope, shadow; per distance.
    rows: Vec<[f32; 4]>,
}

impl Table {
    /// With a cast shadow `cast` mm wide, or none but the contact shadow where that is 0.
    pub fn new(shape: Shape, cast: f64) -> Self {
        let shadow = shape.shadow;
        let n = (2.0 * TABLE_REACH / TABLE_STEP) as usize + 1;
        let x = |k: usize| k as f64 * TABLE_STEP - TABLE_REACH;
        let raw: Vec<[f64; 4]> = (0..n)
            .map(|k| {
                let x = x(k);
                let inside = if x.abs() < 0.5 * TABLE_STEP { 0.5 } else { f64::from(x < 0.0) };
                let contact = (-x.max(0.0) / SHADOW).exp();
                let dim = if cast > 0.0 {
                    let strip = shadow.cast * hidden(cast - x);
                    (1.0 - (1.0 - strip) * (1.0 - shadow.contact * contact)) / shadow.both().max(1e-3)
                } else {
                    contact
                };
                [inside, inside * (1.0 + x / shape.roll).clamp(0.0, 1.0).powi(2), inside * x, (1.0 - inside) * dim]
            })
            .collect();
        let (narrow, wide) = (blurred(&raw, shape.sigma), blurred(&raw, HALO * shape.sigma));
        let b = shape.sharpen;
        let mix = |n: &[f64; 4], w: &[f64; 4]| std::array::from_fn(|c| ((1.0 + b) * n[c] - b * w[c]) as f32);
        Self { rows: narrow.iter().zip(&wide).map(|(n, w)| mix(n, w)).collect() }
    }

    #[inline]
    pub fn at(&self, x: f64) -> [f64; 4] {
        let u = ((x + TABLE_REACH) / TABLE_STEP).clamp(0.0, (self.rows.len() - 2) as f64);
        let (k, t) = (u as usize, (u - u.floor()) as f32);
        let (a, b) = (&self.rows[k], &self.rows[k + 1]);
        std::array::from_fn(|c| f64::from(a[c] + (b[c] - a[c]) * t))
    }
}

/// Share of a lamp that is hidden `x` mm inside the end of its shadow.
fn hidden(x: f64) -> f64 {
    0.5 + 0.5 * x.signum() * within((x / PENUMBRA).abs())
}

/// Gaussian blur of tabulated functions by three box passes (their variances add up; Wells 1986), ends held.
fn blurred(raw: &[[f64; 4]], sigma: f64) -> Vec<[f64; 4]> {
    let s = sigma / TABLE_STEP;
    // A box of 2r + 1 cells has variance r (r + 1) / 3; the three radii share what is asked for.
    let r = ((1.0 + 4.0 * s * s).sqrt() - 1.0) / 2.0;
    let low = r.floor() as usize;
    let of = |r: usize| (r * (r + 1)) as f64 / 3.0;
    let many = ((s * s - 3.0 * of(low)) / (of(low + 1) - of(low))).round().clamp(0.0, 3.0) as usize;
    let mut out = raw.to_vec();
    for pass in 0..3 {
        out = boxed(&out, if pass < many { low + 1 } else { low });
    }
    out
}

fn boxed(raw: &[[f64; 4]], r: usize) -> Vec<[f64; 4]> {
    let n = raw.len() as isize;
    let at = |k: isize| raw[k.clamp(0, n - 1) as usize];
    let mut sum = (-(r as isize)..=r as isize).map(at).fold([0.0; 4], |s, v| std::array::from_fn(|c| s[c] + v[c]));
    let scale = 1.0 / (2 * r + 1) as f64;
    (0..n)
        .map(|k| {
            let out = sum.map(|v| v * scale);
            let (gone, new) = (at(k - r as isize), at(k + r as isize + 1));
            sum = std::array::from_fn(|c| sum[c] + new[c] - gone[c]);
            out
        })
        .collect()
}
