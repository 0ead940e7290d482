//! Grows lattices from seeds, best-first: each node is predicted from the neighbours that are already placed.

use super::field::Field;
use crate::length::Px;
use nalgebra::Vector2;
use std::collections::{BTreeMap, BinaryHeap};

/// Candidates with addresses, not yet numbered for people.
#[derive(Clone, Debug, Default)]
pub struct Patch {
    /// Address → candidate, in the patch's own numbering.
    pub cells: BTreeMap<(i32, i32), usize>,
}

/// A candidate and the steps to its neighbours.
#[derive(Clone, Copy, Debug)]
struct Seed {
    at: usize,
    u: Vector2<f64>,
    v: Vector2<f64>,
    support: usize,
}

/// A candidate counts as the node predicted when it lies within this share of the pitch …
const NEAR: f64 = 0.16;
/// … plus what a candidate itself may be out by, px of the level.
const SLACK: f64 = 1.2;
/// The same share once the node is predicted in `SURE_WAYS` ways or more: a check's nodes must not pass for the sheet's.
const NEARER: f64 = 0.07;
/// Ways of prediction that agree to within a candidate's own error.
const SURE_WAYS: usize = 4;
/// Cells across the picture in each of which seeds are tried.
const SEED_CELLS: usize = 7;
/// Seeds tried in each cell, strongest first.
const SEEDS_A_CELL: usize = 3;
/// Fewest nodes worth keeping: less than two squares by two fix no map.
pub const FEWEST: usize = 6;

/// The four neighbours of a node.
pub const SIDES: [(i32, i32); 4] = [(1, 0), (0, 1), (-1, 0), (0, -1)];

/// Grows every lattice the candidates show, largest first. `factor` is the level's, `size` the picture's.
pub fn lattices(field: &Field<'_>, size: [usize; 2], factor: usize) -> Vec<Patch> {
    let slack = SLACK * factor as f64;
    let mut used = vec![false; field.all.len()];
    let mut found: Vec<Patch> = Vec::new();
    for k in seed_order(field, size) {
        if used[k] {
            continue;
        }
        let mut best = Patch::default();
        for seed in seeds(field, k, size, slack).into_iter().take(3) {
            let patch = grow(field, &seed, slack, &used);
            if patch.cells.len() > best.cells.len() {
                best = patch;
            }
            if best.cells.len() > 40 {
                break;
            }
        }
        if best.cells.len() >= FEWEST {
            best.cells.values().for_each(|&c| used[c] = true);
            found.push(best);
        }
    }
    found.sort_by_key(|p| std::cmp::Reverse(p.cells.len()));
    found
}

/// Candidates from every part of the picture, so that a busy garment can't use up all tries; down the ranking too, as the very
/// strongest are often buttons and print.
fn seed_order(field: &Field<'_>, size: [usize; 2]) -> Vec<usize> {
    let mut cells: Vec<Vec<usize>> = vec![Vec::new(); SEED_CELLS * SEED_CELLS];
    for (k, c) in field.all.iter().enumerate() {
        let part = |v: f64, n: usize| ((v.max(0.0) * SEED_CELLS as f64 / n as f64) as usize).min(SEED_CELLS - 1);
        cells[part(c.at.y, size[1]) * SEED_CELLS + part(c.at.x, size[0])].push(k);
    }
    for cell in &mut cells {
        cell.sort_by(|&a, &b| field.all[b].strength.total_cmp(&field.all[a].strength).then(a.cmp(&b)));
    }
    let pick = |cell: &Vec<usize>, n: usize| {
        let step = (cell.len() / (2 * SEEDS_A_CELL)).max(1);
        cell.get(n * step).copied()
    };
    (0..SEEDS_A_CELL).flat_map(|n| cells.iter().filter_map(move |c| pick(c, n)).collect::<Vec<_>>()).collect()
}

/// Steps (u, v) that could be a lattice's at candidate `k`, best supported first, then smallest.
fn seeds(field: &Field<'_>, k: usize, size: [usize; 2], slack: f64) -> Vec<Seed> {
    let here = field.all[k];
    let near = field.neighbours(k, 14, 0.4 * size[0].max(size[1]) as f64);
    let steps: Vec<(Vector2<f64>, Option<usize>)> =
        near.iter().map(|&n| field.all[n].at - here.at).map(|d| (d, axis_of(d, here.axes))).collect();
    let mut out = Vec::new();
    for (a, &(u, on_u)) in steps.iter().enumerate() {
        for &(v, on_v) in &steps[a + 1..] {
            if here.axes.is_some() && (on_u.is_none() || on_v.is_none() || on_u == on_v) {
                continue;
            }
            let sine = (u.x * v.y - u.y * v.x) / (u.norm() * v.norm());
            let ratio = u.norm() / v.norm();
            if sine.abs() < 0.7 || !(0.45..2.2).contains(&ratio) {
                continue;
            }
            let (u, v) = if sine > 0.0 { (u, v) } else { (v, u) };
            let support = support(field, k, u, v, slack);
            if support >= 1 {
                out.push(Seed { at: k, u, v, support });
            }
        }
    }
    // Sides squared: of steps that span the same lattice the squarest pair has the least.
    let sides = |s: &Seed| s.u.norm_squared() + s.v.norm_squared();
    // The smallest well supported steps: every lattice holds coarser ones that are as regular.
    let most = out.iter().map(|s| s.support).max().unwrap_or(0);
    let class = |s: &Seed| usize::from(s.support + 2 < most);
    out.sort_by(|a, b| class(a).cmp(&class(b)).then(sides(a).total_cmp(&sides(b))).then(b.support.cmp(&a.support)));
    out.dedup_by(|a, b| (sides(a) - sides(b)).abs() < 0.1 * sides(a));
    out
}

/// Which of the mark's own directions a step follows (within 14°).
fn axis_of(d: Vector2<f64>, axes: Option<[Vector2<f64>; 2]>) -> Option<usize> {
    let axes = axes?;
    axes.iter().position(|a| a.dot(&d).abs() > 0.97 * d.norm())
}

/// How many of the other six nodes around are there; none when u + v is missing.
fn support(field: &Field<'_>, k: usize, u: Vector2<f64>, v: Vector2<f64>, slack: f64) -> usize {
    let here = field.all[k];
    let there = |d: Vector2<f64>, even: bool| {
        let pitch = u.norm().min(v.norm());
        let state = if even { here.state } else { -here.state };
        let found = field.telling(here.at + d, NEAR * pitch + slack, pitch, |n| n != k && fits(field, n, state));
        found.is_some_and(|n| even || field.linked(k, n))
    };
    if !there(u + v, true) || !there(u, false) || !there(v, false) {
        return 0;
    }
    1 + usize::from(there(-u, false)) + usize::from(there(-v, false)) + [u - v, v - u, -u - v].iter().filter(|d| there(**d, true)).count()
}

fn fits(field: &Field<'_>, n: usize, state: i8) -> bool {
    field.all[n].state == state
}

fn grow(field: &Field<'_>, seed: &Seed, slack: f64, used: &[bool]) -> Patch {
    let mut patch = Patch::default();
    let state = field.all[seed.at].state;
    let wanted = |a: (i32, i32)| if (a.0 + a.1).rem_euclid(2) == 0 { state } else { -state };
    patch.cells.insert((0, 0), seed.at);
    let mut mine = vec![seed.at];
    let mut queue = BinaryHeap::new();
    let mut serial = 0u32;
    for (a, d) in [((1, 0), seed.u), ((0, 1), seed.v)] {
        let radius = NEAR * d.norm() + slack;
        if let Some(n) = field.nearest(field.all[seed.at].at + d, radius, |n| n != seed.at && fits(field, n, wanted(a))) {
            patch.cells.insert(a, n);
            mine.push(n);
        }
    }
    let begun: Vec<_> = patch.cells.keys().copied().collect();
    let push = |queue: &mut BinaryHeap<(usize, std::cmp::Reverse<u32>, (i32, i32))>, patch: &Patch, a: (i32, i32), serial: &mut u32| {
        for (dx, dy) in SIDES {
            let b = (a.0 + dx, a.1 + dy);
            if !patch.cells.contains_key(&b) {
                *serial += 1;
                let count = predict(field, patch, b).map_or(0, |p| p.2);
                queue.push((count, std::cmp::Reverse(*serial), b));
            }
        }
    };
    for a in begun {
        push(&mut queue, &patch, a, &mut serial);
    }
    let mut taken: std::collections::BTreeSet<usize> = mine.into_iter().collect();
    while let Some((_, _, a)) = queue.pop() {
        if patch.cells.contains_key(&a) {
            continue;
        }
        let Some((p, pitch, ways)) = predict(field, &patch, a) else { continue };
        let radius = if ways < SURE_WAYS { NEAR } else { NEARER } * pitch + slack;
        let free = |n: usize| !used[n] && !taken.contains(&n) && fits(field, n, wanted(a));
        let joined = |n: usize| SIDES.iter().filter_map(|d| patch.cells.get(&(a.0 + d.0, a.1 + d.1))).any(|&m| field.linked(m, n));
        if let Some(n) = field.telling(p, radius, pitch, free).filter(|&n| joined(n)) {
            patch.cells.insert(a, n);
            taken.insert(n);
            push(&mut queue, &patch, a, &mut serial);
        }
    }
    patch
}

/// Where an address should be seen from its placed neighbours: place, pitch there, how many ways agree.
fn predict(field: &Field<'_>, patch: &Patch, a: (i32, i32)) -> Option<(Px, f64, usize)> {
    let get = |dx: i32, dy: i32| patch.cells.get(&(a.0 + dx, a.1 + dy)).map(|&k| field.all[k].at.vector());
    let mut sum = Vector2::zeros();
    let mut weight = 0.0;
    let mut count = 0;
    let mut pitch = 0.0;
    for (dx, dy) in SIDES {
        let Some(one) = get(dx, dy) else { continue };
        if let Some(two) = get(2 * dx, 2 * dy) {
            // Halfway between straight and curved continuation: bends with the lens, without trebling the noise.
            let p = match get(3 * dx, 3 * dy) {
                Some(three) => one * 2.5 - two * 2.0 + three * 0.5,
                None => one * 2.0 - two,
            };
            sum += p;
            weight += 1.0;
            count += 1;
            pitch += (one - two).norm();
        }
        for side in [1, -1] {
            let (ex, ey) = (dy * side, dx * side);
            if let (Some(b), Some(c)) = (get(ex, ey), get(dx + ex, dy + ey)) {
                // Counted from both of its arms, so half each.
                sum += (one + b - c) * 0.5;
                weight += 0.5;
                count += 1;
                pitch += (one - c).norm();
            }
        }
    }
    if count == 0 {
        return None;
    }
    Some((Px::from(sum / weight), pitch / count as f64, count))
}
