//! One picture from file to files, or several joined to one tracing.

use super::looked::{Looked, named};
use super::wanted::settings;
use super::{Lenses, Outcome, Prints, Terms, WorkError};
use crate::notes::ShotNotes;
use crate::proof::Proof;
use crate::shot::{Limits, Shot};
use crate::trace::{JoinWanted, Line, Session, join};
use crate::wardrobe::{FailedRecord, Job, Rests};
use serde_json::json;
use std::path::Path;
use std::time::Instant;

/// A picture to work on, with all that the work needs.
#[derive(Clone, Copy)]
pub struct Work<'a> {
    /// The picture, or pictures that are joined.
    pub job: &'a Job,
    /// What the call asks for.
    pub terms: &'a Terms,
    /// Lens profiles at hand.
    pub lenses: &'a Lenses,
    /// Measured prints at hand.
    pub prints: &'a Prints,
}

/// A picture opened, with all that is wanted of it.
///
/// # Errors
/// It can't be decoded.
pub fn session(work: Work, picture: &Path, looked: &Looked) -> Result<Session, WorkError> {
    let shot = named(work.job, picture, Shot::open(picture, &Limits::default()))?;
    let wanted = looked.asked.of(&shot, work.lenses, &work.prints.all);
    Ok(Session::new(shot, wanted).with_bare(looked.bare()?))
}

/// Traces what a job holds and writes its files.
///
/// # Errors
/// A picture can't be decoded or traced; a file can't be written.
pub fn trace_job(work: Work, looked: &Looked, proof: &mut Proof) -> Result<Outcome, WorkError> {
    if !work.job.more.is_empty() {
        return trace_joined(work, looked, proof);
    }
    let start = Instant::now();
    let mut session = session(work, &work.job.picture, looked)?;
    proof.time("shot", start.elapsed());
    let tracing = session.run(proof)?;
    let start = Instant::now();
    let mut outcome = Outcome::of(&tracing, settings(&session.wanted), &looked.rests, (work.terms, work.job))?;
    outcome.write(&tracing, &[&session.shot], &work.job.folder)?;
    proof.time("write", start.elapsed());
    Ok(outcome)
}

/// Several pictures joined to one tracing.
fn trace_joined(work: Work, looked: &Looked, proof: &mut Proof) -> Result<Outcome, WorkError> {
    let asked = &looked.asked.wanted;
    if asked.line == Line::Seam {
        return Err(WorkError::JoinedSeam);
    }
    let notes = asked.notes.clone();
    let within = notes.edges.iter().any(|e| e.line.is_some_and(|l| l != crate::notes::Line::Rim));
    if within
        || notes.bare.is_some()
        || !(notes.inner.is_empty() && notes.regions.is_empty() && notes.through.is_empty() && notes.marks.is_empty())
    {
        return Err(WorkError::JoinedHints);
    }
    let sessions: Result<Vec<Session>, _> = work.job.pictures().map(|p| session(work, p, looked)).collect();
    let mut sessions = sessions?;
    sessions.iter_mut().for_each(|s| s.wanted.notes = ShotNotes::default());
    let mut settings = settings(asked);
    settings.insert("joined".into(), json!(sessions.len()));
    let same = if work.terms.same.is_empty() { notes.same.clone() } else { work.terms.same.clone() };
    if !same.is_empty() {
        let told = |[(j, p), (k, q)]: &[(usize, crate::length::Px); 2]| json!([[j + 1, p.x, p.y], [k + 1, q.x, q.y]]);
        settings.insert("same".into(), same.iter().map(told).collect());
    }
    let whole = JoinWanted { pieces: asked.pieces, partial: asked.partial, same, notes };
    let tracing = join(&mut sessions, &whole, proof)?;
    let mut outcome = Outcome::of(&tracing, settings, &looked.rests, (work.terms, work.job))?;
    outcome.write(&tracing, &sessions.iter().map(|s| &*s.shot).collect::<Vec<_>>(), &work.job.folder)?;
    Ok(outcome)
}

/// Keeps why a picture failed, in an archive. What a disk or a folder refused may be granted the next time.
pub fn keep_failure(job: &Job, say: String, refused: bool, rests: Option<&Rests>) {
    if !job.from_folder {
        return;
    }
    let rests = rests.filter(|_| !refused);
    let blake3 = rests.and_then(|r| r.pictures.first().cloned());
    // The failure itself is told either way.
    let _ = FailedRecord::of(&job.picture, blake3, say, rests.map(Rests::untraced)).keep(&job.folder);
}
