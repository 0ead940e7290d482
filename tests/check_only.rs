//! `ruboff trace --check-only`: what is wrong with a fresh picture, each with one defect and one without any.

// Figures are shown when a test fails or with --nocapture.
#![allow(clippy::print_stdout)]

mod judge;
mod render;

use judge::{complaint, nothing_written, verb};
use render::camera::{Camera, Stand};
use render::cloth::{Fabric, Piece};
use render::file::{self, Written};
use render::light::{Light, Sensor};
use render::scene::Scene;
use render::shapes::{self, Figure, around};
use render::sheet::{Buckle, Sheet, srgb};
use serde_json::Value;

const SIZE: [usize; 2] = [1400, 1050];

fn piece() -> Piece {
    Piece::new("pocket", &shapes::pocket(&mut Figure::plain()), Fabric::plain(srgb(90, 50, 80)), 1.5)
}

/// A pocket of 185 mm on ruled paper, at about 3 px to the mm with a margin of 60 mm.
fn scene(film_mm: f64, tilt: f64, margin: f64) -> Scene {
    let stand = Stand { film_mm, tilt, side: 40.0, roll: 4.0 };
    let camera = Camera::framing(SIZE, stand, &around([&piece().outline], margin), 0.95);
    Scene::new(camera, Sheet::lines(10.0, [700.0, 600.0]), vec![piece()])
}

/// Codes and costs of what is wrong with a picture.
fn flaws(name: &str, bytes: &[u8], more: &[&str]) -> Vec<(String, f64)> {
    let folder = tempfile::tempdir().expect("a folder");
    std::fs::write(folder.path().join(name), bytes).expect("written");
    let words = [name, "--check-only", "--json", "--thickness", "1.5mm"];
    let pitch: &[&str] = if more.contains(&"--pitch") { &[] } else { &["--pitch", "10mm"] };
    let output = verb("trace").current_dir(folder.path()).args(words).args(pitch).args(more).output().expect("the program starts");
    let said: Value = serde_json::from_slice(&output.stdout).expect("one line of JSON");
    println!("{name}: {said}");
    let found: Vec<(String, f64)> = said["reasons"]
        .as_array()
        .expect("reasons")
        .iter()
        .map(|r| {
            let say = r["say"].as_str().expect("words");
            assert!((30..=300).contains(&say.chars().count()) && !say.contains('\n'), "{say}");
            (r["code"].as_str().expect("a code").to_owned(), r["cost_mm"].as_f64().unwrap_or(f64::NAN))
        })
        .collect();
    assert_eq!(said["result"], if found.is_empty() { "good" } else { "retake" });
    assert_eq!(output.status.code(), Some(i32::from(!found.is_empty())), "{}", String::from_utf8_lossy(&output.stderr));
    assert_eq!(std::fs::read_dir(folder.path()).expect("listed").count(), 1, "nothing is written");
    found
}

fn jpeg(scene: &Scene) -> Vec<u8> {
    file::jpeg(&scene.draw(), &Written::phone(26))
}

#[test]
fn a_good_picture_is_kept() {
    assert_eq!(flaws("good.jpg", &jpeg(&scene(26.0, 9.0, 60.0)), &[]), []);
}

#[test]
fn each_flaw_is_named_with_its_cost() {
    let good = || scene(26.0, 9.0, 60.0);
    let (sensor, light) = (Sensor::good(), Light::soft());
    let phone = Written::phone(26);
    let mut buckled = Sheet::lines(10.0, [700.0, 600.0]);
    buckled.buckle = Some(Buckle { at: [-60.0, 0.0], degrees: 70.0, height: 6.0, width: 70.0 });
    let cases = [
        ("too-tilted", jpeg(&scene(26.0, 41.0, 60.0))),
        (
            "too-soft",
            jpeg(&Scene { sensor: Sensor { blur: 3.4, ..sensor }, sheet: Sheet::checker(10.0, [700.0, 600.0]), ..scene(26.0, 9.0, 100.0) }),
        ),
        (
            "too-dark",
            jpeg(&Scene {
                light: Light { level: 0.03, ..light },
                sensor: Sensor { dark_noise: 0.006, ..sensor },
                ..scene(26.0, 9.0, 100.0)
            }),
        ),
        // 23 of 255 in the mean, without more noise than by day.
        ("too-dark", jpeg(&Scene { light: Light { level: 0.014, ..light }, ..good() })),
        ("too-bright", jpeg(&Scene { light: Light { level: 1.8, ..light }, ..good() })),
        ("recompressed", file::jpeg(&good().draw(), &Written { quality: 50, ..phone.clone() })),
        ("sheet-cut-off", jpeg(&Scene { sheet: Sheet::lines(10.0, [260.0, 170.0]), ..good() })),
        ("not-flat", jpeg(&Scene { sheet: buckled, ..good() })),
        ("ultra-wide", file::jpeg(&scene(13.0, 9.0, 60.0).draw(), &Written::phone(13))),
        ("recompressed", file::jpeg(&good().draw(), &Written { model: None, film_mm: None, quality: 70, ..phone })),
    ];
    let mut missed = Vec::new();
    for (code, bytes) in cases {
        let found = flaws(&format!("{code}.jpg"), &bytes, &["--sheet", if code == "too-soft" { "checker" } else { "lines" }]);
        if !found.iter().any(|f| f.0 == code && f.1 > 0.01 && f.1 < 20.0) {
            missed.push((code, found));
        }
    }
    assert!(missed.is_empty(), "{missed:?}");
}

/// Grey cloth in its own shadow shows no clean edge: the sheet's lines tell the blur.
#[test]
fn blur_is_told_by_the_lines_where_the_rim_can_not() {
    let grey = Piece { fabric: Fabric::plain(srgb(190, 190, 185)), ..piece() };
    let blurred = |blur: f64| {
        let sensor = Sensor { blur, ..Sensor::good() };
        flaws("grey.jpg", &jpeg(&Scene { sensor, pieces: vec![grey.clone()], ..scene(26.0, 9.0, 60.0) }), &[])
    };
    assert_eq!(blurred(1.0), []);
    assert!(blurred(3.0).iter().any(|f| f.0 == "too-soft" && f.1 > 0.2), "{:?}", blurred(3.0));
}

/// A camera that moved is told as such, with what that costs; a picture saved coarsely costs what tracing then gets, and where that is
/// good enough it is kept.
#[test]
fn what_motion_and_coarse_saving_cost() {
    let mut picture = scene(26.0, 9.0, 60.0).draw();
    let (wide, still) = (3 * SIZE[0], picture.rgb.clone());
    for (n, v) in picture.rgb.iter_mut().enumerate() {
        let (row, x) = (n / wide * wide, (n % wide) as isize);
        let over = (-3..=3).map(|d: isize| (x + 3 * d).clamp(x % 3, wide as isize - 3 + x % 3) as usize);
        *v = (over.map(|x| u32::from(still[row + x])).sum::<u32>() / 7) as u8;
    }
    let moved = flaws("moved.jpg", &file::jpeg(&picture, &Written::phone(26)), &["--sheet", "lines"]);
    assert!(moved.iter().any(|f| f.0 == "motion-blur" && f.1 > 0.2 && f.1 < 3.0), "{moved:?}");
    let coarse = file::jpeg(&scene(26.0, 9.0, 60.0).draw(), &Written { quality: 50, ..Written::phone(26) });
    let found = flaws("coarse.jpg", &coarse, &["--sheet", "lines"]);
    assert!(found.iter().all(|f| f.0 == "recompressed" && f.1 > 0.05 && f.1 < 0.25) && !found.is_empty(), "{found:?}");
    assert_eq!(flaws("coarse.jpg", &coarse, &["--sheet", "lines", "--accuracy", "2mm"]), []);
}

/// What is good enough for a coat is not for a doll's dress.
#[test]
fn the_accuracy_asked_for_counts() {
    let far = Scene { sheet: Sheet::lines(25.4, [900.0, 900.0]), ..scene(26.0, 9.0, 300.0) };
    let told = ["--sheet", "lines", "--pitch", "1in", "--accuracy"];
    let with = |accuracy: &str| flaws("coarse.jpg", &jpeg(&far), &[&told[..], &[accuracy]].concat());
    assert!(with("0.2mm").iter().any(|f| f.0 == "too-coarse" && f.1 > 0.2 && f.1 < 0.5));
    assert_eq!(with("1mm"), []);
}

#[test]
fn a_picture_that_can_not_be_judged_is_refused_in_one_line() {
    let folder = tempfile::tempdir().expect("a folder");
    let blank = Scene { sheet: Sheet::blank([700.0, 600.0]), ..scene(26.0, 9.0, 60.0) };
    std::fs::write(folder.path().join("blank.jpg"), jpeg(&blank)).expect("written");
    let call = |words: &[&str]| verb("trace").current_dir(folder.path()).arg("blank.jpg").args(words).output().expect("the program starts");
    complaint(&call(&["--check-only", "--pitch", "10mm"]));
    let text = complaint(&call(&["--check-only", "--pitch", "10mm", "--accuracy", "0mm"]));
    assert!(text.contains("--accuracy"), "{text}");
    let text = complaint(&call(&["--pitch", "10mm"]));
    assert!(text.contains("--out"), "{text}");
    assert!(nothing_written(&folder.path().join("out")));
}
