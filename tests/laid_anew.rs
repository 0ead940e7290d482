//! Whole runs on several pictures of one piece: compared, their mean drawn, put together, and what is refused.

// Figures are shown when a test fails or with --nocapture.
#![allow(clippy::print_stdout)]

mod judge;
mod render;

use judge::{command, compare, complaint, outline, verb};
use kurbo::BezPath;
use render::camera::Camera;
use render::cloth::{Fabric, Piece};
use render::curve::{Curve, Point, Stretch, lerp};
use render::file::{self, Written};
use render::light::Light;
use render::scene::Scene;
use render::sheet::{Sheet, srgb};
use ruboff::length::Mm;
use ruboff::piece::{Corner, Edge, How, LaidOut, Layer, Line, layings};
use serde_json::Value;
use std::path::Path;

const DPI: f64 = 100.0;
const PER_MM: f64 = DPI / 25.4;

/// An invented patch pocket: straight sides as cubics, so that they can be bent.
fn pocket() -> Curve {
    let at = [[-82.0, -90.0], [82.0, -90.0], [79.0, 60.0], [0.0, 95.0], [-79.0, 60.0]];
    let side = |c: Curve, k: usize| {
        let (a, b) = (at[k], at[(k + 1) % at.len()]);
        c.cubic(lerp(a, b, 1.0 / 3.0), lerp(a, b, 2.0 / 3.0), b)
    };
    (0..at.len()).fold(Curve::from(at[0]), side).close()
}

/// The pocket as it comes to lie: each side bowed out by so many mm in its middle, the handles alone moved.
fn bowed(by: [f64; 5]) -> Curve {
    let mut curve = pocket();
    let mut from = curve.start;
    for (s, high) in curve.stretches.iter_mut().zip(by) {
        let Stretch::Cubic(a, b, p) = *s else { continue };
        let d = [p[0] - from[0], p[1] - from[1]];
        let long = d[0].hypot(d[1]);
        // A cubic's middle lies three quarters of its handles' height out.
        let out = [d[1] / long * high / 0.75, -d[0] / long * high / 0.75];
        *s = Stretch::Cubic([a[0] + out[0], a[1] + out[1]], [b[0] + out[0], b[1] + out[1]], p);
        from = p;
    }
    curve
}

fn scene(curve: &Curve, degrees: f64, at: Point) -> Scene {
    let camera = Camera::flatbed([1000, 1000], [PER_MM; 2], 0.7, [3.0, -4.0]);
    let piece = Piece::new("pocket", &curve.laid(degrees, at), Fabric::plain(srgb(40, 62, 110)), 1.0);
    Scene { light: Light::flatbed(), ..Scene::new(camera, Sheet::lines(10.0, [600.0, 700.0]), vec![piece]) }
}

fn picture(scene: &Scene, file: &Path) {
    std::fs::write(file, file::jpeg(&scene.draw(), &Written::scanner(DPI))).expect("written");
}

/// A true outline as lines of a piece.
fn layer(curve: &Curve) -> Layer {
    let mut from = curve.start;
    let (mut corners, mut edges) = (Vec::new(), Vec::new());
    for (k, s) in curve.stretches.iter().enumerate() {
        let mut path = BezPath::new();
        path.move_to((from[0], from[1]));
        match *s {
            Stretch::Line(p) => path.line_to((p[0], p[1])),
            Stretch::Cubic(a, b, p) => path.curve_to((a[0], a[1]), (b[0], b[1]), (p[0], p[1])),
        }
        corners.push(Corner { name: format!("corner {}", k + 1), at: Mm::new(from[0], from[1]), error: None });
        edges.push(Edge { name: format!("edge {}", k + 1), path, line: Line::Rim, how: How::Seen, bound: None });
        from = s.end();
    }
    Layer { corners, edges, ..Layer::default() }
}

fn codes(given: &Value) -> Vec<&str> {
    given["doubts"].as_array().expect("doubts").iter().filter_map(|d| d["code"].as_str().or(d["doubt"]["code"].as_str())).collect()
}

#[test]
fn three_layings_are_compared_and_their_mean_is_drawn() {
    let folder = tempfile::tempdir().expect("a folder");
    let laid = [bowed([0.0, 1.5, 0.0, 0.0, -1.0]), bowed([0.8, -1.2, 0.6, 0.0, 0.6]), bowed([-0.8, 0.0, -0.6, 0.0, 0.4])];
    let scenes: Vec<Scene> =
        laid.iter().zip([(0.0, [0.0, 0.0]), (7.0, [6.0, -3.0]), (-12.0, [-5.0, 4.0])]).map(|(c, (d, at))| scene(c, d, at)).collect();
    let mut call = command();
    for (k, scene) in scenes.iter().enumerate() {
        let file = folder.path().join(format!("laid-{k}.jpg"));
        picture(scene, &file);
        call.arg(file);
    }
    let out = folder.path().join("out");
    let run = call.args(["--pitch", "10mm", "--layings", "mean", "--out"]).arg(&out).output().expect("the program starts");
    let talk = String::from_utf8_lossy(&run.stdout).into_owned();
    assert!(run.status.success() && talk.lines().count() == 4, "{talk}{}", String::from_utf8_lossy(&run.stderr));
    println!("{talk}");
    assert!(talk.contains("laid 3 times") && talk.contains("mean of 3 layings"), "{talk}");

    // What the records tell is what lies between the true outlines, to a twentieth of a millimetre.
    let truth: Vec<Layer> = laid.iter().map(layer).collect();
    let taken: Vec<LaidOut> = truth.iter().enumerate().map(|(laying, layer)| LaidOut { layer, laying, mirrored: false }).collect();
    let want = layings(&taken).expect("one piece");
    for k in 0..3 {
        let given = outline(&out, &format!("laid-{k}"));
        let piece = &given["pieces"][0];
        assert_eq!((piece["laid"].as_str(), piece["laid_with"].as_array().map(Vec::len)), (Some("laid 3 times"), Some(2)));
        let told = piece["laid_mm"].as_f64().expect("told");
        let right = want.spreads[k].laid.expect("told");
        assert!((told - right).abs() < 0.05, "{told} for {right}");
        for e in piece["edges"].as_array().expect("edges") {
            assert!(e["laid_mm"].is_f64() && e["laid_along"].as_array().is_some_and(|a| a.len() > 10), "{e}");
        }
    }

    // The mean, of which every side is nearly as straight as the pocket is.
    let mean = outline(&out, "piece-mean");
    let piece = &mean["pieces"][0];
    assert_eq!(piece["derived"], "mean of 3 layings");
    assert_eq!((mean["pictures"].as_array().map(Vec::len), mean["layings"].as_array().map(Vec::len)), (Some(3), Some(3)));
    assert!(
        piece["edges"].as_array().expect("edges").iter().all(|e| e["found"] == "derived" && e["pictures"] == serde_json::json!([0, 1, 2]))
    );
    let flat = Piece::new("flat", &pocket(), Fabric::plain(srgb(0, 0, 0)), 1.0);
    let of_mean = compare(piece, &flat);
    for k in 0..3 {
        let of_each = compare(&outline(&out, &format!("laid-{k}"))["pieces"][0], &flat);
        println!("p95 of one {:.3}, of the mean {:.3}", of_each.laid.p95(), of_mean.laid.p95());
        assert!(of_mean.laid.p95() < 0.6 * of_each.laid.p95());
    }
    assert!(out.join("piece-mean/outline.svg").is_file());
}

#[test]
fn two_pictures_of_one_laying_differ_by_the_tool_alone() {
    let folder = tempfile::tempdir().expect("a folder");
    let mut call = command();
    for (k, degrees) in [(0, 0.0), (1, 4.0)] {
        let mut scene = scene(&pocket(), 0.0, [0.0, 0.0]);
        scene.camera = Camera::flatbed([1000, 1000], [PER_MM; 2], degrees, [2.0 * degrees, 1.0]);
        scene.seed = 7 + k;
        let file = folder.path().join(format!("again-{k}.jpg"));
        picture(&scene, &file);
        call.arg(file);
    }
    let out = folder.path().join("out");
    let run = call.args(["--pitch", "10mm", "--layings", "same", "--json", "--out"]).arg(&out).output().expect("the program starts");
    let talk = String::from_utf8_lossy(&run.stdout).into_owned();
    let last: Value = serde_json::from_str(talk.lines().last().expect("a line")).expect("JSON");
    assert_eq!((&last["result"], &last["layings"], last["laid_mm"].is_null()), (&"compared".into(), &1.into(), true), "{talk}");
    let repeat = last["repeat_mm"].as_f64().expect("told");
    println!("repeat {repeat:.3}");
    assert!(repeat > 0.0 && repeat < 0.2, "{repeat}");
    let piece = &outline(&out, "again-0")["pieces"][0];
    assert_eq!((piece["laid"].as_str(), piece["laid_mm"].is_null()), (Some("laid once"), true));
}

/// A coded sheet knows its own places: what lies where it lay was not laid anew, whoever says so.
#[test]
fn on_a_coded_sheet_a_piece_that_was_not_moved_is_laid_once() {
    let folder = tempfile::tempdir().expect("a folder");
    let (sheet, _) = Sheet::coded(23, 25.0, [24, 24]);
    let mut files = Vec::new();
    for (k, turned, by) in [(0, 0.0, 0.0), (1, 4.0, 0.0), (2, -3.0, 1.5)] {
        let laid = scene(&bowed([0.0, by, 0.0, 0.0, by]), by * 4.0, [by * 3.0, 0.0]);
        let camera = Camera::flatbed([1000, 1000], [PER_MM; 2], turned, [2.0 * turned, 1.0]);
        let file = folder.path().join(format!("coded-{k}.jpg"));
        picture(&Scene { camera, sheet: sheet.clone(), seed: 7 + k, ..laid }, &file);
        files.push(file);
    }
    let out = folder.path().join("out");
    let run = command().args(&files).args(["--layings", "compare", "--json", "--out"]).arg(&out).output().expect("the program starts");
    let talk = String::from_utf8_lossy(&run.stdout).into_owned();
    let last: Value = serde_json::from_str(talk.lines().last().expect("a line")).expect("JSON");
    assert_eq!((&last["pictures"], &last["layings"]), (&3.into(), &2.into()), "{talk}{}", String::from_utf8_lossy(&run.stderr));
    assert!((last["laid_mm"].as_f64().expect("two layings") - 1.5).abs() < 0.2, "{talk}");
    assert!(last["repeat_mm"].as_f64().is_some_and(|r| r < 0.2), "{talk}");
}

#[test]
fn notes_name_the_piece_and_ask_for_its_mean() {
    let folder = tempfile::tempdir().expect("a folder");
    let home = folder.path().join("satchel");
    std::fs::create_dir(&home).expect("made");
    for (name, by, degrees) in [("one.jpg", 1.0, 0.0), ("two.jpg", -1.0, 5.0)] {
        picture(&scene(&bowed([0.0, by, 0.0, 0.0, by]), degrees, [0.0, 2.0]), &home.join(name));
    }
    let notes = "[garment]\nname = \"Lamplighter's satchel\"\n[[shot]]\npicture = \"one.jpg\"\npiece = \"pocket\"\n[[shot]]\npicture = \"two.jpg\"\npiece = \"pocket\"\n";
    let run = |notes: &str, out: &Path| {
        std::fs::write(home.join("garment.toml"), notes).expect("written");
        let run = command().arg(&home).args(["--pitch", "10mm", "--out"]).arg(out).output().expect("the program starts");
        let text = std::fs::read_to_string(out.join("garment.json")).unwrap_or_default();
        (run, serde_json::from_str::<Value>(&text).unwrap_or_default())
    };
    // Compared, never merged unasked.
    let apart = folder.path().join("apart");
    let (output, record) = run(notes, &apart);
    assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
    let pieces = record["pieces"].as_array().expect("pieces");
    assert_eq!(pieces.len(), 2);
    for p in pieces {
        assert_eq!(p["laid"], "laid 2 times");
        assert!((p["laid_mm"].as_f64().expect("told") - 2.0).abs() < 0.25, "{}", p["laid_mm"]);
        assert!(p["as_found"]["edges"].as_array().expect("edges").iter().all(|e| e["laid_mm"].is_f64()));
    }
    let table = std::fs::read_to_string(apart.join("measures.csv")).expect("written");
    assert!(table.lines().next().is_some_and(|l| l.ends_with("laid anew differs by mm")), "{table}");

    let whole = folder.path().join("mean");
    let (_, record) = run(&format!("{notes}[piece.pocket]\nlayings = \"mean\"\n"), &whole);
    let pieces = record["pieces"].as_array().expect("pieces");
    assert_eq!((pieces.len(), &pieces[0]["derived"], &pieces[0]["name"]), (1, &"mean of 2 layings".into(), &"pocket".into()));
    let straight = compare(&outline(&whole, "pocket-mean")["pieces"][0], &Piece::new("flat", &pocket(), Fabric::plain(srgb(0, 0, 0)), 1.0));
    assert!(straight.laid.p95() < 0.2, "{}", straight.laid.p95());
    // What is walked and printed afterwards is the mean, not one of the layings.
    let walked = verb("true").arg(&home).arg("--outlines").arg(&whole).arg("--before-cutting").output().expect("the program starts");
    let talk = format!("{}{}", String::from_utf8_lossy(&walked.stdout), String::from_utf8_lossy(&walked.stderr));
    assert!(talk.contains("mean of 2 layings") && !talk.contains("pocket (2)"), "{talk}");
}

#[test]
fn a_piece_is_put_together_by_its_notes() {
    let folder = tempfile::tempdir().expect("a folder");
    let home = folder.path().join("satchel");
    std::fs::create_dir(&home).expect("made");
    let names = ["top left", "top right", "side right", "point", "side left"];
    let mut notes = String::from("[piece.pocket]\nlayings = \"put together\"\n");
    // The left side won't lie flat in the first, the right one in the second.
    for (name, by, degrees, gives) in [
        ("one.jpg", [0.0, 0.0, 0.0, 0.0, -4.0], 0.0, ""),
        ("two.jpg", [0.0, 5.0, 0.0, 0.0, 0.0], 8.0, "gives = [\"side left to top left\"]\n"),
    ] {
        let scene = scene(&bowed(by), degrees, [0.0, 2.0]);
        picture(&scene, &home.join(name));
        notes += &format!("[[shot]]\npicture = \"{name}\"\npiece = \"pocket\"\n{gives}");
        for (k, corner) in names.iter().enumerate() {
            let piece = &scene.pieces[0];
            let at = if k == 0 { piece.outline.start } else { piece.outline.stretches[k - 1].end() };
            let px = scene.edge_px(piece, at);
            notes += &format!("[[shot.corner]]\nname = \"{corner}\"\npx = [{:.0}, {:.0}]\n", px[0], px[1]);
        }
    }
    std::fs::write(home.join("garment.toml"), &notes).expect("written");
    let out = folder.path().join("out");
    let run = command().arg(&home).args(["--pitch", "10mm", "--out"]).arg(&out).output().expect("the program starts");
    assert!(run.status.success(), "{}", String::from_utf8_lossy(&run.stderr));
    let made = outline(&out, "pocket-put-together");
    let piece = &made["pieces"][0];
    assert_eq!(piece["derived"], "put together from 2 layings");
    let from: Vec<&Value> = piece["edges"].as_array().expect("edges").iter().filter(|e| e["pictures"] == serde_json::json!([1])).collect();
    assert_eq!((from.len(), &from[0]["name"]), (1, &"side left to top left".into()));
    assert_eq!(made["shared"].as_array().map(Vec::len), Some(5));
    assert!(made["shared"].as_array().expect("points").iter().all(|s| s["off_mm"].as_f64().is_some_and(|o| o < 0.4)), "{}", made["shared"]);
    let figures = compare(piece, &Piece::new("flat", &pocket(), Fabric::plain(srgb(0, 0, 0)), 1.0));
    println!("p95 {:.3}, max {:.3}", figures.laid.p95(), figures.laid.max());
    assert!(figures.laid.p95() < 0.3, "{}", figures.laid.p95());
    let record: Value = serde_json::from_str(&std::fs::read_to_string(out.join("garment.json")).expect("written")).expect("JSON");
    assert_eq!(
        (record["pieces"].as_array().map(Vec::len), &record["pieces"][0]["derived"]),
        (Some(1), &"put together from 2 layings".into())
    );
}

#[test]
fn what_can_not_be_compared_is_told_in_one_line() {
    let folder = tempfile::tempdir().expect("a folder");
    let file = |name: &str, curve: &Curve| {
        let file = folder.path().join(name);
        picture(&scene(curve, 0.0, [0.0, 0.0]), &file);
        file
    };
    let (a, b) = (file("a.jpg", &pocket()), file("b.jpg", &pocket().map(|p| [0.7 * p[0], 0.7 * p[1]])));
    let square = Curve::from([-80.0, -80.0]).line([80.0, -80.0]).line([80.0, 80.0]).line([-80.0, 80.0]).close();
    let c = file("c.jpg", &square);
    let call = |files: &[&Path], out: &str| {
        let mut call = command();
        call.args(files)
            .args(["--pitch", "10mm", "--layings", "compare", "--out"])
            .arg(folder.path().join(out))
            .output()
            .expect("the program starts")
    };
    let alone = call(&[&a], "alone");
    assert_eq!(alone.status.code(), Some(2));
    assert!(complaint(&alone).contains("--layings"), "{}", complaint(&alone));
    for (files, wanted) in [([&a, &b], "another piece"), ([&a, &c], "corners")] {
        let run = call(&files.map(|f| f.as_path()), wanted);
        let text = String::from_utf8_lossy(&run.stderr).into_owned();
        let line = text.lines().find(|l| l.starts_with("ruboff: ")).unwrap_or_default();
        assert_eq!(run.status.code(), Some(1), "{text}");
        assert!(line.contains(wanted) && (15..=300).contains(&line.chars().count()), "{text}");
    }
    // Both were traced all the same.
    assert_eq!(outline(&folder.path().join("corners"), "a")["pieces"][0]["laid"], "laid once");
    assert!(codes(&outline(&folder.path().join("corners"), "a")).iter().all(|c| *c != "not-compared"));
}
