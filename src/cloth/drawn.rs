//! Check pictures of the stage.

use super::Cloth;
use super::evidence::Evidence;
use crate::length::Px;
use crate::shot::{Level, to_level};
use image::{Rgb, RgbImage};

/// What every pixel leans to, cloth red and sheet blue, over how dark it is; what was cut out as covered tinted.
pub(super) fn evidence(evidence: &Evidence, labels: &[bool]) -> RgbImage {
    RgbImage::from_fn(evidence.width as u32, evidence.height as u32, |x, y| {
        let n = y as usize * evidence.width + x as usize;
        let v = (evidence.lean[n] * 30.0).clamp(-120.0, 120.0);
        let shade = (evidence.shade[n] * 60.0).clamp(-100.0, 30.0);
        let tint = if labels[n] { 40.0 } else { 0.0 };
        Rgb([(120.0 + v + shade).clamp(0.0, 255.0) as u8, (120.0 + shade + tint) as u8, (120.0 - v + shade).clamp(0.0, 255.0) as u8])
    })
}

/// The level with rims and holes drawn on it, and a bar at each thing that is no piece.
pub(super) fn regions(level: &Level, cloth: &Cloth) -> RgbImage {
    let mut out = RgbImage::from_fn(level.width as u32, level.height as u32, |x, y| {
        let v = level.rgb[y as usize * level.width + x as usize];
        Rgb(v.map(|v| (v.max(0.0).sqrt() * 200.0).min(255.0) as u8))
    });
    let mut dot = |p: Px, c: [u8; 3]| {
        let (x, y) = to_level(level.factor, p);
        if x >= 0.0 && y >= 0.0 && (x.round() as u32) < out.width() && (y.round() as u32) < out.height() {
            out.put_pixel(x.round() as u32, y.round() as u32, Rgb(c));
        }
    };
    for r in &cloth.regions {
        r.rim.iter().for_each(|&p| dot(p, [255, 0, 0]));
        r.holes.iter().flatten().for_each(|&p| dot(p, [0, 160, 255]));
    }
    cloth.others.iter().for_each(|&p| (-3..=3).for_each(|k| dot(Px::new(p.x + f64::from(k * 4), p.y), [255, 0, 255])));
    out
}
