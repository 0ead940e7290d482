//! What a toile showed, carried over to the drafted lines: dated changes with the outline before and after.

use super::How;
use super::allowance::outward;
use super::bench::{Bench, REACH};
use super::draft::{Change, Piece, ends_between};
use super::layer::{Edge, Layer, alike, ends, mm, point};
use super::seam_line;
use super::share::{displaced, is_centre, slid_clear};
use super::walk::Walk;
use crate::notes::{Correction, Notes};
use kurbo::{Point, Vec2};

/// A place this near to a corner, mm, is the corner.
const AT_CORNER: f64 = 0.01;

/// Makes the corrections of the notes that are of this piece, in the order in which they stand.
pub(super) fn correct(bench: &mut Bench, notes: &Notes) {
    let own: Vec<&Correction> = notes.changes.iter().filter(|c| alike(&c.piece, &bench.piece.name)).collect();
    for c in own {
        let before = bench.piece.drafted().outline();
        match corrected(&bench.piece, bench.pins.centre, c) {
            Ok((lines, what)) => {
                follow(bench, &lines, c);
                let outlines = Some([before, lines.outline()]);
                let on = Some(c.on.text().to_owned());
                bench.redraft(lines, Change { by: c.by.clone(), on, why: c.why.clone(), outlines, ..Change::new(what, How::Chosen) });
            }
            Err(why) => bench.undone(format!("the change of {} was not made: {why}{}", c.on.text(), c.line)),
        }
    }
}

/// Takes the places that the notes have on corners and edges along with those, before the lines are drafted. What lies within the piece stays, and so do
/// the grain and a marked centre, by which it lies.
fn follow(bench: &mut Bench, after: &Layer, c: &Correction) {
    let before = bench.piece.drafted().clone();
    let out = c.edge.as_ref().zip(c.out).map(|(name, out)| (with_mouths(&bench.piece, name), out.mm()));
    let (centre, grain) = (bench.pins.centre, bench.pins.grain);
    bench.pins.carry(|p| Some(followed(&before, after, out.as_ref(), p)));
    (bench.pins.centre, bench.pins.grain) = (centre, grain);
}

/// Where a place lies after a correction; `out` are the edges that were moved out, and by how much, mm.
fn followed(before: &Layer, after: &Layer, out: Option<&(Vec<usize>, f64)>, p: Point) -> Point {
    if let Some((_, now)) = before.corners.iter().zip(&after.corners).find(|(was, _)| point(was.at).distance(p) < AT_CORNER) {
        return point(now.at);
    }
    let edges = before.edges.iter().enumerate().map(|(k, e)| (k, Walk::of(&e.path))).map(|(k, walk)| (k, walk.nearest(p), walk));
    let nearest = edges.min_by(|a, b| a.1.1.total_cmp(&b.1.1)).filter(|(_, (_, off), _)| *off < REACH);
    let Some((k, (far, _), walk)) = nearest.filter(|(k, ..)| before.edges[*k].path != after.edges[*k].path) else { return p };
    let now = Walk::of(&after.edges[k].path);
    let there = match out {
        Some((moved, by)) => {
            let by = if moved.contains(&k) { outward(walk.along(far)) * *by } else { Vec2::ZERO };
            now.at(now.nearest(walk.at(far) + by).0)
        }
        // Its ends were moved, and all between them in proportion.
        None => now.at(far / walk.length().max(1e-9) * now.length()),
    };
    there + (p - walk.at(far))
}

/// The lines after a correction, and what was done.
fn corrected(piece: &Piece, centre: [Option<Point>; 2], c: &Correction) -> Result<(Layer, String), String> {
    let lines = piece.drafted();
    let n = lines.edges.len();
    let missing = |what: &str, name: &str, all: Vec<&str>| format!("there is no {what} called \"{name}\"; there are {}", all.join(", "));
    let no_edge = |name: &str| missing("edge", name, lines.edges.iter().map(|e| e.name.as_str()).collect());
    match (&c.edge, c.out, c.longer, &c.corner, c.by_way) {
        (Some(name), Some(out), ..) => {
            let own = with_mouths(piece, name);
            if own.is_empty() {
                return Err(no_edge(name));
            }
            let inside: Vec<f64> = (0..n).map(|k| if own.contains(&k) { -out.mm() } else { 0.0 }).collect();
            let moved = seam_line(lines, &inside, How::Chosen)
                .map_err(|_| format!("{name} can't be moved out by {:+.1} mm: it or an edge beside it has no room for that", out.mm()))?;
            Ok((moved, format!("{name} moved out by {:+.1} mm", out.mm())))
        }
        (Some(name), None, Some(longer), ..) => {
            let own = piece.giving(name).ok_or_else(|| no_edge(name))?;
            let stays = |k: usize| is_centre(&lines.edges[k]) || lies_along(&lines.edges[k], centre);
            let slid = slid_clear(lines, own, longer.mm(), stays).map_err(|_| {
                let long = lines.edges[own].length();
                format!("{name} is {long:.1} mm long there and can't be made longer by {:+.1} mm; by half of it at most", longer.mm())
            })?;
            Ok((slid.layer, format!("{name} longer by {:+.1} mm, its corner {} moved {:.1} mm", longer.mm(), slid.corner, slid.moved)))
        }
        (.., Some(name), Some([right, down])) => {
            let none = || missing("corner", name, lines.corners.iter().map(|c| c.name.as_str()).collect());
            let k = lines.corner(name).ok_or_else(none)?;
            let by = Vec2::new(right.mm(), down.mm());
            let before = (k + n - 1) % n;
            let mut out = lines.clone();
            out.edges[before].path = displaced(&out.edges[before].path, Vec2::ZERO, by);
            out.edges[k].path = displaced(&out.edges[k].path, by, Vec2::ZERO);
            for e in [before, k] {
                out.edges[e].how = out.edges[e].how.drafted();
            }
            out.corners[k].at = mm(point(out.corners[k].at) + by);
            out.corners[k].error = None;
            out.check().map_err(|e| e.to_string())?;
            Ok((out, format!("{name} moved {:+.1} mm to the right and {:+.1} mm down", by.x, by.y)))
        }
        _ => Err("it names nothing to change".into()),
    }
}

/// Whether an edge lies along the centre that the notes mark.
pub(super) fn lies_along(edge: &Edge, centre: [Option<Point>; 2]) -> bool {
    let [Some(a), Some(b)] = centre else { return false };
    let way = (b - a) / a.distance(b).max(1e-9);
    ends(&edge.path).is_some_and(|(p, q)| [p, q].iter().all(|p| (*p - a).cross(way).abs() < REACH))
}

/// Numbers of an edge's stretches and of the mouths of the darts that part it: moved out, they move together.
fn with_mouths(piece: &Piece, edge: &str) -> Vec<usize> {
    let own = piece.edges_of(edge).0;
    let ends = ends_between(piece.drafted(), &own);
    own.into_iter().chain(ends).collect()
}
