//! A round mark made precise: its rim along rays, and the circle nearest to that on the sheet.
//!
//! Fitted in millimetres, so that the centre is the sticker's own and not that of the ellipse it is seen as.

use super::rim::{Axis, Light, mean};
use crate::length::{Mm, Px};
use crate::shot::Shot;
use crate::solve::{circle, median};
use crate::view::View;
use nalgebra::Vector2;

/// Rays.
const RAYS: usize = 64;
/// Distance of samples along them, px.
const STEP: f64 = 0.3;
/// Rounds of fitting from the circle found before.
const ROUNDS: usize = 3;
/// The mark's own light is taken within this share of its radius; what lies beside it from so many px beyond the rim over so many mm.
const INNER: f64 = 0.55;
const BESIDE_PX: f64 = 1.5;
const BESIDE_MM: f64 = 1.0;
/// Share of the rays that must find the rim in the end, and from a poor guess.
const MOST_RAYS: f64 = 0.7;
const FEW_RAYS: f64 = 0.4;
/// How far the rim may lie off the circle (one standard deviation): of the radius, and px.
const UNROUND: f64 = 0.06;
const UNROUND_PX: f64 = 0.15;

/// A round mark.
pub(super) struct Disc {
    /// Its centre on the sheet's plane.
    pub at: Mm,
    /// Its radius there, mm.
    pub radius: f64,
    /// Standard error of the centre, mm.
    pub error: f64,
    /// Its own light.
    pub light: Light,
}

/// The disc near `px` of a radius of about `radius` mm; `None` when what is there is not round.
pub(super) fn disc(shot: &Shot, view: &View, px: Px, radius: f64) -> Option<Disc> {
    let (mut at, mut radius) = (view.to_mm(px, 0.0)?, radius);
    let pixel = 1.0 / view.px_per_mm(at).max(1e-3);
    let mut last = None;
    for _ in 0..ROUNDS {
        let light = own_light(shot, view, at, radius)?;
        let points = rim(shot, view, at, radius, pixel, light)?;
        let kept = belonging(&points)?;
        let fit = circle(&kept)?;
        let spread = fit.residual / (kept.len() as f64).sqrt();
        // Rays that start from a poor guess may miss; those of the last round may not.
        if (kept.len() as f64) < FEW_RAYS * RAYS as f64 || !(0.3..3.0).contains(&(fit.radius / radius)) {
            return None;
        }
        (at, radius) = (Mm::from(fit.centre), fit.radius);
        last = Some((spread, kept.len(), light));
    }
    let (spread, count, light) = last?;
    // Neighbouring rays share pixels: about a third of them are news.
    let error = (spread * (6.0 / count as f64).sqrt()).max(0.01);
    let round = spread <= UNROUND * radius + UNROUND_PX * pixel && count as f64 >= MOST_RAYS * RAYS as f64;
    round.then_some(Disc { at, radius, error, light })
}

/// The median light of the mark's inner part, which a highlight does not move.
fn own_light(shot: &Shot, view: &View, at: Mm, radius: f64) -> Option<Light> {
    let mut samples = Vec::new();
    for ring in [0.0, 0.35, 0.7, 1.0] {
        for k in 0..16 {
            let (s, c) = (k as f64 * std::f64::consts::TAU / 16.0).sin_cos();
            let p = view.to_px(at + Vector2::new(c, s) * (ring * INNER * radius), 0.0);
            samples.push(shot.sample(p)?);
        }
    }
    let middle = |c: usize| median(&mut samples.iter().map(|s| f64::from(s[c])).collect::<Vec<_>>()).unwrap_or_default();
    Some(std::array::from_fn(middle))
}

/// What a ray crosses: samples from within the rim to beyond it.
struct Ray {
    along: Vector2<f64>,
    samples: Vec<Light>,
    /// First of the samples that lies clear of the rim.
    clear: usize,
}

impl Ray {
    /// `turn` of the way round; `None` where it leaves the picture.
    fn new(shot: &Shot, view: &View, at: Mm, radius: f64, pixel: f64, turn: f64) -> Option<Self> {
        let (s, c) = (turn * std::f64::consts::TAU).sin_cos();
        let along = Vector2::new(c, s);
        let (from, step) = (INNER * radius, STEP * pixel);
        let beside = radius + BESIDE_PX * pixel;
        let count = ((beside + BESIDE_MM - from) / step).ceil() as usize + 1;
        let sample = |k: usize| shot.sample(view.to_px(at + along * (from + k as f64 * step), 0.0)).map(|v| v.map(f64::from));
        let samples = (0..count).map(sample).collect::<Option<Vec<Light>>>()?;
        Some(Self { along, samples, clear: ((beside - from) / step) as usize })
    }

    fn beside(&self) -> &[Light] {
        &self.samples[self.clear..]
    }
}

/// Where the rays pass the rim.
fn rim(shot: &Shot, view: &View, at: Mm, radius: f64, pixel: f64, light: Light) -> Option<Vec<Vector2<f64>>> {
    let rays: Vec<Ray> = (0..RAYS).filter_map(|k| Ray::new(shot, view, at, radius, pixel, k as f64 / RAYS as f64)).collect();
    let round: Vec<Light> = rays.iter().flat_map(|r| r.beside()).copied().collect();
    let axis = Axis::new(light, &round)?;
    let (from, step) = (INNER * radius, STEP * pixel);
    let place = |r: &Ray| {
        let place = axis.edge(&r.samples, mean(r.beside())?, (radius - from) / step)?;
        Some((at + r.along * (from + place * step)).vector())
    };
    Some(rays.iter().filter_map(place).collect())
}

/// The points that lie on one circle; a stripe or a ruled line beside the rim moves some away.
fn belonging(points: &[Vector2<f64>]) -> Option<Vec<Vector2<f64>>> {
    let mut kept = points.to_vec();
    for _ in 0..3 {
        let fit = circle(&kept)?;
        let off = |p: &Vector2<f64>| ((p - fit.centre).norm() - fit.radius).abs();
        let usual = median(&mut points.iter().map(off).collect::<Vec<_>>())?;
        kept = points.iter().copied().filter(|p| off(p) <= 4.5 * usual.max(0.01)).collect();
    }
    Some(kept)
}
