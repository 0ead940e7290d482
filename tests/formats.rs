//! The written formats against golden files. `RUBOFF_GOLDEN=write cargo test` makes them anew; read the difference before committing.

use kurbo::BezPath;
use nalgebra::Matrix3;
use ruboff::length::{Mm, Px};
use ruboff::outline::{Corner, Edge, Outline, Shape};
use ruboff::proof::Doubt;
use ruboff::sheet::SheetKind;
use ruboff::trace::{Budget, EdgeFound, Found, Line, Picture, SheetFound, Sources, Traced, Tracing};
use ruboff::view::{FocalFrom, HeldOut, Lens, Model, View};
use ruboff::write::{Record, path_from_text, path_text, svg};
use std::path::PathBuf;

fn path(text: &str) -> BezPath {
    path_from_text(text).expect("path data")
}

/// A pocket: two straight sides, a straight top and a round bottom.
fn pocket() -> Outline {
    let corner = |x, y, turn_deg| Corner { at: Mm::new(x, y), error: 0.1, turn_deg, rounded: 3.0, given: false };
    let edge = |from, to, shape, text: &str| Edge {
        from: Some(from),
        to: Some(to),
        path: path(text),
        shape,
        cut: false,
        along: vec![[0.0, 0.08], [5.0, 0.05]],
    };
    Outline {
        path: path("M 10 20 L 130 20 L 130 120 C 130 186.2742 10 186.2742 10 120 Z"),
        corners: vec![corner(10.0, 20.0, 90.0), corner(130.0, 20.0, 90.0)],
        edges: vec![
            edge(0, 1, Shape::Straight, "M 10 20 L 130 20"),
            edge(1, 0, Shape::Curve, "M 130 20 L 130 120 C 130 186.2742 10 186.2742 10 120 L 10 20"),
        ],
    }
}

fn tracing() -> Tracing {
    let lens = Lens { focal: 3050.2, centre: Px::new(2015.5, 1511.5), k1: -0.11, k2: 0.02, p1: 0.0, p2: 0.0 };
    let model = Model::Pinhole { lens, rotation: Matrix3::identity(), translation: [-5.0, -7.5, 800.0].into() };
    let found = |name: &str| EdgeFound {
        name: name.into(),
        line: Line::Rim,
        bound: Some(0.21),
        along: vec![[0.0, 0.25], [5.0, 0.2]],
        found: Found::Picture,
        rough: None,
        pictures: vec![0],
    };
    Tracing {
        picture: Picture { file: "pocket & flap.jpg".into(), blake3: "00ff".into(), width: 4032, height: 3024, photo: true },
        sheet: SheetFound {
            kind: SheetKind::Lines,
            number: None,
            measured: None,
            joined: None,
            pitch: [25.4; 2],
            nodes: 812,
            rms_px: 0.14,
            coverage: 0.93,
            held_out: Some(HeldOut { nodes: 80, rms_px: 0.15, rms_mm: 0.05 }),
        },
        view: View::known(model, 4032, 3024),
        focal_from: Some(FocalFrom::Tag),
        lens_profile: None,
        px_per_mm: [3.1, 4.2],
        thickness: 1.5,
        more: Vec::new(),
        pieces: vec![Traced {
            name: "patch pocket".into(),
            outline: pocket(),
            corner_names: vec!["top left".into(), "top right".into()],
            edges: vec![found("opening"), found("bag")],
            holes: Vec::new(),
            inner: Vec::new(),
            bound: Some(0.21),
            joined: None,
            points: Vec::new(),
        }],
        marks: Vec::new(),
        doubts: vec![Doubt::LowResolution { px_per_mm: 1.5, at: Mm::new(312.0, 55.0) }],
        budget: Budget {
            worst: Sources { sheet: 0.1, grid: 0.02, lens: 0.03, edge: 0.12, thickness: 0.2 },
            not_measured: 0.3,
            median: Sources { sheet: 0.05, grid: 0.01, lens: 0.02, edge: 0.08, thickness: 0.1 },
        },
        profiles: vec!["blake3 abcd".into()],
    }
}

fn golden(name: &str, text: &str) {
    let file = PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("tests/golden").join(name);
    if std::env::var("RUBOFF_GOLDEN").is_ok_and(|v| v == "write") {
        std::fs::write(&file, text).expect("golden file written");
    }
    let kept = std::fs::read_to_string(&file).expect("golden file; make it with RUBOFF_GOLDEN=write");
    // The version is the one thing that may move by itself.
    let plain = |t: &str| t.replace(env!("CARGO_PKG_VERSION"), "VERSION").replace("0.1.0", "VERSION");
    assert_eq!(plain(text), plain(&kept), "{name} differs from its golden file");
}

#[test]
fn the_record_is_as_its_golden_file_and_can_be_read_back() {
    let record = Record::of(&tracing(), serde_json::Map::new(), vec!["blake3 abcd".into()]);
    let text = record.to_text();
    golden("outline.json", &text);
    assert_eq!(Record::from_text(&text).expect("own record"), record);
}

#[test]
fn other_formats_are_refused() {
    let text = Record::of(&tracing(), serde_json::Map::new(), Vec::new()).to_text();
    assert!(Record::from_text(&text.replace("ruboff-outline", "something-else")).is_err());
    assert!(Record::from_text(&text.replace("\"version\": 1", "\"version\": 2")).is_err());
    assert!(Record::from_text("{}").is_err());
}

#[test]
fn the_drawing_is_as_its_golden_file() {
    golden("outline.svg", &svg(&tracing()));
}

/// SVG 2, chapter 8 and CSS Values and Units 3: with `width` and `height` in mm equal to the viewBox's, one user unit is one
/// millimetre; without a unit the same number would mean 1/96 inch.
#[test]
fn one_user_unit_of_the_drawing_is_one_millimetre() {
    let text = svg(&tracing());
    let number = |key: &str| {
        let from = text.find(key).expect("attribute") + key.len();
        text[from..].split('"').next().expect("value").to_string()
    };
    let (width, height) = (number(" width=\""), number(" height=\""));
    let view: Vec<f64> = number("viewBox=\"").split(' ').map(|v| v.parse().expect("number")).collect();
    assert!(width.ends_with("mm") && height.ends_with("mm"), "a bare number would be px: 200 px is only 52.9167 mm");
    assert_eq!(width.trim_end_matches("mm").parse::<f64>().expect("number"), view[2]);
    assert_eq!(height.trim_end_matches("mm").parse::<f64>().expect("number"), view[3]);
}

/// The four-cubic circle with control length 4/3 (√2 − 1): area 3.1424723326565 and quarter length 1.5710166980739 at radius 1
/// (recomputed from the closed form; Green's theorem and numerical integration).
#[test]
fn area_and_perimeter_are_those_of_the_curves_written() {
    let k = 4.0 / 3.0 * (std::f64::consts::SQRT_2 - 1.0) * 100.0;
    let circle = format!(
        "M 0 -100 C {k} -100 100 {} 100 0 C 100 {k} {k} 100 0 100 C {} 100 -100 {k} -100 0 C -100 {} {} -100 0 -100 Z",
        -k, -k, -k, -k
    );
    let mut tracing = tracing();
    let outline = &mut tracing.pieces[0].outline;
    outline.path = path(&circle);
    outline.corners.clear();
    tracing.pieces[0].corner_names.clear();
    let record = Record::of(&tracing, serde_json::Map::new(), Vec::new());
    let (area, perimeter) = (record.pieces[0].area_mm2.expect("whole"), record.pieces[0].perimeter_mm.expect("whole"));
    assert!((area - 31_424.723_326_565).abs() < 1e-3, "{area}");
    assert!((perimeter - 4.0 * 157.101_669_807_39).abs() < 1e-3, "{perimeter}");
    assert_eq!(path_text(&path_from_text(&record.pieces[0].outline).expect("path data")), record.pieces[0].outline);
}
