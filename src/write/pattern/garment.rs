//! Patterns from `garment.json`: the drafted layer, with what the notes chose for cutting.

use super::draw::{self, EdgeChoice, allowance_of, said};
use super::piece::{EdgeWords, LineKind, Pattern, PatternError, PatternLine, PatternMark, PatternNotch, PatternPiece};
use super::read::{Choices, hem_by_name, printable};
use super::tables::Tables;
use crate::length::Mm;
use crate::notes::{Cut, Gather, GatheredBy, NotchStyle, Notes};
use crate::piece::{Allowance, Corner, CutEdge, CutLine, Edge, Finish, How, Inner, Layer, Line, Piece, Walk, alike, joins, notches};
use crate::write::FoundError;
use crate::write::garment::{ChosenOf, DraftOf, GarmentRecord, LayerOf, MarkOf, NotchOf, PieceOf};
use crate::write::page::Letters;
use crate::write::path_text::path_from_text;
use kurbo::{BezPath, Line as Straight, PathEl, Point, Shape, Vec2};

/// How deep a notch is drawn where no allowance holds it, mm. Common practice, no source.
const BARE_NOTCH: f64 = 4.0;

/// The pattern of a garment's record.
///
/// # Errors
/// As [`super::pattern_of_outline`].
pub fn pattern_of_garment(record: &GarmentRecord, choices: &Choices) -> Result<Pattern, PatternError> {
    let letters = Letters::new();
    let notes = notes(record);
    let text = |key: &str| record.garment.get(key).and_then(|t| t.get("value")).and_then(|v| v.as_str()).map(str::to_owned);
    let flag = |key: &str| record.garment.get(key).and_then(|t| t.get("value")).and_then(serde_json::Value::as_bool) == Some(true);
    let mut cautions = Vec::new();
    if flag("fragile") {
        cautions.push("Fragile original: lay nothing on it, pin nothing to it; fit the copy, never the original.".to_owned());
    }
    if flag("child") {
        cautions.push(
            "Child's garment: no cords at hood and neck, short ones at waist and hem, sleepwear by its own rules; local rules come first."
                .to_owned(),
        );
    }
    let mut pattern = Pattern {
        garment: text("name").unwrap_or_else(|| record.id.clone()),
        number: text("accession").or_else(|| text("number")),
        date: choices.date.clone(),
        tables: choices.tables.clone(),
        cautions,
        ..Pattern::default()
    };
    for p in &record.pieces {
        let kind = p.kind.as_ref().and_then(|t| t.value.as_str()).unwrap_or_default();
        let one = Making { name: &p.name, draft: &p.as_drafted, chosen: &p.chosen, kind, choices };
        pattern.pieces.push(one.piece(&notes, side(record, p), &mut pattern.left_out)?);
    }
    for d in &record.derived {
        let one = Making { name: &d.name, draft: &d.as_drafted, chosen: &d.chosen, kind: "", choices };
        pattern.pieces.push(one.piece(&notes, "right side up", &mut pattern.left_out)?);
    }
    printable(pattern, &letters)
}

/// A garment's measures, and its joins walked on the drafted pieces.
///
/// # Errors
/// Spoilt lines.
pub fn tables_of_garment(record: &GarmentRecord) -> Result<Tables, PatternError> {
    let each = record.pieces.iter().map(|p| Ok(Piece::new(p.name.clone(), layer(&p.name, &p.as_drafted.lines)?)));
    let pieces: Vec<Piece> = each.collect::<Result<_, FoundError>>()?;
    Ok(Tables::of(record, &joins(&notes(record), &pieces)))
}

/// What the notes say, which is kept as it was written; a record changed by hand may hold notes that can't be read any more.
fn notes(record: &GarmentRecord) -> Notes {
    toml::to_string(&record.notes.as_written).ok().and_then(|text| Notes::from_text(&text).ok()).unwrap_or_default()
}

/// Which side of the cloth is up in the drafted layer.
fn side(record: &GarmentRecord, p: &PieceOf) -> &'static str {
    match record.pictures.get(p.picture).and_then(|s| s.side.as_deref()) {
        Some(_) => "right side up",
        None => "as laid, side not recorded",
    }
}

/// One piece being made.
struct Making<'a> {
    name: &'a str,
    draft: &'a DraftOf,
    chosen: &'a [ChosenOf],
    kind: &'a str,
    choices: &'a Choices,
}

impl Making<'_> {
    fn piece(&self, notes: &Notes, side: &'static str, left_out: &mut Vec<String>) -> Result<PatternPiece, PatternError> {
        let layer = layer(self.name, &self.draft.lines)?;
        let each: Vec<EdgeChoice> = (0..layer.edges.len()).map(|k| self.edge(&layer, k)).collect();
        // The record's own cut line stands unless something else is chosen for this print.
        let recorded = if self.choices.allowance.is_empty() { self.cut_line()? } else { None };
        let mut out = draw::piece(self.name, &layer, &each, recorded)?;
        out.side = side;
        // As drafted, a recorded grain runs down the page.
        out.grain = (self.draft.down == "grain").then_some(Vec2::new(0.0, 1.0));
        out.cloth = self.value("cloth").and_then(|v| v.as_str()).map(str::to_owned);
        out.cut = self.cut();
        if out.cut.as_ref().is_some_and(|c| c.on_fold) && !each.iter().any(|c| c.on_fold) {
            left_out.push(format!("{}: to be placed on the fold, but no edge of it is the fold: it is drawn whole.", self.name));
        }
        self.marked(&layer, &mut out, left_out)?;
        let noted = notes.pieces.iter().find(|(name, _)| alike(name, self.name)).map(|(_, n)| n);
        out.edge_words.extend(noted.iter().flat_map(|n| n.gathers.iter().filter_map(|g| gathered(&layer, g))));
        left_out.extend(self.draft.undone.iter().map(|what| format!("{}: {what}", self.name)));
        Ok(out)
    }

    /// What the record holds as chosen under a word.
    fn value(&self, what: &str) -> Option<&serde_json::Value> {
        self.chosen.iter().find(|c| c.what == what).map(|c| &c.value)
    }

    fn cut(&self) -> Option<Cut> {
        self.value("cut").and_then(|v| v.as_str()).and_then(|words| Cut::from_text(words).ok())
    }

    /// The cut line as the record has it.
    fn cut_line(&self) -> Result<Option<CutLine>, FoundError> {
        let Some(told) = &self.draft.marked.cut_line else { return Ok(None) };
        let edges = told.edges.iter().map(|e| {
            let allowance = Allowance { width: e.width_mm, finish: Finish::Mitred, how: e.how };
            Ok(CutEdge { name: e.name.clone(), path: path(self.name, &e.name, &e.path)?, allowance })
        });
        let edges = edges.collect::<Result<_, FoundError>>()?;
        Ok(Some(CutLine { path: path(self.name, "the cut line", &told.outline)?, edges }))
    }

    fn edge(&self, layer: &Layer, k: usize) -> EdgeChoice {
        let (edge, told) = (&layer.edges[k], &self.draft.lines.edges[k]);
        let is = told.is.as_ref().and_then(|t| t.value.as_str());
        let recorded = self.draft.marked.cut_line.as_ref().and_then(|c| c.edges.get(k));
        let given = allowance_of(&self.choices.allowance, &edge.name, is).map(|a| (a, How::Chosen));
        let noted = || recorded.map(|c| (c.width_mm, c.how)).or_else(|| self.table(&edge.name, is).map(|a| (a, How::Noted)));
        let fold = is == Some("centre fold") || (edge.line == Line::Fold && is.is_none());
        let on_fold = self.draft.marked.on_fold.iter().any(|n| alike(n, &edge.name));
        let by_name = || is.map_or_else(|| hem_by_name(&edge.name), |is| is == "hem fold");
        EdgeChoice {
            allowance: given.or_else(noted).filter(|_| edge.line != Line::Cut),
            on_fold: on_fold || (fold && self.cut().is_some_and(|c| c.on_fold)),
            hem: by_name() || recorded.is_some_and(|c| c.corners == "mirrored"),
            assumed: told.source.how == How::Assumed,
        }
    }

    /// The allowance that the notes chose for an edge.
    fn table(&self, name: &str, is: Option<&str>) -> Option<f64> {
        let each = self.chosen.iter().filter_map(|c| {
            let key = c.what.strip_prefix("allowance: ")?.strip_suffix(", mm")?;
            Some((key.to_owned(), c.value.as_f64()?))
        });
        allowance_of(&each.collect::<Vec<_>>(), name, is)
    }

    /// Notches, darts, pleats and placement marks of the drafted piece.
    fn marked(&self, layer: &Layer, out: &mut PatternPiece, left_out: &mut Vec<String>) -> Result<(), FoundError> {
        for n in &self.draft.marked.notches {
            let all = self.notch(layer, n, out);
            if all.is_empty() {
                left_out.push(format!("{}: the notch in {} finds no place on it.", self.name, n.edge));
            }
            out.notches.extend(all);
        }
        for dart in &self.draft.marked.darts {
            for leg in &dart.legs {
                let path = path(self.name, &dart.name, leg)?;
                out.edge_words.push(EdgeWords { path: path.clone(), words: dart.name.clone() });
                out.lines.push(PatternLine { kind: LineKind::Inner, assumed: false, name: dart.name.clone(), path });
            }
        }
        for fullness in &self.draft.marked.fullness {
            let paths = fullness.lines.iter().map(|l| path(self.name, &fullness.name, l)).collect::<Result<Vec<_>, _>>()?;
            // Each part of what is said along a line of its own: a pleat's are short.
            let upright: Vec<&BezPath> = paths.iter().filter(|p| p.segments().count() == 1).collect();
            let words = std::iter::once(fullness.name.as_str()).chain(fullness.words.split(", "));
            let told = words.zip(upright.iter().cycle()).map(|(words, path)| EdgeWords { path: (*path).clone(), words: words.to_owned() });
            out.edge_words.extend(told);
            let line = |path| PatternLine { kind: LineKind::Inner, assumed: false, name: fullness.name.clone(), path };
            out.lines.extend(paths.into_iter().map(line));
        }
        let mark = |m: &MarkOf| PatternMark { at: Point::new(m.at[0], m.at[1]), words: m.is.clone().unwrap_or_else(|| m.name.clone()) };
        out.marks.extend(self.draft.marked.marks.iter().map(mark));
        Ok(())
    }

    /// A notch where the record has it, drawn into the allowance, or into the piece where there is none.
    fn notch(&self, layer: &Layer, n: &NotchOf, piece: &PatternPiece) -> Vec<PatternNotch> {
        let Some(k) = layer.edge(&n.edge) else { return Vec::new() };
        let edge = &layer.edges[k];
        let walk = Walk::of(&edge.path);
        // One for the front, two for the back (natalieinstitches.com, "The language of notches").
        let count = if n.count > 0 { n.count } else { 1 + u32::from(self.kind.ends_with("back")) };
        let style = if n.style == "V" { NotchStyle::V } else { NotchStyle::Slit };
        let stitched = piece.lines.iter().any(|l| l.kind == LineKind::Stitch && l.name == edge.name);
        let drawn = if stitched { notches(&edge.path, &piece.outer, n.at_mm, count, style) } else { None };
        let bare = || {
            let into = walk.along(n.at_mm).turn_90();
            vec![Straight::new(walk.at(n.at_mm), walk.at(n.at_mm) + into * BARE_NOTCH).to_path(0.1)]
        };
        drawn.unwrap_or_else(bare).into_iter().filter_map(notch_of).collect()
    }
}

/// What is written along an edge that is drawn together.
fn gathered(layer: &Layer, g: &Gather) -> Option<EdgeWords> {
    let edge = layer.edge(&g.edge)?;
    let sewn = g.sewn.map_or_else(|| layer.edges[edge].length(), |l| l.mm());
    let word = match g.by {
        GatheredBy::Gathers | GatheredBy::Smocking => "gather",
        GatheredBy::Elastic => "draw up by elastic",
        GatheredBy::Ease => "ease",
    };
    let elastic = g.relaxed.map_or(String::new(), |l| format!(", elastic {} long", said(l.mm())));
    Some(EdgeWords { path: layer.edges[edge].path.clone(), words: format!("{word} to {}{elastic}", said(sewn)) })
}

/// What other programs want to know of a notch that is drawn.
fn notch_of(path: BezPath) -> Option<PatternNotch> {
    let points: Vec<Point> = path.elements().iter().filter_map(PathEl::end_point).collect();
    let (at, tip, width) = match points.as_slice() {
        [rim, tip] => (*rim, *tip, 0.0),
        [a, tip, b] => (a.midpoint(*b), *tip, a.distance(*b)),
        _ => return None,
    };
    let depth = at.distance(tip);
    (depth > 1e-6).then(|| PatternNotch { at, into: (tip - at) / depth, depth, width, path })
}

/// The lines of a layer of the record.
fn layer(piece: &str, told: &LayerOf) -> Result<Layer, FoundError> {
    let path = |what: &str, text: &str| path(piece, what, text);
    let edges = told.edges.iter().map(|e| {
        let line = match e.line.as_str() {
            "seam" => Line::Seam,
            "fold" => Line::Fold,
            "cut" => Line::Cut,
            _ => Line::Rim,
        };
        Ok(Edge { name: e.name.clone(), path: path(&e.name, &e.path)?, line, how: e.source.how, bound: e.bound_mm })
    });
    let inner = told.inner.iter().map(|i| Ok(Inner { name: i.name.clone(), path: path(&i.name, &i.path)?, bound: i.bound_mm }));
    let layer = Layer {
        corners: told.corners.iter().map(|c| Corner { name: c.name.clone(), at: Mm::from(c.at), error: c.error_mm }).collect(),
        edges: edges.collect::<Result<_, FoundError>>()?,
        inner: inner.collect::<Result<_, FoundError>>()?,
        holes: told.holes.iter().map(|h| path("a hole", h)).collect::<Result<_, _>>()?,
    };
    layer.check().map_err(|source| FoundError::Layer { piece: piece.to_owned(), source })?;
    Ok(layer)
}

fn path(piece: &str, what: &str, text: &str) -> Result<BezPath, FoundError> {
    path_from_text(text).map_err(|source| FoundError::Path { piece: piece.to_owned(), what: what.to_owned(), source })
}
