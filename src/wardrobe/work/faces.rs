//! Two pictures that show the faces of one folded piece, front and back: laid open they are one.

use crate::notes::Notes;
use crate::piece::{Draft, Layer, alike};
use crate::write::{Shown, both_faces, pieces, sum_faces};

/// Whether the notes say that a piece lay folded and is to be laid open.
pub fn folded(notes: &Notes, name: &str) -> bool {
    let own = notes.pieces.iter().find(|(n, _)| alike(n, name)).map(|(_, p)| p);
    own.is_some_and(|p| p.fold.is_some() && p.cut.as_ref().is_none_or(|c| !c.on_fold))
}

/// The lines of a piece as found, seen from its right side.
pub fn right_side(draft: &Draft) -> Layer {
    draft.piece.found().mapped(draft.laying.by)
}

/// Lays a piece open that lay folded, where both its faces were traced; the second picture's outline is then no piece of its own.
pub(super) fn faced(shown: &mut [Shown], notes: &Notes) {
    for (first, second) in faces(shown, notes) {
        let Some(other) = shown[second].found.as_ref().ok().map(|s| right_side(&s.pieces[0].draft)) else { continue };
        let shot = shown[first].shot.clone();
        if let Ok(seen) = &mut shown[first].found
            && let Ok(pieces) = both_faces(&seen.record, &shot, notes, &other)
        {
            seen.pieces = pieces;
        }
        let mut without = notes.clone();
        without.pieces.values_mut().for_each(|p| p.fold = None);
        let shot = shown[second].shot.clone();
        if let Ok(seen) = &mut shown[second].found
            && let Ok(pieces) = pieces(&seen.record, &shot, &without)
        {
            seen.pieces = pieces;
        }
        // The second comes after the first.
        let up = shown[second].shot.up;
        let (before, after) = shown.split_at_mut(second);
        if let (Ok(one), Ok(two)) = (&mut before[first].found, &mut after[0].found)
            && let ([one], [other]) = (one.pieces.as_mut_slice(), two.pieces.as_mut_slice())
        {
            sum_faces([one, other], &two.record, (notes, up));
        }
    }
}

/// Numbers of two pictures that each show one piece, the same, one its front and one its back.
fn faces(shown: &[Shown], notes: &Notes) -> Vec<(usize, usize)> {
    let one = |k: usize| shown[k].found.as_ref().ok().filter(|s| s.pieces.len() == 1).map(|s| &s.pieces[0].draft);
    let mut out = Vec::new();
    for a in 0..shown.len() {
        for b in a + 1..shown.len() {
            let same = one(a).zip(one(b)).is_some_and(|(p, q)| folded(notes, &p.piece.name) && alike(&p.piece.name, &q.piece.name));
            if same && shown[a].shot.up.is_some() && shown[b].shot.up.is_some() && shown[a].shot.up != shown[b].shot.up {
                out.push((a, b));
            }
        }
    }
    out
}
