//! What cloth will shrink, made up for: lengths that were noted of the garment against lines that are drawn larger.

use super::How;
use super::draft::Piece;
use super::page::Down;
use super::walk::Walk;
use crate::length::Length;
use crate::notes::{Directions, Garment, Percent, PieceNotes};
use kurbo::{Affine, BezPath};

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

    /// How many times as long a line is drawn as it is on the garment; the grain runs down the page.
    pub fn times(&self, line: &BezPath) -> f64 {
        let [down, across] = [self.lengthwise, self.crosswise].map(|by| 1.0 + by / 100.0);
        let on_garment = Walk::of(&(Affine::scale_non_uniform(1.0 / across, 1.0 / down) * line.clone())).length();
        if on_garment > 0.0 { Walk::of(line).length() / on_garment } else { 1.0 }
    }

    /// A length that was noted of the garment as long as it is drawn along a line, mm; on a piece that was not sized as it is.
    pub fn drawn(larger: Option<Self>, noted: Length, line: &BezPath) -> f64 {
        noted.mm() * larger.map_or(1.0, |l| l.times(line))
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
pub(super) fn drawn_longer(piece: &Piece, edge: &str, shares: [f64; 2]) -> f64 {
    if piece.down() == Some(Down::AsLaid) {
        return 1.0;
    }
    let own = piece.edges_of(edge).0;
    let line = own.into_iter().flat_map(|k| piece.drafted().edges[k].path.elements().iter().copied()).collect();
    Larger::of(shares, How::Chosen).times(&line)
}
