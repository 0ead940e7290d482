//! Layings of one piece held against each other, their mean, and pieces put together: lines with known distortions, no pictures.

use kurbo::{Affine, BezPath, CubicBez, ParamCurve, ParamCurveArclen, ParamCurveDeriv, ParamCurveNearest, Point};
use proptest::prelude::*;
use ruboff::length::Mm;
use ruboff::piece::{Corner, Edge, How, LaidOut, Layer, LayingError, LayingPart, Line, TogetherError, layings, mean, put_together};

/// The sides of an invented waistcoat's front: neck, shoulder, armhole, side, hem, centre.
const SIDES: [[[f64; 2]; 4]; 6] = [
    [[0.0, 120.0], [40.0, 110.0], [70.0, 70.0], [80.0, 10.0]],
    [[80.0, 10.0], [120.0, 20.0], [160.0, 32.0], [200.0, 45.0]],
    [[200.0, 45.0], [170.0, 120.0], [180.0, 200.0], [250.0, 235.0]],
    [[250.0, 235.0], [240.0, 330.0], [245.0, 420.0], [255.0, 500.0]],
    [[255.0, 500.0], [180.0, 520.0], [100.0, 560.0], [0.0, 560.0]],
    [[0.0, 560.0], [0.0, 400.0], [0.0, 260.0], [0.0, 120.0]],
];

/// Straight legs along the sides, each place moved out by what `off` says for side and share of it.
fn front(off: impl Fn(usize, f64) -> f64) -> Layer {
    let side = |k: usize| {
        let [a, b, c, d] = SIDES[k].map(|p| Point::new(p[0], p[1]));
        let cubic = CubicBez::new(a, b, c, d);
        let mut path = BezPath::new();
        for j in 0..=200 {
            let t = f64::from(j) / 200.0;
            let along = cubic.deriv().eval(t).to_vec2().normalize();
            let at = cubic.eval(t) + kurbo::Vec2::new(along.y, -along.x) * off(k, t);
            if j == 0 { path.move_to(at) } else { path.line_to(at) }
        }
        path
    };
    layer((0..6).map(side).collect())
}

fn layer(sides: Vec<BezPath>) -> Layer {
    let start = |p: &BezPath| p.segments().next().expect("a path").start();
    let corners = sides.iter().map(start).enumerate();
    let corners = corners.map(|(k, p)| Corner { name: format!("corner {}", k + 1), at: Mm::new(p.x, p.y), error: Some(0.05) }).collect();
    let edge = |(k, path)| Edge { name: format!("edge {}", k + 1), path, line: Line::Rim, how: How::Seen, bound: Some(0.2) };
    Layer { corners, edges: sides.into_iter().enumerate().map(edge).collect(), ..Layer::default() }
}

/// Waves that a rigid motion can't follow and that leave the corners where they are.
fn waves(high: f64, count: f64) -> impl Fn(usize, f64) -> f64 {
    move |_, t| high * (std::f64::consts::TAU * count * t).sin()
}

/// What 95 % of places keep below once the best rigid motion is taken out of offsets along the normals, by linear least squares.
fn left_over(off: impl Fn(usize, f64) -> f64) -> f64 {
    let (mut rows, mut right) = (Vec::new(), Vec::new());
    for (k, side) in SIDES.iter().enumerate() {
        let [a, b, c, d] = side.map(|p| Point::new(p[0], p[1]));
        let cubic = CubicBez::new(a, b, c, d);
        let length = cubic.arclen(1e-6);
        let n = length as usize;
        for j in 0..n {
            let t = cubic.inv_arclen(length * (j as f64 + 0.5) / n as f64, 1e-6);
            let (p, along) = (cubic.eval(t), cubic.deriv().eval(t).to_vec2().normalize());
            let normal = (along.y, -along.x);
            rows.push([normal.0, normal.1, normal.1 * p.x - normal.0 * p.y]);
            right.push(off(k, t));
        }
    }
    let m = nalgebra::DMatrix::from_fn(rows.len(), 3, |r, c| rows[r][c]);
    let v = nalgebra::DVector::from_vec(right);
    let fit = (m.transpose() * &m).try_inverse().expect("three unknowns") * m.transpose() * &v;
    let mut left: Vec<f64> = (v - m * fit).iter().map(|v| v.abs()).collect();
    left.sort_by(f64::total_cmp);
    left[left.len() * 95 / 100]
}

fn turned(layer: &Layer, deg: f64, by: (f64, f64)) -> Layer {
    layer.mapped(Affine::translate(by) * Affine::rotate(deg.to_radians()))
}

fn each<'a>(layers: impl IntoIterator<Item = &'a Layer>) -> Vec<LaidOut<'a>> {
    layers.into_iter().enumerate().map(|(laying, layer)| LaidOut { layer, laying, mirrored: false }).collect()
}

/// Root mean square distance of the lines of one layer from those of another, after the motion.
fn off(layer: &Layer, truth: &Layer) -> f64 {
    let (mut sum, mut n) = (0.0, 0.0);
    for (e, t) in layer.edges.iter().zip(&truth.edges) {
        for s in e.path.segments() {
            for j in 0..4 {
                let p = s.eval(f64::from(j) / 4.0);
                let near = t.path.segments().map(|s| s.nearest(p, 1e-6).distance_sq).fold(f64::INFINITY, f64::min);
                (sum, n) = (sum + near, n + 1.0);
            }
        }
    }
    f64::sqrt(sum / n)
}

/// What was bent out is what is told, however the second lies on its page.
#[test]
fn a_known_distortion_is_told() {
    let flat = front(|_, _| 0.0);
    for (high, deg) in [(0.5, 3.0), (2.0, -40.0), (4.0, 170.0)] {
        let bent = turned(&front(waves(high, 4.0)), deg, (300.0, -80.0));
        let found = layings(&each([&flat, &bent])).unwrap_or_else(|e| panic!("{e}"));
        assert_eq!(found.count, 2);
        for spread in &found.spreads {
            let want = left_over(waves(high, 4.0));
            let told = spread.laid.expect("two layings");
            assert!((told - want).abs() < 0.05, "{told} for {want}");
            assert_eq!((spread.layings, spread.repeat, spread.edges.len()), (2, None, 6));
            for e in &spread.edges {
                assert!(e.along.len() > 20 && e.along.windows(2).all(|w| w[1][0] > w[0][0] && w[1][0] - w[0][0] < 6.0), "{:?}", e.along);
                assert!((e.laid.expect("an edge") - want).abs() < 0.05 + 0.12 * high, "{:?} for {want}", e.laid);
            }
            assert!(spread.corners.iter().all(|c| *c < 0.3 * high), "{:?}", spread.corners);
        }
    }
}

/// Turned over, an outline is laid on as its mirror image, and what is told of it is told along its own edges.
#[test]
fn a_piece_turned_over_is_laid_on_mirrored() {
    let flat = front(|_, _| 0.0);
    let bent = front(|k, t| if k == 3 { 3.0 * (std::f64::consts::TAU * 2.0 * t).sin() * t } else { 0.0 });
    let over = turned(&bent.mapped(Affine::FLIP_X), 21.0, (10.0, 4.0));
    let taken = [LaidOut { layer: &flat, laying: 0, mirrored: false }, LaidOut { layer: &over, laying: 1, mirrored: true }];
    let found = layings(&taken).unwrap_or_else(|e| panic!("{e}"));
    let number = over.edge("edge 4").expect("kept");
    assert_eq!(found.edge(1, 3), number);
    assert_eq!(over.corners[found.corner(1, 3)].name, "corner 4");
    let [own, others] = [&found.spreads[0].edges[3], &found.spreads[1].edges[number]];
    assert!((own.laid.expect("told") - others.laid.expect("told")).abs() < 0.1);
    // The bend grows towards the hem: the far end of the edge as it lay, the near one turned over.
    let half = |along: &[[f64; 2]], far: bool| along.iter().filter(|a| (a[0] > 132.0) == far).map(|a| a[1]).fold(0.0, f64::max);
    assert!(half(&own.along, true) > 2.0 && half(&own.along, false) < 1.6, "{:?}", own.along);
    assert!(half(&others.along, false) > 2.0 && half(&others.along, true) < 1.6, "{:?}", others.along);
    let middle = mean(&found, &taken).unwrap_or_else(|e| panic!("{e}"));
    assert_eq!(middle.edges[3].name, "edge 4");
}

/// One edge bent, the others not: the one is named and the others hardly blamed.
#[test]
fn the_edge_that_differs_is_the_one_told() {
    let flat = front(|_, _| 0.0);
    let bent = front(|k, t| if k == 3 { 3.0 * (std::f64::consts::TAU * 2.0 * t).sin() } else { 0.0 });
    let found = layings(&each([&flat, &turned(&bent, 5.0, (10.0, 4.0))])).unwrap_or_else(|e| panic!("{e}"));
    let told: Vec<f64> = found.spreads[0].edges.iter().map(|e| e.laid.expect("told")).collect();
    assert!((told[3] - 3.0).abs() < 0.2, "{told:?}");
    assert!(told.iter().enumerate().all(|(k, t)| k == 3 || *t < 0.5), "{told:?}");
}

/// Pictures between which nothing moved differ by the tool alone: that is told apart and is no second laying.
#[test]
fn two_pictures_of_one_laying_are_no_second_laying() {
    let (a, b, c) = (front(|_, _| 0.0), front(waves(0.1, 5.0)), front(waves(2.0, 4.0)));
    let one = [LaidOut { layer: &a, laying: 7, mirrored: false }, LaidOut { layer: &b, laying: 7, mirrored: false }];
    let found = layings(&one).unwrap_or_else(|e| panic!("{e}"));
    assert_eq!((found.count, found.spreads[0].laid), (1, None));
    assert!((found.spreads[0].repeat.expect("told") - 0.1).abs() < 0.02, "{:?}", found.spreads[0].repeat);
    let two = [one[0], one[1], LaidOut { layer: &c, laying: 8, mirrored: false }];
    let found = layings(&two).unwrap_or_else(|e| panic!("{e}"));
    assert_eq!(found.count, 2);
    assert!((found.spreads[2].laid.expect("told") - left_over(waves(2.0, 4.0))).abs() < 0.1, "{:?}", found.spreads[2].laid);
    assert!((found.spreads[2].repeat.expect("told") - 0.1).abs() < 0.02);
}

/// The mean of three is nearer to the truth than each of them, drawn with few cubics, and its corners lie in the middle.
#[test]
fn the_mean_is_nearer_to_the_truth_than_each() {
    let truth = front(|_, _| 0.0);
    let wave = |high: f64, count: f64, phase: f64| {
        move |_: usize, t: f64| high * ((std::f64::consts::TAU * count * t + phase).sin() - phase.sin() * (1.0 - t) - phase.sin() * t)
    };
    let laid = [
        front(wave(1.5, 2.0, 0.3)),
        turned(&front(wave(-1.2, 3.0, 1.0)), 8.0, (40.0, 3.0)),
        turned(&front(wave(1.0, 1.0, 2.0)), -5.0, (0.0, 90.0)),
    ];
    let taken = each(&laid);
    let found = layings(&taken).unwrap_or_else(|e| panic!("{e}"));
    let middle = mean(&found, &taken).unwrap_or_else(|e| panic!("{e}"));
    middle.check().expect("closed");
    let best = |layer: &Layer| {
        // Laid on the truth as well as it goes.
        let found = layings(&each([&truth, layer])).unwrap_or_else(|e| panic!("{e}"));
        off(&layer.mapped(found.motions[1]), &truth)
    };
    let (of_mean, of_each): (f64, Vec<f64>) = (best(&middle), laid.iter().map(best).collect());
    assert!(of_each.iter().all(|e| of_mean < 0.75 * e), "mean {of_mean}, each {of_each:?}");
    assert!(
        middle.edges.iter().all(|e| e.path.segments().count() <= 6),
        "{:?}",
        middle.edges.iter().map(|e| e.path.segments().count()).collect::<Vec<_>>()
    );
    assert!(middle.edges.iter().all(|e| e.how == How::Chosen && e.bound.is_some_and(|b| (b - 0.2).abs() < 1e-9)));
}

#[test]
fn a_straight_edge_stays_straight_in_the_mean() {
    let line = |a: (f64, f64), b: (f64, f64)| {
        let mut path = BezPath::new();
        path.move_to(a);
        path.line_to(b);
        path
    };
    let sheet = |w: f64| {
        layer(vec![line((0.0, 0.0), (w, 0.0)), line((w, 0.0), (w, 80.0)), line((w, 80.0), (0.0, 80.0)), line((0.0, 80.0), (0.0, 0.0))])
    };
    let (a, b) = (sheet(200.0), sheet(202.0));
    let taken = each([&a, &b]);
    let found = layings(&taken).unwrap_or_else(|e| panic!("{e}"));
    let middle = mean(&found, &taken).unwrap_or_else(|e| panic!("{e}"));
    assert!((middle.area() - 201.0 * 80.0).abs() < 2.0, "{}", middle.area());
    assert!(middle.edges.iter().all(|e| e.path.segments().count() == 1), "a ruler draws them");
    assert!((found.spreads[0].edges[1].laid.expect("told") - 1.0).abs() < 0.02, "one millimetre at either end: {:?}", found.spreads[0]);
}

#[test]
fn what_can_not_be_compared_is_refused_in_one_line() {
    let a = front(|_, _| 0.0);
    let said = |layers: &[&Layer]| {
        let e = layings(&each(layers.iter().copied())).expect_err("refused");
        assert!((15..=300).contains(&e.to_string().chars().count()), "{e}");
        e
    };
    assert_eq!(said(&[&a]), LayingError::TooFew);
    let mut five = a.clone();
    five.corners.remove(1);
    let last = five.edges.remove(1);
    five.edges[0].path.extend(last.path.elements()[1..].iter().copied());
    let lost = a.corners[1].name.clone();
    for pair in [[&a, &five], [&five, &a]] {
        assert!(matches!(said(&pair), LayingError::Corners { corner, .. } if corner == lost));
    }
    let large = a.mapped(Affine::scale(1.2));
    assert!(matches!(said(&[&a, &large]), LayingError::NotAlike { off } if off > 20.0));
    let mut cut = a.clone();
    cut.edges[2].line = Line::Cut;
    assert_eq!(said(&[&a, &cut]), LayingError::Cut { edge: "edge 3".into() });
    let name = |layer: &Layer, k: usize, j: usize| {
        let mut layer = layer.clone();
        (layer.corners[k].name, layer.corners[j].name) = ("shoulder".into(), "underarm".into());
        layer
    };
    assert!(matches!(said(&[&name(&a, 1, 3), &name(&a, 3, 1)]), LayingError::Order { .. }));
    // Mirrored, and nobody said so.
    assert!(matches!(said(&[&a, &a.mapped(Affine::FLIP_X)]), LayingError::NotAlike { .. }));
}

/// A collar is the same after half a turn: of two ways that fit, it lies as on the page.
#[test]
fn of_two_ways_that_fit_the_page_s_own_is_taken() {
    let line = |a: (f64, f64), b: (f64, f64)| {
        let mut path = BezPath::new();
        path.move_to(a);
        path.line_to(b);
        path
    };
    let at = [(0.0, 0.0), (400.0, 0.0), (400.0, 70.0), (0.0, 70.0)];
    let band = layer((0..4).map(|k| line(at[k], at[(k + 1) % 4])).collect());
    let other = turned(&band, 6.0, (20.0, 20.0));
    let found = layings(&each([&band, &other])).unwrap_or_else(|e| panic!("{e}"));
    let [a, b, ..] = found.motions[1].as_coeffs();
    assert!((b.atan2(a).to_degrees() + 6.0).abs() < 0.01, "{}", b.atan2(a).to_degrees());
}

/// Legs whose crotch won't lie flat with the hem: two layings that share two named corners.
fn named(layer: &Layer, names: &[(usize, &str)]) -> Layer {
    let mut layer = layer.clone();
    names.iter().for_each(|(k, n)| layer.corners[*k].name = (*n).into());
    layer
}

#[test]
fn a_piece_is_put_together_through_shared_points() {
    let all = [(0, "neck"), (1, "shoulder"), (2, "tip"), (3, "underarm"), (4, "side hem"), (5, "centre hem")];
    let flat = named(&front(|_, _| 0.0), &all);
    // In one the armhole is crumpled, in the other all but the armhole.
    let one = named(&front(|k, t| if k == 2 { -9.0 * (std::f64::consts::PI * t).sin() } else { 0.0 }), &all);
    let other = named(&front(|k, t| if k == 2 { 0.0 } else { 7.0 * (std::f64::consts::PI * t).sin() }), &[(2, "tip"), (3, "underarm")]);
    let mut other = turned(&other, 33.0, (500.0, 0.0));
    // One point a millimetre off: half of it is left at either.
    other.corners[3].at = other.corners[3].at + nalgebra::Vector2::new(0.0, 1.0);
    let end = other.corners[3].at;
    let ends = |layer: &mut Layer, k: usize, to: Point| {
        let mut elements = layer.edges[k].path.elements().to_vec();
        *elements.last_mut().expect("a path") = kurbo::PathEl::LineTo(to);
        layer.edges[k].path = BezPath::from_vec(elements);
    };
    ends(&mut other, 2, Point::new(end.x, end.y));
    let part = |layer, gives: &[&str]| LayingPart { layer, marks: Vec::new(), gives: gives.iter().map(|g| (*g).to_owned()).collect() };
    let whole = put_together(&[part(&one, &[]), part(&other, &["tip to underarm"])]).unwrap_or_else(|e| panic!("{e}"));
    assert_eq!(whole.layer.edges.len(), 6);
    assert_eq!(whole.from.iter().filter(|f| f.0 == 1).count(), 1);
    assert_eq!(whole.shared.len(), 2);
    let along = (other.corners[3].at - other.corners[2].at).norm() - (flat.corners[3].at - flat.corners[2].at).norm();
    for s in &whole.shared {
        assert!((s.off - along.abs() / 2.0).abs() < 1e-6 && s.allowed > 0.0, "{s:?} {along}");
    }
    // The armhole is as it lay flat in the second.
    let armhole = whole.from.iter().position(|f| f.0 == 1).expect("one");
    assert_eq!(whole.from[armhole], (1, 2));
    let mut truth = flat.clone();
    truth.edges.rotate_left((2 + 6 - armhole) % 6);
    assert!(off(&whole.layer, &truth) < 1.0, "{}", off(&whole.layer, &truth));
    let length = whole.layer.edges[armhole].length();
    assert!((length - flat.edges[2].length()).abs() < 1.5, "{length}");
}

#[test]
fn pieces_that_can_not_be_put_together_are_refused() {
    let all = [(0, "neck"), (1, "shoulder"), (2, "tip"), (3, "underarm"), (4, "side hem"), (5, "centre hem")];
    let flat = front(|_, _| 0.0);
    let said = |parts: &[LayingPart]| {
        let e = put_together(parts).expect_err("refused");
        assert!((15..=300).contains(&e.to_string().chars().count()), "{e}");
        e
    };
    let part = |layer, gives: &[&str]| LayingPart { layer, marks: Vec::new(), gives: gives.iter().map(|g| (*g).to_owned()).collect() };
    let whole = named(&flat, &all);
    assert_eq!(said(&[part(&whole, &[])]), TogetherError::TooFew);
    let one = named(&flat, &[(2, "tip")]);
    assert_eq!(said(&[part(&whole, &[]), part(&one, &[])]), TogetherError::Loose { number: 2, points: 1 });
    assert!(matches!(said(&[part(&flat, &[]), part(&flat, &[])]), TogetherError::Loose { points: 0, .. }));
    assert!(matches!(said(&[part(&whole, &["sleeve"]), part(&whole, &[])]), TogetherError::NoSuchEdge { number: 1, .. }));
    let mut cut = whole.clone();
    cut.edges[4].line = Line::Cut;
    assert!(matches!(said(&[part(&cut, &[]), part(&cut, &[])]), TogetherError::NoEdge { corner } if corner == "side hem"));
    let mut fewer = whole.clone();
    fewer.corners.remove(1);
    let last = fewer.edges.remove(1);
    fewer.edges[0].path.extend(last.path.elements()[1..].iter().copied());
    assert!(matches!(said(&[part(&whole, &[]), part(&fewer, &[])]), TogetherError::TwoWays { corner, .. } if corner == "neck"));
    // Marks laid on the cloth are shared points too.
    let marks = vec![("a".to_owned(), Mm::new(10.0, 10.0), 0.1), ("b".to_owned(), Mm::new(200.0, 300.0), 0.1)];
    let marked = |layer, marks: &[(String, Mm, f64)]| LayingPart { layer, marks: marks.to_vec(), gives: Vec::new() };
    let found = put_together(&[marked(&whole, &marks), marked(&flat, &marks)]).unwrap_or_else(|e| panic!("{e}"));
    assert!(found.shared.iter().all(|s| s.off < 1e-9) && found.layer.edges.len() == 6);
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 24, ..ProptestConfig::default() })]

    /// However a piece lies, the motion back is found and nothing is left.
    #[test]
    fn any_turn_and_shift_is_found(deg in -179.0..179.0f64, x in -900.0..900.0f64, y in -900.0..900.0f64, first in 0usize..6) {
        let a = front(|_, _| 0.0);
        let mut b = turned(&a, deg, (x, y));
        b.corners.rotate_left(first);
        b.edges.rotate_left(first);
        let found = layings(&each([&a, &b])).expect("one piece");
        prop_assert!(found.spreads[1].laid.expect("told") < 1e-3, "{:?}", found.spreads[1].laid);
        for c in &a.corners {
            let there = Affine::translate((x, y)) * Affine::rotate(deg.to_radians()) * Point::new(c.at.x, c.at.y);
            prop_assert!((found.motions[1] * there).distance(Point::new(c.at.x, c.at.y)) < 1e-2);
        }
    }
}
