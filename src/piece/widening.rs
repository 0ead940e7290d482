//! Pleats, tucks and gathers of the notes opened on the lines of a piece: along one edge, or across the whole of it.

use super::How;
use super::alike;
use super::bench::{Bench, Pins, REACH, shares};
use super::draft::Change;
use super::fan;
use super::fullness::{Stretch, spread};
use super::layer::{Layer, mm};
use super::slashing::{Slashes, across, proportional, slashes, stays_straight, still};
use super::walk::Walk;
use crate::length::Mm;
use crate::notes::PieceNotes;
use kurbo::{Affine, Point};

/// A length that changes by this, mm, is told.
const TOLD: f64 = 0.5;
/// Lines that meet so many times as far off as they are long run beside each other.
const NEVER: f64 = 1e9;
/// A dart that is as wide as it was within this, mm, is.
const WIDER: f64 = 0.01;

pub(super) fn open_pleat(bench: &mut Bench, notes: &PieceNotes, k: usize) -> Result<(), String> {
    let pleat = &notes.pleats[k];
    let before = bench.pins.clone();
    let [a, b] = along(bench, &pleat.edge, Some(bench.pins.pleats[k]))?;
    let shares = shares(pleat, a.distance(b));
    let count = shares.len() as f64;
    let each = 2.0 * pleat.depth.mm();
    let through = pleat.across.as_ref().and_then(|across| proportional(bench, &pleat.edge, [a, b], &shares, across));
    let (lines, too) = if let Some(across) = pleat.across.as_ref().filter(|_| through.is_none()) {
        let (lines, folds) = spread_at(bench, (&pleat.edge, across), [a, b], &shares, each)?;
        as_full(bench.piece.drafted(), &lines, across)?;
        bench.pins.folds[k] = folds.into_iter().map(|f| f.map(Some)).collect();
        let too = changed_too(bench.piece.drafted(), &lines, &pleat.edge);
        (lines, too)
    } else {
        let (at, shares, back) = through.map_or_else(|| slashes(bench, &pleat.edge, [a, b], &shares), Ok)?;
        let open = fan::pleated(at.layer(bench.piece.drafted()), &at, &shares, each).map_err(|e| e.to_string())?;
        bench.pins.carry(|p| Some(open.carried(p)));
        let mut slits = open.slits.clone();
        // Where it opens as wide all the way its lines run beside the slash, and meet nowhere.
        let meet = |(sides, to): &([Point; 2], Point)| Some(if at.away.is_some() { sides[0] + (*to - sides[0]) * NEVER } else { *to });
        let mut pivots: Vec<Option<Point>> = slits.iter().map(meet).collect();
        if back {
            slits.reverse();
            slits.iter_mut().for_each(|(sides, _)| sides.reverse());
            pivots.reverse();
        }
        bench.pins.folds[k] = slits.iter().map(|(sides, _)| sides.map(Some)).collect();
        bench.pins.pivots[k] = pivots;
        let too = spread_to(at.layer(bench.piece.drafted()), &open.layer, &at);
        (at.parted(open.layer.clone(), |p| open.carried(p)), too)
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
    let through = gather.across.as_ref().and_then(|across| proportional(bench, &gather.edge, [a, b], &[0.0, 1.0], across));
    let (lines, how) = if let Some(across) = gather.across.as_ref().filter(|_| through.is_none()) {
        let (lines, by) = gathered(bench, (&gather.edge, across), [a, b], full - sewn)?;
        as_full(bench.piece.drafted(), &lines, across)?;
        let too = changed_too(bench.piece.drafted(), &lines, &gather.edge);
        (lines, format!(", {by:.1} mm across the piece{too}"))
    } else {
        let (at, ..) = through.map_or_else(|| slashes(bench, &gather.edge, [a, b], &[0.0, 1.0]), Ok)?;
        let open = fan::gathered(at.layer(bench.piece.drafted()), &at, full - sewn).map_err(|e| e.to_string())?;
        bench.pins.carry(|p| Some(open.carried(p)));
        let too = spread_to(at.layer(bench.piece.drafted()), &open.layer, &at);
        (at.parted(open.layer.clone(), |p| open.carried(p)), too)
    };
    darts_keep(bench, notes, &before)?;
    let what = format!("\"{}\" spread from {sewn:.1} to {full:.1} mm along {}, evenly{how}", gather.name, gather.edge);
    bench.piece.sew(&gather.edge, full - sewn, None);
    bench.redraft(lines, Change::new(what, How::Chosen));
    Ok(())
}

/// The piece stretched between both ends of gathers, straight in from the edge, until that is longer by `more` mm; and how wide the strip became,
/// mm. Spread at ever more places the edge runs on as it did, without steps.
fn gathered(bench: &mut Bench, (edge, full): (&str, &str), [a, b]: [Point; 2], more: f64) -> Result<(Layer, f64), String> {
    let into = across(bench, edge, [a, b], 2, Some(full))?;
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
    stays_straight(&lines, still(bench))?;
    let stretch = stretch(by)?;
    bench.pins.carry(|p| Some(stretch.moved(p)));
    Ok((lines, by))
}

/// What a piece that was spread along slashes comes to at the edge across, in words.
fn spread_to(before: &Layer, after: &Layer, at: &Slashes) -> String {
    let across = &before.edges[at.across].name;
    if at.away.is_some() {
        return format!(", as far at {across}, evenly from end to end{}", changed_too(before, after, &before.edges[at.own].name));
    }
    format!(", to nothing at {across}, which keeps its length")
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
    let names = || bench.piece.drafted().edges.iter().map(|e| e.name.as_str()).collect::<Vec<_>>().join(", ");
    let missing = || format!("there is no edge called \"{edge}\"; there are {}", names());
    let (first, last) = own.first().zip(own.last()).ok_or_else(missing)?;
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

/// Spreads the piece by `each` mm along lines across it, straight in from the edge, at shares of the way from one place to another. Also
/// both sides of each spread on the edge.
fn spread_at(
    bench: &mut Bench,
    (edge, full): (&str, &str),
    [a, b]: [Point; 2],
    shares: &[f64],
    each: f64,
) -> Result<(Layer, Vec<[Point; 2]>), String> {
    let into = across(bench, edge, [a, b], shares.len(), Some(full))?;
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
    stays_straight(&lines, still(bench))?;
    bench.pins = pins;
    Ok((lines, sides))
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
