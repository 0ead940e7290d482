//! From lines as found to lines as drafted, in the order of the trade (common practice, no source): laid on the page; what was traced
//! folded laid open, one half kept; darts and fullness opened; the size changed; edges moved to the true seam; a person's
//! corrections. Every step is a change that says how it came to be, and what can't be done is told and left.

use super::bench::{Bench, Pins};
use super::correcting::correct;
use super::draft::{Change, LiesOpen, Piece};
use super::misplaced::{leaning, misplaced, off_cloth, refused};
use super::noted::{noted_edges, sewn_as_one};
use super::opening::opened;
use super::page::{Down, Laying, laying};
use super::propose::{AsSeen, ByShape, proposed};
use super::shrinking::{Larger, shrinkage};
use super::sides::{keep, unfold};
use super::{Edge, How, Known, Layer, Line, alike, for_shrinkage, lying_open, notching, place, seam_line};
use crate::length::Mm;
use crate::notes::{EdgeIs, EdgeNotes, Notes, PieceKind, PieceNotes, ShotNotes, Spot, Up};
use kurbo::Affine;
use nalgebra::Vector2;

/// What a piece is drafted from.
#[derive(Clone, Copy)]
pub struct Given<'a> {
    /// What it is called.
    pub name: &'a str,
    /// Its lines as they were seen, with the names that a person gave.
    pub lines: &'a Layer,
    /// What the notes say of its picture.
    pub shot: &'a ShotNotes,
    /// All notes of the garment.
    pub notes: &'a Notes,
    /// The other face of a piece that lay folded, where that was traced too: its lines seen from its own right side.
    pub other: Option<&'a Layer>,
    /// Where a place of the notes lies that only the picture knows: in pixels, or at a mark.
    pub place: &'a dyn Fn(&Spot) -> Option<Mm>,
}

/// A piece as drafted, with what it was drafted by.
#[derive(Clone, Debug, PartialEq)]
pub struct Draft {
    /// Both its layers, and what was changed.
    pub piece: Piece,
    /// What kind of piece it is, when that is known or its shape says it.
    pub kind: Option<Known<PieceKind>>,
    /// Which names were proposed by shape, in the order of the lines as found.
    pub by_shape: ByShape,
    /// What the notes say of each edge, in the order of the lines as found.
    pub edges: Vec<Option<EdgeNotes>>,
    /// What the notes say of the piece.
    pub notes: Option<PieceNotes>,
    /// Which side of the garment faces up in its picture.
    pub up: Option<Up>,
    /// How it was laid on its page.
    pub laying: Laying,
    /// By how much it was drawn larger for what its cloth will shrink.
    pub larger: Option<Larger>,
    /// Darts that lay open in the picture, by their edges as found.
    pub open: Vec<LiesOpen>,
    /// What was asked for and could not be done, and what to do, a sentence each.
    pub undone: Vec<String>,
    /// Edges that have other names than those they were found with.
    pub(super) names: Vec<(String, String)>,
    /// Places of the notes on the lines as drafted.
    pub(super) pins: Pins,
}

/// Drafts a piece.
pub fn drafted(given: &Given) -> Draft {
    let notes = given.notes.pieces.iter().find(|(name, _)| alike(name, given.name)).map(|(_, piece)| piece);
    let mut found = given.lines.clone();
    let edges = noted_edges(&mut found, &given.shot.edges);
    let mirrored = given.shot.wrong_side_up().unwrap_or(false);
    let told = notes.and_then(|p| p.kind);
    let waisted = given.notes.pieces.iter().any(|(name, p)| is_skirt(name, p.kind));
    let seen = AsSeen { name: given.name, kind: told, up: given.shot.up, wrong_side_up: mirrored, waisted };
    let proposal = proposed(&found, &seen);
    let by_shape = proposal.as_ref().map_or_else(ByShape::default, |p| p.apply(&mut found));
    let kind = told.map(|k| Known::new(k, How::Noted)).or_else(|| proposal.map(|p| Known::new(p.kind, How::Assumed)));
    let at = |spot: &Spot| place(&found, spot).or_else(|| (given.place)(spot));
    let off_cloth = notes.and_then(|n| off_cloth(&found, n.grain.as_ref()?, &at));
    let without = off_cloth.and(notes).map(|n| PieceNotes { grain: None, ..n.clone() });
    let laying = laying(&found, kind.map(|k| k.value), without.as_ref().or(notes), mirrored, &at);
    let pins = Pins::of(&found, without.as_ref().or(notes), &at);
    let open = notes.map_or_else(Vec::new, |n| lying_open::as_found(&found, n, &pins.mouths()));
    let mut bench = Bench::new(Piece::new(given.name, found.clone()).laid(Some(laying.down)), pins, &given.notes.garment);
    if let Some(n) = notes.filter(|n| laying.down != Down::Grain && n.grain.is_some()) {
        let why = off_cloth.map_or_else(
            || "along a line that can't be found on it".into(),
            |off| format!("between places of which one lies {off:.0} mm off the cloth"),
        );
        bench.undone(format!("its grain is noted {why}; look at \"along\" of the grain of {}{}", given.name, n.lines.grain));
    }
    bench.undone.extend(told.filter(|_| !mirrored).and_then(|kind| other_way_up(kind, given.shot.up?)));
    lay(&mut bench, &laying);
    if let Some((n, (edge, off))) = notes.and_then(|n| Some((n, leaning(bench.piece.drafted(), n)?))) {
        bench.undone(format!(
            "its grain runs along a centre line through the middles of its widths, {off:.1}° off \"{edge}\", which is straight: if the grain runs along that edge, write along = \"{edge}\"{}",
            n.lines.grain
        ));
    }
    sewn_as_one(&mut bench, &given.shot.edges);
    sewn_folds(&mut bench, &edges);
    let mut own = notes.cloned();
    if let Some(notes) = &mut own {
        misplaced(&mut bench, notes);
        unfold(&mut bench, notes, given.shot.up, given.other);
        keep(&mut bench, notes, kind.map(|k| k.value), given.shot.up);
        if notes.open {
            opened(&mut bench, notes);
        }
    }
    let lying_open = own.as_ref().map_or_else(Vec::new, |n| lying_open::found(&mut bench, n));
    let larger = size(&mut bench, &laying, own.as_ref(), given.notes);
    true_seam(&mut bench, &edges, own.as_ref());
    correct(&mut bench, given.notes);
    lying_open::noted(&mut bench, lying_open);
    own.iter().for_each(|n| notching::noted(&mut bench, n, kind.map(|k| k.value)));
    let names = bench.names();
    let open = open.into_iter().filter(|(name, _)| !refused(&bench, name)).map(|(_, open)| open).collect();
    let Bench { piece, pins, undone, .. } = bench;
    Draft { piece, pins, kind, by_shape, edges, notes: own, up: given.shot.up, laying, larger, open, names, undone }
}

/// What to say of a back that is noted as seen with the front of the garment up and from outside, or the other way round: one of them is wrong.
fn other_way_up(kind: PieceKind, up: Up) -> Option<String> {
    let (seen, word) = match kind {
        PieceKind::BodyBack | PieceKind::TrouserBack => (Up::Front, "front"),
        PieceKind::BodyFront | PieceKind::TrouserFront => (Up::Back, "back"),
        _ => return None,
    };
    (up == seen).then(|| {
        format!("it is a {}, and its picture is noted with the {word} up, seen from outside: left and right go by that; look at up and side of its shot", kind.word())
    })
}

/// Whether a piece is a skirt's, by what it is or what it is called.
fn is_skirt(name: &str, kind: Option<PieceKind>) -> bool {
    kind == Some(PieceKind::SkirtPanel) || name.to_lowercase().split(|c: char| !c.is_alphabetic()).any(|w| matches!(w, "skirt" | "peplum"))
}

impl Draft {
    /// Number of the edge as found that an edge as drafted comes from.
    pub fn origin(&self, edge: &str) -> Option<usize> {
        let from = self.names.iter().rev().find(|(own, _)| alike(own, edge)).map_or(edge, |(_, from)| from);
        self.piece.found().edge(from)
    }

    /// What the notes say of an edge as drafted.
    pub fn noted(&self, edge: &str) -> Option<&EdgeNotes> {
        self.edges.get(self.origin(edge)?)?.as_ref()
    }
}

/// Lays the lines on the page.
fn lay(bench: &mut Bench, laying: &Laying) {
    let lines = bench.piece.drafted().mapped(laying.by);
    let turned = if laying.turned_deg.abs() < 0.005 { String::new() } else { format!("turned by {:.2}° ", laying.turned_deg) };
    let (down, how) = match laying.down {
        Down::Grain => (format!("{turned}so that the grain runs down the page"), How::Noted),
        Down::Centre => (format!("{turned}so that its centre line, which stands in for the grain, runs down the page"), How::Assumed),
        Down::AsLaid => ("laid on the page as it was laid in the picture".to_owned(), How::Assumed),
    };
    bench.pins.carry(|p| Some(laying.by * p));
    bench.redraft(lines, Change::new(down, how));
    if laying.mirrored {
        let lines = bench.piece.drafted().clone();
        bench.redraft(lines, Change::new("mirrored, for it was seen from its wrong side", How::Noted));
    }
}

/// An edge that was seen as a fold and is a hem, or another edge that is turned under, is no place on the fold of the cloth: it is cut with
/// what is turned under.
fn sewn_folds(bench: &mut Bench, noted: &[Option<EdgeNotes>]) {
    let mut lines = bench.piece.drafted().clone();
    for edge in lines.edges.iter_mut().filter(|e| e.line == Line::Fold) {
        let is = bench.piece.found().edge(&edge.name).and_then(|k| noted.get(k)?.as_ref()?.is);
        if is.map_or(edge.name.to_lowercase().contains("hem"), |is| is != EdgeIs::CentreFold) {
            edge.line = Line::Rim;
        }
    }
    bench.piece.relined(lines);
}

/// Makes up for what the cloth of the copy will shrink. Where nobody recorded the grain that is done along the centre line, and told.
fn size(bench: &mut Bench, laying: &Laying, own: Option<&PieceNotes>, notes: &Notes) -> Option<Larger> {
    let [long, cross] = shrinkage(own, &notes.garment);
    if long == 0.0 && cross == 0.0 {
        return None;
    }
    if laying.down == Down::AsLaid {
        bench.undone("shrinkage was not made up for, since nobody noted the grain; write it as [piece.NAME.grain]");
        return None;
    }
    // Cloth that shrinks alike both ways has no need of the grain.
    let assumed = laying.down == Down::Centre && long != cross;
    let larger = Larger::of([long, cross], if assumed { How::Assumed } else { How::Chosen });
    if assumed {
        let name = &bench.piece.name;
        bench.undone(format!(
            "it was {}, for nobody noted the grain; where the threads run otherwise that is wrong: write it as [piece.{name}.grain]",
            larger.words()
        ));
    }
    let what = format!(
        "{:+.2} % lengthwise and {:+.2} % crosswise for what the cloth will shrink{}",
        larger.lengthwise,
        larger.crosswise,
        if assumed { ", along the centre line, which stands in for the grain" } else { "" }
    );
    let down = Vector2::new(0.0, 1.0);
    let lines = for_shrinkage(bench.piece.drafted(), down, long, cross);
    let sized = Affine::scale_non_uniform(1.0 / (1.0 - cross), 1.0 / (1.0 - long));
    bench.pins.carry(|p| Some(sized * p));
    bench.resize(lines, Change::new(what, larger.how));
    Some(larger)
}

/// Moves edges from what was seen to where they are sewn: by what the notes say of each, else out by what the turn of the cloth takes up at a
/// sewn edge, when that is asked for.
fn true_seam(bench: &mut Bench, edges: &[Option<EdgeNotes>], notes: Option<&PieceNotes>) {
    let take_up = notes.and_then(|n| n.take_up).map_or(0.0, |l| l.mm());
    let told = |edge: &Edge| {
        let name = bench.base(&edge.name);
        let own = bench.piece.found().edges.iter().position(|e| alike(&e.name, name));
        let own = own.and_then(|k| edges.get(k)?.as_ref());
        // A raw edge and a selvedge are not turned; what is placed on the fold or was not seen has no turn to be made up for.
        let turned = !matches!(own.and_then(|e| e.is), Some(EdgeIs::RawEdge | EdgeIs::Selvedge | EdgeIs::CentreFold));
        let turned = turned && !matches!(edge.line, Line::Fold | Line::Cut) && edge.how != How::Assumed;
        own.and_then(|e| e.true_seam).map_or(if turned { -take_up } else { 0.0 }, |l| l.mm())
    };
    let inside: Vec<f64> = bench.piece.drafted().edges.iter().map(told).collect();
    if inside.iter().all(|w| *w == 0.0) {
        return;
    }
    let names = bench.piece.drafted().edges.iter().zip(&inside).filter(|(_, w)| **w != 0.0);
    let list: Vec<String> = names.map(|(e, w)| format!("{} by {w:.2} mm", e.name)).collect();
    let (how, why) = if take_up > 0.0 { (How::Chosen, ", less than nothing for what its turn takes up") } else { (How::Noted, "") };
    match seam_line(bench.piece.drafted(), &inside, how) {
        Ok(lines) => bench.redraft(lines, Change::new(format!("moved in to the true seam: {}{why}", list.join(", ")), how)),
        Err(e) => bench.undone(format!("edges were not moved to the true seam: {e}")),
    }
}
