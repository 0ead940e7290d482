//! Cloth on a ground without ruling: told by colour and brightness alone.
//!
//! The ground is what fills most of the picture's border. Its light is a smooth field, as on a ruled sheet; every pixel is held
//! against it. Nothing tells a soft shadow from grey cloth here but how deep it is, so a shadow of a quarter counts as cloth and
//! it is left to `seam` to find the rim inside it.

use super::evidence::{Bare, CLEAR, Evidence, Noise, Tell, colour, ratio, shade};
use super::ground::Ground;
use super::light::{Sample, SheetLight};
use super::told::Told;
use super::{Cloth, ClothError, Settings, Side, contour, label, looks, pieces};
use crate::proof::{Doubt, Proof};
use crate::view::{Model, View};
use rayon::prelude::*;
use std::collections::BTreeMap;

/// Distance of samples, level px.
const EVERY: usize = 12;
/// Share of the picture's sides that is its border.
const BORDER: f64 = 0.06;
/// Width of a cell in which colours of the border count as alike, and how far from the commonest a sample may lie, natural
/// logarithms of light: brightness and colour.
const CELL: f32 = 0.2;
const NEAR: [f32; 2] = [0.7, 0.3];
/// Shadow beside cloth takes up to this much of the ground's light (natural logarithm) before it counts as cloth.
const SHADE: f32 = 0.25;
/// A dark ground's light is so little that its logarithm means nothing below this floor.
pub(super) const FLOOR: f32 = 0.01;
/// Leaning towards bare ground of a pixel that looks like it.
const REST: f32 = -0.5;
/// A part that touches the frame and reaches in by less than this share of the shorter side is the ground's own margin: the
/// sheet's end, a lid's edge.
const MARGIN: f64 = 0.12;

/// Finds what lies on a plain ground.
///
/// # Errors
/// As [`super::find`].
pub(super) fn find(ground: &Ground, view: &View, settings: &Settings, told: &Told, proof: &mut Proof) -> Result<Cloth, ClothError> {
    let samples = samples(ground);
    let level = &ground.level;
    let light = SheetLight::fit(&samples, level.factor, level.width, level.height).ok_or(ClothError::NoBareSheet)?;
    let noise = Noise::of(&samples, ground, &light, [1.0; 3]);
    let mut evidence = look(ground, &Bare { light: &light, noise, filled: None, marks: None });
    told.settle(&mut evidence);
    let (mut labels, mut grid) = label::label(&evidence, noise);
    drop_margins(ground, &mut labels);
    // A scanner's bed is even, and what shines through a thin edge there is cloth.
    if matches!(view.model, Model::Pinhole { .. }) {
        looks::settle(ground, &light, &mut evidence, noise, told, &mut grid, &mut labels);
        drop_margins(ground, &mut labels);
    }
    told.obey(&mut labels);
    proof.figure("cloth", "ground scatter", noise.shade.into());
    proof.picture("cloth", "evidence", || super::drawn::evidence(&evidence, &labels));
    let mut cloth = pieces::sort(ground, &evidence, &labels, view, settings)?;
    cloth.light = light;
    // Specks of dust and the marks themselves are expected on a plain ground: only large things are worth a word.
    if let Some(Doubt::ThingsLeftOut { things, .. }) = cloth.doubts.first_mut() {
        *things = cloth.others.len();
    }
    Ok(cloth)
}

/// Samples of the ground: those whose colour is near the commonest of the border.
fn samples(ground: &Ground) -> Vec<Sample> {
    let (w, h) = (ground.level.width, ground.level.height);
    let at = |x: usize, y: usize| ground.level.rgb[y * w + x];
    let rim = ((w.min(h) as f64) * BORDER).max(3.0) as usize;
    let mut cells: BTreeMap<[i32; 3], (usize, [f32; 3])> = BTreeMap::new();
    let grid = || (EVERY / 2..h).step_by(EVERY).flat_map(|y| (EVERY / 2..w).step_by(EVERY).map(move |x| (x, y)));
    let border = (0..h).step_by(3).flat_map(|y| (0..w).step_by(3).map(move |x| (x, y)));
    for (x, y) in border.filter(|&(x, y)| x < rim || y < rim || x + rim >= w || y + rim >= h) {
        let log = at(x, y).map(|v| (v + FLOOR).ln());
        let cell = cells.entry(log.map(|v| (v / CELL).floor() as i32)).or_default();
        cell.0 += 1;
        (0..3).for_each(|k| cell.1[k] += log[k]);
    }
    let Some((_, &(count, sum))) = cells.iter().max_by_key(|c| c.1.0) else { return Vec::new() };
    let common = sum.map(|s| (s / count as f32).exp());
    let alike = |v: [f32; 3]| {
        let r: [f32; 3] = std::array::from_fn(|k| ((v[k] + FLOOR) / common[k]).ln());
        shade(r).abs() < NEAR[0] && colour(r) < NEAR[1]
    };
    grid().filter(|&(x, y)| alike(at(x, y))).map(|(x, y)| Sample { x: x as f64, y: y as f64, rgb: at(x, y) }).collect()
}

/// What every pixel says.
fn look(ground: &Ground, bare: &Bare) -> Evidence {
    let (width, height) = (ground.level.width, ground.level.height);
    let n = width * height;
    let mut out = Evidence { width, height, lean: vec![0.0; n], shade: vec![0.0; n], tell: vec![Tell::Open; n], present: vec![false; n] };
    let noise = bare.noise;
    let rows = out.lean.par_chunks_mut(width).zip(out.shade.par_chunks_mut(width));
    let rows = rows.zip(out.tell.par_chunks_mut(width)).zip(out.present.par_chunks_mut(width));
    rows.enumerate().for_each_init(Vec::new, |lights, (y, (((lean, shades), tells), present))| {
        bare.light.row(y, width, lights);
        for x in 0..width {
            let lit = |v: [f32; 3]| v.map(|v| v + FLOOR);
            let r = ratio(lit(ground.level.rgb[y * width + x]), lit(lights[x]));
            let (s, c) = (shade(r), colour(r) / (0.06 + 3.5 * noise.colour));
            let (bright, dark) = ((s - 0.08 - 4.0 * noise.shade) / 0.08, (-SHADE - 4.0 * noise.shade - s) / 0.08);
            let said = (c * c - 1.0).max(bright).max(dark).min(CLEAR);
            shades[x] = s;
            (lean[x], present[x]) = if said > 0.0 { (said, false) } else { (REST, true) };
            if said >= CLEAR / 2.0 {
                tells[x] = Tell::Other;
            }
        }
    });
    out
}

/// Takes away what only hugs the frame.
fn drop_margins(ground: &Ground, labels: &mut [bool]) {
    let (w, h) = (ground.level.width, ground.level.height);
    let (ids, parts) = contour::parts(labels, w);
    for part in parts {
        let touching = pieces::touching(&ids, w, h, &part);
        let along: usize = touching.iter().map(|t: &(Side, usize)| t.1).sum();
        if along > 3 && (part.count as f64) < MARGIN * w.min(h) as f64 * along as f64 {
            (part.y[0]..part.y[1])
                .flat_map(|y| y * w + part.x[0]..y * w + part.x[1])
                .filter(|&n| ids[n] == part.id)
                .for_each(|n| labels[n] = false);
        }
    }
}
