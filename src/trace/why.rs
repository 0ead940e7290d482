//! Why a place of an outline is known badly: what the picture shows beside it, read across the edge.
//!
//! The light is averaged along the edge and read as roots, in which shading is even. What is found is for people: no figure rests on it.

use crate::cloth::SheetLight;
use crate::length::Mm;
use crate::path::SeamPoint;
use crate::proof::Cause;
use crate::shot::Shot;
use crate::view::View;
use nalgebra::Vector2;

/// How far to either side the light is read, how finely, and how far along, mm.
const REACH: f64 = 6.0;
const STEP: f64 = 0.25;
const ALONG: f64 = 3.0;
/// Points of the line this near tell how it was found, mm.
const NEAR: f64 = 5.0;
/// Part of them that must have a flag for it to be the cause.
const FLAGGED: f64 = 0.3;
/// Roots of light that differ by less than this are alike: a tenth of white's light.
const ALIKE: f64 = 0.05;
/// Bare sheet beside the edge with less than this part of its usual light lies in shadow.
const SHADED: f64 = 0.7;
/// A step within the cloth this strong against the edge's own is its rival.
const RIVAL_STEP: f64 = 0.6;
/// Light on either side of the edge is read this far off it, mm.
const SIDES: (f64, f64) = (1.2, 4.0);
/// An edge is blurred from this Gaussian width on, px: what a fresh picture is called soft at.
const SOFT: f64 = 2.5;
/// Of all ups and downs across the edge so much must be its own for a blur to be told by them.
const ONE_STEP: f64 = 0.8;
/// This near a corner the corner is a cause, mm.
const CORNER: f64 = 6.0;
/// Causes told of one place.
const TOLD: usize = 2;

/// What is looked at.
pub(super) struct Look<'a> {
    pub shot: &'a Shot,
    pub view: &'a View,
    pub height: f64,
    pub light: &'a SheetLight,
}

/// Roots of the light across the edge, from inside to outside, of each channel.
struct Across(Vec<(f64, [f64; 3])>);

/// Light added before logarithms are taken: black is noise.
const BLACK: f64 = 0.004;

impl Look<'_> {
    /// Logarithms of light at a place of the cloth, by channel; not a number beyond the picture.
    pub fn logarithms(&self, at: Mm) -> [f64; 3] {
        let light = self.shot.sample(self.view.to_px(at, self.height));
        light.map_or([f64::NAN; 3], |v| v.map(|v| (f64::from(v.max(0.0)) + BLACK).ln()))
    }

    /// Why the edge at `at` is known badly; `line` is what was found of it, `corner` how far the nearest corner is, mm.
    pub fn why(&self, at: Mm, normal: Vector2<f64>, line: &[SeamPoint], corner: f64) -> Vec<Cause> {
        let near: Vec<&SeamPoint> = line.iter().filter(|p| p.at.distance(at) < NEAR).collect();
        let flagged = |is: fn(&SeamPoint) -> bool| near.iter().filter(|p| is(p)).count() as f64 > FLAGGED * near.len() as f64;
        let across = self.across(at, normal);
        let (inside, outside) = (across.mean(-SIDES.1, -SIDES.0), across.mean(SIDES.0, SIDES.1));
        let (Some(inside), Some(outside)) = (inside, outside) else { return vec![Cause::Hidden] };
        let step = apart(inside, outside);
        let mut causes = Vec::new();
        let mut tell = |is: bool, cause: Cause| {
            if is && causes.len() < TOLD {
                causes.push(cause)
            }
        };
        tell(near.is_empty() || flagged(|p| p.flags.unseen), Cause::Hidden);
        tell(step < ALIKE, Cause::LowContrast);
        let within = across.strongest(-REACH, -SIDES.0);
        tell(step >= ALIKE && within > RIVAL_STEP * step, Cause::Print);
        tell(within <= RIVAL_STEP * step && flagged(|p| p.flags.rival), Cause::Rivals);
        tell(self.shaded(at, normal, outside), Cause::Shadow);
        tell(corner >= CORNER && across.blur().is_some_and(|mm| mm * self.view.px_per_mm(at) > SOFT), Cause::Blur);
        tell(corner < CORNER, Cause::Corner);
        if causes.is_empty() { vec![Cause::Uneven] } else { causes }
    }

    /// How far cloth and sheet are apart in the channel that tells them best, as roots of light.
    pub fn contrast(&self, at: Mm, normal: Vector2<f64>) -> f64 {
        let across = self.across(at, normal);
        let sides = across.mean(-SIDES.1, -SIDES.0).zip(across.mean(SIDES.0, SIDES.1));
        sides.map_or(0.0, |(inside, outside)| apart(inside, outside))
    }

    fn across(&self, at: Mm, normal: Vector2<f64>) -> Across {
        let tangent = Vector2::new(-normal.y, normal.x);
        let count = (2.0 * REACH / STEP) as i32;
        let columns = (ALONG / STEP) as i32;
        let rows = (0..=count).filter_map(|r| {
            let off = -REACH + f64::from(r) * STEP;
            let mut sum = [0.0; 3];
            let mut n = 0;
            for c in -columns..=columns {
                let place = at + normal * off + tangent * (f64::from(c) * STEP);
                if let Some(v) = self.shot.sample(self.view.to_px(place, self.height)) {
                    (0..3).for_each(|k| sum[k] += f64::from(v[k].max(0.0)).sqrt());
                    n += 1;
                }
            }
            (n > columns).then(|| (off, sum.map(|s| s / f64::from(n))))
        });
        Across(rows.collect())
    }

    /// Whether the sheet beside the edge has lost much of its light; lines of a ruling take less of it.
    fn shaded(&self, at: Mm, normal: Vector2<f64>, outside: [f64; 3]) -> bool {
        let full = self.light.at(self.view.to_px(at + normal * SIDES.1, 0.0));
        let left = outside.iter().zip(full).map(|(o, f)| o * o / f64::from(f).max(1e-4));
        left.fold(0.0, f64::max) < SHADED
    }
}

impl Across {
    /// Mean of the rows from one offset to another.
    fn mean(&self, from: f64, to: f64) -> Option<[f64; 3]> {
        let rows: Vec<&[f64; 3]> = self.0.iter().filter(|(o, _)| (from..=to).contains(o)).map(|(_, v)| v).collect();
        (!rows.is_empty()).then(|| std::array::from_fn(|k| rows.iter().map(|v| v[k]).sum::<f64>() / rows.len() as f64))
    }

    /// The strongest step over a millimetre between two offsets.
    fn strongest(&self, from: f64, to: f64) -> f64 {
        let at = self.0.iter().map(|(o, _)| *o).filter(|o| (from + 1.0..=to - 1.0).contains(o));
        let steps = at.filter_map(|o| Some(apart(self.mean(o - 1.0, o - 0.25)?, self.mean(o + 0.25, o + 1.0)?)));
        steps.fold(0.0, f64::max)
    }

    /// Gaussian width of the edge, mm, where there is one step and no more: it rises by 1 / (σ √2π) of itself at its steepest.
    fn blur(&self) -> Option<f64> {
        let near: Vec<&[f64; 3]> = self.0.iter().filter(|(o, _)| o.abs() <= SIDES.1).map(|(_, v)| v).collect();
        let (first, last) = (near.first()?, near.last()?);
        let best = (0..3).max_by(|a, b| (last[*a] - first[*a]).abs().total_cmp(&(last[*b] - first[*b]).abs()))?;
        let rises: Vec<f64> = near.windows(2).map(|w| (w[1][best] - w[0][best]).abs()).collect();
        let (step, steepest) = ((last[best] - first[best]).abs(), rises.iter().copied().fold(0.0, f64::max) / STEP);
        let one = step > ALIKE && step > ONE_STEP * rises.iter().sum::<f64>();
        one.then(|| step / steepest / (2.0 * std::f64::consts::PI).sqrt())
    }
}

/// How far two tones are apart in the channel that tells them best.
fn apart(a: [f64; 3], b: [f64; 3]) -> f64 {
    (0..3).map(|k| (a[k] - b[k]).abs()).fold(0.0, f64::max)
}
