//! What a run says while it goes on: results as they come, a bar on a terminal, a line now and then elsewhere.

use super::Call;
use super::one::{Came, Done};
use crate::cli::say;
use crate::wardrobe::{Job, LeftOut, Tally, WorkError, Written, time_words, wants_a_look};
use indicatif::{ProgressBar, ProgressDrawTarget, ProgressStyle};
use std::collections::BTreeSet;
use std::io::IsTerminal;
use std::sync::{Mutex, MutexGuard, PoisonError};
use std::time::{Duration, Instant};

/// Runs of fewer pictures say what they do by their results alone.
const MANY: usize = 4;
/// How often a long run says how far it is where there is no terminal.
const NOW_AND_THEN: Duration = Duration::from_secs(60);
/// Pictures named in the bar.
const NAMED: usize = 3;

/// The talk of one run.
pub(super) struct Talk {
    json: bool,
    verbose: bool,
    /// Whether pictures are only checked.
    checks: bool,
    began: Instant,
    bar: ProgressBar,
    state: Mutex<State>,
}

/// How far the run is.
struct State {
    tally: Tally,
    running: Vec<String>,
    /// Failures that are no picture's.
    lost: usize,
    told: Instant,
    /// What was said of notes already: every picture of a garment has the same.
    said: BTreeSet<String>,
    /// Pictures that failed by notes of which all was said.
    silent: usize,
}

impl Talk {
    pub fn new(call: &Call, pictures: usize) -> Self {
        let many = pictures >= MANY && !call.check_only && std::io::stderr().is_terminal();
        let bar = ProgressBar::with_draw_target(
            Some(pictures as u64),
            if many { ProgressDrawTarget::stderr() } else { ProgressDrawTarget::hidden() },
        );
        // A template of ours is right or wrong for everybody: the plain one is no worse to read.
        bar.set_style(ProgressStyle::with_template("{bar:24} {pos} of {len}, {wide_msg}").unwrap_or_else(|_| ProgressStyle::default_bar()));
        let now = Instant::now();
        let state = State {
            tally: Tally { all: pictures, ..Tally::default() },
            running: Vec::new(),
            lost: 0,
            told: now,
            said: BTreeSet::new(),
            silent: 0,
        };
        Self { json: call.json, verbose: call.verbose, checks: call.check_only, began: now, bar, state: Mutex::new(state) }
    }

    fn state(&self) -> MutexGuard<'_, State> {
        self.state.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// A picture that is worked on from now.
    pub fn begin(&self, job: &Job) {
        let mut state = self.state();
        state.running.push(job.name());
        self.show(&state);
    }

    /// Something that goes for several pictures: said once.
    pub fn once(&self, words: &str) {
        if self.state().said.insert(words.to_owned()) {
            self.bar.suspend(|| say::note(words));
        }
    }

    /// What was done with a picture; gives what came of it for its garment.
    pub fn done(&self, job: &Job, done: anyhow::Result<Done>) -> Came {
        let name = job.name();
        let mut state = self.state();
        state.running.retain(|n| *n != name);
        let tally = &mut state.tally;
        let came = match done {
            Ok(Done::Traced(outcome, before)) => {
                *if before { &mut tally.unchanged } else { &mut tally.traced } += 1;
                tally.doubtful += usize::from(outcome.record.doubts.iter().any(|d| wants_a_look(&d.code)));
                self.bar.suspend(|| say::traced(&name, &job.folder, &outcome, before, (self.json, self.verbose)));
                Came::Traced(outcome)
            }
            Ok(Done::Checked(flaws)) => {
                *if flaws.is_empty() { &mut tally.traced } else { &mut tally.failed } += 1;
                self.bar.suspend(|| say::checked(&name, &flaws, self.json));
                Came::Checked
            }
            Ok(Done::FailedBefore(told)) => {
                tally.failed += 1;
                self.bar.suspend(|| say::failed_before(&name, &told, self.json));
                Came::Failed(told)
            }
            Err(e) => {
                tally.failed += 1;
                let of_notes = e.downcast_ref::<WorkError>().is_some_and(WorkError::of_notes);
                let home = job.picture.parent().map(|p| p.display().to_string()).unwrap_or_default();
                if of_notes && !self.json && !state.said.insert(format!("{home}: {}", say::sentence(&e))) {
                    state.silent += 1;
                    Came::Failed(say::sentence(&e))
                } else {
                    Came::Failed(self.bar.suspend(|| say::failed(&name, &e, self.json, self.verbose)))
                }
            }
        };
        self.show(&state);
        self.now_and_then(&mut state);
        came
    }

    /// What came of a garment's record.
    pub fn garment(&self, written: anyhow::Result<Option<Written>>) {
        let mut state = self.state();
        match written {
            Ok(Some(written)) => {
                self.bar.suspend(|| {
                    written.laid.iter().for_each(|l| say::compared(&l.name, &l.compared, l.pictures, self.json));
                    say::joined(&written.record, &written.file, written.unchanged, self.json);
                });
                state.lost += usize::from(!written.lost.is_empty());
            }
            Ok(None) => {}
            Err(e) => {
                self.bar.suspend(|| say::fault(&e));
                state.lost += 1;
            }
        }
    }

    /// A file that is no picture, or can't be looked at.
    pub fn left_out(&self, left: &LeftOut) {
        self.bar.suspend(|| say::left_out(left, self.json));
    }

    /// The run is over; gives how much failed.
    pub fn end(&self) -> usize {
        let state = self.state();
        self.bar.finish_and_clear();
        if state.silent > 0 {
            let more = if state.silent == 1 { "1 more picture".to_owned() } else { format!("{} more pictures", state.silent) };
            say::note(&format!("{more} failed by the same notes"));
        }
        if state.tally.all >= MANY && !self.checks {
            say::note(&format!("{} pictures: {}, in {}", state.tally.all, state.tally.words(), time_words(self.began.elapsed())));
        }
        state.tally.failed + state.lost
    }

    fn show(&self, state: &State) {
        self.bar.set_position(state.tally.done() as u64);
        self.bar.set_message(self.words(state));
    }

    /// How far the run is, and what is being worked on, in words.
    fn words(&self, state: &State) -> String {
        let so_far = self.began.elapsed();
        let mut words = vec![state.tally.words()];
        words.extend(rate(&state.tally, so_far));
        words.extend(state.tally.left(so_far).filter(|_| !state.running.is_empty()).map(|left| format!("{} left", time_words(left))));
        let named: Vec<&str> = state.running.iter().take(NAMED).map(String::as_str).collect();
        let more = state.running.len().saturating_sub(NAMED);
        let more = if more > 0 { format!(" and {more} more") } else { String::new() };
        if !named.is_empty() {
            words.push(format!("now {}{more}", named.join(", ")));
        }
        words.join("; ")
    }

    fn now_and_then(&self, state: &mut State) {
        let done = state.tally.done();
        if self.bar.is_hidden() && state.told.elapsed() > NOW_AND_THEN && done < state.tally.all {
            state.told = Instant::now();
            say::note(&format!("{done} of {}: {}", state.tally.all, self.words(state)));
        }
    }
}

/// Pictures a second or a minute, in words; nothing before there is one.
fn rate(tally: &Tally, so_far: Duration) -> Option<String> {
    let a_second = (tally.traced + tally.failed) as f64 / so_far.as_secs_f64();
    match a_second {
        r if !r.is_finite() || r == 0.0 => None,
        r if r < 0.5 => Some(format!("{:.0} a minute", r * 60.0)),
        r => Some(format!("{r:.1} a second")),
    }
}
