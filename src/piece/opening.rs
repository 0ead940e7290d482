//! Fullness of the notes opened on the lines of a piece, in its order: darts turned open here, pleats and gathers in `widening`.

use super::How;
use super::alike;
use super::bench::{Bench, Pins, REACH};
use super::dart::{Gave, Opened, PressedTo, ShutDart, dart_opened};
use super::double_pointed::{DoublePointed, double_pointed_opened};
use super::draft::Change;
use super::layer::{Edge, Layer, Line, mm, point};
use super::misplaced::refused;
use super::pleated::Centre;
use super::walk::Walk;
use super::widening::{open_gather, open_pleat};
use crate::notes::{Dart, InLine, PieceLines, PieceNotes, Pressed};
use kurbo::{Affine, Point, Vec2};

/// An edge that gives more than this when a dart is opened is told, mm (1/4 in, as flat widths are tolerated; propercloth.com).
const GIVES: f64 = 6.35;
/// A corner that turns more than this when a dart is opened is told, degrees: twice what neighbours may bend where they are sewn.
const TURNS: f64 = 10.0;

/// Opens all fullness that the notes tell of a piece, darts first: those with two points while all others are still closed, since they
/// widen what lies beside them, and the legs of a dart that was opened would be widened unequally.
pub(super) fn opened(bench: &mut Bench, notes: &PieceNotes) {
    let two_points = |d: &Dart| d.other_point.is_some();
    let darts = || notes.darts.iter().enumerate();
    for (k, dart) in darts().filter(|d| two_points(d.1)).chain(darts().filter(|d| !two_points(d.1))) {
        if refused(bench, &dart.name) {
            continue;
        }
        let open = |b: &mut Bench| if two_points(dart) { open_double_pointed(b, k, dart) } else { open_dart(b, notes, k, dart) };
        open_or_tell(bench, &format!("the dart \"{}\"", dart.name), PieceLines::of(&notes.lines.darts, k), open);
    }
    for (k, pleat) in notes.pleats.iter().enumerate().filter(|(_, p)| !bench.refused.contains(&p.name)).collect::<Vec<_>>() {
        open_or_tell(bench, &format!("\"{}\"", pleat.name), PieceLines::of(&notes.lines.pleats, k), |b| open_pleat(b, notes, k));
    }
    for (k, gather) in notes.gathers.iter().enumerate().filter(|(_, g)| !bench.refused.contains(&g.name)).collect::<Vec<_>>() {
        open_or_tell(bench, &format!("\"{}\"", gather.name), PieceLines::of(&notes.lines.gathers, k), |b| open_gather(b, notes, k));
    }
}

/// Opens one thing; where that can't be, all places of the notes stay where they were, and why is told.
fn open_or_tell(bench: &mut Bench, what: &str, line: InLine, open: impl FnOnce(&mut Bench) -> Result<(), String>) {
    let pins = bench.pins.clone();
    if let Err(why) = open(bench) {
        bench.pins = pins;
        bench.undone(format!("{what} was not opened: {why}{line}"));
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
    let gives = gives(&layer, edge, dart)?;
    let (pressed, how) = pressed(bench, dart.pressed, edge, at, tip);
    let before = |e: &Edge| notes.darts.iter().any(|d| alike(&e.name, &d.name) || alike(&e.name, &format!("{} 2", d.name)));
    let welded: Vec<usize> = layer.edges.iter().enumerate().filter(|(_, e)| before(e)).map(|(k, _)| k).collect();
    let shut = ShutDart { name: &dart.name, edge, at, point: mm(tip), intake, pressed, gives, welded: &welded };
    let open = dart_opened(&layer, &shut).map_err(|e| e.to_string())?;
    let lines = laid_open(bench, (notes, k), (&layer, &open), &shut);
    let side = match pressed {
        PressedTo::First => "towards its first leg",
        PressedTo::Second => "towards its second leg",
        PressedTo::Both => "open",
    };
    let of = if notes.darts.len() > 1 { format!("the dart \"{}\"", dart.name) } else { "the dart".into() };
    let (gave, told) = gave(&open.gave);
    if told {
        bench.undone(format!(
            "{of} was opened and {gave}, since a sewn dart does not lie flat; check that, or say in the notes which edge gives"
        ));
    }
    let what = format!("{of} opened by {intake:.1} mm, its end shaped to be pressed {side} ({how}); {gave}");
    bench.redraft(lines, Change::new(what, How::Chosen));
    Ok(())
}

/// The number of the edge that the notes say gives when a dart in another one is opened.
fn gives(layer: &Layer, edge: usize, dart: &Dart) -> Result<Option<usize>, String> {
    if layer.edges[edge].line == Line::Fold {
        let own = &layer.edges[edge].name;
        return Err(format!(
            "its mouth lies on {own}, which is placed on the fold, and what is cut on the fold can't be open there; \
             say how the piece is cut without a fold (cut = \"2, mirrored\"), which gives it a seam there"
        ));
    }
    let Some(name) = &dart.gives else { return Ok(None) };
    let k = layer.edge(name).ok_or_else(|| format!("there is no edge called \"{name}\" to give"))?;
    match layer.edges[k].line {
        Line::Fold => Err(format!("{name} is placed on the fold and stays straight, so it can't give; name another edge, or none")),
        _ => Ok(Some(k)),
    }
}

/// The lines with a dart open, lying as before, its own edges named; the places of the notes go along.
fn laid_open(bench: &mut Bench, (notes, k): (&PieceNotes, usize), (layer, open): (&Layer, &Opened), shut: &ShutDart) -> Layer {
    let (dart, edge) = (&notes.darts[k], shut.edge);
    let mut pins = bench.pins.clone();
    pins.carry(|p| Some(open.carried(p)));
    // Other darts keep their shape: their points move as their mouths do.
    for (j, points) in pins.points.iter_mut().enumerate().filter(|(j, _)| *j != k && notes.darts[*j].other_point.is_none()) {
        let (mouth, was) = (bench.pins.legs[j].first().copied().flatten(), bench.pins.points[j][0]);
        points[0] = mouth.zip(was).map(|(mouth, was)| open.carried_with(mouth, was)).or(points[0]);
    }
    // Folds, and the grain where it was seen, lie as before, whatever turned.
    let back = upright([(layer, &bench.pins), (&open.layer, &pins)], edge);
    let own = layer.edges[edge].name.clone();
    let base = sewn_as(bench, &own);
    let name = next_name(layer, &base);
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
    bench.pins.points[k][0] = Some(back * point(shut.point));
    bench.piece.sew(&base, 0.0, Some((&own, &name)));
    lines
}

/// What gave when a dart was opened, in words, and whether that is much.
fn gave(gave: &Gave) -> (String, bool) {
    match gave {
        Gave::Edge(gave, by) => (format!("{gave} gave {by:+.1} mm"), by.abs() > GIVES),
        Gave::Corners(corner, by) => {
            let way = if *by < 0.0 { "closed" } else { "opened" };
            let words = format!("all edges keep their length, and corners give, most of all {corner}, which {way} by {:.1}°", by.abs());
            (words, by.abs() > TURNS)
        }
    }
}

fn open_double_pointed(bench: &mut Bench, k: usize, dart: &Dart) -> Result<(), String> {
    let intake = dart.intake.ok_or("its intake at the widest place is not noted")?.mm();
    let wide = bench.pins.legs[k].first().copied().flatten().ok_or("where it is widest can't be told, or went with the other half")?;
    let [Some(a), Some(b)] = bench.pins.points[k] else {
        return Err("where its points are can't be told, or they went with the other half".into());
    };
    let away = -Centre::of(bench.piece.drafted(), &bench.pins).from(wide);
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
    let centre = Centre::of(bench.piece.drafted(), &bench.pins).from(walk.at(at));
    let to = match way {
        Pressed::Up => Vec2::new(0.0, -1.0),
        Pressed::Down => Vec2::new(0.0, 1.0),
        Pressed::ToCentre => centre,
        Pressed::ToSide => -centre,
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
