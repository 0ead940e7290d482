//! `outline.json`: the contract every other part reads. Lengths in mm, rounded to 0.0001.

use super::path_text::{path_text, round};
use super::several::{LayingRecord, PicturesJoinedRecord, SharedRecord};
use super::version::{RecordError, known};
use crate::outline::{Shape, length, signed_area};
use crate::proof::Doubt;
use crate::sheet::pages::address;
use crate::trace::{Found, Laid, Line, Picture, Sources, Traced, Tracing};
use crate::view::{FocalFrom, JoinedPages, Model, Step, View};
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
}

/// Which program and settings made it.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[allow(missing_docs)]
pub struct MadeBy {
    pub version: String,
    pub settings: Map<String, Value>,
    pub profiles: Vec<String>,
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

impl JoinedRecord {
    fn of(j: &JoinedPages) -> Self {
        let step = |s: &Step| StepRecord {
            between: s.pages.map(|[column, row]| address(row, column)),
            at: [round(s.at.x), round(s.at.y)],
            by_mm: [round(s.by.x), round(s.by.y)],
            error_mm: round(s.error),
        };
        Self { papers: j.papers.clone(), pages: j.laid.laid.len(), steps: j.steps.iter().map(step).collect() }
    }
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
    /// The record of a tracing made with these settings.
    pub fn of(tracing: &Tracing, settings: Map<String, Value>, profiles: Vec<String>) -> Self {
        let t = tracing;
        Self {
            format: "ruboff-outline".into(),
            version: 1,
            units: "mm".into(),
            made_by: MadeBy { version: env!("CARGO_PKG_VERSION").into(), settings, profiles },
            pictures: std::iter::once(&t.picture).chain(t.more.iter().map(|m| &m.picture)).map(picture_record).collect(),
            sheet: SheetRecord {
                kind: t.sheet.kind.word().into(),
                number: t.sheet.number,
                measured: t.sheet.measured.clone(),
                joined: t.sheet.joined.as_ref().map(JoinedRecord::of),
                pitch_mm: t.sheet.pitch.map(round),
                nodes: t.sheet.nodes,
                rms_px: round(t.sheet.rms_px),
                coverage: round(t.sheet.coverage),
                held_out: t.sheet.held_out.map(|h| HeldOutRecord { nodes: h.nodes, rms_px: round(h.rms_px), rms_mm: round(h.rms_mm) }),
            },
            views: views(t),
            pieces: t.pieces.iter().map(piece_record).collect(),
            marks: t.marks.iter().map(mark_record).collect(),
            doubts: t.doubts.iter().map(DoubtRecord::of).collect(),
            budget: BudgetRecord {
                sheet_not_measured_mm: t.sheet.measured.as_ref().map(|_| round(t.budget.not_measured)),
                median: Some(Box::new(sources(&t.budget.median))),
                ..sources(&t.budget.worst)
            },
            layings: Vec::new(),
            shared: Vec::new(),
        }
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
    pub fn from_text(text: &str) -> Result<Self, RecordError> {
        known(text, "ruboff-outline", 1)?;
        Ok(serde_json::from_str(text)?)
    }
}

impl DoubtRecord {
    /// What a file keeps of a doubt.
    pub(super) fn of(d: &Doubt) -> Self {
        Self { code: d.code().into(), place: d.place().map(|p| [round(p.x), round(p.y)]), say: d.say() }
    }
}

fn sources(s: &Sources) -> BudgetRecord {
    BudgetRecord {
        sheet_mm: round(s.sheet),
        grid_mm: round(s.grid),
        lens_mm: round(s.lens),
        edge_mm: round(s.edge),
        thickness_mm: round(s.thickness),
        sheet_not_measured_mm: None,
        median: None,
    }
}

fn picture_record(p: &Picture) -> PictureRecord {
    PictureRecord {
        file: p.file.clone(),
        blake3: p.blake3.clone(),
        width_px: p.width,
        height_px: p.height,
        kind: if p.photo { "photo" } else { "scan" }.into(),
    }
}

fn views(t: &Tracing) -> Vec<ViewRecord> {
    let first = view_record(&t.view, t.focal_from, (t.px_per_mm, t.thickness), t.lens_profile.as_ref());
    let more = t.more.iter().enumerate().map(|(k, m)| ViewRecord {
        picture: k + 1,
        ..view_record(&m.view, m.focal_from, (m.px_per_mm, t.thickness), m.lens_profile.as_ref())
    });
    std::iter::once(first).chain(more).collect()
}

fn view_record(
    view: &View,
    focal_from: Option<FocalFrom>,
    (px_per_mm, thickness): ([f64; 2], f64),
    lens_profile: Option<&String>,
) -> ViewRecord {
    let base = ViewRecord {
        px_per_mm: px_per_mm.map(round),
        tilt_deg: round(view.tilt_deg()),
        thickness_mm: round(thickness),
        lens_profile: lens_profile.cloned(),
        ..ViewRecord::default()
    };
    match &view.model {
        Model::Pinhole { lens, rotation, translation } => ViewRecord {
            model: "pinhole".into(),
            focal_px: Some(lens.focal),
            focal_from,
            centre_px: Some(lens.centre.into()),
            distortion: Some(Distortion { k1: lens.k1, k2: lens.k2, p1: lens.p1, p2: lens.p2 }),
            rotation: Some(std::array::from_fn(|k| rotation[(k / 3, k % 3)])),
            translation_mm: Some([translation.x, translation.y, translation.z]),
            ..base
        },
        Model::Scan { matrix } => ViewRecord { model: "scan".into(), matrix: Some(*matrix), ..base },
    }
}

fn mark_record(l: &Laid) -> MarkRecord {
    let m = &l.mark;
    let [r, g, b] = m.colour;
    MarkRecord {
        number: l.number,
        name: l.name.clone(),
        kind: m.kind.word().trim_end_matches('s').into(),
        at: [round(l.at.x), round(l.at.y)],
        px: [round(m.px.x), round(m.px.y)],
        across_mm: round(m.across),
        colour: format!("#{r:02x}{g:02x}{b:02x}"),
        on: if l.on_cloth { "cloth" } else { "sheet" }.into(),
        error_mm: round(m.error),
        shows: l.shows.map(|p| [round(p.x), round(p.y)]),
    }
}

fn piece_record(p: &Traced) -> PieceRecord {
    let whole = p.outline.edges.iter().all(|e| !e.cut);
    PieceRecord {
        name: p.name.clone(),
        outline: path_text(&p.outline.path),
        corners: p
            .outline
            .corners
            .iter()
            .zip(&p.corner_names)
            .map(|(c, name)| CornerRecord {
                at: [round(c.at.x), round(c.at.y)],
                name: name.clone(),
                error_mm: round(c.error),
                laid_mm: None,
            })
            .collect(),
        edges: edge_records(p),
        inner: p
            .inner
            .iter()
            .map(|s| InnerRecord {
                name: s.name.clone(),
                line: "seam".into(),
                path: path_text(&s.path),
                length_mm: round(length(&s.path)),
                bound_mm: round(s.bound),
            })
            .collect(),
        holes: p.holes.iter().map(|h| path_text(&h.path)).collect(),
        area_mm2: whole
            .then(|| round(signed_area(&p.outline.path).abs() - p.holes.iter().map(|h| signed_area(&h.path).abs()).sum::<f64>())),
        perimeter_mm: whole.then(|| round(length(&p.outline.path))),
        bound_mm: p.bound.map(round),
        laid: Some(LAID_ONCE.into()),
        laid_mm: None,
        repeat_mm: None,
        laid_with: Vec::new(),
        derived: None,
        joined: p.joined.as_ref().map(PicturesJoinedRecord::of),
    }
}

fn edge_records(p: &Traced) -> Vec<EdgeRecord> {
    p.outline
        .edges
        .iter()
        .zip(&p.edges)
        .map(|(e, found)| EdgeRecord {
            name: found.name.clone(),
            line: match found.line {
                Line::Rim => "rim",
                Line::Seam => "seam",
                Line::Fold => "fold",
                Line::Cut => "cut",
            }
            .into(),
            shape: match e.shape {
                Shape::Straight => "straight",
                Shape::Curve => "curve",
            }
            .into(),
            found: match found.found {
                Found::Picture => "picture",
                Found::Offset => "offset",
                Found::Hand => "hand",
            }
            .into(),
            from: e.from,
            to: e.to,
            path: path_text(&e.path),
            length_mm: round(length(&e.path)),
            bound_mm: found.bound.map(round),
            along: found.along.iter().map(|a| a.map(round)).collect(),
            rough_mm: found.rough.map(round),
            laid_mm: None,
            laid_along: Vec::new(),
            pictures: found.pictures.clone(),
        })
        .collect()
}
