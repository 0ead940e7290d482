//! What the notes place on a piece where it can't be: told with its line, whether or not it is to be opened, and not drawn.

use super::bench::{Bench, REACH};
use super::dart::within;
use super::layer::{Layer, alike};
use super::walk::Walk;
use crate::length::Mm;
use crate::notes::{Dart, Gather, Grain, GrainAlong, PieceLines, PieceNotes, Spot, crowded, legs_off};
use kurbo::{Point, Shape};

/// A fold is straight within this share of its length and this, mm; cloth that was moved is bent by less.
const BENT: (f64, f64) = (0.03, 6.35);
/// A tape and a picture differ by no more than this, mm: a quarter of an inch, as in `taped`.
const TAPED: f64 = 6.35;

/// Tells darts and pleats that can't lie where the notes have them, and takes them off the piece.
pub(super) fn misplaced(bench: &mut Bench, notes: &PieceNotes) {
    for (k, dart) in notes.darts.iter().enumerate() {
        if let Some(why) = dart_wrong(bench, k, dart) {
            bench.undone(format!("{why}{}", PieceLines::of(&notes.lines.darts, k)));
            bench.refused.push(dart.name.clone());
            bench.pins.legs[k].iter_mut().for_each(|leg| *leg = None);
            bench.pins.points[k] = [None; 2];
        }
    }
    for (k, pleat) in notes.pleats.iter().enumerate() {
        let [Some(a), Some(b)] = bench.pins.pleats[k] else { continue };
        if let Some(why) = crowded(pleat, a.distance(b)) {
            bench.undone(format!("{why}{}", PieceLines::of(&notes.lines.pleats, k)));
            bench.refused.push(pleat.name.clone());
            bench.pins.folds[k].clear();
        }
    }
    for (k, gather) in notes.gathers.iter().enumerate() {
        if let Some(why) = sewn_otherwise(bench, k, gather) {
            bench.undone(format!("{why}{}", PieceLines::of(&notes.lines.gathers, k)));
        }
    }
}

/// Whether gathers are noted as sewn to another length than they have on the piece as it was seen, by more than a tape may differ.
fn sewn_otherwise(bench: &Bench, k: usize, gather: &Gather) -> Option<String> {
    let sewn = gather.sewn?.mm();
    let [own] = bench.piece.edges_of(&gather.edge).0[..] else { return None };
    let walk = Walk::of(&bench.piece.drafted().edges[own].path);
    let seen = match bench.pins.gathers[k] {
        None => walk.length(),
        Some([Some(a), Some(b)]) => (walk.nearest(a).0 - walk.nearest(b).0).abs(),
        Some(_) => return None,
    };
    let name = &gather.name;
    ((sewn - seen).abs() > TAPED).then(|| format!("\"{name}\" is noted as {sewn:.1} mm long where it is sewn, and it is {seen:.1} mm in the picture; what was noted counts: measure it again, or leave sewn out and go by the picture"))
}

fn dart_wrong(bench: &Bench, k: usize, dart: &Dart) -> Option<String> {
    let layer = bench.piece.drafted();
    let name = &dart.name;
    let legs: Vec<Point> = bench.pins.legs[k].iter().copied().collect::<Option<_>>()?;
    let points: Vec<Point> = bench.pins.points[k].iter().flatten().copied().collect();
    let rim = Walk::of(&layer.outline());
    let outside = points.iter().map(|p| if layer.outline().contains(*p) { 0.0 } else { rim.nearest(*p).1 }).fold(0.0, f64::max);
    if outside > REACH {
        return Some(format!("the point of the dart \"{name}\" lies {outside:.0} mm outside the piece"));
    }
    match (legs.as_slice(), dart.other_point.is_some()) {
        ([mouth], false) => {
            let (edge, at, off) = bench.nearest(*mouth)?;
            if off > REACH {
                return Some(format!("the mouth of the dart \"{name}\" lies {off:.0} mm from the nearest edge"));
            }
            let on = Walk::of(&layer.edges[edge].path).at(at);
            let tip = *points.first()?;
            (!within(layer, on, tip)).then(|| format!("the dart \"{name}\" does not run within the piece from its mouth to its point"))
        }
        ([a, b], _) => dart.intake.and_then(|intake| legs_off(name, a.distance(*b), intake)),
        _ => None,
    }
}

/// Whether an edge is too far from straight to be a fold: by how much, mm.
pub(super) fn no_fold(layer: &Layer, edge: usize) -> Option<f64> {
    let walk = Walk::of(&layer.edges[edge].path);
    let (a, b) = (walk.at(0.0), walk.at(walk.length()));
    let way = (b - a) / a.distance(b).max(1e-9);
    let off = walk.steps(2.0).into_iter().map(|s| (walk.at(s) - a).cross(way).abs()).fold(0.0, f64::max);
    (off > (BENT.0 * walk.length()).max(BENT.1)).then_some(off)
}

/// The places between which the grain is said to run that lie off the cloth: by how much the worst of them, mm.
pub(super) fn off_cloth(layer: &Layer, grain: &Grain, at: &dyn Fn(&Spot) -> Option<Mm>) -> Option<f64> {
    let GrainAlong::Spots(spots) = &grain.along else { return None };
    let outline = layer.outline();
    let rim = Walk::of(&outline);
    let places = spots.iter().filter_map(at).map(|p| Point::new(p.x, p.y)).filter(|p| !outline.contains(*p));
    places.map(|p| rim.nearest(p).1).max_by(f64::total_cmp).filter(|off| *off > REACH)
}

/// Whether a thing of a name was told to lie where it can't.
pub(super) fn refused(bench: &Bench, name: &str) -> bool {
    bench.refused.iter().any(|r| alike(r, name))
}
