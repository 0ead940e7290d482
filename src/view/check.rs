//! What speaks for a view: nodes kept out of the fit, the field that is left over, how much of the picture nodes cover.

use super::camera::Pair;
use super::{Bend, View};
use crate::grid::Node;
use crate::length::{Mm, Px};
use crate::solve::median;
use nalgebra::Vector2;
use std::collections::BTreeMap;

/// Residuals of nodes that had no part in the fit.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct HeldOut {
    /// How many.
    pub nodes: usize,
    /// Root mean square distance, px of the picture.
    pub rms_px: f64,
    /// The same on the sheet, mm.
    pub rms_mm: f64,
}

/// The smooth part of what the model leaves: a sheet that does not lie flat shows here.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Field {
    /// Its greatest size, mm.
    pub most_mm: f64,
    /// Where.
    pub at: Mm,
    /// Address of the node there.
    pub node: [i32; 2],
}

/// Whether a node is kept out of the first fit: one in ten, spread evenly over rows and columns.
pub(super) fn kept_out(node: &Node) -> bool {
    (7 * i64::from(node.i) + 3 * i64::from(node.j)).rem_euclid(10) == 4
}

/// Root mean square misses of nodes by a view that never saw them. Wild ones (beyond `limit` px) are not counted.
pub(super) fn held_out(view: &View, pairs: &[Pair], limit: f64) -> HeldOut {
    let (mut nodes, mut px, mut mm) = (0, 0.0, 0.0);
    for p in pairs {
        let miss = view.to_px(p.mm, 0.0).distance(p.px);
        let Some(at) = view.to_mm(p.px, 0.0).filter(|_| miss <= limit) else { continue };
        nodes += 1;
        px += miss * miss;
        mm += (at - p.mm).norm_squared();
    }
    let mean = |sum: f64| if nodes > 0 { (sum / nodes as f64).sqrt() } else { f64::NAN };
    HeldOut { nodes, rms_px: mean(px), rms_mm: mean(mm) }
}

/// How many nodes of a neighbourhood must agree before it counts as a field rather than noise.
const SUPPORT: usize = 8;

/// Standard deviation, a coordinate, of misses that hold some wild ones: three quarters of a normal distribution's lie within 1.665 of it.
fn deviation(misses: &mut [f64]) -> f64 {
    let rank = misses.len() * 3 / 4;
    if misses.len() < SUPPORT { 0.0 } else { *misses.select_nth_unstable_by(rank, f64::total_cmp).1 / 1.665 }
}

/// Median residual over each node's 5 × 5 neighbourhood, mm: the greatest of them, all of them, and what they leave of nodes kept out of
/// them (standard deviation, mm).
pub(super) fn field(view: &View, nodes: &[Node], pairs: &[Pair], pitch: f64) -> (Field, Bend, f64) {
    let mut left = BTreeMap::new();
    for (node, pair) in nodes.iter().zip(pairs) {
        if let Some(at) = view.to_mm(pair.px, 0.0) {
            left.insert((node.i, node.j), (pair.mm, at - pair.mm));
        }
    }
    let out = |i: i32, j: i32| kept_out(&Node { at: Px::default(), i, j, error: 0.0 });
    let smooth = |i: i32, j: i32, all: bool| {
        let near: Vec<Vector2<f64>> = (-2..=2)
            .flat_map(|v| (-2..=2).map(move |u| (i.saturating_add(u), j.saturating_add(v))))
            .filter(|(i, j)| all || !out(*i, *j))
            .filter_map(|at| left.get(&at).map(|n| n.1))
            .collect();
        let middle = |axis: usize| median(&mut near.iter().map(|n| n[axis]).collect::<Vec<_>>()).unwrap_or(0.0);
        let told = Vector2::new(middle(0), middle(1));
        (near.len() >= SUPPORT).then(|| (told, beyond_noise(told, &near)))
    };
    let mut worst = Field { most_mm: 0.0, at: Mm::default(), node: [0, 0] };
    let mut bend = Bend { places: Vec::new(), pitch, followed: None };
    let mut unexplained = Vec::new();
    for (&(i, j), &(at, own)) in &left {
        if let Some((told, _)) = smooth(i, j, false).filter(|_| out(i, j)) {
            unexplained.push((own - told).norm());
        }
        let Some((size, bent)) = smooth(i, j, true) else { continue };
        bend.places.push((at, bent));
        if size.norm() > worst.most_mm {
            worst = Field { most_mm: size.norm(), at, node: [i, j] };
        }
    }
    (worst, bend, deviation(&mut unexplained))
}

/// What of the median of misses is no noise: the variance of a normal distribution's median is π/2 of its mean's (Kendall and Stuart 1969),
/// and of such medians all but one in a thousand lie within seven times that, both coordinates together: the greatest of all nodes counts where none
/// is near.
fn beyond_noise(told: Vector2<f64>, near: &[Vector2<f64>]) -> Vector2<f64> {
    let scatter = deviation(&mut near.iter().map(|n| (n - told).norm()).collect::<Vec<_>>());
    let noise = 7.0 * std::f64::consts::PI * scatter * scatter / near.len().max(1) as f64;
    told * (1.0 - noise / told.norm_squared().max(1e-12)).max(0.0).sqrt()
}

/// Share of the picture inside the nodes' convex hull (Andrew's monotone chain, 1979).
pub(super) fn coverage(points: impl Iterator<Item = Px>, width: usize, height: usize) -> f64 {
    let mut p: Vec<Vector2<f64>> = points.map(Px::vector).collect();
    p.sort_by(|a, b| a.x.total_cmp(&b.x).then(a.y.total_cmp(&b.y)));
    let chain = |points: &mut dyn Iterator<Item = Vector2<f64>>| {
        let mut hull: Vec<Vector2<f64>> = Vec::new();
        for p in points {
            while let [.., a, b] = hull[..] {
                if (b - a).perp(&(p - b)) > 0.0 {
                    break;
                }
                hull.pop();
            }
            hull.push(p);
        }
        hull
    };
    let mut hull = chain(&mut p.iter().copied());
    hull.extend(chain(&mut p.iter().rev().copied()));
    let doubled: f64 = hull.iter().zip(hull.iter().cycle().skip(1)).map(|(a, b)| a.perp(b)).sum();
    doubled.abs() / 2.0 / (width * height) as f64
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_square_of_nodes_covers_its_share() {
        let inner = (0..10).map(|k| Px::new(30.0 + f64::from(k), 35.0));
        let corners = [(20.0, 20.0), (70.0, 20.0), (70.0, 60.0), (20.0, 60.0)].map(|(x, y)| Px::new(x, y));
        assert!((coverage(corners.into_iter().chain(inner), 100, 80) - 0.25).abs() < 1e-12);
        assert_eq!(coverage(std::iter::empty(), 100, 80), 0.0);
    }

    #[test]
    fn one_in_ten_is_kept_out_in_every_row() {
        for j in -20..20 {
            let row = (0..100).filter(|&i| kept_out(&Node { at: Px::default(), i, j, error: 0.1 })).count();
            assert_eq!(row, 10);
        }
    }
}
