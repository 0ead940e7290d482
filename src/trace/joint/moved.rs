//! Whether the garment was moved between the pictures: where one sees the cloth's edge, another must not see cloth all round.

use super::super::session::Stages;
use crate::length::{Mm, Px};

/// An edge counts as amid the other's cloth when so far from all its lines, mm: beyond what pictures that are joined may disagree by.
const AMID: f64 = 6.0;
/// What lies this near to the frame, as a share of the picture's shorter side, is bent towards it, or is the frame itself.
const FRAME: f64 = 0.05;
/// So many points of an edge, about a millimetre apart, amid another's cloth are no chance.
const POINTS: usize = 60;

/// Two pictures (of so many columns and rows) of which one sees an edge amid the other's cloth, and how far in (the middle of all such points), mm.
pub(super) fn moved(stages: &[Stages], sizes: &[[usize; 2]]) -> Option<([usize; 2], f64)> {
    let pairs = (0..stages.len()).flat_map(|a| (0..stages.len()).map(move |b| [a, b])).filter(|[a, b]| a != b);
    let found = pairs.filter_map(|[a, b]| amid((&stages[a], sizes[a]), &stages[b]).map(|(count, depth)| ([a, b], count, depth)));
    found.max_by_key(|f| f.1).map(|(pair, _, depth)| (pair, depth))
}

/// How many points of the first one's edges lie amid the second one's cloth, and how deep.
fn amid((edges, size): (&Stages, [usize; 2]), cloth: &Stages) -> Option<(usize, f64)> {
    let [w, h] = size.map(|n| n as f64 - 1.0);
    let clear = |px: Px| px.x.min(w - px.x).min(px.y).min(h - px.y) > FRAME * w.min(h);
    let polygons: Vec<Vec<Mm>> = cloth.lines.pieces.iter().map(|p| p.outer.points.iter().map(|q| q.at).collect()).collect();
    let holes: Vec<Vec<Mm>> = cloth.lines.pieces.iter().flat_map(|p| &p.holes).map(|h| h.points.iter().map(|q| q.at).collect()).collect();
    let lines = || polygons.iter().chain(&holes).flatten();
    let seen = edges.lines.pieces.iter().flat_map(|p| &p.outer.points).filter(|p| !p.flags.cut && clear(p.px)).map(|p| p.at);
    let mut depths: Vec<f64> = seen
        .filter(|at| polygons.iter().any(|p| inside(p, *at)) && !holes.iter().any(|h| inside(h, *at)))
        .map(|at| lines().map(|q| q.distance(at)).fold(f64::INFINITY, f64::min))
        .filter(|depth| *depth > AMID)
        .collect();
    depths.sort_by(f64::total_cmp);
    (depths.len() >= POINTS).then(|| (depths.len(), depths[depths.len() / 2]))
}

/// Whether a point lies in a polygon (even-odd rule).
fn inside(polygon: &[Mm], at: Mm) -> bool {
    let n = polygon.len();
    let crosses = |k: usize| {
        let (a, b) = (polygon[k], polygon[(k + 1) % n]);
        (a.y <= at.y) != (b.y <= at.y) && at.x < a.x + (b.x - a.x) * (at.y - a.y) / (b.y - a.y)
    };
    (0..n).filter(|k| crosses(*k)).count() % 2 == 1
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn inside_a_bracket() {
        let bracket =
            [[0.0, 0.0], [9.0, 0.0], [9.0, 3.0], [3.0, 3.0], [3.0, 6.0], [9.0, 6.0], [9.0, 9.0], [0.0, 9.0]].map(|[x, y]| Mm::new(x, y));
        assert!(inside(&bracket, Mm::new(1.0, 4.0)) && inside(&bracket, Mm::new(8.0, 8.0)));
        assert!(!inside(&bracket, Mm::new(6.0, 4.5)) && !inside(&bracket, Mm::new(-1.0, 4.0)));
    }
}
