//! One edge's points made smooth: a penalised spline, as stiff as the noise allows.
//!
//! The stiffness follows the discrepancy principle (Morozov, 1966): the stiffest curve that leaves no more than the
//! noise. Noise of cloth is alike over millimetres, so means over stretches are judged with that in mind.

use super::noise::Noise;
use super::trail::Site;
use crate::solve::{Sample, Spline};
use nalgebra::Vector2;

/// The points between two corners, or all of a round piece.
#[derive(Clone, Debug)]
pub(super) struct Stretch {
    /// Sites used; `s` counts from the start of the stretch.
    pub sites: Vec<Site>,
    /// Length, mm.
    pub length: f64,
    /// The corners at its ends, where it has them, with their standard error.
    pub ends: [Option<(Vector2<f64>, f64)>; 2],
    /// Whether the end joins the start smoothly.
    pub round: bool,
    /// Mean distance of sites, mm.
    pub step: f64,
}

/// Waves shorter than these are taken for noise, mm; the stiffest that fits wins.
const WAVES: [f64; 10] = [600.0, 400.0, 250.0, 150.0, 90.0, 55.0, 32.0, 20.0, 12.0, 8.0];

/// Fewest and most spans of a spline, and their length aimed at, mm; a wave needs about four.
const SPANS: (f64, f64, f64) = (8.0, 400.0, 6.0);

/// Means over stretches of this length are judged, mm, or over more when the noise is alike further.
const BLOCK: f64 = 12.0;

/// Most standard errors a stretch's mean may be off.
const BLOCK_LIMIT: f64 = 3.5;

/// Share of an edge where the search may have slipped off the rim: a bump there must not make the whole edge follow
/// noise. It is allowed for only where else waves below `TIGHT` would be needed.
const LOCAL_FAULTS: f64 = 0.06;

/// Waves shorter than this, mm, are for small shapes, not for bumps in long edges.
const TIGHT: f64 = 30.0;

/// No rim is found better than this, mm, whatever the points claim.
const LEAST_NOISE: f64 = 0.02;

/// A tied end is held within this, mm.
const TIE: f64 = 0.005;

/// The smooth curve of a stretch; its parameter runs over the stretch's length.
pub(super) fn smooth(stretch: &Stretch, noise: &Noise) -> Option<Spline> {
    let mut samples: Vec<Sample> = stretch.sites.iter().map(|t| Sample { u: t.s, at: t.at, weight: noise.weight(t.error) }).collect();
    if samples.len() < 3 {
        return None;
    }
    let mean = samples.iter().map(|s| s.weight).sum::<f64>() / samples.len() as f64;
    for (end, u) in stretch.ends.iter().zip([0.0, stretch.length]) {
        if let Some((at, _)) = end {
            samples.push(Sample { u, at: *at, weight: TIE.powi(-2).max(mean * 100.0) });
        }
    }
    let (mut calm, mut last) = (None, None);
    for wave in WAVES {
        if wave > 4.0 * stretch.length && last.is_none() && wave > 100.0 {
            continue;
        }
        let most = SPANS.1.min(samples.len() as f64 * 1.5).max(SPANS.0);
        let spans = (stretch.length / SPANS.2.min(wave / 4.0)).clamp(SPANS.0, most).round() as usize;
        let weight = mean * stretch.sites.len() as f64 / spans as f64;
        let lambda = Spline::penalty_for_wave(wave, stretch.length, spans, weight);
        let Some(spline) = Spline::fit(&samples, stretch.length, spans, lambda, stretch.round) else { continue };
        if wave < TIGHT && calm.is_some() {
            return calm;
        }
        if holds(stretch, noise, &spline, 0.0) {
            return Some(spline);
        }
        if calm.is_none() && holds(stretch, noise, &spline, LOCAL_FAULTS) {
            calm = Some(spline.clone());
        }
        last = Some(spline);
    }
    last
}

/// Whether what the spline leaves is no more than noise, all in all and block by block.
fn holds(stretch: &Stretch, noise: &Noise, spline: &Spline, faults: f64) -> bool {
    let left: Vec<(f64, f64, f64)> = stretch
        .sites
        .iter()
        .filter_map(|t| {
            let d = spline.derivative(t.s).try_normalize(1e-12)?;
            Some((t.s, d.perp(&(t.at - spline.at(t.s))), (t.error * noise.scale).max(LEAST_NOISE)))
        })
        .collect();
    let mut squares: Vec<f64> = left.iter().map(|(_, r, e)| (r / e).powi(2)).collect();
    squares.sort_by(f64::total_cmp);
    squares.truncate(squares.len() - (squares.len() as f64 * faults) as usize);
    let square: f64 = squares.iter().sum::<f64>() / squares.len().max(1) as f64;
    if square > noise.allowed_misfit(left.len()).powi(2) {
        return false;
    }
    let block = BLOCK.max(2.0 * noise.alike * stretch.step);
    let (mut k, mut blocks, mut failed) = (0, 0, 0);
    while k < left.len() {
        let end = left[k].0 + block;
        let part: Vec<_> = left[k..].iter().take_while(|l| l.0 < end).collect();
        let n = part.len() as f64;
        let mean = part.iter().map(|l| l.1).sum::<f64>() / n;
        let variance = part.iter().map(|l| l.2 * l.2).sum::<f64>() / n;
        if mean.abs() > BLOCK_LIMIT * (variance * (noise.alike / n).min(1.0)).sqrt() {
            failed += 1;
        }
        blocks += 1;
        k += part.len();
    }
    f64::from(failed) <= f64::from(blocks) * faults
}
