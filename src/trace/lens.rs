//! The view by a lens profile where one belongs to the picture, and what is done when the picture contradicts it.

use super::error::TraceError;
use super::print::{self, Unknown};
use super::wanted::Wanted;
use crate::grid::Lattice;
use crate::proof::{Doubt, Proof};
use crate::shot::Shot;
use crate::view::{self, CONTRADICTED, LensProfile, Model, Solved, ViewError};

/// A lens solved before that is to be used for a picture.
#[derive(Clone, Debug, PartialEq)]
pub struct ChosenLens {
    /// The lens.
    pub profile: LensProfile,
    /// Whether a person named it: then it is used whatever the picture says.
    pub forced: bool,
}

/// Solves the view. A profile that was not named by a person and that the picture contradicts is left out, with a doubt. A sheet that is
/// flat by a lens of the picture's own, and by the profile's is not, speaks against the profile and not against the sheet.
pub(super) fn view(shot: &Shot, lattice: &Lattice, wanted: &Wanted, proof: &mut Proof) -> Result<Solved, TraceError> {
    let size = [shot.width, shot.height];
    let solve = |lens, proof: &mut Proof| -> Result<Solved, ViewError> {
        let pitch_error = if wanted.as_ruled { [0.0; 2] } else { Unknown::of(lattice, wanted).pitch };
        let settings = view::Settings { lens, over_joins: print::of(lattice, wanted).is_some(), pitch_error, ..view::Settings::default() };
        view::solve(lattice, (shot.width, shot.height), &shot.tags, &settings, proof)
    };
    let Some(ChosenLens { profile, forced }) = &wanted.lens else { return Ok(solve(None, proof)?) };
    let lens = profile.upright(&shot.tags, size)?;
    let by_profile = solve(Some(lens), proof);
    let miss = match &by_profile {
        Ok(Solved { view: view::View { model: Model::Pinhole { lens, .. }, .. }, .. }) => profile.miss(lens, &shot.tags, size),
        _ => f64::INFINITY,
    };
    let bent = match &by_profile {
        Ok(solved) => not_flat(solved),
        Err(ViewError::NotFlat { most_mm, .. }) => Some(*most_mm),
        Err(_) => None,
    };
    let own = if bent.is_some() || !(*forced || miss <= CONTRADICTED) { Some(solve(None, proof)) } else { None };
    let unfit = bent.filter(|_| matches!(&own, Some(Ok(own)) if not_flat(own).is_none()));
    if miss <= CONTRADICTED && unfit.is_none() {
        return Ok(by_profile?);
    }
    if *forced {
        let name = profile.name.clone();
        return match (by_profile, unfit) {
            (Err(_), Some(most)) => Err(TraceError::LensUnfit { name, most }),
            (by_profile, _) => {
                let mut solved = by_profile?;
                if unfit.is_some() {
                    solved.doubts.retain(|d| !matches!(d, Doubt::SheetNotFlat { .. }));
                }
                solved.doubts.push(Doubt::LensProfileMisses { name, miss });
                Ok(solved)
            }
        };
    }
    let mut solved = own.unwrap_or_else(|| solve(None, proof))?;
    solved.doubts.push(Doubt::LensProfileLeftOut { name: profile.name.clone() });
    Ok(solved)
}

/// By how much a sheet is doubted to be flat, mm.
fn not_flat(solved: &Solved) -> Option<f64> {
    solved.doubts.iter().find_map(|d| if let Doubt::SheetNotFlat { most, .. } = d { Some(*most) } else { None })
}
