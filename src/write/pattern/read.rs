//! Patterns from records alone, so that one made years ago still prints.

use super::draw::{self, EdgeChoice, allowance_of};
use super::piece::{Pattern, PatternError, PatternPiece};
use super::tables::Tables;
use super::{fullness, notches};
use crate::notes::{Called, EdgeIs};
use crate::piece::{Edge, How, Line, alike};
use crate::write::page::{Font, Letters, composed};
use crate::write::{DraftedPiece, DraftedRecord, Record, as_found};

/// What is chosen for a pattern beside its records.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Choices {
    /// Allowances in mm by an edge's name, by what it is, or for `all`; they go before those of the record.
    pub allowance: Vec<(String, f64)>,
    /// The day on the labels.
    pub date: String,
    /// Tables to be printed too.
    pub tables: Option<Tables>,
    /// The font that pages are set in, unless it is the one that comes with the program.
    pub font: Option<Font>,
}

impl Choices {
    /// A name among the allowances that no edge of the pattern has, nor is it what an edge can be: a slip of the pen.
    pub fn unused(&self, pattern: &Pattern) -> Option<&str> {
        let lines = || pattern.pieces.iter().flat_map(|p| p.lines.iter().map(|l| Called::of(&l.name, None, p.kind)));
        let used = |key: &str| {
            let is = EdgeIs::ALL.into_iter().any(|is| alike(key, is.word()));
            is || alike(key, "all") || lines().any(|edge| edge.key(std::iter::once(key)).is_some())
        };
        self.allowance.iter().map(|(key, _)| key.as_str()).find(|key| !used(key))
    }
}

/// The pattern of an `outline.json`: its pieces as they lay, seen from above.
///
/// # Errors
/// No pieces, spoilt lines, an allowance that can't be drawn, names that can't be printed.
pub fn pattern_of_outline(record: &Record, choices: &Choices) -> Result<Pattern, PatternError> {
    let file = record.pictures.first().map_or("outline", |p| p.file.as_str());
    let stem = file.rsplit_once('.').map_or(file, |(stem, _)| stem);
    let piece = |p: &crate::write::PieceRecord| -> Result<PatternPiece, PatternError> {
        let layer = as_found(p)?;
        let choice = |k: usize| {
            let e = &layer.edges[k];
            let allowance = allowance_of(&choices.allowance, &Called::of(&e.name, None, None)).filter(|_| e.line != Line::Cut);
            EdgeChoice { allowance: allowance.map(|a| (a, How::Chosen)), hem: hem_by_name(&e.name), ..EdgeChoice::default() }
        };
        let each: Vec<EdgeChoice> = (0..layer.edges.len()).map(choice).collect();
        let mut out = draw::piece(&p.name, &layer, &each, None)?;
        out.side = "as laid, seen from above";
        Ok(out)
    };
    let pattern = Pattern {
        garment: stem.to_owned(),
        date: choices.date.clone(),
        tables: choices.tables.clone(),
        font: choices.font.clone(),
        pieces: record.pieces.iter().map(piece).collect::<Result<_, _>>()?,
        ..Pattern::default()
    };
    plain(pattern)
}

/// The pattern of a `drafted.json`: its pieces as they are drafted, called after `garment` where it keeps no notes that name it.
///
/// # Errors
/// As [`pattern_of_outline`].
pub fn pattern_of_drafted(record: &DraftedRecord, garment: &str, choices: &Choices) -> Result<Pattern, PatternError> {
    let piece = |p: &DraftedPiece| -> Result<PatternPiece, PatternError> {
        let layer = p.layer()?;
        let dart_ends = fullness::dart_ends(&layer, &p.sewn);
        let choice = |(k, e): (usize, &Edge)| EdgeChoice {
            allowance: allowance_of(&choices.allowance, &Called::of(&e.name, None, None))
                .filter(|_| e.line != Line::Cut)
                .map(|a| (a, How::Chosen)),
            hem: hem_by_name(&e.name),
            on_fold: e.line == Line::Fold,
            dart_end: dart_ends.contains(&k),
            ..EdgeChoice::default()
        };
        let mut out = draw::piece(&p.name, &layer, &layer.edges.iter().enumerate().map(choice).collect::<Vec<_>>(), None)?;
        out.side = "as drafted, side not recorded";
        out.notches = p.notches_at().iter().flat_map(|n| notches::drawn(&layer, n, &out)).collect();
        Ok(out)
    };
    let pieces = record.pieces.iter().map(piece).collect::<Result<_, _>>()?;
    let named = record.notes.get("garment").and_then(|g| g.get("name")?.as_str()).filter(|n| !n.trim().is_empty());
    let garment = named.unwrap_or(garment);
    let (date, font) = (choices.date.clone(), choices.font.clone());
    plain(Pattern { garment: garment.to_owned(), date, font, pieces, ..Pattern::default() })
}

/// Whether an edge is a hem by its name.
pub(super) fn hem_by_name(name: &str) -> bool {
    name.to_lowercase().split(|c: char| !c.is_alphanumeric()).any(|w| w == "hem")
}

/// All words as they are written on a pattern.
///
/// # Errors
/// There are no pieces.
pub(super) fn plain(mut pattern: Pattern) -> Result<Pattern, PatternError> {
    if pattern.pieces.is_empty() {
        return Err(PatternError::Empty);
    }
    each_text(&mut pattern, &mut |text| {
        *text = composed(text);
        Ok(())
    })?;
    Ok(pattern)
}

/// Whether all words can be set in letters. Other programs show text in fonts of their own: this is for paper alone.
///
/// # Errors
/// Letters the font has not, or that can't be set one by one.
pub(super) fn settable(pattern: &Pattern, letters: &Letters) -> Result<(), PatternError> {
    each_text(&mut pattern.clone(), &mut |text| Ok(letters.check(text)?))
}

fn each_text(pattern: &mut Pattern, each: &mut dyn FnMut(&mut String) -> Result<(), PatternError>) -> Result<(), PatternError> {
    each(&mut pattern.garment)?;
    each(&mut pattern.date)?;
    pattern.number.iter_mut().chain(&mut pattern.cautions).chain(&mut pattern.left_out).try_for_each(&mut *each)?;
    if let Some(t) = &mut pattern.tables {
        t.measures.iter_mut().chain(&mut t.seams).flatten().try_for_each(&mut *each)?;
    }
    for p in &mut pattern.pieces {
        each(&mut p.name)?;
        p.cloth.iter_mut().try_for_each(&mut *each)?;
        p.cut.iter_mut().try_for_each(|c| each(&mut c.words))?;
        p.lines.iter_mut().map(|l| &mut l.name).try_for_each(&mut *each)?;
        p.marks.iter_mut().map(|m| &mut m.words).try_for_each(&mut *each)?;
        p.edge_words.iter_mut().map(|w| &mut w.words).try_for_each(&mut *each)?;
    }
    Ok(())
}
