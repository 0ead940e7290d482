//! Patterns from `garment.json`: the drafted layer, with what the notes chose for cutting.

use super::draw::{self, EdgeChoice, allowance_of, said};
use super::letters::Letters;
use super::piece::{EdgeWords, LineKind, Pattern, PatternError, PatternMark, PatternNotch, PatternPiece};
use super::read::{Choices, hem_by_name, printable};
use super::tables::Tables;
use crate::length::Mm;
use crate::notes::{Cut, GatheredBy, Notch, NotchStyle, Notes, PieceNotes, Spot};
use crate::piece::{Corner, Edge, How, Inner, Layer, Line, Piece, Walk, alike, joins, notches};
use crate::write::FoundError;
use crate::write::garment::{GarmentRecord, LayerOf, PieceOf};
use crate::write::path_text::path_from_text;
use kurbo::{BezPath, Line as Straight, Point, Shape, Vec2};

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
        let own = notes.pieces.iter().find(|(name, _)| alike(name, &p.name)).map(|(_, n)| n);
        let made = Making { piece: p, notes: own, choices, side: side(record, p) }.piece(&mut pattern.left_out)?;
        pattern.pieces.push(made);
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
    piece: &'a PieceOf,
    notes: Option<&'a PieceNotes>,
    choices: &'a Choices,
    side: &'static str,
}

impl Making<'_> {
    fn piece(&self, left_out: &mut Vec<String>) -> Result<PatternPiece, PatternError> {
        let p = self.piece;
        let layer = layer(&p.name, &p.as_drafted.lines)?;
        let each: Vec<EdgeChoice> = (0..layer.edges.len()).map(|k| self.edge(&layer, k)).collect();
        let mut out = draw::piece(&p.name, &layer, &each)?;
        out.side = self.side;
        // As drafted, a recorded grain runs down the page.
        out.grain = (p.as_drafted.down == "grain").then_some(Vec2::new(0.0, 1.0));
        out.cloth = self.chosen("cloth").and_then(|v| v.as_str()).map(str::to_owned);
        out.cut = self.chosen("cut").and_then(|v| v.as_str()).and_then(|words| Cut::from_text(words).ok());
        if out.cut.as_ref().is_some_and(|c| c.on_fold) && !each.iter().any(|c| c.on_fold) {
            left_out.push(format!("{}: to be placed on the fold, but no edge of it is the fold: it is drawn whole.", p.name));
        }
        if let Some(notes) = self.notes {
            self.noted(&layer, notes, &mut out, left_out);
        }
        Ok(out)
    }

    /// What the record holds as chosen under a word.
    fn chosen(&self, what: &str) -> Option<&serde_json::Value> {
        self.piece.chosen.iter().find(|c| c.what == what).map(|c| &c.value)
    }

    fn edge(&self, layer: &Layer, k: usize) -> EdgeChoice {
        let (edge, told) = (&layer.edges[k], &self.piece.as_drafted.lines.edges[k]);
        let is = told.is.as_ref().and_then(|t| t.value.as_str());
        let table: Vec<(String, f64)> = self
            .piece
            .chosen
            .iter()
            .filter_map(|c| {
                let key = c.what.strip_prefix("allowance: ")?.strip_suffix(", mm")?;
                Some((key.to_owned(), c.value.as_f64()?))
            })
            .collect();
        let given = allowance_of(&self.choices.allowance, &edge.name, is).map(|a| (a, How::Chosen));
        let noted = || allowance_of(&table, &edge.name, is).map(|a| (a, How::Noted));
        let by_notes = self.notes.and_then(|n| n.fold.as_deref()).is_some_and(|fold| alike(fold, &edge.name));
        let cut_on_fold = self.chosen("cut").and_then(|v| v.as_str()).and_then(|w| Cut::from_text(w).ok()).is_some_and(|c| c.on_fold);
        let on_fold = cut_on_fold && (by_notes || is == Some("centre fold") || (edge.line == Line::Fold && is.is_none()));
        EdgeChoice {
            allowance: given.or_else(noted).filter(|_| edge.line != Line::Cut),
            on_fold,
            hem: is.map_or_else(|| hem_by_name(&edge.name), |is| is == "hem fold"),
            assumed: told.source.how == How::Assumed,
        }
    }

    /// Notches, marks and gathers of the notes.
    fn noted(&self, layer: &Layer, notes: &PieceNotes, out: &mut PatternPiece, left_out: &mut Vec<String>) {
        for n in &notes.notches {
            let all = self.notch(layer, n, out);
            if all.is_empty() {
                left_out.push(format!("{}: the notch in {} finds no place on it.", self.piece.name, n.edge));
            }
            out.notches.extend(all);
        }
        for m in &notes.marks {
            match spot(layer, &m.at, self.piece.as_drafted.mirrored) {
                Some(at) => out.marks.push(PatternMark { at, words: m.is.clone().unwrap_or_else(|| m.name.clone()) }),
                None => left_out.push(format!("{}: the place of {} is known in the picture only.", self.piece.name, m.name)),
            }
        }
        for g in &notes.gathers {
            let Some(edge) = layer.edge(&g.edge) else { continue };
            let sewn = g.sewn.map_or_else(|| layer.edges[edge].length(), |l| l.mm());
            let word = match g.by {
                GatheredBy::Gathers | GatheredBy::Smocking => "gather",
                GatheredBy::Elastic => "draw up by elastic",
                GatheredBy::Ease => "ease",
            };
            out.edge_words.push(EdgeWords { path: layer.edges[edge].path.clone(), words: format!("{word} to {}", said(sewn)) });
        }
    }

    /// A notch where the notes have it, drawn into the allowance, or into the piece where there is none.
    fn notch(&self, layer: &Layer, n: &Notch, piece: &PatternPiece) -> Vec<PatternNotch> {
        let Some(k) = layer.edge(&n.edge) else { return Vec::new() };
        let edge = &layer.edges[k];
        let (walk, mirrored) = (Walk::of(&edge.path), self.piece.as_drafted.mirrored);
        let at = along(layer, k, n.at.mm(), n.from.as_deref(), mirrored);
        let back = |kind: &str| kind.ends_with("back");
        let kind = self.piece.kind.as_ref().and_then(|t| t.value.as_str()).unwrap_or_default();
        // One for the front, two for the back (natalieinstitches.com, "The language of notches").
        let count = n.count.unwrap_or(if back(kind) { 2 } else { 1 });
        let style = n.style.unwrap_or(NotchStyle::Slit);
        let cut: BezPath = piece.lines.iter().filter(|l| l.kind == LineKind::Cut).flat_map(|l| l.path.elements().to_vec()).collect();
        let stitched = piece.lines.iter().any(|l| l.kind == LineKind::Stitch && l.name == edge.name);
        let drawn = if stitched { notches(&edge.path, &cut, at, count, style) } else { None };
        let bare = || {
            let into = walk.along(at).turn_90();
            vec![Straight::new(walk.at(at), walk.at(at) + into * BARE_NOTCH).to_path(0.1)]
        };
        drawn.unwrap_or_else(bare).into_iter().filter_map(notch_of).collect()
    }
}

/// What other programs want to know of a notch that is drawn.
fn notch_of(path: BezPath) -> Option<PatternNotch> {
    let points: Vec<Point> = path.elements().iter().filter_map(kurbo::PathEl::end_point).collect();
    let (at, tip, width) = match points.as_slice() {
        [rim, tip] => (*rim, *tip, 0.0),
        [a, tip, b] => (a.midpoint(*b), *tip, a.distance(*b)),
        _ => return None,
    };
    let depth = at.distance(tip);
    (depth > 1e-6).then(|| PatternNotch { at, into: (tip - at) / depth, depth, width, path })
}

/// How far along an edge a place lies, mm, from the edge's start. Of a mirrored piece, edges run the other way than they were noted.
fn along(layer: &Layer, k: usize, at: f64, from: Option<&str>, mirrored: bool) -> f64 {
    let long = Walk::of(&layer.edges[k].path).length();
    let end = layer.corners.get((k + 1) % layer.corners.len().max(1));
    let back = from.map_or(mirrored, |from| end.is_some_and(|e| alike(&e.name, from)));
    if back { long - at } else { at }
}

/// A place of the notes on the drafted piece, where that can be told without the picture.
fn spot(layer: &Layer, spot: &Spot, mirrored: bool) -> Option<Point> {
    match spot {
        Spot::Named(name) => layer.corner(name).map(|c| Point::new(layer.corners[c].at.x, layer.corners[c].at.y)),
        Spot::OnEdge(on) => {
            let k = layer.edge(&on.edge)?;
            Some(Walk::of(&layer.edges[k].path).at(along(layer, k, on.at.mm(), on.from.as_deref(), mirrored)))
        }
        Spot::Px(_) | Spot::Mm(_) => None,
    }
}

/// The lines of a layer of the record.
fn layer(piece: &str, told: &LayerOf) -> Result<Layer, FoundError> {
    let path = |what: &str, text: &str| {
        path_from_text(text).map_err(|source| FoundError::Path { piece: piece.to_owned(), what: what.to_owned(), source })
    };
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
