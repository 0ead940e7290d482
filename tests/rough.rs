//! Cloth that is not as a cutter would like it: frayed edges, creases that run into the outline. Both are told, and only where they are.

// Figures are shown when a test fails or with --nocapture.
#![allow(clippy::print_stdout)]

mod judge;
mod render;

use judge::{compare, outline, trace};
use render::camera::{Camera, Stand};
use render::cloth::{Fabric, Fold, Piece, Roll, Weave};
use render::curve::{Point, add, length, scaled, sub};
use render::file::{self, Written};
use render::light::Light;
use render::scene::Scene;
use render::shapes::{self, Figure, around};
use render::sheet::{Sheet, srgb};
use serde_json::Value;

fn traced(piece: Piece) -> Value {
    let stand = Stand { film_mm: 26.0, tilt: 9.0, side: 60.0, roll: 3.0 };
    let camera = Camera::framing([2016, 1512], stand, &around([&piece.outline], 45.0), 0.96);
    let scene = Scene { light: Light::soft(), ..Scene::new(camera, Sheet::lines(25.4, [1000.0, 900.0]), vec![piece]) };
    let folder = tempfile::tempdir().expect("a folder");
    let (picture, out) = (folder.path().join("shot.jpg"), folder.path().join("out"));
    std::fs::write(&picture, file::jpeg(&scene.draw(), &Written::phone(26))).expect("written");
    let words = [picture.as_os_str(), "--out".as_ref(), out.as_os_str()].into_iter();
    let more = ["--sheet", "lines", "--pitch", "1in", "--thickness", "1.5mm"];
    let output = trace(words.chain(more.iter().map(|w| w.as_ref())));
    assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
    if let Some(dir) = std::env::var_os("RUBOFF_WORKINGS") {
        std::fs::copy(out.join("shot/evidence.jpg"), std::path::Path::new(&dir).join("rough.jpg")).expect("copied");
    }
    outline(&out, "shot")
}

/// Places and words of the doubts of one kind.
fn told<'a>(given: &'a Value, code: &str) -> Vec<(Point, &'a str)> {
    let doubts = given["doubts"].as_array().expect("doubts").iter().filter(|d| d["code"] == code);
    doubts.map(|d| ([0, 1].map(|k| d["where"][k].as_f64().expect("a place")), d["say"].as_str().expect("words"))).collect()
}

fn sleeve(fabric: Fabric) -> Piece {
    Piece::new("sleeve", &shapes::sleeve(&mut Figure::varied(5, 0.05)), fabric, 1.5)
}

fn blue() -> Fabric {
    Fabric::plain(srgb(70, 84, 128))
}

/// Raw edges 0.6 mm off the line a hand would draw: a line through their middle is drawn, how far the cloth wanders about it is told, and
/// bounds hold. Corners are not held to: threads there turn as sharply.
#[test]
fn a_frayed_edge_is_smoothed_and_told() {
    let clean = sleeve(blue());
    let given = traced(clean.clone().frayed(0.6, 6.0));
    let piece = &given["pieces"][0];
    let f = compare(piece, &clean);
    println!(
        "p95 {:.3} max {:.3} bias {:+.3} mm, corners {:.2} mm, {} false, segments x{:.1}, held {:.3}",
        f.laid.p95(),
        f.laid.max(),
        f.laid.bias,
        f.worst_corner,
        f.false_corners,
        f.segments,
        f.held_along
    );
    let told = told(&given, "frayed");
    told.iter().for_each(|(_, say)| println!("{say}"));
    assert!(!told.is_empty() && told.iter().all(|(_, say)| say.contains("wanders by 0.") && say.contains("a hand would smooth")));
    for edge in piece["edges"].as_array().expect("edges").iter().filter(|e| e["length_mm"].as_f64().is_some_and(|l| l > 150.0)) {
        let rough = edge["rough_mm"].as_f64().expect("a roughness");
        assert!((0.3..=0.8).contains(&rough), "{rough} for 0.6 mm");
    }
    assert!(f.laid.p95() <= 0.8 && f.laid.bias.abs() <= 0.2, "the line is the smooth one");
    assert!(f.held_along >= 0.93);
}

#[test]
fn a_sound_edge_is_not_frayed_and_soft_folds_are_no_creases() {
    let given = traced(sleeve(blue()));
    assert_eq!(told(&given, "frayed"), []);
    assert_eq!(told(&given, "crease"), []);
    assert_eq!(told(&given, "rolled"), []);
    assert!(given["pieces"][0]["edges"].as_array().expect("edges").iter().all(|e| e["rough_mm"].is_null()));
}

/// A drag line from a place of the outline into the cloth, some degrees off its normal.
fn drag(piece: &Piece, at: Point, turned: f64) -> Fold {
    let points = piece.outline.even_points(1.0);
    let k = render::curve::nearest(&points, at);
    let n = points.len();
    let along = sub(points[(k + 3) % n], points[(k + n - 3) % n]);
    let (s, c) = turned.to_radians().sin_cos();
    // Clockwise as seen: the cloth lies to the right of the way.
    let inwards = scaled([-along[1], along[0]], 1.0 / length(along));
    let inwards = [c * inwards[0] - s * inwards[1], s * inwards[0] + c * inwards[1]];
    Fold { at: add(points[k], scaled(inwards, 30.0)), along: inwards, half_width: 3.5, half_length: 60.0, depth: 0.55 }
}

#[test]
fn creases_that_reach_the_edge_are_told_where_they_do() {
    for fabric in [blue(), Fabric::plain(srgb(206, 196, 176))] {
        let clean = sleeve(fabric);
        let (low, side) = ([20.0, 150.0], [-160.0, 70.0]);
        let folds = [drag(&clean, low, 15.0), drag(&clean, side, -25.0)];
        let given = traced(folds.into_iter().fold(clean.clone(), Piece::with_crease));
        let found = told(&given, "crease");
        found.iter().for_each(|(at, say)| println!("{at:?}: {say}"));
        let f = compare(&given["pieces"][0], &clean);
        assert_eq!(found.len(), 2);
        for place in [low, side] {
            let points = clean.outline.even_points(1.0);
            let truth = points[render::curve::nearest(&points, place)];
            let near = |at: Point| length(sub(f.laid.motion.apply(at), truth)) < 12.0;
            assert!(found.iter().any(|(at, _)| near(*at)), "{truth:?}");
        }
        assert!(found.iter().all(|(_, say)| say.contains("takes up about ") && say.contains(" edge, ")));
    }
}

/// What repeats is cloth and no crease.
#[test]
fn stripes_checks_and_ribs_are_no_creases() {
    let dark = srgb(60, 60, 62);
    let weaves = [
        Weave::Stripes { period: 34.0, width: 0.3 },
        Weave::Stripes { period: 60.0, width: 0.15 },
        Weave::Gingham { period: 24.0 },
        Weave::Rib { period: 5.0 },
    ];
    for weave in weaves {
        let fabric = Fabric { grain: 20.0, ..Fabric::plain(srgb(150, 150, 152)) }.with(weave, dark);
        let given = traced(sleeve(fabric));
        assert_eq!((told(&given, "crease"), told(&given, "rolled")), (vec![], vec![]), "{weave:?}");
    }
}

/// Rolls of 4 and 6 mm along the hem, lit from either side and along it.
#[test]
fn an_edge_that_curls_is_told_where_it_does() {
    for (fabric, thick, light) in [(blue(), 6.0, 215.0), (Fabric::plain(srgb(206, 196, 176)), 4.0, 60.0), (blue(), 5.0, 0.0)] {
        let clean = sleeve(fabric);
        let points = clean.outline.even_points(1.0);
        let corner = |at: Point| points[render::curve::nearest(&points, at)];
        let (from, to) = (corner([150.0, 141.0]), corner([-150.0, 141.0]));
        let given = traced(clean.clone().rolled(Roll { from, to, thick, light, share: 0.5 }));
        let found = told(&given, "rolled");
        found.iter().for_each(|(at, say)| println!("{thick} mm, light from {light}: {at:?}: {say}"));
        let f = compare(&given["pieces"][0], &clean);
        let rolled: Vec<Point> = {
            let [a, b] = [from, to].map(|p| render::curve::nearest(&points, p));
            (0..(b + points.len() - a) % points.len()).map(|k| points[(a + k) % points.len()]).collect()
        };
        assert!(!found.is_empty(), "{thick} mm, light from {light}");
        for (at, _) in &found {
            let near = rolled.iter().map(|p| length(sub(f.laid.motion.apply(*at), *p))).fold(f64::INFINITY, f64::min);
            assert!(near < 3.0, "{at:?} is no place of the roll");
        }
    }
}
