//! A call checked as a whole before any picture is opened.

use super::repeats::unmade;
use super::{Call, LineWord};
use crate::cli::say;
use crate::sheet::SheetError;
use crate::trace::Line;
use crate::wardrobe::{
    self, Job, LeftOut, Lenses, Prints, Terms, Unit, list, namesakes, noted, place_for, possible, sheet, shown, taken, units, without_bare,
};
use anyhow::{Context, bail};

/// All that a run needs.
pub(super) struct Ready {
    pub units: Vec<Unit>,
    pub left_out: Vec<LeftOut>,
    /// What is asked of every picture.
    pub terms: Terms,
    pub lenses: Lenses,
    pub prints: Prints,
    /// Whether a folder was given: results are an archive then, with all that belongs to one.
    pub archive: bool,
}

impl Ready {
    pub fn pictures(&self) -> usize {
        self.units.iter().map(|u| u.jobs.len()).sum()
    }
}

/// The pictures, the garments they are of, and what was solved and measured before.
///
/// # Errors
/// The call is wrong.
pub(super) fn ready(call: &Call) -> anyhow::Result<Ready> {
    let listing = list(&call.pictures, call.out())?;
    let notes = call.notes.as_deref();
    let jobs = without_bare(listing.jobs, |job| call.bare.clone().or_else(|| noted::bare_of(notes, job)));
    let pictures = jobs.len();
    let jobs = if call.join { wardrobe::as_one(jobs) } else { wardrobe::grouped(jobs, |job| noted::together(call.notes.as_deref(), job)) };
    several(call, &jobs, pictures)?;
    if !call.check_only {
        wardrobe::apart(&jobs)?;
    }
    words(call, &jobs)?;
    if let Some(notes) = &call.notes {
        std::fs::File::open(notes).with_context(|| format!("cannot read the notes {}", notes.display()))?;
    }
    for dir in call.out.iter().chain(&call.workings) {
        place_for(dir).with_context(|| format!("cannot make the folder {}", dir.display()))?;
    }
    if call.layings.is_none() {
        unmade(call, &jobs);
    }
    let archive = !call.check_only && (jobs.iter().any(|j| j.from_folder) || call.pictures.iter().any(|p| p.is_dir()));
    let mut all = units(jobs, call.out(), |job| noted::garment(call.notes.as_deref(), job));
    if !call.only.is_empty() {
        if let Some(none) = call.only.iter().find(|id| all.iter().all(|u| u.id != **id)) {
            bail!("there is no unit {none} in what was given; ruboff trace with --list instead of --only lists those there are");
        }
        all.retain(|u| call.only.contains(&u.id));
    }
    // What lies beside other units is not this call's to tell.
    let mut left_out = if call.only.is_empty() { listing.left_out } else { Vec::new() };
    if !call.check_only {
        let (taken, free): (Vec<_>, Vec<_>) = all.into_iter().map(|u| (taken(&u), u)).partition(|(why, _)| why.is_some());
        if let (Some((Some(why), _)), true) = (taken.first(), free.is_empty()) {
            bail!("{why}");
        }
        let notes = |u: &Unit| u.notes.clone().unwrap_or_else(|| u.home.clone());
        left_out.extend(
            taken.into_iter().filter_map(|(why, u)| Some(LeftOut { path: notes(&u), why: format!("not traced: {}", why?), lost: true })),
        );
        all = free.into_iter().map(|(_, u)| u).collect();
        namesakes(&all).iter().for_each(|words| say::note(words));
    }
    let (lenses, prints) = (Lenses::gather(call.lens.as_deref())?, Prints::gather());
    lenses.said.iter().chain(&prints.said).for_each(|words| say::note(words));
    Ok(Ready { units: all, left_out, terms: call.terms(), lenses, prints, archive })
}

/// Whether so many pictures can be what the call takes them for.
fn several(call: &Call, jobs: &[Job], pictures: usize) -> anyhow::Result<()> {
    if call.join && pictures < 2 {
        bail!("--join makes one tracing of several overlapping pictures and one is named; name all of them in one call");
    }
    if let Some(out) = call.same.iter().flatten().map(|s| s.0).find(|k| *k >= pictures) {
        bail!("--same speaks of picture {} and {pictures} are named; count them in the order of the call, from 1", out + 1);
    }
    if jobs.is_empty() {
        bail!("no picture (JPEG, PNG, TIFF, WebP) in the folders given; name a picture or another folder");
    }
    if jobs.len() < 2 && call.layings.is_some() {
        bail!("--layings compares several pictures of one piece and one is named; name all of them in one call");
    }
    if jobs.len() > 1 && !call.at.is_empty() {
        bail!("--at gives places in one picture and {} are named; trace one picture at a time with it, or write them in notes", jobs.len());
    }
    if jobs.len() > 1 && !call.inner.is_empty() {
        bail!("--inner gives places in one picture and {} are named; trace one picture at a time with it", jobs.len());
    }
    Ok(())
}

/// Whether the words of the call go together.
fn words(call: &Call, jobs: &[Job]) -> anyhow::Result<()> {
    let noted = jobs.iter().any(|job| noted::file(call.notes.as_deref(), job).is_some());
    match sheet(&call.sheet, call.pitch, call.trust_dpi || !call.at.is_empty()) {
        // The notes of each picture may still tell.
        Err(SheetError::NoPitch) if noted => {}
        sheet => drop(sheet?),
    }
    // The notes of each picture may still tell.
    let line = if call.line == Some(LineWord::Seam) { Line::Seam } else { Line::Rim };
    if !jobs.is_empty() && (call.allowance.is_some() || !noted) {
        shown(line, call.allowance)?;
    }
    if line == Line::Rim && call.allowance.is_some() && !noted {
        bail!("--allowance says where a stitch line runs and is used with --line seam only; say both or neither");
    }
    possible(call.thickness)?;
    if call.accuracy.is_some_and(|a| !(0.01..=100.0).contains(&a.mm())) {
        bail!("--accuracy is how far an outline may be out and lies between 0.01 mm and 100 mm, like --accuracy 0.5mm");
    }
    Ok(())
}
