//! A scan's scale held against the resolution that its file gives, axis by axis.

use super::wanted::Wanted;
use crate::grid::Lattice;
use crate::length::{Mm, Px};
use crate::proof::Doubt;
use crate::sheet::SheetKind;
use crate::shot::Shot;
use crate::view::{Model, Solved};

/// A scan's resolution and what it is held against may differ by this share before it is worth a word: twice what printed sheets
/// are out by, and cheap scanners with them.
const MISMATCH: f64 = 0.005;

/// The doubt where the sheet's ruling, or the places given on a plain one, say another resolution than the file.
pub(super) fn mismatch(shot: &Shot, lattice: &Lattice, solved: &Solved, wanted: &Wanted) -> Option<Doubt> {
    let (Model::Scan { matrix: [a, b, c, d, ..] }, Some(told)) = (solved.view.model, shot.tags.px_per_mm) else { return None };
    let places = lattice.kind == SheetKind::Plain;
    let known = if places { by_places(&wanted.at, solved.rms_px) } else { [0.0; 2] };
    // Rows of the map belong to the picture's own axes, however the sheet was turned.
    let scale = [a.hypot(b), c.hypot(d)];
    let seen = [0, 1].map(|k| {
        let off = (scale[k] / told[k] - 1.0).abs();
        (off > MISMATCH.max(known[k])).then_some(25.4 * scale[k])
    });
    (seen != [None; 2]).then(|| Doubt::DpiMismatch { told: told.map(|t| 25.4 * t), seen, places })
}

/// Relative standard error of the scale along each axis of the picture by the places alone, which leave at least a pixel (common
/// practice, no source). Infinite where they do not reach along it: there the map goes by the other axis.
fn by_places(at: &[(Px, Mm)], rms_px: f64) -> [f64; 2] {
    let along: [fn(&Px) -> f64; 2] = [|p| p.x, |p| p.y];
    along.map(|along| {
        let mean = at.iter().map(|p| along(&p.0)).sum::<f64>() / at.len().max(1) as f64;
        let reach = at.iter().map(|p| (along(&p.0) - mean).powi(2)).sum::<f64>().sqrt();
        rms_px.max(1.0) / reach
    })
}
