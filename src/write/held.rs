//! Tape readings held against what was measured in the pictures, in the garment's record.

use super::garment::{AgainstOf, DoubtOf, TapeOf};
use super::joined::Shown;
use super::json::DoubtRecord;
use super::path_text::round;
use super::pieces::GarmentPiece;
use crate::notes::{Notes, PieceKind, Tape};
use crate::piece::{Compared, alike, compared_round};
use crate::proof::Doubt;

/// Readings that were held all round a leg whose front and back are two pieces, each with the sum of both; and what those two are called.
pub(super) fn round_a_leg<'a>(notes: &'a Notes, shown: &[Shown]) -> (Vec<Compared<'a>>, String) {
    let Some(both) = leg(shown) else { return (Vec::new(), String::new()) };
    let [front, back] = both.map(|p| p.measures.as_slice());
    (compared_round([front, back], &notes.tapes), both.map(|p| p.draft.piece.name.as_str()).join(" + "))
}

/// The front and the back of a leg, where each was pictured as a piece of its own.
fn leg(shown: &[Shown]) -> Option<[&GarmentPiece; 2]> {
    let all = || shown.iter().filter_map(|s| s.found.as_ref().ok()).flat_map(|s| &s.pieces);
    let of = |kind: PieceKind| all().find(|p| p.draft.kind.is_some_and(|k| k.value == kind));
    let both = [of(PieceKind::TrouserFront)?, of(PieceKind::TrouserBack)?];
    (!alike(&both[0].draft.piece.name, &both[1].draft.piece.name)).then_some(both)
}

/// Notes what a tape reading was held against; a doubt where the two disagree.
pub(super) fn hold(c: &Compared, piece: &str, tapes: &[Tape], out: &mut [TapeOf]) -> Option<DoubtOf> {
    let own = tapes.iter().position(|t| std::ptr::eq(t, c.tape));
    if let Some(tape) = own.and_then(|k| out.get_mut(k)) {
        tape.against.push(AgainstOf {
            piece: piece.to_owned(),
            seen_mm: round(c.seen),
            off_mm: round(c.off()),
            tolerance_mm: c.tolerance.map(round),
            agrees: !c.disagrees,
        });
    }
    c.disagrees.then(|| DoubtOf { picture: None, doubt: DoubtRecord::of(&disagreement(c, piece)) })
}

fn disagreement(c: &Compared, piece: &str) -> Doubt {
    let tolerance = if c.off() > 0.0 { c.tolerance[1] } else { c.tolerance[0] };
    Doubt::TapeDisagrees { what: format!("{piece}: {}", c.tape.what), taped: c.taped, seen: c.seen, tolerance }
}
