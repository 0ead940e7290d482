//! Allowances against what is known without the crate: distances by dense sampling with an evaluator of cubics of its own,
//! lengths and areas by Steiner's formula, corners by construction.

use kurbo::BezPath;
use proptest::prelude::*;
use ruboff::length::Mm;
use ruboff::piece::{Allowance, AllowanceError, Corner, CutLine, Edge, Finish, How, Layer, Line, cut_line, seam_line};
use std::f64::consts::{PI, TAU};

type P = [f64; 2];

/// Points along a path's elements by de Casteljau, `n` to a segment; the last point of all left out.
fn sampled(path: &BezPath, n: usize) -> Vec<P> {
    let mut out = Vec::new();
    let (mut at, mut first) = ([0.0; 2], [0.0; 2]);
    let lerp = |a: P, b: P, t: f64| [a[0] + (b[0] - a[0]) * t, a[1] + (b[1] - a[1]) * t];
    for el in path.elements() {
        let (a, b, c, d) = match *el {
            kurbo::PathEl::MoveTo(p) => {
                at = [p.x, p.y];
                first = at;
                continue;
            }
            kurbo::PathEl::LineTo(p) => (at, lerp(at, [p.x, p.y], 1.0 / 3.0), lerp(at, [p.x, p.y], 2.0 / 3.0), [p.x, p.y]),
            kurbo::PathEl::CurveTo(p, q, r) => (at, [p.x, p.y], [q.x, q.y], [r.x, r.y]),
            kurbo::PathEl::ClosePath => (at, lerp(at, first, 1.0 / 3.0), lerp(at, first, 2.0 / 3.0), first),
            kurbo::PathEl::QuadTo(..) => panic!("no quadratics are drawn"),
        };
        if (a[0] - d[0]).hypot(a[1] - d[1]) < 1e-9 {
            continue;
        }
        for k in 0..n {
            let t = k as f64 / n as f64;
            let (ab, bc, cd) = (lerp(a, b, t), lerp(b, c, t), lerp(c, d, t));
            out.push(lerp(lerp(ab, bc, t), lerp(bc, cd, t), t));
        }
        at = d;
    }
    out
}

/// Distance of a point from a closed polygon.
fn off(p: P, ring: &[P]) -> f64 {
    let n = ring.len();
    (0..n)
        .map(|k| {
            let (a, b) = (ring[k], ring[(k + 1) % n]);
            let (d, e) = ([b[0] - a[0], b[1] - a[1]], [p[0] - a[0], p[1] - a[1]]);
            let t = ((d[0] * e[0] + d[1] * e[1]) / (d[0] * d[0] + d[1] * d[1])).clamp(0.0, 1.0);
            (e[0] - d[0] * t).powi(2) + (e[1] - d[1] * t).powi(2)
        })
        .fold(f64::INFINITY, f64::min)
        .sqrt()
}

fn crosses_itself(ring: &[P]) -> bool {
    let n = ring.len();
    let turn = |a: P, b: P, c: P| (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0]);
    (0..n).any(|i| {
        (i + 2..n).filter(|j| (j + 1) % n != i).any(|j| {
            let (a, b, c, d) = (ring[i], ring[(i + 1) % n], ring[j], ring[(j + 1) % n]);
            turn(a, b, c) * turn(a, b, d) < 0.0 && turn(c, d, a) * turn(c, d, b) < 0.0
        })
    })
}

fn ring_length(ring: &[P]) -> f64 {
    (0..ring.len()).map(|k| (ring[k][0] - ring[(k + 1) % ring.len()][0]).hypot(ring[k][1] - ring[(k + 1) % ring.len()][1])).sum()
}

fn ring_area(ring: &[P]) -> f64 {
    (0..ring.len()).map(|k| (ring[k], ring[(k + 1) % ring.len()])).map(|(a, b)| a[0] * b[1] - b[0] * a[1]).sum::<f64>().abs() / 2.0
}

fn plain(width: f64) -> Allowance {
    Allowance { width, finish: Finish::Mitred, how: How::Chosen }
}

fn edge(name: &str, path: BezPath) -> Edge {
    Edge { name: name.into(), path, line: Line::Seam, how: How::Seen, bound: None }
}

/// A closed line without corners through r(θ), its cubics with the exact tangents at `n` places.
fn round(n: usize, r: impl Fn(f64) -> [f64; 2], slope: impl Fn(f64) -> [f64; 2]) -> Layer {
    let step = TAU / n as f64;
    let mut path = BezPath::new();
    path.move_to((r(0.0)[0], r(0.0)[1]));
    for k in 0..n {
        let (s, t) = (k as f64 * step, if k + 1 == n { 0.0 } else { (k + 1) as f64 * step });
        let (a, b, da, db) = (r(s), r(t), slope(s), slope(t));
        let h = step / 3.0;
        path.curve_to((a[0] + da[0] * h, a[1] + da[1] * h), (b[0] - db[0] * h, b[1] - db[1] * h), (b[0], b[1]));
    }
    Layer { edges: vec![edge("rim", path)], ..Layer::default() }
}

/// R (1 + Σ aₖ cos(kθ + pₖ)) about the origin, clockwise as seen.
#[derive(Clone, Debug)]
struct Wavy {
    size: f64,
    waves: Vec<(f64, f64)>,
}

impl Wavy {
    fn radius(&self, th: f64) -> [f64; 3] {
        let mut out = [self.size, 0.0, 0.0];
        for (k, (a, p)) in self.waves.iter().enumerate() {
            let m = (k + 2) as f64;
            out[0] += self.size * a * (m * th + p).cos();
            out[1] -= self.size * a * m * (m * th + p).sin();
            out[2] -= self.size * a * m * m * (m * th + p).cos();
        }
        out
    }

    fn layer(&self) -> Layer {
        let at = |th: f64| [self.radius(th)[0] * th.cos(), self.radius(th)[0] * th.sin()];
        let slope = |th: f64| {
            let [r, d, _] = self.radius(th);
            [d * th.cos() - r * th.sin(), d * th.sin() + r * th.cos()]
        };
        round(96, at, slope)
    }

    /// Greatest curvature either way: outwards-bulging, and hollow. Formula of polar curves.
    fn curvature(&self) -> [f64; 2] {
        (0..2000).fold([0.0, 0.0], |most: [f64; 2], k| {
            let [r, d, dd] = self.radius(TAU * f64::from(k) / 2000.0);
            let c = (r * r + 2.0 * d * d - r * dd) / (r * r + d * d).powf(1.5);
            [most[0].max(c), most[1].max(-c)]
        })
    }
}

fn wavy() -> impl Strategy<Value = Wavy> {
    let waves = prop::collection::vec((0.0..1.0f64, 0.0..TAU), 1..6);
    (60.0..400.0f64, waves).prop_map(|(size, waves)| {
        let waves = waves.into_iter().enumerate().map(|(k, (a, p))| (0.35 * a / ((k + 2) as f64).powi(2), p)).collect();
        Wavy { size, waves }
    })
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 1000, ..ProptestConfig::default() })]

    /// Distance exact to 0.05 mm everywhere, no crossing, and Steiner's formula, which holds for every smooth closed line as
    /// long as its parallel has no cusp ("Parallel curve": L' = L + 2πd, A' = A + Ld + πd²).
    #[test]
    fn smooth_outlines_are_offset_exactly(shape in wavy(), share in 0.05..0.9f64, wide in 2.0..40.0f64) {
        let [_, hollow] = shape.curvature();
        let d = wide.min(share / hollow.max(1e-9));
        let layer = shape.layer();
        let cut = cut_line(&layer, &[plain(d)]).expect("room for it");
        let (stitch, ring) = (sampled(&layer.outline(), 16), sampled(&cut.path, 3));
        for p in &ring {
            prop_assert!((off(*p, &stitch) - d).abs() < 0.05, "{} for {d} at {p:?}", off(*p, &stitch));
        }
        prop_assert!(!crosses_itself(&ring));
        let (fine, fine_cut) = (sampled(&layer.outline(), 32), sampled(&cut.path, 32));
        let (l, a) = (ring_length(&fine), ring_area(&fine));
        prop_assert!((ring_length(&fine_cut) / (l + TAU * d) - 1.0).abs() < 2e-4);
        prop_assert!((ring_area(&fine_cut) / (a + l * d + PI * d * d) - 1.0).abs() < 2e-4);
    }

    /// Out and in again is where it was.
    #[test]
    fn out_and_in_returns(shape in wavy(), share in 0.05..0.8f64) {
        let [_, hollow] = shape.curvature();
        let d = 15f64.min(share / hollow.max(1e-9));
        let layer = shape.layer();
        let cut = cut_line(&layer, &[plain(d)]).expect("room for it");
        let out = Layer { edges: vec![edge("rim", cut.edges[0].path.clone())], ..Layer::default() };
        let back = cut_line(&out, &[plain(-d)]).expect("it came from there");
        let stitch = sampled(&layer.outline(), 16);
        for p in sampled(&back.path, 2) {
            prop_assert!(off(p, &stitch) < 0.05, "{}", off(p, &stitch));
        }
    }

    /// Wider than the curve allows is an error that names the edge, never a wrong line.
    #[test]
    fn too_wide_is_told(size in 60.0..400.0f64, a in 0.24..0.4f64, p in 0.0..TAU, over in 1.15..3.0f64) {
        // 1 + a cos 2θ is hollow for every a above 1/5 (calculus).
        let shape = Wavy { size, waves: vec![(a, p)] };
        let [_, hollow] = shape.curvature();
        match cut_line(&shape.layer(), &[plain(over / hollow)]) {
            Err(AllowanceError::TooTight { edge, most, .. }) => {
                prop_assert_eq!(edge, "rim");
                prop_assert!((most * hollow - 1.0).abs() < 0.05, "{} {}", most, 1.0 / hollow);
            }
            other => prop_assert!(false, "{:?}", other),
        }
    }
}

/// Ellipse 200 × 120 mm with 10 mm: length and area by Steiner's formula, radius at its sharpest b²/a = 72 mm (calculus).
#[test]
fn an_ellipse_by_steiner() {
    let (a, b) = (200.0, 120.0);
    let layer = round(64, |t| [a * t.cos(), b * t.sin()], |t| [-a * t.sin(), b * t.cos()]);
    let cut = cut_line(&layer, &[plain(10.0)]).expect("room");
    let ring = sampled(&cut.path, 64);
    assert!((ring_length(&ring) - 1_083.911_807_607_702).abs() < 0.02, "{}", ring_length(&ring));
    assert!((ring_area(&ring) - 85_923.182_496_873).abs() < 2.0, "{}", ring_area(&ring));
    assert!(cut_line(&layer, &[plain(-71.0)]).is_ok());
    match cut_line(&layer, &[plain(-75.0)]) {
        Err(AllowanceError::TooTight { edge, most, .. }) => assert!(edge == "rim" && (most - 72.0).abs() < 0.1, "{edge} {most}"),
        other => panic!("{other:?}"),
    }
}

fn polygon(points: &[P]) -> Layer {
    let n = points.len();
    let side = |k: usize| {
        let mut path = BezPath::new();
        path.move_to((points[k][0], points[k][1]));
        path.line_to((points[(k + 1) % n][0], points[(k + 1) % n][1]));
        edge(&format!("e{k}"), path)
    };
    Layer {
        corners: (0..n).map(|k| Corner { name: format!("c{k}"), at: Mm::from(points[k]), error: None }).collect(),
        edges: (0..n).map(side).collect(),
        ..Layer::default()
    }
}

fn corners_of(cut: &CutLine) -> Vec<P> {
    cut.path.elements().iter().filter_map(kurbo::PathEl::end_point).map(|p| [p.x, p.y]).collect()
}

fn has(points: &[P], p: P) -> bool {
    points.iter().any(|q| (q[0] - p[0]).hypot(q[1] - p[1]) < 1e-6)
}

/// Rectangle 100 × 60 mm, mitred 10 mm all round: 120 × 80, area 9600, length 400 (arithmetic).
#[test]
fn a_rectangle_is_mitred() {
    let layer = polygon(&[[0.0, 0.0], [100.0, 0.0], [100.0, 60.0], [0.0, 60.0]]);
    let cut = cut_line(&layer, &[plain(10.0); 4]).expect("room");
    let ring = sampled(&cut.path, 4);
    assert!((ring_area(&ring) - 9600.0).abs() < 1e-6 && (ring_length(&ring) - 400.0).abs() < 1e-6);
    let cut = cut_line(&layer, &[plain(10.0), plain(15.0), plain(40.0), plain(0.0)]).expect("room");
    let at = corners_of(&cut);
    for p in [[0.0, -10.0], [115.0, -10.0], [115.0, 100.0], [0.0, 100.0]] {
        assert!(has(&at, p), "{p:?} in {at:?}");
    }
}

/// A flared side: the hem of 40 mm turned up along its fold must be as wide as the cloth behind it. By construction the side's
/// cut line is 10 mm outside a line that leans by 20 mm on 100.
#[test]
fn a_folded_hem_is_the_mirror_of_what_it_covers() {
    let layer = polygon(&[[0.0, 0.0], [100.0, 0.0], [120.0, 100.0], [-20.0, 100.0]]);
    let hem = |finish| Allowance { width: 40.0, finish, how: How::Chosen };
    let side = 10.0 * (1.0f64 + 0.04).sqrt();
    // Across from the slanted line to its parallel, 10 mm away, is 10 √(1 + 0.2²).
    let at_fold = 120.0 + side;
    let mirrored = corners_of(&cut_line(&layer, &[plain(10.0), plain(10.0), hem(Finish::Mirrored), plain(10.0)]).expect("room"));
    for p in [[at_fold, 100.0], [at_fold - 8.0, 140.0], [-20.0 - side, 100.0], [-20.0 - side + 8.0, 140.0]] {
        assert!(has(&mirrored, p), "{p:?} in {mirrored:?}");
    }
    let squared = corners_of(&cut_line(&layer, &[plain(10.0), plain(10.0), hem(Finish::Squared), plain(10.0)]).expect("room"));
    for p in [[at_fold, 100.0], [at_fold, 140.0], [-20.0 - side, 140.0]] {
        assert!(has(&squared, p), "{p:?} in {squared:?}");
    }
    let mitred = corners_of(&cut_line(&layer, &[plain(10.0), plain(10.0), hem(Finish::Mitred), plain(10.0)]).expect("room"));
    assert!(has(&mitred, [at_fold + 8.0, 140.0]), "{mitred:?}");
}

/// An inner corner, clean: where the two parallels cross.
#[test]
fn an_inner_corner_is_clean() {
    let layer = polygon(&[[0.0, 0.0], [100.0, 0.0], [100.0, 50.0], [60.0, 50.0], [60.0, 120.0], [0.0, 120.0]]);
    let cut = cut_line(&layer, &[plain(10.0), plain(10.0), plain(10.0), plain(6.0), plain(10.0), plain(10.0)]).expect("room");
    let at = corners_of(&cut);
    assert!(has(&at, [66.0, 60.0]), "{at:?}");
    assert!(!crosses_itself(&sampled(&cut.path, 3)));
    // Without an allowance on one side the other ends on that edge itself.
    let cut = cut_line(&layer, &[plain(10.0), plain(10.0), plain(0.0), plain(6.0), plain(10.0), plain(10.0)]).expect("room");
    assert!(has(&corners_of(&cut), [66.0, 50.0]), "{:?}", corners_of(&cut));
}

/// A point of 20° is cut off blunt, no nearer to the stitch line than the allowance.
#[test]
fn a_sharp_point_is_blunt() {
    let layer = polygon(&[[0.0, 0.0], [300.0, 0.0], [18.1, 102.6]]);
    let cut = cut_line(&layer, &[plain(10.0); 3]).expect("room");
    let (stitch, ring) = (sampled(&layer.outline(), 200), sampled(&cut.path, 50));
    assert!(ring.iter().all(|p| off(*p, &stitch) > 9.99), "{:?}", ring.iter().map(|p| off(*p, &stitch)).fold(f64::INFINITY, f64::min));
    assert!(ring.iter().all(|p| (p[0] - 300.0).hypot(p[1]) > 1.0 && p[0] < 330.0));
}

#[test]
fn slots_that_fill_up_are_told_by_name() {
    let slot = polygon(&[[0.0, 0.0], [40.0, 0.0], [40.0, 80.0], [52.0, 80.0], [52.0, 0.0], [90.0, 0.0], [90.0, 120.0], [0.0, 120.0]]);
    match cut_line(&slot, &[plain(10.0); 8]) {
        Err(AllowanceError::TooShort { edge }) => assert!(["e1", "e2", "e3"].contains(&edge.as_str()), "{edge}"),
        Err(AllowanceError::Crosses { edge, other, .. }) => assert!(edge != other, "{edge} {other}"),
        other => panic!("{other:?}"),
    }
    assert!(cut_line(&slot, &[plain(5.0); 8]).is_ok());
    assert!(matches!(cut_line(&slot, &[plain(5.0); 7]), Err(AllowanceError::Counts { edges: 8, given: 7 })));
    assert!(matches!(cut_line(&slot, &[plain(f64::NAN); 8]), Err(AllowanceError::NoLength { .. })));
}

/// The true seam 5 mm inside one edge of 100 × 60 mm, on the line of the others: 95 × 60 (arithmetic); the edge says how it is known.
#[test]
fn the_true_seam_lies_inside_what_was_seen() {
    let layer = polygon(&[[0.0, 0.0], [100.0, 0.0], [100.0, 60.0], [0.0, 60.0]]);
    let seam = seam_line(&layer, &[0.0, 5.0, 0.0, 0.0], How::Noted).expect("room");
    assert!((seam.area() - 5700.0).abs() < 1e-6, "{}", seam.area());
    assert!((seam.corners[1].at.x - 95.0).abs() < 1e-9 && (seam.edges[0].length() - 95.0).abs() < 1e-6);
    assert_eq!(seam.edges.iter().map(|e| e.how).collect::<Vec<_>>(), [How::Seen, How::Noted, How::Seen, How::Seen]);
    assert_eq!(seam.edges[1].name, "e1");
}
