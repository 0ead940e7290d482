//! What the words of a call ask for: of the sheet, of each picture, and as the record keeps it.

use super::{AUTO, Call, LineWord, MarksWord};
use crate::cli::{noted, say};
use crate::length::{Length, Mm};
use crate::notes::{Counted, MarkKind, MarksNotes, ShotNotes};
use crate::sheet::{SheetError, SheetKind, SheetProfile};
use crate::trace::{Line, Wanted};
use crate::wardrobe::Job;
use anyhow::bail;
use serde_json::{Map, Value, json};

/// Widths an allowance may be shown with, mm. Narrower ones are within what the rim itself is known to.
const ALLOWANCES: std::ops::RangeInclusive<f64> = 1.0..=60.0;

/// The sheet by its word. Without a pitch, a picture that has another scale `told` is taken for one on a plain sheet.
pub(super) fn sheet(word: &str, pitch: Option<Length>, told: bool) -> Result<SheetProfile, SheetError> {
    if word == AUTO && pitch.is_none() && told { Ok(SheetProfile::plain()) } else { SheetProfile::from_words(word, pitch) }
}

/// The shown allowance that a stitch line is sought by, mm: the call's, or the notes'. `None` for the outer edge.
pub(super) fn shown(call: &Call, job: &Job, noted: Option<Length>) -> anyhow::Result<Option<f64>> {
    if matches!(call.line, LineWord::Rim) {
        return Ok(None);
    }
    let Some(allowance) = first(job, call.allowance, noted) else {
        bail!("--line seam needs the width of the shown allowance; say --allowance, such as --allowance 1/4in");
    };
    if !ALLOWANCES.contains(&allowance.mm()) {
        bail!("no stitch line runs {allowance} inside the edge; give the allowance from edge to seam, 1 mm to 60 mm, such as 1/4in");
    }
    Ok(Some(allowance.mm()))
}

/// What is wanted of a picture. In folders the notes know better than words that hold for all of them; of a picture that was named itself the
/// call's words go first, and it is told where the notes say something else. And what of the notes only its evidence picture shows.
pub(super) fn wanted(call: &Call, job: &Job) -> anyhow::Result<(Wanted, String)> {
    let noted = noted::shot(call.notes.as_deref(), job)?;
    let notes = ShotNotes { marks: marks(call, &noted)?, ..noted.shot };
    let word = match &notes.sheet {
        Some(noted) if call.sheet == AUTO || job.from_folder => noted_sheet(noted, call, job),
        _ => call.sheet.clone(),
    };
    if !job.from_folder {
        [("pitch", call.pitch, notes.pitch), ("thickness", call.thickness, notes.thickness)].iter().for_each(overruled);
    }
    let noted_places = notes.at.iter().map(|(px, [x, y])| (*px, Mm::new(x.mm(), y.mm())));
    let at: Vec<_> = if call.at.is_empty() { noted_places.collect() } else { call.at.clone() };
    let told = call.trust_dpi || !at.is_empty();
    // A sheet that the notes name by a profile has a pitch of its own.
    let own = notes.sheet.as_ref().filter(|_| job.from_folder).and_then(|_| sheet(&word, notes.pitch, told).ok());
    let sheet = match own.map_or_else(|| sheet(&word, first(job, call.pitch, notes.pitch), told), Ok) {
        Err(SheetError::NoPitch) if !at.is_empty() => SheetProfile::plain(),
        sheet => sheet?,
    };
    if !at.is_empty() && sheet.kind != Some(SheetKind::Plain) {
        bail!("--at gives places on a sheet without ruling; say --sheet plain with it, or leave it out");
    }
    let wanted = Wanted {
        sheet,
        at,
        trust_dpi: call.trust_dpi,
        thickness: first(job, call.thickness, notes.thickness).map(Length::mm),
        line: match call.line {
            LineWord::Rim => Line::Rim,
            LineWord::Seam => Line::Seam,
        },
        allowance: shown(call, job, notes.allowance)?,
        inner: call.inner.iter().map(|p| p.0.clone()).collect(),
        lens: None,
        prints: Vec::new(),
        pieces: call.pieces.map(|n| n as usize),
        partial: call.partial,
        notes,
    };
    Ok((wanted, noted.drawn))
}

/// The call's word or the notes', whichever goes first for a picture.
fn first(job: &Job, called: Option<Length>, noted: Option<Length>) -> Option<Length> {
    if job.from_folder { noted.or(called) } else { called.or(noted) }
}

/// Says so where a word of the call overrules what the notes say of a picture.
fn overruled((what, called, noted): &(&str, Option<Length>, Option<Length>)) {
    if let Some((called, noted)) = called.zip(*noted).filter(|(c, n)| (c.mm() - n.mm()).abs() > 1e-9) {
        say::note(&format!("the notes say {what} {noted} and the call {called}, which is taken; leave out --{what} to go by the notes"));
    }
}

/// The sheet by its word in the notes: a file lies in the garment's own folder.
fn noted_sheet(word: &str, call: &Call, job: &Job) -> String {
    let beside = noted::file(call.notes.as_deref(), job).map(|notes| notes.with_file_name(word));
    beside.filter(|file| file.is_file()).map_or_else(|| word.to_owned(), |file| file.to_string_lossy().into_owned())
}

/// The marks of a picture: those of the notes, unless the call says what they are.
fn marks(call: &Call, noted: &noted::Noted) -> anyhow::Result<Vec<MarksNotes>> {
    let Some(word) = call.marks else { return Ok(noted.shot.marks.clone()) };
    let are = match word {
        MarksWord::Stickers => MarkKind::Stickers,
        MarksWord::Pins => MarkKind::Pins,
        MarksWord::Pointers => MarkKind::Pointers,
    };
    if noted.fragile && are != MarkKind::Pointers {
        bail!(
            "--marks {0}: {0} touch the garment, and its notes say that it is fragile; say --marks pointers, slips of paper that lie beside it",
            are.word()
        );
    }
    if !noted.shot.marks.is_empty() {
        bail!("--marks and the notes both tell of marks in this picture; keep one of them");
    }
    Ok(vec![MarksNotes { are, colour: None, counted: Counted::Clockwise, names: Vec::new() }])
}

/// The settings as the record keeps them: what was wanted, not how it was typed.
pub(super) fn settings(call: &Call, wanted: &Wanted) -> Map<String, Value> {
    let mut all = Map::new();
    let mut put = |key: &str, value: Value| drop(all.insert(key.into(), value));
    put("sheet", json!(wanted.sheet.name));
    // Zero is left to the sheet's own code.
    put("pitch_mm", json!(Some(wanted.sheet.pitch).filter(|p| *p != [0.0; 2])));
    put("thickness_mm", json!(wanted.thickness));
    put("line", json!(if matches!(call.line, LineWord::Seam) { "seam" } else { "rim" }));
    put("allowance_mm", json!(wanted.allowance));
    put("at", json!(wanted.at.iter().map(|(px, mm)| [px.x, px.y, mm.x, mm.y]).collect::<Vec<_>>()));
    put("trust_dpi", json!(wanted.trust_dpi));
    put("lens", json!(wanted.lens.as_ref().map(|l| &l.profile.name)));
    put("marks", json!(wanted.notes.marks.iter().map(|m| m.are.word()).collect::<Vec<_>>()));
    put("pieces", json!(wanted.pieces));
    put("partial", json!(wanted.partial));
    all
}
