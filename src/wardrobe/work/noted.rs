//! The garment notes that go with a picture.

use super::WorkError;
use crate::notes::{Notes, ShotNotes};
use crate::piece::alike;
use crate::wardrobe::Job;
use std::path::{Path, PathBuf};

/// Longest notes file read, bytes: a person writes kilobytes.
const LONGEST: u64 = 4 << 20;
/// Notes of a garment, beside its pictures.
pub const GARMENT: &str = "garment.toml";

/// The notes of a garment that a picture is of: those named, else `garment.toml` beside it when there is one.
pub fn garment(named: Option<&Path>, job: &Job) -> Option<PathBuf> {
    let beside = || Some(job.picture.with_file_name(GARMENT)).filter(|f| f.is_file());
    named.map(Path::to_path_buf).or_else(beside)
}

/// Where notes of a picture alone lie: beside it, under its whole name with `.toml`.
pub fn alone(picture: &Path) -> PathBuf {
    let mut name = picture.file_name().unwrap_or_default().to_os_string();
    name.push(".toml");
    picture.with_file_name(name)
}

/// The notes file for a picture: its garment's, else its own when there are any.
pub fn file(named: Option<&Path>, job: &Job) -> Option<PathBuf> {
    garment(named, job).or_else(|| Some(alone(&job.picture)).filter(|f| f.is_file()))
}

/// What the notes say about a picture.
#[derive(Default)]
pub struct Noted {
    /// Of the picture itself.
    pub shot: ShotNotes,
    /// What of the rest is drawn in the evidence picture: the kind of garment, and the pieces it may show.
    pub drawn: String,
    /// Who took the garment's record.
    pub recorded_by: Option<String>,
    /// Whether nothing may touch the garment.
    pub fragile: bool,
}

/// What the notes say about a picture; nothing when there are no notes.
///
/// # Errors
/// The notes cannot be read or are not right; the line is named.
pub fn shot(named: Option<&Path>, job: &Job) -> Result<Noted, WorkError> {
    Ok(match file(named, job) {
        Some(file) => Noted::of(&whole(&file)?.0, job),
        None => Noted::default(),
    })
}

impl Noted {
    /// What some notes say about a picture.
    pub fn of(notes: &Notes, job: &Job) -> Self {
        let shot = of(notes, job);
        // Of a picture that shows one piece, what is said of the others is drawn nowhere.
        let shown = |name: &&String| shot.piece.as_ref().is_none_or(|own| alike(own, name));
        let pieces: Vec<_> = notes.pieces.iter().filter(|(name, _)| shown(name)).collect();
        // Notes that say nothing of it ask for what no notes ask for.
        let nothing = notes.garment.kind.is_none() && pieces.is_empty();
        let drawn = if nothing { String::new() } else { format!("{:?}{pieces:?}", notes.garment.kind) };
        Self { shot, drawn, recorded_by: notes.garment.recorded_by.clone(), fragile: notes.garment.fragile }
    }
}

/// Names of the pictures that the notes join with this one, itself among them; none when it stands alone or the notes can't be read,
/// which each picture then says for itself.
pub fn together(named: Option<&Path>, job: &Job) -> Vec<String> {
    let Some((notes, _)) = file(named, job).and_then(|f| whole(&f).ok()) else { return Vec::new() };
    of(&notes, job).pictures
}

/// The picture of the bare sheet that these notes of a picture name: it lies beside them.
pub fn bare(named: Option<&Path>, job: &Job, shot: &ShotNotes) -> Option<PathBuf> {
    let name = shot.bare.as_ref()?;
    Some(file(named, job)?.with_file_name("").join(name))
}

/// The same for a picture whose notes were not read yet; none where they can't be, which the picture then says for itself.
pub fn bare_of(named: Option<&Path>, job: &Job) -> Option<PathBuf> {
    let (notes, _) = file(named, job).and_then(|f| whole(&f).ok())?;
    bare(named, job, &of(&notes, job))
}

/// All that a notes file says, and its text.
///
/// # Errors
/// It cannot be read or is not right; the line is named.
pub fn whole(file: &Path) -> Result<(Notes, String), WorkError> {
    let name = file.file_name().unwrap_or_default().to_string_lossy().into_owned();
    let unread = |source| WorkError::NotesFile { name: name.clone(), source };
    let about = std::fs::metadata(file).map_err(unread)?;
    if !about.is_file() || about.len() > LONGEST {
        return Err(WorkError::NotesLong { name });
    }
    let text = std::fs::read_to_string(file).map_err(unread)?;
    let notes = Notes::from_text(&text).map_err(|source| WorkError::Notes { name, source })?;
    Ok((notes, text))
}

/// What they say about a picture: the table that names it, or the only one when that names none.
pub fn of(notes: &Notes, job: &Job) -> ShotNotes {
    let is = |p: &str| Path::new(p).file_name() == job.picture.file_name();
    let own = |s: &&ShotNotes| s.picture.as_deref().is_some_and(is) || s.pictures.iter().any(|p| is(p));
    let only = notes.shots.first().filter(|s| notes.shots.len() == 1 && s.picture.is_none() && s.pictures.is_empty());
    only.or_else(|| notes.shots.iter().find(own)).cloned().unwrap_or_default()
}
