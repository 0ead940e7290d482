//! Darts that lay open and flat when they were seen: no edge stands for them, and what lies between their legs is closed before a seam is walked.

use super::bench::{Bench, REACH};
use super::draft::LiesOpen;
use super::layer::Layer;
use super::walk::Walk;
use crate::notes::{Dart, PieceLines, PieceNotes};
use kurbo::Point;

/// A dart by its legs' ends on the outline, with the edge that both lie on.
pub(super) struct OnEdge {
    dart: usize,
    edge: String,
}

/// The darts that lie open on the lines as they were found, each with its name: what a tape held along their edge does not measure.
pub(super) fn as_found(layer: &Layer, notes: &PieceNotes, legs: &[Option<[Point; 2]>]) -> Vec<(String, LiesOpen)> {
    let one = |(dart, legs): (&Dart, &Option<[Point; 2]>)| {
        let legs = legs.filter(|_| dart.other_point.is_none())?;
        let (k, _) = nearest(layer, legs).filter(|(_, off)| *off <= REACH)?;
        let walk = Walk::of(&layer.edges[k].path);
        let mut legs = legs.map(|leg| walk.nearest(leg).0);
        legs.sort_by(f64::total_cmp);
        Some((dart.name.clone(), LiesOpen { stretch: layer.edges[k].name.clone(), legs }))
    };
    notes.darts.iter().zip(legs).filter_map(one).collect()
}

/// On which edge each dart lies open; told of those whose legs do not both end on one.
pub(super) fn found(bench: &mut Bench, notes: &PieceNotes) -> Vec<OnEdge> {
    let mut out = Vec::new();
    for (k, dart) in notes.darts.iter().enumerate().filter(|(_, d)| d.legs.len() == 2 && d.other_point.is_none()) {
        let Some(legs) = bench.pins.mouths()[k] else { continue };
        match nearest(bench.piece.drafted(), legs) {
            Some((edge, off)) if off <= REACH => out.push(OnEdge { dart: k, edge: bench.piece.drafted().edges[edge].name.clone() }),
            _ => bench.undone(format!(
                "the dart \"{}\" can't be closed where seams are walked: its legs do not both end on one edge, within {REACH:.0} mm{}",
                dart.name,
                PieceLines::of(&notes.lines.darts, k)
            )),
        }
    }
    out
}

/// Notes how far along their edges, as those are drafted now, the darts lie open.
pub(super) fn noted(bench: &mut Bench, darts: Vec<OnEdge>) {
    for OnEdge { dart, edge } in darts {
        let Some((k, legs)) = bench.piece.drafted().edge(&edge).zip(bench.pins.mouths()[dart]) else { continue };
        let walk = Walk::of(&bench.piece.drafted().edges[k].path);
        let mut legs = legs.map(|leg| walk.nearest(leg).0);
        legs.sort_by(f64::total_cmp);
        bench.piece.lies_open(LiesOpen { stretch: edge, legs });
    }
}

/// The edge that both places are nearest to, and how far off it the worse of them is, mm.
fn nearest(layer: &Layer, legs: [Point; 2]) -> Option<(usize, f64)> {
    let off = |path| legs.map(|leg| Walk::of(path).nearest(leg).1).into_iter().fold(0.0, f64::max);
    let all = layer.edges.iter().enumerate().map(|(k, e)| (k, off(&e.path)));
    all.min_by(|a, b| a.1.total_cmp(&b.1))
}
