//! Where lens profiles are kept, and which one belongs to a picture.

use super::kept::Kept;
use crate::shot::Tags;
use crate::trace::ChosenLens;
use crate::view::{LensProfile, ProfileError};
use std::path::Path;

/// Lens profiles.
pub const LENSES: Kept = Kept { variable: "RUBOFF_LENSES", own: "lenses", project: "calibration/lenses" };

/// Lens profiles at hand.
#[derive(Clone, Debug, Default)]
pub struct Lenses {
    /// What a person had better know of those left out.
    pub said: Vec<String>,
    forced: Option<LensProfile>,
    kept: Vec<LensProfile>,
}

impl Lenses {
    /// The profile named on the command line, else all that are kept.
    ///
    /// # Errors
    /// The named one can't be read. One of the kept ones that can't is told and left out.
    pub fn gather(named: Option<&Path>) -> Result<Self, ProfileError> {
        if let Some(file) = named {
            return Ok(Self { forced: Some(LensProfile::open(file)?), ..Self::default() });
        }
        let (mut kept, mut said) = (Vec::new(), Vec::new());
        for file in LENSES.files() {
            match LensProfile::open(&file) {
                Ok(profile) => kept.push(profile),
                Err(e) => said.push(format!("{e}; it is left out")),
            }
        }
        // The newest first, then the one from most pictures.
        kept.sort_by(|a: &LensProfile, b| (&b.solved_on, b.pictures, &a.name).cmp(&(&a.solved_on, a.pictures, &b.name)));
        Ok(Self { said, forced: None, kept })
    }

    /// What of them a tracing rests on, in words: the profile for the picture, or all of them where only decoding tells its size.
    pub fn words(&self, tags: &Tags, size: Option<[usize; 2]>) -> String {
        match size {
            Some(size) => self.of(tags, size).map(|l| format!("{l:?}")).unwrap_or_default(),
            None => self.forced.iter().chain(&self.kept).map(|l| format!("{l:?}")).collect(),
        }
    }

    /// The profile for a picture of that size, upright, when there is one.
    pub fn of(&self, tags: &Tags, size: [usize; 2]) -> Option<ChosenLens> {
        if let Some(profile) = &self.forced {
            return Some(ChosenLens { profile: profile.clone(), forced: true });
        }
        let profile = self.kept.iter().find(|p| p.fits(tags, size))?;
        Some(ChosenLens { profile: profile.clone(), forced: false })
    }
}
