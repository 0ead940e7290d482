//! `outline.json`: the contract every other part reads. Lengths in mm, rounded to 0.0001.

use super::several::{LayingRecord, PicturesJoinedRecord, SharedRecord};
use super::version::{RecordError, known};
use crate::view::FocalFrom;
use serde::{Deserialize, Serialize};
use serde_json::{Map, Value};

/// The whole file.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[allow(missing_docs)] // each field is named and explained by the format itself
pub struct Record {
    pub format: String,
    pub version: u32,
    pub units: String,
    pub made_by: MadeBy,
    pub pictures: Vec<PictureRecord>,
    pub sheet: SheetRecord,
    pub views: Vec<ViewRecord>,
    pub pieces: Vec<PieceRecord>,
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub marks: Vec<MarkRecord>,
    pub doubts: Vec<DoubtRecord>,
    pub budget: BudgetRecord,
    /// Where the lines of a derived piece come from: the tracings it was made of.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub layings: Vec<LayingRecord>,
    /// Named points that layings of one piece share, and what they miss each other by.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub shared: Vec<SharedRecord>,
    /// Earlier tracings that this one took the place of, the newest first.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub replaces: Vec<ReplacedRecord>,
}

/// Which program and settings made it.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[allow(missing_docs)]
pub struct MadeBy {
    pub version: String,
    pub settings: Map<String, Value>,
    pub profiles: Vec<String>,
    /// What else it rests on, so that it is made anew when that changes and not before.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub rests_on: Option<RestsOn>,
}

/// What a tracing rests on besides the bytes of its pictures, each as a hash.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(default)]
#[allow(missing_docs)]
pub struct RestsOn {
    /// What was asked for and noted.
    pub asked: String,
    /// The lens profile that belonged to the picture.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub lens: Option<String>,
    /// What was measured of the print in the picture.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub print: Option<String>,
    /// The stages of the program.
    pub stages: String,
}

/// An earlier tracing that a new picture took the place of.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[allow(missing_docs)]
pub struct ReplacedRecord {
    /// Where it is kept.
    pub outline: String,
    /// The picture it was taken from.
    pub blake3: String,
    /// 95 % of the places of its outline lie no further than this from the new one's.
    pub differs_mm: Option<f64>,
    pub say: String,
}

/// A picture it was taken from.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[allow(missing_docs)]
pub struct PictureRecord {
    pub file: String,
    pub blake3: String,
    pub width_px: usize,
    pub height_px: usize,
    pub kind: String,
}

/// The sheet as found.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[allow(missing_docs)]
pub struct SheetRecord {
    pub kind: String,
    /// Number of a coded sheet.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub number: Option<u32>,
    /// The measured print it is.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub measured: Option<String>,
    /// Pages that were joined out of place.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub joined: Option<JoinedRecord>,
    pub pitch_mm: [f64; 2],
    pub nodes: usize,
    pub rms_px: f64,
    pub coverage: f64,
    pub held_out: Option<HeldOutRecord>,
}

/// Nodes kept out of a trial fit.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[allow(missing_docs)]
pub struct HeldOutRecord {
    pub nodes: usize,
    pub rms_px: f64,
    pub rms_mm: f64,
}

/// How picture and sheet belong together.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
#[allow(missing_docs)]
pub struct ViewRecord {
    pub picture: usize,
    pub model: String,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub focal_px: Option<f64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub focal_from: Option<FocalFrom>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub centre_px: Option<[f64; 2]>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub distortion: Option<Distortion>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub rotation: Option<[f64; 9]>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub translation_mm: Option<[f64; 3]>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub matrix: Option<[f64; 6]>,
    pub px_per_mm: [f64; 2],
    pub tilt_deg: f64,
    pub thickness_mm: f64,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub lens_profile: Option<String>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub buckle: Option<BuckleRecord>,
}

/// How a sheet lies that is not flat: uniform cubic B-splines of what its places are out by along it, row by row.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[allow(missing_docs)]
pub struct BuckleRecord {
    pub origin_mm: [f64; 2],
    pub step_mm: f64,
    pub spans: [usize; 2],
    pub out_mm: Vec<[f64; 2]>,
}

/// Brown's terms.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[allow(missing_docs)]
pub struct Distortion {
    pub k1: f64,
    pub k2: f64,
    pub p1: f64,
    pub p2: f64,
}

/// One piece.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[allow(missing_docs)]
pub struct PieceRecord {
    pub name: String,
    pub outline: String,
    pub corners: Vec<CornerRecord>,
    pub edges: Vec<EdgeRecord>,
    pub inner: Vec<InnerRecord>,
    pub holes: Vec<String>,
    pub area_mm2: Option<f64>,
    pub perimeter_mm: Option<f64>,
    pub bound_mm: Option<f64>,
    /// "laid once", or how often it was laid: what no single picture can tell.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub laid: Option<String>,
    /// 95 % of places of the outline lie no further apart in the two layings that differ most there.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub laid_mm: Option<f64>,
    /// The same between pictures of one laying.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub repeat_mm: Option<f64>,
    /// The other pictures it was compared with.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub laid_with: Vec<String>,
    /// What was made of several tracings, in words.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub derived: Option<String>,
    /// How several joined pictures agree on it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub joined: Option<PicturesJoinedRecord>,
}

/// A corner.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[allow(missing_docs)]
pub struct CornerRecord {
    pub at: [f64; 2],
    pub name: String,
    pub error_mm: f64,
    /// Distance of the two layings that differ most there.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub laid_mm: Option<f64>,
}

/// A stretch of outline between corners.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[allow(missing_docs)]
pub struct EdgeRecord {
    pub name: String,
    pub line: String,
    pub shape: String,
    pub found: String,
    pub from: Option<usize>,
    pub to: Option<usize>,
    pub path: String,
    pub length_mm: f64,
    pub bound_mm: Option<f64>,
    pub along: Vec<[f64; 2]>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub rough_mm: Option<f64>,
    /// 95 % of its places lie no further apart in the two layings that differ most there.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub laid_mm: Option<f64>,
    /// Distance along and how far layings lie apart there.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub laid_along: Vec<[f64; 2]>,
    pub pictures: Vec<usize>,
}

/// A seam within the piece.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[allow(missing_docs)]
pub struct InnerRecord {
    pub name: String,
    pub line: String,
    pub path: String,
    pub length_mm: f64,
    pub bound_mm: f64,
}

/// A mark laid by hand.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[allow(missing_docs)]
pub struct MarkRecord {
    pub number: usize,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub name: Option<String>,
    pub kind: String,
    pub at: [f64; 2],
    pub px: [f64; 2],
    pub across_mm: f64,
    pub colour: String,
    pub on: String,
    pub error_mm: f64,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub shows: Option<[f64; 2]>,
}

/// Something to look at twice.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[allow(missing_docs)]
pub struct DoubtRecord {
    pub code: String,
    #[serde(rename = "where")]
    pub place: Option<[f64; 2]>,
    pub say: String,
}

/// Pages of a sheet that were joined out of place: corrected for, and told.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[allow(missing_docs)]
pub struct JoinedRecord {
    /// Papers that part a sheet so.
    pub papers: Vec<String>,
    /// Pages that were seen.
    pub pages: usize,
    /// Steps at the joins, the largest first.
    pub steps: Vec<StepRecord>,
}

/// How two pages meet.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[allow(missing_docs)]
pub struct StepRecord {
    pub between: [String; 2],
    pub at: [f64; 2],
    /// By how much the second lies out against the first.
    pub by_mm: [f64; 2],
    pub error_mm: f64,
}

/// Errors by source, mm: each at its worst place, and all at their median places.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[allow(missing_docs)]
pub struct BudgetRecord {
    pub sheet_mm: f64,
    pub grid_mm: f64,
    pub lens_mm: f64,
    pub edge_mm: f64,
    pub thickness_mm: f64,
    /// What the sheet would add had nobody measured its print.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub sheet_not_measured_mm: Option<f64>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub median: Option<Box<BudgetRecord>>,
}

/// What is said of a piece that nobody laid a second time.
pub(super) const LAID_ONCE: &str = "laid once";

impl Record {
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
    pub fn from_text(text: &str) -> Result<Self, RecordError> {
        known(text, "ruboff-outline", 1)?;
        Ok(serde_json::from_str(text)?)
    }
}
