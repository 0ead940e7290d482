//! Sheets marked by dots, crosses and checker squares: nodes against the true camera of rendered pictures, and against
//! published pictures of calibration targets.

use nalgebra::{Matrix3, Vector2, Vector3};
use ruboff::grid::{Candidate, checker, crosses, dots};
use ruboff::length::Px;
use ruboff::shot::{Gray, Shot};
use serde_json::Value;
use std::path::{Path, PathBuf};

type Refine = fn(&Shot, Px, [Vector2<f64>; 2]) -> Option<(Px, f64)>;
type Candidates = fn(&Gray) -> Vec<Candidate>;

fn folder(variable: &str, beside: &str) -> Option<PathBuf> {
    let path =
        std::env::var_os(variable).map_or_else(|| Path::new(env!("CARGO_MANIFEST_DIR")).join("../shared").join(beside), PathBuf::from);
    if path.is_dir() {
        Some(path)
    } else {
        println!("skipped: no {}", path.display());
        None
    }
}

fn open(file: &Path) -> Shot {
    let rgb = image::open(file).expect("a picture").to_rgb8();
    Shot::from_rgb(rgb.width() as usize, rgb.height() as usize, rgb.into_raw())
}

/// The truth beside a rendered picture: its camera, read here without any of the crate's own projection.
struct Truth {
    shot: Shot,
    camera: Value,
    pitch: f64,
    phase: [f64; 2],
    size: [f64; 2],
    pieces: Vec<kurbo::BezPath>,
}

impl Truth {
    fn load(name: &str) -> Option<Self> {
        let dir = folder("RUBOFF_PRACTICE", "practice/pictures")?;
        let text = std::fs::read_to_string(dir.join(format!("{name}.truth.json"))).expect("a truth file");
        let truth: Value = serde_json::from_str(&text).expect("JSON");
        let sheet = &truth["sheet"];
        let pieces = truth["pieces"].as_array().expect("pieces");
        let pieces = pieces.iter().map(|p| kurbo::BezPath::from_svg(p["target"].as_str().expect("a path")).expect("SVG path data"));
        Some(Self {
            shot: open(&dir.join(truth["file"].as_str().expect("a name"))),
            camera: truth["camera"].clone(),
            pitch: number(&sheet["pitch"]),
            phase: [number(&sheet["phase"][0]), number(&sheet["phase"][1])],
            size: [number(&sheet["size"][0]), number(&sheet["size"][1])],
            pieces: pieces.collect(),
        })
    }

    /// Brown (1966) camera of the truth file.
    fn project(&self, x: f64, y: f64) -> Px {
        let c = &self.camera;
        let r = Matrix3::from_fn(|i, j| number(&c["R"][i][j]));
        let centre = Vector3::from_fn(|i, _| number(&c["C"][i]));
        let p = r * (Vector3::new(x, y, 0.0) - centre);
        let (x, y) = (p.x / p.z, p.y / p.z);
        let k: Vec<f64> = (0..4).map(|i| number(&c["k1k2p1p2"][i])).collect();
        let r2 = x * x + y * y;
        let d = 1.0 + k[0] * r2 + k[1] * r2 * r2;
        let xd = x * d + 2.0 * k[2] * x * y + k[3] * (r2 + 2.0 * x * x);
        let yd = y * d + k[2] * (r2 + 2.0 * y * y) + 2.0 * k[3] * x * y;
        Px::new(number(&c["f_px"]) * xd + number(&c["cx"]), number(&c["f_px"]) * yd + number(&c["cy"]))
    }

    /// Nodes in view: place, steps to the next node, and whether well clear of every piece.
    fn nodes(&self) -> Vec<(Px, [Vector2<f64>; 2], bool)> {
        let mut nodes = Vec::new();
        for j in 0..=((self.size[1] - self.phase[1]) / self.pitch) as usize {
            for i in 0..=((self.size[0] - self.phase[0]) / self.pitch) as usize {
                let (x, y) = (self.phase[0] + i as f64 * self.pitch, self.phase[1] + j as f64 * self.pitch);
                let p = self.project(x, y);
                let (w, h) = (self.shot.width as f64, self.shot.height as f64);
                if p.x < 15.0 || p.y < 15.0 || p.x > w - 15.0 || p.y > h - 15.0 {
                    continue;
                }
                let frame = [self.project(x + self.pitch, y) - p, self.project(x, y + self.pitch) - p];
                // 22 mm: an allowance beyond the line given, and the shadow beside it.
                let clear = |b: &kurbo::BezPath| {
                    use kurbo::{ParamCurveNearest, Shape};
                    let at = kurbo::Point::new(x, y);
                    b.winding(at) == 0 && b.segments().all(|s| s.nearest(at, 0.1).distance_sq > 22.0 * 22.0)
                };
                nodes.push((p, frame, self.pieces.iter().all(clear)));
            }
        }
        nodes
    }
}

fn number(v: &Value) -> f64 {
    v.as_f64().expect("a number")
}

/// What measuring every node of a picture gave.
#[derive(Debug)]
struct Score {
    clear: usize,
    found: usize,
    hidden_found: usize,
    false_found: usize,
    rms: f64,
    bias: Vector2<f64>,
    worst: f64,
    /// rms of miss over stated error, per coordinate.
    honesty: f64,
}

fn score(truth: &Truth, refine: Refine) -> Score {
    let mut s = Score { clear: 0, found: 0, hidden_found: 0, false_found: 0, rms: 0.0, bias: Vector2::zeros(), worst: 0.0, honesty: 0.0 };
    let mut n = 0.0;
    for (k, (at, frame, clear)) in truth.nodes().into_iter().enumerate() {
        let off = Vector2::new(((k * 7) % 13) as f64 / 4.0 - 1.5, ((k * 5) % 11) as f64 / 10.0 * 3.0 - 1.5);
        let found = refine(&truth.shot, at + off, frame);
        s.clear += usize::from(clear);
        let Some((p, error)) = found else { continue };
        let miss = p - at;
        if clear {
            s.found += 1;
        } else {
            s.hidden_found += 1;
        }
        if miss.norm() > 1.0 {
            s.false_found += 1;
            continue;
        }
        s.rms += miss.norm_squared();
        s.bias += miss;
        s.worst = s.worst.max(miss.norm());
        s.honesty += miss.norm_squared() / (2.0 * error * error);
        n += 1.0;
    }
    s.rms = (s.rms / n).sqrt();
    s.bias /= n;
    s.honesty = (s.honesty / n).sqrt();
    s
}

/// Share of clear nodes with a candidate within 1.5 px of the level, and the number of candidates.
fn coverage(truth: &Truth, candidates: Candidates, factor: usize) -> (f64, usize) {
    let gray = truth.shot.gray(factor);
    let before = std::time::Instant::now();
    let found = candidates(&gray);
    println!("  candidates in {:?}", before.elapsed());
    let clear: Vec<_> = truth.nodes().into_iter().filter(|n| n.2).collect();
    let hit = clear.iter().filter(|n| found.iter().any(|c| c.at.distance(n.0) < 1.5 * factor as f64)).count();
    (hit as f64 / clear.len() as f64, found.len())
}

#[test]
fn rendered_sheets_against_their_cameras() {
    let cases: [(&str, Refine, Candidates); 5] = [
        ("A53_dots_two_pieces", dots::refine, dots::candidates),
        ("B52_band_raglan_dots", dots::refine, dots::candidates),
        ("A54_crosses_raglan", crosses::refine, crosses::candidates),
        ("C52_panel_seams", crosses::refine, crosses::candidates),
        ("A55_checker_gore", checker::refine, checker::candidates),
    ];
    for (name, refine, candidates) in cases {
        let Some(truth) = Truth::load(name) else { return };
        let (share, count) = coverage(&truth, candidates, 2);
        let before = std::time::Instant::now();
        let s = score(&truth, refine);
        println!("{name}: refine {:?}, candidates cover {share:.3} with {count}; {s:.4?}", before.elapsed());
    }
}
