//! From a tracing and the notes to named, drafted and measured pieces.
//!
//! The lines and places of the tracing go to [`crate::piece::drafted`]; measures are taken on the lines as found, laid as the piece is
//! drafted, since a tape too measures the garment and not its pattern.

use super::tracing::{Found, Line, Traced, Tracing};
use crate::length::Mm;
use crate::notes::{Notes, ShotNotes, Spot};
use crate::piece::{self, Draft, Given, How, Inner, Layer, LayerError, Measure, Measured, Spread, alike, drafted};
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
pub fn pieces(tracing: &Tracing, shot: &ShotNotes, notes: &Notes) -> Result<Vec<GarmentPiece>, LayerError> {
    tracing.pieces.iter().map(|traced| Ok(one(tracing, (&traced.name, &layer(traced)?), shot, notes, None))).collect()
}

/// The only piece of a picture, of which another picture shows the other face: its lines seen from its own right side.
///
/// # Errors
/// As [`pieces`].
pub fn both_faces(tracing: &Tracing, shot: &ShotNotes, notes: &Notes, other: &Layer) -> Result<Vec<GarmentPiece>, LayerError> {
    tracing.pieces.iter().map(|traced| Ok(one(tracing, (&traced.name, &layer(traced)?), shot, notes, Some(other)))).collect()
}

/// A piece whose lines were made of several tracings, on the page of this one; `words` say how.
pub fn made(tracing: &Tracing, (name, lines, words): (&str, &Layer, &str), shot: &ShotNotes, notes: &Notes) -> GarmentPiece {
    GarmentPiece { made: Some(words.to_owned()), ..one(tracing, (name, lines), shot, notes, None) }
}

fn one(tracing: &Tracing, (name, lines): (&str, &Layer), shot: &ShotNotes, notes: &Notes, other: Option<&Layer>) -> GarmentPiece {
    let place = |spot: &Spot| spot_at(tracing, spot);
    let draft = drafted(&Given { name, lines, shot, notes, other, place: &place });
    let laid = draft.piece.found().mapped(draft.laying.by);
    let scale = scale_error(tracing);
    let measures = draft.kind.map_or_else(Vec::new, |k| Measured { layer: &laid, kind: k.value, scale }.all());
    GarmentPiece { draft, measures, laid: None, made: None }
}

/// Share of a length that the sheet's scale may be out by (95 %): the budget says what it moves at its worst place, from the middle of
/// a piece.
fn scale_error(tracing: &Tracing) -> f64 {
    let reach = |p: &Traced| {
        let b = p.outline.path.bounding_box();
        0.5 * b.width().hypot(b.height())
    };
    let furthest = tracing.pieces.iter().map(reach).fold(0.0, f64::max);
    if furthest > 0.0 { tracing.budget.worst.sheet / furthest } else { 0.0 }
}

/// The lines of a traced piece with how each came to be known.
fn layer(traced: &Traced) -> Result<Layer, LayerError> {
    let names: Vec<String> = traced.edges.iter().map(|e| e.name.clone()).collect();
    let mut layer = Layer::of(&traced.outline, &traced.corner_names, &names)?;
    for (edge, found) in layer.edges.iter_mut().zip(&traced.edges) {
        edge.bound = found.bound;
        (edge.line, edge.how) = match (found.line, found.found) {
            (Line::Cut, _) => (piece::Line::Cut, How::Assumed),
            // Moved in by a width that a person told.
            (Line::Seam, Found::Offset) => (piece::Line::Seam, How::Noted),
            (Line::Seam, Found::Hand) => (piece::Line::Seam, How::Noted),
            (Line::Seam, Found::Picture) => (piece::Line::Seam, How::Seen),
            (Line::Rim, Found::Hand) => (piece::Line::Rim, How::Noted),
            (Line::Rim, _) => (piece::Line::Rim, How::Seen),
            (Line::Fold, Found::Hand) => (piece::Line::Fold, How::Noted),
            (Line::Fold, _) => (piece::Line::Fold, How::Seen),
        };
    }
    layer.inner = traced.inner.iter().map(|s| Inner { name: s.name.clone(), path: s.path.clone(), bound: Some(s.bound) }).collect();
    layer.holes = traced.holes.iter().map(|h| h.path.clone()).collect();
    Ok(layer)
}

/// Where a place of the notes is on the sheet that only the picture knows.
fn spot_at(tracing: &Tracing, spot: &Spot) -> Option<Mm> {
    match spot {
        Spot::Named(name) => tracing.marks.iter().find(|m| m.name.as_deref().is_some_and(|n| alike(n, name))).map(|m| m.at),
        Spot::Px(px) => tracing.view.to_mm(*px, tracing.thickness),
        Spot::Mm(_) | Spot::OnEdge(_) => None,
    }
}
