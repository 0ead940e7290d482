//! From two pictures to a trued seam: a front and a back whose sides are drawn equal are traced and walked, and the verb says so.

// Figures are shown when a test fails or with --nocapture.
#![allow(clippy::print_stdout)]

mod judge;
mod render;

use judge::{trace, verb};
use render::camera::{Camera, Stand};
use render::cloth::{Fabric, Piece};
use render::curve::{Curve, Point, cross, length, sub};
use render::file::{self, Written};
use render::lay::lay;
use render::scene::Scene;
use render::shapes::around;
use render::sheet::{Sheet, srgb};
use ruboff::piece::{Pairs, centre};
use ruboff::write::{Record, as_found};
use serde_json::Value;
use std::path::Path;

const UNDER: Point = [236.0, 230.0];
const HEM: Point = [214.0, 630.0];
const TIP: Point = [178.0, 42.0];

/// A sleeveless body with a side seam of 401.23 mm (by polygons); only the neck's depth differs from front to back. Neck, armhole and hem meet
/// shoulder and side at right angles, so they run on smoothly when those are sewn.
fn body(drop: f64) -> Curve {
    let k = drop / 190.0;
    let right = Curve::from([0.0, drop])
        .cubic([51.0, drop], [88.0 - 42.0 * k, 90.0 * k], [88.0, 0.0])
        .line(TIP)
        .cubic([140.0, 123.0], [174.0, 223.2], UNDER)
        .cubic([224.0, 340.0], [204.0, 470.0], HEM)
        .cubic([141.0, 634.6], [71.0, 638.0], [0.0, 638.0]);
    let left = right.map(|p| [-p[0], p[1]]).reversed();
    let mut whole = right;
    whole.stretches.extend(left.stretches);
    whole.close()
}

/// Pictures of front and back, each turned as garments lie, and notes that name corners, edges and joins. Also the pieces as
/// they lie, with two places on the centre of each.
fn garment(folder: &Path) -> Vec<(Piece, [Point; 2])> {
    let mut laid_out = Vec::new();
    let mut notes = String::from("[garment]\nname = \"lantern smock\"\n");
    // Seen from its front a garment has its left on the right of the picture, seen from its back on the left.
    for (name, drop, degrees, left) in [("front", 95.0, 4.0, 1.0), ("back", 30.0, -7.0, -1.0)] {
        let piece = Piece::new(name, &body(drop), Fabric::plain(srgb(70, 84, 122)), 1.5).laid(degrees, [10.0, -300.0]);
        let stand = Stand { film_mm: 26.0, tilt: 9.0, side: 40.0 * left, roll: 3.0 };
        let camera = Camera::framing([2592, 1944], stand, &around([&piece.outline], 60.0), 0.96).with_lens(-0.03, 0.01, 0.0, 0.0);
        let centre = [[0.0, 0.0], [0.0, 638.0]].map(|p| laid(p, degrees));
        laid_out.push((piece.clone(), centre));
        let mut scene = Scene::new(camera, Sheet::lines(25.4, [1000.0, 1000.0]), vec![piece]);
        scene.seed = 7;
        std::fs::write(folder.join(format!("{name}.jpg")), file::jpeg(&scene.draw(), &Written::phone(26))).expect("written");
        notes.push_str(&format!("[[shot]]\npicture = \"{name}.jpg\"\npiece = \"{name}\"\nside = \"outside\"\nup = \"{name}\"\n"));
        for (corner, at, side) in [
            ("neck", [88.0, 0.0], 1.0),
            ("shoulder tip", TIP, 1.0),
            ("underarm", UNDER, 1.0),
            ("hem", HEM, 1.0),
            ("underarm", UNDER, -1.0),
            ("hem", HEM, -1.0),
        ] {
            let p = [at[0] * side * left, at[1]];
            let px = scene.camera.project(laid(p, degrees), 1.5);
            let word = if side > 0.0 { "left" } else { "right" };
            notes.push_str(&format!("[[shot.corner]]\nname = \"{corner} {word}\"\npx = [{:.1}, {:.1}]\n", px[0], px[1]));
        }
        for (edge, from, to) in
            [("side left", "underarm left", "hem left"), ("side right", "underarm right", "hem right"), ("hem", "hem left", "hem right")]
        {
            notes.push_str(&format!("[[shot.edge]]\nname = \"{edge}\"\nfrom = \"{from}\"\nto = \"{to}\"\n"));
        }
    }
    // Sides are named by hand; shoulders by what the shape proposes.
    for edge in ["side left", "side right", "shoulder left"] {
        notes.push_str(&format!("[[join]]\nedges = [\"front: {edge}\", \"back: {edge}\"]\n"));
    }
    std::fs::write(folder.join("garment.toml"), notes).expect("written");
    let words = ["--sheet", "lines", "--pitch", "1in", "--thickness", "1.5mm", "--out"].map(std::ffi::OsString::from);
    let output = trace([folder.as_os_str().to_owned()].into_iter().chain(words).chain([folder.join("out").into_os_string()]));
    assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
    laid_out
}

/// Where a place of the drawing lies on the sheet.
fn laid(p: Point, degrees: f64) -> Point {
    let (s, c) = degrees.to_radians().sin_cos();
    [c * p[0] - s * p[1] + 10.0, s * p[0] + c * p[1] - 300.0]
}

/// The centre line by halved widths, laid on the drawing with the whole outline: within 0.3 mm and 0.05° of the drawn centre.
fn centre_is_found(folder: &Path, truth: &(Piece, [Point; 2])) {
    let (piece, [top, bottom]) = truth;
    let text = std::fs::read_to_string(folder.join("out").join(&piece.name).join("outline.json")).expect("traced");
    let record = Record::from_text(&text).expect("a record");
    let layer = as_found(&record.pieces[0]).expect("a piece");
    let found = centre(&layer, &Pairs::of(&layer)).expect("a centre");
    let given: Value = serde_json::from_str(&text).expect("JSON");
    let motion = lay(&judge::path(&given["pieces"][0]["outline"]), &piece.outline).motion;
    let [a, b] = [0.0, 100.0].map(|s| found.at + found.along * s).map(|p| motion.apply([p.x, p.y]));
    let (along, drawn) = (sub(b, a), sub(*bottom, *top));
    let turned = (cross(drawn, along) / length(drawn) / length(along)).asin().to_degrees();
    let off = cross(sub(a, *top), drawn) / length(drawn);
    println!("{}: centre {off:+.3} mm, {turned:+.4}°, {} levels", piece.name, found.levels.len());
    assert!(off.abs() < 0.3 && turned.abs() < 0.05, "{} {off} {turned}", piece.name);
}

fn told(folder: &Path, more: &[&str]) -> (Vec<Value>, Option<i32>) {
    let output = verb("true").arg(folder).args(more).arg("--json").output().expect("it runs");
    let text = String::from_utf8_lossy(&output.stdout).into_owned();
    println!("{text}{}", String::from_utf8_lossy(&output.stderr));
    (text.lines().map(|l| serde_json::from_str(l).expect("a line of JSON")).collect(), output.status.code())
}

/// Equal seams are found equal within 0.5 mm over 400 mm; a seam made unequal afterwards is told and, when asked, shared.
#[test]
fn equal_sides_of_two_pictures_are_true() {
    let folder = tempfile::tempdir().expect("a folder");
    for truth in garment(folder.path()) {
        centre_is_found(folder.path(), &truth);
    }
    let (lines, code) = told(folder.path(), &[]);
    assert_eq!((lines.len(), code), (3, Some(0)));
    // Shoulders end at the neck's tight curve, whose corner is known less well.
    for (line, within) in lines.iter().zip([0.5, 0.5, 1.0]) {
        let off = line["difference_mm"].as_f64().expect("a number").abs();
        assert!(off < within, "{line}");
        assert_eq!((&line["verdict"], line["ends_known"].as_bool()), (&Value::from("true"), Some(true)));
    }
    let long = lines[0]["lengths_mm"][0].as_f64().expect("a number");
    assert!((long - 401.23).abs() < 0.5, "{long}");
    // Neck and armhole are drawn at right angles to the shoulder on both pieces, so they run on smoothly. Where the back's neck bends to a
    // radius of 18 mm beside its corner the traced curve is some degrees out: not doubted, since no more is known of it.
    let across = lines[2]["across"].as_array().expect("a list");
    assert_eq!(across.len(), 2, "{}", lines[2]);
    for (end, within) in across.iter().zip([9.0, 1.0]) {
        assert!(end["bend_deg"].as_f64().expect("a number").abs() < within, "{end}");
    }
    // The garment's record is drafted in the same way.
    let record: Value = serde_json::from_slice(&std::fs::read(folder.path().join("out/garment.json")).expect("written")).expect("JSON");
    for (line, join) in lines.iter().zip(record["joins"].as_array().expect("a list")) {
        assert_eq!(line["lengths_mm"].as_array().map(Vec::len), Some(2));
        for k in 0..2 {
            let [told, kept] = [&line["lengths_mm"][k], &join["sewn_mm"][k]].map(|v| v.as_f64().expect("a number"));
            assert!((told - kept).abs() < 0.01, "{line} {join}");
        }
    }
    let front = record["pieces"].as_array().expect("a list").iter().find(|p| p["name"] == "front").expect("there");
    let side = front["as_drafted"]["edges"].as_array().expect("a list").iter().find(|e| e["name"] == "side left").expect("named");
    assert!((side["length_mm"].as_f64().expect("a number") - long).abs() < 0.01, "{side}");

    // Ease that the left side does not have: it is off, and shared on request without touching the records.
    let notes = std::fs::read_to_string(folder.path().join("garment.toml")).expect("there");
    let strict = notes.replacen("\"back: side left\"]", "\"back: side left\"]\nease = \"3 mm\"\ntolerance = \"0.5 mm\"", 1);
    std::fs::write(folder.path().join("garment.toml"), strict).expect("written");
    let (lines, code) = told(folder.path(), &[]);
    assert_eq!((&lines[0]["verdict"], code), (&Value::from("off"), Some(1)));
    let record = folder.path().join("out/front/outline.json");
    let before = std::fs::read(&record).expect("there");
    let file = folder.path().join("drafted.json");
    let (lines, code) = told(folder.path(), &["--share", "--out", file.to_str().expect("plain")]);
    assert_eq!((&lines[0]["result"], code), (&Value::from("shared"), Some(0)));
    assert!(lines[0]["say"].as_str().is_some_and(|s| s.contains("hem left moved 1.")), "{}", lines[0]);
    assert_eq!(std::fs::read(&record).expect("there"), before);
    let drafted: Value = serde_json::from_slice(&std::fs::read(&file).expect("there")).expect("JSON");
    assert_eq!(drafted["format"], "ruboff-drafted");
    let changes = drafted["pieces"][0]["changes"].as_array().expect("a list");
    assert!(changes.last().is_some_and(|c| c["what"].as_str().is_some_and(|w| w.contains("side left"))), "{changes:?}");
    let again = verb("true").arg(folder.path()).args(["--share", "--out"]).arg(&file).output().expect("it runs");
    assert_eq!(again.status.code(), Some(2), "a file that is there stays");

    let output = verb("true").arg(folder.path()).arg("--before-cutting").output().expect("it runs");
    let page = String::from_utf8_lossy(&output.stdout).into_owned();
    println!("{page}");
    assert!(page.starts_with("Before cutting lantern smock (2 pieces from 2 outlines)"));
    assert!(page.lines().count() <= 60 && page.lines().all(|l| l.chars().count() <= 100), "one page");
    assert!(page.contains("LOOK") && page.contains("grain is not recorded"));
    assert_eq!(output.status.code(), Some(1));
}

/// What can't be walked is one line with what is missing, and the exit code says whose fault it is.
#[test]
fn calls_that_cant_work() {
    let folder = tempfile::tempdir().expect("a folder");
    let complaint = |words: &[&str], code: i32, has: &str| {
        let output = verb("true").arg(folder.path()).args(words).output().expect("it runs");
        let text = String::from_utf8_lossy(&output.stderr).into_owned();
        assert_eq!(output.status.code(), Some(code), "{text}");
        assert!(text.contains(has) && text.lines().count() == 1 && (15..=300).contains(&text.trim_end().chars().count()), "{text}");
    };
    complaint(&[], 2, "garment.toml");
    std::fs::write(folder.path().join("garment.toml"), "[garment]\nname = \"x\"\n").expect("written");
    complaint(&[], 2, "trace the pictures first");
    let out = folder.path().join("out/a");
    std::fs::create_dir_all(&out).expect("made");
    std::fs::copy(Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/golden/outline.json"), out.join("outline.json")).expect("copied");
    complaint(&[], 2, "[[join]]");
    std::fs::write(out.join("outline.json"), "{").expect("written");
    complaint(&[], 2, "not a record that can be read here");
    std::fs::write(folder.path().join("garment.toml"), "[[join]]\nedges = [\"front\", \"back: hem\"]\n").expect("written");
    complaint(&[], 2, "line 2");
}
