//! Runs the program on rendered scenes and holds what it writes against the truth.

#![allow(dead_code)]

use crate::render::camera::{Camera, Lens, Optics};
use crate::render::cloth::Piece;
use crate::render::curve::{Curve, Point, add, cross, dot, length, scaled, sub};
use crate::render::lay::{self, Laid, Motion, Track};
use serde_json::Value;
use std::path::Path;
use std::process::Output;

/// Runs `ruboff trace` with these words.
pub fn trace<S: AsRef<std::ffi::OsStr>>(words: impl IntoIterator<Item = S>) -> Output {
    command().args(words).output().expect("the program starts")
}

/// `ruboff trace`, to be given more. `RUBOFF_BIN` names another build to be judged.
pub fn command() -> assert_cmd::Command {
    verb("trace")
}

/// A verb of the program, to be given more. No lens profile and no measured print of the person who runs the tests has a part in it.
pub fn verb(verb: &str) -> assert_cmd::Command {
    let built = || assert_cmd::Command::cargo_bin("ruboff").expect("the program is built");
    let mut command = std::env::var_os("RUBOFF_BIN").map_or_else(built, assert_cmd::Command::new);
    command
        .arg(verb)
        .env("RUBOFF_LENSES", "no such folder")
        .env("RUBOFF_PRINTS", "no such folder")
        .timeout(std::time::Duration::from_secs(60));
    command
}

/// `outline.json` of the picture with this stem below the folder written to.
pub fn outline(out: &Path, stem: &str) -> Value {
    let file = out.join(stem).join("outline.json");
    let text = std::fs::read_to_string(&file).unwrap_or_else(|e| panic!("{}: {e}", file.display()));
    serde_json::from_str(&text).expect("outline.json is JSON")
}

/// A path of `outline.json`.
pub fn path(data: &Value) -> Curve {
    let data = data.as_str().expect("path data");
    lay::path(data).unwrap_or_else(|| panic!("not one path of M, L, H, V, C, Z: {data}"))
}

fn point(v: &Value) -> Point {
    [0, 1].map(|k| v[k].as_f64().expect("a number"))
}

/// How a traced piece compares with the true one.
#[derive(Debug)]
pub struct Figures {
    pub laid: Laid,
    /// Largest distance from a true corner to the nearest one given, and how many are given that are none.
    pub worst_corner: f64,
    pub median_corner: f64,
    pub false_corners: usize,
    /// Traced area over the true one, less 1.
    pub area: f64,
    /// Share of points of all edges within the edge's bound, and the bounds at those points.
    pub held: f64,
    pub bounds: Vec<f64>,
    /// Share of those points within the bound told for their own place.
    pub held_along: f64,
    /// Distances of those points from the truth.
    pub at_edges: Vec<f64>,
    /// Lines and cubics given over the true ones.
    pub segments: f64,
}

/// Lays a piece of `outline.json` on the true one and measures.
pub fn compare(given: &Value, truth: &Piece) -> Figures {
    let traced = path(&given["outline"]);
    let laid = lay::lay(&traced, &truth.outline);
    let asked = truth.outline.corners();
    let corners: Vec<Point> = given["corners"].as_array().expect("corners").iter().map(|c| laid.motion.apply(point(&c["at"]))).collect();
    let mut misses: Vec<f64> = asked.iter().map(|a| near(&corners, *a)).collect();
    misses.sort_by(f64::total_cmp);
    // A gentle corner of the drawing may be given without being wrong.
    let any: Vec<Point> = truth.outline.stretches.iter().map(|s| s.end()).collect();
    let points = edge_points(given, &laid.motion, truth);
    let within = |bound: fn(&EdgePoint) -> f64| points.iter().filter(|p| p.off <= bound(p)).count() as f64 / points.len().max(1) as f64;
    Figures {
        worst_corner: misses.last().copied().unwrap_or(0.0),
        median_corner: misses.get(misses.len() / 2).copied().unwrap_or(0.0),
        false_corners: corners.iter().filter(|c| near(&any, **c) > 3.0).count(),
        area: given["area_mm2"].as_f64().expect("an area") / truth.area() - 1.0,
        segments: traced.stretches.len() as f64 / truth.outline.stretches.len() as f64,
        held: within(|p| p.bound),
        held_along: within(|p| p.along),
        bounds: sorted(points.iter().map(|p| p.bound).collect()),
        at_edges: sorted(points.iter().map(|p| p.off).collect()),
        laid,
    }
}

fn near(all: &[Point], to: Point) -> f64 {
    all.iter().map(|p| length(sub(*p, to))).fold(f64::INFINITY, f64::min)
}

fn sorted(mut all: Vec<f64>) -> Vec<f64> {
    all.sort_by(f64::total_cmp);
    all
}

/// One place of a traced edge: what is claimed of the edge and of the place, and the truth, mm.
struct EdgePoint {
    bound: f64,
    along: f64,
    off: f64,
}

/// Places along the edges of a laid piece, every mm.
fn edge_points(given: &Value, motion: &Motion, truth: &Piece) -> Vec<EdgePoint> {
    let track = Track::new(truth.outline.points(0.5));
    let mut out = Vec::new();
    for edge in given["edges"].as_array().expect("edges") {
        let Some(bound) = edge["bound_mm"].as_f64() else { continue };
        let told: Vec<Point> = edge["along"].as_array().map(|a| a.iter().map(point).collect()).unwrap_or_default();
        let points = path(&edge["path"]).even_points(1.0);
        let mut s = 0.0;
        for (k, p) in points.iter().enumerate() {
            s += if k > 0 { length(sub(*p, points[k - 1])) } else { 0.0 };
            let next = told.partition_point(|t| t[0] < s).min(told.len() - 1);
            let (a, b) = (told[next.saturating_sub(1)], told[next]);
            let t = if b[0] > a[0] { ((s - a[0]) / (b[0] - a[0])).clamp(0.0, 1.0) } else { 1.0 };
            out.push(EdgePoint { bound, along: a[1] + (b[1] - a[1]) * t, off: track.distance(motion.apply(*p)) });
        }
    }
    out
}

/// How far the written view of a picture is from the true camera: places all over the picture mapped to the sheet by both, laid on
/// each other by a turn, a shift and a scale. 95 % of what is left once the scale is 1, mm, and the scale's error, ppm.
pub fn view_error(given: &Value, camera: &Camera) -> (f64, f64) {
    let written = camera_of(given, camera.size);
    let [w, h] = camera.size.map(|n| n as f64 - 1.0);
    let places: Vec<Point> = (0..20).flat_map(|i| (0..15).map(move |j| [w * f64::from(i) / 19.0, h * f64::from(j) / 14.0])).collect();
    let pairs: Vec<(Point, Point)> = places.iter().map(|p| (written.sheet(*p, 0.0), camera.sheet(*p, 0.0))).collect();
    let n = pairs.len() as f64;
    let middle = pairs.iter().fold(([0.0; 2], [0.0; 2]), |m, (a, b)| (add(m.0, scaled(*a, 1.0 / n)), add(m.1, scaled(*b, 1.0 / n))));
    let centred: Vec<(Point, Point)> = pairs.iter().map(|(a, b)| (sub(*a, middle.0), sub(*b, middle.1))).collect();
    // As complex numbers: sum of conj(a) b over sum of |a|² is scale and turn.
    let size: f64 = centred.iter().map(|(a, _)| dot(*a, *a)).sum();
    let (c, s) = centred.iter().fold((0.0, 0.0), |m, (a, b)| (m.0 + dot(*a, *b) / size, m.1 + cross(*a, *b) / size));
    let scale = c.hypot(s);
    let (c, s) = (c / scale, s / scale);
    let left = centred.iter().map(|(a, b)| length(sub(*b, [c * a[0] - s * a[1], s * a[0] + c * a[1]])));
    let left = sorted(left.collect());
    (left[(left.len() - 1) * 95 / 100], (1.0 / scale - 1.0) * 1e6)
}

/// The view of `outline.json` as the renderer's own camera.
fn camera_of(given: &Value, size: [usize; 2]) -> Camera {
    let view = &given["views"][0];
    let numbers = |v: &Value| v.as_array().map(|a| a.iter().filter_map(Value::as_f64).collect::<Vec<_>>()).unwrap_or_default();
    if view["model"] == "scan" {
        return Camera { size, optics: Optics::Flatbed(numbers(&view["matrix"]).try_into().expect("six numbers")) };
    }
    let (r, t) = (numbers(&view["rotation"]), numbers(&view["translation_mm"]));
    let turn: [[f64; 3]; 3] = std::array::from_fn(|i| std::array::from_fn(|j| r[3 * i + j]));
    let eye = std::array::from_fn(|k| -(0..3).map(|i| turn[i][k] * t[i]).sum::<f64>());
    let number = |v: &Value| v.as_f64().expect("a number");
    let bend = &view["distortion"];
    let [k1, k2, p1, p2] = ["k1", "k2", "p1", "p2"].map(|k| number(&bend[k]));
    let (focal, centre) = (number(&view["focal_px"]), point(&view["centre_px"]));
    Camera { size, optics: Optics::Lens(Lens { focal, centre, k1, k2, p1, p2, turn, eye, reach: f64::MAX }) }
}

/// The one line of a refusal, held to its form: exit code 1 or 2, 15 to 300 characters, no panic.
pub fn complaint(output: &Output) -> String {
    let text = String::from_utf8_lossy(&output.stderr).into_owned();
    assert!(!output.status.success(), "exit code {:?}", output.status.code());
    assert!(output.status.code().is_some_and(|c| c == 1 || c == 2), "exit code {:?}", output.status.code());
    assert_eq!(text.trim_end().lines().count(), 1, "one line: {text}");
    let n = text.trim_end().chars().count();
    assert!((15..=300).contains(&n), "{n} characters: {text}");
    assert!(!text.contains("panicked") && !text.contains("RUST_BACKTRACE"), "{text}");
    text
}

/// Whether nothing at all was left at `out`.
pub fn nothing_written(out: &Path) -> bool {
    !out.exists() || std::fs::read_dir(out).is_ok_and(|d| d.count() == 0)
}
