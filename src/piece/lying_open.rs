//! Darts that lay open and flat when they were seen: no edge stands for them, and what lies between their legs is closed before a seam is walked.

use super::bench::{Bench, REACH};
use super::draft::LiesOpen;
use super::layer::Layer;
use super::walk::Walk;
use super::welded::called_one;
use crate::notes::{Dart, PieceLines, PieceNotes};
use kurbo::Point;

/// A dart by its legs' ends on the outline.
pub(super) struct OnEdge {
    dart: usize,
    mouth: Vec<Part>,
}

/// A stretch of an edge that a dart's mouth takes up, from one of its legs to the other; from or to the end of the stretch where a corner parts the mouth, as the
/// peak of a shaped one does.
struct Part {
    stretch: String,
    legs: [Option<usize>; 2],
}

/// The darts that lie open on the lines as they were found, each with its name: what a tape held along their edge does not measure.
pub(super) fn as_found(layer: &Layer, notes: &PieceNotes, legs: &[Option<[Point; 2]>]) -> Vec<(String, LiesOpen)> {
    let one = |(dart, legs): (&Dart, &Option<[Point; 2]>)| {
        let legs = legs.filter(|_| dart.other_point.is_none())?;
        Some(opened(layer, &mouth(layer, legs)?, legs).into_iter().map(|open| (dart.name.clone(), open)).collect::<Vec<_>>())
    };
    notes.darts.iter().zip(legs).filter_map(one).flatten().collect()
}

/// On which edge each dart lies open; told of those whose legs do not both end on one.
pub(super) fn found(bench: &mut Bench, notes: &PieceNotes) -> Vec<OnEdge> {
    let mut out = Vec::new();
    for (k, dart) in notes.darts.iter().enumerate().filter(|(_, d)| d.legs.len() == 2 && d.other_point.is_none()) {
        let Some(legs) = bench.pins.mouths()[k] else { continue };
        match mouth(bench.piece.drafted(), legs) {
            Some(mouth) => out.push(OnEdge { dart: k, mouth }),
            None => bench.undone(format!(
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
    for OnEdge { dart, mouth } in darts {
        let Some(legs) = bench.pins.mouths()[dart] else { continue };
        opened(bench.piece.drafted(), &mouth, legs).into_iter().for_each(|open| bench.piece.lies_open(open));
    }
}

/// Where along their stretches the parts of a mouth lie.
fn opened(layer: &Layer, mouth: &[Part], legs: [Point; 2]) -> Vec<LiesOpen> {
    let one = |part: &Part| {
        let walk = Walk::of(&layer.edges[layer.edge(&part.stretch)?].path);
        let at = |end: usize| part.legs[end].map(|leg| walk.nearest(legs[leg]).0);
        let mut legs = [at(0).unwrap_or(0.0), at(1).unwrap_or(walk.length())];
        legs.sort_by(f64::total_cmp);
        Some(LiesOpen { stretch: part.stretch.clone(), legs })
    };
    mouth.iter().filter_map(one).collect()
}

/// What a mouth takes up: of the edge that both legs end on, or of stretches of one edge that follow one another.
fn mouth(layer: &Layer, legs: [Point; 2]) -> Option<Vec<Part>> {
    let name = |k: usize| layer.edges[k].name.clone();
    if let Some((k, _)) = nearest(layer, legs).filter(|(_, off)| *off <= REACH) {
        return Some(vec![Part { stretch: name(k), legs: [Some(0), Some(1)] }]);
    }
    let n = layer.edges.len();
    let own = |leg: Point| nearest(layer, [leg; 2]).filter(|(_, off)| *off <= REACH).map(|(k, _)| k);
    let [a, b] = [own(legs[0])?, own(legs[1])?];
    [([a, b], [0, 1]), ([b, a], [1, 0])].into_iter().find_map(|([from, to], [first, last])| {
        let count = (to + n - from) % n + 1;
        let own: Vec<usize> = (0..count).map(|j| (from + j) % n).collect();
        let one = count < n && own.iter().all(|&k| called_one(layer, k, from));
        let part = |j: usize| Part { stretch: name(own[j]), legs: [(j == 0).then_some(first), (j + 1 == count).then_some(last)] };
        one.then(|| (0..count).map(part).collect())
    })
}

/// The edge that both places are nearest to, and how far off it the worse of them is, mm.
fn nearest(layer: &Layer, legs: [Point; 2]) -> Option<(usize, f64)> {
    let off = |path| legs.map(|leg| Walk::of(path).nearest(leg).1).into_iter().fold(0.0, f64::max);
    let all = layer.edges.iter().enumerate().map(|(k, e)| (k, off(&e.path)));
    all.min_by(|a, b| a.1.total_cmp(&b.1))
}
