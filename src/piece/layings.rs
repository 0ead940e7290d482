//! Several layings of one piece laid on each other: how far they lie apart, place by place, and the line in their middle.
//!
//! Cloth laid anew lies differently, by more than a picture is out. Outlines are moved and turned onto each other, never sized, until
//! what is left along the normals of the line in their middle is least (point to line; Chen & Medioni 1992), each laying counted once.
//! Two pictures of the *same* laying differ by the tool's error alone, which is told apart.

use super::layer::Layer;
use super::middle::{Middle, Outlined, groups};
use crate::length::Mm;
use kurbo::Affine;
use nalgebra::Vector2;

/// Rounds in which motions and the line in the middle settle.
const ROUNDS: usize = 8;

/// Why layings can't be compared.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum LayingError {
    /// Nothing to compare with.
    #[error("one laying alone can't be compared; give two pictures or more of the piece, laid anew for each")]
    TooFew,
    /// No length.
    #[error("an outline has no length; trace the picture again")]
    Empty,
    /// Another number of corners.
    #[error(
        "one outline has {first} corners and the other {second}: \"{corner}\" of the one with more, at {:.0}, {:.0} mm, has none to answer it; name it in both pictures' notes, or trace another picture", at[0], at[1]
    )]
    Corners {
        /// Corners of the one.
        first: usize,
        /// Corners of the other.
        second: usize,
        /// The corner farthest from all of the outline with fewer, when both are laid on each other.
        corner: String,
        /// Where it is on its own page, mm.
        at: [f64; 2],
    },
    /// The named corners run round it in another order.
    #[error(
        "\"{one}\" and \"{other}\" follow one another differently in the two outlines; check the names, or say side or faces where the other side is up"
    )]
    Order {
        /// A corner.
        one: String,
        /// Another.
        other: String,
    },
    /// Part of an outline is the picture's frame.
    #[error("{edge} is cut off by the picture's frame and can't be compared; take the piece whole")]
    Cut {
        /// The edge.
        edge: String,
    },
    /// They are not of one piece.
    #[error(
        "laid on each other the outlines lie {off:.0} mm apart, which is no other laying but another piece; give pictures of one piece"
    )]
    NotAlike {
        /// How far (95 %), mm.
        off: f64,
    },
}

/// An outline and the laying it was taken of.
#[derive(Clone, Copy, Debug)]
pub struct LaidOut<'a> {
    /// Its lines.
    pub layer: &'a Layer,
    /// Whether it shows the other side of the piece than the first does: it is laid on that as its mirror image.
    pub mirrored: bool,
    /// Which laying it shows; pictures between which nothing was moved show one.
    pub laying: usize,
}

/// How layings of a piece differ. Places are on the first outline's page.
#[derive(Clone, Debug)]
pub struct Layings {
    /// How many layings there are.
    pub count: usize,
    /// Lays each outline on the first.
    pub motions: Vec<Affine>,
    /// Of each outline, how its numbers answer those of the first.
    pub(super) answers: Vec<Numbers>,
    /// Of each outline, how others differ from it.
    pub spreads: Vec<Spread>,
    /// The corners in the middle.
    pub corners: Vec<Mm>,
    /// The edges in the middle, in the first outline's order: places about a millimetre apart, and the normal there, out of the piece.
    pub edges: Vec<Vec<(Mm, Vector2<f64>)>>,
}

/// How far layings lie apart, mm, along the lines of one outline.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Spread {
    /// How many layings were compared.
    pub layings: usize,
    /// 95 % of places of the outline lie no further apart in the two layings that differ most there; `None` when all are of one laying.
    pub laid: Option<f64>,
    /// The same between pictures of one laying: no more than the tool's own error.
    pub repeat: Option<f64>,
    /// Of each edge.
    pub edges: Vec<EdgeSpread>,
    /// Of each corner: the distance of the two layings that differ most there.
    pub corners: Vec<f64>,
}

/// The same of one edge.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct EdgeSpread {
    /// 95 % of its places.
    pub laid: Option<f64>,
    /// Distance along the edge and how far layings lie apart there, both mm, every 5 mm.
    pub along: Vec<[f64; 2]>,
}

/// How corners and edges of an outline are counted from those of the first.
#[derive(Clone, Copy, Debug)]
pub(super) struct Numbers {
    pub by: usize,
    pub mirrored: bool,
    pub count: usize,
}

impl Numbers {
    /// Number of the corner that answers corner `k` of the first.
    pub fn corner(self, k: usize) -> usize {
        let n = self.count.max(1);
        let k = (k + self.by) % n;
        if self.mirrored { (n - k) % n } else { k }
    }

    /// Number of the edge that answers edge `k` of the first.
    pub fn edge(self, k: usize) -> usize {
        let n = self.count.max(1);
        let k = (k + self.by) % n;
        if self.mirrored { n - 1 - k } else { k }
    }
}

/// Lays outlines of one piece on each other and measures how they differ.
///
/// # Errors
/// Fewer than two, corners that do not answer one another, an outline that is cut off, or different pieces.
pub fn layings(taken: &[LaidOut]) -> Result<Layings, LayingError> {
    let first = match taken {
        [first, _, ..] => first.layer,
        _ => return Err(LayingError::TooFew),
    };
    if let Some(edge) = taken.iter().flat_map(|t| &t.layer.edges).find(|e| e.line == super::Line::Cut) {
        return Err(LayingError::Cut { edge: edge.name.clone() });
    }
    let mut outlines = Vec::new();
    for t in taken {
        outlines.push(Outlined::new(first, t)?);
    }
    for group in groups(&outlines) {
        group.iter().for_each(|&k| outlines[k].weight = 1.0 / group.len() as f64);
    }
    let mut middle = Middle::new(first, &outlines);
    for _ in 0..ROUNDS {
        let offs = middle.offs(&outlines);
        middle.settle(&offs, &mut outlines);
        middle.redraw(&outlines);
    }
    middle.told(&outlines)
}

impl Layings {
    /// Number, in the outline of that number, of the corner that answers corner `k` of the first.
    pub fn corner(&self, outline: usize, k: usize) -> usize {
        self.answers[outline].corner(k)
    }

    /// Number, in the outline of that number, of the edge that answers edge `k` of the first.
    pub fn edge(&self, outline: usize, k: usize) -> usize {
        self.answers[outline].edge(k)
    }
}
