//! A worked draft: the circle skirt. Its rule is taught everywhere (common practice, no source): the waist is an arc, of a radius of waist / 2π for a full
//! circle and waist / π for half of one, and the hem an arc further out by the skirt's length. Radii, lengths and areas by arithmetic.

use kurbo::{Arc, BezPath, Point};
use ruboff::length::Mm;
use ruboff::notes::{Notes, ShotNotes, Spot};
use ruboff::piece::{Corner, Draft, Edge, Given, How, Layer, Line, Verdict, drafted, joins, marked};
use std::f64::consts::{FRAC_PI_2, PI};

const WAIST: f64 = 680.0;
const LONG: f64 = 600.0;

fn arc(radius: f64, from: f64, to: f64) -> BezPath {
    let mut path = BezPath::new();
    path.move_to(Point::new(radius * from.cos(), radius * from.sin()));
    Arc::new((0.0, 0.0), (radius, radius), from, to - from, 0.0).append_iter(1e-7).for_each(|el| path.push(el));
    path
}

/// A quarter of a circle: one of two panels of a half-circle skirt, clockwise as seen, side seams along both axes.
fn panel(radius: f64) -> Layer {
    let at = |r: f64, angle: f64| Point::new(r * angle.cos(), r * angle.sin());
    let line = |a: Point, b: Point| {
        let mut path = BezPath::new();
        path.move_to(a);
        path.line_to(b);
        path
    };
    let (inner, outer) = (radius, radius + LONG);
    let all = [
        ("waist left", "side left", line(at(inner, 0.0), at(outer, 0.0))),
        ("hem left", "hem", arc(outer, 0.0, FRAC_PI_2)),
        ("hem right", "side right", line(at(outer, FRAC_PI_2), at(inner, FRAC_PI_2))),
        ("waist right", "waist", arc(inner, FRAC_PI_2, 0.0)),
    ];
    // Ends of arcs are rounded: each edge starts where the one before it ends.
    let edge =
        |name: &str, path: &BezPath| Edge { name: name.into(), path: path.clone(), line: Line::Rim, how: How::Seen, bound: Some(0.2) };
    let start = |p: &BezPath| p.segments().next().map(|s| kurbo::ParamCurve::start(&s)).expect("a path");
    let layer = Layer {
        corners: all
            .iter()
            .map(|(name, _, p)| Corner { name: (*name).into(), at: Mm::new(start(p).x, start(p).y), error: Some(0.1) })
            .collect(),
        edges: all.iter().map(|(_, name, p)| edge(name, p)).collect(),
        ..Layer::default()
    };
    layer.check().expect("closed");
    layer
}

fn draft(name: &str, lines: &Layer, notes: &Notes) -> Draft {
    let nowhere = |_: &Spot| None;
    drafted(&Given { name, lines, shot: &ShotNotes::default(), notes, other: None, place: &nowhere })
}

#[test]
fn half_a_circle_goes_round_the_waist() {
    let radius = WAIST / PI;
    let said = Notes::from_text(
        "[piece.front]\nkind = \"skirt panel\"\nallowance = { all = \"10 mm\", hem = \"15 mm\" }\n[piece.back]\nkind = \"skirt panel\"\n[piece.band]\n\
         [[join]]\nedges = [\"front: waist + back: waist\", \"band: edge\"]\n[[join]]\nedges = [\"front: side left\", \"back: side right\"]\n",
    )
    .unwrap_or_else(|e| panic!("{e}"));
    let front = draft("front", &panel(radius), &said);
    let back = draft("back", &panel(radius), &said);
    let band = {
        let mut path = BezPath::new();
        path.move_to((0.0, 0.0));
        let corners = [[0.0, 0.0], [WAIST, 0.0], [WAIST, 40.0], [0.0, 40.0]];
        let name = ["edge", "end", "top", "start"];
        let edge = |k: usize| {
            let mut path = BezPath::new();
            path.move_to((corners[k][0], corners[k][1]));
            path.line_to((corners[(k + 1) % 4][0], corners[(k + 1) % 4][1]));
            Edge { name: name[k].into(), path, line: Line::Rim, how: How::Seen, bound: Some(0.2) }
        };
        let corner = |k: usize| Corner { name: format!("c{k}"), at: corners[k].into(), error: Some(0.1) };
        draft("band", &Layer { corners: (0..4).map(corner).collect(), edges: (0..4).map(edge).collect(), ..Layer::default() }, &said)
    };
    let walked = joins(&said, &[&front.piece, &back.piece, &band.piece]);
    for (told, long) in walked.iter().zip([WAIST, LONG]) {
        let told = told.as_ref().expect("walked");
        assert!(told.verdict == Verdict::True && told.walked.lengths.iter().all(|l| (l - long).abs() < 0.01), "{told:?}");
    }
    let layer = front.piece.drafted();
    let hem = layer.edges[layer.edge("hem").expect("a hem")].length();
    assert!((hem - FRAC_PI_2 * (radius + LONG)).abs() < 0.01, "{hem}");
    let ring = |inner: f64, outer: f64| FRAC_PI_2 / 2.0 * (outer * outer - inner * inner);
    assert!((layer.area() - ring(radius, radius + LONG)).abs() < 1.0);
    // The cut line: arcs 15 mm beyond the hem and 10 mm within the waist (a parallel of an arc is an arc; Steiner's formula).
    let drawn = marked(&front, &said.garment, "x/front");
    let cut = drawn.cut.expect("a cut line");
    for (name, r) in [("hem", radius + LONG + 15.0), ("waist", radius - 10.0)] {
        let edge = cut.edges.iter().find(|e| e.name == name).expect("cut");
        let middle = front.laying.by.inverse() * ruboff::piece::Walk::of(&edge.path).at(edge_length(&edge.path) / 2.0);
        assert!((middle.to_vec2().hypot() - r).abs() < 0.05, "{name}: {}", middle.to_vec2().hypot());
    }
}

fn edge_length(path: &BezPath) -> f64 {
    ruboff::piece::Walk::of(path).length()
}
