//! Rough outlines of cloth on rendered pictures, against the true silhouettes the renderer wrote beside them.
//!
//! The pictures are found by `RUBOFF_PRACTICE` or beside the project; without them there is nothing to check here.

#![allow(clippy::print_stdout)] // A test says what it skipped and what it measured.

use image::ImageDecoder;
use kurbo::{BezPath, ParamCurve, ParamCurveArclen};
use nalgebra::{Matrix3, Vector3};
use ruboff::cloth::{self, Cloth, ClothError, Settings};
use ruboff::grid::{Lattice, Node};
use ruboff::length::{Mm, Px};
use ruboff::proof::Proof;
use ruboff::sheet::SheetKind;
use ruboff::shot::Shot;
use ruboff::view::{Lens, Model, View};
use serde_json::Value;
use std::path::{Path, PathBuf};

/// 95 % of a rough rim lie this near the true one, px. A ratchet: lowered as the finder improves.
const P95_PX: f64 = 9.0;
/// And none of it further than this, mm.
const MOST_MM: f64 = 9.5;

fn pictures() -> Option<PathBuf> {
    let dir = std::env::var_os("RUBOFF_PRACTICE")
        .map_or_else(|| Path::new(env!("CARGO_MANIFEST_DIR")).join("../shared/practice/pictures"), PathBuf::from);
    if !dir.is_dir() {
        println!("skipped: no rendered pictures at {}", dir.display());
        return None;
    }
    Some(dir)
}

fn load(file: &Path) -> Shot {
    let mut decoder =
        image::ImageReader::open(file).expect("picture").with_guessed_format().expect("format").into_decoder().expect("decoder");
    let turn = decoder.orientation().expect("orientation");
    let mut picture = image::DynamicImage::from_decoder(decoder).expect("pixels");
    picture.apply_orientation(turn);
    let rgb = picture.into_rgb8();
    Shot::from_rgb(rgb.width() as usize, rgb.height() as usize, rgb.into_raw())
}

fn numbers(v: &Value) -> Vec<f64> {
    v.as_array()
        .map(|a| a.iter().flat_map(|v| if v.is_array() { numbers(v) } else { vec![v.as_f64().unwrap_or(0.0)] }).collect())
        .unwrap_or_default()
}

/// Truth of one picture, moved so that a node is the origin.
struct Truth {
    view: View,
    lattice: Lattice,
    /// Silhouettes as seen, px, and the height of each.
    rims: Vec<Vec<Px>>,
    pieces: usize,
    height: f64,
}

impl Truth {
    fn read(file: &Path, shot: &Shot) -> Self {
        let t: Value = serde_json::from_slice(&std::fs::read(file).expect("truth")).expect("truth is json");
        let sheet = &t["sheet"];
        let (pitch, phase, size) = (sheet["pitch"].as_f64().expect("pitch"), numbers(&sheet["phase"]), numbers(&sheet["size"]));
        let shift: Vec<f64> = (0..2).map(|k| phase[k] + (size[k] / 2.0 / pitch).floor() * pitch).collect();
        let view = view(&t, shot, &shift);
        let mut rims = Vec::new();
        for p in t["pieces"].as_array().expect("pieces") {
            let path = BezPath::from_svg(p["silhouette"].as_str().expect("path")).expect("path data");
            let h = p["h"].as_f64().expect("height");
            rims.push(dense(&path).into_iter().map(|m| view.to_px(Mm::new(m[0] - shift[0], m[1] - shift[1]), h)).collect::<Vec<_>>());
        }
        let lattice = lattice(sheet, &view, &rims, &shift, &size, pitch);
        let height = t["pieces"][0]["h"].as_f64().unwrap_or(1.0);
        Self { view, lattice, pieces: rims.len(), rims, height }
    }
}

fn dense(path: &BezPath) -> Vec<[f64; 2]> {
    let mut out = Vec::new();
    for s in path.segments() {
        let n = (s.arclen(0.1) / 1.0).ceil() as usize;
        out.extend((0..n).map(|k| s.eval(k as f64 / n as f64)).map(|p| [p.x, p.y]));
    }
    out
}

fn view(t: &Value, shot: &Shot, shift: &[f64]) -> View {
    let c = &t["camera"];
    let model = if c["kind"] == "flatbed" {
        // Least squares over the known pairs.
        let clicks = t["clicks"].as_array().expect("pairs");
        let mut normal = Matrix3::<f64>::zeros();
        let mut right = [Vector3::<f64>::zeros(); 2];
        for k in clicks {
            let (mm, px) = (numbers(&k["mm"]), numbers(&k["px"]));
            let row = Vector3::new(mm[0] - shift[0], mm[1] - shift[1], 1.0);
            normal += row * row.transpose();
            right.iter_mut().zip(&px).for_each(|(r, p)| *r += row * *p);
        }
        let inverse = normal.try_inverse().expect("pairs span the sheet");
        let (x, y) = (inverse * right[0], inverse * right[1]);
        Model::Scan { matrix: [x[0], x[1], y[0], y[1], x[2], y[2]] }
    } else {
        let (d, r, at) = (numbers(&c["k1k2p1p2"]), numbers(&c["R"]), numbers(&c["C"]));
        let rotation = Matrix3::from_row_slice(&r);
        let lens = Lens {
            focal: c["f_px"].as_f64().expect("focal length"),
            centre: Px::new(c["cx"].as_f64().expect("cx"), c["cy"].as_f64().expect("cy")),
            k1: d[0],
            k2: d[1],
            p1: d[2],
            p2: d[3],
        };
        let camera = Vector3::new(at[0] - shift[0], at[1] - shift[1], at[2]);
        Model::Pinhole { lens, rotation, translation: -(rotation * camera) }
    };
    View::known(model, shot.width, shot.height)
}

fn lattice(sheet: &Value, view: &View, rims: &[Vec<Px>], shift: &[f64], size: &[f64], pitch: f64) -> Lattice {
    let kind = serde_json::from_value::<SheetKind>(sheet["kind"].clone()).expect("kind");
    let mut nodes = Vec::new();
    for j in -150..150 {
        for i in -150..150 {
            let mm = [f64::from(i) * pitch, f64::from(j) * pitch];
            let on_sheet = (0..2).all(|k| (2.0..size[k] - 2.0).contains(&(mm[k] + shift[k])));
            let at = view.to_px(Mm::new(mm[0], mm[1]), 0.0);
            let seen = at.x > 6.0 && at.y > 6.0 && at.x < view.width as f64 - 7.0 && at.y < view.height as f64 - 7.0;
            if on_sheet && seen && !rims.iter().any(|r| inside(r, at)) {
                nodes.push(Node { at, i, j, error: 0.1 });
            }
        }
    }
    let mark_half_width = sheet["width"].as_f64().expect("width") / 2.0;
    Lattice { kind, pitch: [pitch; 2], nodes, mark_half_width, ..Lattice::default() }
}

fn inside(rim: &[Px], p: Px) -> bool {
    let mut odd = false;
    for k in 0..rim.len() {
        let (a, b) = (rim[k], rim[(k + 1) % rim.len()]);
        if (a.y > p.y) != (b.y > p.y) && p.x < a.x + (p.y - a.y) / (b.y - a.y) * (b.x - a.x) {
            odd = !odd;
        }
    }
    odd
}

fn to_line(line: &[Px], p: Px) -> f64 {
    (0..line.len())
        .map(|k| {
            let (a, b) = (line[k], line[(k + 1) % line.len()]);
            let ab = b - a;
            let t = ((p - a).dot(&ab) / ab.norm_squared().max(1e-12)).clamp(0.0, 1.0);
            p.distance(a.lerp(b, t))
        })
        .fold(f64::MAX, f64::min)
}

/// Distances both ways between a found rim and a true one, px: 95 % and largest.
fn distances(found: &[Px], truth: &[Px]) -> (f64, f64, Px) {
    let mut all: Vec<(f64, Px)> =
        truth.iter().map(|&p| (to_line(found, p), p)).chain(found.iter().map(|&p| (to_line(truth, p), p))).collect();
    all.sort_by(|a, b| a.0.total_cmp(&b.0));
    let worst = all[all.len() - 1];
    (all[all.len() * 95 / 100].0, worst.0, worst.1)
}

fn run(dir: &Path, name: &str, settings: Settings) -> (Result<Cloth, ClothError>, Truth) {
    let file = ["jpg", "png"].map(|e| dir.join(format!("{name}.{e}"))).into_iter().find(|f| f.exists()).expect("picture");
    let shot = load(&file);
    let truth = Truth::read(&dir.join(format!("{name}.truth.json")), &shot);
    let mut proof = Proof::off();
    let keep = std::env::var_os("RUBOFF_WORKINGS").map(|d| PathBuf::from(d).join(name));
    if let Some(d) = &keep {
        std::fs::create_dir_all(d).expect("folder");
        proof = Proof::into_dir(d);
    }
    let began = std::time::Instant::now();
    let cloth = cloth::find(&shot, &truth.lattice, &truth.view, &Settings { height: truth.height, ..settings }, &mut proof);
    println!("{name}: {:.0} ms", began.elapsed().as_secs_f64() * 1e3);
    proof.finish().expect("workings");
    (cloth, truth)
}

#[test]
fn rough_rims_lie_by_the_true_ones() {
    let Some(dir) = pictures() else { return };
    let mut names: Vec<String> = std::fs::read_dir(&dir)
        .expect("folder")
        .filter_map(|e| e.ok()?.file_name().into_string().ok()?.strip_suffix(".truth.json").map(str::to_owned))
        .filter(|n| n.starts_with(['A', 'B', 'C', 'E']))
        .collect();
    names.sort();
    if let Ok(only) = std::env::var("RUBOFF_ONLY") {
        names.retain(|n| n.contains(&only));
    }
    let mut bad = Vec::new();
    for name in names {
        let (cloth, truth) = run(&dir, &name, Settings::default());
        let cloth = match cloth {
            Ok(c) => c,
            Err(e) => {
                println!("    {e}");
                bad.push(format!("{name}: {e}"));
                continue;
            }
        };
        if cloth.regions.len() != truth.pieces {
            bad.push(format!("{name}: {} pieces for {}", cloth.regions.len(), truth.pieces));
        }
        for rim in &truth.rims {
            let Some((p95, most, at)) = cloth.regions.iter().map(|r| distances(&r.rim, rim)).min_by(|a, b| a.1.total_cmp(&b.1)) else {
                continue;
            };
            let scale = truth.view.px_per_mm(truth.view.to_mm(at, 0.0).unwrap_or_default());
            println!(
                "    {} pieces {} holes {} others; 95 % {p95:.1} px, most {most:.1} px = {:.1} mm at {:.0} {:.0}",
                cloth.regions.len(),
                cloth.regions.iter().map(|r| r.holes.len()).sum::<usize>(),
                cloth.others.len(),
                most / scale,
                at.x,
                at.y
            );
            if p95 > P95_PX || most / scale > MOST_MM {
                bad.push(format!("{name}: 95 % {p95:.1} px, most {:.1} mm", most / scale));
            }
        }
    }
    assert!(bad.is_empty(), "{bad:#?}");
}
