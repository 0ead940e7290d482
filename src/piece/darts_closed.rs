//! Measures along edges in which darts lay open, taken with those closed: a tape measures the garment as it is sewn (common practice, no source).

use super::layer::alike;
use super::measures::{Measure, Measured, Taken};
use crate::length::Mm;

/// A place this near to a corner, mm, is the corner.
const AT_CORNER: f64 = 0.01;
/// Edges that are no longer than this many times the straight line between their ends run beside it, as a hollowed waist does.
const BESIDE: f64 = 1.1;
/// A place that a person shows in a picture is known to this, mm, as those of `--at` are.
const PLACED: f64 = 0.25;

impl Measured<'_> {
    /// A measure along edges, or from corner to corner beside them, with the darts closed that lie open there.
    pub(super) fn closed(&self, m: Measure) -> Measure {
        let edges = match &m.taken {
            Taken::Along(edges) => edges.clone(),
            Taken::Straight(ends) => self.beside(*ends),
            Taken::Hole(_) => Vec::new(),
        };
        let names = || edges.iter().filter_map(|&k| self.layer.edges.get(k)).map(|e| e.name.as_str());
        let mouths: Vec<f64> = self.open.iter().filter(|o| names().any(|n| alike(n, &o.stretch))).map(|o| o.legs[1] - o.legs[0]).collect();
        let closed: f64 = mouths.iter().sum();
        let bound = m.bound.map(|b| b + 2.0 * PLACED * mouths.len() as f64);
        Measure { length: m.length - closed, closed, bound, ..m }
    }

    /// The edges that run beside a straight line from corner to corner.
    fn beside(&self, ends: [Mm; 2]) -> Vec<usize> {
        let n = self.layer.corners.len();
        let corner = |p: Mm| self.layer.corners.iter().position(|c| c.at.distance(p) < AT_CORNER);
        let Some((a, b)) = corner(ends[0]).zip(corner(ends[1])).filter(|(a, b)| a != b) else { return Vec::new() };
        let way = |a: usize, b: usize| (0..(b + n - a) % n).map(|k| (a + k) % n).collect::<Vec<usize>>();
        let long = |edges: &[usize]| edges.iter().map(|&k| self.layer.edges[k].length()).sum::<f64>();
        let [one, other] = [way(a, b), way(b, a)];
        let edges = if long(&one) < long(&other) { one } else { other };
        if long(&edges) <= BESIDE * ends[0].distance(ends[1]) { edges } else { Vec::new() }
    }
}
