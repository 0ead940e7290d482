//! Edges that are frayed or lace-like: the line drawn is the one a hand would smooth, and how far the cloth wanders about it is told.

use super::places::places;
use super::seen::Seen;
use super::tracing::Traced;
use super::why::Look;
use crate::outline::Outline;
use crate::proof::Doubt;
use crate::solve::median;

/// Points of a sound edge wander by a tenth of a millimetre, on hard cloth by two; from this on, mm, the cloth itself does.
const FRAYED: f64 = 0.3;
/// Where cloth and sheet differ by less than this (roots of light), it is the search that wanders.
const CLEAR: f64 = 0.1;
/// Places at which that is looked at, every so many.
const EVERY: usize = 4;

/// How far the cloth's own edge wanders about each edge drawn, mm; 0 where it is sound.
pub(super) fn rough(outline: &Outline, seen: &[Seen], look: &Look) -> Vec<f64> {
    let wandering: Vec<bool> = seen.iter().zip(&outline.edges).map(|(s, e)| s.wander >= FRAYED && !e.cut).collect();
    if !wandering.iter().any(|w| *w) {
        return vec![0.0; seen.len()];
    }
    let places = places(outline);
    let clear = |k: usize| {
        let own = places.iter().filter(|p| p.edge == k).step_by(EVERY);
        let mut contrasts: Vec<f64> = own.map(|p| look.contrast(p.at, p.normal)).collect();
        median(&mut contrasts).is_some_and(|c| c >= CLEAR)
    };
    seen.iter().zip(&wandering).enumerate().map(|(k, (s, wanders))| if *wanders && clear(k) { s.wander } else { 0.0 }).collect()
}

/// The doubts about them.
pub(super) fn doubts(pieces: &[Traced]) -> Vec<Doubt> {
    let mut out = Vec::new();
    for piece in pieces {
        for (edge, drawn) in piece.edges.iter().zip(&piece.outline.edges) {
            let name = if pieces.len() > 1 { format!("{} of {}", edge.name, piece.name) } else { edge.name.clone() };
            out.extend(edge.rough.map(|rough| Doubt::Frayed { edge: name, rough, at: drawn.middle() }));
        }
    }
    out
}
