//! How much a picture is blurred, by the cloth's rims or by the sheet's lines.

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

/// Blur across the rims, px (Gaussian), of the sharper places: cloth is soft in itself at others.
fn rims(shot: &Shot, cloth: &Cloth) -> Option<f64> {
    const REACH: i32 = 12;
    const SHARPER: f64 = 0.2;
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
            // Beside a checker's edge or a line there is more than one step. A Gaussian one rises by 1 / (σ √2π) at its steepest.
            if step > 0.05 && slope > 0.0 && step > ONE_STEP * climbed {
                all.push(step / slope / (2.0 * std::f64::consts::PI).sqrt());
            }
        }
    }
    let at = (all.len() as f64 * SHARPER) as usize;
    (all.len() >= 20).then(|| *all.select_nth_unstable_by(at, f64::total_cmp).1)
}
