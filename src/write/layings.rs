//! What several layings of one piece say, in the records: how far they lie apart, their mean, a piece put together.

use super::joined::line_word;
use super::json::{BudgetRecord, CornerRecord, DoubtRecord, EdgeRecord, LAID_ONCE, MadeBy, PieceRecord, Record};
use super::path_text::{path_text, round};
use super::several::{LayingRecord, SharedRecord};
use super::svg::{MARGIN, SQUARE, check_square, escape};
use crate::piece::{Layer, Shared, Spread};
use kurbo::{Affine, BezPath, Rect, Shape};
use std::fmt::Write;

/// Height of letters in the drawing, mm, and as many of them fit beside one another into the check square.
const LETTERS: f64 = 4.0;
const LINE: usize = 40;
/// Bounds of a derived edge are told at most so far apart, mm.
const STEP: f64 = 5.0;

/// How often a piece was laid, in words.
pub(super) fn times(layings: usize) -> String {
    match layings {
        0 | 1 => LAID_ONCE.into(),
        n => format!("laid {n} times"),
    }
}

impl PieceRecord {
    /// Takes away what was said of other layings; false when nothing was.
    pub fn laid_alone(&mut self) -> bool {
        if self.laid_with.is_empty() {
            return false;
        }
        self.laid = Some(LAID_ONCE.into());
        (self.laid_mm, self.repeat_mm) = (None, None);
        self.laid_with.clear();
        self.corners.iter_mut().for_each(|c| c.laid_mm = None);
        for edge in &mut self.edges {
            edge.laid_mm = None;
            edge.laid_along.clear();
        }
        true
    }

    /// Writes into a piece how other layings of it differ; `with` are the other pictures.
    pub fn laid_anew(&mut self, spread: &Spread, with: &[String]) {
        self.laid = Some(times(spread.layings));
        self.laid_mm = spread.laid.map(round);
        self.repeat_mm = spread.repeat.map(round);
        self.laid_with = with.to_vec();
        let several = spread.layings > 1;
        for (corner, off) in self.corners.iter_mut().zip(&spread.corners) {
            corner.laid_mm = several.then(|| round(*off));
        }
        for (edge, own) in self.edges.iter_mut().zip(&spread.edges) {
            edge.laid_mm = own.laid.map(round);
            edge.laid_along = own.along.iter().map(|a| a.map(round)).collect();
        }
    }
}

/// A tracing that a derived piece is made of.
#[derive(Clone, Copy, Debug)]
pub struct Source<'a> {
    /// Its record; the piece is its only one.
    pub record: &'a Record,
    /// Where that lies, from the folder of the derived record.
    pub outline: &'a str,
    /// Which laying it shows.
    pub laying: usize,
    /// Lays it on the first.
    pub motion: Affine,
}

/// A piece made of several tracings.
#[derive(Clone, Debug)]
pub struct Made<'a> {
    /// What it is called.
    pub name: String,
    /// How it was made, in words.
    pub words: String,
    /// Its lines, on the first one's page.
    pub layer: &'a Layer,
    /// Of each edge: the edges it was made of, as number of the tracing and of its edge.
    pub of: Vec<Vec<(usize, usize)>>,
    /// How the layings differ along it, counted as the first one's corners and edges.
    pub spread: Option<&'a Spread>,
    /// Points that the layings share.
    pub shared: &'a [Shared],
}

impl Record {
    /// The record of a piece made of several tracings, beside which it stands.
    pub fn derived(made: &Made, sources: &[Source]) -> Self {
        let first = sources[0].record;
        let piece = piece(made, sources);
        let mut doubts: Vec<DoubtRecord> = made.shared.iter().filter_map(Shared::doubt).map(|d| DoubtRecord::of(&d)).collect();
        // What is doubted of a laying is doubted of what is made of it; places are on that laying's own page.
        for own in sources.iter().flat_map(|s| &s.record.doubts) {
            if doubts.iter().all(|d| (&d.code, &d.say) != (&own.code, &own.say)) {
                doubts.push(DoubtRecord { place: None, ..own.clone() });
            }
        }
        Self {
            format: first.format.clone(),
            version: first.version,
            units: first.units.clone(),
            made_by: MadeBy {
                version: env!("CARGO_PKG_VERSION").into(),
                settings: first.made_by.settings.clone(),
                profiles: sources.iter().flat_map(|s| s.record.made_by.profiles.clone()).fold(Vec::new(), |mut all, p| {
                    if !all.contains(&p) {
                        all.push(p);
                    }
                    all
                }),
                rests_on: None,
            },
            pictures: sources.iter().flat_map(|s| s.record.pictures.first().cloned()).collect(),
            sheet: first.sheet.clone(),
            views: sources
                .iter()
                .enumerate()
                .filter_map(|(k, s)| s.record.views.first().cloned().map(|v| super::json::ViewRecord { picture: k, ..v }))
                .collect(),
            pieces: vec![piece],
            marks: first.marks.clone(),
            doubts,
            budget: worst(sources),
            layings: sources.iter().enumerate().map(|(k, s)| laying(k, s)).collect(),
            shared: made.shared.iter().map(shared).collect(),
            replaces: Vec::new(),
        }
    }
}

fn piece(made: &Made, sources: &[Source]) -> PieceRecord {
    let layer = made.layer;
    let n = layer.edges.len();
    let ends = |k: usize| if layer.corners.is_empty() { (None, None) } else { (Some(k), Some((k + 1) % n)) };
    let edges = layer.edges.iter().enumerate().map(|(k, e)| {
        let own: Vec<&EdgeRecord> = made.of[k].iter().filter_map(|&(s, e)| sources[s].record.pieces.first()?.edges.get(e)).collect();
        let mut pictures: Vec<usize> = made.of[k].iter().map(|o| o.0).collect();
        pictures.dedup();
        EdgeRecord {
            name: e.name.clone(),
            line: line_word(e.line).into(),
            shape: if e.path.segments().all(|s| matches!(s, kurbo::PathSeg::Line(_))) { "straight" } else { "curve" }.into(),
            found: "derived".into(),
            from: ends(k).0,
            to: ends(k).1,
            path: path_text(&e.path),
            length_mm: round(e.length()),
            bound_mm: e.bound.map(round),
            along: along(&own, e.length()),
            rough_mm: own.iter().filter_map(|e| e.rough_mm).reduce(f64::max),
            laid_mm: None,
            laid_along: Vec::new(),
            pictures,
        }
    });
    let corners = layer.corners.iter().map(|c| CornerRecord {
        at: [round(c.at.x), round(c.at.y)],
        name: c.name.clone(),
        error_mm: round(c.error.unwrap_or(0.0)),
        laid_mm: None,
    });
    let bounds: Vec<f64> = sources.iter().filter_map(|s| s.record.pieces.first()?.bound_mm).collect();
    let mut piece = PieceRecord {
        name: made.name.clone(),
        outline: path_text(&layer.outline()),
        corners: corners.collect(),
        edges: edges.collect(),
        inner: Vec::new(),
        holes: layer.holes.iter().map(path_text).collect(),
        area_mm2: Some(round(layer.area())),
        perimeter_mm: Some(round(layer.perimeter())),
        bound_mm: rms(&bounds).map(round),
        laid: None,
        laid_mm: None,
        repeat_mm: None,
        laid_with: Vec::new(),
        derived: Some(made.words.clone()),
        joined: None,
    };
    if let Some(spread) = made.spread {
        let files: Vec<String> = sources.iter().filter_map(|s| s.record.pictures.first().map(|p| p.file.clone())).collect();
        piece.laid_anew(&along_it(spread, &piece, sources[0].record), &files);
    }
    piece
}

/// The spread of the first outline's edges by the distance along the derived ones, which are as long to a few millimetres.
fn along_it(spread: &Spread, piece: &PieceRecord, first: &Record) -> Spread {
    let mut out = spread.clone();
    let lengths = first.pieces.first().map(|p| &p.edges).into_iter().flatten().map(|e| e.length_mm);
    for ((own, edge), was) in out.edges.iter_mut().zip(&piece.edges).zip(lengths) {
        own.along.iter_mut().for_each(|a| a[0] *= edge.length_mm / was.max(1e-9));
    }
    out
}

/// What the edges an edge was made of may be out by, all together, at equal shares of their lengths.
fn along(own: &[&EdgeRecord], length: f64) -> Vec<[f64; 2]> {
    let n = (length / STEP).ceil().max(1.0) as usize;
    let at = |e: &EdgeRecord, share: f64| {
        let s = e.length_mm * share;
        let next = e.along.partition_point(|a| a[0] < s).min(e.along.len().checked_sub(1)?);
        let (a, b) = (e.along[next.saturating_sub(1)], e.along[next]);
        let t = if b[0] > a[0] { ((s - a[0]) / (b[0] - a[0])).clamp(0.0, 1.0) } else { 1.0 };
        Some(a[1] + (b[1] - a[1]) * t)
    };
    (0..=n)
        .filter_map(|k| {
            let share = k as f64 / n as f64;
            let all: Vec<f64> = own.iter().filter_map(|e| at(e, share)).collect();
            Some([round(length * share), round(rms(&all)?)])
        })
        .collect()
}

fn rms(all: &[f64]) -> Option<f64> {
    (!all.is_empty()).then(|| (all.iter().map(|v| v * v).sum::<f64>() / all.len() as f64).sqrt())
}

fn worst(sources: &[Source]) -> BudgetRecord {
    let most = |of: fn(&BudgetRecord) -> f64| sources.iter().map(|s| of(&s.record.budget)).fold(0.0, f64::max);
    BudgetRecord {
        sheet_mm: most(|b| b.sheet_mm),
        sheet_not_measured_mm: sources.iter().filter_map(|s| s.record.budget.sheet_not_measured_mm).reduce(f64::max),
        grid_mm: most(|b| b.grid_mm),
        lens_mm: most(|b| b.lens_mm),
        edge_mm: most(|b| b.edge_mm),
        thickness_mm: most(|b| b.thickness_mm),
        median: None,
    }
}

fn laying(picture: usize, s: &Source) -> LayingRecord {
    let [a, b, _, _, x, y] = s.motion.as_coeffs();
    let mirrored = s.motion.determinant() < 0.0;
    // Mirrored about the vertical first: the first column then runs the other way.
    let angle = if mirrored { (-b).atan2(-a) } else { b.atan2(a) };
    LayingRecord {
        picture,
        outline: s.outline.to_owned(),
        laying: s.laying,
        mirrored,
        turned_deg: round(angle.to_degrees()),
        shift_mm: [round(x), round(y)],
    }
}

fn shared(s: &Shared) -> SharedRecord {
    SharedRecord {
        name: s.name.clone(),
        picture: s.laying,
        at: [round(s.at.x), round(s.at.y)],
        off_mm: round(s.off),
        allowed_mm: round(s.allowed),
    }
}

/// Draws what was made of layings, black, on the layings themselves, grey, at true scale.
pub fn layings_svg(title: &str, made: &Layer, layings: &[BezPath]) -> String {
    let outline = made.outline();
    let extent = layings.iter().map(Shape::bounding_box).fold(outline.bounding_box(), |a: Rect, b| a.union(b));
    let (x, y) = ((extent.x0 - MARGIN).floor(), (extent.y0 - MARGIN).floor());
    let square_y = (extent.y1 + 2.0 * MARGIN).ceil();
    let width = (extent.x1 + MARGIN - x).ceil().max(SQUARE + 2.0 * MARGIN);
    let height = square_y + SQUARE + MARGIN - y;
    let mut out = String::new();
    // Writing to a string does not fail.
    let _ = writeln!(
        out,
        r#"<?xml version="1.0" encoding="UTF-8"?>
<svg xmlns="http://www.w3.org/2000/svg" width="{width}mm" height="{height}mm" viewBox="{x} {y} {width} {height}">
<title>{}</title>
<desc>In millimetres: what was made of the layings in black, the layings themselves in grey, moved and turned onto each other. Check the print: the square at the bottom measures 100 mm.</desc>
<g fill="none" stroke-linejoin="round">"#,
        escape(title)
    );
    for (k, laying) in layings.iter().enumerate() {
        let _ = writeln!(out, "<path id=\"laying-{}\" stroke=\"#808080\" stroke-width=\"0.2\" d=\"{}\"/>", k + 1, path_text(laying));
    }
    let _ = writeln!(out, "<path id=\"made\" stroke=\"black\" stroke-width=\"0.35\" d=\"{}\"/>", path_text(&outline));
    let _ = writeln!(out, "<g stroke=\"black\" stroke-width=\"0.25\">{}</g>\n</g>", check_square(x + MARGIN, square_y));
    let _ = writeln!(out, "<g font-family=\"sans-serif\" font-size=\"{LETTERS}\" fill=\"black\">");
    let lines = lines_of(title)
        .chain(["black: what was made of the layings", "grey: the layings themselves", "this square: 100 mm"].map(str::to_owned));
    for (k, words) in lines.enumerate() {
        let (left, down) = (x + MARGIN + LETTERS, square_y + LETTERS * (2.0 + 1.5 * k as f64));
        let _ = writeln!(out, "<text x=\"{left}\" y=\"{down}\">{}</text>", escape(&words));
    }
    let _ = writeln!(out, "</g>\n</svg>");
    out
}

/// Words in lines that stay within the check square.
fn lines_of(text: &str) -> impl Iterator<Item = String> {
    let mut lines: Vec<String> = Vec::new();
    for word in text.split_whitespace() {
        match lines.last_mut() {
            Some(line) if line.chars().count() + word.chars().count() < LINE => *line = format!("{line} {word}"),
            _ => lines.push(word.chars().take(LINE).collect()),
        }
    }
    lines.into_iter()
}
