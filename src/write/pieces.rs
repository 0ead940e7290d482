//! From the record of a picture and the notes to named, drafted and measured pieces: the same whether the picture was traced a moment
//! ago or last year.
//!
//! The lines and places of the record go to [`crate::piece::drafted`]; measures are taken on the lines as found, laid as the piece is
//! drafted, since a tape too measures the garment and not its pattern.

use super::found::{FoundError, as_found, spot_at};
use super::json::{PieceRecord, Record};
use super::path_text::path_from_text;
use crate::notes::{Notes, ShotNotes, Spot, Up};
use crate::piece::{Draft, Given, Known, Layer, Measure, Measured, Spread, alike, drafted, kind_of_face, of_face, with_sums};
use kurbo::Shape;

/// A piece with all that pictures and notes say of it.
#[derive(Clone, Debug)]
pub struct GarmentPiece {
    /// Its lines as they were seen and as a pattern has them.
    pub draft: Draft,
    /// Flat measures, taken on the lines as found, laid as those of the pattern.
    pub measures: Vec<Measure>,
    /// How other layings of it differ, by its lines as found; nothing when it was laid once.
    pub laid: Option<Spread>,
    /// What was made of several tracings, in words.
    pub made: Option<String>,
}

/// The pieces of one picture.
///
/// # Errors
/// The lines of a piece do not close; one cut off by the frame has none that could be drafted.
pub fn pieces(record: &Record, shot: &ShotNotes, notes: &Notes) -> Result<Vec<GarmentPiece>, FoundError> {
    record.pieces.iter().map(|piece| Ok(one(record, (&piece.name, &as_found(piece)?), shot, notes, None))).collect()
}

/// The only piece of a picture, of which another picture shows the other face: its lines seen from its own right side.
///
/// # Errors
/// As [`pieces`].
pub fn both_faces(record: &Record, shot: &ShotNotes, notes: &Notes, other: &Layer) -> Result<Vec<GarmentPiece>, FoundError> {
    record.pieces.iter().map(|piece| Ok(one(record, (&piece.name, &as_found(piece)?), shot, notes, Some(other)))).collect()
}

/// A piece whose lines were made of several tracings, on the page of this one; `words` say how.
pub fn made(record: &Record, (name, lines, words): (&str, &Layer, &str), shot: &ShotNotes, notes: &Notes) -> GarmentPiece {
    GarmentPiece { made: Some(words.to_owned()), ..one(record, (name, lines), shot, notes, None) }
}

fn one(record: &Record, (name, lines): (&str, &Layer), shot: &ShotNotes, notes: &Notes, other: Option<&Layer>) -> GarmentPiece {
    let place = |spot: &Spot| spot_at(record, spot);
    let mut draft = drafted(&Given { name, lines, shot, notes, other, place: &place });
    let fold = draft.notes.as_ref().and_then(|n| n.fold.clone());
    let measures = measured(record, &draft, fold.as_deref(), shot.up.filter(|_| faces_noted(notes, name)));
    if measures.is_empty() && draft.kind.is_some() && fold.as_ref().is_some_and(|fold| draft.piece.found().edge(fold).is_some()) {
        draft.undone.push("half of it was seen, and laid open it looks like no piece of its kind, so no measures are taken on it; say its kind, measure it by tape, or picture it whole".into());
    }
    GarmentPiece { draft, measures, laid: None, made: None }
}

/// Measures of a piece on its lines as found, laid as the draft; of half a piece whose `fold` is noted, or of one `face` of a piece that was pictured
/// from both, as those of that face.
fn measured(record: &Record, draft: &Draft, fold: Option<&str>, face: Option<Up>) -> Vec<Measure> {
    let Some(Known { value: kind, .. }) = draft.kind else { return Vec::new() };
    let laid = draft.piece.found().mapped(draft.laying.by);
    let kind = face.map_or(kind, |up| kind_of_face(kind, up));
    let all = Measured { layer: &laid, kind, scale: scale_error(record), fold, open: &draft.open }.all();
    match face {
        Some(up) => of_face(all, up),
        None => all,
    }
}

/// Whether the notes name pictures of both faces of a piece that lay folded and is laid open.
fn faces_noted(notes: &Notes, name: &str) -> bool {
    let own = notes.pieces.iter().find(|(n, _)| alike(n, name)).map(|(_, p)| p);
    let shows = |up: Up| notes.shots.iter().any(|s| s.up == Some(up) && s.piece.as_deref().is_some_and(|p| alike(p, name)));
    own.is_some_and(|p| p.fold.is_some() && p.cut.as_ref().is_none_or(|c| !c.on_fold)) && shows(Up::Front) && shows(Up::Back)
}

/// Gives the first of two pictures of a folded piece's faces the sums of both faces' widths, and the second, whose outline is no piece of its own, the
/// measures of its face.
pub fn sum_faces([first, second]: [&mut GarmentPiece; 2], other: &Record, (notes, up): (&Notes, Option<Up>)) {
    let own = notes.pieces.iter().find(|(n, _)| alike(n, &first.draft.piece.name));
    let fold = own.and_then(|(_, p)| p.fold.as_deref());
    second.measures = measured(other, &second.draft, fold, up);
    first.measures = with_sums(std::mem::take(&mut first.measures), &second.measures);
}

/// Share of a length that the sheet's scale may be out by (95 %): the budget says what it moves at its worst place, from the middle of
/// a piece.
fn scale_error(record: &Record) -> f64 {
    let reach = |p: &PieceRecord| {
        let b = path_from_text(&p.outline).unwrap_or_default().bounding_box();
        0.5 * b.width().hypot(b.height())
    };
    let furthest = record.pieces.iter().map(reach).fold(0.0, f64::max);
    if furthest > 0.0 { record.budget.sheet_mm / furthest } else { 0.0 }
}
