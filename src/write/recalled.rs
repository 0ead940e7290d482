//! A garment's pieces and notes read back from its own record, so that it is walked and printed without its pictures, its outlines and its
//! `garment.toml`.

use super::found::FoundError;
use super::garment::{DraftOf, GarmentRecord, LayerOf, SewnOf};
use super::marked::NotchOf;
use super::path_text::path_from_text;
use crate::length::Mm;
use crate::notes::{NotchStyle, Notes};
use crate::piece::{AsSewn, Corner, Down, Edge, How, Inner, Layer, LiesOpen, Line, NotchAt, Piece};
use kurbo::BezPath;
use serde_json::Value;

impl GarmentRecord {
    /// What the notes said when the record was made.
    ///
    /// # Errors
    /// They can't be read any more: changed by hand, or words of another version. The text says what.
    pub fn noted(&self) -> Result<Notes, String> {
        noted(&self.notes.as_written)
    }

    /// Its pieces with both layers, facings and linings after the others.
    ///
    /// # Errors
    /// Paths that are no path data, edges that do not join.
    pub fn recalled(&self) -> Result<Vec<Piece>, FoundError> {
        let traced = self.pieces.iter().map(|p| piece(&p.name, &p.as_found, &p.as_drafted));
        // Of a derived piece nothing was found.
        let derived = self.derived.iter().map(|d| piece(&d.name, &d.as_drafted.lines, &d.as_drafted));
        traced.chain(derived).collect()
    }
}

/// Notes as a record keeps them.
pub(super) fn noted(written: &Value) -> Result<Notes, String> {
    let text = toml::to_string(written).map_err(|e| e.to_string())?;
    Notes::from_text(&text).map(Notes::without_lines).map_err(|e| e.words)
}

fn piece(name: &str, found: &LayerOf, draft: &DraftOf) -> Result<Piece, FoundError> {
    // What was only proposed for a seam proves nothing of it.
    let notches = draft.marked.notches.iter().filter(|n| n.how != How::Assumed).map(notch).collect();
    let sewn = draft.sewn.iter().map(sewn).collect();
    Ok(Piece::recorded(name, layer(name, found)?, layer(name, &draft.lines)?, sewn, notches).laid(Down::from_word(&draft.down)))
}

/// An edge as it is sewn, of the record.
pub(super) fn sewn(s: &SewnOf) -> AsSewn {
    let open = s.open.iter().map(|o| LiesOpen { stretch: o.stretch.clone(), legs: o.legs_mm }).collect();
    AsSewn { edge: s.edge.clone(), stretches: s.stretches.clone(), taken_up: s.taken_up_mm, open }
}

/// What kind of line a record's word is.
pub(super) fn line(word: &str) -> Line {
    match word {
        "seam" => Line::Seam,
        "fold" => Line::Fold,
        "cut" => Line::Cut,
        _ => Line::Rim,
    }
}

/// A notch of the record.
pub(super) fn notch(n: &NotchOf) -> NotchAt {
    NotchAt { edge: n.edge.clone(), at: n.at_mm, count: n.count, style: style(&n.style), how: n.how, answers: n.answers.clone() }
}

/// How a notch is cut, by a record's word.
pub(super) fn style(word: &str) -> NotchStyle {
    if word == "V" { NotchStyle::V } else { NotchStyle::Slit }
}

/// The lines of a layer of the record.
pub(super) fn layer(piece: &str, told: &LayerOf) -> Result<Layer, FoundError> {
    let path = |what: &str, text: &str| path(piece, what, text);
    let edges = told.edges.iter().map(|e| {
        Ok(Edge { name: e.name.clone(), path: path(&e.name, &e.path)?, line: line(&e.line), how: e.source.how, bound: e.bound_mm })
    });
    let inner = told.inner.iter().map(|i| Ok(Inner { name: i.name.clone(), path: path(&i.name, &i.path)?, bound: i.bound_mm }));
    let layer = Layer {
        corners: told.corners.iter().map(|c| Corner { name: c.name.clone(), at: Mm::from(c.at), error: c.error_mm }).collect(),
        edges: edges.collect::<Result<_, FoundError>>()?,
        inner: inner.collect::<Result<_, FoundError>>()?,
        holes: told.holes.iter().map(|h| path("a hole", h)).collect::<Result<_, _>>()?,
    };
    layer.check().map_err(|why| FoundError::Layer { piece: piece.to_owned(), why })?;
    Ok(layer)
}

/// A path of the record.
pub(super) fn path(piece: &str, what: &str, text: &str) -> Result<BezPath, FoundError> {
    path_from_text(text).map_err(|why| FoundError::Path { piece: piece.to_owned(), what: what.to_owned(), why })
}
