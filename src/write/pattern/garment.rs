//! Patterns from `garment.json`: the drafted layer, with what the notes chose for cutting.

use super::draw::{self, EdgeChoice, allowance_of};
use super::fullness;
use super::notches;
use super::piece::{Pattern, PatternError, PatternMark, PatternPiece};
use super::read::{Choices, hem_by_name, plain};
use super::tables::Tables;
use crate::notes::{Called, Cut, Notes, PieceKind};
use crate::piece::{Allowance, CutEdge, CutLine, Finish, How, Larger, Layer, Line, NotchAt, alike, joins};
use crate::write::FoundError;
use crate::write::garment::{ChosenOf, DraftOf, GarmentRecord, PieceOf};
use crate::write::joined::LARGER;
use crate::write::marked::MarkOf;
use crate::write::recalled::{layer, notch, path};
use kurbo::{Point, Vec2};

/// The pattern of a garment's record.
///
/// # Errors
/// As [`super::pattern_of_outline`].
pub fn pattern_of_garment(record: &GarmentRecord, choices: &Choices) -> Result<Pattern, PatternError> {
    let (notes, unread) = match record.noted() {
        Ok(notes) => (notes, None),
        Err(e) => (
            Notes::default(),
            Some(format!("The notes that the record keeps can't be read, so darts, pleats and gathers have no words: {e}")),
        ),
    };
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
        font: choices.font.clone(),
        cautions,
        left_out: unread.into_iter().collect(),
        ..Pattern::default()
    };
    for p in &record.pieces {
        if let Some(of) = laid_again(&p.name, record, &notes) {
            pattern.left_out.push(format!("{}: another picture of {of}, which is printed once.", p.name));
            continue;
        }
        let kind = p.kind.as_ref().and_then(|t| t.value.as_str()).unwrap_or_default();
        let one = Making { name: &p.name, draft: &p.as_drafted, chosen: &p.chosen, kind, choices };
        pattern.pieces.push(one.piece(&notes, side(record, p), &mut pattern.left_out)?);
    }
    for d in &record.derived {
        let one = Making { name: &d.name, draft: &d.as_drafted, chosen: &d.chosen, kind: "", choices };
        pattern.pieces.push(one.piece(&notes, "right side up", &mut pattern.left_out)?);
    }
    plain(pattern)
}

/// The piece that one is another picture of, by its number behind that one's name, which is none that a person gave.
fn laid_again<'a>(name: &'a str, record: &GarmentRecord, notes: &Notes) -> Option<&'a str> {
    let shots = notes.shots.iter().filter_map(|s| s.piece.as_deref());
    if notes.pieces.keys().map(String::as_str).chain(shots).any(|own| alike(own, name)) {
        return None;
    }
    let (of, count) = name.strip_suffix(')')?.rsplit_once(" (")?;
    let counted = count.parse::<u32>().is_ok() && record.pieces.iter().any(|p| alike(&p.name, of));
    counted.then_some(of)
}

/// A garment's measures, and its joins walked on the drafted pieces.
///
/// # Errors
/// Spoilt lines.
pub fn tables_of_garment(record: &GarmentRecord) -> Result<Tables, PatternError> {
    Ok(Tables::of(record, &joins(&record.noted().unwrap_or_default(), &record.recalled()?)))
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
        let mut out = match draw::piece(self.name, &layer, &each, recorded) {
            // What the notes chose could not be drawn when the record was made either, and it says so.
            Err(e @ PatternError::Allowance { .. }) if self.choices.allowance.is_empty() => {
                left_out.push(format!("{e}. It is drawn without any allowance."));
                let bare: Vec<EdgeChoice> = each.iter().map(|c| EdgeChoice { allowance: None, ..c.clone() }).collect();
                draw::piece(self.name, &layer, &bare, None)?
            }
            made => made?,
        };
        (out.side, out.kind) = (side, PieceKind::from_word(self.kind));
        out.band = noted_band(notes, self.name, &layer, self.larger());
        // As drafted, a recorded grain runs down the page.
        out.grain = (self.draft.down == "grain").then_some(Vec2::new(0.0, 1.0));
        out.cloth = self.value("cloth").and_then(|v| v.as_str()).map(str::to_owned);
        out.cut = self.cut();
        out.larger = self.larger().map(|l| l.words());
        if out.cut.as_ref().is_some_and(|c| c.on_fold) && !each.iter().any(|c| c.on_fold) {
            left_out.push(format!("{}: to be placed on the fold, but no edge of it is the fold: it is drawn whole.", self.name));
        }
        self.marked(&layer, &mut out, left_out)?;
        let noted = notes.pieces.iter().find(|(name, _)| alike(name, self.name)).map(|(_, n)| n);
        left_out.extend(fullness::added(&mut out, self.draft, (&layer, self.larger()), noted)?);
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

    /// By how much it is drawn larger for shrinkage.
    fn larger(&self) -> Option<Larger> {
        let [long, cross] = LARGER.map(|what| self.chosen.iter().find(|c| c.what == what));
        let by = |c: &ChosenOf| c.value.as_f64();
        Some(Larger { lengthwise: by(long?)?, crosswise: by(cross?)?, how: long?.source.how })
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
        let called = Called::of(&edge.name, is, PieceKind::from_word(self.kind));
        let given = allowance_of(&self.choices.allowance, &called).map(|a| (a, How::Chosen));
        let noted = || recorded.map(|c| (c.width_mm, c.how)).or_else(|| self.table(&called).map(|a| (a, How::Noted)));
        let fold = is == Some("centre fold") || (edge.line == Line::Fold && is.is_none());
        let on_fold = self.draft.marked.on_fold.iter().any(|n| alike(n, &edge.name));
        let by_name = || is.map_or_else(|| hem_by_name(&edge.name), |is| is == "hem fold");
        EdgeChoice {
            allowance: given.or_else(noted).filter(|_| edge.line != Line::Cut),
            on_fold: on_fold || (fold && self.cut().is_some_and(|c| c.on_fold)),
            hem: by_name() || recorded.is_some_and(|c| c.corners == "mirrored"),
            assumed: told.source.how == How::Assumed,
            dart_end: fullness::dart_ends(layer, &self.draft.sewn).contains(&k),
        }
    }

    /// The allowance that the notes chose for an edge.
    fn table(&self, edge: &Called) -> Option<f64> {
        let each = self.chosen.iter().filter_map(|c| {
            let key = c.what.strip_prefix("allowance: ")?.strip_suffix(", mm")?;
            Some((key.to_owned(), c.value.as_f64()?))
        });
        allowance_of(&each.collect::<Vec<_>>(), edge)
    }

    /// Notches and placement marks of the drafted piece.
    fn marked(&self, layer: &Layer, out: &mut PatternPiece, left_out: &mut Vec<String>) -> Result<(), FoundError> {
        for n in &self.draft.marked.notches {
            // One for the front, two for the back (natalieinstitches.com, "The language of notches").
            let count = if n.count > 0 { n.count } else { 1 + u32::from(self.kind.ends_with("back")) };
            let all = notches::drawn(layer, &NotchAt { count, ..notch(n) }, out);
            if all.is_empty() {
                left_out.push(format!("{}: the notch in {} finds no place on it.", self.name, n.edge));
            }
            out.notches.extend(all);
        }
        out.marks.extend(self.draft.marked.marks.iter().map(mark));
        Ok(())
    }
}

/// Of a band or rib: how long it is cut, relaxed, as it is sized, along its longest edge; and how far its cloth stretches.
fn noted_band(notes: &Notes, name: &str, layer: &Layer, larger: Option<Larger>) -> Option<String> {
    let own = notes.pieces.iter().find(|(n, _)| alike(n, name)).map(|(_, n)| n)?;
    let relaxed = own.relaxed?;
    let all = [("lengthwise", own.stretch.lengthwise), ("crosswise", own.stretch.crosswise), ("on the bias", own.stretch.bias)];
    let all: Vec<String> = all.into_iter().filter_map(|(way, share)| Some(format!("{} {way}", share?))).collect();
    let stretches = if all.is_empty() { ", stretch not noted".into() } else { format!(", stretches {}", all.join(", ")) };
    let longest = layer.edges.iter().max_by(|a, b| a.length().total_cmp(&b.length()))?;
    Some(format!("band: {} long relaxed{stretches}", draw::said(Larger::drawn(larger, relaxed, &longest.path))))
}

/// A mark with its name and what belongs there; a hole that is drilled for a dart with what it is, for the dart has its name beside it.
fn mark(m: &MarkOf) -> PatternMark {
    let words = match &m.is {
        Some(is) if m.how == How::Chosen || alike(is, &m.name) => is.clone(),
        Some(is) => format!("{}: {is}", m.name),
        None => m.name.clone(),
    };
    PatternMark { at: Point::new(m.at[0], m.at[1]), words }
}
