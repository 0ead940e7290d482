//! How a piece lies on the page of its pattern: seen from its right side, its grain down the page.

use super::centre::turned_down;
use super::grain::runs;
use super::layer::{Layer, ends};
use super::measures::Measured;
use super::share::is_centre;
use crate::length::Mm;
use crate::notes::{PieceKind, PieceNotes, Spot};
use kurbo::{Affine, Shape};
use nalgebra::Vector2;

/// What runs down the page of a drafted piece.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Down {
    /// The grain, as a person saw it.
    Grain,
    /// The centre line, which is a proposal.
    Centre,
    /// Nothing that is known: it lies as it was laid.
    AsLaid,
}

impl Down {
    /// All of them.
    pub const ALL: [Self; 3] = [Self::Grain, Self::Centre, Self::AsLaid];

    /// Its words in records.
    pub fn word(self) -> &'static str {
        match self {
            Self::Grain => "grain",
            Self::Centre => "centre line",
            Self::AsLaid => "as laid",
        }
    }

    /// What the words of a record say.
    pub fn from_word(word: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|d| d.word() == word)
    }
}

/// How a piece came to lie as it is drafted.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Laying {
    /// Whether it was mirrored: the cloth was seen from its wrong side.
    pub mirrored: bool,
    /// How far it was turned, degrees, clockwise as seen.
    pub turned_deg: f64,
    /// What runs down the page.
    pub down: Down,
    /// What carries the lines as found to those on the page, before anything else was done to them.
    pub by: Affine,
}

/// Lays a piece on its page. `at` says where places of the notes lie among the lines as found.
pub(super) fn laying(
    found: &Layer,
    kind: Option<PieceKind>,
    notes: Option<&PieceNotes>,
    mirrored: bool,
    at: &dyn Fn(&Spot) -> Option<Mm>,
) -> Laying {
    let by_shape = kind.and_then(|kind| Measured { layer: found, kind, scale: 0.0, fold: None, open: &[] }.down());
    let folded = notes.and_then(|n| along_edge(found, found.edge(n.fold.as_deref()?)?, by_shape));
    let marked = || along_marked(notes?.centre.as_ref()?, by_shape, at);
    let centre = folded.or_else(marked).or_else(|| along_edge(found, called_centre(found)?, by_shape)).or(by_shape);
    let grain = notes.and_then(|n| n.grain.as_ref()).and_then(|g| {
        let way = runs(found, g, || centre, at)?;
        // Which end of the grain is up, the piece itself says, else how it was laid.
        let down = centre.unwrap_or(Vector2::new(0.0, 1.0));
        Some(if way.dot(&down) < 0.0 { -way } else { way })
    });
    let (down, way) = match (grain, centre) {
        (Some(way), _) => (Down::Grain, way),
        (None, Some(way)) => (Down::Centre, way),
        (None, None) => (Down::AsLaid, Vector2::new(0.0, 1.0)),
    };
    let turn = turned_down(way);
    let [a, b, ..] = turn.as_coeffs();
    let mirror = if mirrored { Affine::scale_non_uniform(-1.0, 1.0) } else { Affine::IDENTITY };
    let turned = mirror * turn;
    // Its box starts at nothing, so that numbers on the page stay small and equal pieces have equal numbers.
    let corner = (turned * found.outline()).bounding_box().origin();
    Laying { mirrored, turned_deg: b.atan2(a).to_degrees(), down, by: Affine::translate(-corner.to_vec2()) * turned }
}

/// Down the fold or the centre edge of half a piece: the centre line of the whole, whatever the half's own widths say.
fn along_edge(found: &Layer, edge: usize, down: Option<Vector2<f64>>) -> Option<Vector2<f64>> {
    let (a, b) = ends(&found.edges[edge].path)?;
    downward(Vector2::new(b.x - a.x, b.y - a.y), down)
}

/// The one edge that is called the centre.
pub(super) fn called_centre(found: &Layer) -> Option<usize> {
    let mut all = (0..found.edges.len()).filter(|k| is_centre(&found.edges[*k]));
    all.next().filter(|_| all.next().is_none())
}

/// Down the centre line that a person marked.
fn along_marked([a, b]: &[Spot; 2], down: Option<Vector2<f64>>, at: &dyn Fn(&Spot) -> Option<Mm>) -> Option<Vector2<f64>> {
    downward(at(b)? - at(a)?, down)
}

/// A direction of length 1 the way that is down: which end is up, the piece itself says, else how it was laid.
fn downward(way: Vector2<f64>, down: Option<Vector2<f64>>) -> Option<Vector2<f64>> {
    let way = way.try_normalize(1e-9)?;
    Some(if way.dot(&down.unwrap_or(Vector2::new(0.0, 1.0))) < 0.0 { -way } else { way })
}
