//! What the notes place on a piece where it can't be: told with its line, whether or not it is to be opened, and not drawn.

use super::bench::{Bench, REACH};
use super::dart::within;
use super::layer::{Layer, alike};
use super::page::called_centre;
use super::walk::Walk;
use crate::length::Mm;
use crate::notes::{Dart, Gather, Grain, GrainAlong, GrainRuns, PieceLines, PieceNotes, Pleat, Spot, crowded, legs_off, slack};
use kurbo::{Point, Shape};
use std::ops::RangeInclusive;

/// A fold is straight within this share of its length and this, mm; cloth that was moved is bent by less.
const BENT: (f64, f64) = (0.03, 6.35);
/// And one that bends further than this is told, mm: 1/16 in, the trade's tolerance of a seam.
const UNEVEN: f64 = 1.5875;
/// Legs of a dart that are sewn together differ by no more than this, mm: 1/8 in, for a person points to each (common practice, no source).
const LEGS: f64 = 3.175;
/// An edge that leans by this against the grain may be what the grain is meant to run along, degrees: flare is more, what a person can't see less.
const LEANS: RangeInclusive<f64> = 0.5..=20.0;
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
        } else if let Some(why) = legs_unequal(bench, k, dart) {
            bench.undone(format!("{why}{}", PieceLines::of(&notes.lines.darts, k)));
        }
    }
    for (k, pleat) in notes.pleats.iter().enumerate() {
        let [Some(a), Some(b)] = bench.pins.pleats[k] else { continue };
        let off = off_edge(bench, &pleat.name, &pleat.edge, [a, b]);
        if let Some(why) = off.or_else(|| crowded(pleat, a.distance(b))).or_else(|| stitched_beyond(bench.piece.drafted(), pleat, a)) {
            bench.undone(format!("{why}{}", PieceLines::of(&notes.lines.pleats, k)));
            bench.refused.push(pleat.name.clone());
            bench.pins.folds[k].clear();
        }
    }
    for (k, gather) in notes.gathers.iter().enumerate() {
        let ends = bench.pins.gathers[k].and_then(|[a, b]| Some([a?, b?]));
        if let Some(why) = ends.and_then(|ends| off_edge(bench, &gather.name, &gather.edge, ends)) {
            bench.undone(format!("{why}{}", PieceLines::of(&notes.lines.gathers, k)));
            bench.refused.push(gather.name.clone());
            bench.pins.gathers[k] = Some([None; 2]);
        } else if let Some(why) = sewn_otherwise(bench, k, gather) {
            bench.undone(format!("{why}{}", PieceLines::of(&notes.lines.gathers, k)));
        }
    }
    for (k, mark) in notes.marks.iter().enumerate() {
        if let Some(off) = bench.pins.marks[k].and_then(|p| beyond(bench.piece.drafted(), p)) {
            bench.undone(format!("the mark \"{}\" lies {off:.0} mm off the cloth{}", mark.name, PieceLines::of(&notes.lines.marks, k)));
            bench.pins.marks[k] = None;
        }
    }
    if let Some(off) = bench.pins.centre.iter().flatten().filter_map(|p| beyond(bench.piece.drafted(), *p)).max_by(f64::total_cmp) {
        bench.undone(format!("a place on its centre lies {off:.0} mm off the cloth{}", notes.lines.centre));
        bench.pins.centre = [None; 2];
    }
}

/// How far a place lies off the cloth, outside its outline or within a hole, where that is more than a person points beside the rim, mm.
fn beyond(layer: &Layer, p: Point) -> Option<f64> {
    let outline = layer.outline();
    let hole = layer.holes.iter().find(|h| h.contains(p));
    let rim = match hole {
        Some(hole) => hole,
        None if outline.contains(p) => return None,
        None => &outline,
    };
    Some(Walk::of(rim).nearest(p).1).filter(|off| *off > REACH)
}

/// Whether one of the places between which fullness lies is not on its edge.
fn off_edge(bench: &Bench, name: &str, edge: &str, places: [Point; 2]) -> Option<String> {
    let layer = bench.piece.drafted();
    let own: Vec<Walk> = bench.piece.edges_of(edge).0.into_iter().map(|k| Walk::of(&layer.edges[k].path)).collect();
    let off = places.iter().filter_map(|p| own.iter().map(|w| w.nearest(*p).1).min_by(f64::total_cmp)).fold(0.0, f64::max);
    (off > REACH).then(|| format!("\"{name}\" starts or ends {off:.0} mm from {edge}, on which it is noted"))
}

/// Whether a pleat is stitched further down than the piece reaches from there in any direction.
fn stitched_beyond(layer: &Layer, pleat: &Pleat, from: Point) -> Option<String> {
    let down = pleat.stitched_down?.mm();
    let walk = Walk::of(&layer.outline());
    let reach = walk.steps(5.0).into_iter().map(|s| walk.at(s).distance(from)).fold(0.0, f64::max);
    (down > reach + REACH)
        .then(|| format!("\"{}\" is stitched down {down:.0} mm, and the piece reaches {reach:.0} mm from there", pleat.name))
}

/// Whether gathers are noted as sewn to another length than they have on the piece as it was seen, by more than a tape may differ; or by elastic that is
/// longer than that.
fn sewn_otherwise(bench: &Bench, k: usize, gather: &Gather) -> Option<String> {
    let [own] = bench.piece.edges_of(&gather.edge).0[..] else { return None };
    let walk = Walk::of(&bench.piece.drafted().edges[own].path);
    let seen = match bench.pins.gathers[k] {
        None => walk.length(),
        Some([Some(a), Some(b)]) => (walk.nearest(a).0 - walk.nearest(b).0).abs(),
        Some(_) => return None,
    };
    let Some(sewn) = gather.sewn.map(|l| l.mm()) else { return slack(gather, seen) };
    let name = &gather.name;
    ((sewn - seen).abs() > TAPED).then(|| format!("\"{name}\" is noted as {sewn:.1} mm long where it is sewn, and it is {seen:.1} mm in the picture; what was noted counts: measure it again, or leave sewn out and go by the picture"))
}

fn dart_wrong(bench: &Bench, k: usize, dart: &Dart) -> Option<String> {
    let layer = bench.piece.drafted();
    let name = &dart.name;
    let legs: Vec<Point> = bench.pins.legs[k].iter().copied().collect::<Option<_>>()?;
    let points: Vec<Point> = bench.pins.points[k].iter().flatten().copied().collect();
    if let Some(outside) = points.iter().filter_map(|p| beyond(layer, *p)).max_by(f64::total_cmp) {
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
        ([wide], true) => {
            beyond(layer, *wide).map(|off| format!("the widest place of the dart \"{name}\" lies {off:.0} mm outside the piece"))
        }
        ([a, b], false) => {
            if let Some(off) = [a, b].into_iter().filter_map(|leg| beyond(layer, *leg)).max_by(f64::total_cmp) {
                return Some(format!("a leg of the dart \"{name}\" ends {off:.0} mm off the cloth"));
            }
            dart.intake.and_then(|intake| legs_off(name, a.distance(*b), intake))
        }
        ([a, b], _) => dart.intake.and_then(|intake| legs_off(name, a.distance(*b), intake)),
        _ => None,
    }
}

/// Whether the legs of a dart that lies open are not as long as one another.
fn legs_unequal(bench: &Bench, k: usize, dart: &Dart) -> Option<String> {
    let [Some(a), Some(b)] = bench.pins.legs[k][..] else { return None };
    let tip = bench.pins.points[k][0].filter(|_| dart.other_point.is_none())?;
    let [a, b] = [a, b].map(|leg| leg.distance(tip));
    ((a - b).abs() > LEGS).then(|| {
        format!(
            "the legs of the dart \"{}\", which are sewn together, are {a:.1} and {b:.1} mm long; look at where they end and at its point",
            dart.name
        )
    })
}

/// How far an edge bends from straight, mm.
fn bend(layer: &Layer, edge: usize) -> f64 {
    let walk = Walk::of(&layer.edges[edge].path);
    let (a, b) = (walk.at(0.0), walk.at(walk.length()));
    let way = (b - a) / a.distance(b).max(1e-9);
    walk.steps(2.0).into_iter().map(|s| (walk.at(s) - a).cross(way).abs()).fold(0.0, f64::max)
}

/// Whether an edge is too far from straight to be a fold: by how much, mm.
pub(super) fn no_fold(layer: &Layer, edge: usize) -> Option<f64> {
    Some(bend(layer, edge)).filter(|off| *off > (BENT.0 * layer.edges[edge].length()).max(BENT.1))
}

/// Whether a fold bends further from straight than cloth that lies flat: by how much, mm.
pub(super) fn bent_fold(layer: &Layer, edge: usize) -> Option<f64> {
    Some(bend(layer, edge)).filter(|off| *off > UNEVEN)
}

/// The places between which the grain is said to run that lie off the cloth: by how much the worst of them, mm.
pub(super) fn off_cloth(layer: &Layer, grain: &Grain, at: &dyn Fn(&Spot) -> Option<Mm>) -> Option<f64> {
    let GrainAlong::Spots(spots) = &grain.along else { return None };
    spots.iter().filter_map(at).filter_map(|p| beyond(layer, Point::new(p.x, p.y))).max_by(f64::total_cmp)
}

/// Of a piece that is cut in mirrored pairs, half of what it is part of, a straight edge that its assumed centre line leans against: the name of the
/// edge and by how much, degrees. The middles of a half's widths lie on no centre.
pub(super) fn leaning(drafted: &Layer, notes: &PieceNotes) -> Option<(String, f64)> {
    let along = notes.grain.as_ref().is_some_and(|g| g.along == GrainAlong::Centre && g.runs == GrainRuns::Lengthwise);
    let assumed = along && notes.centre.is_none() && notes.fold.is_none();
    if !assumed || called_centre(drafted).is_some() || !notes.cut.as_ref().is_some_and(|c| c.mirrored) {
        return None;
    }
    let high = drafted.outline().bounding_box().height();
    let straight = (0..drafted.edges.len()).filter(|k| drafted.edges[*k].length() > high / 2.0 && bend(drafted, *k) < UNEVEN);
    let leans = straight.filter_map(|k| {
        let way = Walk::of(&drafted.edges[k].path);
        let way = way.at(way.length()) - way.at(0.0);
        let off = way.x.abs().atan2(way.y.abs()).to_degrees();
        LEANS.contains(&off).then(|| (drafted.edges[k].name.clone(), off))
    });
    leans.min_by(|a, b| a.1.total_cmp(&b.1))
}

/// Whether a thing of a name was told to lie where it can't.
pub(super) fn refused(bench: &Bench, name: &str) -> bool {
    bench.refused.iter().any(|r| alike(r, name))
}
