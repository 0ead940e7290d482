//! One picture, from file to files.

use super::asked::{settings, wanted};
use super::ready::Kept;
use super::{ACCURACY, Call, Work};
use crate::cli::outcome::Outcome;
use crate::length::{Length, Px};
use crate::notes::ShotNotes;
use crate::proof::Proof;
use crate::shot::{Glance, Limits, Shot};
use crate::trace::{Flaw, JoinWanted, Line, Session, Wanted, join};
use crate::wardrobe::{Changed, FailedRecord, Job, Rests, Task, need};
use crate::write::{Record, WriteError};
use anyhow::{Context, bail};
use serde_json::json;
use std::path::Path;
use std::time::Instant;

/// What was done with a picture.
pub(super) enum Done {
    /// Traced, now or (`true`) before.
    Traced(Box<Outcome>, bool),
    Checked(Vec<Flaw>),
    /// It could not be traced before, and would not be now: what was said.
    FailedBefore(String),
}

/// What came of it for its garment.
pub(super) enum Came {
    Traced(Box<Outcome>),
    Failed(String),
    Checked,
}

impl Came {
    pub fn outcome(self) -> Option<Result<Outcome, String>> {
        match self {
            Self::Traced(outcome) => Some(Ok(*outcome)),
            Self::Failed(say) => Some(Err(say)),
            Self::Checked => None,
        }
    }
}

/// What a look at the pictures tells before they are decoded.
pub(super) struct Looked<'a> {
    pub rests: Rests<'a>,
    /// Memory their tracing takes, bytes.
    need: u64,
    asked: Wanted,
}

/// What there is of a picture's tracing.
pub(super) enum Before {
    Traced(Box<Record>),
    Failed(String),
    ToDo(Changed),
}

/// Looks at a job's pictures and what is asked of them.
///
/// # Errors
/// A picture can't be read; the notes are not right.
pub(super) fn look<'a>(call: &Call, job: &Job, kept: &'a Kept) -> anyhow::Result<Looked<'a>> {
    let (asked, drawn) = wanted(call, job)?;
    let mut looked = Looked {
        rests: Rests { pictures: Vec::new(), asked: format!("{asked:?}{drawn}{:?}", call.same), lens: String::new(), prints: &kept.prints },
        need: 0,
        asked,
    };
    for picture in job.pictures() {
        let glance = named(job, picture, Glance::at(picture, &Limits::default()))?;
        looked.need += need(&glance);
        looked.rests.lens.push_str(&kept.lenses.words(&glance.tags, glance.size));
        looked.rests.pictures.push(glance.blake3);
    }
    Ok(looked)
}

/// Of several pictures the one that is at fault is named.
fn named<T, E: std::error::Error + Send + Sync + 'static>(job: &Job, picture: &Path, done: Result<T, E>) -> anyhow::Result<T> {
    let name = || picture.file_name().unwrap_or_default().to_string_lossy().into_owned();
    if job.more.is_empty() { Ok(done?) } else { done.with_context(name) }
}

/// What there is of a job's tracing already.
pub(super) fn before(call: &Call, job: &Job, looked: &Looked) -> Before {
    if !call.looks_back() {
        return Before::ToDo(Changed::New);
    }
    let failed = FailedRecord::open(&job.folder).filter(|_| job.from_folder);
    let record = std::fs::read_to_string(job.folder.join("outline.json")).ok().and_then(|text| Record::from_text(&text).ok());
    match (failed, record) {
        (Some(f), _) if f.made_by.rests_on.as_ref() == Some(&looked.rests.untraced()) => Before::Failed(f.say),
        (Some(f), None) if f.made_by.rests_on.is_none() => Before::ToDo(Changed::Unsaid),
        (_, None) => Before::ToDo(Changed::New),
        (_, Some(record)) => match looked.rests.differs(&record, &job.folder) {
            Some(why) => Before::ToDo(why),
            None => Before::Traced(Box::new(record)),
        },
    }
}

/// Does what is asked for of one picture.
///
/// # Errors
/// It can't be done.
pub(super) fn one(work: &Work, task: &Task) -> anyhow::Result<Done> {
    let (call, job) = (work.call, task.job);
    let looked = look(call, job, &work.ready.kept);
    let looked = looked.inspect_err(|e| keep(job, e, None))?;
    if call.check_only {
        let _part = work.room.take(looked.need, false);
        return check(call, job, &work.ready.kept, looked.asked);
    }
    match before(call, job, &looked) {
        Before::Failed(say) => return Ok(Done::FailedBefore(say)),
        Before::Traced(record) => {
            FailedRecord::forget(&job.folder);
            return Ok(Done::Traced(Box::new(Outcome::again(*record, call.notes.as_deref(), job)?), true));
        }
        Before::ToDo(_) => {}
    }
    if let Some(most) = call.memory.map(|m| m.0).filter(|most| looked.need > *most) {
        let mb = |bytes: u64| bytes.div_ceil(1_000_000);
        bail!("needs about {} MB of memory and --memory allows {} MB; allow more, or reduce the picture", mb(looked.need), mb(most));
    }
    let _part = work.room.take(looked.need, task.alone);
    if let Some(keeping) = work.keeping {
        keeping.begin(&job.folder);
    }
    work.talk.begin(job);
    let traced = if job.more.is_empty() {
        trace_one(call, job, &work.ready.kept, &looked)
    } else {
        trace_joined(call, job, &work.ready.kept, &looked)
    };
    if let Err(e) = &traced {
        keep(job, e, Some(&looked.rests));
    }
    if let Some(keeping) = work.keeping {
        keeping.end(&job.folder);
    }
    traced
}

/// Keeps why a picture failed, in an archive. What a disk or a folder refused may be granted the next time.
fn keep(job: &Job, error: &anyhow::Error, rests: Option<&Rests>) {
    if !job.from_folder {
        return;
    }
    let refused = error.chain().any(|c| c.is::<WriteError>() || c.is::<std::io::Error>());
    let rests = rests.filter(|_| !refused);
    let blake3 = rests.and_then(|r| r.pictures.first().cloned());
    let say = crate::cli::say::sentence(error);
    // The failure itself is told either way.
    let _ = FailedRecord::of(&job.picture, blake3, say, rests.map(Rests::untraced)).keep(&job.folder);
}

/// Where a picture's figures and check pictures go.
fn proof(call: &Call, job: &Job) -> anyhow::Result<Proof> {
    let Some(dir) = &call.workings else { return Ok(Proof::off()) };
    let dir = dir.join(job.folder.file_name().unwrap_or_default());
    std::fs::create_dir_all(&dir).with_context(|| format!("cannot make the folder {}", dir.display()))?;
    Ok(Proof::into_dir(&dir))
}

/// What the stages left is worth most when one of them failed.
fn finish(proof: Proof) -> anyhow::Result<()> {
    proof.finish().context("cannot write the workings; choose another folder with --workings")
}

/// A picture opened, with all that is wanted of it.
fn session(job: &Job, picture: &Path, kept: &Kept, asked: Wanted) -> anyhow::Result<Session> {
    let shot = named(job, picture, Shot::open(picture, &Limits::default()))?;
    let wanted = Wanted { lens: kept.lenses.of(&shot.tags, [shot.width, shot.height]), prints: kept.prints.clone(), ..asked };
    Ok(Session::new(shot, wanted))
}

/// Whether a fresh picture had better be taken again.
fn check(call: &Call, job: &Job, kept: &Kept, asked: Wanted) -> anyhow::Result<Done> {
    if !job.more.is_empty() {
        bail!("pictures that are joined are checked one at a time; name one of them with --check-only and without its notes");
    }
    let mut proof = proof(call, job)?;
    let flaws = session(job, &job.picture, kept, asked)?.check(call.accuracy.map_or(ACCURACY, Length::mm), &mut proof);
    finish(proof)?;
    Ok(Done::Checked(flaws?))
}

/// One picture traced.
fn trace_one(call: &Call, job: &Job, kept: &Kept, looked: &Looked) -> anyhow::Result<Done> {
    let start = Instant::now();
    let mut session = session(job, &job.picture, kept, looked.asked.clone())?;
    let mut proof = proof(call, job)?;
    proof.time("shot", start.elapsed());
    let settings = settings(call, &session.wanted);
    let traced = session.run(&mut proof);
    let written = traced.map_err(anyhow::Error::from).and_then(|tracing| {
        let start = Instant::now();
        let mut outcome = Outcome::of(&tracing, settings, &looked.rests, (call.notes.as_deref(), job))?;
        outcome.write(&tracing, &[&session.shot], &job.folder)?;
        proof.time("write", start.elapsed());
        Ok(Done::Traced(Box::new(outcome), false))
    });
    finish(proof)?;
    written
}

/// Several pictures joined to one tracing.
fn trace_joined(call: &Call, job: &Job, kept: &Kept, looked: &Looked) -> anyhow::Result<Done> {
    let mut proof = proof(call, job)?;
    let asked = &looked.asked;
    if asked.line == Line::Seam {
        bail!(
            "a stitch line inside a shown allowance is not followed in joined pictures; trace their outer edge, or one picture at a time"
        );
    }
    let notes = asked.notes.clone();
    let within = notes.edges.iter().any(|e| e.line.is_some_and(|l| l != crate::notes::Line::Rim));
    if within || !(notes.inner.is_empty() && notes.regions.is_empty() && notes.through.is_empty() && notes.marks.is_empty()) {
        bail!(
            "marks, regions, through-points and seams or folds within are not followed in joined pictures; leave them out of this [[shot]]"
        );
    }
    let apart = Wanted { notes: ShotNotes::default(), ..asked.clone() };
    let sessions: anyhow::Result<Vec<Session>> = job.pictures().map(|p| session(job, p, kept, apart.clone())).collect();
    let mut sessions = sessions?;
    let mut settings = settings(call, asked);
    settings.insert("joined".into(), json!(sessions.len()));
    let same = if call.same.is_empty() { notes.same.clone() } else { call.same.clone() };
    if !same.is_empty() {
        let told = |[(j, p), (k, q)]: &[(usize, Px); 2]| json!([[j + 1, p.x, p.y], [k + 1, q.x, q.y]]);
        settings.insert("same".into(), same.iter().map(told).collect());
    }
    let whole = JoinWanted { pieces: asked.pieces, partial: asked.partial, same, notes };
    let traced = join(&mut sessions, &whole, &mut proof);
    let written = traced.map_err(anyhow::Error::from).and_then(|tracing| {
        let mut outcome = Outcome::of(&tracing, settings, &looked.rests, (call.notes.as_deref(), job))?;
        outcome.write(&tracing, &sessions.iter().map(|s| &s.shot).collect::<Vec<_>>(), &job.folder)?;
        Ok(Done::Traced(Box::new(outcome), false))
    });
    finish(proof)?;
    written
}
