//! Darts, pleats, folds, notches, grain and shrinkage on pieces whose result arithmetic gives.

mod straight;

use kurbo::{Affine, BezPath, ParamCurve, Vec2};
use nalgebra::Vector2;
use proptest::prelude::*;
use ruboff::length::Mm;
use ruboff::notes::{NotchStyle, Notes};
use ruboff::piece::{
    DoublePointed, Edge, FullnessError, Gave, Layer, Line, PressedTo, ShutDart, Walk, dart_opened, double_pointed_opened, for_shrinkage,
    grain, grain_down, marked_centre, notches, spread, unfolded,
};
use straight::{half_front, lines};

fn line(a: [f64; 2], b: [f64; 2]) -> BezPath {
    let mut path = BezPath::new();
    path.move_to((a[0], a[1]));
    path.line_to((b[0], b[1]));
    path
}

fn dart(intake: f64, pressed: PressedTo) -> ShutDart<'static> {
    ShutDart { name: "bust dart", edge: 2, at: 100.0, point: Mm::new(90.0, 300.0), intake, pressed, gives: None, welded: &[] }
}

fn at(layer: &Layer, edge: &str, nth: usize) -> [kurbo::Point; 2] {
    let e = layer.edges.iter().filter(|e| e.name == edge).nth(nth).expect("an edge of that name");
    let all: Vec<kurbo::PathSeg> = e.path.segments().collect();
    [all[0].start(), all[all.len() - 1].end()]
}

fn long(layer: &Layer, name: &str) -> f64 {
    layer.edges.iter().filter(|e| e.name == name).map(Edge::length).sum()
}

/// How far the outline turns at a corner, radians.
fn turns(layer: &Layer, corner: usize) -> f64 {
    let n = layer.edges.len();
    let way = |k: usize, end: bool| {
        let walk = Walk::of(&layer.edges[k % n].path);
        walk.along(if end { walk.length() } else { 0.0 })
    };
    let (a, b) = (way(corner + n - 1, true), way(corner, false));
    a.cross(b).atan2(a.dot(b))
}

/// Legs of 110 mm that take in 22 mm make an angle of 2 asin(11/110) (trigonometry). Turned about the dart's point, every edge is as long as
/// before and in the shape it had, the side grows by nothing but the dart's gap, and what corners turn by is that angle in all (Gauss and
/// Bonnet: the outline of a cone turns by so much less than a full turn).
#[test]
fn a_dart_is_opened_by_rotation() {
    let before = half_front();
    let opened = dart_opened(&before, &dart(22.0, PressedTo::Second)).expect("opened");
    opened.layer.check().expect("closed");
    let (first, second) = (at(&opened.layer, "side", 0), at(&opened.layer, "side", 1));
    let (m, n) = (first[1], second[0]);
    assert!((m.distance(n) - 22.0).abs() < 1e-9);
    let tip = kurbo::Point::new(90.0, 300.0);
    assert!((n.distance(tip) - 110.0).abs() < 1e-9);
    for edge in &before.edges {
        let off = long(&opened.layer, &edge.name) - edge.length();
        assert!(off.abs() < 1e-6, "{} by {off}", edge.name);
    }
    let angle = 2.0 * (11.0f64 / 110.0).asin();
    // Closed, the second leg lies on the first, and both stretches run on as they did.
    let [a, b] = second.map(|p| Affine::rotate_about(-angle, tip) * p);
    assert!(a.distance(m) < 1e-9 && (b - kurbo::Point::new(200.0, 600.0)).hypot() < 1e-9, "{a:?} {b:?}");
    // The first corner is the side's own, three are the dart's.
    let changed: Vec<f64> = (0..6).map(|j| turns(&opened.layer, if j == 0 { 0 } else { j + 3 }) - turns(&before, (2 + j) % 6)).collect();
    assert!((changed.iter().sum::<f64>().abs() - angle).abs() < 1e-9, "{changed:?}");
    assert!(changed.iter().all(|c| c.abs() < angle), "{changed:?}");
    let Gave::Corners(_, most) = opened.gave else { panic!("{:?}", opened.gave) };
    assert!((most.abs() - changed.iter().fold(0.0f64, |m, c| m.max(c.abs())).to_degrees()).abs() < 1e-6, "{most} {changed:?}");
}

/// An edge that is named gives, and all corners but its own stay: the hem, level before, is turned by the dart's angle.
#[test]
fn an_edge_may_be_named_that_gives() {
    let before = half_front();
    let centre = before.edge("centre");
    let opened = dart_opened(&before, &ShutDart { gives: centre, ..dart(22.0, PressedTo::Second) }).expect("opened");
    for name in ["shoulder", "armhole", "neckline", "hem", "side"] {
        assert!((long(&opened.layer, name) - long(&before, name)).abs() < 1e-6, "{name}");
    }
    assert!(matches!(&opened.gave, Gave::Edge(name, by) if name == "centre" && by.abs() > 1.0), "{:?}", opened.gave);
    let [a, b] = at(&opened.layer, "hem", 0);
    let angle = 2.0 * (11.0f64 / 110.0).asin();
    assert!(((b - a).normalize() - Vec2::new(-angle.cos(), -angle.sin())).hypot() < 1e-9);
}

/// A dart of 24 mm from the waist of half a bodice whose shoulder lies 250 mm beyond its point, and one from its side: each edge as long as before.
/// (Turned as one with what lies beyond the point, the shoulder of 125 mm was left with 90.)
#[test]
fn edges_far_from_the_dart_keep_their_length() {
    let mut bodice = lines(&[
        ("neck", "neck", [0.0, 85.0]),
        ("neck point", "shoulder", [72.0, 0.0]),
        ("tip", "armhole", [190.0, 42.0]),
        ("underarm", "side", [236.0, 215.0]),
        ("waist side", "waist", [222.0, 420.0]),
        ("waist centre", "centre", [0.0, 435.0]),
    ]);
    bodice.edges[5].line = Line::Fold;
    for (edge, far, point) in [("waist", 112.0, [112.0, 270.0]), ("side", 60.0, [120.0, 250.0])] {
        let shut = ShutDart { edge: bodice.edge(edge).expect("there"), at: far, point: point.into(), ..dart(24.0, PressedTo::Both) };
        let opened = dart_opened(&bodice, &shut).expect("opened").layer;
        for e in &bodice.edges {
            assert!((long(&opened, &e.name) - e.length()).abs() < 1e-6, "{edge}: {} {} {}", e.name, long(&opened, &e.name), e.length());
        }
    }
}

/// The dart's end, folded about its middle and pressed to its side, lies along the edge: mirrored about the leg on that side its
/// end falls on the edge's own line.
#[test]
fn the_darts_end_lies_along_the_edge_when_it_is_pressed() {
    for pressed in [PressedTo::First, PressedTo::Second] {
        let opened = dart_opened(&half_front(), &dart(30.0, pressed)).expect("opened").layer;
        let (first, second) = (at(&opened, "side", 0), at(&opened, "side", 1));
        let end = at(&opened, "bust dart", 0)[1];
        let tip = kurbo::Point::new(90.0, 300.0);
        let (leg, along) = if pressed == PressedTo::First { (first[1], first[0] - first[1]) } else { (second[0], second[1] - second[0]) };
        let folded = Affine::reflect(tip, leg - tip) * end;
        let off = (folded - leg).cross(along.normalize());
        assert!(off.abs() < 1e-9 && (folded - leg).dot(along) > 0.0, "{off} for {pressed:?}");
        // Both halves of the end are as long, for they are sewn on one another.
        assert!((end.distance(first[1]) - end.distance(second[0])).abs() < 1e-9);
    }
}

#[test]
fn darts_that_cant_be_are_refused() {
    assert!(matches!(dart_opened(&half_front(), &dart(400.0, PressedTo::First)), Err(FullnessError::Dart { .. })));
    let along = ShutDart { point: Mm::new(200.0, 390.0), ..dart(10.0, PressedTo::First) };
    assert!(dart_opened(&half_front(), &along).is_err());
}

/// A bust dart that points at the fold, on either half of a front: the legs are equal and gape by the intake, all edges keep length and shape,
/// neckline and hem meet the fold as they did within a quarter of a degree, and both halves come out as mirror images. A place on an edge
/// moves as that does, one beside the dart as its leg does.
#[test]
fn a_dart_that_points_at_the_fold_keeps_its_corners() {
    let mut before = half_front();
    before.edges[4].line = Line::Fold;
    let other = before.mapped(Affine::FLIP_X);
    let tip = kurbo::Point::new(90.0, 300.0);
    let mut areas = Vec::new();
    for (layer, side) in [(&before, 1.0), (&other, -1.0)] {
        let edge = layer.edge("side").expect("a side");
        let far = if side > 0.0 { 100.0 } else { 300.0 };
        let point = Mm::new(side * tip.x, tip.y);
        let shut = ShutDart { edge, at: far, point, ..dart(22.0, PressedTo::Both) };
        let opened = dart_opened(layer, &shut).expect("opened");
        opened.layer.check().expect("closed");
        let legs = [at(&opened.layer, "side", 0)[1], at(&opened.layer, "side", 1)[0]];
        assert!((legs[0].distance(legs[1]) - 22.0).abs() < 1e-9, "{legs:?}");
        for leg in legs {
            assert!((leg.distance(kurbo::Point::new(point.x, point.y)) - 110.0).abs() < 1e-9, "{leg:?}");
        }
        for e in &layer.edges {
            assert!((long(&opened.layer, &e.name) - e.length()).abs() < 1e-6, "{}", e.name);
        }
        for corner in ["neck centre", "hem centre"] {
            let at = |l: &Layer| turns(l, l.corner(corner).expect("there"));
            assert!((at(layer) - at(&opened.layer)).to_degrees().abs() < 0.25, "{corner}");
        }
        for name in ["hem", "armhole", "centre"] {
            let (was, is) = (layer.edge(name).expect("there"), opened.layer.edge(name).expect("there"));
            let (was, is) = (Walk::of(&layer.edges[was].path).at(30.0), Walk::of(&opened.layer.edges[is].path).at(30.0));
            assert!(opened.carried(was).distance(is) < 1e-6, "{name}");
        }
        let near = |by: f64| opened.carried(kurbo::Point::new(side * 145.0, 300.0 + by));
        assert!((near(-1e-6).distance(near(1e-6)) - 11.0).abs() < 1e-3, "half way down its legs the dart gapes by half");
        areas.push(opened.layer.area());
    }
    assert!((areas[0] - areas[1]).abs() < 1e-6, "{areas:?}");
}

/// A dart with two points in half a front, 26 mm at the waist: as wide at every level as before and as the dart is there, so larger by half
/// the intake times the length of the dart (the mean of what it takes in), with nothing moved above and below and at the fold.
#[test]
fn a_dart_with_two_points_is_opened_within() {
    let before = half_front();
    let shut = DoublePointed {
        name: "waist",
        points: [Mm::new(90.0, 250.0), Mm::new(90.0, 510.0)],
        wide: Mm::new(90.0, 390.0),
        intake: 26.0,
        away: Vec2::new(1.0, 0.0),
    };
    let opened = double_pointed_opened(&before, &shut).expect("opened");
    assert!((opened.layer.area() - before.area() - 26.0 * 260.0 / 2.0).abs() < 0.5, "{}", opened.layer.area() - before.area());
    for name in ["shoulder", "armhole", "neckline", "centre", "hem"] {
        let of = |l: &Layer| l.edges[l.edge(name).expect("kept")].path.clone();
        assert_eq!(of(&opened.layer), of(&before), "{name}");
    }
    let side = &opened.layer.edges[opened.layer.edge("side").expect("a side")];
    let out = |y: f64| {
        let level = kurbo::Line::new((0.0, y), (900.0, y));
        side.path.segments().flat_map(|s| s.intersect_line(level)).map(|h| level.eval(h.line_t).x - 200.0).next().expect("met")
    };
    assert!((out(390.0) - 26.0).abs() < 0.01, "{}", out(390.0));
    // Half of it half way to either point, as the law is even about there.
    assert!((out(320.0) - 13.0).abs() < 0.01 && (out(450.0) - 13.0).abs() < 0.01, "{} {}", out(320.0), out(450.0));
    assert!(out(240.0).abs() < 1e-6 && out(520.0).abs() < 1e-6);
    assert_eq!(opened.gave.len(), 1);
    assert!(opened.gave[0].0 == "side" && (4.0..9.0).contains(&opened.gave[0].1), "{:?}", opened.gave);
    assert!((opened.legs[0].distance(opened.legs[1]) - 26.0).abs() < 1e-9);
    // One that reaches out of the piece, or is as wide as it is long, is none.
    let beyond = DoublePointed { points: [Mm::new(90.0, 250.0), Mm::new(90.0, 640.0)], ..shut.clone() };
    assert!(matches!(double_pointed_opened(&before, &beyond), Err(FullnessError::Within { .. })));
    let wide = DoublePointed { intake: 200.0, ..shut };
    assert!(matches!(double_pointed_opened(&before, &wide), Err(FullnessError::Dart { .. })));
}

proptest! {
    /// The gap is the intake and edges keep their length, whatever dart; only blunt ones may be refused, and open where an edge is named that gives.
    #[test]
    fn every_dart_opens_by_its_intake(intake in 2.0..60.0f64, at in 20.0..380.0f64, x in 40.0..150.0f64, y in 220.0..500.0f64) {
        let point = Mm::new(x, y);
        let mut dart = ShutDart { name: "dart", edge: 2, at, point, intake, pressed: PressedTo::Both, gives: None, welded: &[] };
        let before = half_front();
        let leg = Vec2::new(x - 200.0, y - 200.0 - at).hypot();
        let opened = match dart_opened(&before, &dart) {
            Ok(opened) => {
                for e in &before.edges {
                    prop_assert!((long(&opened.layer, &e.name) - e.length()).abs() < 1e-6, "{}", e.name);
                }
                opened
            }
            Err(FullnessError::Stuck { .. }) => {
                prop_assert!(2.0 * (intake / 2.0 / leg).asin() > 15f64.to_radians(), "a slender dart of {intake} mm on {leg} mm was refused");
                dart.gives = Some(4);
                dart_opened(&before, &dart).expect("opened")
            }
            Err(e) => panic!("{e}"),
        };
        let ends: Vec<&Edge> = opened.layer.edges.iter().filter(|e| e.name == "dart").collect();
        let start = ends[0].path.segments().next().expect("a line").start();
        let end = ends[1].path.segments().last().expect("a line").end();
        prop_assert!((start.distance(end) - intake).abs() < 1e-9);
        prop_assert!(opened.layer.check().is_ok());
    }

    /// Spread by so much, a piece is larger by that times the length of the cut, and its edges by nothing else.
    #[test]
    fn spreading_adds_a_strip(x in 65.0..140.0f64, by in 1.0..80.0f64) {
        let before = half_front();
        let after = spread(&before, Mm::new(x, 0.0), Vec2::new(0.0, 1.0), by).expect("two crossings");
        // Straight down from the shoulder to the hem.
        let cut = 600.0 - (x - 60.0) * 20.0 / 90.0;
        prop_assert!((after.area() - before.area() - by * cut).abs() < 1e-6);
        prop_assert!((after.edges[3].length() - before.edges[3].length() - by).abs() < 1e-9);
        prop_assert!((after.edges[2].length() - before.edges[2].length()).abs() < 1e-9);
        prop_assert!((after.edges[4].length() - before.edges[4].length()).abs() < 1e-9);
    }
}

#[test]
fn spreading_beside_the_piece_is_refused() {
    assert!(matches!(spread(&half_front(), Mm::new(-5.0, 0.0), Vec2::new(0.0, 1.0), 10.0), Err(FullnessError::Spread { found: 0, .. })));
}

/// A sleeve traced folded: twice as wide, its fold a line within; the other face's fold, 2 mm shorter, is told.
#[test]
fn a_folded_piece_is_laid_open() {
    let face = |long: f64| {
        lines(&[
            ("cap", "cap", [0.0, 0.0]),
            ("underarm", "underarm seam", [180.0, 90.0]),
            ("wrist", "wrist", [120.0, long]),
            ("wrist fold", "fold", [0.0, long]),
        ])
    };
    let front = face(500.0);
    let (open, apart) = unfolded(&front, 3, None).expect("open");
    assert!((open.area() - 2.0 * front.area()).abs() < 1e-6 && apart.abs() < 1e-9);
    assert_eq!(open.edges.len(), 6);
    assert!(open.inner.iter().any(|i| i.name == "fold"));
    // The back's face lies with its fold on the right.
    let back = face(498.0).mapped(Affine::FLIP_X);
    let fold = back.edge("fold").expect("there");
    let (open, apart) = unfolded(&front, 3, Some((&back, fold))).expect("open");
    assert!((apart - 2.0).abs() < 1e-9);
    assert!((open.area() - front.area() - back.area()).abs() < 500.0, "{} {}", open.area(), front.area() + back.area());
    open.check().expect("closed");
    assert!(unfolded(&front, 9, None).is_err());
}

/// 3 mm deep in 10 mm of allowance; 2.8 mm in 6 mm, so that 1/8 in stays clear; none in 5 mm.
#[test]
fn notches_stay_within_the_allowance() {
    let stitch = line([0.0, 0.0], [200.0, 0.0]);
    let cut = |w: f64| line([-20.0, -w], [220.0, -w]);
    let deep = |w: f64| {
        notches(&stitch, &cut(w), 80.0, 1, NotchStyle::Slit).map(|n| {
            let s = n[0].segments().next().expect("a line");
            (s.start(), s.end())
        })
    };
    let (rim, tip) = deep(10.0).expect("room");
    assert!(rim == kurbo::Point::new(80.0, -10.0) && tip == kurbo::Point::new(80.0, -7.0), "{rim} {tip}");
    let (_, tip) = deep(6.0).expect("room");
    assert!((tip.y + 3.175).abs() < 1e-9);
    assert_eq!(deep(5.0), None);
    let double = notches(&stitch, &cut(10.0), 80.0, 2, NotchStyle::V).expect("room");
    let tips: Vec<f64> = double.iter().map(|v| v.segments().next().expect("a line").end().x).collect();
    assert!((tips[0] - 76.825).abs() < 1e-9 && (tips[1] - 83.175).abs() < 1e-9, "{tips:?}");
    assert_eq!(double[0].segments().count(), 2);
}

/// Not recorded until a person says so; along two places, across, on the bias; and then down the page.
#[test]
fn grain_is_what_a_person_recorded() {
    let layer = half_front().mapped(Affine::rotate(0.3));
    let noted = |text: &str| Notes::from_text(text).unwrap_or_else(|e| panic!("{e}")).pieces.remove("front").expect("there");
    assert_eq!(grain(&layer, None), None);
    let straight = noted("[piece.front.grain]\nalong = [\"neck centre\", \"hem centre\"]\n");
    let along = grain(&layer, straight.grain.as_ref()).expect("recorded");
    let down = Vector2::new(-0.3f64.sin(), 0.3f64.cos());
    assert!((along - down).norm() < 1e-9);
    let turned = grain_down(&layer, along);
    let k = turned.edge("centre").expect("there");
    let [a, b] = at(&turned, "centre", 0);
    assert!((a.x - b.x).abs() < 1e-9 && turned.edges[k].length() > 519.9);
    let crossed = noted("[piece.front.grain]\nalong = [\"neck centre\", \"hem centre\"]\nruns = \"crosswise\"\n");
    let across = grain(&layer, crossed.grain.as_ref()).expect("recorded");
    assert!(across.dot(&down).abs() < 1e-9);
    let nowhere = noted("[piece.front.grain]\nalong = [\"collar\", \"hem centre\"]\n");
    assert_eq!(grain(&layer, nowhere.grain.as_ref()), None);
    let marked = noted("[piece.front]\ncentre = [\"neck centre\", \"hem centre\"]\n");
    assert!((marked_centre(&layer, &marked).expect("marked").along - down).norm() < 1e-9);
}

/// 5 % lost lengthwise and 3 % across: after washing a copy is the garment's size again (arithmetic).
#[test]
fn shrinkage_is_made_up_along_the_grain() {
    let layer = half_front().mapped(Affine::rotate(0.3));
    let down = Vector2::new(-0.3f64.sin(), 0.3f64.cos());
    let cut = for_shrinkage(&layer, down, 0.05, 0.03);
    let long = |l: &Layer, e: &str| l.edges[l.edge(e).expect("there")].length();
    assert!((long(&cut, "centre") * 0.95 - long(&layer, "centre")).abs() < 1e-9);
    assert!((long(&cut, "hem") * 0.97 - long(&layer, "hem")).abs() < 1e-9);
}
