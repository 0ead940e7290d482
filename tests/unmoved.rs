//! What does not matter to an outline moves it by less than both outlines may be out: the picture turned, mirrored, reduced, cropped, brighter or darker,
//! or coded again; and no byte depends on threads or on the order of pictures.
//!
//! `RUBOFF_SCENES` sets how many scenes drawn by lot (2), `RUBOFF_FIRST` the first one's number.
// Its table is the point of it.
#![allow(clippy::print_stdout)]

mod judge;
mod render;

use image::imageops::{FilterType, resize};
use rayon::prelude::*;
use render::curve::{Curve, Stretch};
use render::file::{Written, jpeg, stored};
use render::lay::lay;
use render::many::{Lot, lot};
use render::scene::Picture;
use serde_json::Value;
use std::path::Path;

const MEGAPIXELS: f64 = 2.5;

fn number(name: &str, otherwise: u64) -> u64 {
    std::env::var(name).ok().and_then(|v| v.parse().ok()).unwrap_or(otherwise)
}

/// A change of the picture that changes nothing of the garment.
struct Change {
    name: &'static str,
    picture: Picture,
    quality: u8,
    mirrored: bool,
}

fn image(picture: &Picture) -> image::RgbImage {
    image::RgbImage::from_raw(picture.size[0] as u32, picture.size[1] as u32, picture.rgb.clone()).expect("as many bytes as pixels")
}

fn picture(image: image::RgbImage) -> Picture {
    Picture { size: [image.width() as usize, image.height() as usize], rgb: image.into_raw() }
}

fn changes(drawn: &Picture) -> Vec<Change> {
    let [w, h] = drawn.size.map(|n| n as u32);
    // Lighter and darker by a third of a stop, as by another exposure: sRGB's power is about 2.2.
    let exposed = |share: f64| {
        let table: Vec<u8> =
            (0..256).map(|v| ((v as f64 / 255.0).powf(2.2) * share).powf(1.0 / 2.2).min(1.0) * 255.0).map(|v| v.round() as u8).collect();
        Picture { size: drawn.size, rgb: drawn.rgb.iter().map(|v| table[*v as usize]).collect() }
    };
    let reduced = picture(resize(&image(drawn), w * 4 / 5, h * 4 / 5, FilterType::Lanczos3));
    let [x, y] = [w / 100, h / 70];
    let cropped = picture(image::imageops::crop_imm(&image(drawn), x, y, w - 2 * x - 1, h - 2 * y - 1).to_image());
    let plain = |name, picture| Change { name, picture, quality: 90, mirrored: false };
    vec![
        // As stored by a camera held otherwise, its tag forgotten.
        plain("turned", stored(drawn, 6)),
        Change { mirrored: true, ..plain("mirrored", stored(drawn, 2)) },
        plain("reduced", reduced),
        plain("cropped", cropped),
        plain("lighter", exposed(1.25)),
        plain("darker", exposed(0.8)),
        Change { quality: 75, ..plain("coded again", drawn.clone()) },
    ]
}

/// The outline of the one piece in a picture, and what 95 % of it may be out by.
fn traced(lot: &Lot, picture: &Picture, quality: u8) -> Option<(Curve, f64)> {
    let folder = tempfile::tempdir().expect("a folder");
    let (file, out) = (folder.path().join("shot.jpg"), folder.path().join("out"));
    let written = Written { quality, model: None, film_mm: None, orientation: 1, dpi: None };
    std::fs::write(&file, jpeg(picture, &written)).expect("written");
    let (pitch, thickness) = (format!("{}mm", lot.pitch), format!("{:.2}mm", lot.scene.pieces[0].thickness));
    let words = ["--sheet", lot.kind, "--pitch", &pitch, "--thickness", &thickness, "--out"];
    let run = judge::command().arg(&file).args(words).arg(&out).output().expect("the program starts");
    if !run.status.success() {
        return None;
    }
    let piece = &judge::outline(&out, "shot")["pieces"][0];
    Some((judge::path(&piece["outline"]), piece["bound_mm"].as_f64()?))
}

fn mirrored(curve: &Curve) -> Curve {
    let flip = |p: [f64; 2]| [-p[0], p[1]];
    let stretch = |s: &Stretch| match *s {
        Stretch::Line(p) => Stretch::Line(flip(p)),
        Stretch::Cubic(a, b, c) => Stretch::Cubic(flip(a), flip(b), flip(c)),
    };
    Curve { start: flip(curve.start), stretches: curve.stretches.iter().map(stretch).collect(), closed: curve.closed }
}

#[test]
fn what_does_not_matter_moves_an_outline_less_than_its_bound() {
    let first = number("RUBOFF_FIRST", 1);
    let lots: Vec<Lot> =
        (first..).map(|seed| lot(seed, MEGAPIXELS)).filter(|l| !l.hard).take(number("RUBOFF_SCENES", 2) as usize).collect();
    let told: Vec<String> = lots.par_iter().flat_map_iter(moved).collect();
    assert!(told.is_empty(), "{}", told.join("\n"));
}

/// What moved by more than it may.
fn moved(lot: &Lot) -> Vec<String> {
    let drawn = lot.scene.draw();
    let Some((still, bound)) = traced(lot, &drawn, 90) else { return vec![format!("{}: not traced", lot.name)] };
    let mut told = Vec::new();
    for change in changes(&drawn) {
        let Some((curve, own)) = traced(lot, &change.picture, change.quality) else {
            told.push(format!("{}, {}: not traced", lot.name, change.name));
            continue;
        };
        let curve = if change.mirrored { mirrored(&curve) } else { curve };
        let by = lay(&curve, &still).p95();
        println!("{:60} {:12} moved by {by:.3} mm, may be out by {bound:.3} and {own:.3}", lot.name, change.name);
        // Either may be out by its own.
        if by > bound.hypot(own) {
            told.push(format!("{}, {}: moved by {by:.3} mm, may be out by {bound:.3} and {own:.3}", lot.name, change.name));
        }
    }
    told
}

/// Every file of a folder of results but what tells times, by name.
fn bytes(folder: &Path) -> Vec<(String, Vec<u8>)> {
    let mut all = Vec::new();
    let mut open = vec![folder.to_path_buf()];
    while let Some(dir) = open.pop() {
        for entry in std::fs::read_dir(&dir).expect("a folder").map(|e| e.expect("an entry").path()) {
            let name = entry.strip_prefix(folder).expect("inside").to_string_lossy().into_owned();
            // What a run keeps for itself: caches and stamps.
            if name.contains(".ruboff") {
                continue;
            }
            if entry.is_dir() { open.push(entry) } else { all.push((name, std::fs::read(&entry).expect("read"))) }
        }
    }
    all.sort();
    all
}

/// The demo traced by one thread, by four, in the other order and again: the same bytes.
#[test]
fn threads_and_order_change_no_byte() {
    let demo = Path::new(env!("CARGO_MANIFEST_DIR")).join("examples/wardrobe");
    let mut garments: Vec<_> =
        std::fs::read_dir(&demo).expect("the demo").map(|e| e.expect("an entry").path()).filter(|p| p.is_dir()).collect();
    garments.sort();
    let run = |jobs: &str, garments: &[std::path::PathBuf]| {
        let folder = tempfile::tempdir().expect("a folder");
        let out = folder.path().join("out");
        for garment in garments {
            // Each by itself, into a folder of its own name, so that the order of the call shows.
            let own = out.join(garment.file_name().expect("a name"));
            let run = judge::command().arg(garment).args(["--pitch", "1in", "--jobs", jobs, "--out"]).arg(&own).output().expect("started");
            assert!(run.status.success(), "{}", String::from_utf8_lossy(&run.stderr));
        }
        bytes(&out)
    };
    let usual = run("1", &garments);
    assert!(usual.iter().any(|(name, _)| name.ends_with("outline.json")));
    garments.reverse();
    for jobs in ["1", "4"] {
        let other = run(jobs, &garments);
        for ((name, a), (other, b)) in usual.iter().zip(&other) {
            assert!(name == other && a == b, "{name} differs with {jobs} threads");
        }
        assert_eq!(usual.len(), other.len());
    }
}

#[test]
fn mirroring_is_seen_by_the_measure() {
    let square = judge::path(&Value::from("M 0 0 L 100 0 L 100 40 L 30 90 Z"));
    assert!(lay(&mirrored(&square), &square).p95() > 5.0);
    assert!(lay(&mirrored(&mirrored(&square)), &square).p95() < 0.01);
}
