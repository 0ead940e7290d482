//! Darts, pleats, folds, notches, grain and shrinkage on pieces whose result arithmetic gives.

mod straight;

use kurbo::{Affine, BezPath, ParamCurve, Vec2};
use nalgebra::Vector2;
use proptest::prelude::*;
use ruboff::length::Mm;
use ruboff::notes::{NotchStyle, Notes};
use ruboff::piece::{
    Edge, FullnessError, Layer, PressedTo, ShutDart, dart_opened, for_shrinkage, grain, grain_down, marked_centre, notches, spread,
    unfolded,
};
use straight::{half_front, lines};

fn line(a: [f64; 2], b: [f64; 2]) -> BezPath {
    let mut path = BezPath::new();
    path.move_to((a[0], a[1]));
    path.line_to((b[0], b[1]));
    path
}

fn dart(intake: f64, pressed: PressedTo) -> ShutDart<'static> {
    ShutDart { name: "bust dart", edge: 2, at: 100.0, point: Mm::new(90.0, 300.0), intake, pressed, gives: None }
}

fn at(layer: &Layer, edge: &str, nth: usize) -> [kurbo::Point; 2] {
    let e = layer.edges.iter().filter(|e| e.name == edge).nth(nth).expect("an edge of that name");
    let all: Vec<kurbo::PathSeg> = e.path.segments().collect();
    [all[0].start(), all[all.len() - 1].end()]
}

/// Legs of 110 mm that take in 22 mm make an angle of 2 asin(11/110) (trigonometry); all edges but the one opposite keep their
/// length, and the side is as long as before without the dart.
#[test]
fn a_dart_is_opened_by_rotation() {
    let before = half_front();
    let opened = dart_opened(&before, &dart(22.0, PressedTo::Second)).expect("opened");
    let (first, second) = (at(&opened.layer, "side", 0), at(&opened.layer, "side", 1));
    let (m, n) = (first[1], second[0]);
    assert!((m.distance(n) - 22.0).abs() < 1e-9);
    let tip = kurbo::Point::new(90.0, 300.0);
    assert!((n.distance(tip) - 110.0).abs() < 1e-9);
    for name in ["shoulder", "armhole", "neckline", "hem"] {
        let of = |l: &Layer| l.edges[l.edge(name).expect("kept")].length();
        assert!((of(&opened.layer) - of(&before)).abs() < 1e-6, "{name}");
    }
    let sides: f64 = opened.layer.edges.iter().filter(|e| e.name == "side").map(Edge::length).sum();
    assert!((sides - 400.0).abs() < 1e-9);
    assert_eq!(opened.gave.0, "centre");
    // The hem, level before, is turned by the dart's angle.
    let [a, b] = at(&opened.layer, "hem", 0);
    let angle = 2.0 * (11.0f64 / 110.0).asin();
    assert!(((b - a).normalize() - Vec2::new(-angle.cos(), -angle.sin())).hypot() < 1e-9);
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

proptest! {
    /// The gap is the intake, whatever dart.
    #[test]
    fn every_dart_opens_by_its_intake(intake in 2.0..60.0f64, at in 20.0..380.0f64, x in 40.0..150.0f64, y in 220.0..500.0f64) {
        let dart = ShutDart { name: "dart", edge: 2, at, point: Mm::new(x, y), intake, pressed: PressedTo::Both, gives: None };
        let opened = dart_opened(&half_front(), &dart).expect("opened");
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
