//! What the sheet's light would be beside the cloth if the cloth threw no shadow there: the cloth itself lies in the full light, and its
//! colours are told against that.

use super::tones::{Light, luma};
use crate::length::Mm;
use crate::solve::{linear, median};

/// Light of the bare sheet is taken for even over this length of the path, mm.
const PLACE: f64 = 6.0;
/// Sheet darker than its surroundings make likely by this, as a logarithm, begins to count as shadow, and from twice this on is.
const SHADED: f64 = 0.1;
/// How much more a place that is brighter than the fit weighs than a darker one: a shadow only takes away.
const UPPER: f64 = 6.0;
/// Rounds of the fit; how far below it a place is half believed at first, as a logarithm, and how that narrows.
const ROUNDS: i32 = 12;
const WIDE: f64 = 0.3;
const NARROWER: f64 = 0.8;
/// The lamp's light falls off by about this, as a logarithm, from the middle of the path to its border, and bends by this.
const TILT: f64 = 0.3;
const BEND: f64 = 0.15;
/// Of the path at least this share must lie in the full light to say what that is.
const LIT: f64 = 0.25;

/// The light in `paper`, beside the places `at`, `step` mm apart, with what lies in shadow lifted to what the lit rest makes likely.
pub(super) fn lifted(paper: &[Light], at: &[Mm], step: f64) -> Vec<Light> {
    let stride = ((PLACE / step) as usize).max(1);
    let some: Vec<usize> = (0..paper.len()).step_by(stride).collect();
    let level = |k: usize| f64::from(luma(paper[k])).max(1e-4).ln();
    let Some(fall) = Fall::of(&some.iter().map(|k| (at[*k], level(*k))).collect::<Vec<_>>()) else { return paper.to_vec() };
    let short = |k: usize| fall.at(at[k]) - level(k);
    let lit: Vec<usize> = some.iter().copied().filter(|k| short(*k) < SHADED).collect();
    if (lit.len() as f64) < LIT * some.len() as f64 {
        return paper.to_vec();
    }
    // A shadow has the colour of the second lamp; the sheet has its own.
    let tint: Light = std::array::from_fn(|c| {
        median(&mut lit.iter().map(|k| paper[*k][c] / luma(paper[*k]).max(1e-4)).collect::<Vec<_>>()).unwrap_or(1.0)
    });
    (0..paper.len())
        .map(|k| {
            let share = ((short(k) - SHADED) / SHADED).clamp(0.0, 1.0) as f32;
            let full = fall.at(at[k]).exp() as f32;
            std::array::from_fn(|c| paper[k][c] + share * (tint[c] * full - paper[k][c]))
        })
        .collect()
}

/// How the lamp's light falls off over the sheet: a parabola of the logarithm, held towards a plane.
struct Fall {
    middle: Mm,
    size: f64,
    terms: [f64; 6],
}

impl Fall {
    /// Fitted from above, for shadow only takes away (an expectile: Newey & Powell 1987).
    fn of(seen: &[(Mm, f64)]) -> Option<Self> {
        let n = seen.len() as f64;
        let middle = Mm::from(seen.iter().map(|s| s.0.vector()).sum::<nalgebra::Vector2<f64>>() / n);
        let size = seen.iter().map(|s| s.0.distance(middle)).fold(1.0, f64::max);
        let mut rows: Vec<Vec<f64>> = seen.iter().map(|s| Self::row(s.0, middle, size).to_vec()).collect();
        let mut right: Vec<f64> = seen.iter().map(|s| s.1).collect();
        // Beliefs: the slopes and bends are small, and weigh as much as some places together.
        for k in 1..6 {
            rows.push((0..6).map(|j| f64::from(u8::from(j == k))).collect());
            right.push(0.0);
        }
        let mut sorted: Vec<f64> = seen.iter().map(|s| s.1).collect();
        sorted.sort_by(f64::total_cmp);
        let bright = sorted.get((seen.len() * 4) / 5).copied()?;
        let mut fall = Self { middle, size, terms: [bright, 0.0, 0.0, 0.0, 0.0, 0.0] };
        let mut weights = vec![0.0; rows.len()];
        for k in 1..6 {
            let believed = if k < 3 { TILT } else { BEND };
            weights[seen.len() + k - 1] = n * (0.5 * SHADED / believed).powi(2);
        }
        for round in 0..ROUNDS {
            // Narrowed slowly, or the dim corner of a sheet would be left for shadow.
            let scale = (WIDE * NARROWER.powi(round)).max(0.5 * SHADED);
            for ((at, level), w) in seen.iter().zip(&mut weights) {
                let off = level - fall.at(*at);
                // What lies far below is shadow, and says nothing of the light.
                *w = if off > 0.0 { UPPER } else { 1.0 / (1.0 + (off / scale).powi(2)) };
            }
            fall.terms = linear(&rows, &right, &weights)?.values.as_slice().try_into().ok()?;
        }
        Some(fall)
    }

    fn row(at: Mm, middle: Mm, size: f64) -> [f64; 6] {
        let d = (at - middle) / size;
        [1.0, d.x, d.y, d.x * d.x, d.x * d.y, d.y * d.y]
    }

    fn at(&self, at: Mm) -> f64 {
        Self::row(at, self.middle, self.size).iter().zip(&self.terms).map(|(a, b)| a * b).sum()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn ring() -> Vec<Mm> {
        (0..800).map(|k| f64::from(k) * std::f64::consts::TAU / 800.0).map(|a| Mm::new(250.0 * a.cos(), 180.0 * a.sin())).collect()
    }

    /// Light that falls off by a third over the sheet and a shadow over two fifths of the path.
    #[test]
    fn shadow_is_lifted_and_the_lamps_fall_off_stays() {
        let at = ring();
        let full = |p: &Mm| (0.7 * (1.0 - 0.0006 * (p.x + 250.0) - 1e-6 * p.y * p.y)) as f32;
        let paper: Vec<Light> = at
            .iter()
            .enumerate()
            .map(|(k, p)| [1.0, 0.96, 0.9].map(|c| c * full(p) * if (200..520).contains(&k) { 0.45 } else { 1.0 }))
            .collect();
        let lifted = lifted(&paper, &at, 1.7);
        for (k, (p, found)) in at.iter().zip(&lifted).enumerate() {
            let off = found[0] / full(p) - 1.0;
            assert!(off.abs() < if (200..520).contains(&k) { 0.1 } else { 0.01 }, "{k}: {off}");
            assert!((found[2] / found[0] - 0.9).abs() < 0.01);
        }
    }

    #[test]
    fn even_light_stays_as_it_is() {
        let at = ring();
        let paper: Vec<Light> = at.iter().map(|p| [0.6 - 0.0004 * p.x as f32; 3]).collect();
        assert_eq!(lifted(&paper, &at, 1.7), paper);
        assert_eq!(lifted(&paper[..3], &at[..3], 1.7), paper[..3]);
    }
}
