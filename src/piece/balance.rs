//! How the two sides of a piece that has like ones lie about its centre: each level at which its width was halved, a centre that a person marked,
//! the difference of left and right. Told, never mended.

use super::centre::{Centre, Difference, centre, difference};
use super::grain::marked_centre;
use super::layer::Layer;
use super::pairs::Pairs;
use crate::notes::PieceNotes;

/// What is known of a piece's two sides.
#[derive(Clone, Debug, PartialEq)]
pub struct Balance {
    /// The centre line by halved widths, with its levels.
    pub centre: Centre,
    /// How far a marked centre lies beside it, mm, positive to the right on the page, and how far it is turned from it, degrees.
    pub marked: Option<(f64, f64)>,
    /// Left against right.
    pub difference: Difference,
}

/// The balance of a piece as it was found; nothing for one that has no like sides, was seen folded, or is derived from another.
pub fn balance(found: &Layer, notes: Option<&PieceNotes>) -> Option<Balance> {
    if notes.is_some_and(|n| n.fold.is_some() || n.from.is_some()) {
        return None;
    }
    let asked = notes.is_some_and(|n| n.centre.is_some() || n.cut.as_ref().is_some_and(|c| c.on_fold));
    if !asked && Pairs::by_name(found).corners.len() < 2 {
        return None;
    }
    let centre = centre(found, &Pairs::of(found))?;
    let marked = notes.and_then(|n| marked_centre(found, n)).map(|m| centre.against(&m));
    let difference = difference(found, &centre);
    Some(Balance { centre, marked, difference })
}
