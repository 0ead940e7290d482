//! From the record of a picture and the notes to named, drafted and measured pieces: the same whether the picture was traced a moment
//! ago or last year.
//!
//! The lines and places of the record go to [`crate::piece::drafted`]; measures are taken on the lines as found, laid as the piece is
//! drafted, since a tape too measures the garment and not its pattern.

use super::found::{FoundError, as_found, spot_at};
use super::json::{PieceRecord, Record};
use super::path_text::path_from_text;
use crate::notes::{Notes, PieceKind, ShotNotes, Spot};
use crate::piece::{Draft, Given, Known, Layer, Measure, Measured, Spread, drafted};
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
    let laid = draft.piece.found().mapped(draft.laying.by);
    let scale = scale_error(record);
    let fold = draft.notes.as_ref().and_then(|n| n.fold.clone());
    let measured = |k: Known<PieceKind>| Measured { layer: &laid, kind: k.value, scale, fold: fold.as_deref() }.all();
    let measures = draft.kind.map_or_else(Vec::new, measured);
    if measures.is_empty() && draft.kind.is_some() && fold.as_ref().is_some_and(|fold| laid.edge(fold).is_some()) {
        draft.undone.push("half of it was seen, and laid open it looks like no piece of its kind, so no measures are taken on it; say its kind, measure it by tape, or picture it whole".into());
    }
    GarmentPiece { draft, measures, laid: None, made: None }
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
