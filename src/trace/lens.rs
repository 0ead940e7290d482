//! The view by a lens profile where one belongs to the picture, and what is done when the picture contradicts it.

use super::error::TraceError;
use super::print::{self, Unknown};
use super::wanted::Wanted;
use crate::grid::Lattice;
use crate::proof::{Doubt, Proof};
use crate::shot::Shot;
use crate::view::{self, CONTRADICTED, LensProfile, Model, Solved};

/// A lens solved before that is to be used for a picture.
#[derive(Clone, Debug, PartialEq)]
pub struct ChosenLens {
    /// The lens.
    pub profile: LensProfile,
    /// Whether a person named it: then it is used whatever the picture says.
    pub forced: bool,
}

/// Solves the view. A profile that was not named by a person and that the picture contradicts is left out, with a doubt.
pub(super) fn view(shot: &Shot, lattice: &Lattice, wanted: &Wanted, proof: &mut Proof) -> Result<Solved, TraceError> {
    let size = [shot.width, shot.height];
    let solve = |lens, proof: &mut Proof| {
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
    if miss <= CONTRADICTED {
        return Ok(by_profile?);
    }
    if *forced {
        let mut solved = by_profile?;
        solved.doubts.push(Doubt::LensProfileMisses { name: profile.name.clone(), miss });
        return Ok(solved);
    }
    let mut solved = solve(None, proof)?;
    solved.doubts.push(Doubt::LensProfileLeftOut { name: profile.name.clone() });
    Ok(solved)
}
