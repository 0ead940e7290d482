//! What `outline.json` keeps of a tracing.

use super::json::{
    BuckleRecord, BudgetRecord, CornerRecord, Distortion, DoubtRecord, EdgeRecord, HeldOutRecord, InnerRecord, JoinedRecord, LAID_ONCE,
    MadeBy, MarkRecord, PictureRecord, PieceRecord, Record, SheetRecord, StepRecord, ViewRecord,
};
use super::path_text::{path_text, round};
use super::several::PicturesJoinedRecord;
use crate::outline::{Shape, length, signed_area};
use crate::proof::Doubt;
use crate::sheet::pages::address;
use crate::trace::{Found, Laid, Line, Picture, Sources, Traced, Tracing};
use crate::view::{Buckle, FocalFrom, JoinedPages, Model, Step, View};
use serde_json::{Map, Value};

impl Record {
    /// The record of a tracing made with these settings.
    pub fn of(tracing: &Tracing, settings: Map<String, Value>, profiles: Vec<String>) -> Self {
        let t = tracing;
        Self {
            format: "ruboff-outline".into(),
            version: 1,
            units: "mm".into(),
            made_by: MadeBy { version: env!("CARGO_PKG_VERSION").into(), settings, profiles, rests_on: None },
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
            replaces: Vec::new(),
        }
    }
}

impl DoubtRecord {
    /// What a file keeps of a doubt.
    pub(super) fn of(d: &Doubt) -> Self {
        Self { code: d.code().into(), place: d.place().map(|p| [round(p.x), round(p.y)]), say: d.say() }
    }
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

fn buckle_record(buckle: &Buckle) -> BuckleRecord {
    let out = &buckle.out;
    BuckleRecord {
        origin_mm: [out.origin.x, out.origin.y].map(round),
        step_mm: out.step,
        spans: out.spans,
        out_mm: out.coefficients.iter().map(|c| [round(c.x), round(c.y)]).collect(),
    }
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
        buckle: view.buckle.as_ref().map(buckle_record),
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
