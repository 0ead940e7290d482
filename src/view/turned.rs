//! Between a picture as its camera stored it and the same stood upright, by quarter turns.

use super::Lens;
use crate::length::Px;
use crate::shot::Tags;

/// Columns and rows of a picture as stored; `None` when it was mirrored or nobody knows how it was turned.
pub fn stored(tags: &Tags, upright: [usize; 2]) -> Option<[usize; 2]> {
    let [w, h] = upright;
    tags.turned.map(|quarters| if quarters % 2 == 1 { [h, w] } else { [w, h] })
}

/// The place in the stored picture of `stored` columns and rows that was turned to `at` in the upright one.
pub fn unturned(at: Px, quarters: u8, stored: [usize; 2]) -> Px {
    let [w, h] = stored.map(|v| v as f64 - 1.0);
    match quarters % 4 {
        1 => Px::new(at.y, h - at.x),
        2 => Px::new(w - at.x, h - at.y),
        3 => Px::new(w - at.y, at.x),
        _ => at,
    }
}

/// The lens of a stored picture of `size` columns and rows after the picture is turned by quarters clockwise. The decentring
/// term is t r² + 2 v (t·v) with t = (p2, p1), so t turns like a vector.
pub(super) fn turned(lens: Lens, quarters: u8, size: [usize; 2]) -> Lens {
    let (mut lens, mut size) = (lens, size);
    for _ in 0..quarters % 4 {
        let centre = Px::new(size[1] as f64 - 1.0 - lens.centre.y, lens.centre.x);
        lens = Lens { centre, p1: lens.p2, p2: -lens.p1, ..lens };
        size.swap(0, 1);
    }
    lens
}
