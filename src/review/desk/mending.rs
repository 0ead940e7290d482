//! A correction: written into the notes as a person would write it, and the tracing redone from the first stage it touches; and taken back.

use super::Desk;
use super::current::{Current, name};
use super::entries::Entry;
use super::numbered::renumbered;
use super::warm::lock;
use super::writer::Pending;
use crate::length::Mm;
use crate::notes::{Draft, Notes, Tape};
use crate::review::ReviewError;
use crate::review::mend::{Mend, Where};
use crate::review::words::gone;
use crate::trace::{Tracing, is_number};
use crate::wardrobe::{look_by, noted::Noted};
use crate::write::{Record, views, write_whole};
use serde_json::Value;
use std::path::Path;
use std::sync::Arc;

/// Corrections of one file that can be taken back.
const STEPS: usize = 200;

/// A correction that was made through this desk.
pub(super) struct Step {
    /// The entry it was made at.
    pub at: String,
    /// Who made it.
    pub by: String,
    /// What it was.
    pub words: String,
    /// The notes before it; none where there was no file.
    before: Option<String>,
    /// The notes after it.
    after: String,
}

impl Desk {
    /// Makes a correction.
    ///
    /// # Errors
    /// The entry has changed since it was seen; the correction can't be made, and nothing is changed.
    pub fn mend(&self, at: &str, seen: &str, by: &str, mend: &Mend) -> Result<Value, ReviewError> {
        let _pen = lock(&self.pen);
        let entry = self.mended(at)?;
        let current = self.readable(at)?;
        self.unchanged(at, seen, by, &current)?;
        let mut draft = Draft::from_text(current.text.as_deref().unwrap_or_default())?;
        self.write_in(&mut draft, entry, &current, mend)?;
        let words = mend.words(current.record.as_deref());
        // On another sheet nothing lies where it lay.
        let elsewhere = matches!(mend, Mend::Settings { sheet, pitch, .. } if sheet.is_some() || pitch.is_some());
        let lying = current.record.as_deref().filter(|_| !elsewhere);
        let now = self.put(at, entry, &current, draft.text(), lying)?;
        let after = now.text.clone().unwrap_or_default();
        let step = Step { at: at.to_owned(), by: by.trim().to_owned(), words, before: current.text.clone(), after };
        self.step(entry, step);
        self.shown(at, by, &now)
    }

    /// Puts a correction into notes.
    fn write_in(&self, draft: &mut Draft, entry: &Entry, current: &Current, mend: &Mend) -> Result<(), ReviewError> {
        let job = entry.job();
        let record = current.record.as_deref();
        let view = record.and_then(views).and_then(|v| v.into_iter().next());
        let height = record.and_then(|r| r.views.first()).map_or(0.0, |v| v.thickness_mm);
        let px = |at: Mm| view.as_ref().map(|v| v.to_px(at, height)).filter(|p| p.is_finite());
        let all: Vec<String> = entry.unit.jobs.iter().flat_map(|j| j.pictures()).map(|p| name(p)).collect();
        let shot = crate::wardrobe::noted::of(&current.notes, job);
        let picture = name(&job.picture);
        Ok(mend.write(draft, &Where { picture: &picture, all: &all, record, px: &px, notes: &shot })?)
    }

    /// The entry, where it can be corrected.
    fn mended(&self, at: &str) -> Result<&Entry, ReviewError> {
        let entry = self.entry(at)?;
        match why_not(entry) {
            Some(why) => Err(ReviewError::Cannot(why)),
            None => Ok(entry),
        }
    }

    /// An entry as it is now, where its notes can be read.
    fn readable(&self, at: &str) -> Result<Current, ReviewError> {
        let current = self.current(at)?;
        match current.wrong {
            Some(wrong) => Err(ReviewError::Cannot(wrong)),
            None => Ok(current),
        }
    }

    /// Has the notes say `text` and the tracing be as they ask, or changes neither. What they tell of pieces by their numbers goes along with
    /// the pieces `before`, where they are given.
    fn put(&self, at: &str, entry: &Entry, current: &Current, text: String, before: Option<&Record>) -> Result<Current, ReviewError> {
        if current.text.as_ref() == Some(&text) {
            return Ok(Current::of(current.record.clone(), current.failed.clone(), current.notes.clone(), Some(text)));
        }
        let mut notes = Notes::from_text(&text)?;
        let mut text = text;
        let held = self.hold(entry)?;
        let work = self.work(entry);
        let mut looked = look_by(work.terms, work.job, Noted::of(&notes, work.job), work.lenses, work.prints)?;
        let bench = self.warm.bench(at);
        let mut session = bench.session();
        let mut tracing = self.traced(entry, &bench, &mut session, &looked)?;
        if let Some(before) = before
            && let Some(followed) = self.followed(entry, before, &tracing, &text)?
        {
            text = followed;
            notes = Notes::from_text(&text)?;
            looked = look_by(work.terms, work.job, Noted::of(&notes, work.job), work.lenses, work.prints)?;
            tracing = self.traced(entry, &bench, &mut session, &looked)?;
        }
        write_whole(&entry.notes(), text.as_bytes())?;
        let Some(session) = &*session else { return Err(ReviewError::NoEntry(at.to_owned())) };
        let outcome = Self::outcome(entry, &tracing, session, &looked)?;
        let record = Arc::new(outcome.record.clone());
        self.writer.put(at, Pending { entry: entry.clone(), outcome, tracing, shot: session.shot.clone(), held });
        Ok(Current::of(Some(record), None, notes, Some(text)))
    }

    /// The notes with what they tell of pieces by numbers under their new ones; none where nothing changes, or where a number may be that
    /// of another picture's piece.
    fn followed(&self, entry: &Entry, before: &Record, tracing: &Tracing, text: &str) -> Result<Option<String>, ReviewError> {
        let after = Record::of(tracing, serde_json::Map::new(), tracing.profiles.clone());
        let new = renumbered(&before.pieces, &after.pieces);
        if new.is_empty() || !numbers_are_its_own(entry) {
            return Ok(None);
        }
        let mut draft = Draft::from_text(text)?;
        draft.rename_pieces(&new)?;
        Ok(Some(draft.text()).filter(|t| t != text))
    }

    fn step(&self, entry: &Entry, step: Step) {
        let mut all = lock(&self.steps);
        let own = all.entry(entry.notes()).or_default();
        own.push(step);
        let most = own.len().saturating_sub(STEPS);
        own.drain(..most);
    }

    /// The latest correction of an entry's notes, in words, where this reviewer made it at this entry and nobody changed the notes since.
    pub(super) fn undoes(&self, at: &str, by: &str, text: Option<&String>) -> Option<String> {
        let entry = self.entries.get(at)?;
        let all = lock(&self.steps);
        all.get(&entry.notes())?.last().filter(|s| s.at == at && own(&s.by, by) && Some(&s.after) == text).map(|s| s.words.clone())
    }

    /// Takes the latest correction back.
    ///
    /// # Errors
    /// There is none; the notes were changed since.
    pub fn undo(&self, at: &str, seen: &str, by: &str) -> Result<Value, ReviewError> {
        let _pen = lock(&self.pen);
        let entry = self.mended(at)?;
        let current = self.readable(at)?;
        self.unchanged(at, seen, by, &current)?;
        let file = entry.notes();
        let last =
            lock(&self.steps).get(&file).and_then(|s| s.last()).map(|s| (s.at == at, s.by.clone(), s.before.clone(), s.after.clone()));
        let cannot = |words: String| Err(ReviewError::Cannot(words));
        let (before, after) = match last {
            Some((true, who, ..)) if !own(&who, by) => {
                return cannot(format!("the latest correction here was made by {who}; it is theirs to take back"));
            }
            Some((true, _, before, after)) => (before, after),
            Some((false, ..)) => {
                return cannot("the latest correction of these notes was made at another picture; take that back first".into());
            }
            None => return cannot("nothing was corrected here since the page was opened".into()),
        };
        if current.text.as_ref() != Some(&after) {
            return Err(ReviewError::Cannot("the notes were changed by another hand since; change them back by hand".into()));
        }
        let now = self.put(at, entry, &current, before.clone().unwrap_or_default(), None)?;
        if before.is_none() {
            self.without(&file)?;
        }
        if let Some(steps) = lock(&self.steps).get_mut(&file) {
            steps.pop();
        }
        let now = Current::of(now.record, now.failed, now.notes, before);
        self.shown(at, by, &now)
    }

    /// Takes notes away that were begun here.
    fn without(&self, file: &Path) -> Result<(), ReviewError> {
        std::fs::remove_file(file).map_err(|source| ReviewError::Read { file: file.display().to_string(), source })
    }

    /// Writes a tape reading into the garment's notes, as it was `written`.
    ///
    /// # Errors
    /// There are no notes of a garment; the reading can't be meant.
    pub fn tape(&self, at: &str, seen: &str, by: &str, tape: &Tape, written: &str) -> Result<Value, ReviewError> {
        let _pen = lock(&self.pen);
        let entry = self.mended(at)?;
        let current = self.readable(at)?;
        self.unchanged(at, seen, by, &current)?;
        if entry.unit.notes.is_none() {
            return Err(ReviewError::Cannot(
                "this picture is of no garment: tape readings stand in a garment.toml beside its pictures".into(),
            ));
        }
        let mut draft = Draft::from_text(current.text.as_deref().unwrap_or_default())?;
        draft.set_tape(tape, written)?;
        let now = self.put(at, entry, &current, draft.text(), None)?;
        let words = format!("wrote down the tape reading of {}", tape.what);
        self.step(entry, Step { at: at.to_owned(), by: by.trim().to_owned(), words, before: current.text.clone(), after: draft.text() });
        self.shown(at, by, &now)
    }
}

/// Whether a correction is this reviewer's to take back; one that nobody put a name to is anybody's.
fn own(made_by: &str, by: &str) -> bool {
    made_by.is_empty() || made_by.to_lowercase() == by.trim().to_lowercase()
}

/// Whether no other picture worked on together with this one has a piece without a name.
fn numbers_are_its_own(entry: &Entry) -> bool {
    let others = entry.unit.jobs.iter().enumerate().filter(|(n, _)| *n != entry.number);
    let records = others.filter_map(|(_, job)| std::fs::read_to_string(job.folder.join("outline.json")).ok());
    !records.filter_map(|text| Record::from_text(&text).ok()).flat_map(|r| r.pieces).any(|p| is_number(&p.name))
}

/// Why an entry can't be corrected here.
pub(super) fn why_not(entry: &Entry) -> Option<String> {
    let job = entry.job();
    if let Some(lost) = job.pictures().find(|p| !p.is_file()) {
        return Some(gone(&lost.display().to_string()));
    }
    (!job.more.is_empty()).then(|| {
        "several pictures were joined here; correct it in the garment's notes by hand and trace it again, or trace one picture alone"
            .to_owned()
    })
}
