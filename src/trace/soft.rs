//! How much a picture is blurred, by the cloth's rims or by the sheet's lines, and whether along one direction more than along the others.

use super::retake::luminance;
use crate::cloth::Cloth;
use crate::grid::Lattice;
use crate::sheet::SheetKind;
use crate::shot::Shot;
use crate::view::View;

/// Lines of ruled paper and of mats are about this wide, mm, where squares are no wider than that, mm (common practice, no source).
const LINE: f64 = 0.5;
const PAPER: f64 = 30.0;

/// Blur, px (Gaussian): of the rims, or of the sheet's lines where cloth and sheet are too alike, or too shaded beside each other, for a
/// rim to be one clean step.
pub(super) fn blur(shot: &Shot, lattice: &Lattice, view: &View, cloth: &Cloth) -> Option<f64> {
    rims(shot, cloth).or_else(|| lines(lattice, view))
}

/// By the usual line's width, less what a printed line has by itself.
fn lines(lattice: &Lattice, view: &View) -> Option<f64> {
    let ruled = matches!(lattice.kind, SheetKind::Lines | SheetKind::Mat | SheetKind::Coded) && lattice.pitch[0] <= PAPER;
    let middle = lattice.nodes.get(lattice.nodes.len() / 2).filter(|_| ruled && lattice.mark_half_width > 0.0)?;
    let px_per_mm = view.px_per_mm(lattice.place(f64::from(middle.i), f64::from(middle.j)));
    // Half the width at half depth of a Gaussian is 1.177 deviations; a box of width w has w / √12.
    let (seen, own) = (lattice.mark_half_width * px_per_mm / 1.177, LINE * px_per_mm / 12f64.sqrt());
    Some((seen * seen - own * own).max(0.0).sqrt())
}

/// √2π: a Gaussian step rises by 1 / (σ √2π) at its steepest, one made by even motion over its whole length.
pub(super) const SQRT_TAU: f64 = 2.506_628_274_631_000_2;
/// Share of the places that are sharper than what is told: cloth is soft in itself at the others.
const SHARPER: f64 = 0.2;
/// Fewest places that tell.
const FEW: usize = 20;

/// Blur across the rims, px (Gaussian), of the sharper places.
fn rims(shot: &Shot, cloth: &Cloth) -> Option<f64> {
    sharper(steps(shot, cloth).into_iter().map(|s| s.1).collect(), FEW)
}

fn sharper(mut blurs: Vec<f64>, few: usize) -> Option<f64> {
    let at = (blurs.len() as f64 * SHARPER) as usize;
    (blurs.len() >= few).then(|| *blurs.select_nth_unstable_by(at, f64::total_cmp).1)
}

/// Blur (px, as of a Gaussian) across rims that run across the camera's motion, where those along it are clearly sharper.
pub(super) fn moved(shot: &Shot, cloth: &Cloth) -> Option<f64> {
    const SECTORS: usize = 6;
    const CLEARLY: f64 = 1.8;
    const LEAST: f64 = 1.6;
    let mut sectors: [Vec<f64>; SECTORS] = Default::default();
    for (normal, blur) in steps(shot, cloth) {
        let turn = normal.y.atan2(normal.x).rem_euclid(std::f64::consts::PI) / std::f64::consts::PI;
        sectors[((turn * SECTORS as f64) as usize).min(SECTORS - 1)].push(blur);
    }
    let told: Vec<f64> = sectors.into_iter().filter_map(|s| sharper(s, FEW / 2)).collect();
    let (least, most) = told.iter().fold((f64::INFINITY, 0.0f64), |(a, b), v| (a.min(*v), b.max(*v)));
    (most > LEAST && most > CLEARLY * least).then_some(most)
}

/// Normals of places along the rims where light climbs in one step, and its blur, px (Gaussian).
fn steps(shot: &Shot, cloth: &Cloth) -> Vec<(nalgebra::Vector2<f64>, f64)> {
    const REACH: i32 = 12;
    const ONE_STEP: f64 = 0.8;
    let mut all = Vec::new();
    for rim in cloth.regions.iter().map(|r| &r.rim).filter(|r| r.len() > 12) {
        for k in (0..rim.len()).step_by((rim.len() / 200).max(1)) {
            let along = rim[(k + 4) % rim.len()] - rim[(k + rim.len() - 4) % rim.len()];
            let Some(t) = along.try_normalize(1e-9) else { continue };
            let normal = nalgebra::Vector2::new(t.y, -t.x);
            let light: Option<Vec<f64>> = (-REACH..=REACH).map(|d| luminance(shot, rim[k] + normal * f64::from(d))).collect();
            let Some(light) = light else { continue };
            let step = (light[light.len() - 1] + light[light.len() - 2] - light[0] - light[1]).abs() / 2.0;
            let slope = light.windows(2).map(|w| (w[1] - w[0]).abs()).fold(0.0, f64::max);
            let climbed = light.windows(2).map(|w| (w[1] - w[0]).abs()).sum::<f64>();
            // Beside a checker's edge or a line there is more than one step.
            if step > 0.05 && slope > 0.0 && step > ONE_STEP * climbed {
                all.push((normal, step / slope / SQRT_TAU));
            }
        }
    }
    all
}
