//! Files of corrected tracings, written behind the page's back: the person sees the new line at once, the notes are kept first.
//!
//! A tracing that was not written yet when the program ends is made again from the notes, by the next run or when it is looked at.

use super::entries::Entry;
use super::warm::lock;
use crate::shot::Shot;
use crate::trace::Tracing;
use crate::wardrobe::{FailedRecord, Held, Outcome, WorkError, gather};
use crate::write::Record;
use std::collections::BTreeMap;
use std::sync::{Arc, Condvar, Mutex, PoisonError};

/// A tracing whose files are to be written.
pub(super) struct Pending {
    pub entry: Entry,
    pub outcome: Outcome,
    pub tracing: Tracing,
    pub shot: Arc<Shot>,
    /// Keeps other runs from the garment meanwhile.
    pub held: Arc<Held>,
}

impl Pending {
    fn write(&self) -> Result<(), WorkError> {
        self.outcome.clone().write(&self.tracing, &[&self.shot], &self.entry.job().folder)
    }
}

/// What is to be written, by entry.
#[derive(Default)]
struct Todo {
    waiting: BTreeMap<String, Arc<Pending>>,
    /// Garments whose records are to be made anew, by an entry of each.
    garments: BTreeMap<String, (Entry, Arc<Held>)>,
    /// Whether something is being written now.
    busy: bool,
    /// What could not be written, until somebody is told.
    failed: Option<String>,
    over: bool,
}

#[derive(Default)]
pub(super) struct Writer {
    todo: Mutex<Todo>,
    changed: Condvar,
}

impl Writer {
    /// Starts one.
    pub fn start() -> Arc<Self> {
        let writer = Arc::new(Self::default());
        let own = writer.clone();
        std::thread::spawn(move || own.work());
        writer
    }

    /// Takes a tracing to be written; one of the same entry that still waits is no longer needed.
    pub fn put(&self, at: &str, pending: Pending) {
        lock(&self.todo).waiting.insert(at.to_owned(), Arc::new(pending));
        self.changed.notify_all();
    }

    /// The record of a tracing that still waits to be written.
    pub fn waiting(&self, at: &str) -> Option<Record> {
        lock(&self.todo).waiting.get(at).map(|p| p.outcome.record.clone())
    }

    /// Waits until all is written; gives what could not be, once.
    pub fn settle(&self) -> Option<String> {
        let mut todo = lock(&self.todo);
        while todo.busy || !todo.waiting.is_empty() || !todo.garments.is_empty() {
            todo = self.changed.wait(todo).unwrap_or_else(PoisonError::into_inner);
        }
        todo.failed.take()
    }

    /// Ends the writing, once all is done.
    pub fn end(&self) {
        lock(&self.todo).over = true;
        self.changed.notify_all();
    }

    fn work(&self) {
        loop {
            let mut todo = lock(&self.todo);
            todo.busy = false;
            self.changed.notify_all();
            while todo.waiting.is_empty() && todo.garments.is_empty() {
                if todo.over {
                    return;
                }
                todo = self.changed.wait(todo).unwrap_or_else(PoisonError::into_inner);
            }
            todo.busy = true;
            // It stands in for its files until those are there.
            let next = todo.waiting.iter().next().map(|(at, p)| (at.clone(), p.clone()));
            let garment = if next.is_none() { todo.garments.pop_first() } else { None };
            drop(todo);
            if let Some((at, pending)) = next {
                let written = pending.write();
                let mut todo = lock(&self.todo);
                // What was put there meanwhile is newer.
                if todo.waiting.get(&at).is_some_and(|p| Arc::ptr_eq(p, &pending)) {
                    todo.waiting.remove(&at);
                }
                todo.garments.insert(pending.entry.unit.id.clone(), (pending.entry.clone(), pending.held.clone()));
                todo.failed = written.err().map(|e| e.to_string()).or(todo.failed.take());
            } else if let Some((_, (entry, _held))) = garment {
                let written = record(&entry);
                let mut todo = lock(&self.todo);
                todo.failed = written.err().or(todo.failed.take());
            }
        }
    }
}

/// Makes a garment's record anew from its pictures' own.
fn record(entry: &Entry) -> Result<(), String> {
    if entry.unit.notes.is_none() {
        return Ok(());
    }
    let came = entry.unit.jobs.iter().map(|job| {
        let text = std::fs::read_to_string(job.folder.join("outline.json")).ok();
        match text.and_then(|t| Record::from_text(&t).ok()) {
            Some(record) => Outcome::again(record, entry.terms.notes.as_deref(), job).map_err(|e| e.to_string()),
            None => Err(FailedRecord::open(&job.folder).map_or_else(|| "was not traced yet".into(), |f| f.say)),
        }
    });
    gather(&entry.unit, came.collect()).map(drop).map_err(|e| e.to_string())
}
