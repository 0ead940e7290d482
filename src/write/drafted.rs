//! Pieces as drafted, with what was changed since they were found: `drafted.json`. Never in place of `outline.json`.

use super::found::FoundError;
use super::garment::{InnerOf, SewnOf};
use super::joined::{self, line_word};
use super::marked::style_word;
use super::path_text::{path_from_text, path_text, round};
use super::recalled;
use crate::length::Mm;
use crate::notes::{NotchStyle, Notes};
use crate::outline::length;
use crate::piece::{Change, Corner, Down, Edge, How, Inner, Layer, Line, NotchAt, Piece};
use kurbo::BezPath;
use serde::{Deserialize, Serialize};
use serde_json::Value;

/// The whole file.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[allow(missing_docs)] // each field is named and explained by the format itself
pub struct DraftedRecord {
    pub format: String,
    pub version: u32,
    pub units: String,
    pub pieces: Vec<DraftedPiece>,
    /// The notes by which the pieces are sewn, as they were written; nothing where there were none.
    #[serde(default, skip_serializing_if = "Value::is_null")]
    pub notes: Value,
}

/// One piece.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[allow(missing_docs)]
pub struct DraftedPiece {
    pub name: String,
    pub outline: String,
    pub found: String,
    pub corners: Vec<DraftedCorner>,
    pub edges: Vec<DraftedEdge>,
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub inner: Vec<InnerOf>,
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub holes: Vec<String>,
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub notches: Vec<DraftedNotch>,
    /// Edges that opened fullness parts or lengthens, as they are sewn.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub sewn: Vec<SewnOf>,
    /// What runs down the page.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub down: Option<String>,
    pub changes: Vec<DraftedChange>,
}

/// A corner.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[allow(missing_docs)]
pub struct DraftedCorner {
    pub name: String,
    pub at: [f64; 2],
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub error_mm: Option<f64>,
}

/// An edge.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[allow(missing_docs)]
pub struct DraftedEdge {
    pub name: String,
    /// What line it is, where it is no rim.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub line: Option<String>,
    pub how: How,
    pub path: String,
    pub length_mm: f64,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub bound_mm: Option<f64>,
}

/// A notch: how far along its edge, clockwise.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[allow(missing_docs)]
pub struct DraftedNotch {
    pub edge: String,
    pub at_mm: f64,
    pub count: u32,
    /// How it is cut, where it is no slit.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub style: Option<String>,
    pub how: How,
}

/// What was changed.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[allow(missing_docs)]
pub struct DraftedChange {
    pub what: String,
    pub how: How,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub by: Option<String>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub on: Option<String>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub why: Option<String>,
    /// The outline before a person's correction and after it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub outlines: Option<[String; 2]>,
}

impl DraftedChange {
    pub(super) fn of(c: &Change) -> Self {
        let outlines = c.outlines.as_ref().map(|two| two.each_ref().map(path_text));
        Self { what: c.what.clone(), how: c.how, by: c.by.clone(), on: c.on.clone(), why: c.why.clone(), outlines }
    }
}

/// The file's text for pieces as they are drafted, with the notes by which they are sewn as [`super::as_written`] gives them.
pub fn drafted_text(pieces: &[&Piece], notes: &Value) -> String {
    let record = DraftedRecord {
        format: "ruboff-drafted".into(),
        version: 1,
        units: "mm".into(),
        pieces: pieces.iter().map(|p| DraftedPiece::of(p)).collect(),
        notes: notes.clone(),
    };
    let mut text = serde_json::to_string_pretty(&record).unwrap_or_default();
    text.push('\n');
    text
}

impl DraftedPiece {
    fn of(p: &Piece) -> Self {
        let layer = p.drafted();
        let corner = |c: &Corner| DraftedCorner { name: c.name.clone(), at: [round(c.at.x), round(c.at.y)], error_mm: c.error.map(round) };
        let edge = |e: &Edge| DraftedEdge {
            name: e.name.clone(),
            line: (e.line != Line::Rim).then(|| line_word(e.line).to_owned()),
            how: e.how,
            path: path_text(&e.path),
            length_mm: round(length(&e.path)),
            bound_mm: e.bound.map(round),
        };
        let inner = |i: &Inner| InnerOf {
            name: i.name.clone(),
            path: path_text(&i.path),
            length_mm: round(length(&i.path)),
            bound_mm: i.bound.map(round),
        };
        let notch = |n: &NotchAt| DraftedNotch {
            edge: n.edge.clone(),
            at_mm: round(n.at),
            count: n.count,
            style: (n.style != NotchStyle::Slit).then(|| style_word(n.style).to_owned()),
            how: n.how,
        };
        Self {
            name: p.name.clone(),
            outline: path_text(&layer.outline()),
            found: path_text(&p.found().outline()),
            corners: layer.corners.iter().map(corner).collect(),
            edges: layer.edges.iter().map(edge).collect(),
            inner: layer.inner.iter().map(inner).collect(),
            holes: layer.holes.iter().map(path_text).collect(),
            notches: p.notches.iter().map(notch).collect(),
            sewn: p.sewn().iter().map(joined::sewn).collect(),
            down: p.down().map(|d| d.word().to_owned()),
            changes: p.changes().iter().map(DraftedChange::of).collect(),
        }
    }
}

impl DraftedRecord {
    /// Reads it back.
    ///
    /// # Errors
    /// No JSON, missing fields, another format, a newer version.
    pub fn from_text(text: &str) -> Result<Self, super::RecordError> {
        super::version::known(text, "ruboff-drafted", 1)?;
        Ok(serde_json::from_str(text)?)
    }
}

impl DraftedRecord {
    /// The notes that it keeps; none where it keeps none.
    ///
    /// # Errors
    /// They can't be read any more: changed by hand, or words of another version. The text says what.
    pub fn noted(&self) -> Result<Notes, String> {
        if self.notes.is_null() { Ok(Notes::default()) } else { recalled::noted(&self.notes) }
    }

    /// Its pieces, with the lines as drafted alone: the file keeps of those as found no more than the outline.
    ///
    /// # Errors
    /// Paths that are no path data, edges that do not join.
    pub fn recalled(&self) -> Result<Vec<Piece>, FoundError> {
        let one = |p: &DraftedPiece| {
            let layer = p.layer()?;
            let sewn = p.sewn.iter().map(recalled::sewn).collect();
            let down = p.down.as_deref().and_then(Down::from_word);
            Ok(Piece::recorded(p.name.clone(), layer.clone(), layer, sewn, p.notches_at()).laid(down))
        };
        self.pieces.iter().map(one).collect()
    }
}

impl DraftedPiece {
    /// Its notches.
    pub fn notches_at(&self) -> Vec<NotchAt> {
        let one = |n: &DraftedNotch| NotchAt {
            edge: n.edge.clone(),
            at: n.at_mm,
            count: n.count,
            style: n.style.as_deref().map_or(NotchStyle::Slit, recalled::style),
            how: n.how,
            answers: None,
        };
        self.notches.iter().map(one).collect()
    }

    /// Its lines as drafted.
    ///
    /// # Errors
    /// Paths that are no path data, edges that do not join.
    pub fn layer(&self) -> Result<Layer, FoundError> {
        let edge = |e: &DraftedEdge| {
            let path = e.line().map_err(|why| FoundError::Path { piece: self.name.clone(), what: e.name.clone(), why })?;
            let line = e.line.as_deref().map_or(Line::Rim, recalled::line);
            Ok(Edge { name: e.name.clone(), path, line, how: e.how, bound: e.bound_mm })
        };
        let path = |what: &str, text: &str| recalled::path(&self.name, what, text);
        let inner = self.inner.iter().map(|i| Ok(Inner { name: i.name.clone(), path: path(&i.name, &i.path)?, bound: i.bound_mm }));
        let layer = Layer {
            corners: self.corners.iter().map(|c| Corner { name: c.name.clone(), at: Mm::from(c.at), error: c.error_mm }).collect(),
            edges: self.edges.iter().map(edge).collect::<Result<_, FoundError>>()?,
            inner: inner.collect::<Result<_, FoundError>>()?,
            holes: self.holes.iter().map(|h| path("a hole", h)).collect::<Result<_, _>>()?,
        };
        layer.check().map_err(|why| FoundError::Layer { piece: self.name.clone(), why })?;
        Ok(layer)
    }
}

impl DraftedEdge {
    /// Its line.
    ///
    /// # Errors
    /// The text is no path data.
    pub fn line(&self) -> Result<BezPath, kurbo::SvgParseError> {
        path_from_text(&self.path)
    }
}

#[cfg(test)]
mod tests {
    use super::super::{Record, as_found};
    use super::*;
    use crate::piece::lengthened;

    #[test]
    fn what_is_written_is_read_back_and_the_found_line_stays() {
        let record = Record::from_text(include_str!("../../tests/golden/outline.json")).expect("the golden record");
        let found = as_found(&record.pieces[0]).expect("a piece");
        let (lines, moved) = lengthened(&found, 0, true, 2.0).expect("longer");
        assert!(moved > 1.0 && moved < 4.0, "{moved}");
        let mut piece = Piece::new("front", found.clone());
        piece.redraft(lines, Change { by: Some("cutter".into()), ..Change::new("longer by 2 mm", How::Chosen) });
        let text = drafted_text(&[&piece], &Value::Null);
        let back = DraftedRecord::from_text(&text).expect("read back");
        assert_eq!(back.pieces[0].found, path_text(&found.outline()));
        assert!((back.pieces[0].edges[0].length_mm - found.edges[0].length() - 2.0).abs() < 0.01);
        assert_eq!(back.pieces[0].edges[0].how, How::Chosen);
        assert!((length(&back.pieces[0].edges[1].line().expect("a path")) - piece.drafted().edges[1].length()).abs() < 0.01);
        assert!(DraftedRecord::from_text(&text.replace("ruboff-drafted", "ruboff-outline")).is_err());
    }
}
