//! Pictures opened and the stages of their tracings: the last few are kept, so that a correction redoes only what it touches.

use super::super::ReviewError;
use crate::shot::{Limits, Shot};
use crate::trace::Session;
use crate::wardrobe::{Job, WorkError};
use std::path::Path;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

/// Pixels of the pictures that are kept, all together: two of 12 MP with their stages stay below 200 MB.
const MOST: u64 = 26_000_000;

/// What is kept of one tracing.
#[derive(Default)]
pub(super) struct Bench {
    shots: Mutex<Option<Vec<Arc<Shot>>>>,
    session: Mutex<Option<Session>>,
}

/// The benches at hand, the one used last at the end.
#[derive(Default)]
pub(super) struct Warm {
    kept: Mutex<Vec<(String, Arc<Bench>)>>,
}

impl Bench {
    /// The pictures, opened when they are not yet.
    ///
    /// # Errors
    /// One can't be decoded.
    pub fn shots(&self, job: &Job) -> Result<Vec<Arc<Shot>>, ReviewError> {
        let mut kept = lock(&self.shots);
        if let Some(shots) = &*kept {
            return Ok(shots.clone());
        }
        let open = |p: &Path| Shot::open(p, &Limits::default()).map(Arc::new).map_err(WorkError::from);
        let shots = job.pictures().map(|p| open(p)).collect::<Result<Vec<_>, _>>()?;
        Ok(kept.insert(shots).clone())
    }

    /// The pictures whose hashes these are: those that were opened before one was taken anew are let go, with all that was made of them.
    ///
    /// # Errors
    /// One can't be decoded.
    pub fn shots_of(&self, job: &Job, hashes: &[String], session: &mut Option<Session>) -> Result<Vec<Arc<Shot>>, ReviewError> {
        let shots = self.shots(job)?;
        if shots.iter().map(|s| &s.blake3).eq(hashes) {
            return Ok(shots);
        }
        *session = None;
        *lock(&self.shots) = None;
        self.shots(job)
    }

    /// The session, held as long as it is worked with; none before the first.
    pub fn session(&self) -> MutexGuard<'_, Option<Session>> {
        lock(&self.session)
    }

    fn pixels(&self) -> u64 {
        // One that is being opened is in use, and counted the next time.
        let shots = self.shots.try_lock().ok().and_then(|s| s.clone()).unwrap_or_default();
        shots.iter().map(|s| s.width as u64 * s.height as u64).sum()
    }
}

impl Warm {
    /// The bench of an entry; those used longest ago make room for it.
    pub fn bench(&self, at: &str) -> Arc<Bench> {
        let mut kept = lock(&self.kept);
        let own = kept.iter().position(|(name, _)| name == at).map(|k| kept.remove(k));
        let (name, bench) = own.unwrap_or_else(|| (at.to_owned(), Arc::default()));
        // The one asked for may be about to be opened: it counts as large as the largest.
        let largest = kept.iter().map(|(_, b)| b.pixels()).max().unwrap_or(0);
        let left = MOST.saturating_sub(bench.pixels().max(largest));
        while kept.iter().map(|(_, b)| b.pixels()).sum::<u64>() > left {
            kept.remove(0);
        }
        kept.push((name, bench.clone()));
        bench
    }

    /// Lets go of what was kept of an entry.
    pub fn forget(&self, at: &str) {
        lock(&self.kept).retain(|(name, _)| name != at);
    }
}

/// A fault in one request must not take the next one's bench away.
pub(super) fn lock<T>(of: &Mutex<T>) -> MutexGuard<'_, T> {
    of.lock().unwrap_or_else(PoisonError::into_inner)
}
