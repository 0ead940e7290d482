//! Pieces as drafted, with what was changed since they were found: `drafted.json`. Never in place of `outline.json`.

use super::found::FoundError;
use super::path_text::{path_from_text, path_text, round};
use crate::length::Mm;
use crate::notes::NotchStyle;
use crate::outline::length;
use crate::piece::{Change, Corner, Edge, How, Layer, Line, NotchAt, Piece};
use kurbo::BezPath;
use serde::{Deserialize, Serialize};

/// The whole file.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[allow(missing_docs)] // each field is named and explained by the format itself
pub struct DraftedRecord {
    pub format: String,
    pub version: u32,
    pub units: String,
    pub pieces: Vec<DraftedPiece>,
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
    pub notches: Vec<DraftedNotch>,
    pub changes: Vec<DraftedChange>,
}

/// A corner.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[allow(missing_docs)]
pub struct DraftedCorner {
    pub name: String,
    pub at: [f64; 2],
}

/// An edge.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[allow(missing_docs)]
pub struct DraftedEdge {
    pub name: String,
    pub how: How,
    pub path: String,
    pub length_mm: f64,
}

/// A notch: how far along its edge, clockwise.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[allow(missing_docs)]
pub struct DraftedNotch {
    pub edge: String,
    pub at_mm: f64,
    pub count: u32,
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

/// The file's text for pieces as they are drafted.
pub fn drafted_text(pieces: &[&Piece]) -> String {
    let piece = |p: &&Piece| DraftedPiece {
        name: p.name.clone(),
        outline: path_text(&p.drafted().outline()),
        found: path_text(&p.found().outline()),
        corners: p.drafted().corners.iter().map(|c| DraftedCorner { name: c.name.clone(), at: [round(c.at.x), round(c.at.y)] }).collect(),
        edges: p
            .drafted()
            .edges
            .iter()
            .map(|e| DraftedEdge { name: e.name.clone(), how: e.how, path: path_text(&e.path), length_mm: round(length(&e.path)) })
            .collect(),
        notches: p.notches.iter().map(|n| DraftedNotch { edge: n.edge.clone(), at_mm: round(n.at), count: n.count, how: n.how }).collect(),
        changes: p.changes().iter().map(DraftedChange::of).collect(),
    };
    let record =
        DraftedRecord { format: "ruboff-drafted".into(), version: 1, units: "mm".into(), pieces: pieces.iter().map(piece).collect() };
    let mut text = serde_json::to_string_pretty(&record).unwrap_or_default();
    text.push('\n');
    text
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
    /// Its pieces, with the lines as drafted alone: the file keeps of those as found no more than the outline.
    ///
    /// # Errors
    /// Paths that are no path data, edges that do not join.
    pub fn recalled(&self) -> Result<Vec<Piece>, FoundError> {
        let one = |p: &DraftedPiece| {
            let layer = p.layer()?;
            Ok(Piece::recorded(p.name.clone(), layer.clone(), layer, Vec::new(), p.notches_at()))
        };
        self.pieces.iter().map(one).collect()
    }
}

impl DraftedPiece {
    /// Its notches; how they are cut the file does not say.
    pub fn notches_at(&self) -> Vec<NotchAt> {
        let one = |n: &DraftedNotch| NotchAt {
            edge: n.edge.clone(),
            at: n.at_mm,
            count: n.count,
            style: NotchStyle::Slit,
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
            let path = e.line().map_err(|source| FoundError::Path { piece: self.name.clone(), what: e.name.clone(), source })?;
            Ok(Edge { name: e.name.clone(), path, line: Line::Rim, how: e.how, bound: None })
        };
        let layer = Layer {
            corners: self.corners.iter().map(|c| Corner { name: c.name.clone(), at: Mm::from(c.at), error: None }).collect(),
            edges: self.edges.iter().map(edge).collect::<Result<_, FoundError>>()?,
            ..Layer::default()
        };
        layer.check().map_err(|source| FoundError::Layer { piece: self.name.clone(), source })?;
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
        let text = drafted_text(&[&piece]);
        let back = DraftedRecord::from_text(&text).expect("read back");
        assert_eq!(back.pieces[0].found, path_text(&found.outline()));
        assert!((back.pieces[0].edges[0].length_mm - found.edges[0].length() - 2.0).abs() < 0.01);
        assert_eq!(back.pieces[0].edges[0].how, How::Chosen);
        assert!((length(&back.pieces[0].edges[1].line().expect("a path")) - piece.drafted().edges[1].length()).abs() < 0.01);
        assert!(DraftedRecord::from_text(&text.replace("ruboff-drafted", "ruboff-outline")).is_err());
    }
}
