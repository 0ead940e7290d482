//! What cloth will shrink, made up for: lengths that were noted of the garment against lines that are drawn larger.

use super::draft::Piece;
use super::layer::ends;
use super::page::Down;
use crate::notes::{Directions, Garment, Percent, PieceNotes};

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
