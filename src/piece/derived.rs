//! Pieces that are derived from trued ones: facings along some of their edges, linings as the whole. They lie with their wrong side on their
//! piece's, so that one that is neither a pair nor on the fold is its mirror image (common practice, no source).

use super::How;
use super::bench::{Bench, Pins};
use super::correcting::correct;
use super::draft::{Change, NotchAt, Piece};
use super::drafting::Draft;
use super::facing::{Wrong, facing, inner_edge};
use super::layer::{Layer, Line, alike};
use super::opening::opened;
use super::page::Laying;
use super::propose::ByShape;
use super::walk::Walk;
use super::{notching, place};
use crate::length::Length;
use crate::notes::{Directions, Notes, PieceNotes, Spot};
use kurbo::{Affine, Point, Shape};

/// A notch of the piece lies on an edge of what is derived from it within this, mm; beyond it that edge was cut short of it.
const ON_EDGE: f64 = 0.01;

/// Why a piece was not derived.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("{piece}: {why}")]
pub struct NotDerived {
    /// What it is called.
    pub piece: String,
    /// Why, with the piece it was to come from.
    pub why: String,
}

/// Every piece of the notes that is derived from another, from that as it is drafted; or why that can't be. An interfacing may come from a
/// facing that is derived itself.
pub fn derived(notes: &Notes, drafts: &[&Draft]) -> Vec<Result<Draft, NotDerived>> {
    let mut waiting: Vec<(&String, &PieceNotes, &String)> =
        notes.pieces.iter().filter_map(|(name, own)| own.from.as_ref().map(|from| (name, own, from))).collect();
    let mut out: Vec<Result<Draft, NotDerived>> = Vec::new();
    let lost = |name: &String, why: String| NotDerived { piece: name.clone(), why };
    while !waiting.is_empty() {
        let before = waiting.len();
        let mut later = Vec::new();
        for (name, own, from) in waiting {
            let of = drafts.iter().copied().chain(out.iter().flatten()).find(|d| alike(&d.piece.name, from));
            match of.map(|of| one(notes, name, own, of)) {
                Some(made) => out.push(made.map_err(|why| lost(name, format!("it was not derived from {from}: {why}")))),
                None => later.push((name, own, from)),
            }
        }
        if later.len() == before {
            let there = |from: &str| notes.pieces.iter().any(|(n, p)| p.from.is_some() && alike(n, from));
            let why = |from: &str| if there(from) { "could not be derived itself" } else { "was not traced" };
            out.extend(later.iter().map(|(name, own, from)| {
                Err(lost(name, format!("it is to be derived from {from}, which {}{}", why(from), own.lines.from)))
            }));
            break;
        }
        waiting = later;
    }
    out
}

fn one(notes: &Notes, name: &str, own: &PieceNotes, of: &Draft) -> Result<Draft, String> {
    let (lines, what) = match (own.along.as_slice(), own.width) {
        ([], _) => (of.piece.drafted().clone(), format!("the lines of {} as drafted", of.piece.name)),
        (along, Some(width)) => {
            let (strip, were_shut) = facing(of, along, width.mm()).map_err(|e| match e {
                Wrong::Along(why) => format!("{why}{}", own.lines.along),
                Wrong::Width(why) => format!("{why}{}", own.lines.width),
            })?;
            let shut = if were_shut { ", its darts folded shut" } else { "" };
            (strip, format!("a strip of {:.1} mm along {} of {} as drafted{shut}", width.mm(), along.join(", "), of.piece.name))
        }
        (_, None) => return Err("its width is not noted".into()),
    };
    let (cut, taken) = taken_over(own, of);
    let mirror = cut.cut.as_ref().is_none_or(|c| !c.on_fold && !c.mirrored);
    let (lines, undone) = on_cloth(lines, &cut, of);
    let turn = if mirror { over(&lines) } else { Affine::IDENTITY };
    let lines = lines.mapped(turn);
    let place = |spot: &Spot| place(&lines, spot);
    let mut bench =
        Bench::new(Piece::new(name, lines.clone()).laid(Some(of.laying.down)), Pins::of(&lines, Some(own), &place), &notes.garment);
    bench.undone = undone;
    for name in &own.along {
        let full = of.piece.sewn().iter().filter(|s| alike(&s.edge, name)).map(|s| s.taken_up).sum::<f64>();
        if full > 0.0 {
            bench.undone(format!(
                "{name} is {full:.1} mm longer here than it is sewn, for pleats or gathers: lay them before it is cut{}",
                own.lines.along
            ));
        }
    }
    if own.shrinkage != Directions::default() {
        let piece = &of.piece.name;
        bench.undone(format!(
            "its own shrinkage was not made up for: its lines are those of {piece}, which are drawn for the cloth of that"
        ));
    }
    let turned = if mirror { "; mirrored, for it is sewn wrong side to wrong side" } else { "" };
    bench.redraft(lines.clone(), Change::new(format!("{what}{taken}{turned}"), How::Chosen));
    let edges = lines.edges.iter().map(|e| of.noted(&e.name).cloned()).collect::<Vec<_>>();
    // The places of what is its piece's come after those of its own, and move along with them.
    let marks = own.marks.len();
    let theirs = notches(&of.piece, &lines, turn);
    bench.pins.marks.extend(theirs.iter().map(|n| Some(n.1)));
    if own.along.is_empty() {
        let mut pins = of.pins.clone();
        pins.carry(|p| Some(turn * p));
        bench.pins.legs.extend(pins.legs);
        bench.pins.points.extend(pins.points);
        bench.pins.pleats.extend(pins.pleats);
        bench.pins.folds.extend(pins.folds);
        bench.pins.gathers.extend(pins.gathers);
    }
    if own.open {
        opened(&mut bench, own);
    }
    correct(&mut bench, notes);
    notching::noted(&mut bench, own, None);
    for (notch, p) in theirs.iter().map(|n| &n.0).zip(bench.pins.marks.split_off(marks)) {
        let found = p.and_then(|p| bench.nearest_on(&notch.edge, p));
        let placed = found.map(|(k, at)| NotchAt { edge: bench.piece.drafted().edges[k].name.clone(), at, ..notch.clone() });
        bench.piece.notches.extend(placed);
    }
    let names = of.names.iter().cloned().chain(bench.names()).collect();
    let Bench { piece, pins, undone, .. } = bench;
    let n = piece.found().edges.len();
    Ok(Draft {
        piece,
        pins,
        kind: None,
        by_shape: ByShape { corners: vec![false; n], edges: vec![false; n] },
        edges,
        notes: Some(cut),
        up: of.up.filter(|_| !mirror),
        laying: Laying { by: Affine::IDENTITY, mirrored: mirror, turned_deg: 0.0, ..of.laying },
        larger: of.larger,
        open: Vec::new(),
        names,
        undone,
    })
}

/// Turns lines over where they lie.
fn over(lines: &Layer) -> Affine {
    let b = lines.outline().bounding_box();
    Affine::translate((b.x0 + b.x1, 0.0)) * Affine::FLIP_X
}

/// The lines as they lie on the cloth: cut another way than its piece it has a seam where that lies on the fold. Also what does not go together.
fn on_cloth(mut lines: Layer, own: &PieceNotes, of: &Draft) -> (Layer, Vec<String>) {
    let mut undone = Vec::new();
    let on_fold = lines.edges.iter().any(|e| e.line == Line::Fold);
    match &own.cut {
        Some(cut) if on_fold && !cut.on_fold => lines.edges.iter_mut().filter(|e| e.line == Line::Fold).for_each(|e| e.line = Line::Seam),
        Some(cut) if cut.on_fold && !on_fold => {
            let piece = &of.piece.name;
            undone.push(format!(
                "it is cut on the fold, and no edge that it has of {piece} lies there; say what of that is kept, or its fold"
            ));
        }
        _ => {}
    }
    (lines, undone)
}

/// What a derived piece's own notes leave open is taken over from its piece: how many are cut and how, its allowances (none along the inner
/// edge of a facing), after its own the fullness of a lining. Also what was, in words.
fn taken_over(own: &PieceNotes, of: &Draft) -> (PieceNotes, String) {
    let theirs = of.notes.clone().unwrap_or_default();
    let mut notes = own.clone();
    let mut said = String::new();
    if own.along.is_empty() {
        notes.lines.darts.extend(theirs.lines.darts);
        notes.lines.pleats.extend(theirs.lines.pleats);
        notes.lines.gathers.extend(theirs.lines.gathers);
        notes.darts.extend(theirs.darts);
        notes.pleats.extend(theirs.pleats);
        notes.gathers.extend(theirs.gathers);
    }
    if let (None, Some(cut)) = (&own.cut, theirs.cut) {
        said = format!("; cut as {} is, {}", of.piece.name, cut.words);
        notes.cut = Some(cut);
    }
    if own.allowance.is_empty() && !theirs.allowance.is_empty() {
        said.push_str("; with its allowances");
        notes.allowance = theirs.allowance;
        let inner = (1..=own.along.len()).map(|k| inner_edge(own.along.len(), k));
        notes.allowance.extend(inner.map(|name| (name, Length::from_mm(0.0))));
    }
    (notes, said)
}

/// Notches of a piece that lie on edges of what is derived from it, and where on its lines, `turn` being what lays the piece on them.
fn notches(of: &Piece, lines: &Layer, turn: Affine) -> Vec<(NotchAt, Point)> {
    let placed = |n: &NotchAt| {
        let theirs = of.drafted().edge(&n.edge)?;
        let p = turn * Walk::of(&of.drafted().edges[theirs].path).at(n.at);
        let (_, off) = Walk::of(&lines.edges[lines.edge(&n.edge)?].path).nearest(p);
        (off < ON_EDGE).then(|| (n.clone(), p))
    };
    of.notches.iter().filter_map(placed).collect()
}
