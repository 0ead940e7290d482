//! Centre line, halves and their mean on drawn garments with a known centre: turned by a known angle, then every corner and
//! handle moved by what tracing leaves.

mod render;

use kurbo::{BezPath, PathEl};
use nalgebra::Vector2;
use render::curve::{Curve, Stretch};
use render::random::Random;
use render::shapes::{self, Figure};
use ruboff::length::Mm;
use ruboff::piece::{Centre, Corner, Edge, How, Keep, Layer, Line, Pairs, centre, difference, halves, kept};

type Shape = fn(&mut Figure) -> Curve;

/// Each stretch an edge of its own; joints on the centre of a smooth line are no corners, as in a tracing.
fn layer(curve: &Curve) -> Layer {
    let mut at = curve.start;
    let mut edges: Vec<Edge> = Vec::new();
    let direction = |a: [f64; 2], b: [f64; 2]| Vector2::new(b[0] - a[0], b[1] - a[1]).normalize();
    let mut before: Option<Vector2<f64>> = None;
    for s in &curve.stretches {
        let (first, last) = match *s {
            Stretch::Line(p) => (direction(at, p), direction(at, p)),
            Stretch::Cubic(a, b, p) => (direction(at, a), direction(b, p)),
        };
        if before.is_none_or(|d| d.dot(&first) < 20f64.to_radians().cos()) {
            let mut path = BezPath::new();
            path.move_to((at[0], at[1]));
            edges.push(Edge { name: String::new(), path, line: Line::Rim, how: How::Seen, bound: None });
        }
        let path = &mut edges.last_mut().expect("one was begun").path;
        match *s {
            Stretch::Line(p) => path.line_to((p[0], p[1])),
            Stretch::Cubic(a, b, p) => path.curve_to((a[0], a[1]), (b[0], b[1]), (p[0], p[1])),
        }
        before = Some(last);
        at = s.end();
    }
    // The start lies on the centre of a smooth line: the last edge and the first are one.
    let first = edges.first().and_then(|e| e.path.segments().next()).map(|s| {
        let (a, b) = (kurbo::ParamCurve::eval(&s, 0.0), kurbo::ParamCurve::eval(&s, 1e-3));
        direction([a.x, a.y], [b.x, b.y])
    });
    if before.zip(first).is_some_and(|(a, b)| a.dot(&b) > 20f64.to_radians().cos()) && edges.len() > 1 {
        let first = edges.remove(0);
        edges.last_mut().expect("more than one").path.extend(first.path.elements().iter().skip(1).copied());
    }
    let mut corners = Vec::new();
    for (k, e) in edges.iter_mut().enumerate() {
        e.name = format!("edge {}", k + 1);
        let Some(PathEl::MoveTo(p)) = e.path.elements().first() else { panic!("an edge starts somewhere") };
        corners.push(Corner { name: format!("corner {}", k + 1), at: Mm::new(p.x, p.y), error: Some(0.1) });
    }
    let layer = Layer { corners, edges, ..Layer::default() };
    layer.check().expect("closed");
    layer
}

/// About normal, of standard deviation 1: the sum of twelve even draws (central limit).
fn normal(random: &mut Random) -> f64 {
    (0..12).map(|_| random.between(-0.5, 0.5)).sum()
}

/// All points moved, those that lie together alike.
fn shaken(curve: &Curve, random: &mut Random, by: f64) -> Curve {
    let mut moved: Vec<([f64; 2], [f64; 2])> = Vec::new();
    let cell = std::cell::RefCell::new((&mut moved, random));
    curve.map(|p| {
        let (moved, random) = &mut *cell.borrow_mut();
        if let Some(m) = moved.iter().find(|m| (m.0[0] - p[0]).hypot(m.0[1] - p[1]) < 1e-6) {
            return m.1;
        }
        let q = [p[0] + by * normal(random), p[1] + by * normal(random)];
        moved.push((p, q));
        q
    })
}

/// Within 0.3 mm and 0.05° for garments lying skewed, each corner out by 0.1 mm (standard deviation), as tracings of plain cloth
/// are, over 40 lots each.
#[test]
fn the_centre_of_skewed_garments() {
    let shapes: [(&str, Shape); 5] = [
        ("bodice", shapes::bodice),
        ("sleeve", shapes::sleeve),
        ("collar", shapes::collar),
        ("yoke", shapes::yoke),
        ("gore", shapes::gore),
    ];
    for (name, shape) in shapes {
        for lot in 0..40u64 {
            let mut random = Random::new(1000 + lot);
            let degrees = random.between(-35.0, 35.0);
            let by = [random.between(-50.0, 50.0), random.between(-50.0, 50.0)];
            let drawn = shape(&mut Figure::varied(lot, 0.1)).laid(degrees, by);
            let layer = layer(&shaken(&drawn, &mut random, 0.1));
            let found = centre(&layer, &Pairs::of(&layer)).unwrap_or_else(|| panic!("{name} {lot} has a centre"));
            let (s, c) = degrees.to_radians().sin_cos();
            // What was x = 0 before the piece was laid.
            let truth = Centre::marked(Mm::from(by), Mm::from(by) + Vector2::new(-s, c)).expect("two places");
            let (off, turned) = found.against(&truth);
            assert!(off.abs() < 0.3, "{name} {lot} at {degrees:.1}°: {off:.3} mm off, {} levels", found.levels.len());
            let limit = if name == "collar" || name == "yoke" || name == "sleeve" { SHORT } else { 0.05 };
            assert!(turned.abs() < limit, "{name} {lot} at {degrees:.1}°: {turned:.3}° off, {:?}", found.levels);
        }
    }
}

/// Pieces whose levels lie within 100 to 150 mm of each other can't tell a direction better than their corners' errors allow.
const SHORT: f64 = 0.2;

#[test]
fn a_level_that_lies_badly_is_told_and_does_not_turn_the_line() {
    let mut shape = layer(&shapes::bodice(&mut Figure::plain()));
    let pairs = Pairs::of(&shape);
    assert_eq!(pairs.corners.len(), 4, "neck, shoulder tip, underarm, hem");
    let good = centre(&shape, &pairs).expect("a centre");
    assert!(good.levels.iter().all(|l| l.off.abs() < 0.01), "{:?}", good.levels);
    assert!(good.levels.iter().any(|l| l.name == "narrowest"), "the waist");
    // One underarm pulled out by 8 mm: its middle lies 4 mm off.
    let k =
        pairs.corners.iter().flatten().copied().max_by(|&a, &b| shape.corners[a].at.x.total_cmp(&shape.corners[b].at.x)).expect("corners");
    let to = shape.corners[k].at + Vector2::new(8.0, 0.0);
    shape.corners[k].at = to;
    let n = shape.edges.len();
    for (e, end) in [(k, false), ((k + n - 1) % n, true)] {
        let mut els: Vec<PathEl> = shape.edges[e].path.elements().to_vec();
        let place = if end { els.len() - 1 } else { 0 };
        els[place] = match els[place] {
            PathEl::MoveTo(_) => PathEl::MoveTo((to.x, to.y).into()),
            PathEl::LineTo(_) => PathEl::LineTo((to.x, to.y).into()),
            PathEl::CurveTo(a, b, _) => PathEl::CurveTo(a, b, (to.x, to.y).into()),
            other => other,
        };
        shape.edges[e].path = BezPath::from_vec(els);
    }
    let found = centre(&shape, &pairs).expect("a centre");
    let (off, turned) = good.against(&found);
    assert!(off.abs() < 0.3 && turned.abs() < 0.1, "{off} {turned}");
    let worst = found.levels.iter().map(|l| l.off.abs()).fold(0.0, f64::max);
    assert!((worst - 4.0).abs() < 0.4, "{worst}");
    let map = difference(&shape, &found);
    assert!(map.most > 4.0 && map.most < 9.0 && map.mean < 2.0, "{} {}", map.most, map.mean);
}

/// Both halves, the mean and the opened whole have the size that arithmetic gives them.
#[test]
fn halves_make_the_whole_again() {
    let shape = layer(&shapes::bodice(&mut Figure::plain()).laid(12.0, [30.0, -20.0]));
    let line = centre(&shape, &Pairs::of(&shape)).expect("a centre");
    let [left, right] = halves(&shape, &line).expect("two halves");
    assert!((left.layer.area() + right.layer.area() - shape.area()).abs() < 1.0);
    assert!((left.layer.area() - right.layer.area()).abs() < 2.0);
    for half in [&left, &right] {
        assert_eq!(half.layer.edges.last().expect("edges").line, Line::Fold);
        // Neck and hem are drawn level at the centre.
        assert!(half.meets.iter().all(|m| (m.angle_deg - 90.0).abs() < 0.1), "{:?}", half.meets);
        let opened = half.opened().expect("a whole");
        assert!((opened.area() / shape.area() - 1.0).abs() < 1e-4);
        assert!(difference(&opened, &line).most < 0.02);
    }
    let mean = kept(&shape, &line, Keep::Mean).expect("a mean").expect("asked for");
    assert!((mean.layer.area() - shape.area() / 2.0).abs() < 2.0);
    assert!((mean.layer.perimeter() - right.layer.perimeter()).abs() < 0.1);
    assert_eq!(kept(&shape, &line, Keep::AsIs).expect("nothing to do"), None);
}

/// Left 6 mm wider than right all along: their mean lies 3 mm from either.
#[test]
fn the_mean_lies_between() {
    let path = |t: &str| BezPath::from_svg(t).expect("path data");
    let texts = ["M 0 0 L 100 0", "M 100 0 L 100 300", "M 100 300 L -106 300", "M -106 300 L -106 0", "M -106 0 L 0 0"];
    let names = ["neck right", "side right", "hem", "side left", "neck left"];
    let edges =
        names.iter().zip(texts).map(|(n, t)| Edge { name: (*n).into(), path: path(t), line: Line::Rim, how: How::Seen, bound: None });
    let corners = [[0.0, 0.0], [100.0, 0.0], [100.0, 300.0], [-106.0, 300.0], [-106.0, 0.0]];
    let corners = corners.iter().enumerate().map(|(k, c)| Corner { name: format!("c{k}"), at: Mm::from(*c), error: None });
    let box_ = Layer { corners: corners.collect(), edges: edges.collect(), ..Layer::default() };
    let line = Centre::marked(Mm::new(0.0, 0.0), Mm::new(0.0, 300.0)).expect("two places");
    let mean = kept(&box_, &line, Keep::Mean).expect("a mean").expect("asked for");
    assert!((mean.layer.area() - 103.0 * 300.0).abs() < 1e-6, "{}", mean.layer.area());
    let d = difference(&box_, &line);
    assert!((d.most - 6.0).abs() < 1e-6, "{}", d.most);
    let names: Vec<&str> = mean.layer.edges.iter().map(|e| e.name.as_str()).collect();
    assert_eq!(names, ["neck right", "side right", "hem", "centre"]);
}

/// A neckline that meets the fold at 84° is told, and bent only when asked, over its last 25 mm.
#[test]
fn right_angles_at_the_fold_are_asked_for() {
    let slope = 6f64.to_radians().tan() * 100.0;
    let mut box_ =
        layer(&Curve::from([0.0, 0.0]).line([100.0, slope]).line([100.0, 300.0]).line([-100.0, 300.0]).line([-100.0, slope]).close());
    // The kink at the centre is gentler than a corner, so both sides of the neck are one edge.
    assert_eq!(box_.edges.len(), 4);
    let line = Centre::marked(Mm::new(0.0, 0.0), Mm::new(0.0, 300.0)).expect("two places");
    let [_, right] = halves(&box_, &line).expect("two halves");
    assert!((right.meets[0].angle_deg - 96.0).abs() < 1e-6 || (right.meets[0].angle_deg - 84.0).abs() < 1e-6, "{:?}", right.meets);
    let (square, moved) = right.squared();
    assert!(moved[0] > 0.3 && moved[0] < 1.5 && moved[1] == 0.0, "{moved:?}");
    let again = halves(&square.opened().expect("a whole"), &line).expect("two halves");
    assert!(again.iter().flat_map(|h| &h.meets).all(|m| (m.angle_deg - 90.0).abs() < 1e-6), "{again:?}");
    box_.edges.clear();
    assert!(halves(&box_, &line).is_err());
}
