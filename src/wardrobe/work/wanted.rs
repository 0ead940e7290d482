//! What is wanted of one picture: what the call asks of all, and what the notes say of this one; and as the record keeps it.

use super::noted::{self, Noted};
use super::terms::{AUTO, Terms, sheet};
use super::{Lenses, WorkError};
use crate::length::{Length, Mm};
use crate::notes::{self, Counted, MarkKind, MarksNotes, ShotNotes};
use crate::sheet::{MeasuredPrint, SheetError, SheetKind};
use crate::shot::Shot;
use crate::trace::{Line, Wanted};
use crate::wardrobe::Job;
use serde_json::{Map, Value, json};
use std::path::PathBuf;

/// Widths an allowance may be shown with, mm. Narrower ones are within what the rim itself is known to.
const ALLOWANCES: std::ops::RangeInclusive<f64> = 1.0..=60.0;

/// Greatest height of a traced edge above the sheet, mm: a quilted coat's rolled hem.
const THICKEST: f64 = 60.0;

/// What is wanted of a picture.
pub struct Asked {
    /// All but what was solved and measured before.
    pub wanted: Wanted,
    /// The picture of the bare sheet.
    pub bare: Option<PathBuf>,
    /// What of the notes only its evidence picture shows.
    pub drawn: String,
    /// Where the call goes before the notes, in words.
    pub said: Vec<String>,
}

/// The shown allowance that a stitch line is sought by, mm: the call's, or the notes'. `None` for the outer edge.
///
/// # Errors
/// None is told, or one that no garment has.
pub fn shown(line: Line, allowance: Option<Length>) -> Result<Option<f64>, WorkError> {
    if line == Line::Rim {
        return Ok(None);
    }
    let allowance = allowance.ok_or(WorkError::NoAllowance)?;
    if ALLOWANCES.contains(&allowance.mm()) { Ok(Some(allowance.mm())) } else { Err(WorkError::Allowance(allowance)) }
}

/// What is wanted of a picture of which these are the notes. In folders the notes know better than words that hold for all of them; of a picture
/// that was named itself the call's words go first, and it is told where the notes say something else.
///
/// # Errors
/// Call and notes ask for what can't be had.
pub fn wanted(terms: &Terms, job: &Job, noted: Noted) -> Result<Asked, WorkError> {
    let under = first(job, terms.under.clone(), noted.shot.under.clone());
    let bare = first(job, terms.bare.clone(), noted::bare(terms.notes.as_deref(), job, &noted.shot));
    let called = bare.as_ref().and_then(|b| Some(b.file_name()?.to_string_lossy().into_owned()));
    let notes = ShotNotes { marks: marks(terms, &noted)?, under, bare: called, ..noted.shot };
    let word = match &notes.sheet {
        Some(noted) if terms.sheet == AUTO || job.from_folder => noted_sheet(noted, terms, job),
        _ => terms.sheet.clone(),
    };
    let mut said = Vec::new();
    if !job.from_folder {
        said.extend(overruled("pitch", terms.pitch, notes.pitch));
        said.extend(overruled("thickness", terms.thickness, notes.thickness));
    }
    let noted_places = notes.at.iter().map(|(px, [x, y])| (*px, Mm::new(x.mm(), y.mm())));
    let at: Vec<_> = if terms.at.is_empty() { noted_places.collect() } else { terms.at.clone() };
    let told = terms.trust_dpi || !at.is_empty();
    // A sheet that the notes name by a profile has a pitch of its own.
    let own = notes.sheet.as_ref().filter(|_| job.from_folder).and_then(|_| sheet(&word, notes.pitch, told).ok());
    let sheet = match own.map_or_else(|| sheet(&word, first(job, terms.pitch, notes.pitch), told), Ok) {
        Err(SheetError::NoPitch) if !at.is_empty() => crate::sheet::SheetProfile::plain(),
        sheet => sheet?,
    };
    if !at.is_empty() && sheet.kind != Some(SheetKind::Plain) {
        return Err(WorkError::PlacesOnRuling);
    }
    let line = outline_line(first(job, terms.line, notes.line));
    let thickness = first(job, terms.thickness, notes.thickness);
    possible(thickness)?;
    let wanted = Wanted {
        sheet,
        at,
        trust_dpi: terms.trust_dpi,
        as_ruled: false,
        thickness: thickness.map(Length::mm),
        line,
        allowance: shown(line, first(job, terms.allowance, notes.allowance))?,
        inner: terms.inner.clone(),
        lens: None,
        prints: Vec::new(),
        pieces: first(job, terms.pieces, notes.pieces).map(|n| n as usize),
        partial: terms.partial,
        notes,
    };
    Ok(Asked { wanted, bare, drawn: noted.drawn, said })
}

impl Asked {
    /// With what was solved and measured before for a picture.
    pub fn of(&self, shot: &Shot, lenses: &Lenses, prints: &[MeasuredPrint]) -> Wanted {
        Wanted { lens: lenses.of(&shot.tags, [shot.width, shot.height]), prints: prints.to_vec(), ..self.wanted.clone() }
    }
}

/// Sees that a height is one that an edge can have.
///
/// # Errors
/// It is too high.
pub fn possible(thickness: Option<Length>) -> Result<(), WorkError> {
    thickness.filter(|t| t.mm() > THICKEST).map_or(Ok(()), |t| Err(WorkError::Thickness(t)))
}

/// The line of a whole outline; the rim where nobody says.
fn outline_line(told: Option<notes::Line>) -> Line {
    if told == Some(notes::Line::Seam) { Line::Seam } else { Line::Rim }
}

/// The call's word or the notes', whichever goes first for a picture.
fn first<T>(job: &Job, called: Option<T>, noted: Option<T>) -> Option<T> {
    if job.from_folder { noted.or(called) } else { called.or(noted) }
}

/// Where a word of the call overrules what the notes say of a picture.
fn overruled(what: &str, called: Option<Length>, noted: Option<Length>) -> Option<String> {
    let (called, noted) = called.zip(noted).filter(|(c, n)| (c.mm() - n.mm()).abs() > 1e-9)?;
    Some(format!("the notes say {what} {noted} and the call {called}, which is taken; leave out --{what} to go by the notes"))
}

/// The sheet by its word in the notes: a file lies in the garment's own folder.
fn noted_sheet(word: &str, terms: &Terms, job: &Job) -> String {
    let beside = noted::file(terms.notes.as_deref(), job).map(|notes| notes.with_file_name(word));
    beside.filter(|file| file.is_file()).map_or_else(|| word.to_owned(), |file| file.to_string_lossy().into_owned())
}

/// The marks of a picture: those of the notes, unless the call says what they are.
fn marks(terms: &Terms, noted: &Noted) -> Result<Vec<MarksNotes>, WorkError> {
    let Some(are) = terms.marks else { return Ok(noted.shot.marks.clone()) };
    if noted.fragile && are != MarkKind::Pointers {
        return Err(WorkError::MarksTouch(are.word()));
    }
    if !noted.shot.marks.is_empty() {
        return Err(WorkError::MarksTwice);
    }
    Ok(vec![MarksNotes { are, colour: None, counted: Counted::Clockwise, names: Vec::new() }])
}

/// The settings as the record keeps them: what was wanted, not how it was typed.
pub fn settings(wanted: &Wanted) -> Map<String, Value> {
    let mut all = Map::new();
    let mut put = |key: &str, value: Value| drop(all.insert(key.into(), value));
    put("sheet", json!(wanted.sheet.name));
    // Zero is left to the sheet's own code.
    put("pitch_mm", json!(Some(wanted.sheet.pitch).filter(|p| *p != [0.0; 2])));
    put("thickness_mm", json!(wanted.thickness));
    put("line", json!(if wanted.line == Line::Seam { "seam" } else { "rim" }));
    put("allowance_mm", json!(wanted.allowance));
    put("at", json!(wanted.at.iter().map(|(px, mm)| [px.x, px.y, mm.x, mm.y]).collect::<Vec<_>>()));
    put("trust_dpi", json!(wanted.trust_dpi));
    put("lens", json!(wanted.lens.as_ref().map(|l| &l.profile.name)));
    put("marks", json!(wanted.notes.marks.iter().map(|m| m.are.word()).collect::<Vec<_>>()));
    put("pieces", json!(wanted.pieces));
    put("partial", json!(wanted.partial));
    if let Some(under) = &wanted.notes.under {
        put("under", json!(under));
    }
    if let Some(bare) = &wanted.notes.bare {
        put("bare", json!(bare));
    }
    all
}
