//! The places of all outlines that are known much worse than the rest, told in words; and stitch lines that were not seen.

use super::lines::Lines;
use super::places::{Place, places};
use super::tracing::{Found, Traced, Tracing};
use super::whereabouts;
use super::why::Look;
use crate::length::Mm;
use crate::path::{SeamPath, SeamPoint};
use crate::proof::Doubt;
use crate::solve::{TWO_SIDED, median};

/// A place is told that may be out by this, mm, for its edge alone: half the trade's sixteenth of an inch.
const NOTABLE: f64 = 0.8;
/// And by so many times what the outlines' median place may be.
const ABOVE: f64 = 3.0;
/// A place that may be out by the whole sixteenth, mm, is told whatever the others are.
const SIXTEENTH: f64 = 1.6;
/// A seam within the piece is doubted when it was not seen along more than this share of its length.
const UNSEEN: f64 = 0.2;
/// How many of them.
const WORST: usize = 3;
/// Places nearer to each other than this are one, mm.
const ONE: f64 = 40.0;

/// One place with what is known of it.
struct Spot {
    piece: usize,
    place: Place,
    /// How far its edge may be out for itself, and with view and height, mm.
    own: f64,
    bound: f64,
}

/// Doubts about the worst places, and about stitch lines that were not seen.
pub(super) fn doubts(tracing: &Tracing, lines: &Lines, look: &Look) -> Vec<Doubt> {
    let mut spots = spots(tracing);
    let mut all: Vec<f64> = spots.iter().map(|s| s.own).collect();
    let usual = median(&mut all).unwrap_or(0.0);
    spots.retain(|s| s.own > SIXTEENTH || s.own > NOTABLE.max(ABOVE * usual));
    spots.sort_by(|a, b| b.own.total_cmp(&a.own));
    let mut told: Vec<Spot> = Vec::new();
    for spot in spots {
        let same = |t: &Spot| t.piece == spot.piece && t.place.at.distance(spot.place.at) < ONE;
        if told.len() < WORST && !told.iter().any(same) {
            told.push(spot);
        }
    }
    let several = tracing.pieces.len() > 1;
    let words = |s: &Spot| {
        let (piece, p) = (&tracing.pieces[s.piece], &s.place);
        let corner = piece.outline.corners.iter().map(|c| c.at.distance(p.at)).fold(f64::INFINITY, f64::min);
        Doubt::EdgeUnsure {
            place: whereabouts::words(piece, several, p.edge, p.along, p.at, p.normal),
            bound: s.bound,
            causes: look.why(p.at, p.normal, &lines.pieces[s.piece].outer.points, corner),
            at: p.at,
        }
    };
    told.iter().map(words).chain(unseen(&tracing.pieces)).chain(not_there(lines)).collect()
}

/// Every place of every outline that was measured in the picture.
fn spots(tracing: &Tracing) -> Vec<Spot> {
    let mut out = Vec::new();
    for (k, piece) in tracing.pieces.iter().enumerate() {
        for place in places(&piece.outline) {
            let edge = &piece.edges[place.edge];
            let along = edge.along.iter().find(|a| a[0] == place.along);
            if let Some([_, bound]) = along.filter(|_| edge.found == Found::Picture) {
                out.push(Spot { piece: k, own: TWO_SIDED * place.edge_error, bound: *bound, place });
            }
        }
    }
    out
}

/// Seams within the pieces that do not stand out from the cloth along a good part of their length.
fn not_there(lines: &Lines) -> impl Iterator<Item = Doubt> {
    let told = |(name, seam): &(String, SeamPath)| {
        let points = &seam.points;
        let unseen: Vec<&SeamPoint> = points.iter().filter(|p| p.flags.unseen).collect();
        let share = unseen.len() as f64 / points.len().max(1) as f64;
        (share > UNSEEN).then(|| Doubt::SeamNotSeen { seam: name.clone(), share, at: unseen[unseen.len() / 2].at })
    };
    lines.pieces.iter().flat_map(|p| &p.inner).filter_map(told)
}

/// Edges whose stitch line was moved in from the outer edge because it could not be seen.
fn unseen(pieces: &[Traced]) -> Option<Doubt> {
    let mut unseen: Option<(Vec<String>, Mm)> = None;
    for piece in pieces {
        for (edge, drawn) in piece.edges.iter().zip(&piece.outline.edges).filter(|(e, _)| e.found == Found::Offset) {
            let name = if pieces.len() > 1 { format!("{} of {}", edge.name, piece.name) } else { edge.name.clone() };
            unseen.get_or_insert((Vec::new(), drawn.middle())).0.push(name);
        }
    }
    unseen.map(|(edges, at)| Doubt::StitchLineNotSeen { edges, at })
}
