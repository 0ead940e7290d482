//! How rough the picture is about each pixel, and what that says: cloth is seldom as smooth as paper.

use super::evidence::{Evidence, Tell};
use super::learn::BELIEF;
use rayon::prelude::*;

/// Most that a pixel's roughness says.
const SAY_ROUGH: f32 = 0.3;
/// A roughness of the cloth this common against its commonest never speaks for sheet.
const COMMON_ROUGH: f32 = 0.2;
/// Cells of roughness, on a logarithmic scale.
const ROUGHS: usize = 24;

/// What roughness says of each pixel.
pub(super) fn by_roughness(evidence: &Evidence, inside: &[usize], outside: &[usize]) -> Vec<f32> {
    let rough = roughness(evidence);
    let bin = |v: f32| ((3.0 * (v / 1e-3).max(1.0).log2()) as usize).min(ROUGHS - 1);
    let count = |pixels: &[usize]| {
        let mut share = [0.5f32; ROUGHS];
        pixels.iter().filter(|&&n| rough[n] >= 0.0).for_each(|&n| share[bin(rough[n])] += 1.0);
        let sum: f32 = share.iter().sum();
        let share = share.map(|v| v / sum);
        std::array::from_fn::<f32, ROUGHS, _>(|k| {
            0.25 * (share[k.saturating_sub(1)] + 2.0 * share[k] + share[(k + 1).min(ROUGHS - 1)]) + 1e-3
        })
    };
    let (cloth, sheet) = (count(inside), count(outside));
    let common = COMMON_ROUGH * cloth.iter().copied().fold(0.0, f32::max);
    let says: [f32; ROUGHS] = std::array::from_fn(|k| {
        let said = (BELIEF * (cloth[k] / sheet[k]).ln()).clamp(-SAY_ROUGH, SAY_ROUGH);
        if cloth[k] > common { said.max(0.0) } else { said }
    });
    rough.iter().map(|&v| if v >= 0.0 { says[bin(v)] } else { 0.0 }).collect()
}

/// Roughness about each pixel: mean departure from the four neighbours' mean over three by three pixels, the least of such
/// squares near the pixel, since an edge beside it and the shadow there are not its own; -1 where marks leave no such square.
fn roughness(evidence: &Evidence) -> Vec<f32> {
    let (w, h) = (evidence.width, evidence.height);
    let s = &evidence.shade;
    let mut off = vec![-1f32; w * h];
    off.par_chunks_mut(w).enumerate().filter(|(y, _)| *y > 0 && y + 1 < h).for_each(|(y, out)| {
        for (x, out) in out.iter_mut().enumerate().take(w.saturating_sub(1)).skip(1) {
            let n = y * w + x;
            let five = [n, n - 1, n + 1, n - w, n + w];
            if five.iter().all(|&m| evidence.tell[m] != Tell::Mark) {
                *out = (s[n] - (s[n - 1] + s[n + 1] + s[n - w] + s[n + w]) / 4.0).abs();
            }
        }
    });
    let mut mean = vec![-1f32; w * h];
    mean.par_chunks_mut(w).enumerate().filter(|(y, _)| *y > 1 && y + 2 < h).for_each(|(y, out)| {
        for (x, out) in out.iter_mut().enumerate().take(w.saturating_sub(2)).skip(2) {
            let n = y * w + x;
            let rows = [n - w, n, n + w].map(|m| [off[m - 1], off[m], off[m + 1]]);
            let all = rows.as_flattened();
            if all.iter().all(|v| *v >= 0.0) {
                *out = all.iter().sum::<f32>() / 9.0;
            }
        }
    });
    let mut least = vec![-1f32; w * h];
    least.par_chunks_mut(w).enumerate().filter(|(y, _)| *y > 2 && y + 3 < h).for_each(|(y, out)| {
        for (x, out) in out.iter_mut().enumerate().take(w.saturating_sub(3)).skip(3) {
            let n = y * w + x;
            let around = [n, n - 3, n + 3, n - 3 * w, n + 3 * w, n - 2 * w - 2, n - 2 * w + 2, n + 2 * w - 2, n + 2 * w + 2];
            let found = around.iter().map(|&m| mean[m]).filter(|v| *v >= 0.0).fold(f32::MAX, f32::min);
            if found < f32::MAX {
                *out = found;
            }
        }
    });
    least
}
