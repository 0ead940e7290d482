//! The joined record of each garment whose folder was given: written once the last of its pictures is done.

use super::garment::{folded, right_side};
use super::jobs::Job;
use super::noted;
use super::outcome::Outcome;
use crate::notes::Notes;
use crate::piece::{alike, match_notches};
use crate::trace::{both_faces, pieces};
use crate::write::{GarmentRecord, Seen, Shown, measures, write_whole};
use anyhow::Context;
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

/// Garments whose pictures are being traced, by their notes.
pub(super) struct Garments {
    notes: Option<PathBuf>,
    open: BTreeMap<PathBuf, Group>,
}

/// The pictures of one garment.
struct Group {
    /// How many are not done yet.
    left: usize,
    /// Where the record goes.
    folder: PathBuf,
    shown: Vec<Shown>,
}

/// What was written about a garment.
pub(super) struct Written {
    pub record: GarmentRecord,
    pub file: PathBuf,
}

impl Garments {
    /// Garments whose folder was given: pictures named one by one are no whole garment.
    pub fn among(jobs: &[Job], notes: Option<&Path>) -> Self {
        let mut open: BTreeMap<PathBuf, Group> = BTreeMap::new();
        for job in jobs.iter().filter(|j| j.from_folder) {
            let Some(file) = noted::file(notes, job) else { continue };
            let folder = job.folder.parent().unwrap_or(Path::new("")).to_path_buf();
            open.entry(file).or_insert_with(|| Group { left: 0, folder, shown: Vec::new() }).left += 1;
        }
        Self { notes: notes.map(Path::to_path_buf), open }
    }

    /// Takes what came of a picture; after the last of a garment its record is written.
    ///
    /// # Errors
    /// The notes or the record can't be read or written.
    pub fn take(&mut self, job: &Job, found: Result<Outcome, String>) -> anyhow::Result<Option<Written>> {
        let file = noted::file(self.notes.as_deref(), job).filter(|_| job.from_folder);
        let Some((file, group)) = file.and_then(|f| self.open.get_mut(&f).map(|group| (f, group))) else { return Ok(None) };
        group.left -= 1;
        // Notes that can't be read have failed every picture, each with its own line.
        let notes = noted::whole(&file);
        if let Ok((notes, _)) = &notes {
            let shot = noted::of(notes, job);
            let found = found.and_then(|outcome| seen(job, outcome));
            let name = job.picture.file_name().unwrap_or_default().to_string_lossy().into_owned();
            group.shown.push(Shown { file: name, shot, found });
        }
        if group.left > 0 {
            return Ok(None);
        }
        let group = self.open.remove(&file);
        match (group, notes) {
            (Some(mut group), Ok((notes, text))) if group.shown.iter().any(|s| s.found.is_ok()) => {
                faced(&mut group, &notes);
                notched(&mut group, &notes);
                write(&group, (&notes, &text), &file).map(Some)
            }
            _ => Ok(None),
        }
    }
}

fn seen(job: &Job, outcome: Outcome) -> Result<Box<Seen>, String> {
    let folder = job.folder.file_name().unwrap_or_default().to_string_lossy();
    let outline = format!("{folder}/outline.json");
    Ok(Box::new(Seen { tracing: outcome.tracing, pieces: outcome.pieces?, outline, settings: outcome.settings }))
}

/// Lays a piece open that lay folded, where both its faces were traced; the second picture's outline is then no piece of its own.
fn faced(group: &mut Group, notes: &Notes) {
    for (first, second) in faces(&group.shown, notes) {
        let Some(other) = group.shown[second].found.as_ref().ok().map(|s| right_side(&s.pieces[0].draft)) else { continue };
        let shot = group.shown[first].shot.clone();
        if let Ok(seen) = &mut group.shown[first].found
            && let Ok(pieces) = both_faces(&seen.tracing, &shot, notes, &other)
        {
            seen.pieces = pieces;
        }
        let mut without = notes.clone();
        without.pieces.values_mut().for_each(|p| p.fold = None);
        let shot = group.shown[second].shot.clone();
        if let Ok(seen) = &mut group.shown[second].found
            && let Ok(pieces) = pieces(&seen.tracing, &shot, &without)
        {
            seen.pieces = pieces;
        }
    }
}

/// Numbers of two pictures that each show one piece, the same, one its front and one its back.
fn faces(shown: &[Shown], notes: &Notes) -> Vec<(usize, usize)> {
    let one = |k: usize| shown[k].found.as_ref().ok().filter(|s| s.pieces.len() == 1).map(|s| &s.pieces[0].draft);
    let mut out = Vec::new();
    for a in 0..shown.len() {
        for b in a + 1..shown.len() {
            let same = one(a).zip(one(b)).is_some_and(|(p, q)| folded(notes, &p.piece.name) && alike(&p.piece.name, &q.piece.name));
            if same && shown[a].shot.up.is_some() && shown[b].shot.up.is_some() && shown[a].shot.up != shown[b].shot.up {
                out.push((a, b));
            }
        }
    }
    out
}

/// Proposes notches for seams that have none: that takes both pieces, which may stand in different pictures.
fn notched(group: &mut Group, notes: &Notes) {
    let seen = group.shown.iter_mut().filter_map(|s| s.found.as_mut().ok());
    let drafts: Vec<_> = seen.flat_map(|s| s.pieces.iter_mut().map(|p| &mut p.draft)).collect();
    let kinds: Vec<_> = drafts.iter().map(|d| d.kind.map(|k| k.value)).collect();
    match_notches(notes, &mut drafts.into_iter().map(|d| &mut d.piece).collect::<Vec<_>>(), &kinds);
}

fn write(group: &Group, notes: (&Notes, &str), file: &Path) -> anyhow::Result<Written> {
    let home = std::path::absolute(file).ok().and_then(|f| f.parent()?.file_name().map(|n| n.to_string_lossy().into_owned()));
    let target = group.folder.join("garment.json");
    // Changes after a toile belong to a person and outlast a new tracing; a file of another kind holds none.
    let before = std::fs::read_to_string(&target).ok().and_then(|text| GarmentRecord::from_text(&text).ok());
    let record =
        GarmentRecord::of(notes, &group.shown, home.as_deref().unwrap_or("garment"), before.map(|b| b.changes).unwrap_or_default());
    write_whole(&group.folder.join("measures.csv"), measures(&record).as_bytes())?;
    write_whole(&target, record.to_text().as_bytes()).context("cannot write the garment's record")?;
    Ok(Written { record, file: target })
}
