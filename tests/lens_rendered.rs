//! `ruboff lens` on rendered pictures of a bare sheet, and what `ruboff trace` makes of the profile.

// Figures are shown when a test fails or with --nocapture.
#![allow(clippy::print_stdout)]

mod judge;
mod render;

use judge::{complaint, outline, verb};
use render::camera::{Camera, Stand};
use render::cloth::{Fabric, Piece};
use render::file::{self, Written};
use render::scene::Scene;
use render::shapes::{self, Figure, around};
use render::sheet::{Buckle, Sheet, srgb};
use serde_json::Value;
use std::path::Path;

const SIZE: [usize; 2] = [1000, 750];
/// A barrel lens with its centre beside the picture's.
const BENT: [f64; 4] = [-0.09, 0.03, 6e-4, -4e-4];
const CENTRE: [f64; 2] = [5.0, -7.0];
const LONGER: f64 = 1.012;

fn bent(camera: Camera) -> Camera {
    camera.with_lens(BENT[0], BENT[1], BENT[2], BENT[3]).with_slack(LONGER, CENTRE)
}

fn stand(side: f64, tilt: f64, roll: f64) -> Stand {
    Stand { film_mm: 26.0, tilt, side, roll }
}

/// Six pictures of a bare sheet, one of them held upright.
fn pictures(folder: &Path) -> Vec<String> {
    pictures_of(folder, &Sheet::lines(20.0, [900.0, 800.0]))
}

fn pictures_of(folder: &Path, sheet: &Sheet) -> Vec<String> {
    let stands = [(0.0, 32.0, 0.0), (120.0, 30.0, 5.0), (240.0, 28.0, -4.0), (60.0, 35.0, 91.0), (180.0, 31.0, 2.0), (300.0, 25.0, 0.0)];
    let names = stands.iter().enumerate().map(|(k, &(side, tilt, roll))| {
        let camera = bent(Camera::framing(
            SIZE,
            stand(side, tilt, roll),
            &[[-300.0, -230.0], [300.0, -230.0], [300.0, 230.0], [-300.0, 230.0]],
            1.0,
        ));
        let picture = Scene { seed: k as u64, ..Scene::new(camera, sheet.clone(), vec![]) }.draw();
        let name = format!("sheet-{k}.jpg");
        std::fs::write(folder.join(&name), file::jpeg(&picture, &Written::phone(26))).expect("written");
        name
    });
    names.collect()
}

fn number(v: &Value) -> f64 {
    v.as_f64().expect("a number")
}

#[test]
fn a_lens_is_solved_kept_and_taken() {
    let folder = tempfile::tempdir().expect("a folder");
    let lenses = folder.path().join("lenses");
    let names = pictures(folder.path());
    let call = |more: &[&str]| {
        let mut command = verb("lens");
        command.env("RUBOFF_LENSES", &lenses).current_dir(folder.path());
        command.args(["--pitch", "20mm", "--sheet", "lines"]).args(&names).args(more).output().expect("the program starts")
    };
    let output = call(&["--json", "--name", "barrel"]);
    assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
    let said: Value = serde_json::from_slice(&output.stdout).expect("one line of JSON");
    println!("{said:#}");
    let focal = LONGER * render::camera::focal_px(26.0, SIZE);
    let within = |what: &Value, truth: f64, most: f64| {
        let (value, error) = (number(&what["value"]), number(&what["error"]));
        assert!((value - truth).abs() < most && (value - truth).abs() < 5.0 * error, "{value} ± {error} for {truth}");
    };
    within(&said["focal_px"], focal, 1e-3 * focal);
    within(&said["centre_px"][0], (SIZE[0] as f64 - 1.0) / 2.0 + CENTRE[0], 1.0);
    within(&said["centre_px"][1], (SIZE[1] as f64 - 1.0) / 2.0 + CENTRE[1], 1.0);
    for (k, name) in ["k1", "k2", "p1", "p2"].iter().enumerate() {
        within(&said[*name], BENT[k], [5e-3, 2e-2, 2e-4, 2e-4][k]);
    }
    assert!(number(&said["kept_out_rms_px"]) < 0.15, "{said}");
    assert!(lenses.join("barrel.toml").exists());
    let again = complaint(&call(&["--name", "barrel"]));
    assert!(again.contains("--force"), "{again}");

    // A picture of a garment by the same camera takes the profile and says so; one by another lens does not.
    let piece = Piece::new("pocket", &shapes::pocket(&mut Figure::plain()), Fabric::plain(srgb(90, 50, 80)), 1.5);
    let frame = around([&piece.outline], 60.0);
    let scene = |film_mm: f64, turned: bool| {
        let (camera, size) = (stand(40.0, 4.0, if turned { 90.0 } else { 0.0 }), if turned { [SIZE[1], SIZE[0]] } else { SIZE });
        let camera = Camera::framing(size, Stand { film_mm, ..camera }, &frame, 0.9);
        // The stored picture is the upright one turned back by a quarter: centre and decentring turn with it.
        let camera = match turned {
            true => camera.with_lens(BENT[0], BENT[1], BENT[3], -BENT[2]).with_slack(LONGER, [-CENTRE[1], CENTRE[0]]),
            false => bent(camera),
        };
        Scene::new(camera, Sheet::lines(20.0, [900.0, 800.0]), vec![piece.clone()])
    };
    for (name, film_mm, orientation, taken) in [("same", 26, 1, true), ("turned", 26, 6, true), ("wide", 14, 1, false)] {
        let scene = scene(f64::from(film_mm), orientation == 6);
        let picture = folder.path().join(format!("{name}.jpg"));
        let written = Written { orientation, ..Written::phone(film_mm) };
        std::fs::write(&picture, file::jpeg(&scene.draw(), &written)).expect("written");
        let out = folder.path().join("out");
        let mut command = verb("trace");
        command.env("RUBOFF_LENSES", &lenses).arg(&picture).arg("--out").arg(&out);
        let output = command.args(["--pitch", "20mm", "--thickness", "1.5mm"]).output().expect("the program starts");
        let talk = String::from_utf8_lossy(&output.stderr);
        assert!(output.status.success(), "{talk}");
        let given = outline(&out, name);
        let view = &given["views"][0];
        println!("{name}: {} {}", view["focal_from"], given["budget"]);
        assert_eq!(view["focal_from"] == "lens profile", taken, "{name}: {view}");
        assert_eq!(view["lens_profile"] == "barrel", taken);
        assert_eq!(talk.contains("lens profile barrel was used"), taken, "{talk}");
        assert_eq!(given["made_by"]["profiles"].as_array().expect("profiles").len(), if taken { 2 } else { 1 });
        let (left, ppm) = judge::view_error(&given, &scene.camera);
        println!("{name}: view off by {left:.4} mm, {ppm:.0} ppm");
        assert!(!taken || left < 0.05, "{left}");
    }
}

/// Another sheet among the pictures is refused with its name, a garment on the sheet told of.
#[test]
fn one_bare_sheet() {
    let folder = tempfile::tempdir().expect("a folder");
    let names = pictures(folder.path());
    let draw = |name: &str, sheet: Sheet, pieces: Vec<Piece>| {
        let corners = [[-300.0, -230.0], [300.0, -230.0], [300.0, 230.0], [-300.0, 230.0]];
        let camera = bent(Camera::framing(SIZE, stand(30.0, 27.0, 3.0), &corners, 1.0));
        let picture = Scene { seed: 9, ..Scene::new(camera, sheet, pieces) }.draw();
        std::fs::write(folder.path().join(name), file::jpeg(&picture, &Written::phone(26))).expect("written");
    };
    draw("dots.jpg", Sheet::dots(20.0, [900.0, 800.0]), vec![]);
    let pocket = Piece::new("pocket", &shapes::pocket(&mut Figure::plain()), Fabric::plain(srgb(90, 50, 80)), 1.5);
    draw("worn.jpg", Sheet::lines(20.0, [900.0, 800.0]), vec![pocket]);
    let solve = |more: &str, out: &str| {
        let words = names[..4].iter().map(String::as_str).chain([more, "--pitch", "20mm", "--out", out]);
        verb("lens").current_dir(folder.path()).args(words).output().expect("the program starts")
    };
    let text = complaint(&solve("dots.jpg", "mixed.toml"));
    println!("{text}");
    assert!(text.contains("dots.jpg shows dots") && text.contains("one sheet") && !folder.path().join("mixed.toml").exists(), "{text}");
    for (more, told) in [("worn.jpg", true), (names[4].as_str(), false)] {
        let output = solve(more, &format!("{more}.toml"));
        let text = String::from_utf8_lossy(&output.stderr).into_owned();
        println!("{text}");
        assert!(output.status.success() && text.contains("Something lies on the sheet in worn.jpg") == told, "{text}");
    }
}

/// A picture given twice counts once. A profile that is named for a zoomed picture is told not to fit it, and not the sheet to be bent.
#[test]
fn a_profile_is_for_one_zoom() {
    let folder = tempfile::tempdir().expect("a folder");
    let names = pictures(folder.path());
    let first = names.iter().chain(&names[..2]).map(String::as_str);
    let words = first.chain(["--pitch", "20mm", "--sheet", "lines", "--name", "barrel", "--out", "barrel.toml"]);
    let output = verb("lens").current_dir(folder.path()).args(words).output().expect("the program starts");
    let (said, notes) = (String::from_utf8_lossy(&output.stdout), String::from_utf8_lossy(&output.stderr));
    println!("{said}{notes}");
    assert!(output.status.success() && said.contains("6 pictures"), "{said}");
    assert!(notes.contains("sheet-0.jpg is the same file") && !notes.contains("out of flat") && !notes.contains("is tilted"), "{notes}");
    let piece = Piece::new("pocket", &shapes::pocket(&mut Figure::plain()), Fabric::plain(srgb(90, 50, 80)), 1.5);
    let camera = Camera::framing(SIZE, Stand { film_mm: 30.0, ..stand(40.0, 12.0, 0.0) }, &around([&piece.outline], 60.0), 0.9);
    let zoomed = Scene::new(camera, Sheet::lines(20.0, [900.0, 800.0]), vec![piece]);
    std::fs::write(folder.path().join("zoomed.jpg"), file::jpeg(&zoomed.draw(), &Written::phone(26))).expect("written");
    let words = ["zoomed.jpg", "--pitch", "20mm", "--thickness", "1.5mm", "--out", "out", "--lens", "barrel.toml", "--verbose"];
    let output = verb("trace").current_dir(folder.path()).args(words).output().expect("the program starts");
    let talk = String::from_utf8_lossy(&output.stderr);
    println!("{talk}");
    assert!(talk.contains("barrel") && talk.contains("does not fit") && !talk.contains("latten the"), "{talk}");
}

/// A sheet that does not lie flat is told, and so are pictures all taken from straight above.
#[test]
fn a_bent_sheet_is_told() {
    let folder = tempfile::tempdir().expect("a folder");
    let crest = Buckle { at: [-40.0, 20.0], degrees: 70.0, height: 3.0, width: 160.0 };
    let names = pictures_of(folder.path(), &Sheet { buckle: Some(crest), ..Sheet::lines(20.0, [900.0, 800.0]) });
    let solve = |names: &[String]| {
        let words = names.iter().map(String::as_str).chain(["--pitch", "20mm", "--sheet", "lines", "--out", "lens.toml", "--force"]);
        let output = verb("lens").current_dir(folder.path()).args(words).output().expect("the program starts");
        String::from_utf8_lossy(&output.stderr).into_owned()
    };
    let notes = solve(&names);
    println!("{notes}");
    assert!(notes.contains("out of flat"), "{notes}");
    let above: Vec<String> = (0..5)
        .map(|k| {
            let at = stand(72.0 * f64::from(k), 5.0, 0.0);
            let corners = [[-300.0, -230.0], [300.0, -230.0], [300.0, 230.0], [-300.0, 230.0]];
            let camera = bent(Camera::framing(SIZE, at, &corners, 1.0));
            let picture = Scene { seed: k as u64, ..Scene::new(camera, Sheet::lines(20.0, [900.0, 800.0]), vec![]) }.draw();
            let name = format!("above-{k}.jpg");
            std::fs::write(folder.path().join(&name), file::jpeg(&picture, &Written::phone(26))).expect("written");
            name
        })
        .collect();
    let notes = solve(&above);
    println!("{notes}");
    assert!(notes.contains("Tilt the camera by 20 to 40 degrees") && !notes.contains("out of flat"), "{notes}");
}

#[test]
fn refusals() {
    let folder = tempfile::tempdir().expect("a folder");
    let flat: Vec<String> = (0..3)
        .map(|k| {
            let camera = Camera::at_distance([700, 520], stand(0.0, 0.0, 0.0), [f64::from(k) * 7.0, 0.0], 500.0);
            let picture = Scene { seed: k as u64, ..Scene::new(camera, Sheet::lines(20.0, [900.0, 800.0]), vec![]) }.draw();
            let name = format!("flat-{k}.jpg");
            std::fs::write(folder.path().join(&name), file::jpeg(&picture, &Written::phone(26))).expect("written");
            name
        })
        .collect();
    let call = |words: &[&str]| verb("lens").current_dir(folder.path()).args(words).output().expect("the program starts");
    let out = ["--out", "lens.toml"];
    let all: Vec<&str> = flat.iter().map(String::as_str).collect();
    for (words, wanted) in [
        ([&all[..], &["--pitch", "20mm"], &out].concat(), "straight above"),
        ([&all[..2], &["--pitch", "20mm"], &out].concat(), "too few"),
        ([&all[..], &out].concat(), "--pitch"),
        (vec!["--pitch", "20mm"], "PICTURE"),
    ] {
        let text = complaint(&call(&words));
        println!("{}", text.trim_end());
        assert!(text.contains(wanted), "{text}");
    }
    assert!(!folder.path().join("lens.toml").exists());
    // A profile that is none, and one of another size.
    std::fs::write(folder.path().join("bad.toml"), "name = 3").expect("written");
    let trace = |file: &str| {
        let words = [all[0], "--out", "out", "--pitch", "20mm", "--lens", file];
        complaint(&verb("trace").current_dir(folder.path()).args(words).output().expect("the program starts"))
    };
    assert!(trace("bad.toml").contains("bad.toml is not right"));
    assert!(trace("gone.toml").contains("gone.toml can't be read"));
}
