//! What an entry is now: its notes, and its record, which is made again where the notes or the picture have changed since.

use super::Desk;
use super::entries::Entry;
use super::warm::Bench;
use crate::notes::Notes;
use crate::proof::Proof;
use crate::review::ReviewError;
use crate::review::words::on_page;
use crate::trace::{Session, Tracing};
use crate::wardrobe::{Before, Changed, FailedRecord, Looked, Outcome, WorkError, before, keep_failure, look, noted, settings, trace_job};
use crate::write::Record;
use std::path::Path;
use std::sync::Arc;

/// An entry as it is now.
pub(super) struct Current {
    pub record: Option<Arc<Record>>,
    /// Why there is none, or not the one the notes ask for.
    pub failed: Option<String>,
    /// Why the notes can't be read: nothing can be corrected until they are set right by hand.
    pub wrong: Option<String>,
    pub notes: Notes,
    /// The notes' text; none where there is no file.
    pub text: Option<String>,
    /// Changes whenever notes or outline do.
    pub version: String,
}

/// Digits of a version: two states of one entry are told apart by far fewer.
const DIGITS: usize = 16;

impl Desk {
    /// The record as it is, waiting to be written or on the disk.
    pub(super) fn record(&self, at: &str) -> Result<Option<Arc<Record>>, ReviewError> {
        if let Some(record) = self.writer.waiting(at) {
            return Ok(Some(Arc::new(record)));
        }
        let text = std::fs::read_to_string(self.results(at)?.join("outline.json")).ok();
        Ok(text.and_then(|t| Record::from_text(&t).ok()).map(Arc::new))
    }

    /// An entry as it is now. One whose notes were changed by hand is traced again.
    ///
    /// # Errors
    /// There is none; its notes are not right.
    pub(super) fn current(&self, at: &str) -> Result<Current, ReviewError> {
        let Some(entry) = self.entries.get(at) else {
            let failed = FailedRecord::open(&self.results(at)?).map(|f| f.say);
            return Ok(Current::of(self.record(at)?, failed, Notes::default(), None));
        };
        let read = noted::file(entry.terms.notes.as_deref(), entry.job()).map(|file| noted::whole(&file)).transpose();
        let (notes, text) = match read {
            Ok(Some((notes, text))) => (notes, Some(text)),
            Ok(None) => (Notes::default(), None),
            Err(e) => {
                let wrong = Some(ReviewError::from(e).say());
                let record = self.record(at)?;
                return Ok(Current { wrong, ..Current::of(record, None, Notes::default(), None) });
            }
        };
        if let Some(record) = self.writer.waiting(at) {
            return Ok(Current::of(Some(Arc::new(record)), None, notes, text));
        }
        let (record, failed) = self.standing(at, entry)?;
        Ok(Current::of(record, failed, notes, text))
    }

    /// The record on the disk, or the one made again; and why there is none.
    fn standing(&self, at: &str, entry: &Entry) -> Result<(Option<Arc<Record>>, Option<String>), ReviewError> {
        let work = self.work(entry);
        let looked = match look(work.terms, work.job, work.lenses, work.prints) {
            Ok(looked) => looked,
            Err(e) => return Ok((self.record(at)?, Some(ReviewError::from(e).say()))),
        };
        let again = match before(work.job, &looked) {
            Before::Traced(record) => return Ok((Some(Arc::new(*record)), None)),
            Before::Failed(say) => return Ok((self.record(at)?, Some(on_page(&say)))),
            // What only a new version or a new profile would change is left to the next run.
            Before::ToDo(Changed::Asked | Changed::Picture | Changed::New | Changed::Unsaid) => true,
            Before::ToDo(_) => false,
        };
        let held = if again { self.hold(entry).ok() } else { None };
        if held.is_none() {
            return Ok((self.record(at)?, None));
        }
        self.warm.forget(at);
        match trace_job(work, &looked, &mut Proof::off()) {
            Ok(outcome) => Ok((Some(Arc::new(outcome.record)), None)),
            Err(e) => {
                let (refused, say) = (e.refused(), ReviewError::from(e).say());
                keep_failure(work.job, say.clone(), refused, Some(&looked.rests));
                Ok((self.record(at)?, Some(say)))
            }
        }
    }

    /// Has an entry's session at hand, with all stages run as its notes ask.
    pub(super) fn warmed(&self, entry: &Entry, bench: &Bench, session: &mut Option<Session>) -> Result<(), ReviewError> {
        if session.is_some() {
            return Ok(());
        }
        let work = self.work(entry);
        let looked = look(work.terms, work.job, work.lenses, work.prints)?;
        self.traced(entry, bench, session, &looked).map(drop)
    }

    /// Traces an entry as it is wanted, from the first stage that this touches. A session that failed is let go.
    pub(super) fn traced(
        &self,
        entry: &Entry,
        bench: &Bench,
        session: &mut Option<Session>,
        looked: &Looked,
    ) -> Result<Tracing, ReviewError> {
        let shots = bench.shots_of(entry.job(), &looked.rests.pictures, session)?;
        let shot = shots.first().ok_or_else(|| ReviewError::Cannot("there is no picture to trace".into()))?;
        let wanted = looked.asked.of(shot, &entry.lenses, &self.prints.all);
        match session {
            Some(kept) => kept.want(wanted),
            None => *session = Some(Session::new(shot.clone(), wanted).with_bare(looked.bare()?)),
        }
        let traced = session.as_mut().map(|s| s.run(&mut Proof::off()));
        match traced {
            Some(Ok(tracing)) => Ok(tracing),
            Some(Err(e)) => {
                *session = None;
                Err(WorkError::from(e).into())
            }
            None => Err(ReviewError::Cannot("there is no picture to trace".into())),
        }
    }

    /// The outcome of a tracing whose notes were saved.
    pub(super) fn outcome(entry: &Entry, tracing: &Tracing, session: &Session, looked: &Looked) -> Result<Outcome, ReviewError> {
        Ok(Outcome::of(tracing, settings(&session.wanted), &looked.rests, (&entry.terms, entry.job()))?)
    }
}

impl Current {
    pub fn of(record: Option<Arc<Record>>, failed: Option<String>, notes: Notes, text: Option<String>) -> Self {
        let pieces = record.as_ref().map(|r| serde_json::to_string(&r.pieces).unwrap_or_default()).unwrap_or_default();
        let all = format!("{}\0{pieces}\0{}", text.as_deref().unwrap_or_default(), failed.as_deref().unwrap_or_default());
        let version = blake3::hash(all.as_bytes()).to_hex()[..DIGITS].to_owned();
        Self { record, failed, wrong: None, notes, text, version }
    }
}

/// A file's name.
pub(super) fn name(path: &Path) -> String {
    path.file_name().unwrap_or_default().to_string_lossy().into_owned()
}
