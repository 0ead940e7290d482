//! Whether the garment was moved between the pictures: where one sees the cloth's edge, another must not see cloth all round.

use super::super::session::Stages;
use crate::length::{Mm, Px};
use crate::path::SeamPath;
use kurbo::{BezPath, Shape};

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
    let lines = || cloth.lines.pieces.iter().flat_map(|p| std::iter::once(&p.outer).chain(&p.holes));
    let rims: Vec<BezPath> = cloth.lines.pieces.iter().map(|p| polygon(&p.outer)).collect();
    let holes: Vec<BezPath> = cloth.lines.pieces.iter().flat_map(|p| &p.holes).map(polygon).collect();
    let within = |all: &[BezPath], at: Mm| all.iter().any(|rim| rim.winding((at.x, at.y).into()) != 0);
    let seen = edges.lines.pieces.iter().flat_map(|p| &p.outer.points).filter(|p| !p.flags.cut && clear(p.px)).map(|p| p.at);
    let mut depths: Vec<f64> = seen
        .filter(|at| within(&rims, *at) && !within(&holes, *at))
        .map(|at| lines().flat_map(|l| &l.points).map(|q| q.at.distance(at)).fold(f64::INFINITY, f64::min))
        .filter(|depth| *depth > AMID)
        .collect();
    depths.sort_by(f64::total_cmp);
    (depths.len() >= POINTS).then(|| (depths.len(), depths[depths.len() / 2]))
}

/// A line as the polygon of its points.
fn polygon(line: &SeamPath) -> BezPath {
    let mut path = BezPath::new();
    for (k, p) in line.points.iter().enumerate() {
        if k == 0 { path.move_to((p.at.x, p.at.y)) } else { path.line_to((p.at.x, p.at.y)) }
    }
    path.close_path();
    path
}
