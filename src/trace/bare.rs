//! The picture of the bare sheet that goes with a garment's, brought to the same axes.
//!
//! In: both pictures. Out: the bare one with its view in the axes of the garment's, or a doubt. Goes wrong: on a sheet without a code
//! nothing but the place it was taken from tells which square is which, so both must be taken from about the same place.

use super::error::TraceError;
use super::joint::Placement;
use super::session::Session;
use super::wanted::Wanted;
use crate::cloth::BareSheet;
use crate::grid::Lattice;
use crate::notes::ShotNotes;
use crate::proof::Proof;
use crate::shot::Shot;
use crate::solve::median;
use crate::view::View;
use nalgebra::Vector2;
use std::sync::Arc;

/// Part of a square by which most nodes may be off whole squares, or the camera stood elsewhere.
const OFF: f64 = 0.3;

/// The bare sheet as the garment's picture has it. `None` where the two don't go together.
///
/// # Errors
/// No sheet is found in the bare picture.
pub(super) fn sheet(
    bare: &Arc<Shot>,
    (shot, lattice, view): (&Shot, &Lattice, &View),
    wanted: &Wanted,
    proof: &mut Proof,
) -> Result<Option<BareSheet>, TraceError> {
    let mut sheet = wanted.sheet.clone();
    if sheet.pitch[0] == sheet.pitch[1] && lattice.pitch[0] != lattice.pitch[1] {
        // It is one sheet, as long one way as the garment's picture found it.
        let oblong = (lattice.pitch[0] / lattice.pitch[1]).sqrt();
        sheet.pitch = [sheet.pitch[0] * oblong, sheet.pitch[1] / oblong];
    }
    let wanted = Wanted { sheet, as_ruled: true, at: Vec::new(), inner: Vec::new(), notes: ShotNotes::default(), ..wanted.clone() };
    let mut session = Session::new(bare.clone(), wanted);
    let mut found = || -> Result<Option<View>, TraceError> {
        let (own, _) = session.views(proof)?;
        let by = match (own.code, lattice.code) {
            (None, None) => placement(own, [bare.width, bare.height], (lattice, view, [shot.width, shot.height])),
            (own, code) => (own == code).then(Placement::default),
        };
        let Some(by) = by else { return Ok(None) };
        if by != Placement::default() {
            session.placed(by, proof)?;
        }
        Ok(Some(session.views(proof)?.1.view.clone()))
    };
    match found() {
        Ok(view) => Ok(view.map(|view| BareSheet { shot: bare.clone(), view })),
        Err(e) => Err(TraceError::Bare(Box::new(e))),
    }
}

/// How the lattice of one picture lies on another's, both taken from about the same place: the quarter turn and the whole squares that
/// leave its nodes least out of place. `None` where that is no whole number of squares.
fn placement(own: &Lattice, size: [usize; 2], (lattice, view, other): (&Lattice, &View, [usize; 2])) -> Option<Placement> {
    let scale = [0, 1].map(|k| other[k] as f64 / size[k] as f64);
    let ways = Placement::ways().filter(|w| !w.mirrored).filter_map(|way| {
        let off = own.nodes.iter().filter_map(|n| {
            let at = crate::length::Px::new(n.at.x * scale[0], n.at.y * scale[1]);
            let ruled = lattice.lay.ruled(view.to_mm(at, 0.0)?);
            let here = Vector2::new(ruled.x / lattice.pitch[0], ruled.y / lattice.pitch[1]);
            let [i, j] = way.address([n.i, n.j]);
            Some(here - Vector2::new(f64::from(i), f64::from(j)))
        });
        let off: Vec<Vector2<f64>> = off.filter(|v| v.x.is_finite() && v.y.is_finite()).collect();
        let middle = |k: usize| median(&mut off.iter().map(|v| v[k]).collect::<Vec<_>>());
        let by = [middle(0)?, middle(1)?];
        let spread = median(&mut off.iter().map(|v| (v.x - by[0]).hypot(v.y - by[1])).collect::<Vec<_>>())?;
        Some((spread, by, way))
    });
    let (_, by, way) = ways.min_by(|a, b| a.0.total_cmp(&b.0))?;
    let near = by.iter().all(|v| (v - v.round()).abs() < OFF);
    near.then(|| Placement { by: by.map(|v| v.round() as i32), ..way })
}
