//! A lattice of a few long lines led on from crossing to crossing.
//!
//! Where a garment leaves a border hardly a square wide, seen at a slant, nothing grows from a seed; but the lines nearest the camera fix the
//! lattice there, and from the crossings on them it is followed round the border, the map fitted anew after every step.

use super::complete::{Whole, drop_off, inside, near, pitch, placed};
use super::field::Field;
use super::grow::{FEWEST, Patch, SIDES};
use super::map::SheetMap;
use super::seek::Found;
use std::collections::BTreeSet;

/// A crossing next to known ones is the node expected within this share of the pitch, and what a candidate may be out by, px of the level.
const BESIDE: f64 = 0.12;
const SLACK: f64 = 1.2;
/// Squares over which a step goes: cloth may hide the node between.
const STEP: i32 = 2;
/// Most steps: the border of a picture with the most squares of use.
const STEPS: usize = 80;

/// The lattice through the crossings that lie on `found` and on what follows from it; `None` where fewer than six do.
pub(super) fn on(field: &Field<'_>, found: &Found, size: [usize; 2], factor: usize) -> Option<Whole> {
    let noise = 0.25 * factor as f64;
    let mut patch = Patch::default();
    for &(a, at, error) in &found.nodes {
        let radius = SLACK * factor as f64 + 3.0 * error;
        if let Some(n) = field.nearest(at, radius, |_| true) {
            patch.cells.insert(a, n);
        }
    }
    let mut map = SheetMap::fit(&placed(field, &patch), size, noise)?;
    for _ in 0..STEPS {
        let added = step(field, &mut patch, &map, size, factor);
        map = SheetMap::fit(&placed(field, &patch), size, noise)?;
        let dropped = drop_off(field, &mut patch, &map, factor);
        if added <= dropped {
            break;
        }
    }
    map = SheetMap::fit(&placed(field, &patch), size, noise)?;
    (patch.cells.len() >= FEWEST).then_some(Whole { patch, map })
}

/// Adds the crossings seen a step from those placed; how many.
fn step(field: &Field<'_>, patch: &mut Patch, map: &SheetMap, size: [usize; 2], factor: usize) -> usize {
    let mut taken: BTreeSet<usize> = patch.cells.values().copied().collect();
    let around = (-STEP..=STEP).flat_map(|y| (-STEP..=STEP).map(move |x| (x, y)));
    let mut next: BTreeSet<(i32, i32)> = patch.cells.keys().flat_map(|a| around.clone().map(|d| (a.0 + d.0, a.1 + d.1))).collect();
    next.retain(|a| !patch.cells.contains_key(a));
    let mut added = Vec::new();
    for a in next {
        let Some(p) = inside(map, a, size) else { continue };
        let mut beside = SIDES.iter().filter_map(|d| patch.cells.get(&(a.0 + d.0, a.1 + d.1))).peekable();
        let step = pitch(map, a);
        let alone = beside.peek().is_none();
        let radius = if alone { near(map, a, STEP, factor) } else { BESIDE * step + SLACK * factor as f64 };
        let Some(n) = field.telling(p, radius, step, |n| !taken.contains(&n)) else { continue };
        if alone || beside.any(|&m| field.linked(m, n)) {
            taken.insert(n);
            added.push((a, n));
        }
    }
    patch.cells.extend(added.iter().copied());
    added.len()
}
