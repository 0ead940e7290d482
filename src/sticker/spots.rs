//! Connected spots of one rare colour, and their shape by moments.

use super::palette::{Chroma, NONE};
use crate::length::Px;
use crate::shot::to_picture;

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
    let (w, h) = (chroma.width, chroma.height);
    let mut seen = vec![false; rare.len()];
    let mut out = Vec::new();
    let mut open: Vec<usize> = Vec::new();
    for start in 0..rare.len() {
        let colour = rare[start];
        if colour == NONE || seen[start] {
            continue;
        }
        let mut all = Vec::new();
        seen[start] = true;
        open.push(start);
        while let Some(n) = open.pop() {
            all.push(n);
            let (x, y) = (n % w, n / w);
            for v in y.saturating_sub(1)..(y + 2).min(h) {
                for u in x.saturating_sub(1)..(x + 2).min(w) {
                    let m = v * w + u;
                    if rare[m] == colour && !seen[m] {
                        seen[m] = true;
                        open.push(m);
                    }
                }
            }
        }
        if all.len() >= least {
            out.push(spot(chroma, colour, &all));
        }
    }
    out
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
