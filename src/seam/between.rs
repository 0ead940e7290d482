//! A seam within the piece, between two given ends: the valley between two cloths, or the edge of one on the other.
//!
//! Nothing is known of its way but the ends (and points between, where given), so a wide strip along the straight join is
//! searched first, coarsely and with cells charged by the length of path through them, or the path would cut the bend.
//! Narrower strips along what was found then make it precise. Topstitching beside is brighter than the cloth or broken;
//! the valley is dark and whole.

use super::band::Band;
use super::guide::Guide;
use super::near::Near;
use super::search::{Moves, best_path};
use super::stitch::{point, spread};
use super::valley::{DISTINCT, FAINTEST, Form, Kernel, high, tones, top};
use super::{SeamError, Settings};
use crate::length::{Mm, Px};
use crate::path::{SeamPath, SeamPoint};
use crate::proof::Proof;
use crate::shot::{Area, Shot};
use crate::solve::median;
use crate::view::View;
use std::time::Instant;

/// Widths of the valley, mm (standard deviations): a seam's shade is about a millimetre wide. A sharp crease or a cut line is narrower, a
/// channel or a rolled seam wider; these are tried where the usual width does not see the line clearly.
const USUAL: f64 = 0.6;
const NARROW: [f64; 2] = [0.25, 0.4];
const WIDE: [f64; 2] = [1.1, 1.6];
/// The line is seen clearly where so many of its places stand out from the cloth beside it.
const CLEAR: f64 = 0.9;
/// A narrow line must be seen about as clearly, or it is the cloth's own threads.
const NARROW_CLEAR: f64 = 0.8;
/// A wide valley may be the lie of the cloth: it must be clearer than that, and stand out so much more (as a logarithm) than a narrow one.
/// (Drawn lines 2.5 and 4 mm wide 3.5 to 8.5 more; soft shading beside lines 0.3 to 1.2 mm wide 2.8, or 3.2 and less clear.)
const WIDE_CLEAR: f64 = 0.95;
const WIDE_LEAD: f64 = 3.0;
/// How far a seam may bow out from the straight join of its ends, of the join's length, and at most, mm.
const BOW: f64 = 0.25;
const BOW_MOST: f64 = 70.0;
const BOW_LEAST: f64 = 8.0;
/// Where nothing is seen there it is sought along arcs so deep to either side, of the join's length: a front neckline's depth is a third to
/// four fifths of its width (common practice, no source).
const DEEPER: [f64; 4] = [0.35, -0.35, 0.7, -0.7];
/// A line that keeps within `RIM` of the rim, or outside it, over more than this part of its way is none within the piece.
const ALONG_RIM: f64 = 0.25;
/// Light that differs by less than this, as square roots, is noise and grain.
const NOISE: f32 = 0.004;
/// Evidence at which a valley counts half.
const FAINT: f32 = 3.0;
/// An edge is one when it is so many times as evident as the best valley, which blur makes of any edge. (Rendered seams of one cloth 0.07 to 0.09,
/// necklines on the inside 0.3 to 2.4. A valley in the middle of a step moves neither.)
const EDGE: f64 = 0.18;
/// And when one sign of it is so many times as evident as the other: a valley has two flanks.
const ONE_SIDED: f64 = 3.0;
/// A line within the piece keeps at least so far from the rim, mm, but for its way to its ends; the window of a valley must not see the rim.
const RIM: f64 = 3.0;
const LEAVING: f64 = 40.0;
/// A seam shorter than this is taken for a slip of the hand, mm.
const SHORTEST: f64 = 10.0;
/// Given ends may be off by this, mm: some pixels of a pointing hand.
const END_WRONG: f64 = 2.5;
/// A rim this near an end is where the seam ends, mm.
const SNAP: f64 = 3.0;

/// One search: cells along and across, how far to either side, smoothing of what is averaged along and of the result, mm.
struct Pass {
    along: f64,
    across: f64,
    reach: f64,
    average: f64,
    smooth: f64,
    price: f32,
}

/// Follows the seam within the piece from the first of `ends` to the last, `height` mm above the sheet; `rims` are
/// outlines found before, at which an end within 3 mm is snapped.
///
/// # Errors
/// When the points given are less than 10 mm apart along their joins (one alone is), lie outside the picture, or not on the sheet as the
/// view sees it.
pub fn between(
    shot: &Shot,
    view: &View,
    ends: &[Px],
    height: f64,
    rims: &[SeamPath],
    settings: &Settings,
    proof: &mut Proof,
) -> Result<SeamPath, SeamError> {
    let start = Instant::now();
    let size = [shot.width, shot.height];
    let (right, foot) = (size[0] as f64 - 0.5, size[1] as f64 - 0.5);
    if let Some(at) = ends.iter().copied().find(|p| !((-0.5..=right).contains(&p.x) && (-0.5..=foot).contains(&p.y))) {
        return Err(SeamError::PointOutside { at, size });
    }
    let points = ends.iter().map(|p| view.to_mm(*p, height).ok_or(SeamError::PointOffSheet(*p))).collect::<Result<Vec<Mm>, _>>()?;
    let length: f64 = points.windows(2).map(|w| w[0].distance(w[1])).sum();
    if length < SHORTEST {
        return Err(SeamError::PointsMeet { at: ends.first().copied().unwrap_or_default(), length, least: SHORTEST });
    }
    let leg = points.windows(2).map(|w| w[0].distance(w[1])).fold(0.0, f64::max);
    let bow = (BOW * leg).clamp(BOW_LEAST, BOW_MOST);
    let passes = [
        Pass { along: 1.0, across: 0.4, reach: bow, average: 1.0, smooth: 5.0, price: 0.02 },
        Pass { along: 1.0, across: 0.2, reach: 5.0, average: 2.0, smooth: 3.0, price: 0.03 },
        Pass { along: 0.5, across: 0.15, reach: 2.5, average: 4.0, smooth: 2.0, price: 0.05 },
    ];
    let strip = Strip { shot, view, height, settings, rims, ends: [points[0], points[points.len() - 1]] };
    let follow = |width: f64, from: &[Mm]| -> Result<Found, SeamError> {
        let form = form(width, settings.fold);
        let mut path = from.to_vec();
        for pass in &passes {
            path = pass.run(&strip, form, &path)?;
        }
        strip.place(form, &path)
    };
    let mut found = follow(USUAL, &points)?;
    if let [from, to] = points[..]
        && (found.clear < CLEAR || !strip.within_rims(&found.path))
    {
        // Nothing lies in the strip, or the rim does: a neckline bows out farther than that.
        let mut least = CLEAR;
        for deep in DEEPER {
            let other = follow(USUAL, &arc(from, to, deep))?;
            if other.clear > least && strip.within_rims(&other.path) {
                (least, found) = (other.clear, other);
            }
        }
    }
    if found.clear < CLEAR {
        for width in NARROW {
            let other = follow(width, &points)?;
            if other.clear > NARROW_CLEAR && other.lead > found.lead {
                found = other;
            }
        }
        let least = found.lead + WIDE_LEAD;
        for width in WIDE {
            let other = follow(width, &points)?;
            if other.clear > WIDE_CLEAR && other.lead > found.lead.max(least) {
                found = other;
            }
        }
    }
    proof.figure("between", "clear", found.clear);
    proof.time("between", start.elapsed());
    Ok(trimmed(found.path, rims))
}

/// A valley of this width between cloths that may differ.
fn form(width: f64, bright: bool) -> Form {
    const WINDOW: f64 = 13.0 / 3.0;
    Form { width, window: [WINDOW * width; 2], step: true, thread: None, bright }
}

/// An arc from one end to the other, deepest in its middle: `deep` is its depth to the left of the way, of the join's length.
fn arc(from: Mm, to: Mm, deep: f64) -> Vec<Mm> {
    const LEGS: usize = 40;
    let (join, left) = (to - from, nalgebra::Vector2::new((to - from).y, -(to - from).x));
    // An ellipse's half leaves its ends square to the join, as necklines and armholes do.
    let at = |k: usize| {
        let (across, along) = (std::f64::consts::PI * k as f64 / LEGS as f64).sin_cos();
        from + join * (0.5 - 0.5 * along) + left * (deep * across)
    };
    (0..=LEGS).map(at).collect()
}

/// A line as it was found with one width of valley.
struct Found {
    path: SeamPath,
    /// Part of its places that stand out from the cloth beside them.
    clear: f64,
    /// How many times as evident as the cloth beside it the line is, over its length (the middle of the logarithms).
    lead: f64,
}

/// What a line is sought in.
struct Strip<'a> {
    shot: &'a Shot,
    view: &'a View,
    /// Of the cloth above the sheet, mm.
    height: f64,
    settings: &'a Settings,
    rims: &'a [SeamPath],
    /// Where the line starts and ends.
    ends: [Mm; 2],
}

impl Strip<'_> {
    /// Whether a line runs over the cloth, and has neither run to the rim for want of one of its own nor found a line of the bare sheet.
    fn within_rims(&self, path: &SeamPath) -> bool {
        let near = Near::of(self.rims, RIM);
        let areas: Vec<Area> = self.rims.iter().filter_map(|r| Area::new(r.points.iter().map(|p| p.px).collect())).collect();
        // Not in their holes.
        let outside = |p: &SeamPoint| areas.iter().filter(|a| a.holds(p.px)).count() % 2 == 0;
        let along = |p: &&SeamPoint| near.holds(p.at) || !areas.is_empty() && outside(p);
        path.points.iter().filter(along).count() as f64 <= ALONG_RIM * path.points.len() as f64
    }

    /// The picture unrolled along a guide, `reach` mm either way.
    fn band(&self, guide: &Guide, reach: f64, across: f64) -> Band {
        Band::unroll(self.shot, self.view, guide, self.height, reach, across, &self.settings.hidden)
    }

    /// The precise place every `settings.step_mm` along a path that is right to some tenths of a millimetre.
    fn place(&self, form: Form, path: &[Mm]) -> Result<Found, SeamError> {
        const ACROSS: f64 = 0.1;
        const REACH: f64 = 1.2;
        /// What lies as far off as this, widths of the valley and mm beyond, is the cloth beside the seam.
        const BESIDE: [f64; 2] = [2.5, 2.5];
        const ALONG: f64 = 4.0;
        let guide = Guide::new(path, false, 0.25, 1.0).ok_or(SeamError::NoPath)?;
        let beside = [BESIDE[0] * form.width, BESIDE[0] * form.width + BESIDE[1]];
        let band = self.band(&guide, beside[1] + form.window[0], ACROSS);
        let step = ((self.settings.step_mm / guide.step).round() as usize).max(1);
        let kernel = Kernel::new(form, band.across);
        let tones = tones(&band, &guide, step, (ALONG / guide.step) as usize);
        let valleys: Vec<Vec<f32>> = tones.iter().map(|t| kernel.answer(t, NOISE)).collect();
        // Edges by light and not by its square root, in which the darker side would draw them to itself.
        let edge = Kernel::edge(form, band.across);
        let edges = |sign: f32| -> Vec<Vec<f32>> {
            tones.iter().map(|t| edge.answer(&t.iter().map(|v| sign * v * v).collect::<Vec<_>>(), NOISE)).collect()
        };
        let near = |r: &usize| band.offset(*r).abs() <= REACH;
        let best = |evidence: &[f32]| {
            let weighed = |r: &usize| evidence[*r] / (1.0 + (band.offset(*r) as f32).powi(2));
            (0..band.rows()).filter(near).max_by(|a, b| weighed(a).total_cmp(&weighed(b))).unwrap_or(band.half)
        };
        let told = |all: &[Vec<f32>]| median(&mut all.iter().map(|e| f64::from(e[best(e)])).collect::<Vec<_>>()).unwrap_or_default();
        // Where the front ends on the garment's own inside, there is an edge and no valley.
        let (up, down) = (edges(-1.0), edges(1.0));
        let (edges, flank) = if told(&up) > told(&down) { (up, down) } else { (down, up) };
        let all = if told(&edges) > (EDGE * told(&valleys)).max(ONE_SIDED * told(&flank)) { edges } else { valleys };
        let mut leads = Vec::with_capacity(all.len());
        let points = all
            .iter()
            .enumerate()
            .map(|(p, evidence)| {
                let best = best(evidence);
                let (row, bend) = top(evidence, best);
                let cloth = (0..band.rows()).filter(|r| (beside[0]..=beside[1]).contains(&band.offset(*r).abs()));
                // Cloth has valleys of its own everywhere; a seam's stands out from them.
                let lead = evidence[best] / (FAINTEST + high(cloth.map(|r| evidence[r]).collect()));
                leads.push(f64::from(lead.max(1e-3).ln()));
                let stands_out = lead > DISTINCT;
                let seen = evidence[best] > 0.5;
                let d = if seen { (row - band.half as f64) * band.across } else { 0.0 };
                let error = if seen { spread(evidence[best], bend, band.across) } else { 0.7 };
                point(self.view, &guide, p * step, d, error, !(seen && stands_out), self.height)
            })
            .collect();
        let clear = leads.iter().filter(|l| **l > f64::from(DISTINCT).ln()).count() as f64 / leads.len().max(1) as f64;
        let lead = median(&mut leads).unwrap_or_default();
        Ok(Found { path: SeamPath { points, closed: false, correlation_mm: ALONG }, clear, lead })
    }
}

impl Pass {
    /// A better path along `path`.
    fn run(&self, strip: &Strip, form: Form, path: &[Mm]) -> Result<Vec<Mm>, SeamError> {
        let fine = (0.5 * self.along).min(0.3);
        let guide = Guide::new(path, false, fine, 0.0).ok_or(SeamError::NoPath)?;
        let band = strip.band(&guide, self.reach + form.window[0], self.across);
        let step = ((self.along / guide.step).round() as usize).max(1);
        let tone = tones(&band, &guide, step, ((self.average / guide.step) as usize).max(1));
        let kernel = Kernel::new(form, band.across);
        let columns = tone.len();
        let rims = Near::of(strip.rims, RIM.max(form.window[0]));
        let mut cost = Vec::with_capacity(columns * band.rows());
        for (c, t) in tone.iter().enumerate() {
            let evidence = kernel.answer(t, NOISE);
            // At the ends only the rows near the given points are open.
            let open = END_WRONG + c.min(columns - 1 - c) as f64 * self.along;
            cost.extend(evidence.iter().enumerate().map(|(r, v)| {
                let off = band.offset(r).abs();
                if off > open || off > self.reach {
                    return 50.0;
                }
                let column = (c * step).min(guide.len() - 1);
                let at = guide.at[column] + guide.normal[column] * band.offset(r);
                let rim = rims.holds(at) && strip.ends.iter().all(|e| e.distance(at) > LEAVING);
                0.02 + if rim { 1.0 } else { FAINT / (FAINT + v) }
            }));
        }
        let slant = (band.across / (step as f64 * guide.step)) as f32;
        let most = ((1.2 / slant) as usize).clamp(1, 6);
        let rows = best_path(&cost, band.rows(), false, Moves { most, price: self.price * slant, slant });
        let offsets: Vec<f64> = (0..guide.len())
            .map(|k| {
                let x = k as f64 / step as f64;
                let (c, t) = ((x as usize).min(columns - 1), x.fract());
                let next = (c + 1).min(columns - 1);
                band.offset(rows[c]) * (1.0 - t) + band.offset(rows[next]) * t
            })
            .collect();
        let better = Guide::new(&guide.shifted(&offsets), false, fine, self.smooth).ok_or(SeamError::NoPath)?;
        Ok(better.at)
    }
}

/// The path cut where it leaves through a rim near its ends, or led on to the rim when it stops short of it.
fn trimmed(mut path: SeamPath, rims: &[SeamPath]) -> SeamPath {
    for _ in 0..2 {
        path.points.reverse();
        snap_last(&mut path, rims);
    }
    path
}

fn snap_last(path: &mut SeamPath, rims: &[SeamPath]) {
    let n = path.points.len();
    if n < 8 {
        return;
    }
    let end = path.points[n - 1];
    let before = path.points[n.saturating_sub(6)].at;
    let Some(ahead) = (end.at - before).try_normalize(1e-9) else { return };
    // Where the line through the last points meets the rim, from 3 mm before the end to 3 mm beyond.
    let meets = rims.iter().flat_map(|r| {
        let p = &r.points;
        (0..p.len()).filter_map(move |k| crossing(end.at, ahead, p[k].at, p[(k + 1) % p.len()].at))
    });
    let Some(at) = meets.filter(|t| t.abs() <= SNAP).min_by(|a, b| a.abs().total_cmp(&b.abs())) else { return };
    while path.points.len() > 4 && path.points.last().is_some_and(|p| (p.at - end.at).dot(&ahead) > at - 0.1) {
        path.points.pop();
    }
    let mut last = end;
    last.at = end.at + ahead * at;
    last.error = end.error.max(0.2);
    path.points.push(last);
}

/// How far along the line from `from` in direction `ahead` it crosses the stretch from `a` to `b`.
fn crossing(from: Mm, ahead: nalgebra::Vector2<f64>, a: Mm, b: Mm) -> Option<f64> {
    let (leg, off) = (b - a, a - from);
    let det = ahead.perp(&leg);
    if det.abs() < 1e-12 {
        return None;
    }
    let (t, s) = (off.perp(&leg) / det, off.perp(&ahead) / det);
    (0.0..=1.0).contains(&s).then_some(t)
}
