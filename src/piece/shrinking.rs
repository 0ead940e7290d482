//! What cloth will shrink, made up for: lengths that were noted of the garment against lines that are drawn larger.

use super::How;
use super::draft::Piece;
use super::layer::ends;
use super::page::Down;
use crate::notes::{Directions, Garment, Percent, PieceNotes};

/// By how much a piece is drawn larger for what its cloth will shrink, percent, smaller where it is less than nothing.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Larger {
    /// Along the grain, which runs down the page.
    pub lengthwise: f64,
    /// Across it.
    pub crosswise: f64,
    /// Chosen, or assumed where nobody recorded the grain and the centre line stands in for it.
    pub how: How,
}

impl Larger {
    /// For shares that are lost in washing.
    pub(super) fn of([long, cross]: [f64; 2], how: How) -> Self {
        let more = |share: f64| 100.0 * (1.0 / (1.0 - share) - 1.0);
        Self { lengthwise: more(long), crosswise: more(cross), how }
    }

    /// In words.
    pub fn words(&self) -> String {
        let along = if self.how == How::Assumed { "along the centre line" } else { "along the grain" };
        let one =
            |by: f64, way: &str, words: [&str; 2]| (by != 0.0).then(|| format!("{:.1} % {} {way}", by.abs(), words[usize::from(by < 0.0)]));
        let both = [one(self.lengthwise, along, ["longer", "shorter"]), one(self.crosswise, "across", ["wider", "narrower"])];
        format!("made {} for shrinkage", both.into_iter().flatten().collect::<Vec<_>>().join(" and "))
    }
}

/// Shares that the cloth of a piece will shrink by, lengthwise and crosswise: as its own notes have it, else its garment's.
pub(super) fn shrinkage(own: Option<&PieceNotes>, garment: &Garment) -> [f64; 2] {
    let of = |way: fn(&Directions) -> Option<Percent>| {
        own.and_then(|p| way(&p.shrinkage)).or_else(|| way(&garment.shrinkage)).map_or(0.0, |p| p.share())
    };
    [of(|d| d.lengthwise), of(|d| d.crosswise)]
}

/// How many times as long an edge is drawn as it will be when the cloth has shrunk; the grain runs down the page.
pub(super) fn drawn_longer(piece: &Piece, edge: &str, [long, cross]: [f64; 2]) -> f64 {
    let layer = piece.drafted();
    let chord = || {
        let own = piece.edges_of(edge).0;
        let (first, last) = (own.first()?, own.last()?);
        Some(ends(&layer.edges[*last].path)?.1 - ends(&layer.edges[*first].path)?.0)
    };
    match chord().filter(|_| piece.down() != Some(Down::AsLaid)) {
        Some(way) if way.hypot() > 0.0 => way.hypot() / (way.x * (1.0 - cross)).hypot(way.y * (1.0 - long)),
        _ => 1.0,
    }
}
