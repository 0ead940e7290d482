//! Judges lattices: which nodes lie smoothly with their neighbours, which lattice is the sheet's.

use super::complete::{Whole, moved_together};
use super::field::Field;
use super::grow::Patch;
use super::map::SheetMap;
use super::seek::{Found, Seen};
use crate::length::Px;
use nalgebra::Vector2;
use std::collections::BTreeMap;

/// Nodes this many squares to every side tell how the sheet lies beside the smooth map.
const AROUND: i32 = 2;
/// Spread beyond which a node is no part of the sheet, in robust deviations of the whole …
const OUTLIER: f64 = 6.0;
/// … but never nearer than this, px.
const LEAST: f64 = 0.35;
/// A patch grown from one seed may hold only part of the sheet; one with less than this share of the best one's rating is none.
const PROMISING: f64 = 0.06;
/// Least spread expected of measured nodes, px.
const NOISE: f64 = 0.05;

/// Drops nodes that do not lie with their neighbours beside the smooth map; returns the rest and their map.
pub fn clean(mut nodes: Vec<Seen>, size: [usize; 2]) -> Option<(Vec<Seen>, SheetMap)> {
    let mut map = fit(&nodes, size)?;
    for _ in 0..3 {
        let off: BTreeMap<(i32, i32), Vector2<f64>> =
            nodes.iter().map(|n| (n.0, map.at(f64::from(n.0.0), f64::from(n.0.1)).map_or(Vector2::repeat(1e9), |p| n.1 - p))).collect();
        let apart: Vec<f64> = nodes.iter().map(|n| (off[&n.0] - usual(&off, n.0)).norm()).collect();
        let mut sorted = apart.clone();
        sorted.sort_by(f64::total_cmp);
        let limit = (OUTLIER * sorted[sorted.len() / 2] / 1.177).max(LEAST);
        let before = nodes.len();
        let keep: Vec<bool> = nodes.iter().zip(&apart).map(|(n, d)| *d <= limit || moved_together(&off, n.0, LEAST)).collect();
        let mut keep = keep.into_iter();
        nodes.retain(|_| keep.next().unwrap_or(false));
        map = fit(&nodes, size)?;
        if nodes.len() == before {
            break;
        }
    }
    Some((nodes, map))
}

fn fit(nodes: &[Seen], size: [usize; 2]) -> Option<SheetMap> {
    let placed: Vec<_> = nodes.iter().map(|n| ([f64::from(n.0.0), f64::from(n.0.1)], n.1)).collect();
    if placed.len() < 4 {
        return None;
    }
    SheetMap::fit(&placed, size, NOISE)
}

/// Median offset of the nodes around an address (without itself); zero where there are too few to tell.
fn usual(off: &BTreeMap<(i32, i32), Vector2<f64>>, a: (i32, i32)) -> Vector2<f64> {
    let around = (-AROUND..=AROUND).flat_map(|y| (-AROUND..=AROUND).map(move |x| (x, y))).filter(|d| *d != (0, 0));
    let seen: Vec<_> = around.filter_map(|d| off.get(&(a.0 + d.0, a.1 + d.1))).collect();
    if seen.len() < 5 {
        return Vector2::zeros();
    }
    let middle = |f: fn(&Vector2<f64>) -> f64| {
        let mut v: Vec<f64> = seen.iter().map(|d| f(d)).collect();
        v.sort_by(f64::total_cmp);
        v[v.len() / 2]
    };
    Vector2::new(middle(|d| d.x), middle(|d| d.y))
}

/// How good a lattice is: the share of the picture its hull covers times the square of how complete it is beside its own
/// nodes. The sheet lies under and around all else, so a check shirt has the smaller hull however many squares it has; chance
/// lattices have holes everywhere, a half hidden sheet only where the garment is.
pub fn score(nodes: impl Iterator<Item = ((i32, i32), Px)>, map: &SheetMap, size: [usize; 2]) -> f64 {
    let all: BTreeMap<(i32, i32), Px> = nodes.collect();
    let (mut there, mut could) = (0usize, 0usize);
    for &(i, j) in all.keys() {
        for a in [(i + 1, j), (i - 1, j), (i, j + 1), (i, j - 1)] {
            could += usize::from(super::complete::inside(map, a, size).is_some());
            there += usize::from(all.contains_key(&a));
        }
    }
    let complete = there as f64 / could.max(1) as f64;
    let points: Vec<Px> = all.into_values().collect();
    hull_area(points) / (size[0] * size[1]) as f64 * complete * complete
}

/// Patches that may be the sheet, best first: those whose hull and completeness come near the best one's. (A fine check has more nodes
/// than the sheet, chance patches have many; neither covers as much as densely.)
pub fn promising(field: &Field<'_>, patches: Vec<Patch>, size: [usize; 2]) -> Vec<Patch> {
    let rate = |p: &Patch| {
        let pairs = p.cells.keys().flat_map(|&(i, j)| [(i + 1, j), (i, j + 1)]).filter(|a| p.cells.contains_key(a)).count();
        let complete = pairs as f64 / (2 * p.cells.len()) as f64;
        hull_area(p.cells.values().map(|&k| field.all[k].at).collect()) / (size[0] * size[1]) as f64 * complete * complete
    };
    let mut rated: Vec<(f64, Patch)> = patches.into_iter().map(|p| (rate(&p), p)).collect();
    rated.sort_by(|a, b| b.0.total_cmp(&a.0));
    let best = rated.first().map_or(0.0, |r| r.0);
    rated.into_iter().filter(|r| r.0 > PROMISING * best).map(|r| r.1).collect()
}

/// Area of the convex hull (Andrew's monotone chain, 1979), px².
fn hull_area(points: Vec<Px>) -> f64 {
    let hull = hull(points);
    let n = hull.len();
    (0..n).map(|k| hull[k].x * hull[(k + 1) % n].y - hull[(k + 1) % n].x * hull[k].y).sum::<f64>().abs() / 2.0
}

fn hull(mut points: Vec<Px>) -> Vec<Px> {
    points.sort_by(|a, b| a.x.total_cmp(&b.x).then(a.y.total_cmp(&b.y)));
    let half = |points: &mut dyn Iterator<Item = Px>| {
        let mut out: Vec<Px> = Vec::new();
        for p in points {
            while out.len() > 1 && (out[out.len() - 1] - out[out.len() - 2]).perp(&(p - out[out.len() - 1])) <= 0.0 {
                out.pop();
            }
            out.push(p);
        }
        out.pop();
        out
    };
    let mut lower = half(&mut points.iter().copied());
    lower.extend(half(&mut points.iter().rev().copied()));
    lower
}

/// Lattices that are not the same one grown from another seed. Input best first.
pub fn distinct(all: Vec<(f64, Whole)>) -> Vec<(f64, Whole)> {
    let mut kept: Vec<(f64, Whole)> = Vec::new();
    for (score, whole) in all {
        let mine: std::collections::BTreeSet<usize> = whole.patch.cells.values().copied().collect();
        let shared = |k: &Whole| k.patch.cells.values().filter(|c| mine.contains(c)).count();
        if !kept.iter().any(|(_, k)| 3 * shared(k) > mine.len()) {
            kept.push((score, whole));
        }
    }
    kept
}

/// Whether two lattices lie side by side: neither centre within the other's hull.
pub fn beside(a: &Found, b: &Found) -> bool {
    let hulls = [a, b].map(|f| hull(f.nodes.iter().map(|n| n.1).collect()));
    let centre = |h: &[Px]| Px::from(h.iter().map(|p| p.vector()).sum::<Vector2<f64>>() / h.len().max(1) as f64);
    !within(&hulls[0], centre(&hulls[1])) && !within(&hulls[1], centre(&hulls[0]))
}

/// Area hidden within a lattice's hull, px²: addresses of which neither themselves nor any neighbour is seen.
pub fn hidden(f: &Found, size: [usize; 2]) -> f64 {
    let seen: std::collections::BTreeSet<(i32, i32)> = f.nodes.iter().map(|n| n.0).collect();
    let outer = hull(f.nodes.iter().map(|n| n.1).collect());
    let bounds =
        seen.iter().fold([i32::MAX, i32::MIN, i32::MAX, i32::MIN], |b, a| [b[0].min(a.0), b[1].max(a.0), b[2].min(a.1), b[3].max(a.1)]);
    let mut area = 0.0;
    for j in bounds[2]..=bounds[3] {
        for i in bounds[0]..=bounds[1] {
            let near = (-1..=1).any(|y| (-1..=1).any(|x| seen.contains(&(i + x, j + y))));
            if !near && super::complete::inside(&f.map, (i, j), size).is_some_and(|p| within(&outer, p)) {
                area += f.map.frame(f64::from(i), f64::from(j)).map_or(0.0, |[u, v]| u.perp(&v).abs());
            }
        }
    }
    area
}

/// Whether lattice `a` lies round `b`: nearly all nodes of `b` within its hull, which is a good deal larger.
pub fn round(a: &Found, b: &Found) -> bool {
    let outer = hull(a.nodes.iter().map(|n| n.1).collect());
    let held = b.nodes.iter().filter(|n| within(&outer, n.1)).count();
    let area = |f: &Found| hull_area(f.nodes.iter().map(|n| n.1).collect());
    held * 20 > b.nodes.len() * 19 && area(a) > 1.15 * area(b)
}

fn within(hull: &[Px], p: Px) -> bool {
    let n = hull.len();
    (0..n).all(|k| (hull[(k + 1) % n] - hull[k]).perp(&(p - hull[k])) >= 0.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn hull_of_a_square_with_points_inside() {
        let points = [[0.0, 0.0], [4.0, 0.0], [4.0, 3.0], [0.0, 3.0], [1.0, 1.0], [2.0, 0.0]].map(Px::from);
        assert_eq!(hull(points.to_vec()).len(), 4);
        assert_eq!(hull_area(points.to_vec()), 12.0);
        assert!(within(&hull(points.to_vec()), Px::new(1.0, 2.0)) && !within(&hull(points.to_vec()), Px::new(5.0, 2.0)));
    }
}
