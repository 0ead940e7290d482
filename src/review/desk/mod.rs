//! The desk: an archive's tracings with the pictures and notes they came from, shown and corrected by the same code as in a run.
//!
//! | file | holds |
//! |---|---|
//! | `entries` | tracings by where their results lie, found again from the calls that made the archive |
//! | `warm` | pictures opened and stages kept, of the last few |
//! | `current` | what an entry is now: its notes and its record, traced again where the notes have changed |
//! | `mending` | a correction written into the notes and its tracing redone; and taken back |
//! | `numbered` | pieces that get another number by a correction |
//! | `writer` | the files of corrected tracings, written behind |
//! | `shown` | an entry as the page is told of it |
//! | `hints` | what the notes say of a picture, in places of the sheet |
//! | `checks` | the garment beside it: measures, tape readings, sides, joins |

mod checks;
mod current;
mod entries;
mod hints;
mod mending;
mod numbered;
mod shown;
mod warm;
mod writer;

use super::ReviewError;
use super::opinion::{OpinionError, Opinions, Verdict};
use super::queue::Queue;
use super::tile::Pyramid;
use super::words::gone;
use crate::shot::Shot;
use crate::view::View;
use crate::wardrobe::{Held, Keeping, Prints, Terms, Work, sweep};
use crate::write::views;
use current::Current;
use entries::{Entry, entries};
use mending::Step;
use serde_json::{Value, json};
use std::collections::{BTreeMap, BTreeSet};
use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex, Weak};
use warm::{Warm, lock};
use writer::Writer;

/// An archive on the desk.
pub struct Desk {
    root: PathBuf,
    queue: Queue,
    entries: BTreeMap<String, Entry>,
    prints: Prints,
    keeping: Option<Keeping>,
    warm: Warm,
    writer: Arc<Writer>,
    /// Corrections that may be taken back, the latest last, by the notes they stand in.
    steps: Mutex<BTreeMap<PathBuf, Vec<Step>>>,
    /// Held while notes, opinions or ticks are changed.
    pen: Mutex<()>,
    /// Garments held against other runs.
    held: Mutex<BTreeMap<String, Weak<Held>>>,
}

impl Drop for Desk {
    fn drop(&mut self) {
        self.writer.end();
    }
}

impl Desk {
    /// Lays out the archive below `root`, with its pictures where the calls that made it found them, or in the folder named.
    ///
    /// # Errors
    /// The archive can't be read.
    pub fn open(root: &Path, pictures: Option<&Path>) -> Result<Self, ReviewError> {
        std::fs::read_dir(root).map_err(|source| ReviewError::Read { file: root.display().to_string(), source })?;
        Ok(Self {
            root: root.to_path_buf(),
            queue: Queue::of(root),
            entries: entries(root, pictures)?,
            prints: Prints::gather(),
            keeping: Keeping::at(root).ok(),
            warm: Warm::default(),
            writer: Writer::start(),
            steps: Mutex::default(),
            pen: Mutex::default(),
            held: Mutex::default(),
        })
    }

    /// The archive's root.
    pub fn folder(&self) -> &Path {
        &self.root
    }

    /// How many tracings have their pictures at hand.
    pub fn mendable(&self) -> usize {
        self.entries.len()
    }

    /// Folders below which pictures are opened and notes written: one for each call that made the archive.
    pub fn sources(&self) -> Vec<PathBuf> {
        let mut all: BTreeMap<*const Terms, PathBuf> = BTreeMap::new();
        for entry in self.entries.values() {
            let notes = entry.notes();
            let own = std::fs::canonicalize(notes.parent().unwrap_or(Path::new("."))).unwrap_or_default();
            let shared = all.entry(Arc::as_ptr(&entry.terms)).or_insert_with(|| own.clone());
            while !own.starts_with(&*shared) && shared.pop() {}
        }
        all.into_values().collect::<BTreeSet<PathBuf>>().into_iter().collect()
    }

    /// Waits until the files of all corrections are written; gives what could not be, once.
    pub fn settle(&self) -> Option<String> {
        self.writer.settle()
    }

    /// The entry that lies at a place, when its pictures are at hand.
    fn entry(&self, at: &str) -> Result<&Entry, ReviewError> {
        let lost = || match self.queue.entry(at, "") {
            Ok(None) => ReviewError::NoEntry(at.to_owned()),
            _ => ReviewError::Cannot(gone(&format!("the picture of {at}"))),
        };
        self.entries.get(at).ok_or_else(lost)
    }

    /// The folder of an entry's results. Only what was listed is looked at: no path is made of what a request says.
    fn results(&self, at: &str) -> Result<PathBuf, ReviewError> {
        match self.entries.get(at) {
            Some(entry) => Ok(entry.job().folder.clone()),
            None => {
                let listed = self.queue.entry(at, "")?;
                let below = listed.ok_or_else(|| ReviewError::NoEntry(at.to_owned()))?.at;
                Ok(if below == "." { self.root.clone() } else { self.root.join(below) })
            }
        }
    }

    fn work<'a>(&'a self, entry: &'a Entry) -> Work<'a> {
        Work { job: entry.job(), terms: &entry.terms, lenses: &entry.lenses, prints: &self.prints }
    }

    /// Keeps other runs from a garment as long as any part of a correction needs it.
    fn hold(&self, entry: &Entry) -> Result<Arc<Held>, ReviewError> {
        let mut all = lock(&self.held);
        if let Some(held) = all.get(&entry.unit.id).and_then(Weak::upgrade) {
            return Ok(held);
        }
        let busy = || ReviewError::Cannot("a run is working on this garment; try again when it is done".into());
        let keeping = self
            .keeping
            .as_ref()
            .ok_or_else(|| ReviewError::Cannot("the archive's folder can't be written to; change its permissions".into()))?;
        let held = Arc::new(keeping.hold(&entry.unit.id).ok_or_else(busy)?);
        // What a page that was killed had begun to write.
        [Some(entry.job().folder.as_path()), entry.notes().parent()].into_iter().flatten().for_each(sweep);
        all.insert(entry.unit.id.clone(), Arc::downgrade(&held));
        Ok(held)
    }

    /// The entries, worst first, as a reviewer is told of them.
    ///
    /// # Errors
    /// The archive can't be read any more.
    pub fn queue(&self, by: &str) -> Result<Value, ReviewError> {
        Ok(json!({"folder": self.root.display().to_string(), "entries": self.queue.entries(by)?}))
    }

    /// All that is shown of one entry.
    ///
    /// # Errors
    /// There is none, or it can't be read.
    pub fn look(&self, at: &str, by: &str) -> Result<Value, ReviewError> {
        let current = self.current(at)?;
        self.shown(at, by, &current)
    }

    /// A tile of the straightened picture, as JPEG.
    ///
    /// # Errors
    /// There is none, or its picture can't be read.
    pub fn tile(&self, at: &str, z: u32, x: u32, y: u32) -> Result<Vec<u8>, ReviewError> {
        let entry = self.entry(at)?;
        let shots = self.warm.bench(at).shots(entry.job())?;
        let Some(record) = self.record(at)? else {
            let shot = shots.first().ok_or_else(|| ReviewError::NoEntry(at.to_owned()))?;
            let size = [shot.width, shot.height];
            let drawn = Pyramid::bare(size).draw(&[(shot, &Pyramid::bare_view(size))], 0.0, z, x, y);
            return drawn.map_err(|e| ReviewError::Cannot(e.to_string()));
        };
        let nothing = || ReviewError::Cannot(format!("the tracing of {at} has nothing to be shown; trace it again"));
        let (pyramid, views) = (Pyramid::of(&record).ok_or_else(nothing)?, views(&record).ok_or_else(nothing)?);
        let height = record.views.first().map_or(0.0, |v| v.thickness_mm);
        let pictures: Vec<(&Shot, &View)> = shots.iter().map(|s| &**s).zip(&views).collect();
        pyramid.draw(&pictures, height, z, x, y).map_err(|e| ReviewError::Cannot(e.to_string()))
    }

    /// The small picture of an entry, as JPEG.
    ///
    /// # Errors
    /// There is none.
    pub fn thumbnail(&self, at: &str) -> Result<Vec<u8>, ReviewError> {
        let file = self.results(at)?.join("thumbnail.jpg");
        std::fs::read(&file).map_err(|source| ReviewError::Read { file: file.display().to_string(), source })
    }

    /// What the view leaves of each node of the sheet.
    ///
    /// # Errors
    /// The picture is not at hand, or can't be traced.
    pub fn residuals(&self, at: &str) -> Result<Value, ReviewError> {
        let entry = self.entry(at)?;
        if !entry.job().more.is_empty() {
            return Err(ReviewError::Cannot(
                "several pictures were joined here, each with a view of its own; trace one alone to see its residuals".into(),
            ));
        }
        let bench = self.warm.bench(at);
        let mut session = bench.session();
        self.warmed(entry, &bench, &mut session)?;
        let nodes = session.as_ref().map(crate::trace::Session::residuals).unwrap_or_default();
        let square = nodes.iter().map(|[place, seen]| (*seen - *place).norm_squared()).sum::<f64>();
        let rms = (square / nodes.len().max(1) as f64).sqrt();
        let round = |v: f64| (v * 1e4).round() / 1e4;
        let told = nodes.iter().map(|[p, q]| [p.x, p.y, q.x - p.x, q.y - p.y].map(round));
        Ok(json!({"nodes": told.collect::<Vec<_>>(), "rms_mm": round(rms)}))
    }

    /// Gives, changes or withdraws a reviewer's opinion.
    ///
    /// # Errors
    /// The entry has changed since it was seen; the opinion can't be kept.
    pub fn opinion(&self, at: &str, seen: &str, by: &str, word: Option<Verdict>, note: &str) -> Result<Value, ReviewError> {
        let _pen = lock(&self.pen);
        let current = self.current(at)?;
        self.unchanged(at, seen, by, &current)?;
        self.keep(at, |opinions| match word {
            Some(word) => opinions.give(by, word, note, current.record.as_deref()),
            None => {
                opinions.withdraw(by);
                Ok(())
            }
        })?;
        self.shown(at, by, &current)
    }

    /// Ticks a doubt off, or takes the tick away.
    ///
    /// # Errors
    /// It can't be kept.
    pub fn tick(&self, at: &str, by: &str, doubt: &str, ticked: bool) -> Result<Value, ReviewError> {
        let _pen = lock(&self.pen);
        self.keep(at, |opinions| opinions.tick(by, doubt, ticked))?;
        self.shown(at, by, &self.current(at)?)
    }

    /// Changes what is kept of opinions and ticks.
    fn keep(&self, at: &str, change: impl FnOnce(&mut Opinions) -> Result<(), OpinionError>) -> Result<(), ReviewError> {
        let folder = self.results(at)?;
        let mut opinions = Opinions::open(&folder)?;
        change(&mut opinions)?;
        // A picture that could not be traced may have no folder of its own yet.
        std::fs::create_dir_all(&folder).map_err(|source| ReviewError::Read { file: folder.display().to_string(), source })?;
        Ok(opinions.save(&folder)?)
    }

    /// Sees that nobody changed the entry since the person saw it.
    fn unchanged(&self, at: &str, seen: &str, by: &str, current: &Current) -> Result<(), ReviewError> {
        if seen == current.version {
            return Ok(());
        }
        let say = "this was changed elsewhere since you saw it, in another tab or by hand; look at it again".to_owned();
        Err(ReviewError::Changed { say, look: Box::new(self.shown(at, by, current)?) })
    }
}
