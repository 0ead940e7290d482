//! Fullness of the notes opened on the lines of a piece: darts turned open, pleats and gathers spread.

use super::How;
use super::alike;
use super::bench::{Bench, Pins, REACH, shares};
use super::dart::{Gave, PressedTo, ShutDart, dart_opened};
use super::double_pointed::{DoublePointed, double_pointed_opened};
use super::draft::Change;
use super::fan::{self, Slashes};
use super::fullness::{Stretch, spread, stretched};
use super::layer::{Edge, Layer, Line, mm, point};
use super::misplaced::refused;
use super::pleated::centre_x;
use super::walk::Walk;
use crate::notes::{Dart, Gather, PieceNotes, Pleat, Pressed};
use kurbo::{Affine, ParamCurve, Point, Vec2};

/// An edge this much longer than straight, mm, is bent; and a length that changes by this, mm, is told.
const BENT: f64 = 0.05;
const TOLD: f64 = 0.5;
/// An edge that gives more than this when a dart is opened is told, mm (1/4 in, as flat widths are tolerated; propercloth.com).
const GIVES: f64 = 6.35;
/// A corner that turns more than this when a dart is opened is told, degrees: twice what neighbours may bend where they are sewn.
const TURNS: f64 = 10.0;
/// A line across the piece that would lean from the page's upright by less than this, degrees, is laid upright: along the grain.
const LEANS: f64 = 15.0;

/// Opens all fullness that the notes tell of a piece, darts first: those with two points while all others are still closed, since they
/// widen what lies beside them, and the legs of a dart that was opened would be widened unequally.
pub(super) fn opened(bench: &mut Bench, notes: &PieceNotes) {
    let two_points = |d: &Dart| d.other_point.is_some();
    let darts = || notes.darts.iter().enumerate();
    for (k, dart) in darts().filter(|d| two_points(d.1)).chain(darts().filter(|d| !two_points(d.1))) {
        if refused(bench, &dart.name) {
            continue;
        }
        let done = if two_points(dart) { open_double_pointed(bench, k, dart) } else { open_dart(bench, notes, k, dart) };
        if let Err(why) = done {
            bench.undone(format!("the dart \"{}\" was not opened: {why}", dart.name));
        }
    }
    for (k, pleat) in notes.pleats.iter().enumerate().filter(|(_, p)| !bench.refused.contains(&p.name)).collect::<Vec<_>>() {
        if let Err(why) = open_pleat(bench, k, pleat) {
            bench.undone(format!("\"{}\" was not opened: {why}", pleat.name));
        }
    }
    for (k, gather) in notes.gathers.iter().enumerate() {
        if let Err(why) = open_gather(bench, k, gather) {
            bench.undone(format!("\"{}\" was not opened: {why}", gather.name));
        }
    }
}

fn open_dart(bench: &mut Bench, notes: &PieceNotes, k: usize, dart: &Dart) -> Result<(), String> {
    if dart.legs.len() == 2 {
        // It lies open already.
        return Ok(());
    }
    let intake = dart.intake.ok_or("its intake is not noted")?.mm();
    let leg = bench.pins.legs[k].first().copied().flatten().ok_or("where it meets the edge can't be told, or went with the other half")?;
    let tip = bench.pins.points[k][0].ok_or("where its point is can't be told, or went with the other half")?;
    let (edge, at, _) = bench.nearest(leg).filter(|n| n.2 < REACH).ok_or("its mouth does not lie on an edge")?;
    let layer = bench.piece.drafted().clone();
    if layer.edges[edge].line == Line::Fold {
        let own = &layer.edges[edge].name;
        return Err(format!(
            "its mouth lies on {own}, which is placed on the fold, and what is cut on the fold can't be open there; \
             say how the piece is cut without a fold (cut = \"2, mirrored\"), which gives it a seam there"
        ));
    }
    let gives = match &dart.gives {
        Some(name) => Some(layer.edge(name).ok_or_else(|| format!("there is no edge called \"{name}\" to give"))?),
        None => None,
    };
    if let Some(fold) = gives.map(|g| &layer.edges[g]).filter(|e| e.line == Line::Fold) {
        return Err(format!("{} is placed on the fold and stays straight, so it can't give; name another edge, or none", fold.name));
    }
    let (pressed, how) = pressed(bench, dart.pressed, edge, at, tip);
    let before = |e: &Edge| notes.darts.iter().any(|d| alike(&e.name, &d.name) || alike(&e.name, &format!("{} 2", d.name)));
    let welded: Vec<usize> = layer.edges.iter().enumerate().filter(|(_, e)| before(e)).map(|(k, _)| k).collect();
    let shut = ShutDart { name: &dart.name, edge, at, point: mm(tip), intake, pressed, gives, welded: &welded };
    let open = dart_opened(&layer, &shut).map_err(|e| e.to_string())?;
    let mut pins = bench.pins.clone();
    pins.carry(|p| Some(open.carried(p)));
    // Other darts keep their shape: their points move as their mouths do.
    for (j, points) in pins.points.iter_mut().enumerate().filter(|(j, _)| *j != k && notes.darts[*j].other_point.is_none()) {
        let (mouth, was) = (bench.pins.legs[j].first().copied().flatten(), bench.pins.points[j][0]);
        points[0] = mouth.zip(was).map(|(mouth, was)| open.carried_with(mouth, was)).or(points[0]);
    }
    // Folds, and the grain where it was seen, lie as before, whatever turned.
    let back = upright([(&layer, &bench.pins), (&open.layer, &pins)], edge);
    let own = layer.edges[edge].name.clone();
    let base = sewn_as(bench, &own);
    let name = next_name(&layer, &base);
    let mut lines = open.layer.mapped(back);
    let second = format!("{} 2", dart.name);
    lines.edges[2].name.clone_from(&second);
    lines.edges[3].name.clone_from(&name);
    for (corner, what) in lines.corners[1..4].iter_mut().zip(["first leg", "end", "second leg"]) {
        corner.name = format!("{}: {what}", dart.name);
    }
    bench.rename(&own, &name);
    bench.rename(&own, &dart.name);
    bench.rename(&own, &second);
    bench.pins = pins;
    bench.pins.carry(|p| Some(back * p));
    bench.pins.legs[k] = vec![Some(point(lines.corners[1].at)), Some(point(lines.corners[3].at))];
    bench.pins.points[k][0] = Some(back * tip);
    let side = match pressed {
        PressedTo::First => "towards its first leg",
        PressedTo::Second => "towards its second leg",
        PressedTo::Both => "open",
    };
    let of = if notes.darts.len() > 1 { format!("the dart \"{}\"", dart.name) } else { "the dart".into() };
    let (gave, told) = match &open.gave {
        Gave::Edge(gave, by) => (format!("{gave} gave {by:+.1} mm"), by.abs() > GIVES),
        Gave::Corners(corner, by) => {
            let way = if *by < 0.0 { "closed" } else { "opened" };
            (
                format!("all edges keep their length, and corners give, most of all {corner}, which {way} by {:.1}°", by.abs()),
                by.abs() > TURNS,
            )
        }
    };
    let what = format!("{of} opened by {intake:.1} mm, its end shaped to be pressed {side} ({how}); {gave}");
    bench.piece.sew(&base, 0.0, Some((&own, &name)));
    if told {
        bench.undone(format!(
            "{of} was opened and {gave}, since a sewn dart does not lie flat; check that, or say in the notes which edge gives"
        ));
    }
    bench.redraft(lines, Change::new(what, How::Chosen));
    Ok(())
}

fn open_double_pointed(bench: &mut Bench, k: usize, dart: &Dart) -> Result<(), String> {
    let intake = dart.intake.ok_or("its intake at the widest place is not noted")?.mm();
    let wide = bench.pins.legs[k].first().copied().flatten().ok_or("where it is widest can't be told, or went with the other half")?;
    let [Some(a), Some(b)] = bench.pins.points[k] else {
        return Err("where its points are can't be told, or they went with the other half".into());
    };
    let away = Vec2::new(wide.x - centre_x(bench.piece.drafted()), 0.0);
    let shut = DoublePointed { name: &dart.name, points: [mm(a), mm(b)], wide: mm(wide), intake, away };
    let open = double_pointed_opened(bench.piece.drafted(), &shut).map_err(|e| e.to_string())?;
    bench.pins.carry(|p| Some(open.carried(p)));
    bench.pins.legs[k] = open.legs.map(Some).to_vec();
    bench.pins.points[k] = [Some(a), Some(b)];
    let gave: Vec<String> = open.gave.iter().map(|(edge, by)| format!("{edge} {by:+.1} mm")).collect();
    let what = format!(
        "the dart \"{}\" opened by {intake:.1} mm at its widest place, to nothing at both points; moved along: {}",
        dart.name,
        gave.join(", ")
    );
    bench.redraft(open.layer, Change::new(what, How::Chosen));
    Ok(())
}

/// To which leg a dart is pressed; where nobody noted it, a level one down and an upright one to the centre (common practice, no source).
fn pressed(bench: &Bench, noted: Option<Pressed>, edge: usize, at: f64, tip: Point) -> (PressedTo, How) {
    let walk = Walk::of(&bench.piece.drafted().edges[edge].path);
    let first = -walk.along(at);
    let axis = tip - walk.at(at);
    let level = axis.x.abs() > axis.y.abs();
    let (way, how) = match noted {
        Some(way) => (way, How::Noted),
        None => (if level { Pressed::Down } else { Pressed::ToCentre }, How::Assumed),
    };
    let middle = centre_x(bench.piece.drafted()) - walk.at(at).x;
    let to = match way {
        Pressed::Up => Vec2::new(0.0, -1.0),
        Pressed::Down => Vec2::new(0.0, 1.0),
        Pressed::ToCentre => Vec2::new(middle, 0.0),
        Pressed::ToSide => Vec2::new(-middle, 0.0),
        Pressed::Open => return (PressedTo::Both, how),
    };
    (if first.dot(to) > 0.0 { PressedTo::First } else { PressedTo::Second }, how)
}

/// What lays a piece back as it lay after parts of it turned: by its fold; else, as nearly as all its corners go, upright by the grain where that was
/// seen along an edge or between two places.
fn upright([(before, at), (after, is)]: [(&Layer, &Pins); 2], edge: usize) -> Affine {
    let line = |l: &Layer| {
        let walk = l.edges.iter().find(|e| e.line == Line::Fold).map(|e| Walk::of(&e.path))?;
        Some([walk.at(0.0), walk.at(walk.length())])
    };
    let back = |[a, b]: [Point; 2], [p, q]: [Point; 2]| (b - a).atan2() - (q - p).atan2();
    if let Some((was, now)) = line(before).zip(line(after)) {
        return Affine::translate(was[0] - now[0]) * Affine::rotate_about(back(was, now), now[0]);
    }
    // Three corners are new, after the one the dart's edge starts at.
    let n = before.corners.len();
    let corner = |j: usize| (point(after.corners[if j == 0 { 0 } else { j + 3 }].at), point(before.corners[(edge + j) % n].at));
    let pairs: Vec<(Point, Point)> = (0..n).map(corner).collect();
    let middle = |of: &dyn Fn(&(Point, Point)) -> Point| (pairs.iter().map(|p| of(p).to_vec2()).sum::<Vec2>() / n as f64).to_point();
    let (now, was) = (middle(&|p| p.0), middle(&|p| p.1));
    let (cross, dot) = pairs.iter().fold((0.0, 0.0), |(c, d), (p, q)| (c + (*p - now).cross(*q - was), d + (*p - now).dot(*q - was)));
    let grain = |pins: &Pins| Some([pins.grain[0]?, pins.grain[1]?]);
    let turn = grain(at).zip(grain(is)).map_or_else(|| cross.atan2(dot), |(was, now)| back(was, now));
    Affine::translate(was - now) * Affine::rotate_about(turn, now)
}

/// The edge that a stretch of it is sewn as.
fn sewn_as(bench: &Bench, own: &str) -> String {
    let sewn = bench.piece.sewn().iter().find(|s| s.stretches.iter().any(|n| alike(n, own)));
    sewn.map_or(own, |s| s.edge.as_str()).to_owned()
}

/// A name for a further stretch of an edge.
fn next_name(layer: &Layer, base: &str) -> String {
    (2..).map(|k| format!("{base} {k}")).find(|n| layer.edge(n).is_none()).unwrap_or_default()
}

fn open_pleat(bench: &mut Bench, k: usize, pleat: &Pleat) -> Result<(), String> {
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
    let many = if count > 1.0 { format!("{count:.0} pleats") } else { "1 pleat".into() };
    let what =
        format!("\"{}\" opened: {many} of {:.1} mm, {:.1} mm in all along {}{too}", pleat.name, pleat.depth.mm(), each * count, pleat.edge);
    bench.piece.sew(&pleat.edge, each * count, None);
    bench.redraft(lines, Change::new(what, How::Chosen));
    Ok(())
}

fn open_gather(bench: &mut Bench, k: usize, gather: &Gather) -> Result<(), String> {
    let [a, b] = along(bench, &gather.edge, bench.pins.gathers[k])?;
    let full = gather.full.ok_or("its full length, drawn out flat, is not noted")?.mm();
    let sewn = gather.sewn.map_or_else(|| a.distance(b), |l| l.mm());
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
    let mut by = more;
    let mut lines = layer.clone();
    // Nearly one for one: the secant needs few steps.
    for _ in 0..20 {
        lines = stretched(layer, [mm(a), mm(b)], away, by).map_err(|e| e.to_string())?;
        let off = long(&lines) - before - more;
        if off.abs() < 1e-9 {
            break;
        }
        by -= off;
    }
    straight_fold(&lines)?;
    let stretch = Stretch::of([mm(a), mm(b)], away, by).ok_or("it starts and ends at one place")?;
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
