//! Pictures without a ruled sheet: what stands for the lattice, and the view from given points or a scanner's resolution.

use super::error::TraceError;
use super::lens::ChosenLens;
use super::wanted::Wanted;
use crate::grid::{self, GridError, Lattice};
use crate::proof::{Doubt, Proof};
use crate::sheet::{SheetKind, SheetProfile};
use crate::shot::Shot;
use crate::view::{self, GivenError, Solved, by_dpi, by_points};

/// A pitch that stands for one nobody told, mm.
const ANY: f64 = 10.0;

/// Any ruled sheet, whatever its kind and pitch.
pub(super) fn any_ruling() -> SheetProfile {
    SheetProfile { kind: None, pitch: [ANY; 2], ..SheetProfile::plain() }
}

/// The lattice of a ground without marks.
pub(super) fn lattice() -> Lattice {
    Lattice { kind: SheetKind::Plain, pitch: [0.0; 2], ..Lattice::default() }
}

/// Whether a picture in which no lattice was found may be traced all the same: a scan whose resolution a person trusts.
pub(super) fn instead(error: &GridError, shot: &Shot, wanted: &Wanted) -> bool {
    let none =
        matches!(error, GridError::NoGrid { .. } | GridError::TooFew { .. } | GridError::Blurred { .. } | GridError::TooBright { .. });
    none && wanted.trust_dpi && shot.tags.px_per_mm.is_some()
}

/// The pitch, by the resolution that is trusted, of a ruling in a scan that was taken for one of a plain ground: its lines run from the frame
/// into the cloth, which is then found cut off.
pub(super) fn ruling(shot: &Shot, wanted: &Wanted, proof: &mut Proof) -> Option<GivenError> {
    let [x, y] = shot.tags.px_per_mm.filter(|_| wanted.trust_dpi)?;
    let lattice = grid::find(shot, &any_ruling(), &grid::Settings::default(), proof).ok()?;
    let settings = view::Settings { kind: Some(view::Kind::Scan), ..view::Settings::default() };
    let [least, most] = view::solve(&lattice, (shot.width, shot.height), &shot.tags, &settings, proof).ok()?.px_per_mm;
    Some(GivenError::Ruled { pitch: ANY * (least * most / (x * y)).sqrt() })
}

/// The view by given points, or by the resolution when it is trusted.
pub(super) fn view(shot: &Shot, wanted: &Wanted) -> Result<Solved, TraceError> {
    let size = (shot.width, shot.height);
    if !wanted.at.is_empty() {
        let lens = match &wanted.lens {
            Some(ChosenLens { profile, .. }) => Some(profile.upright(&shot.tags, [shot.width, shot.height])?),
            None => None,
        };
        return Ok(by_points(&wanted.at, size, &shot.tags, lens)?);
    }
    if !wanted.trust_dpi {
        return Err(GivenError::NoScale.into());
    }
    let mut solved = by_dpi(size, &shot.tags)?;
    for doubt in &mut solved.doubts {
        // Whoever told a pitch expects it to count.
        if let Doubt::ScaleByDpi { unused, .. } = doubt {
            *unused = Some(wanted.sheet.pitch[0]).filter(|p| *p > 0.0);
        }
    }
    Ok(solved)
}
