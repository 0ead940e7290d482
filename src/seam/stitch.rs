//! The stitch line inside a shown allowance: the garment lies inside out, its seam allowances outwards.
//!
//! The line runs about the allowance inside the rim. It is looked for there as a narrow dark valley with stitches in it, on
//! the inner side of the pale overlock thread that runs about a millimetre beside it and is the stronger line. How far
//! inside it lies is first learned over long stretches, then held to a little while each place is found.

use super::band::Band;
use super::fine::sharpest;
use super::guide::Guide;
use super::search::{Moves, best_path};
use super::valley::{DISTINCT, FAINTEST, Form, Kernel, high, tones, top};
use super::{SeamError, Settings};
use crate::length::Mm;
use crate::path::{Flags, SeamPath, SeamPoint};
use crate::proof::Proof;
use crate::shot::Shot;
use crate::solve::median;
use crate::view::View;
use rayon::prelude::*;
use std::time::Instant;

/// A row of stitches in a turned seam: a valley half a millimetre wide; the window sees the calm cloth inside it and
/// stops before the overlock thread.
const FORM: Form = Form { width: 0.5, window: [2.4, 0.6], step: false, thread: Some([1.1, 0.25]), bright: false };
/// How far from the allowance the line may be, mm, and of the allowance: makers are out by a millimetre or two.
const REACH: f64 = 2.2;
const REACH_SHARE: f64 = 0.4;
/// Rows of the band, mm.
const ACROSS: f64 = 0.1;
/// Light that differs by less than this, as square roots, is noise and grain.
const NOISE: f32 = 0.004;
/// Evidence at which a valley counts half, and under which the line is called unseen.
const FAINT: f32 = 3.0;
const UNSEEN: f32 = 0.8;
/// Length of line averaged at each place, mm either way: two stitches or so.
const ALONG: f64 = 4.0;
/// Length over which the distance from the rim is taken for even, mm either way.
const EVEN: f64 = 60.0;
/// How far inside a line, mm, another stands that shows it to be none: beyond the overlock thread the cloth is dark again, two millimetres and
/// more outside the stitches.
const INNER: [f64; 2] = [1.6, 3.4];
/// One that is a fourth as evident halves what the outer says.
const DECOY: f32 = 4.0;
/// Cloth just inside counts as so many times as uneven as it mostly is, no more.
const ROUND_CORNERS: f32 = 3.0;
/// Price of lying a millimetre off: off the allowance at first, off the learned distance then; growing with the square.
const STRAY_FIRST: f32 = 0.12;
const STRAY_THEN: f32 = 0.8;
/// Price of moving a row from one millimetre to the next.
const MOVE_PRICE: f32 = 0.15;

/// Follows the stitch line about `allowance` mm inside the closed `rim`, at `height` mm above the sheet.
///
/// # Errors
/// When nothing is left of the piece that far inside its rim.
pub fn stitch_line(
    shot: &Shot,
    view: &View,
    rim: &SeamPath,
    allowance: f64,
    height: f64,
    settings: &Settings,
    proof: &mut Proof,
) -> Result<SeamPath, SeamError> {
    let start = Instant::now();
    let along = (1.0 / view.px_per_mm(rim.points.first().ok_or(SeamError::NoPath)?.at).max(1e-3)).clamp(0.1, 0.5);
    let guide = Guide::new(&inset(rim, allowance), true, along, 1.5).ok_or(SeamError::NoPath)?;
    let reach = reach(allowance);
    let band = Band::unroll(shot, view, &guide, height, reach + INNER[1] + FORM.window[0] + 0.2, ACROSS, &settings.hidden);
    let step = ((settings.step_mm / guide.step).round() as usize).max(1);
    let tone = tones(&band, &guide, step, (ALONG / guide.step) as usize);
    let kernel = Kernel::new(FORM, band.across);
    let rows: Vec<usize> = (0..band.rows()).filter(|r| band.offset(*r).abs() <= reach).collect();
    let inner = INNER.map(|d| (d / band.across).round() as usize);
    let answers: Vec<Vec<f32>> = tone.par_iter().map(|t| kernel.answer(t, NOISE)).collect();
    let evidence: Vec<Vec<f32>> = answers.iter().map(|a| rows.iter().map(|r| told_from_inner(a, *r, inner)).collect()).collect();
    // What lies just inside: calm cloth, but at corners, where it may hold the line that comes from round them.
    let calm: Vec<f32> = answers.iter().map(|a| high(a[rows[0] - inner[1]..rows[0]].to_vec())).collect();
    let most = ROUND_CORNERS * median(&mut calm.iter().map(|v| f64::from(*v)).collect::<Vec<_>>()).unwrap_or_default() as f32;
    let offset = |r: f64| band.offset(rows[0]) + r * band.across;
    let follow = |home: &[f64], stray: f32| -> Vec<usize> {
        let cost: Vec<f32> = evidence
            .iter()
            .zip(home)
            .flat_map(|(e, h)| {
                e.iter().enumerate().map(move |(r, v)| FAINT / (FAINT + v) + stray * ((offset(r as f64) - h) as f32).powi(2))
            })
            .collect();
        best_path(&cost, rows.len(), true, Moves { most: 3, price: MOVE_PRICE, slant: 0.0 })
    };
    let first = follow(&vec![0.0; evidence.len()], STRAY_FIRST);
    let home = even(&first, &evidence, &offset, (EVEN / settings.step_mm) as usize);
    let path = follow(&home, STRAY_THEN);
    let points = path
        .iter()
        .enumerate()
        .map(|(p, r)| {
            let (row, bend) = top(&evidence[p], *r);
            let seen = evidence[p][*r] > UNSEEN.max(DISTINCT * (FAINTEST + calm[p].min(most)));
            let d = if seen { offset(row) } else { home[p] };
            point(view, &guide, p * step, d, if seen { spread(evidence[p][*r], bend, band.across) } else { 0.5 }, !seen, height)
        })
        .collect();
    proof.time("stitch-line", start.elapsed());
    Ok(SeamPath { points, closed: true, correlation_mm: ALONG })
}

/// Allowances tried where the told one shows no stitch line, mm: each search reaches two millimetres either way, and sewing knows none wider
/// but for hems.
const OTHERS: [f64; 7] = [4.0, 6.5, 9.5, 12.7, 16.0, 19.5, 23.0];
/// A line is seen elsewhere when more than this part of it is, and it is seen so many times as well as where it was told.
const SEEN: f64 = 0.6;
const BETTER: f64 = 1.5;
/// And its middle lies within this part of the search's reach.
const WITHIN: f64 = 0.8;

/// How far inside the rim a stitch line is seen where `told`, found about the allowance told, hardly is: the middle of its distances, mm.
pub fn elsewhere(
    shot: &Shot,
    view: &View,
    rim: &SeamPath,
    told: &SeamPath,
    height: f64,
    settings: &Settings,
    proof: &mut Proof,
) -> Option<f64> {
    let share = |line: &SeamPath| line.points.iter().filter(|p| !p.flags.unseen).count() as f64 / line.points.len().max(1) as f64;
    let own = share(told);
    if own > SEEN {
        return None;
    }
    let far = |p: &SeamPoint| rim.points.iter().map(|q| q.at.distance(p.at)).fold(f64::INFINITY, f64::min);
    let all = OTHERS.iter().filter_map(|allowance| {
        let line = stitch_line(shot, view, rim, *allowance, height, settings, proof).ok()?;
        let distance = median(&mut line.points.iter().filter(|p| !p.flags.unseen).map(far).collect::<Vec<_>>())?;
        // What lies at the limit of the search is a line's flank, and the line is another's.
        ((distance - allowance).abs() < WITHIN * reach(*allowance)).then(|| (share(&line), distance))
    });
    let (seen, distance) = all.max_by(|a, b| a.0.total_cmp(&b.0))?;
    (seen > SEEN && seen > BETTER * own).then_some(distance)
}

/// How far from an allowance its line is sought, mm.
fn reach(allowance: f64) -> f64 {
    REACH.min(REACH_SHARE * allowance)
}

/// Evidence at a row, less what a line so many rows further in has of it. Rows grow outwards.
fn told_from_inner(answer: &[f32], row: usize, inner: [usize; 2]) -> f32 {
    let other = answer[row.saturating_sub(inner[1])..row.saturating_sub(inner[0])].iter().copied().fold(0.0, f32::max);
    let own = answer[row];
    if own > 0.0 { own / (1.0 + (DECOY * other / own).powi(2)) } else { 0.0 }
}

/// Standard error of a line's place, mm, from its evidence and how sharply that falls off, both squares over noise.
pub(super) fn spread(evidence: f32, bend: f64, across: f64) -> f64 {
    // Rows share light over about the valley's width, so that a third of them are news.
    const NEWS: f64 = 0.3;
    let sharp = bend / (across * across) / (1.0 + f64::from(evidence) / 20.0);
    (2.0 / (NEWS * sharp.max(1e-2)) + 0.05 * 0.05).sqrt().min(0.7)
}

/// A point of a line from its offset along the guide's normal.
pub(super) fn point(view: &View, guide: &Guide, column: usize, offset: f64, error: f64, unseen: bool, height: f64) -> SeamPoint {
    let column = column.min(guide.len() - 1);
    let at = guide.at[column] + guide.normal[column] * offset;
    let corner = (sharpest(guide, column) - 0.06).max(0.0);
    let flags = Flags { unseen, ..Flags::default() };
    SeamPoint { at, normal: guide.normal[column], error: error.hypot(corner), px: view.to_px(at, height), flags }
}

/// Weighted middle of the offsets around each place: what the distance is over a long stretch.
fn even(path: &[usize], evidence: &[Vec<f32>], offset: &(dyn Fn(f64) -> f64 + Sync), reach: usize) -> Vec<f64> {
    let n = path.len() as isize;
    let reach = (reach as isize).min(n / 2 - 1).max(0);
    (0..n)
        .into_par_iter()
        .map(|p| {
            let mut near: Vec<(f64, f64)> = (-reach..=reach)
                .map(|d| (p + d).rem_euclid(n) as usize)
                .map(|k| (offset(path[k] as f64), f64::from(evidence[k][path[k]] / (FAINT + evidence[k][path[k]]))))
                .collect();
            near.sort_by(|a, b| a.0.total_cmp(&b.0));
            let half = 0.5 * near.iter().map(|v| v.1).sum::<f64>();
            let mut sum = 0.0;
            near.iter()
                .find(|v| {
                    sum += v.1;
                    sum >= half
                })
                .map_or(0.0, |v| v.0)
        })
        .collect()
}

/// The rim moved `by` mm inwards, without what folds over itself there.
fn inset(rim: &SeamPath, by: f64) -> Vec<Mm> {
    let moved: Vec<Mm> = rim.points.iter().map(|p| p.at - p.normal * by).collect();
    let clear = |q: &Mm| rim.points.iter().all(|p| (p.at - *q).norm_squared() > (by - 0.4).powi(2));
    let keep: Vec<bool> = moved.par_iter().map(clear).collect();
    moved.into_iter().zip(keep).filter(|(_, k)| *k).map(|(p, _)| p).collect()
}
