//! The lattice against rendered pictures whose cameras are known exactly: RUBOFF_PRACTICE, or `../shared/practice/pictures`.

#![allow(clippy::print_stdout)] // Figures for people; says what was skipped.

use image::ImageDecoder;
use nalgebra::{Matrix3, Vector2, Vector3};
use ruboff::grid::{self, Lattice, Settings};
use ruboff::proof::Proof;
use ruboff::sheet::{SheetKind, SheetProfile};
use ruboff::shot::Shot;
use serde_json::Value;
use std::path::{Path, PathBuf};
use std::time::Instant;

fn pictures() -> Option<PathBuf> {
    let dir = std::env::var_os("RUBOFF_PRACTICE")
        .map_or_else(|| Path::new(env!("CARGO_MANIFEST_DIR")).join("../shared/practice/pictures"), PathBuf::from);
    let there = dir.is_dir();
    if !there {
        println!("skipped: no rendered pictures at {}", dir.display());
    }
    there.then_some(dir)
}

fn load(file: &Path) -> Shot {
    let mut decoder =
        image::ImageReader::open(file).expect("a picture").with_guessed_format().expect("a format").into_decoder().expect("a decoder");
    let turn = decoder.orientation().expect("an orientation");
    let mut picture = image::DynamicImage::from_decoder(decoder).expect("pixels");
    picture.apply_orientation(turn);
    let rgb = picture.into_rgb8();
    Shot::from_rgb(rgb.width() as usize, rgb.height() as usize, rgb.into_raw())
}

/// The renderer's camera, written anew here so that a shared mistake can't cancel out.
struct Camera {
    truth: Value,
}

impl Camera {
    fn number(&self, path: &str) -> f64 {
        self.truth.pointer(path).and_then(Value::as_f64).unwrap_or_else(|| panic!("{path}"))
    }

    fn see(&self, x: f64, y: f64) -> Vector2<f64> {
        if self.truth["camera"]["kind"] == "flatbed" {
            let s = self.number("/camera/dpi") / 25.4;
            let (ex, ey) = (self.number("/camera/scale_error/0"), self.number("/camera/scale_error/1"));
            let a = -self.number("/camera/skew_deg").to_radians();
            let (dx, dy) = (x - self.number("/camera/centre/0"), y - self.number("/camera/centre/1"));
            let (u, v) = (dx * a.cos() - dy * a.sin(), dx * a.sin() + dy * a.cos());
            let (w, h) = (self.number("/camera/size/0"), self.number("/camera/size/1"));
            return Vector2::new(u * s * (1.0 + ex) + (w - 1.0) / 2.0, v * s * (1.0 + ey) + (h - 1.0) / 2.0);
        }
        let r = Matrix3::from_fn(|a, b| self.number(&format!("/camera/R/{a}/{b}")));
        let c = Vector3::from_fn(|a, _| self.number(&format!("/camera/C/{a}")));
        let p = r * (Vector3::new(x, y, 0.0) - c);
        let (u, v) = (p.x / p.z, p.y / p.z);
        let k: [f64; 4] = std::array::from_fn(|n| self.number(&format!("/camera/k1k2p1p2/{n}")));
        let r2 = u * u + v * v;
        let d = 1.0 + r2 * (k[0] + r2 * k[1]);
        let (a, b) = (u * d + 2.0 * k[2] * u * v + k[3] * (r2 + 2.0 * u * u), v * d + k[2] * (r2 + 2.0 * v * v) + 2.0 * k[3] * u * v);
        let f = self.number("/camera/f_px");
        Vector2::new(f * a + self.number("/camera/cx"), f * b + self.number("/camera/cy"))
    }
}

#[derive(Debug)]
struct Figures {
    rms: f64,
    worst: f64,
    bias: f64,
    wrong: usize,
    /// Nodes of the sheet in view that were found, of those not under the garment (roughly: all).
    share: f64,
}

/// Residuals against the truth, after finding which node of the sheet each address stands for.
fn compare(lattice: &Lattice, camera: &Camera) -> Figures {
    let pitch = camera.number("/sheet/pitch");
    let phase = [camera.number("/sheet/phase/0"), camera.number("/sheet/phase/1")];
    let size = [camera.number("/sheet/size/0"), camera.number("/sheet/size/1")];
    let mm = |k: f64, axis: usize| phase[axis] + k * pitch;
    let all: Vec<(i32, i32, Vector2<f64>)> = (0..(size[1] / pitch) as i32 + 1)
        .flat_map(|q| (0..(size[0] / pitch) as i32 + 1).map(move |p| (p, q)))
        .map(|(p, q)| (p, q, camera.see(mm(f64::from(p), 0), mm(f64::from(q), 1))))
        .collect();
    // Which turn and shift: votes of all nodes.
    let mut votes = std::collections::BTreeMap::<(i32, i32, i32), usize>::new();
    let turned = |t: i32, i: i32, j: i32| match t {
        0 => (i, j),
        1 => (-j, i),
        2 => (-i, -j),
        _ => (j, -i),
    };
    for n in lattice.nodes.iter().step_by(1 + lattice.nodes.len() / 60) {
        let (p, q, _) = all.iter().min_by(|a, b| (a.2 - n.at.vector()).norm().total_cmp(&(b.2 - n.at.vector()).norm())).expect("nodes");
        for t in 0..4 {
            let (i, j) = turned(t, n.i, n.j);
            *votes.entry((t, p - i, q - j)).or_default() += 1;
        }
    }
    let ((t, a, b), _) = votes.into_iter().max_by_key(|v| v.1).expect("votes");
    let mut off = Vec::new();
    for n in &lattice.nodes {
        let (i, j) = turned(t, n.i, n.j);
        off.push(n.at.vector() - camera.see(mm(f64::from(i + a), 0), mm(f64::from(j + b), 1)));
    }
    if std::env::var_os("RUBOFF_DUMP").is_some() {
        for (n, d) in lattice.nodes.iter().zip(&off) {
            println!("NODE {} {} {:.2} {:.2} {:.3} {:.3} {:.3}", n.i, n.j, n.at.x, n.at.y, n.error, d.x, d.y);
        }
    }
    let good: Vec<_> = off.iter().filter(|d| d.norm() < 3.0).collect();
    let view = camera.truth["upright_px"].as_array().expect("size").iter().map(|v| v.as_f64().expect("px")).collect::<Vec<_>>();
    let in_view = all.iter().filter(|n| n.2.x >= 0.0 && n.2.y >= 0.0 && n.2.x < view[0] && n.2.y < view[1]).count();
    Figures {
        rms: (good.iter().map(|d| d.norm_squared()).sum::<f64>() / (2 * good.len().max(1)) as f64).sqrt(),
        worst: good.iter().map(|d| d.norm()).fold(0.0, f64::max),
        bias: (good.iter().copied().sum::<Vector2<f64>>() / good.len().max(1) as f64).norm(),
        wrong: off.len() - good.len(),
        share: lattice.nodes.len() as f64 / in_view as f64,
    }
}

fn run(name: &str, told: bool) -> Option<(Result<Lattice, grid::GridError>, Camera, f64)> {
    let dir = pictures()?;
    let truth: Value = serde_json::from_slice(&std::fs::read(dir.join(format!("{name}.truth.json"))).expect("a truth")).expect("json");
    let shot = load(&dir.join(truth["file"].as_str().expect("a file name")));
    let pitch = truth["known"]["pitch_mm"].as_f64().expect("a pitch");
    let word = std::env::var("RUBOFF_KIND").map_or_else(|_| truth["known"]["sheet"].clone(), Value::from);
    let kind: SheetKind = serde_json::from_value(word).expect("a kind");
    let profile = SheetProfile {
        name: "told".into(),
        kind: told.then_some(kind),
        pitch: [pitch; 2],
        heavy_every: None,
        measured: None,
        pitch_error: [0.002; 2],
    };
    let begun = Instant::now();
    let found = grid::find(&shot, &profile, &Settings::default(), &mut Proof::off());
    Some((found, Camera { truth }, begun.elapsed().as_secs_f64()))
}

/// One picture of every kind, a scan with a scale error per axis and a check shirt near the sheet's pitch: nodes far within the 0.15 px
/// that the view needs, none of them the shirt's. Tighten as the figures improve.
#[test]
fn nodes_against_known_cameras() {
    let cases = [
        ("A51_lines_vest", 0.03),
        ("A53_dots_two_pieces", 0.05),
        ("A54_crosses_raglan", 0.03),
        ("A55_checker_gore", 0.03),
        ("A56_mat_yoke", 0.03),
        ("A57_check_near_pitch", 0.03),
        ("E52_cuff_scaled", 0.03),
    ];
    for (name, most) in cases {
        let Some((found, camera, _)) = run(name, true) else { return };
        let figures = compare(&found.unwrap_or_else(|e| panic!("{name}: {e}")), &camera);
        assert!(figures.wrong == 0 && figures.rms < most && figures.bias < 0.01, "{name}: {figures:?}");
    }
}

/// Prints the figures of every picture named in RUBOFF_ONLY (all by default), with the kind left out (RUBOFF_AUTO) or told otherwise (RUBOFF_KIND): the table of the notes for developers.
#[test]
#[ignore = "a table for people: cargo test --release --test grid_rendered -- --ignored --nocapture"]
fn table() {
    let Some(dir) = pictures() else { return };
    let only = std::env::var("RUBOFF_ONLY").unwrap_or_default();
    let told = std::env::var_os("RUBOFF_AUTO").is_none();
    let mut names: Vec<String> = std::fs::read_dir(dir)
        .expect("a folder")
        .filter_map(|e| e.expect("an entry").file_name().to_str()?.strip_suffix(".truth.json").map(str::to_owned))
        .filter(|n| !n.starts_with("D53") && !n.starts_with("D54") && only.split(',').any(|o| n.contains(o)))
        .collect();
    names.sort();
    for name in names {
        let Some((found, camera, took)) = run(&name, told) else { return };
        match found {
            Ok(l) => {
                let f = compare(&l, &camera);
                println!(
                    "{name:30} {:?} nodes {:4} share {:.2} rms {:.3} worst {:.2} bias {:.3} wrong {} kept-out {:.3} ({}) half-width {:.2} contrast {:.2} {:.0} ms {:?}",
                    l.kind,
                    l.nodes.len(),
                    f.share,
                    f.rms,
                    f.worst,
                    f.bias,
                    f.wrong,
                    l.kept_out.rms_px,
                    l.kept_out.nodes,
                    l.mark_half_width,
                    l.mark_contrast,
                    took * 1e3,
                    l.doubts.iter().map(|d| d.code()).collect::<Vec<_>>()
                );
            }
            Err(e) => println!("{name:30} {e} ({:.0} ms)", took * 1e3),
        }
    }
}
