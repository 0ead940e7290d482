//! A sheet that does not lie flat, followed: a smooth surface through what a view of a flat sheet leaves of its nodes.
//!
//! How smooth it is, nodes say that were kept out of it, and only where they lie much nearer to it than to a flat sheet is it believed.
//! What it is not known to is told by halves: nodes of either colour of a checkerboard foretold by those of the other.

use super::bend::Bend;
use super::camera::Pair;
use super::check;
use super::{Field, View};
use crate::grid::Node;
use crate::length::Mm;
use crate::solve::{Surface, SurfaceSample, median};
use nalgebra::{Matrix2, Vector2};
use std::collections::BTreeMap;

/// Nodes that are out by less than this, mm (root mean square), leave nothing to follow: printed sheets are no better.
const FLAT: f64 = 0.03;

/// A surface is believed when nodes kept out of it are out by less than this share of what they are out of flat.
const CONFIRMED: f64 = 0.7;

/// Penalties that are tried, smooth to rough, as multiples of the nodes there are to a coefficient.
const PENALTIES: [f64; 7] = [1e3, 1e2, 1e1, 1.0, 1e-1, 1e-2, 1e-3];

/// A rougher surface must foretell nodes better by this share.
const BETTER: f64 = 0.97;

/// Most knots along the longer side: what they cost grows with the fourth power.
const MOST_KNOTS: f64 = 30.0;

/// Fewest nodes that tell a surface from luck.
const FEWEST: usize = 60;

/// A node is wild when none of its neighbours is out like it, within this many times what neighbours mostly differ by and a little, mm.
const UNLIKE: (f64, f64) = (8.0, 0.05);

/// Share of kept-out nodes that lie within what is told as not explained.
const MOST_OF_THEM: f64 = 0.95;

/// Rounds after which a place is found to far below a micrometre, even on folds of one in ten.
const ROUNDS: usize = 8;

/// How a sheet lies that is not flat: every place of it looks like another one of a flat sheet.
#[derive(Clone, Debug, PartialEq)]
pub struct Buckle {
    /// What a place is out by along the sheet, mm: the one it looks like, less itself.
    pub out: Surface,
}

impl Buckle {
    /// One read from a record; `None` where its numbers are no surface.
    pub fn of(out: Surface) -> Option<Self> {
        out.is_whole().then_some(Self { out })
    }

    /// The place of a flat sheet that a place of this one looks like.
    pub(super) fn looks_like(&self, at: Mm) -> Mm {
        at + self.out.at(at.vector())
    }

    /// The place that looks like one of a flat sheet.
    pub(super) fn lies(&self, flat: Mm) -> Mm {
        (0..ROUNDS).fold(flat, |at, _| flat - self.out.at(at.vector()))
    }

    /// Derivative of [`Buckle::looks_like`].
    pub(super) fn slope(&self, at: Mm) -> Matrix2<f64> {
        Matrix2::identity() + self.out.slope(at.vector())
    }
}

/// A buckle that nodes kept out of it confirm.
#[derive(Clone, Debug)]
pub(super) struct Followed {
    pub buckle: Buckle,
    /// The same by the nodes that were not kept out.
    pub by_kept: Buckle,
    /// Where it is greatest.
    pub field: Field,
    /// What it is not known to.
    pub bend: Bend,
    /// What all but a few of the nodes kept out lie elsewhere, mm.
    pub unexplained: f64,
    /// Nodes that fit neither it nor each other.
    pub wild: Vec<bool>,
}

/// Follows what the view of a flat sheet leaves; `None` where that is next to nothing, or where nodes kept out do not confirm it.
pub(super) fn follow(flat: &View, nodes: &[Node], pairs: &[Pair], pitch: f64) -> Option<Followed> {
    let left = Left::of(flat, nodes, pairs, pitch)?;
    let (kept, spared): (Vec<Out>, Vec<Out>) = left.nodes.iter().partition(|n| !check::kept_out(&n.node()));
    let misses = |s: &Surface, of: &[Out]| of.iter().map(|n| (n.out - s.at(n.at.vector())).norm()).collect::<Vec<f64>>();
    let mut best: Option<(f64, f64, Surface)> = None;
    for penalty in PENALTIES {
        let Some(surface) = left.surface(&kept, penalty) else { continue };
        let miss = rms(misses(&surface, &spared).into_iter());
        if best.as_ref().is_none_or(|b| miss < BETTER * b.0) {
            best = Some((miss, penalty, surface));
        }
    }
    let (miss, penalty, by_kept) = best?;
    let flat = rms(spared.iter().map(|n| n.out.norm()));
    if miss.is_nan() || miss >= CONFIRMED * flat {
        return None;
    }
    let mut told = misses(&by_kept, &spared);
    told.sort_by(f64::total_cmp);
    let unexplained = told.get((told.len() as f64 * MOST_OF_THEM) as usize).copied()?;
    let (light, dark): (Vec<Out>, Vec<Out>) = left.nodes.iter().partition(|n| (n.i ^ n.j) & 1 == 0);
    let by_half = [(left.surface(&light, penalty)?, &dark), (left.surface(&dark, penalty)?, &light)];
    let places = by_half.iter().flat_map(|(s, of)| of.iter().map(|n| (n.at, n.out - s.at(n.at.vector())))).collect();
    let out = left.surface(&left.nodes, penalty)?;
    let size = |n: &&Out| out.at(n.at.vector()).norm();
    let worst = left.nodes.iter().max_by(|a, b| size(a).total_cmp(&size(b)))?;
    let field = Field { most_mm: size(&worst), at: worst.at, node: [worst.i, worst.j] };
    let bend = Bend { places, pitch, followed: Some(field.most_mm) };
    Some(Followed { buckle: Buckle { out }, by_kept: Buckle { out: by_kept }, field, bend, unexplained, wild: left.wild })
}

/// A node, where it lies on the sheet and what it is out by, mm.
#[derive(Clone, Copy)]
struct Out {
    i: i32,
    j: i32,
    at: Mm,
    out: Vector2<f64>,
}

impl Out {
    fn node(&self) -> Node {
        Node { i: self.i, j: self.j, at: crate::length::Px::default(), error: 0.0 }
    }
}

/// What a view leaves of nodes that some neighbour bears out, where that is worth following.
struct Left {
    nodes: Vec<Out>,
    wild: Vec<bool>,
    low: Vector2<f64>,
    step: f64,
    spans: [usize; 2],
}

impl Left {
    fn of(flat: &View, nodes: &[Node], pairs: &[Pair], pitch: f64) -> Option<Self> {
        let little = |all: &mut dyn Iterator<Item = f64>| rms(all) < FLAT;
        let mut all = BTreeMap::new();
        for (n, p) in nodes.iter().zip(pairs) {
            // Half a square out it is another node, or none.
            if let Some(out) = flat.to_mm(p.px, 0.0).map(|at| at - p.mm).filter(|out| out.norm() < pitch / 2.0) {
                all.insert((n.i, n.j), Out { i: n.i, j: n.j, at: p.mm, out });
            }
        }
        if all.len() < FEWEST || little(&mut all.values().map(|n| n.out.norm())) {
            return None;
        }
        let around = |n: &Out| {
            let near = |(u, v): (i32, i32)| all.get(&(n.i.saturating_add(u), n.j.saturating_add(v)));
            let steps = (-1..=1).flat_map(|v| (-1..=1).map(move |u| (u, v))).filter(|s| *s != (0, 0));
            steps.filter_map(near).map(|o: &Out| (o.out - n.out).norm()).fold(f64::INFINITY, f64::min)
        };
        let nearest: BTreeMap<(i32, i32), f64> = all.iter().map(|(k, n)| (*k, around(n))).collect();
        let usual = median(&mut nearest.values().copied().filter(|n| n.is_finite()).collect::<Vec<_>>()).unwrap_or(0.0);
        let tame = |k: &(i32, i32)| nearest.get(k).is_some_and(|n| *n <= UNLIKE.0 * usual + UNLIKE.1);
        let wild = nodes.iter().map(|n| !tame(&(n.i, n.j))).collect();
        let nodes: Vec<Out> = all.iter().filter(|(k, _)| tame(k)).map(|(_, n)| *n).collect();
        if nodes.len() < FEWEST || little(&mut nodes.iter().map(|n| n.out.norm())) {
            return None;
        }
        let ends = |of: fn(f64, f64) -> f64, from: f64| {
            nodes.iter().fold(Vector2::repeat(from), |e: Vector2<f64>, n| Vector2::new(of(e.x, n.at.x), of(e.y, n.at.y)))
        };
        let margin = Vector2::repeat(pitch);
        let (low, high) = (ends(f64::min, f64::INFINITY) - margin, ends(f64::max, f64::NEG_INFINITY) + margin);
        let size = high - low;
        let step = pitch.max(size.max() / MOST_KNOTS);
        let spans = [size.x, size.y].map(|s| if s.is_finite() { (s / step).ceil().clamp(1.0, MOST_KNOTS) as usize } else { 1 });
        Some(Self { nodes, wild, low, step, spans })
    }

    fn surface(&self, of: &[Out], penalty: f64) -> Option<Surface> {
        let samples: Vec<SurfaceSample> = of.iter().map(|n| SurfaceSample { at: n.at.vector(), value: n.out, weight: 1.0 }).collect();
        let each = samples.len() as f64 / self.spans.map(|s| s as f64).iter().product::<f64>();
        Surface::fit(&samples, self.low, self.step, self.spans, penalty * each)
    }
}

fn rms(of: impl Iterator<Item = f64>) -> f64 {
    let (sum, count) = of.fold((0.0, 0u32), |(sum, count), v| (sum + v * v, count + 1));
    (sum / f64::from(count.max(1))).sqrt()
}
