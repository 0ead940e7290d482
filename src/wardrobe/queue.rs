//! The run: units are opened in order, each held against other runs, and their pictures given to threads.

use super::keeping::{Held, Keeping, sweep};
use super::listing::Job;
use super::units::Unit;
use std::collections::VecDeque;
use std::sync::{Mutex, PoisonError};
use std::time::Duration;

/// How long to wait before a unit that another run holds is asked for again.
const WAIT: Duration = Duration::from_millis(100);

/// A picture to work on.
#[derive(Clone, Copy, Debug)]
pub struct Task<'a> {
    /// The picture.
    pub job: &'a Job,
    /// A run died at it before: it comes last, and nothing else beside it.
    pub alone: bool,
}

/// A run over units.
#[derive(Clone, Copy, Debug)]
pub struct Run<'a> {
    /// What is to be done.
    pub units: &'a [Unit],
    /// Threads in all. Several pictures are worked on at once, each by its share of them.
    pub threads: usize,
    /// Where the archive keeps locks and marks; none where pictures were named one by one.
    pub keeping: Option<&'a Keeping>,
}

/// What is left to do.
struct Left<'a, T> {
    /// Units that nobody opened yet.
    fresh: VecDeque<usize>,
    /// Units at which a run died.
    later: VecDeque<usize>,
    /// Pictures of units that were opened: unit, picture, whether alone.
    open: VecDeque<(usize, usize, bool)>,
    /// What came of each unit's pictures.
    done: Vec<Vec<Option<T>>>,
    held: Vec<Option<Held>>,
    run: Run<'a>,
}

/// What a thread is to do.
enum Next {
    Work(usize, usize, bool),
    Wait,
    Nothing,
}

/// Gives every picture to `each` and every unit, once all of its pictures are done, to `whole` with what came of them, in their order.
///
/// # Errors
/// The system has no threads to give.
pub fn run<T: Send>(
    run: Run,
    each: impl Fn(Task) -> T + Sync,
    whole: impl Fn(&Unit, Vec<T>) + Sync,
) -> Result<(), rayon::ThreadPoolBuildError> {
    let pictures: usize = run.units.iter().map(|u| u.jobs.len()).sum();
    let workers = run.threads.min(pictures).max(1);
    let left = Mutex::new(Left::of(run));
    let pools: Vec<_> =
        (0..workers).map(|k| rayon::ThreadPoolBuilder::new().num_threads((run.threads + k) / workers).build()).collect::<Result<_, _>>()?;
    let work = || {
        loop {
            let next = left.lock().unwrap_or_else(PoisonError::into_inner).next();
            match next {
                Next::Nothing => break,
                Next::Wait => std::thread::sleep(WAIT),
                Next::Work(unit, job, alone) => {
                    let done = each(Task { job: &run.units[unit].jobs[job], alone });
                    let all = left.lock().unwrap_or_else(PoisonError::into_inner).take(unit, job, done);
                    if let Some(all) = all {
                        whole(&run.units[unit], all);
                        left.lock().unwrap_or_else(PoisonError::into_inner).held[unit] = None;
                    }
                }
            }
        }
    };
    std::thread::scope(|scope| {
        for pool in &pools {
            scope.spawn(|| pool.install(work));
        }
    });
    Ok(())
}

impl<'a, T> Left<'a, T> {
    fn of(run: Run<'a>) -> Self {
        Self {
            fresh: (0..run.units.len()).collect(),
            later: VecDeque::new(),
            open: VecDeque::new(),
            done: run.units.iter().map(|u| u.jobs.iter().map(|_| None).collect()).collect(),
            held: run.units.iter().map(|_| None).collect(),
            run,
        }
    }

    fn next(&mut self) -> Next {
        if self.open.is_empty() {
            for _ in 0..self.fresh.len() {
                let Some(unit) = self.fresh.pop_front() else { break };
                if !self.opened(unit, false) {
                    continue;
                }
                break;
            }
        }
        if self.open.is_empty() && self.fresh.is_empty() {
            for _ in 0..self.later.len() {
                let Some(unit) = self.later.pop_front() else { break };
                if self.opened(unit, true) {
                    break;
                }
            }
        }
        match self.open.pop_front() {
            Some((unit, job, alone)) => Next::Work(unit, job, alone),
            None if self.fresh.is_empty() && self.later.is_empty() => Next::Nothing,
            None => Next::Wait,
        }
    }

    /// Opens a unit, unless another run holds it or, the first time, a run died at it: then it goes to the end of its queue, or of all.
    fn opened(&mut self, unit: usize, again: bool) -> bool {
        let Unit { id, home, jobs, .. } = &self.run.units[unit];
        let Some(keeping) = self.run.keeping else {
            self.open.extend((0..jobs.len()).map(|job| (unit, job, false)));
            return true;
        };
        let Some(held) = keeping.hold(id) else {
            if again { &mut self.later } else { &mut self.fresh }.push_back(unit);
            return false;
        };
        let died: Vec<bool> = jobs.iter().map(|j| keeping.died(&j.folder)).collect();
        if !again && died.contains(&true) {
            self.later.push_back(unit);
            return false;
        }
        jobs.iter().map(|j| &j.folder).chain([home]).for_each(|folder| sweep(folder));
        self.held[unit] = Some(held);
        self.open.extend(died.iter().enumerate().map(|(job, alone)| (unit, job, *alone)));
        true
    }

    /// Takes what came of a picture; gives what came of all of its unit when it was the last.
    fn take(&mut self, unit: usize, job: usize, done: T) -> Option<Vec<T>> {
        self.done[unit][job] = Some(done);
        if self.done[unit].iter().any(Option::is_none) {
            return None;
        }
        std::mem::take(&mut self.done[unit]).into_iter().collect()
    }
}

#[cfg(test)]
mod tests {
    use super::super::{list, units};
    use super::*;
    use std::path::{Path, PathBuf};
    use std::sync::atomic::{AtomicUsize, Ordering};

    fn wardrobe(dir: &Path) -> Vec<Unit> {
        for k in 0..20 {
            let path = dir.join(format!("{:02}/p{k}.jpg", k / 3));
            std::fs::create_dir_all(path.parent().expect("a parent")).expect("made");
            std::fs::write(path, b"\xFF\xD8\xFF").expect("written");
        }
        let jobs = list(&[dir.to_path_buf()], &dir.join("out")).expect("listed").jobs;
        units(jobs, &dir.join("out"), |j| Some(j.picture.with_file_name("garment.toml")))
    }

    #[test]
    fn every_picture_once_and_every_unit_whole_by_two_runs_at_once() {
        let dir = tempfile::tempdir().expect("a folder");
        let all = wardrobe(dir.path());
        let keeping = Keeping::at(&dir.path().join("out")).expect("made");
        let (at_work, whole) = (Mutex::new(Vec::<PathBuf>::new()), AtomicUsize::new(0));
        let one = || {
            let each = |task: Task| {
                let folder = task.job.folder.parent().expect("a garment's").to_path_buf();
                at_work.lock().expect("no panic").push(folder.clone());
                std::thread::sleep(Duration::from_millis(2));
                task.job.name()
            };
            let done = |unit: &Unit, names: Vec<String>| {
                assert_eq!(names, unit.jobs.iter().map(Job::name).collect::<Vec<_>>());
                whole.fetch_add(1, Ordering::SeqCst);
            };
            run(Run { units: &all, threads: 3, keeping: Some(&keeping) }, each, done).expect("threads");
        };
        std::thread::scope(|s| {
            s.spawn(one);
            s.spawn(one);
        });
        assert_eq!((at_work.lock().expect("no panic").len(), whole.load(Ordering::SeqCst)), (40, 14));
    }

    #[test]
    fn where_a_run_died_comes_last_and_alone() {
        let dir = tempfile::tempdir().expect("a folder");
        let all = wardrobe(dir.path());
        let keeping = Keeping::at(&dir.path().join("out")).expect("made");
        keeping.begin(&all[0].jobs[1].folder);
        let order = Mutex::new(Vec::new());
        run(
            Run { units: &all, threads: 1, keeping: Some(&keeping) },
            |t| order.lock().expect("no panic").push((t.job.name(), t.alone)),
            |_, _| {},
        )
        .expect("threads");
        let order = order.into_inner().expect("no panic");
        assert_eq!(order.iter().filter(|o| o.1).map(|o| o.0.as_str()).collect::<Vec<_>>(), ["00/p1.jpg"]);
        assert_eq!(order[order.len() - 3..].iter().map(|o| o.0.as_str()).collect::<Vec<_>>(), ["00/p0.jpg", "00/p1.jpg", "00/p2.jpg"]);
    }
}
