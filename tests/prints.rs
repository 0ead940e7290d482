//! Prints as they come out: short, long and out of square, traced with and without their measurement; joined from pages out of place.

// Figures are shown when a test fails or with --nocapture.
#![allow(clippy::print_stdout)]

mod judge;
mod render;

use render::camera::{Camera, Stand};
use render::cloth::{Fabric, Piece};
use render::file::{self, Written};
use render::random::Random;
use render::scene::Scene;
use render::shapes::{self, Figure, around};
use render::sheet::{Page, Sheet, srgb};
use serde_json::Value;
use std::path::Path;

/// 0.3 % short across, 0.1 % long down, leaning by 0.1°.
const PRINTED: ([f64; 2], f64) = ([0.997, 1.001], 0.1);

fn scene(sheet: Sheet) -> Scene {
    let shape = shapes::waistcoat(&mut Figure::varied(5, 0.08));
    let piece = Piece::new("front", &shape, Fabric::plain(srgb(70, 50, 74)), 2.0).laid(4.0, [3.0, -8.0]);
    let stand = Stand { film_mm: 26.0, tilt: 16.0, side: 140.0, roll: 3.0 };
    let camera = Camera::framing([1360, 1020], stand, &around([&piece.outline], 60.0), 0.96).with_lens(-0.03, 0.01, 0.0, 0.0);
    Scene::new(camera, sheet, vec![piece])
}

fn traced(picture: &Path, out: &Path, prints: &Path) -> (Value, String) {
    let mut command = judge::command();
    let words = [picture.as_os_str(), "--thickness".as_ref(), "2mm".as_ref(), "--out".as_ref(), out.as_os_str()];
    let done = command.args(words).env("RUBOFF_PRINTS", prints).output().expect("run");
    let said = String::from_utf8_lossy(&done.stderr).into_owned();
    assert!(done.status.success(), "{said}");
    (judge::outline(out, "shot"), said)
}

#[test]
fn a_measured_print_is_used_and_told() {
    let dir = tempfile::tempdir().expect("a folder");
    let (sheet, _) = Sheet::coded(31, 25.0, [36, 32]);
    let scene = scene(Sheet { printed: PRINTED, ..sheet });
    let picture = dir.path().join("shot.jpg");
    std::fs::write(&picture, file::jpeg(&scene.draw(), &Written::phone(26))).expect("written");
    let prints = dir.path().join("prints");

    let (bare, said) = traced(&picture, &dir.path().join("bare"), &prints);
    let off = judge::compare(&bare["pieces"][0], &scene.pieces[0]);
    println!("not measured: scale {:+.0} ppm, p95 {:.3} mm, sheet {} mm", off.laid.scale_ppm, off.laid.p95(), bare["budget"]["sheet_mm"]);
    assert!(!said.contains("measured print"), "{said}");
    assert!(bare["sheet"].get("measured").is_none() && bare["budget"].get("sheet_not_measured_mm").is_none());
    assert!(bare["doubts"].as_array().expect("doubts").iter().any(|d| d["code"] == "pitch-not-measured"), "{}", bare["doubts"]);

    // 900 x 800 mm as drawn; the diagonals from sides and lean by the law of cosines.
    let (a, b, lean) = (900.0 * PRINTED.0[0], 800.0 * PRINTED.0[1], PRINTED.1.to_radians());
    let [d, e] = [1.0, -1.0].map(|way| (a * a + b * b + way * 2.0 * a * b * lean.sin()).sqrt());
    let words = [
        "--measured",
        "--number",
        "31",
        "--size",
        "900x800mm",
        "--across",
        &format!("{a:.1} mm"),
        "--down",
        &format!("{b:.1} mm"),
        "--diagonals",
        &format!("{d:.1} mm, {e:.1} mm"),
        "--date",
        "1926-05-17",
    ]
    .map(str::to_owned);
    let kept = judge::verb("sheet").args(&words).env("RUBOFF_PRINTS", &prints).output().expect("run");
    let told = String::from_utf8_lossy(&kept.stdout).into_owned();
    assert!(kept.status.success() && told.contains("out of square by +0.") && told.contains("not to be measured on by hand"), "{told}");

    let (known, said) = traced(&picture, &dir.path().join("known"), &prints);
    let on = judge::compare(&known["pieces"][0], &scene.pieces[0]);
    let (view, ppm) = judge::view_error(&known, &scene.camera);
    println!(
        "measured: scale {:+.0} ppm, p95 {:.3} mm, view {view:.3} mm {ppm:+.0} ppm, {}",
        on.laid.scale_ppm,
        on.laid.p95(),
        known["budget"]
    );
    assert!(said.contains("the measured print of sheet 31 (25 mm), measured on 1926-05-17 was used"), "{said}");
    assert_eq!(known["sheet"]["measured"], "sheet 31 (25 mm), measured on 1926-05-17");
    // Readings are rounded to 0.1 mm, which is 0.01 % of a side.
    assert!(view < 0.05 && ppm.abs() < 100.0, "{view} mm, {ppm} ppm");
    assert!(on.laid.p95() < 0.2 && on.laid.scale_ppm.abs() < 200.0, "{:?}", on.laid.scale_ppm);
    assert!(off.laid.scale_ppm.abs() > 500.0 && off.laid.p95() > on.laid.p95() + 0.1, "the print itself is out: {} mm", off.laid.p95());
    let share = |v: &Value, name: &str| v["budget"][name].as_f64().expect("a share");
    assert!(share(&known, "sheet_mm") < 0.5 * share(&known, "sheet_not_measured_mm"));
    assert!((share(&known, "sheet_not_measured_mm") / share(&bare, "sheet_mm") - 1.0).abs() < 0.02);
    assert!(!known["doubts"].as_array().expect("doubts").iter().any(|d| d["code"] == "pitch-not-measured"), "{}", known["doubts"]);
}

/// Pages of Letter paper, upright, as the layout has them for squares of 25 mm: 7 lines and 10 at first, then 7 and 9, cut at 0.44 of a square; moved by
/// up to 0.7 mm each way and turned so that their borders stray by a third of that.
fn letter_pages(first: [f64; 2], squares: [usize; 2]) -> Vec<Page> {
    let mut r = Random::new(9);
    let cuts = |axis: usize, lead: usize, step: usize| {
        let mut at = vec![first[axis] - 30.0];
        at.extend((lead..=squares[axis]).step_by(step).map(|line| first[axis] + (line as f64 - 0.56) * 25.0));
        at.push(first[axis] + squares[axis] as f64 * 25.0 + 30.0);
        at
    };
    let (xs, ys) = (cuts(0, 7, 7), cuts(1, 10, 9));
    let mut out = Vec::new();
    for y in ys.windows(2) {
        for x in xs.windows(2) {
            let moved = [r.between(-0.7, 0.7), r.between(-0.7, 0.7)];
            out.push(Page { part: [[x[0], y[0]], [x[1], y[1]]], moved, turned: (r.between(-0.7, 0.7) / 300.0f64).to_degrees() });
        }
    }
    out
}

#[test]
fn pages_out_of_place_are_told_and_corrected() {
    let dir = tempfile::tempdir().expect("a folder");
    let (sheet, first) = Sheet::coded(8, 25.0, [36, 32]);
    let scene = scene(Sheet { pages: letter_pages(first, [36, 32]), ..sheet });
    let picture = dir.path().join("shot.jpg");
    std::fs::write(&picture, file::jpeg(&scene.draw(), &Written::phone(26))).expect("written");
    let (given, said) = traced(&picture, &dir.path().join("out"), &dir.path().join("prints"));
    let piece = judge::compare(&given["pieces"][0], &scene.pieces[0]);
    let (view, ppm) = judge::view_error(&given, &scene.camera);
    let joined = &given["sheet"]["joined"];
    let steps = joined["steps"].as_array().expect("steps");
    println!("{} pages of {}, {} steps, the largest {}", joined["pages"], joined["papers"], steps.len(), steps[0]);
    println!(
        "outline: scale {:+.0} ppm, p95 {:.3} mm, max {:.3}; view {view:.3} mm {ppm:+.0} ppm",
        piece.laid.scale_ppm,
        piece.laid.p95(),
        piece.laid.max()
    );
    assert_eq!(joined["papers"], serde_json::json!(["Letter"]));
    assert!(said.contains("out of place"), "{said}");
    // A step in truth: where both pages put the middle of their join, in the record's own coordinates, which begin at the first node.
    let mut misses: Vec<f64> = steps
        .iter()
        .map(|s| {
            let number = |v: &Value| v.as_f64().expect("a number");
            let at = [0, 1].map(|k| number(&s["at"][k]) + first[k]);
            let page = |name: &Value| {
                let (row, column) = name.as_str().expect("an address").split_at(1);
                let row = (row.as_bytes()[0] - b'A') as usize;
                let columns = (36 + 1 - 7usize).div_ceil(7) + 1;
                scene.sheet.pages[row * columns + column.parse::<usize>().expect("a number") - 1].lay(at)
            };
            let (a, b) = (page(&s["between"][0]), page(&s["between"][1]));
            let by = [0, 1].map(|k| b[k] - a[k] - number(&s["by_mm"][k]));
            by[0].hypot(by[1])
        })
        .collect();
    misses.sort_by(f64::total_cmp);
    let most = misses[misses.len() * 95 / 100];
    println!("95 % of steps out by up to {most:.3} mm");
    assert!(most <= 0.1, "steps are out by {most} mm");
    assert!(view < 0.1 && ppm.abs() < 150.0, "{view} mm, {ppm} ppm");
    assert!(piece.laid.p95() < 0.2 && piece.laid.max() < 0.6, "{} {}", piece.laid.p95(), piece.laid.max());
}
