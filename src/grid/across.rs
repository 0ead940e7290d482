//! One sheet seen in two parts, because cloth lies across it from frame to frame.
//!
//! Two lattices side by side are one sheet when a single smooth map carries both with whole squares between them, and no other number of
//! squares does nearly as well: paper of another pitch, or another sheet laid beside it, lies off by parts of a square.

use super::map::{Placed, SheetMap};
use super::seek::{Found, Seen};

/// Nodes of each part that are asked.
const ASKED: usize = 250;
/// Squares beyond the nearest guess that are tried, either way: the map of one part alone is not exact so far off.
const TRIED: i32 = 2;
/// Both parts lie on the map to this, px, or to so many times what they lie on their own maps.
const CLOSE: (f64, f64) = (0.4, 2.5);
/// Any other number of squares fits this many times worse.
const CLEARLY: f64 = 3.0;
/// Least spread expected of measured nodes, px.
const NOISE: f64 = 0.05;

/// Both parts as one lattice, numbered as the first; `None` when they are two sheets.
pub fn one_sheet(a: &Found, b: &Found, size: [usize; 2]) -> Option<Found> {
    let (first, second) = (thinned(&a.nodes), thinned(&b.nodes));
    let (quarters, near) = (0..4).filter_map(|q| guess(a, &second, q)).min_by(|p, q| p.2.total_cmp(&q.2)).map(|g| (g.0, g.1))?;
    let mut tried: Vec<(f64, [i32; 2], SheetMap)> = Vec::new();
    for y in -TRIED..=TRIED {
        for x in -TRIED..=TRIED {
            let by = [near[0] + x, near[1] + y];
            let moved: Vec<Placed> = second.iter().map(|n| placed(&turned(n, quarters, by))).collect();
            let own: Vec<Placed> = first.iter().map(placed).collect();
            let both: Vec<Placed> = own.iter().chain(&moved).copied().collect();
            if let Some(map) = SheetMap::fit(&both, size, NOISE) {
                tried.push((off(&map, &own).max(off(&map, &moved)), by, map));
            }
        }
    }
    tried.sort_by(|p, q| p.0.total_cmp(&q.0));
    let (best, by, map) = *tried.first()?;
    let next = tried.get(1).map_or(f64::INFINITY, |t| t.0);
    let own = |f: &Found, nodes: &[Seen]| off(&f.map, &nodes.iter().map(placed).collect::<Vec<_>>());
    let usual = own(a, &first).max(own(b, &second)).max(NOISE);
    if best > CLOSE.0.max(CLOSE.1 * usual) || next < CLEARLY * best {
        return None;
    }
    let mut nodes = a.nodes.clone();
    let have: std::collections::BTreeSet<(i32, i32)> = nodes.iter().map(|n| n.0).collect();
    nodes.extend(b.nodes.iter().map(|n| turned(n, quarters, by)).filter(|n| !have.contains(&n.0)));
    nodes.sort_by_key(|n| n.0);
    Some(Found { nodes, map, score: a.score + b.score, ..a.clone() })
}

fn thinned(nodes: &[Seen]) -> Vec<Seen> {
    let step = nodes.len().div_ceil(ASKED).max(1);
    nodes.iter().step_by(step).copied().collect()
}

fn placed(n: &Seen) -> Placed {
    ([f64::from(n.0.0), f64::from(n.0.1)], n.1)
}

/// A node with its address turned by quarters and moved.
fn turned(n: &Seen, quarters: u8, by: [i32; 2]) -> Seen {
    let mut out = *n;
    let (mut x, mut y) = n.0;
    for _ in 0..quarters {
        (x, y) = (-y, x);
    }
    out.0 = (x + by[0], y + by[1]);
    out
}

/// Where the first part's map has the second's nodes: the whole squares they are moved by when turned so, and how far that scatters.
fn guess(a: &Found, second: &[Seen], quarters: u8) -> Option<(u8, [i32; 2], f64)> {
    let offs: Vec<[f64; 2]> = second
        .iter()
        .filter_map(|n| {
            let at = a.map.address(n.1)?;
            let own = turned(n, quarters, [0; 2]).0;
            Some([at[0] - f64::from(own.0), at[1] - f64::from(own.1)])
        })
        .collect();
    let middle = |k: usize| crate::solve::median(&mut offs.iter().map(|o| o[k]).collect::<Vec<_>>());
    let by = [middle(0)?, middle(1)?];
    let spread = crate::solve::median(&mut offs.iter().map(|o| (o[0] - by[0]).hypot(o[1] - by[1])).collect::<Vec<_>>())?;
    Some((quarters, by.map(|v| v.round() as i32), spread))
}

/// How far off the map nodes lie, px: the distance that three quarters of them keep.
fn off(map: &SheetMap, nodes: &[Placed]) -> f64 {
    let mut all: Vec<f64> = nodes.iter().map(|n| map.off(n).map_or(f64::INFINITY, |d| d.norm())).collect();
    all.sort_by(f64::total_cmp);
    all.get(all.len() * 3 / 4).copied().unwrap_or(f64::INFINITY)
}
