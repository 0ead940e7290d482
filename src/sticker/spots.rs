//! Connected spots of one rare colour, and their shape by moments.

use super::palette::{Chroma, NONE};
use crate::length::Px;
use crate::shot::to_picture;
use image::{GrayImage, Luma};
use imageproc::region_labelling::{Connectivity, connected_components};

/// A connected spot of one colour.
pub(super) struct Spot {
    /// Number of its colour.
    pub colour: u8,
    /// Its pixels in the picture (centres of the reduced picture's).
    pub pixels: Vec<Px>,
    /// Area in the reduced picture's pixels, counted.
    pub area: f64,
    /// Middle.
    pub middle: Px,
    /// Area it would have if it were an ellipse of its moments, over its own.
    pub ellipse: f64,
    /// Length over width by moments.
    pub slender: f64,
}

/// All spots of at least `least` pixels, from top to bottom.
pub(super) fn spots(chroma: &Chroma, rare: &[u8], least: usize) -> Vec<Spot> {
    let colours =
        GrayImage::from_fn(chroma.width as u32, chroma.height as u32, |x, y| Luma([rare[y as usize * chroma.width + x as usize]]));
    let labels = connected_components(&colours, Connectivity::Eight, Luma([NONE]));
    let mut all: Vec<Vec<usize>> = Vec::new();
    for (n, label) in labels.pixels().enumerate().filter(|(_, l)| l[0] > 0) {
        let label = label[0] as usize;
        all.resize(all.len().max(label), Vec::new());
        all[label - 1].push(n);
    }
    all.iter().filter(|own| own.len() >= least).map(|own| spot(chroma, rare[own[0]], own)).collect()
}

fn spot(chroma: &Chroma, colour: u8, all: &[usize]) -> Spot {
    let n = all.len() as f64;
    let place = |m: usize| ((m % chroma.width) as f64, (m / chroma.width) as f64);
    let (sx, sy) = all.iter().map(|m| place(*m)).fold((0.0, 0.0), |s, p| (s.0 + p.0, s.1 + p.1));
    let (cx, cy) = (sx / n, sy / n);
    let (mut xx, mut xy, mut yy) = (0.0, 0.0, 0.0);
    for (x, y) in all.iter().map(|m| place(*m)) {
        xx += (x - cx) * (x - cx);
        xy += (x - cx) * (y - cy);
        yy += (y - cy) * (y - cy);
    }
    // A twelfth is the moment of a pixel itself.
    let (xx, xy, yy) = (xx / n + 1.0 / 12.0, xy / n, yy / n + 1.0 / 12.0);
    let (mean, half) = (0.5 * (xx + yy), (0.25 * (xx - yy).powi(2) + xy * xy).sqrt());
    let (long, short) = (mean + half, (mean - half).max(1e-9));
    Spot {
        colour,
        pixels: all.iter().map(|m| place(*m)).map(|(x, y)| to_picture(chroma.factor, x, y)).collect(),
        area: n,
        middle: to_picture(chroma.factor, cx, cy),
        ellipse: 4.0 * std::f64::consts::PI * (long * short).sqrt() / n,
        slender: (long / short).sqrt(),
    }
}
