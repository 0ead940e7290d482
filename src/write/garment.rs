//! `garment.json`: all that is known of a garment in one record. Lengths in mm, rounded to 0.0001.
//!
//! Every value says how it came to be known (seen, taped, noted, chosen, assumed), and by whom and when where somebody told it.
//! As found and as drafted are two layers. Names make the ids, so a record can be cited and stays the same when it is made anew.

use super::drafted::DraftedChange;
use super::json::DoubtRecord;
use super::marked::MarkedOf;
use crate::piece::How;
use serde::{Deserialize, Serialize};
use serde_json::{Map, Value};

/// The whole file.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[allow(missing_docs)] // each field is named and explained by the format itself
pub struct GarmentRecord {
    pub format: String,
    pub version: u32,
    pub units: String,
    pub id: String,
    pub made_by: String,
    pub garment: Map<String, Value>,
    pub notes: NotesOf,
    pub pictures: Vec<PictureOf>,
    pub pieces: Vec<PieceOf>,
    /// Facings and linings, drawn from pieces as drafted.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub derived: Vec<DerivedOf>,
    pub joins: Vec<JoinOf>,
    pub tape: Vec<TapeOf>,
    pub doubts: Vec<DoubtOf>,
    /// Changes made to the drafted layer after a toile, each with its date: kept when the record is made anew.
    #[serde(default)]
    pub changes: Vec<Value>,
    /// What it rests on, as a hash: it is made anew when that changes.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub rests_on: Option<String>,
}

/// The notes as they were written: also what nothing else here speaks of, such as darts and pleats.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[allow(missing_docs)]
pub struct NotesOf {
    pub blake3: String,
    pub as_written: Value,
    #[serde(flatten)]
    pub source: Source,
}

/// How a value came to be known.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[allow(missing_docs)]
pub struct Source {
    pub how: How,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub by: Option<String>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub on: Option<String>,
}

/// A text, a flag or a percentage with its source.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[allow(missing_docs)]
pub struct Told {
    pub value: Value,
    #[serde(flatten)]
    pub source: Source,
}

/// A picture that was traced, or was not.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[allow(missing_docs)]
pub struct PictureOf {
    pub file: String,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub blake3: Option<String>,
    pub result: String,
    /// Who took it, where that was not whoever took the garment's record.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub recorded_by: Option<String>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub say: Option<String>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub outline: Option<String>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub side: Option<String>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub up: Option<String>,
    #[serde(default, skip_serializing_if = "Map::is_empty")]
    pub settings: Map<String, Value>,
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub profiles: Vec<String>,
}

/// A piece.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[allow(missing_docs)]
pub struct PieceOf {
    pub id: String,
    pub name: String,
    pub kind: Option<Told>,
    pub picture: usize,
    /// "laid once", or how often the piece was laid.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub laid: Option<String>,
    /// 95 % of places of its outline lie no further apart in the two layings that differ most there.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub laid_mm: Option<f64>,
    /// The same between pictures of one laying.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub repeat_mm: Option<f64>,
    /// What was made of several tracings, in words.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub derived: Option<String>,
    pub as_found: LayerOf,
    pub as_drafted: DraftOf,
    pub chosen: Vec<ChosenOf>,
    pub measures: Vec<MeasureOf>,
    /// Of a piece with two like sides: how they lie about its centre line.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub balance: Option<BalanceOf>,
}

/// How both sides of a piece lie about its centre line as it was found: places on the page of its drafted layer.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[allow(missing_docs)]
pub struct BalanceOf {
    /// How far the middle of the width lies from the centre line at each level, positive to the right on the page.
    pub levels: Vec<LevelOf>,
    /// The centre that a person marked, against the centre line.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub marked_off_mm: Option<f64>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub marked_turned_deg: Option<f64>,
    /// Left against the mirror image of right.
    pub sides_differ_mm: f64,
    pub sides_differ_mean_mm: f64,
}

/// A level at which the width was halved.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[allow(missing_docs)]
pub struct LevelOf {
    pub name: String,
    pub from_to: [[f64; 2]; 2],
    pub off_mm: f64,
}

/// A piece that is derived from another.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[allow(missing_docs)]
pub struct DerivedOf {
    pub id: String,
    pub name: String,
    pub from: String,
    pub as_drafted: DraftOf,
    pub chosen: Vec<ChosenOf>,
}

/// The lines of a piece.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[allow(missing_docs)]
pub struct LayerOf {
    pub outline: String,
    pub corners: Vec<CornerOf>,
    pub edges: Vec<EdgeOf>,
    pub inner: Vec<InnerOf>,
    pub holes: Vec<String>,
    pub area_mm2: f64,
    pub perimeter_mm: f64,
}

/// A corner.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[allow(missing_docs)]
pub struct CornerOf {
    pub name: String,
    pub named: How,
    pub at: [f64; 2],
    pub error_mm: Option<f64>,
}

/// An edge.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[allow(missing_docs)]
pub struct EdgeOf {
    pub id: String,
    pub name: String,
    pub named: How,
    pub line: String,
    #[serde(flatten)]
    pub source: Source,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub is: Option<Told>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub true_seam_mm: Option<Told>,
    pub path: String,
    pub length_mm: f64,
    pub bound_mm: Option<f64>,
    /// How far layings of the piece lie apart along it (95 %).
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub laid_mm: Option<f64>,
}

/// A seam within the piece.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[allow(missing_docs)]
pub struct InnerOf {
    pub name: String,
    pub path: String,
    pub length_mm: f64,
    pub bound_mm: Option<f64>,
}

/// The drafted layer and what was done to get there.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[allow(missing_docs)]
pub struct DraftOf {
    pub mirrored: bool,
    pub turned_deg: f64,
    pub down: String,
    #[serde(flatten)]
    pub source: Source,
    #[serde(flatten)]
    pub lines: LayerOf,
    /// What was done to the lines as found, in order.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub changes: Vec<DraftedChange>,
    /// What was asked for and could not be done.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub undone: Vec<String>,
    /// Edges that opened fullness parts or lengthens, as they are sewn.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub sewn: Vec<SewnOf>,
    #[serde(flatten)]
    pub marked: MarkedOf,
}

/// An edge whose opened darts are closed and whose pleats are laid before it is sewn.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[allow(missing_docs)]
pub struct SewnOf {
    pub edge: String,
    pub stretches: Vec<String>,
    pub taken_up_mm: f64,
    /// Darts that lay open and are closed too.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub open: Vec<LiesOpenOf>,
}

/// Where a dart lies open along a stretch of an edge, clockwise.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[allow(missing_docs)]
pub struct LiesOpenOf {
    pub stretch: String,
    pub legs_mm: [f64; 2],
}

/// Something chosen for the copy.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[allow(missing_docs)]
pub struct ChosenOf {
    pub what: String,
    pub value: Value,
    #[serde(flatten)]
    pub source: Source,
}

/// A flat measure.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[allow(missing_docs)]
pub struct MeasureOf {
    pub id: String,
    pub name: String,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub side: Option<String>,
    pub mm: f64,
    pub inches: String,
    pub bound_mm: Option<f64>,
    #[serde(flatten)]
    pub source: Source,
    pub half_round: bool,
    /// What darts that lay open took up of it: it is measured with them closed.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub darts_closed_mm: Option<f64>,
    /// How far it differs between layings of the piece.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub laid_mm: Option<f64>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub from_to: Option<[[f64; 2]; 2]>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub along: Option<String>,
}

/// Edges that are sewn together.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[allow(missing_docs)]
pub struct JoinOf {
    pub edges: [String; 2],
    pub ease_mm: Option<f64>,
    pub tolerance_mm: Option<f64>,
    #[serde(flatten)]
    pub source: Source,
    /// Length of either side as found, where all its edges were found.
    pub lengths_mm: [Option<f64>; 2],
    /// Length of either side as it is sewn of the drafted lines, as `true` walks them: darts closed, pleats laid, half a piece where it is sewn on both
    /// sides. Left out where that can't be walked.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub sewn_mm: Option<[f64; 2]>,
}

/// A tape reading, and what the pictures say to it.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[allow(missing_docs)]
pub struct TapeOf {
    pub what: String,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub piece: Option<String>,
    pub mm: f64,
    pub inches: String,
    pub round: bool,
    #[serde(flatten)]
    pub source: Source,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub remarks: Option<String>,
    pub against: Vec<AgainstOf>,
}

/// A measure a tape reading was held against.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[allow(missing_docs)]
pub struct AgainstOf {
    pub piece: String,
    pub seen_mm: f64,
    pub off_mm: f64,
    pub tolerance_mm: [f64; 2],
    pub agrees: bool,
}

/// A doubt with what it is about.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[allow(missing_docs)]
pub struct DoubtOf {
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub picture: Option<usize>,
    #[serde(flatten)]
    pub doubt: DoubtRecord,
}

pub(super) const FORMAT: &str = "ruboff-garment";
pub(super) const VERSION: u32 = 1;

impl GarmentRecord {
    /// What people call the garment: its name, where it has one, else what its record is called.
    pub fn name(&self) -> &str {
        self.garment.get("name").and_then(|n| n.get("value")?.as_str()).filter(|n| !n.trim().is_empty()).unwrap_or(&self.id)
    }

    /// Pictures of the garment that could not be traced when the record was made: what they show is not in it.
    pub fn not_traced(&self) -> Vec<&str> {
        self.pictures.iter().filter(|p| p.result == "failed").map(|p| p.file.as_str()).collect()
    }

    /// The file's text, ending in a line break.
    pub fn to_text(&self) -> String {
        let mut text = serde_json::to_string_pretty(self).unwrap_or_default();
        text.push('\n');
        text
    }

    /// Reads a record back.
    ///
    /// # Errors
    /// No JSON, missing fields, or another format.
    pub fn from_text(text: &str) -> Result<Self, super::RecordError> {
        super::version::known(text, FORMAT, VERSION)?;
        Ok(serde_json::from_str(text)?)
    }
}
