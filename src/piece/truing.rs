//! A whole garment before it is cut: every join walked, and what a cutter checks by eye. It warns and never alters.
//!
//! Tolerances and ease come from the notes. Where those say nothing the trade's figures stand in, marked assumed:
//! seams true to 1/16 in (Threads 200, "10 patternwork skills"); a sleeve's cap longer than its armhole by 25 to 38 mm in
//! woven cloth (madalynne.com, "Sleeve cap ease"), by none in a well-drafted one or a knit (designloft.blogspot.com), so it is
//! told, and doubted only below nothing or above 50 mm; lines across a shoulder or side seam smooth (fabrics-store.com,
//! truing part 1), which is taken here as within 5° (common practice, no source).

use super::draft::Piece;
use super::halves::swapped;
use super::layer::{Layer, Line, alike};
use super::propose::kind_by_name;
use super::row::{Part, Row};
use super::sewn::{Across, Section, Walked, direction, walked};
use super::shrinking::{drawn_longer, shrinkage};
use super::{How, Known};
use crate::notes::{EdgeName, Join, JoinSide, Notes, PieceKind, PieceNotes, cut_of};
use std::borrow::Borrow;
use std::collections::BTreeMap;

/// Seams are true within this, mm: 1/16 in.
const TRUE: f64 = 1.5875;
/// A cap longer than its armhole by more than this is doubted, mm.
const MOST_EASE: f64 = 50.0;
/// Between underarm and notch a cap takes up no more than this, mm (1/4 in).
const EASE_BELOW: f64 = 6.35;
/// Lines run on smoothly within this, degrees.
const SMOOTH: f64 = 5.0;
/// Beyond it a point or dent is taken to be meant, degrees, except at shoulders and sides.
const MEANT: f64 = 30.0;
/// Edges that turn by more than this, degrees, turn back on each other and are no line across the seam: a cap and its underarm.
const TURNED_BACK: f64 = 90.0;

/// What a join's lengths come to.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Verdict {
    /// As they should be.
    True,
    /// Not: by more than the tolerance.
    Off,
    /// More ease than told or usual, or less than none, in a cap.
    Ease,
    /// A band would have to be stretched further than its cloth is.
    Stretch,
    /// A band is longer than its edge, and nothing says that it is drawn up.
    Loose,
}

/// One join, walked.
#[derive(Clone, Debug, PartialEq)]
pub struct Joined {
    /// Both sides as the notes write them.
    pub sides: [String; 2],
    /// Lengths, sections, notches and the lines across.
    pub walked: Walked,
    /// How much longer the first should be, mm.
    pub ease: Known<f64>,
    /// How far that may be off, mm.
    pub tolerance: Known<f64>,
    /// Whether a sleeve's cap is sewn into an armhole here; the first side is the cap when it is.
    pub cap: bool,
    /// Relaxed length of a band or rib, mm.
    pub relaxed: Option<f64>,
    /// The same as a share of the edge it is sewn to.
    pub band: Option<f64>,
    /// How far its cloth stretches at most, as a share, where the notes say so of it.
    pub stretches: Option<f64>,
    /// From how much to how much longer the first may be than the second, tolerance apart, mm: as noted, else of a cap what is usual, of a band from where
    /// its cloth is stretched to its utmost to its edge's own length; nothing where nobody said.
    pub may_be_longer: [Option<f64>; 2],
    /// What it comes to.
    pub verdict: Verdict,
    /// Sections between notches that are off by more than the tolerance, counted from 1, with by how much, mm.
    pub sections_off: Vec<(usize, f64)>,
    /// Lines that make a point or a dent across the seam.
    pub rough: Vec<Across>,
}

/// A join that could not be walked, and why.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
#[error("{join}: {why}")]
pub struct NotWalked {
    /// Both sides.
    pub join: String,
    /// What is missing, and what is there.
    pub why: String,
}

impl Joined {
    /// First side less second, mm.
    pub fn difference(&self) -> f64 {
        self.walked.lengths[0] - self.walked.lengths[1]
    }

    /// How far the difference is off what it should be, mm.
    pub fn off(&self) -> f64 {
        self.difference() - self.ease.value
    }

    /// Whether nothing about it needs a second look.
    pub fn good(&self) -> bool {
        self.verdict == Verdict::True
            && self.sections_off.is_empty()
            && self.rough.is_empty()
            && self.walked.notches[0] == self.walked.notches[1]
    }

    /// By what share a band is stretched to the length of its edge; nothing where it is no shorter.
    pub fn stretched(&self) -> Option<f64> {
        self.band.and_then(more)
    }

    /// How much longer a band is, relaxed, than its edge, mm; less than nothing where it is shorter.
    pub fn band_over(&self) -> Option<f64> {
        self.relaxed.zip(self.band).map(|(relaxed, share)| relaxed - relaxed / share)
    }
}

/// By what share something is stretched that is so much shorter; nothing where it is no shorter.
fn more(share: f64) -> Option<f64> {
    Some(1.0 / share - 1.0).filter(|more| *more > 0.0)
}

/// Walks every join of the notes.
pub fn joins<P: Borrow<Piece>>(notes: &Notes, pieces: &[P]) -> Vec<Result<Joined, NotWalked>> {
    let pieces: Vec<&Piece> = pieces.iter().map(Borrow::borrow).collect();
    notes.joins.iter().map(|join| joined(notes, &pieces, join)).collect()
}

fn joined(notes: &Notes, pieces: &[&Piece], join: &Join) -> Result<Joined, NotWalked> {
    let [a, b] = &join.edges;
    let missing = |why: String| NotWalked { join: format!("{a} to {b}"), why: format!("{why}{}", join.line) };
    let rows = rows(notes, pieces, join).map_err(missing)?;
    let caps = join.edges.each_ref().map(|s| is_cap(notes, s));
    let swap = caps[1] && !caps[0];
    let cap = caps[0] != caps[1];
    let (rows, sides, sign) = if swap {
        let [x, y] = rows;
        ([y, x], [b.to_string(), a.to_string()], -1.0)
    } else {
        (rows, [a.to_string(), b.to_string()], 1.0)
    };
    let walked = walked(&rows[0], &rows[1], join.meet.as_ref()).map_err(|e| missing(e.to_string()))?;
    let longest = walked.lengths[0].max(walked.lengths[1]);
    if let Some(ease) = join.ease.filter(|ease| ease.mm().abs() >= longest) {
        return Err(missing(format!("an ease of {ease} is more than either edge is long, {longest:.1} mm")));
    }
    let ease = join.ease.map_or(Known::new(0.0, How::Assumed), |l| Known::new(sign * l.mm(), How::Noted));
    let tolerance = join.tolerance.map_or(Known::new(TRUE, How::Assumed), |l| Known::new(l.mm(), How::Noted));
    let difference = walked.lengths[0] - walked.lengths[1];
    let bands = join.edges.each_ref().map(|s| relaxed(notes, pieces, s));
    let [first, second] = if swap { [bands[1], bands[0]] } else { bands };
    let band = first.map(|l| l / walked.lengths[1]).or(second.map(|l| l / walked.lengths[0]));
    let stretches = join.edges.iter().filter_map(|s| stretches(notes, s)).reduce(f64::max);
    let off = (difference - ease.value).abs() > tolerance.value;
    let too_far = band.and_then(more).zip(stretches).is_some_and(|(needed, there)| needed > there);
    // A band is never longer than its edge but by its ease, unless it is drawn up itself.
    let most = if first.is_some() { ease.value } else { -ease.value }.max(0.0) + tolerance.value;
    let drawn_up = join.edges.iter().any(|s| relaxed(notes, pieces, s).is_some() && drawn_up(notes, s));
    let over = first.map(|l| l - walked.lengths[1]).or(second.map(|l| l - walked.lengths[0]));
    let loose = !drawn_up && over.is_some_and(|over| over > most);
    let shortest = |edge: f64| stretches.map(|s| edge - edge / (1.0 + s));
    let may_be_longer = match (ease.how, first.is_some(), second.is_some()) {
        (How::Assumed, ..) if cap => [Some(0.0), Some(MOST_EASE)],
        (How::Assumed, true, _) => [shortest(walked.lengths[1]).map(|s| -s), Some(0.0).filter(|_| !drawn_up)],
        (How::Assumed, _, true) => [Some(0.0).filter(|_| !drawn_up), shortest(walked.lengths[0])],
        _ => [Some(ease.value); 2],
    };
    let verdict = match (cap && ease.how == How::Assumed, off) {
        _ if too_far => Verdict::Stretch,
        _ if loose => Verdict::Loose,
        (true, _) if !(-tolerance.value..=MOST_EASE).contains(&difference) => Verdict::Ease,
        // A rib or band is stretched on: how much, its ratio tells.
        _ if band.is_some() && ease.how == How::Assumed => Verdict::True,
        (true, _) | (false, false) => Verdict::True,
        (false, true) => Verdict::Off,
    };
    let sections_off = match (ease.how, cap, band) {
        (How::Assumed, true, _) => cap_sections_off(&walked, tolerance.value),
        // A band is stretched or drawn up evenly.
        (How::Assumed, _, Some(_)) => sections_off(&walked, difference, tolerance.value),
        _ => sections_off(&walked, ease.value, tolerance.value),
    };
    // What is sewn on along an edge ends there: its end is no line that runs on from what it is sewn to.
    let [one, other] = join.edges.each_ref().map(|s| is_sewn_on(notes, s));
    let rough = walked.across.iter().filter(|x| one == other && rough(x, &sides)).cloned().collect();
    let relaxed = first.or(second);
    Ok(Joined { sides, walked, ease, tolerance, cap, relaxed, band, stretches, may_be_longer, verdict, sections_off, rough })
}

/// Length of a band or rib taken off and relaxed, where one edge of such a piece is a side of the join: as long as it is drawn, which makes up for what its cloth
/// will shrink.
fn relaxed(notes: &Notes, pieces: &[&Piece], side: &JoinSide) -> Option<f64> {
    let [only] = side.0.as_slice() else { return None };
    let own = piece_notes(&notes.pieces, &only.piece)?;
    let piece = pieces.iter().find(|p| alike(&p.name, &only.piece));
    let longer = piece.map_or(1.0, |p| drawn_longer(p, &only.edge, shrinkage(Some(own), &notes.garment)));
    own.relaxed.map(|l| l.mm() * longer)
}

/// Whether the edge of a band is itself gathered, eased or drawn up by elastic, as its notes have it.
fn drawn_up(notes: &Notes, side: &JoinSide) -> bool {
    side.0.iter().any(|e| piece_notes(&notes.pieces, &e.piece).is_some_and(|p| p.gathers.iter().any(|g| alike(&g.edge, &e.edge))))
}

/// How far the cloth of a band or rib stretches at most, as its own notes have it.
fn stretches(notes: &Notes, side: &JoinSide) -> Option<f64> {
    let [only] = side.0.as_slice() else { return None };
    let band = piece_notes(&notes.pieces, &only.piece).filter(|p| p.relaxed.is_some())?;
    [band.stretch.lengthwise, band.stretch.crosswise, band.stretch.bias].into_iter().flatten().map(|p| p.share()).reduce(f64::max)
}

/// Sections that are off by more than the tolerance, the ease spread evenly over all; only where there are notches.
fn sections_off(walked: &Walked, ease: f64, tolerance: f64) -> Vec<(usize, f64)> {
    let whole = walked.lengths[1].max(1e-9);
    sections(walked, |_, s| s.lengths[0] - s.lengths[1] - ease * s.lengths[1] / whole, |_, d| d.abs() > tolerance)
}

/// Sections of a cap that can't be set in: shorter than the armhole's, or, from the underarm to the first notch, longer by more than can be
/// eased there. Ease belongs above the notches (common practice, no source).
fn cap_sections_off(walked: &Walked, tolerance: f64) -> Vec<(usize, f64)> {
    let last = walked.sections.len().saturating_sub(1);
    sections(walked, |_, s| s.lengths[0] - s.lengths[1], |k, d| d < -tolerance || ((k == 0 || k == last) && d > EASE_BELOW))
}

fn sections(walked: &Walked, off: impl Fn(usize, &Section) -> f64, wrong: impl Fn(usize, f64) -> bool) -> Vec<(usize, f64)> {
    if walked.sections.len() < 2 {
        return Vec::new();
    }
    let all = walked.sections.iter().enumerate().map(|(k, s)| (k, off(k, s)));
    all.filter(|&(k, d)| wrong(k, d)).map(|(k, d)| (k + 1, d)).collect()
}

fn rough(across: &Across, sides: &[String; 2]) -> bool {
    let smooth_by_trade = sides.iter().all(|s| ["shoulder", "side", "inseam", "inside leg"].iter().any(|w| s.to_lowercase().contains(w)));
    // Only what is beyond what the directions are known to.
    let bend = across.bend_deg.abs();
    bend > SMOOTH + across.known_to_deg && bend < if smooth_by_trade { TURNED_BACK } else { MEANT }
}

/// Whether a side is of a band, cuff, collar or pocket, which is sewn on along an edge.
fn is_sewn_on(notes: &Notes, side: &JoinSide) -> bool {
    side.0.iter().any(|e| {
        let own = piece_notes(&notes.pieces, &e.piece);
        let kind = own.and_then(|p| p.kind).or_else(|| kind_by_name(&e.piece));
        let strip = matches!(kind, Some(PieceKind::Waistband | PieceKind::Cuff | PieceKind::Collar | PieceKind::Pocket));
        strip || own.is_some_and(|p| p.relaxed.is_some())
    })
}

pub(super) fn is_cap(notes: &Notes, side: &JoinSide) -> bool {
    side.0.iter().any(|e| {
        let kind = notes.pieces.get(&e.piece).and_then(|p| p.kind);
        (kind == Some(PieceKind::Sleeve) || e.piece.to_lowercase().contains("sleeve")) && e.edge.to_lowercase().contains("cap")
    })
}

/// Both sides of a join, in the order of the notes. Of a row that can be put together either way the one is taken whose ends answer those of the
/// other side.
pub(super) fn rows<'a>(notes: &Notes, pieces: &[&'a Piece], join: &Join) -> Result<[Row<'a>; 2], String> {
    let ways = |side: &JoinSide| -> Result<Vec<Row<'a>>, String> {
        let edges: Vec<Vec<Part>> = side.0.iter().map(|name| parts(notes, pieces, name)).collect::<Result<_, _>>()?;
        Ok(Row::ways(&edges))
    };
    let [first, second] = [ways(&join.edges[0])?, ways(&join.edges[1])?];
    let answer = |a: &Row, b: &Row| direction(&a.ends(), &b.ends(), join.meet.as_ref()).is_ok_and(|(_, known)| known);
    let pairs = || first.iter().flat_map(|a| second.iter().map(move |b| [a, b]));
    let best = pairs().find(|[a, b]| answer(a, b)).or_else(|| pairs().next()).ok_or("it names no edges")?;
    Ok(best.map(Clone::clone))
}

/// An edge by its name: where fullness was opened, all its stretches with the darts closed and pleats laid.
fn parts<'a>(notes: &Notes, pieces: &[&'a Piece], name: &EdgeName) -> Result<Vec<Part<'a>>, String> {
    let list = |names: &mut dyn Iterator<Item = &str>| names.collect::<Vec<_>>().join(", ");
    let piece = *pieces.iter().find(|p| alike(&p.name, &name.piece)).ok_or_else(|| {
        format!(
            "no outline of a piece called \"{}\" was found; there are {}",
            name.piece,
            list(&mut pieces.iter().map(|p| p.name.as_str()))
        )
    })?;
    let layer = piece.drafted();
    let (stretches, taken_up) = piece.edges_of(&name.edge);
    let mut found: Vec<Part> = stretches.iter().filter_map(|&k| Part::named(&piece.name, layer, &layer.edges[k].name)).collect();
    if found.is_empty() {
        found.extend(Part::named(&piece.name, layer, &name.edge).or_else(|| between(notes, piece, &name.edge)));
    }
    if found.is_empty() {
        let edges = layer.edges.iter().map(|e| e.name.as_str());
        let inner = layer.inner.iter().map(|i| i.name.as_str());
        return Err(format!("{} has no edge called \"{}\"; it has {}", piece.name, name.edge, list(&mut edges.chain(inner))));
    }
    let whole: f64 = found.iter().map(Part::length).sum();
    let (on_fold, mirrored) = (is_both_sides(notes, &piece.name, &name.edge), piece.stands_for(&name.edge));
    for part in &mut found {
        part.mirrored = mirrored;
        let own = part.edge.map_or(name.edge.as_str(), |k| layer.edges[k].name.as_str());
        part.notches = piece.notches.iter().filter(|n| alike(&n.edge, own)).map(|n| n.at).collect();
        part.open = part.edge.map_or_else(Vec::new, |k| piece.open_along(k));
        // What pleats take up is spread over all stretches.
        part.taken_up = taken_up * part.length() / whole.max(1e-9);
    }
    if mirrored {
        found.reverse();
    }
    let at_fold = |part: &Part| part.edge.filter(|_| on_fold).and_then(|k| ends_at_fold(layer, k));
    Ok(match found.iter().find_map(at_fold) {
        Some(fold_at_end) => both_sides(found, fold_at_end),
        None => found,
    })
}

/// All stretches of an edge that ends at the fold, and beyond it their mirror images, clockwise.
fn both_sides(own: Vec<Part>, fold_at_end: bool) -> Vec<Part> {
    let beyond: Vec<Part> = own.iter().rev().map(|p| Part { mirrored: true, ..p.clone() }).collect();
    let [first, second] = if fold_at_end { [own, beyond] } else { [beyond, own] };
    first.into_iter().chain(second).collect()
}

/// Whether an edge of a name would be sewn with its mirror image where it ends at the fold: one called left or right is that side alone.
pub(super) fn is_both_sides(notes: &Notes, piece: &str, edge: &str) -> bool {
    on_fold(notes, piece) && swapped(edge) == edge
}

pub(super) fn piece_notes<'a>(all: &'a BTreeMap<String, PieceNotes>, name: &str) -> Option<&'a PieceNotes> {
    all.iter().find(|(n, _)| alike(n, name)).map(|(_, p)| p)
}

/// Whether a piece is cut on the fold, by its own notes or, where it is derived and they do not say, by those of its piece.
fn on_fold(notes: &Notes, name: &str) -> bool {
    cut_of(&notes.pieces, name).is_some_and(|cut| cut.on_fold)
}

/// Whether an edge ends at one that is placed on the fold, clockwise, or starts there; nothing where it does neither.
pub(super) fn ends_at_fold(layer: &Layer, k: usize) -> Option<bool> {
    let n = layer.edges.len();
    let fold = |k: usize| layer.edges[k % n].line == Line::Fold;
    match (fold(k), fold(k + 1), fold(k + n - 1)) {
        (false, true, false) => Some(true),
        (false, false, true) => Some(false),
        _ => None,
    }
}

/// An edge that the notes name by its two corners and the tracing does not.
fn between<'a>(notes: &Notes, piece: &'a Piece, edge: &str) -> Option<Part<'a>> {
    let shots = notes.shots.iter().filter(|s| s.piece.as_deref().is_none_or(|p| alike(p, &piece.name)));
    let told = shots.flat_map(|s| &s.edges).find(|e| e.name.as_deref().is_some_and(|n| alike(n, edge)))?;
    let layer = piece.drafted();
    let n = layer.corners.len();
    let joins = |k: usize| told.joins(&layer.corners[k].name, &layer.corners[(k + 1) % n].name);
    let k = (0..n).find(|&k| joins(k))?;
    Part::named(&piece.name, layer, &layer.edges[k].name)
}
