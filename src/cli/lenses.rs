//! Where lens profiles are kept, and which one belongs to a picture.

use super::say;
use crate::shot::Shot;
use crate::trace::ChosenLens;
use crate::view::LensProfile;
use std::path::{Path, PathBuf};

/// Names the folder of lens profiles, instead of the user's own and the project's.
const VARIABLE: &str = "RUBOFF_LENSES";
/// Where a project keeps lens profiles, from the folder the command is run in.
const PROJECT: &str = "calibration/lenses";

/// The folder a new profile is kept in: the one the environment names, else the user's own (XDG Base Directory
/// Specification: `$XDG_DATA_HOME`, else `~/.local/share`). `None` when there is no home.
pub(super) fn own_folder() -> Option<PathBuf> {
    let from = |name: &str| std::env::var_os(name).filter(|v| !v.is_empty()).map(PathBuf::from);
    let data = || from("XDG_DATA_HOME").filter(|p| p.is_absolute()).or_else(|| from("APPDATA"));
    let share = || data().or_else(|| from("HOME").map(|h| h.join(".local/share")));
    from(VARIABLE).or_else(|| share().map(|s| s.join("ruboff").join("lenses")))
}

/// Lens profiles at hand.
#[derive(Default)]
pub(super) struct Lenses {
    forced: Option<LensProfile>,
    kept: Vec<LensProfile>,
}

impl Lenses {
    /// The profile named on the command line, else all that are kept.
    ///
    /// # Errors
    /// The named one can't be read. One of the kept ones that can't is told and left out.
    pub fn gather(named: Option<&Path>) -> anyhow::Result<Self> {
        if let Some(file) = named {
            return Ok(Self { forced: Some(LensProfile::open(file)?), kept: Vec::new() });
        }
        let project = std::env::var_os(VARIABLE).is_none().then(|| PathBuf::from(PROJECT));
        let mut kept = Vec::new();
        for file in own_folder().into_iter().chain(project).flat_map(|folder| files(&folder)) {
            match LensProfile::open(&file) {
                Ok(profile) => kept.push(profile),
                Err(e) => say::note(&format!("{e}; it is left out")),
            }
        }
        // The newest first, then the one from most pictures.
        kept.sort_by(|a: &LensProfile, b| (&b.solved_on, b.pictures, &a.name).cmp(&(&a.solved_on, a.pictures, &b.name)));
        Ok(Self { forced: None, kept })
    }

    /// The profile for a picture, when there is one.
    pub fn of(&self, shot: &Shot) -> Option<ChosenLens> {
        if let Some(profile) = &self.forced {
            return Some(ChosenLens { profile: profile.clone(), forced: true });
        }
        let profile = self.kept.iter().find(|p| p.fits(&shot.tags, [shot.width, shot.height]))?;
        Some(ChosenLens { profile: profile.clone(), forced: false })
    }
}

/// Profiles in a folder, by name; none when there is no such folder.
fn files(folder: &Path) -> Vec<PathBuf> {
    let Ok(list) = std::fs::read_dir(folder) else { return Vec::new() };
    let mut files: Vec<PathBuf> =
        list.filter_map(|e| Some(e.ok()?.path())).filter(|p| p.extension().is_some_and(|e| e.eq_ignore_ascii_case("toml"))).collect();
    files.sort();
    files
}
