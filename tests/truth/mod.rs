//! Truth of the rendered pictures, read with a camera of its own: X_cam = R (X − C), Brown's lens (1966).
#![allow(dead_code, clippy::unwrap_used, clippy::print_stderr)]

pub mod judge;

use kurbo::{BezPath, ParamCurve, ParamCurveArclen, Shape};
use serde_json::Value;
use std::path::{Path, PathBuf};

/// A picture with known truth.
pub struct Truth {
    pub name: String,
    pub file: PathBuf,
    pub size: (usize, usize),
    pub camera: Camera,
    pub f35: Option<f64>,
    pub kind: String,
    pub pitch: f64,
    pub sheet: [f64; 2],
    pub phase: [f64; 2],
    pub pieces: Vec<(BezPath, f64)>,
}

pub enum Camera {
    Phone { f: f64, c: [f64; 2], k: [f64; 4], r: [[f64; 3]; 3], at: [f64; 3] },
    Flatbed { px_per_mm: [f64; 2], skew: f64, centre: [f64; 2], middle: [f64; 2] },
}

/// The folder of rendered pictures, or `None` (with a word) when they are not here.
pub fn pictures() -> Option<PathBuf> {
    let dir = std::env::var_os("RUBOFF_PRACTICE")
        .map_or_else(|| Path::new(env!("CARGO_MANIFEST_DIR")).join("../shared/practice/pictures"), PathBuf::from);
    if !dir.is_dir() {
        eprintln!("skipped: no rendered pictures at {}", dir.display());
        return None;
    }
    Some(dir)
}

/// The folder of real data, or `None` (with a word) when it is not here.
pub fn data() -> Option<PathBuf> {
    let dir = std::env::var_os("RUBOFF_DATA").map_or_else(|| Path::new(env!("CARGO_MANIFEST_DIR")).join("../shared/data"), PathBuf::from);
    if !dir.is_dir() {
        eprintln!("skipped: no real data at {}", dir.display());
        return None;
    }
    Some(dir)
}

/// All pictures whose name begins with one of `tiers`, by name.
pub fn all(dir: &Path, tiers: &[char]) -> Vec<Truth> {
    let mut files: Vec<PathBuf> = std::fs::read_dir(dir).unwrap().map(|f| f.unwrap().path()).collect();
    files.sort();
    let wanted = |f: &&PathBuf| {
        let name = f.file_name().unwrap().to_string_lossy().into_owned();
        name.ends_with(".truth.json") && tiers.contains(&name.chars().next().unwrap())
    };
    files.iter().filter(wanted).map(|f| Truth::read(f)).collect()
}

fn num<const N: usize>(v: &Value) -> [f64; N] {
    std::array::from_fn(|k| v[k].as_f64().unwrap())
}

impl Truth {
    pub fn read(file: &Path) -> Self {
        let t: Value = serde_json::from_slice(&std::fs::read(file).unwrap()).unwrap();
        let c = &t["camera"];
        let [w, h] = num::<2>(&t["upright_px"]);
        let camera = if c["kind"] == "flatbed" {
            let (ppm, [ex, ey]) = (c["dpi"].as_f64().unwrap() / 25.4, num(&c["scale_error"]));
            Camera::Flatbed {
                px_per_mm: [ppm * (1.0 + ex), ppm * (1.0 + ey)],
                skew: c["skew_deg"].as_f64().unwrap().to_radians(),
                centre: num(&c["centre"]),
                middle: [(w - 1.0) / 2.0, (h - 1.0) / 2.0],
            }
        } else {
            Camera::Phone {
                f: c["f_px"].as_f64().unwrap(),
                c: [c["cx"].as_f64().unwrap(), c["cy"].as_f64().unwrap()],
                k: num(&c["k1k2p1p2"]),
                r: std::array::from_fn(|k| num(&c["R"][k])),
                at: num(&c["C"]),
            }
        };
        let piece = |p: &Value| (BezPath::from_svg(p["silhouette"].as_str().unwrap()).unwrap(), p["h"].as_f64().unwrap());
        Self {
            name: t["name"].as_str().unwrap().into(),
            file: file.with_file_name(t["file"].as_str().unwrap()),
            size: (w as usize, h as usize),
            camera,
            f35: c["f35"].as_f64(),
            kind: t["sheet"]["kind"].as_str().unwrap().into(),
            pitch: t["sheet"]["pitch"].as_f64().unwrap(),
            sheet: num(&t["sheet"]["size"]),
            phase: num(&t["sheet"]["phase"]),
            pieces: t["pieces"].as_array().unwrap().iter().map(piece).collect(),
        }
    }

    /// Where a sheet point `h` above the sheet is seen.
    pub fn see(&self, mm: [f64; 2], h: f64) -> [f64; 2] {
        match &self.camera {
            Camera::Phone { f, c, k: [k1, k2, p1, p2], r, at } => {
                let d = [mm[0] - at[0], mm[1] - at[1], -h - at[2]];
                let v = r.map(|row| row[0] * d[0] + row[1] * d[1] + row[2] * d[2]);
                let (x, y) = (v[0] / v[2], v[1] / v[2]);
                let r2 = x * x + y * y;
                let g = 1.0 + k1 * r2 + k2 * r2 * r2;
                let u = x * g + 2.0 * p1 * x * y + p2 * (r2 + 2.0 * x * x);
                let w = y * g + p1 * (r2 + 2.0 * y * y) + 2.0 * p2 * x * y;
                [f * u + c[0], f * w + c[1]]
            }
            Camera::Flatbed { px_per_mm, skew, centre, middle } => {
                let (s, c) = skew.sin_cos();
                let (x, y) = (mm[0] - centre[0], mm[1] - centre[1]);
                [(c * x + s * y) * px_per_mm[0] + middle[0], (c * y - s * x) * px_per_mm[1] + middle[1]]
            }
        }
    }

    pub fn in_picture(&self, p: [f64; 2], margin: f64) -> bool {
        p[0] >= margin && p[1] >= margin && p[0] <= self.size.0 as f64 - 1.0 - margin && p[1] <= self.size.1 as f64 - 1.0 - margin
    }

    /// Every node of the sheet inside the picture: address, mm, whether a garment (with `border` mm around it) hides it.
    pub fn nodes(&self, border: f64) -> Vec<([i32; 2], [f64; 2], bool)> {
        let outlines: Vec<Vec<kurbo::Point>> = self.pieces.iter().map(|p| outline(&p.0, 4.0)).collect();
        let mut all = Vec::new();
        for j in 0..10_000 {
            for i in 0..10_000 {
                let mm = [self.phase[0] + f64::from(i) * self.pitch, self.phase[1] + f64::from(j) * self.pitch];
                if mm[0] > self.sheet[0] - 1.0 {
                    break;
                }
                if self.in_picture(self.see(mm, 0.0), 6.0) {
                    let p = kurbo::Point::new(mm[0], mm[1]);
                    let hidden =
                        self.pieces.iter().any(|(path, _)| path.contains(p)) || outlines.iter().flatten().any(|q| q.distance(p) < border);
                    all.push(([i, j], mm, hidden));
                }
            }
            if self.phase[1] + f64::from(j + 1) * self.pitch > self.sheet[1] - 1.0 {
                break;
            }
        }
        all
    }

    /// Focal length in px as a camera's 35 mm equivalent gives it.
    pub fn tagged_focal(&self) -> Option<f64> {
        let (w, h) = (self.size.0 as f64, self.size.1 as f64);
        self.f35.map(|f| f * w.hypot(h) / 24f64.hypot(36.0))
    }
}

/// Points along a path about `step` mm apart.
pub fn outline(path: &BezPath, step: f64) -> Vec<kurbo::Point> {
    path.segments()
        .flat_map(|s| {
            let n = (s.arclen(0.01) / step).ceil().max(1.0) as usize;
            (0..n).map(move |k| s.eval(k as f64 / n as f64)).collect::<Vec<_>>()
        })
        .collect()
}

/// Numbers between 0 and 1 (Knuth's 64-bit linear congruence), and normal deviates of them (Box & Muller 1958).
pub struct Luck(pub u64);

impl Luck {
    pub fn even(&mut self) -> f64 {
        self.0 = self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (self.0 >> 11) as f64 / (1u64 << 53) as f64
    }

    pub fn normal(&mut self) -> f64 {
        let (a, b) = (self.even().max(1e-300), self.even());
        (-2.0 * a.ln()).sqrt() * (std::f64::consts::TAU * b).cos()
    }
}
