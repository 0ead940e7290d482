//! Completes a grown patch over the whole picture by its smooth map, and drops what does not lie on it.
//!
//! The map carries addresses across the garment, so that sheet seen on its far side, or through a neck opening, keeps its numbers.

use super::field::Field;
use super::grow::{Patch, SIDES};
use super::map::{Placed, SheetMap};
use crate::length::Px;
use nalgebra::Vector2;
use std::collections::BTreeMap;

/// A candidate this share of the pitch off the map is another thing.
const OFF: f64 = 0.12;
/// Paper that stands up is followed by growth, from one node to the next, as far as this; the view then says that it is not flat.
const RISEN: f64 = 0.3;
/// The same while the map is still carried over ground where it was not fitted.
const OFF_FAR: f64 = 0.09;
/// Robust deviations within which a node is the map's.
const SPREADS: f64 = 8.0;
/// What the map may be out by for each square it is carried beyond its nodes, as a share of the pitch.
const CARRIED: f64 = 0.015;
/// Fewer nodes than this carry a map no further than `SHORT` squares.
const SURE: usize = 30;
/// How far a map from few nodes is trusted, squares.
const SHORT: i32 = 3;
/// How far a map from many is carried at once, squares.
const LONG: i32 = 12;
/// Rounds of fitting and adding; each may carry the map `LONG` squares on.
const ROUNDS: usize = 12;
/// No sheet has more squares along a side than this in one picture (1 mm ruling over A3 has 420).
pub const MOST: i32 = 700;

/// A lattice with its map.
#[derive(Clone, Debug)]
pub struct Whole {
    /// Candidates by address.
    pub patch: Patch,
    /// The map fitted to them.
    pub map: SheetMap,
}

/// Everything of the picture that belongs to the patch's lattice; `None` when no smooth map meets it.
pub fn complete(field: &Field<'_>, patch: Patch, size: [usize; 2], factor: usize) -> Option<Whole> {
    let noise = 0.25 * factor as f64;
    let mut patch = patch;
    let mut map = SheetMap::fit(&placed(field, &patch), size, noise)?;
    drop_off(field, &mut patch, &map, factor);
    if let Some(finer) = finer(field, &patch, &map, factor) {
        patch = finer;
        map = SheetMap::fit(&placed(field, &patch), size, noise)?;
    }
    for _ in 0..ROUNDS {
        let added = add(field, &mut patch, &map, size, factor);
        map = SheetMap::fit(&placed(field, &patch), size, noise)?;
        let dropped = drop_off(field, &mut patch, &map, factor);
        if added <= dropped {
            break;
        }
    }
    drop_lonely(&mut patch);
    map = SheetMap::fit(&placed(field, &patch), size, noise)?;
    Some(Whole { patch, map })
}

/// The patch's nodes as the map wants them.
pub fn placed(field: &Field<'_>, patch: &Patch) -> Vec<Placed> {
    patch.cells.iter().map(|(a, &k)| ([f64::from(a.0), f64::from(a.1)], field.all[k].at)).collect()
}

/// Smallest step to a neighbour at an address, px.
pub fn pitch(map: &SheetMap, a: (i32, i32)) -> f64 {
    map.frame(f64::from(a.0), f64::from(a.1)).map_or(0.0, |[u, v]| u.norm().min(v.norm()))
}

/// First and last address along both axes.
pub fn bounds(patch: &Patch) -> [i32; 4] {
    patch.cells.keys().fold([i32::MAX, i32::MIN, i32::MAX, i32::MIN], |b, a| [b[0].min(a.0), b[1].max(a.0), b[2].min(a.1), b[3].max(a.1)])
}

/// Where an address is seen when that lies in the picture.
pub fn inside(map: &SheetMap, a: (i32, i32), size: [usize; 2]) -> Option<Px> {
    let p = map.at(f64::from(a.0), f64::from(a.1))?;
    (p.x >= 0.0 && p.y >= 0.0 && p.x <= size[0] as f64 - 1.0 && p.y <= size[1] as f64 - 1.0).then_some(p)
}

fn add(field: &Field<'_>, patch: &mut Patch, map: &SheetMap, size: [usize; 2], factor: usize) -> usize {
    let taken: std::collections::BTreeSet<usize> = patch.cells.values().copied().collect();
    let Some((&first, &k0)) = patch.cells.iter().next() else { return 0 };
    let state = |a: (i32, i32)| {
        let even = (a.0 + a.1 - first.0 - first.1).rem_euclid(2) == 0;
        if even { field.all[k0].state } else { -field.all[k0].state }
    };
    let far = if patch.cells.len() < SURE { SHORT } else { LONG };
    let [i0, i1, j0, j1] = bounds(patch);
    let mut found = Vec::new();
    for j in (j0 - far).max(-MOST)..=(j1 + far).min(MOST) {
        for i in (i0 - far).max(-MOST)..=(i1 + far).min(MOST) {
            let a = (i, j);
            if patch.cells.contains_key(&a) {
                continue;
            }
            let Some(p) = inside(map, a, size) else { continue };
            let beyond = (i0 - i).max(i - i1).max(j0 - j).max(j - j1).max(0);
            let radius = near(map, a, beyond, factor);
            if let Some(n) = field.telling(p, radius, pitch(map, a), |n| field.all[n].state == state(a) && !taken.contains(&n)) {
                let mut beside = SIDES.iter().filter_map(|d| patch.cells.get(&(a.0 + d.0, a.1 + d.1))).peekable();
                // Beyond a garment nothing joins it; beside placed nodes a line must.
                if beside.peek().is_none() || beside.any(|&m| field.linked(m, n)) {
                    found.push((a, n));
                }
            }
        }
    }
    let before = patch.cells.len();
    let mut mine = std::collections::BTreeSet::new();
    for (a, n) in found {
        if mine.insert(n) {
            patch.cells.insert(a, n);
        }
    }
    patch.cells.len() - before
}

/// Ways in which a lattice can be part of a finer one: how often its squares are cut along i and j, or, last, cut by their diagonals.
const CUTS: [(i32, i32); 9] = [(5, 5), (4, 4), (3, 3), (2, 2), (5, 1), (1, 5), (2, 1), (1, 2), (0, 0)];
/// Share of the finer lattice's further nodes that must be there.
const CUT_SHARE: f64 = 0.5;

/// The patch in the addresses of a finer lattice that the candidates show all over it, when there is one.
fn finer(field: &Field<'_>, patch: &Patch, map: &SheetMap, factor: usize) -> Option<Patch> {
    if patch.cells.len() < SURE || field.all.first().is_some_and(|c| c.state != 0) {
        return None;
    }
    // Enough squares to tell, spread over the patch.
    let probes: Vec<(i32, i32)> = patch.cells.keys().copied().step_by(1 + patch.cells.len() / 150).collect();
    let share = |di: f64, dj: f64, fine: f64| {
        let hit = |a: &&(i32, i32)| {
            let (i, j) = (f64::from(a.0) + di, f64::from(a.1) + dj);
            let pitch = fine * pitch(map, **a);
            map.at(i, j).is_some_and(|p| field.telling(p, OFF * pitch + factor as f64, pitch, |_| true).is_some())
        };
        probes.iter().filter(hit).count() as f64 / probes.len() as f64
    };
    for (ni, nj) in CUTS {
        if (ni, nj) == (0, 0) {
            return (share(0.5, 0.5, 0.7) > CUT_SHARE).then(|| readdress(patch, |(i, j)| (i + j, j - i)));
        }
        let all = (0..nj).flat_map(|q| (0..ni).map(move |p| (p, q))).filter(|c| *c != (0, 0));
        let fine = 1.0 / f64::from(ni.max(nj));
        let least = all.map(|(p, q)| share(f64::from(p) / f64::from(ni), f64::from(q) / f64::from(nj), fine)).fold(1.0, f64::min);
        if least > CUT_SHARE {
            return Some(readdress(patch, |(i, j)| (i * ni, j * nj)));
        }
    }
    None
}

fn readdress(patch: &Patch, to: impl Fn((i32, i32)) -> (i32, i32)) -> Patch {
    Patch { cells: patch.cells.iter().map(|(a, k)| (to(*a), *k)).collect() }
}

/// How far off the map a node may be, px: in proportion to how well the map meets the others, more where the map is carried `beyond` the
/// squares it was fitted to, never so far that any candidate would do.
pub fn near(map: &SheetMap, a: (i32, i32), beyond: i32, factor: usize) -> f64 {
    let pitch = pitch(map, a);
    let share = if beyond > 0 { OFF_FAR } else { OFF };
    (SPREADS * map.rms + 1.5 * factor as f64 + CARRIED * pitch * f64::from(beyond)).min(share * pitch + factor as f64)
}

/// Drops the nodes that do not lie on the map; how many.
pub fn drop_off(field: &Field<'_>, patch: &mut Patch, map: &SheetMap, factor: usize) -> usize {
    let before = patch.cells.len();
    let off: BTreeMap<(i32, i32), Vector2<f64>> =
        patch.cells.iter().filter_map(|(a, k)| Some((*a, map.off(&([f64::from(a.0), f64::from(a.1)], field.all[*k].at))?))).collect();
    let on = |a: &(i32, i32)| {
        off.get(a).is_some_and(|d| {
            d.norm() < near(map, *a, 0, factor) || d.norm() < RISEN * pitch(map, *a) && moved_together(&off, *a, 1.5 * factor as f64)
        })
    };
    patch.cells.retain(|a, _| on(a));
    before - patch.cells.len()
}

/// Nodes that moved off a map with at least so many of their eight neighbours (a cloth's edge beside one line moves two), by the same
/// within a share.
const COMPANY: usize = 3;
const ALIKE: f64 = 0.5;

/// Whether several of the eight nodes around lie off the map much as this one does, by more than `least` px: paper that stands up, not a
/// chance mark.
pub fn moved_together(off: &BTreeMap<(i32, i32), Vector2<f64>>, a: (i32, i32), least: f64) -> bool {
    let own = off[&a];
    let around = (-1..=1).flat_map(|y| (-1..=1).map(move |x| (x, y))).filter(|d| *d != (0, 0));
    let like = |d: &(i32, i32)| {
        off.get(&(a.0 + d.0, a.1 + d.1)).is_some_and(|o| (o - own).norm() < least.max(ALIKE * own.norm()) && o.norm() > least)
    };
    around.filter(like).count() >= COMPANY
}

/// Drops nodes that have none of their eight neighbours: a chance hit far from the rest.
fn drop_lonely(patch: &mut Patch) {
    let all = patch.cells.clone();
    if all.len() < SURE {
        return;
    }
    patch.cells.retain(|a, _| {
        let around = (-1..=1).flat_map(|dy| (-1..=1).map(move |dx| (dx, dy)));
        around.filter(|&(dx, dy)| all.contains_key(&(a.0 + dx, a.1 + dy))).count() > 1
    });
}
