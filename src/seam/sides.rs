//! What the colours on either side say against each place where the edge is tried.
//!
//! In: the rows of a place, held against bare sheet and the cloth's colours. Out: a price for each try, by the cloth it leaves on the sheet
//! and the sheet it takes for cloth. The model of the edge asks where the light steps, and takes a groove beside the rim, or the far side
//! of a pale stripe, for the cloth's end where that is the stronger step. Near the try blur mixes both sides, and nothing is asked.

use super::edge::node;
use super::fine::{TRIES, TRY_MOST, tried};
use super::tones::Beside;

/// Rows asked are so far apart, mm, and what they say is told by cells of the first search, whose words are bounded for specks' sake.
const EVERY: f64 = 0.125;
const CELL: f64 = 0.25;
/// A strip of one colour along several millimetres of edge is no speck: it says so many times as much. (Four left a groove of a rib and the
/// pale stripes of two cloths in place of the rim.)
const WORTH: f64 = 12.0;
/// Leads smaller than this say nothing here: dark cloth on a dark mat is never far from either, and the step across the edge knows better.
const DEAF: f64 = 1.0;
/// Nothing is asked within this of a try, mm and pixels; what is mixed beyond looks like neither side, and says nothing.
const MIXED: f64 = 0.09;
const MIXED_PX: f64 = 0.6;

/// A row of a place: offset from the guide, mm, its light, and its share of ink.
pub(super) type Row = (f64, [f32; 3], f32);

/// What each try costs, as a negative logarithm of likelihood; nothing for the best.
pub(super) fn prices(rows: impl Iterator<Item = Row>, beside: &Beside<'_>, pixel: f64) -> [f64; TRIES] {
    let mixed = MIXED + MIXED_PX * pixel;
    let (mut out, mut last) = ([0.0; TRIES], f64::NEG_INFINITY);
    let asked = rows.filter(|(offset, ..)| offset.abs() < TRY_MOST + mixed + CELL).filter(|(offset, ..)| {
        let due = offset - last > EVERY - 1e-6;
        last = if due { *offset } else { last };
        due
    });
    let mut before = None;
    for (offset, light, ink) in asked {
        let worth = (offset - before.replace(offset).unwrap_or(offset - EVERY)) / CELL;
        let lead = f64::from(beside.cloth_over_sheet(&beside.looks(light), ink));
        let lead = lead.signum() * (lead.abs() - DEAF).max(0.0) * worth;
        for (i, price) in out.iter_mut().enumerate() {
            let away = offset - node(tried(i));
            if away > mixed {
                *price += lead.max(0.0);
            } else if away < -mixed {
                *price -= lead.min(0.0);
            }
        }
    }
    let least = out.iter().copied().fold(f64::INFINITY, f64::min);
    out.map(|p| WORTH * (p - least))
}
