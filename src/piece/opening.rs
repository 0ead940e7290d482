//! Fullness of the notes opened on the lines of a piece: darts turned open, pleats and gathers spread.

use super::How;
use super::alike;
use super::bench::{Bench, REACH, shares};
use super::dart::{PressedTo, ShutDart, dart_opened};
use super::double_pointed::{DoublePointed, double_pointed_opened};
use super::draft::Change;
use super::fullness::{Stretch, spread, stretched};
use super::layer::{Edge, Layer, Line, mm, point};
use super::pleated::centre_x;
use super::walk::Walk;
use crate::notes::{Dart, Gather, PieceNotes, Pleat, Pressed};
use kurbo::{Affine, Point, Vec2};

/// An edge this much longer than straight, mm, is bent; and a length that changes by this, mm, is told.
const BENT: f64 = 0.05;
const TOLD: f64 = 0.5;
/// An edge that gives more than this when a dart is opened is told, mm (1/4 in, as flat widths are tolerated; propercloth.com).
const GIVES: f64 = 6.35;
/// A bend where a dart is closed that is less than this, degrees, is none.
const BENDS: f64 = 0.05;
/// A line across the piece that would lean from the page's upright by less than this, degrees, is laid upright: along the grain.
const LEANS: f64 = 15.0;

/// Opens all fullness that the notes tell of a piece, darts first: those with two points while all others are still closed, since they
/// widen what lies beside them, and the legs of a dart that was opened would be widened unequally.
pub(super) fn opened(bench: &mut Bench, notes: &PieceNotes) {
    let two_points = |d: &Dart| d.other_point.is_some();
    let darts = || notes.darts.iter().enumerate();
    for (k, dart) in darts().filter(|d| two_points(d.1)).chain(darts().filter(|d| !two_points(d.1))) {
        let done = if two_points(dart) { open_double_pointed(bench, k, dart) } else { open_dart(bench, notes, k, dart) };
        if let Err(why) = done {
            bench.undone(format!("the dart \"{}\" was not opened: {why}", dart.name));
        }
    }
    for (k, pleat) in notes.pleats.iter().enumerate() {
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
    let shut = ShutDart { name: &dart.name, edge, at, point: mm(tip), intake, pressed, gives };
    let open = dart_opened(&layer, &shut).map_err(|e| e.to_string())?;
    // A fold is straight and lies as before, whatever turned.
    let back = upright(&layer, &open.layer);
    let own = layer.edges[edge].name.clone();
    let name = next_name(&layer, bench.base(&own));
    let mut lines = open.layer.mapped(back);
    let second = format!("{} 2", dart.name);
    lines.edges[2].name.clone_from(&second);
    lines.edges[3].name.clone_from(&name);
    for (corner, what) in lines.corners[1..4].iter_mut().zip(["first leg", "end", "second leg"]) {
        corner.name = format!("{}: {what}", dart.name);
    }
    let base = bench.base(&own).to_owned();
    bench.rename(&own, &name);
    bench.rename(&own, &dart.name);
    bench.rename(&own, &second);
    bench.pins.carry(|p| Some(back * open.carried(p)));
    bench.pins.legs[k] = vec![Some(point(lines.corners[1].at)), Some(point(lines.corners[3].at))];
    bench.pins.points[k][0] = Some(back * tip);
    let side = match pressed {
        PressedTo::First => "towards its first leg",
        PressedTo::Second => "towards its second leg",
        PressedTo::Both => "open",
    };
    let (gave, by) = &open.gave;
    let of = if notes.darts.len() > 1 { format!("the dart \"{}\"", dart.name) } else { "the dart".into() };
    let bent = if open.bent_deg > BENDS {
        format!(
            "; the piece moved along its fold there, so closed {base} turns by {:.1}° at the dart: true it with the dart folded",
            open.bent_deg
        )
    } else {
        String::new()
    };
    let what = format!("{of} opened by {intake:.1} mm, its end shaped to be pressed {side} ({how}); {gave} gave {by:+.1} mm{bent}");
    bench.piece.sew(&base, 0.0, Some((&own, &name)));
    if by.abs() > GIVES {
        bench.undone(format!(
            "{of} was opened and {gave} gave {by:+.1} mm, since a sewn dart does not lie flat; check that edge, or say in the notes which one gives"
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

/// What lays a fold that was turned back as it lay; nothing where there is none.
fn upright(before: &Layer, after: &Layer) -> Affine {
    let fold = |l: &Layer| {
        let walk = l.edges.iter().find(|e| e.line == Line::Fold).map(|e| Walk::of(&e.path))?;
        Some((walk.at(0.0), walk.at(walk.length())))
    };
    match fold(before).zip(fold(after)) {
        Some(((a, b), (p, q))) => {
            let turn = (b - a).atan2() - (q - p).atan2();
            Affine::translate(a - p) * Affine::rotate_about(turn, p)
        }
        None => Affine::IDENTITY,
    }
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
    let (lines, folds) = spread_at(bench, &pleat.edge, [a, b], &shares, each)?;
    bench.pins.folds[k] = folds.into_iter().map(|f| f.map(Some)).collect();
    let too = changed_too(bench.piece.drafted(), &lines, &pleat.edge);
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
    let (lines, by) = gathered(bench, &gather.edge, [a, b], full - sewn)?;
    let too = changed_too(bench.piece.drafted(), &lines, &gather.edge);
    let what = format!(
        "\"{}\" spread from {sewn:.1} to {full:.1} mm along {}, evenly, {by:.1} mm across the piece{too}",
        gather.name, gather.edge
    );
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
        return Err(format!(
            "it would bend {}, which is placed on the fold and stays straight; draw the piece whole, or open it by hand",
            fold.name
        ));
    }
    Ok(())
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
