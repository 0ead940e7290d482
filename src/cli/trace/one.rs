//! One picture of a run: what it takes, what there is of it, and what is done.

use super::{ACCURACY, Call, Work};
use crate::cli::say;
use crate::length::Length;
use crate::proof::Proof;
use crate::trace::Flaw;
use crate::wardrobe::{
    self, Before, Changed, FailedRecord, Job, Looked, Outcome, Task, WorkError, before, keep_failure, look, session, trace_job,
};
use anyhow::{Context, bail};

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

/// What there is of a picture's tracing, as far as the call looks back.
pub(super) fn standing(call: &Call, job: &Job, looked: &Looked) -> Before {
    if call.looks_back() { before(job, looked) } else { Before::ToDo(Changed::New) }
}

/// Does what is asked for of one picture.
///
/// # Errors
/// It can't be done.
pub(super) fn one(run: &Work, task: &Task) -> anyhow::Result<Done> {
    let (call, job, ready) = (run.call, task.job, run.ready);
    let work = wardrobe::Work { job, terms: &ready.terms, lenses: &ready.lenses, prints: &ready.prints };
    let looked = look(work.terms, job, work.lenses, work.prints);
    let looked = looked.map_err(anyhow::Error::from).inspect_err(|e| keep_failure(job, say::sentence(e), true, None))?;
    looked.asked.said.iter().for_each(|words| run.talk.once(words));
    if call.check_only {
        let _part = run.room.take(looked.need, false);
        return check(call, work, &looked);
    }
    match standing(call, job, &looked) {
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
    let _part = run.room.take(looked.need, task.alone);
    if let Some(keeping) = run.keeping {
        keeping.begin(&job.folder);
    }
    run.talk.begin(job);
    let traced = traced(call, work, &looked);
    if let Some(keeping) = run.keeping {
        keeping.end(&job.folder);
    }
    traced
}

/// A picture traced, and its failure kept.
fn traced(call: &Call, work: wardrobe::Work, looked: &Looked) -> anyhow::Result<Done> {
    let mut proof = proof(call, work.job)?;
    let traced = trace_job(work, looked, &mut proof);
    let refused = traced.as_ref().is_err_and(WorkError::refused);
    let traced =
        traced.map_err(anyhow::Error::from).inspect_err(|e| keep_failure(work.job, say::sentence(e), refused, Some(&looked.rests)));
    finish(proof)?;
    Ok(Done::Traced(Box::new(traced?), false))
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

/// Whether a fresh picture had better be taken again.
fn check(call: &Call, work: wardrobe::Work, looked: &Looked) -> anyhow::Result<Done> {
    let job = work.job;
    if !job.more.is_empty() {
        bail!("pictures that are joined are checked one at a time; name one of them with --check-only and without its notes");
    }
    let mut proof = proof(call, job)?;
    let flaws = session(work, &job.picture, looked)?.check(call.accuracy.map_or(ACCURACY, Length::mm), &mut proof);
    finish(proof)?;
    Ok(Done::Checked(flaws?))
}
