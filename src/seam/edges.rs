//! How much better an edge explains the light at each place of a column of cells than a smooth change does.

use super::rough::{CELL_ACROSS, Cells};
use super::valley::orthonormal;
use crate::solve::median;
use rayon::prelude::*;

/// Half the window in which an edge is weighed against a smooth change, cells.
pub(super) const WINDOW: usize = 6;
/// Places weighed at once.
const LANES: usize = 8;
/// How much the edge itself may weigh against the two sides, in cells of bounded likelihood.
const EDGE_MOST: f32 = 10.0;
/// Cells to either side among which an edge has one best place.
const BEST: usize = 4;
/// An edge this many times better than none counts half.
const FAINT: f32 = 30.0;

/// How much better an edge with shadow and rolled rim explains the light at each place than a parabola, bounded; and the noise it is
/// held against: the one given, or that of the bare sheet. `tone` and `ruled` are the cells', column by column.
pub(super) fn edges(cells: &Cells, closed: bool, tone: &[f32], ruled: &[f32], noise: Option<f32>) -> (Vec<f32>, Option<f32>) {
    let (rows, places) = (cells.rows, cells.rows + 1);
    let models = Models::new();
    let tone = smoothed(tone, cells, closed);
    let mut gain = vec![0f32; cells.columns * places];
    let mut rest = vec![0f32; cells.columns * places];
    gain.par_chunks_mut(places).zip(rest.par_chunks_mut(places)).enumerate().for_each(|(c, (gain, rest))| {
        models.weigh(&tone[c * rows..][..rows], gain, rest);
        for (r, gain) in gain.iter_mut().enumerate().filter(|(_, g)| **g != 0.0) {
            // What the ruling hides or leaves behind is no evidence.
            let clear = 1.0 - ruled[c * rows + r - 2..][..4].iter().copied().fold(0.0, f32::max).min(1.0);
            *gain *= clear;
        }
    });
    // The bare sheet tells what is noise: everything beyond what the rough path may be wrong by.
    let noise = noise.or_else(|| {
        let clear = ((2.0 - cells.first) / CELL_ACROSS) as usize;
        let mut calm: Vec<f32> = (0..rest.len()).step_by(5).filter(|k| k % places > clear && rest[*k] > 0.0).map(|k| rest[k]).collect();
        median(&mut calm).map(|middle| (middle / (2 * WINDOW - 4) as f32).max(1e-6))
    });
    let Some(level) = noise else { return (gain, noise) };
    gain.par_chunks_mut(places).for_each(|gain| {
        gain.iter_mut().for_each(|g| *g = (*g / (2.0 * level)).max(0.0));
        let snr = gain.to_vec();
        for (r, g) in gain.iter_mut().enumerate().filter(|(_, g)| **g > 0.0) {
            // A clear edge is clear a cell beside it as well: what is next to the best place gains less.
            let best = snr[r.saturating_sub(BEST)..(r + BEST + 1).min(places)].iter().copied().fold(1e-6, f32::max);
            *g = EDGE_MOST * snr[r] / (snr[r] + FAINT) * (snr[r] / best).sqrt();
        }
    });
    (gain, noise)
}

/// The shapes light is held against, each of mean zero and all of one model at right angles, over the window's cells: a constant is in
/// both models, so that it is taken off first.
struct Models {
    smooth: [[f32; 2 * WINDOW]; 2],
    edged: [[f32; 2 * WINDOW]; 3],
}

impl Models {
    fn new() -> Self {
        let x: Vec<f64> = (0..2 * WINDOW).map(|i| (i as f64 - WINDOW as f64 + 0.5) * CELL_ACROSS).collect();
        let even = vec![1.0; x.len()];
        // Cells beside the step are mixed; the blur is taken as a cell.
        let step: Vec<f64> = x.iter().map(|v| 1.0 / (1.0 + (-v / 0.12).exp())).collect();
        let shadow = x.iter().zip(&step).map(|(v, s)| s * (-v.max(0.0) / 1.5).exp()).collect();
        let roll = x.iter().zip(&step).map(|(v, s)| (1.0 - s) * (1.0 + v / 1.2).clamp(0.0, 1.0).powi(2)).collect();
        let smooth = orthonormal(&[even.clone(), x.clone(), x.iter().map(|v| v * v).collect()]);
        let edged = orthonormal(&[even, step, shadow, roll]);
        Self { smooth: std::array::from_fn(|k| window(&smooth[k + 1])), edged: std::array::from_fn(|k| window(&edged[k + 1])) }
    }

    /// What the smooth model leaves over beyond the edged one, and what that leaves, for each place of a column; both stay as they are
    /// where the window leaves the column or something in it was not seen.
    fn weigh(&self, tone: &[f32], gain: &mut [f32], rest: &mut [f32]) {
        let Some(places) = (tone.len() + 1).checked_sub(2 * WINDOW) else { return };
        for first in (0..places).step_by(LANES) {
            // The last few are looked at together with some before them.
            let first = first.min(places.saturating_sub(LANES));
            let most = LANES.min(places - first);
            let mut near = [[0f32; LANES]; 2 * WINDOW];
            for (i, row) in near.iter_mut().enumerate() {
                row[..most].copy_from_slice(&tone[first + i..][..most]);
            }
            let (smooth, edged) = self.left_over(&near);
            for l in (0..most).filter(|l| edged[*l].is_finite()) {
                (gain[first + WINDOW + l], rest[first + WINDOW + l]) = (smooth[l] - edged[l], edged[l]);
            }
        }
    }

    /// Sums of squares that the models leave over, for several places at once: written so that the compiler takes them side by side.
    #[inline]
    fn left_over(&self, near: &[[f32; LANES]; 2 * WINDOW]) -> ([f32; LANES], [f32; LANES]) {
        let mut mean = [0f32; LANES];
        near.iter().for_each(|v| (0..LANES).for_each(|l| mean[l] += v[l]));
        mean.iter_mut().for_each(|m| *m /= (2 * WINDOW) as f32);
        let mut total = [0f32; LANES];
        let (mut smooth, mut edged) = ([[0f32; LANES]; 2], [[0f32; LANES]; 3]);
        for (i, v) in near.iter().enumerate() {
            let v: [f32; LANES] = std::array::from_fn(|l| v[l] - mean[l]);
            (0..LANES).for_each(|l| total[l] += v[l] * v[l]);
            for (held, shape) in smooth.iter_mut().zip(&self.smooth).chain(edged.iter_mut().zip(&self.edged)) {
                (0..LANES).for_each(|l| held[l] += shape[i] * v[l]);
            }
        }
        // What was not seen is not a number, and stays so.
        let left = |held: &[[f32; LANES]]| {
            let mut left = total;
            held.iter().for_each(|h| (0..LANES).for_each(|l| left[l] -= h[l] * h[l]));
            left.map(|v| if v < 0.0 { 0.0 } else { v })
        };
        (left(&smooth), left(&edged))
    }
}

/// A shape over the cells of a window.
fn window(shape: &[f32]) -> [f32; 2 * WINDOW] {
    std::array::from_fn(|i| shape[i])
}

/// Averaged over about a millimetre either way along the band.
fn smoothed(tone: &[f32], cells: &Cells, closed: bool) -> Vec<f32> {
    let (n, rows, reach) = (cells.columns as isize, cells.rows, 2isize);
    let mut out = vec![0f32; tone.len()];
    out.par_chunks_mut(rows).enumerate().for_each(|(c, out)| {
        let near = (-reach..=reach).map(|d| c as isize + d).filter(|k| closed || (*k >= 0 && *k < n));
        let near: Vec<&[f32]> = near.map(|k| &tone[k.rem_euclid(n) as usize * rows..][..rows]).collect();
        near.iter().for_each(|column| out.iter_mut().zip(*column).for_each(|(o, v)| *o += v));
        out.iter_mut().for_each(|o| *o /= near.len() as f32);
        for (r, o) in out.iter_mut().enumerate().filter(|(_, o)| !o.is_finite()) {
            let seen = near.iter().map(|column| column[r]).filter(|v| v.is_finite());
            let (sum, count) = seen.fold((0.0, 0.0), |(s, m), v| (s + v, m + 1.0));
            *o = if count > 0.0 { sum / count } else { f32::NAN };
        }
    });
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    /// By the definition: least squares on all shapes of a model.
    #[test]
    fn what_is_left_over_is_what_least_squares_leaves() {
        let models = Models::new();
        let tone: Vec<f32> = (0..31)
            .map(|r| if r < 14 { 0.31 } else { 0.82 - 0.2 * (-(r as f32 - 14.0) / 5.0).exp() } + (r * 37 % 11) as f32 * 1e-3)
            .collect();
        let (mut gain, mut rest) = (vec![0f32; 32], vec![0f32; 32]);
        models.weigh(&tone, &mut gain, &mut rest);
        let x: Vec<f64> = (0..12).map(|i| (f64::from(i) - 5.5) * CELL_ACROSS).collect();
        let parabola = orthonormal(&[vec![1.0; 12], x.clone(), x.iter().map(|v| v * v).collect()]);
        for r in WINDOW..=31 - WINDOW {
            let y = &tone[r - WINDOW..][..12];
            let total: f32 = y.iter().map(|v| v * v).sum();
            let held: f32 = parabola.iter().map(|q| q.iter().zip(y).map(|(a, b)| a * b).sum::<f32>().powi(2)).sum();
            assert!((gain[r] + rest[r] - (total - held)).abs() < 2e-6, "{r}");
        }
        let best = (0..32).max_by(|a, b| gain[*a].total_cmp(&gain[*b]));
        assert_eq!(best, Some(14));
        assert!(gain[..WINDOW].iter().chain(&gain[32 - WINDOW..]).all(|g| *g == 0.0));
    }

    #[test]
    fn nothing_is_said_of_what_was_not_seen() {
        let mut tone = vec![0.5f32; 40];
        tone[20] = f32::NAN;
        let (mut gain, mut rest) = (vec![0f32; 41], vec![-1f32; 41]);
        Models::new().weigh(&tone, &mut gain, &mut rest);
        assert!((0..41).all(|r| (rest[r] < 0.0) == (r < WINDOW || r + WINDOW > 40 || (15..=26).contains(&r))), "{rest:?}");
    }
}
