//! The tracings of an archive and the pictures they were taken from: what the calls that made it named, listed again.

use super::super::ReviewError;
use crate::wardrobe::{Job, KeptCall, Lenses, Terms, Unit, as_one, grouped, kept_calls, list, noted, units, without_bare};
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::sync::Arc;

/// A tracing that can be made again: its pictures are there.
#[derive(Clone, Debug)]
pub(super) struct Entry {
    /// What the call asked for.
    pub terms: Arc<Terms>,
    /// Lens profiles at hand: the one the call named, else all that are kept.
    pub lenses: Arc<Lenses>,
    /// The pictures worked on together with it, itself among them.
    pub unit: Arc<Unit>,
    /// Its number among those.
    pub number: usize,
}

impl Entry {
    /// Its pictures.
    pub fn job(&self) -> &Job {
        &self.unit.jobs[self.number]
    }

    /// The file that what a person corrects is written to: the garment's notes, else the picture's own.
    pub fn notes(&self) -> PathBuf {
        let job = self.job();
        noted::file(self.terms.notes.as_deref(), job).unwrap_or_else(|| noted::alone(&job.picture))
    }
}

/// Entries by where their results lie, from the archive's root.
pub(super) fn entries(root: &Path, pictures: Option<&Path>) -> Result<BTreeMap<String, Entry>, ReviewError> {
    let mut calls = kept_calls(root).map_err(ReviewError::Calls)?;
    if let Some(folder) = pictures {
        // The latest terms hold where the pictures have moved to.
        let terms = calls.last().map(|c| c.terms.clone()).unwrap_or_default();
        calls.push(KeptCall { pictures: vec![folder.to_path_buf()], terms });
    }
    let mut all = BTreeMap::new();
    for call in calls {
        let there: Vec<PathBuf> = call.pictures.into_iter().filter(|p| p.exists()).collect();
        // A folder that can't be listed any more leaves its tracings to be looked at only.
        let Ok(listing) = list(&there, root) else { continue };
        // A profile that was named and is gone leaves none to be taken in its place.
        let lenses = Arc::new(Lenses::gather(call.terms.lens.as_deref()).unwrap_or_default());
        let terms = Arc::new(call.terms);
        let named = terms.notes.as_deref();
        let jobs = without_bare(listing.jobs, |job| terms.bare.clone().or_else(|| noted::bare_of(named, job)));
        let jobs = if terms.join { as_one(jobs) } else { grouped(jobs, |job| noted::together(named, job)) };
        let mut whole = units(jobs, root, |job| noted::garment(named, job));
        // What is corrected here is written into notes: they go before the call's words, also for a picture that was named itself.
        whole.iter_mut().flat_map(|u| &mut u.jobs).for_each(|j| j.from_folder = true);
        for unit in whole {
            let unit = Arc::new(unit);
            for (number, job) in unit.jobs.iter().enumerate() {
                all.insert(at(root, &job.folder), Entry { terms: terms.clone(), lenses: lenses.clone(), unit: unit.clone(), number });
            }
        }
    }
    Ok(all)
}

/// A folder from the root, with `/` between; `.` for the root itself.
fn at(root: &Path, folder: &Path) -> String {
    let below = folder.strip_prefix(root).unwrap_or(folder);
    let parts: Vec<_> = below.components().map(|c| c.as_os_str().to_string_lossy().into_owned()).collect();
    if parts.is_empty() { ".".into() } else { parts.join("/") }
}
