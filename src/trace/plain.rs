//! Pictures without a ruled sheet: what stands for the lattice, and the view from given points or a scanner's resolution.

use super::error::TraceError;
use super::lens::ChosenLens;
use super::session::Wanted;
use crate::grid::{GridError, Lattice};
use crate::proof::Doubt;
use crate::sheet::SheetKind;
use crate::shot::Shot;
use crate::view::{GivenError, Solved, by_dpi, by_points};

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
