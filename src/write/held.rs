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
    let closed = if c.closed { ", its darts closed" } else { "" };
    let round = c.tape.round.then(|| c.tape.reading.mm());
    Doubt::TapeDisagrees { what: format!("{piece}: {}{closed}", c.tape.what), taped: c.taped, round, seen: c.seen, tolerance }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::length::Mm;
    use crate::piece::{Measure, Taken, compared};

    fn measure(name: &'static str, length: f64, half_round: bool, closed: f64) -> Measure {
        let taken = Taken::Straight([Mm::default(); 2]);
        Measure { name, side: None, length, bound: Some(0.5), taken, half_round, closed, laid: None }
    }

    /// What was read is told, and what it was held against: all round with its half, round a leg with the sum, flat as it is.
    #[test]
    fn a_doubt_says_what_was_read_and_what_it_was_held_against() {
        let said = Notes::from_text(
            "[[tape]]\nwhat = \"chest\"\nreading = \"980 mm\"\nround = true\n[[tape]]\nwhat = \"thigh\"\nreading = \"600 mm\"\nround = true\n\
             [[tape]]\nwhat = \"waist\"\nreading = \"420 mm\"\n",
        )
        .expect("notes");
        let words = |c: &Compared| disagreement(c, "back").say();
        let all = [measure("chest", 455.0, true, 0.0), measure("waist", 391.0, false, 49.0)];
        let found = compared("back", &all, &said.tapes);
        let flat = words(&found[0]);
        assert!(
            flat.starts_with("back: chest: the tape says 980 mm all round, which is 490 mm flat, the picture 455 mm flat, more apart"),
            "{flat}"
        );
        let closed = words(&found[1]);
        assert!(closed.starts_with("back: waist, its darts closed: the tape says 420 mm, the picture 391 mm, more apart"), "{closed}");
        let [front, back] = [260.0, 300.0].map(|long| [measure("thigh", long, true, 0.0)]);
        let sum = words(&compared_round([&front, &back], &said.tapes)[0]);
        assert!(sum.starts_with("back: thigh: the tape says 600 mm all round, the picture 560 mm, more apart"), "{sum}");
    }
}
