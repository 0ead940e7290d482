//! What a look at the pictures of a tracing tells before they are decoded, and what there is of it already.

use super::noted::{self, Noted};
use super::wanted::{Asked, wanted};
use super::{Lenses, Prints, Terms, WorkError};
use crate::shot::{Glance, Limits, Shot};
use crate::wardrobe::{Changed, FailedRecord, Job, Rests, need};
use crate::write::Record;
use std::path::{Path, PathBuf};
use std::sync::Arc;

/// What a look at the pictures tells before they are decoded.
pub struct Looked<'a> {
    /// What the tracing rests on.
    pub rests: Rests<'a>,
    /// Memory it takes, bytes.
    pub need: u64,
    /// What is wanted of it.
    pub asked: Asked,
}

/// What there is of a picture's tracing.
pub enum Before {
    /// It is the one to be made.
    Traced(Box<Record>),
    /// It could not be made, and would not be now: what was said.
    Failed(String),
    /// It is to be made, and why.
    ToDo(Changed),
}

/// Looks at a job's pictures and what is asked of them.
///
/// # Errors
/// A picture can't be read; the notes are not right.
pub fn look<'a>(terms: &Terms, job: &Job, lenses: &Lenses, prints: &'a Prints) -> Result<Looked<'a>, WorkError> {
    look_by(terms, job, noted::shot(terms.notes.as_deref(), job)?, lenses, prints)
}

/// The same where the notes are these.
///
/// # Errors
/// A picture can't be read; what is asked for can't be had.
pub fn look_by<'a>(terms: &Terms, job: &Job, noted: Noted, lenses: &Lenses, prints: &'a Prints) -> Result<Looked<'a>, WorkError> {
    let asked = wanted(terms, job, noted)?;
    let text = format!("{:?}{}{:?}", asked.wanted, asked.drawn, terms.same);
    let rests = Rests { pictures: Vec::new(), asked: text, lens: String::new(), prints: &prints.all };
    let mut looked = Looked { rests, need: 0, asked };
    if let Some(bare) = looked.asked.bare.clone() {
        let glance = Glance::at(&bare, &Limits::default()).map_err(|e| of_bare(&bare, e))?;
        looked.need += need(&glance);
        looked.rests.asked.push_str(&glance.blake3);
    }
    for picture in job.pictures() {
        let glance = named(job, picture, Glance::at(picture, &Limits::default()))?;
        looked.need += need(&glance);
        looked.rests.lens.push_str(&lenses.words(&glance.tags, glance.size));
        looked.rests.pictures.push(glance.blake3);
    }
    Ok(looked)
}

impl Looked<'_> {
    /// The picture of the bare sheet, opened.
    ///
    /// # Errors
    /// It can't be decoded.
    pub fn bare(&self) -> Result<Option<Arc<Shot>>, WorkError> {
        let open = |bare: &PathBuf| Shot::open(bare, &Limits::default()).map(Arc::new).map_err(|e| of_bare(bare, e));
        self.asked.bare.as_ref().map(open).transpose()
    }
}

/// What is wrong with the picture of a bare sheet.
fn of_bare(bare: &Path, source: impl Into<WorkError>) -> WorkError {
    let picture = bare.file_name().unwrap_or_default().to_string_lossy().into_owned();
    WorkError::Of { picture, source: Box::new(source.into()) }
}

/// Of several pictures the one that is at fault is named.
pub(super) fn named<T, E: Into<WorkError>>(job: &Job, picture: &Path, done: Result<T, E>) -> Result<T, WorkError> {
    let name = || picture.file_name().unwrap_or_default().to_string_lossy().into_owned();
    let alone = job.more.is_empty();
    done.map_err(|e| if alone { e.into() } else { WorkError::Of { picture: name(), source: Box::new(e.into()) } })
}

/// What there is of a job's tracing already.
pub fn before(job: &Job, looked: &Looked) -> Before {
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
