//! Pleats, tucks and gathers of the notes opened on the lines of a piece: along one edge, or across the whole of it.

use super::How;
use super::alike;
use super::bench::{Bench, Pins, REACH, shares};
use super::draft::Change;
use super::fan::{self, Slashes};
use super::fullness::{Stretch, spread};
use super::layer::{Edge, Layer, Line, mm};
use super::walk::Walk;
use crate::length::Mm;
use crate::notes::PieceNotes;
use kurbo::{Affine, ParamCurve, Point, Vec2};

/// An edge this much longer than straight, mm, is bent; and a length that changes by this, mm, is told.
const BENT: f64 = 0.05;
const TOLD: f64 = 0.5;
/// A dart that is as wide as it was within this, mm, is.
const WIDER: f64 = 0.01;
/// A line across the piece that would lean from the page's upright by less than this, degrees, is laid upright: along the grain.
const LEANS: f64 = 15.0;

pub(super) fn open_pleat(bench: &mut Bench, notes: &PieceNotes, k: usize) -> Result<(), String> {
    let pleat = &notes.pleats[k];
    let before = bench.pins.clone();
    let [a, b] = along(bench, &pleat.edge, Some(bench.pins.pleats[k]))?;
    let shares = shares(pleat, a.distance(b));
    let count = shares.len() as f64;
    let each = 2.0 * pleat.depth.mm();
    let (lines, too) = if let Some(across) = &pleat.across {
        let (lines, folds) = spread_at(bench, &pleat.edge, [a, b], &shares, each)?;
        as_full(bench.piece.drafted(), &lines, across)?;
        bench.pins.folds[k] = folds.into_iter().map(|f| f.map(Some)).collect();
        let too = changed_too(bench.piece.drafted(), &lines, &pleat.edge);
        (lines, too)
    } else {
        let (at, shares, back) = slashes(bench, &pleat.edge, [a, b], &shares)?;
        let open = fan::pleated(bench.piece.drafted(), &at, &shares, each).map_err(|e| e.to_string())?;
        bench.pins.carry(|p| Some(open.carried(p)));
        let mut slits = open.slits;
        if back {
            slits.reverse();
            slits.iter_mut().for_each(|(sides, _)| sides.reverse());
        }
        bench.pins.folds[k] = slits.iter().map(|(sides, _)| sides.map(Some)).collect();
        bench.pins.pivots[k] = slits.iter().map(|(_, to)| Some(*to)).collect();
        (open.layer, to_nothing(bench.piece.drafted(), &at))
    };
    darts_keep(bench, notes, &before)?;
    let many = if count > 1.0 { format!("{count:.0} pleats") } else { "1 pleat".into() };
    let what =
        format!("\"{}\" opened: {many} of {:.1} mm, {:.1} mm in all along {}{too}", pleat.name, pleat.depth.mm(), each * count, pleat.edge);
    bench.piece.sew(&pleat.edge, each * count, None);
    bench.redraft(lines, Change::new(what, How::Chosen));
    Ok(())
}

pub(super) fn open_gather(bench: &mut Bench, notes: &PieceNotes, k: usize) -> Result<(), String> {
    let gather = &notes.gathers[k];
    let before = bench.pins.clone();
    let [a, b] = along(bench, &gather.edge, bench.pins.gathers[k])?;
    let full = gather.full.ok_or("its full length, drawn out flat, is not noted")?.mm();
    let sewn = match gather.sewn {
        Some(sewn) => sewn.mm(),
        None => long_as_sewn(bench, &gather.edge, [a, b])?,
    };
    if full <= sewn {
        return Err(format!("it is {full:.1} mm long drawn out and {sewn:.1} mm as found, so there is nothing to spread"));
    }
    let (lines, how) = if let Some(across) = &gather.across {
        let (lines, by) = gathered(bench, &gather.edge, [a, b], full - sewn)?;
        as_full(bench.piece.drafted(), &lines, across)?;
        let too = changed_too(bench.piece.drafted(), &lines, &gather.edge);
        (lines, format!(", {by:.1} mm across the piece{too}"))
    } else {
        let (at, ..) = slashes(bench, &gather.edge, [a, b], &[0.0, 1.0])?;
        let open = fan::gathered(bench.piece.drafted(), &at, full - sewn).map_err(|e| e.to_string())?;
        bench.pins.carry(|p| Some(open.carried(p)));
        (open.layer, to_nothing(bench.piece.drafted(), &at))
    };
    darts_keep(bench, notes, &before)?;
    let what = format!("\"{}\" spread from {sewn:.1} to {full:.1} mm along {}, evenly{how}", gather.name, gather.edge);
    bench.piece.sew(&gather.edge, full - sewn, None);
    bench.redraft(lines, Change::new(what, How::Chosen));
    Ok(())
}

/// The piece stretched between both ends of gathers, straight in from the edge, until that is longer by `more` mm; and how wide the strip became,
/// mm. Spread at ever more places the edge runs on as it did, without steps.
fn gathered(bench: &mut Bench, edge: &str, [a, b]: [Point; 2], more: f64) -> Result<(Layer, f64), String> {
    let into = across(bench, edge, [a, b], 2)?;
    let away = if into.turn_90().dot(b - a) < 0.0 { -into.turn_90() } else { into.turn_90() };
    let layer = bench.piece.drafted();
    for share in [0.25, 0.5, 0.75] {
        // As where it is spread by hand: a line across meets the edge, and what lies across from it.
        spread(layer, mm(a.lerp(b, share)), into, more).map_err(|e| e.to_string())?;
    }
    let (own, _) = bench.piece.edges_of(edge);
    let long = |l: &Layer| own.iter().map(|&k| l.edges[k].length()).sum::<f64>();
    let before = long(layer);
    // A dart is as wide between gathers as it is anywhere.
    let darts: Vec<[Mm; 2]> = bench.pins.mouths().into_iter().flatten().map(|m| m.map(mm)).collect();
    let stretch = |by: f64| Stretch::of([mm(a), mm(b)], away, by, &darts).ok_or("between its ends there is nothing to spread");
    let mut by = more;
    let mut lines = layer.clone();
    // Nearly one for one: the secant needs few steps.
    for _ in 0..20 {
        lines = stretch(by)?.layer(layer).map_err(|e| e.to_string())?;
        let off = long(&lines) - before - more;
        if off.abs() < 1e-9 {
            break;
        }
        by -= off;
    }
    straight_fold(&lines)?;
    let stretch = stretch(by)?;
    bench.pins.carry(|p| Some(stretch.moved(p)));
    Ok((lines, by))
}

/// Where the piece is slashed from an edge between two places to the edge across; the shares of the way at which it is, clockwise, and whether that is
/// the other way round than the places.
fn slashes(bench: &Bench, edge: &str, [a, b]: [Point; 2], shares: &[f64]) -> Result<(Slashes, Vec<f64>, bool), String> {
    let into = across(bench, edge, [a, b], shares.len())?;
    let layer = bench.piece.drafted();
    let on = |p: Point| bench.nearest_on(edge, p).ok_or_else(|| format!("there is no edge called \"{edge}\""));
    let ((own, from), (other, to)) = (on(a)?, on(b)?);
    if own != other {
        return Err(format!("a dart parts {edge} between its ends; say across = \"…\", the edge that is as full"));
    }
    let back = from > to;
    let ([a, b], on) = if back { ([b, a], [to, from]) } else { ([a, b], [from, to]) };
    let hit = |p: Point, k: usize| {
        let ray = kurbo::Line::new(p, p + into * 1e4);
        let hits = layer.edges[k].path.segments().flat_map(|s| s.intersect_line(ray)).map(|h| h.line_t).filter(|t| *t > 1e-4);
        hits.min_by(f64::total_cmp).map(|t| (t, ray.eval(t)))
    };
    let middle = Walk::of(&layer.edges[own].path).at(0.5 * (on[0] + on[1]));
    let others = (0..layer.edges.len()).filter(|k| *k != own).filter_map(|k| hit(middle, k).map(|(t, _)| (t, k)));
    let (_, far) = others.min_by(|p, q| p.0.total_cmp(&q.0)).ok_or_else(|| format!("nothing lies across from {edge} there"))?;
    if let Some(fold) = [own, far].iter().map(|&k| &layer.edges[k]).find(|e| e.line == Line::Fold) {
        return Err(bends(fold));
    }
    let walk = Walk::of(&layer.edges[far].path);
    let place = |p: Point, beside: f64| hit(p, far).map_or(beside, |(_, q)| walk.nearest(q).0);
    // Where the edge across ends before, its end is as far as slashes go.
    let to = [place(a, walk.length()), place(b, 0.0)];
    if to[0] < to[1] {
        return Err(format!("{} does not lie across from all of it; say across = \"…\", the edge that is as full", layer.edges[far].name));
    }
    let shares = if back { shares.iter().rev().map(|s| 1.0 - s).collect() } else { shares.to_vec() };
    Ok((Slashes { own, on, across: far, to }, shares, back))
}

fn to_nothing(layer: &Layer, at: &Slashes) -> String {
    format!(", to nothing at {}, which keeps its length", layer.edges[at.across].name)
}

/// Lets darts keep their shape where the piece was spread: their points move as their mouths do.
///
/// # Errors
/// One would be wider.
fn darts_keep(bench: &mut Bench, notes: &PieceNotes, before: &Pins) -> Result<(), String> {
    for (k, (was, is)) in before.mouths().into_iter().zip(bench.pins.mouths()).enumerate() {
        let Some((was, is)) = was.zip(is) else { continue };
        let wider = is[0].distance(is[1]) - was[0].distance(was[1]);
        if wider.abs() > WIDER {
            let dart = &notes.darts[k].name;
            return Err(format!("it would make the dart \"{dart}\" {wider:+.1} mm wide; place it beside that dart, to one side of it"));
        }
        let turn = (is[1] - is[0]).atan2() - (was[1] - was[0]).atan2();
        let by = Affine::translate(is[0] - was[0]) * Affine::rotate_about(turn, was[0]);
        bench.pins.points[k] = before.points[k].map(|p| p.map(|p| by * p));
    }
    Ok(())
}

/// Whether the edge that is said to be as full got longer, when a piece was spread all the way.
fn as_full(before: &Layer, after: &Layer, across: &str) -> Result<(), String> {
    let k = before.edge(across).ok_or_else(|| format!("there is no edge called \"{across}\" across from it"))?;
    let longer = after.edges[k].length() - before.edges[k].length() > TOLD;
    longer.then_some(()).ok_or_else(|| format!("{across} does not lie across from it"))
}

/// From where to where along an edge.
fn along(bench: &Bench, edge: &str, between: Option<[Option<Point>; 2]>) -> Result<[Point; 2], String> {
    let (own, _) = bench.piece.edges_of(edge);
    let (first, last) = own.first().zip(own.last()).ok_or_else(|| format!("there is no edge called \"{edge}\""))?;
    let walk = |k: usize| Walk::of(&bench.piece.drafted().edges[k].path);
    match between {
        None => Ok([walk(*first).at(0.0), walk(*last).at(walk(*last).length())]),
        Some([Some(a), Some(b)]) => Ok([a, b]),
        Some(_) => Err("where it starts or ends can't be told, or went with the other half".into()),
    }
}

/// How long an edge is between two places on it once its darts are closed, mm.
fn long_as_sewn(bench: &Bench, edge: &str, ends: [Point; 2]) -> Result<f64, String> {
    let (own, _) = bench.piece.edges_of(edge);
    let place = |p: Point| {
        let (k, far) = bench.nearest_on(edge, p)?;
        Some((own.iter().position(|o| *o == k)?, far))
    };
    let [Some(mut a), Some(mut b)] = ends.map(place) else { return Err(format!("there is no edge called \"{edge}\"")) };
    if (b.0, b.1) < (a.0, a.1) {
        std::mem::swap(&mut a, &mut b);
    }
    let walks: Vec<Walk> = own.iter().map(|&k| Walk::of(&bench.piece.drafted().edges[k].path)).collect();
    let length = |i: usize| {
        let from = if i == a.0 { a.1 } else { 0.0 };
        let to = if i == b.0 { b.1 } else { walks[i].length() };
        let within = |p: Point| Some(walks[i].nearest(p)).filter(|n| n.1 < REACH).map(|n| n.0.clamp(from, to));
        // Darts that lie open in it.
        let open = bench.pins.mouths().into_iter().flatten().filter_map(|[p, q]| Some((within(p)? - within(q)?).abs()));
        to - from - open.sum::<f64>()
    };
    Ok((a.0..=b.0).map(length).sum())
}

/// Straight in from an edge between two places, up or down the page where that is near.
fn across(bench: &Bench, edge: &str, [a, b]: [Point; 2], count: usize) -> Result<Vec2, String> {
    let (k, far) = bench.nearest_on(edge, a.midpoint(b)).ok_or_else(|| format!("there is no edge called \"{edge}\""))?;
    let way = bench.inward(k, far);
    let chord = (b - a).hypot();
    // Straight across from one end to the other, into the piece; up or down the page where that is near. A single pleat has one place.
    let across = match (chord >= 1.0, count) {
        (true, _) => ((b - a) / chord).turn_90(),
        (false, 1) => way,
        (false, _) => return Err("it starts and ends at one place".into()),
    };
    let mut into = if across.dot(way) < 0.0 { -across } else { across };
    if into.x.abs() < into.y.abs() * LEANS.to_radians().tan() {
        into = Vec2::new(0.0, into.y.signum());
    }
    Ok(into)
}

/// Spreads the piece by `each` mm along lines across it, straight in from the edge, at shares of the way from one place to another. Also
/// both sides of each spread on the edge.
fn spread_at(bench: &mut Bench, edge: &str, [a, b]: [Point; 2], shares: &[f64], each: f64) -> Result<(Layer, Vec<[Point; 2]>), String> {
    let into = across(bench, edge, [a, b], shares.len())?;
    let away = -into.turn_90();
    let mut places: Vec<Point> = shares.iter().map(|s| a.lerp(b, *s)).collect();
    // What moves first must not carry along places that are still to come.
    places.sort_by(|p, q| away.dot(q.to_vec2()).total_cmp(&away.dot(p.to_vec2())));
    let mut lines = bench.piece.drafted().clone();
    let mut pins = bench.pins.clone();
    let mut sides: Vec<[Point; 2]> = Vec::new();
    for at in places {
        lines = spread(&lines, mm(at), into, each).map_err(|e| e.to_string())?;
        let moved = |p: Point| if away.dot(p - at) > 1e-9 { p + away * each } else { p };
        pins.carry(|p| Some(moved(p)));
        sides.iter_mut().flatten().for_each(|p| *p = moved(*p));
        sides.push([at, at + away * each]);
    }
    straight_fold(&lines)?;
    bench.pins = pins;
    Ok((lines, sides))
}

/// What is placed on the fold must stay straight.
fn straight_fold(lines: &Layer) -> Result<(), String> {
    if let Some(fold) = lines.edges.iter().find(|e| e.line == Line::Fold && bent(e)) {
        return Err(bends(fold));
    }
    Ok(())
}

fn bends(fold: &Edge) -> String {
    format!("it would bend {}, which is placed on the fold and stays straight; draw the piece whole, or open it by hand", fold.name)
}

/// Whether an edge is longer than straight from end to end.
fn bent(edge: &Edge) -> bool {
    let walk = Walk::of(&edge.path);
    walk.length() - walk.at(0.0).distance(walk.at(walk.length())) > BENT
}

/// Edges other than the one that was opened whose length that changed, in words.
fn changed_too(before: &Layer, after: &Layer, edge: &str) -> String {
    let told = before.edges.iter().filter(|e| !alike(&e.name, edge)).filter_map(|e| {
        let by = after.edges[after.edge(&e.name)?].length() - e.length();
        (by.abs() > TOLD).then(|| format!("{} by {by:+.1} mm", e.name))
    });
    let told: Vec<String> = told.collect();
    if told.is_empty() { String::new() } else { format!("; what lies across from it changes too: {}", told.join(", ")) }
}
