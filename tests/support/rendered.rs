//! Rendered pictures with exact truth: where they are, their camera, their paths. Nothing here imports the seam finder.

use kurbo::{BezPath, ParamCurve, ParamCurveArclen, Shape};
use nalgebra::{Matrix3, Vector2, Vector3};
use ruboff::length::{Mm, Px};
use ruboff::seam::Marks;
use ruboff::sheet::SheetKind;
use ruboff::shot::Shot;
use ruboff::view::{Lens, Model, View};
use serde_json::Value;
use std::path::PathBuf;

/// The folder of rendered pictures, when there is one.
pub fn folder() -> Option<PathBuf> {
    let dir = match std::env::var_os("RUBOFF_PRACTICE") {
        Some(dir) => PathBuf::from(dir),
        None => PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("../shared/practice/pictures"),
    };
    dir.is_dir().then_some(dir)
}

/// One rendered picture and what is true of it.
pub struct Scene {
    pub truth: Value,
    pub shot: Shot,
    pub view: View,
    pub marks: Marks,
}

fn number(v: &Value) -> f64 {
    v.as_f64().expect("a number in the truth file")
}

fn numbers(v: &Value) -> Vec<f64> {
    v.as_array().expect("a list in the truth file").iter().map(number).collect()
}

impl Scene {
    /// Reads `NAME`; `None` when the folder or the picture is not there.
    pub fn load(name: &str) -> Option<Self> {
        let dir = folder()?;
        let text = std::fs::read_to_string(dir.join(format!("{name}.truth.json"))).ok()?;
        let truth: Value = serde_json::from_str(&text).expect("a truth file");
        let shot = picture(&dir.join(truth["file"].as_str().expect("file")));
        let view = View::known(model(&truth["camera"]), shot.width, shot.height);
        let sheet = &truth["sheet"];
        let kind = match sheet["kind"].as_str().expect("kind") {
            "dots" => SheetKind::Dots,
            "crosses" => SheetKind::Crosses,
            "checker" => SheetKind::Checker,
            "mat" => SheetKind::Mat,
            _ => SheetKind::Lines,
        };
        let phase = numbers(&sheet["phase"]);
        let pitch = number(&sheet["pitch"]);
        let marks = Marks {
            code: None,
            kind,
            pitch: [pitch; 2],
            lay: ruboff::sheet::SheetLay::default(),
            origin: Mm::new(phase[0], phase[1]),
            half_width: number(&sheet["width"]) / 2.0,
            arm: 3.0,
            weights: Default::default(),
        };
        Some(Self { truth, shot, view, marks })
    }

    /// Height of a piece's visible edge, mm.
    pub fn height(&self, piece: usize) -> f64 {
        number(&self.truth["pieces"][piece]["h"])
    }

    /// The true outline of what can be seen of a piece.
    pub fn silhouette(&self, piece: usize) -> BezPath {
        let piece = &self.truth["pieces"][piece];
        BezPath::from_svg(piece["silhouette"].as_str().expect("a path")).expect("path data")
    }

    /// The true stitch line of a piece and the allowance around it, where it has one.
    pub fn stitches(&self, piece: usize) -> Option<(BezPath, f64)> {
        let piece = &self.truth["pieces"][piece];
        Some((BezPath::from_svg(piece["seam"].as_str()?).expect("path data"), number(&piece["allowance"])))
    }

    /// The true seams within a piece and their ends as told, in px.
    pub fn inner(&self, piece: usize) -> Vec<(BezPath, [Px; 2])> {
        let lines = self.truth["pieces"][piece]["inner_seams"].as_array().expect("a list");
        let ends = self.truth["known"]["inner_seam_ends_px"].as_array().expect("a list");
        let path = |v: &Value| BezPath::from_svg(v.as_str().expect("a path")).expect("path data");
        let pair = |v: &Value| [0, 1].map(|k| numbers(&v[k])).map(|p| Px::new(p[0], p[1]));
        lines.iter().map(path).zip(ends.iter().map(pair)).collect()
    }

    pub fn corners(&self, piece: usize) -> Vec<Mm> {
        let list = self.truth["pieces"][piece]["corners"].as_array().expect("corners");
        list.iter().map(numbers).map(|c| Mm::new(c[0], c[1])).collect()
    }

    pub fn pieces(&self) -> usize {
        self.truth["pieces"].as_array().map_or(0, Vec::len)
    }
}

fn model(camera: &Value) -> Model {
    if camera["kind"] == "flatbed" {
        let dpmm = number(&camera["dpi"]) / 25.4;
        let (e, c, size) = (numbers(&camera["scale_error"]), numbers(&camera["centre"]), numbers(&camera["size"]));
        let (s, k) = number(&camera["skew_deg"]).to_radians().sin_cos();
        let (fx, fy) = (dpmm * (1.0 + e[0]), dpmm * (1.0 + e[1]));
        // Turned about the sheet point seen at the picture's centre, then scaled per axis.
        let (a, b, d, g) = (fx * k, fx * s, -fy * s, fy * k);
        let (mx, my) = ((size[0] - 1.0) / 2.0, (size[1] - 1.0) / 2.0);
        return Model::Scan { matrix: [a, b, d, g, mx - a * c[0] - b * c[1], my - d * c[0] - g * c[1]] };
    }
    let r: Vec<f64> = camera["R"].as_array().expect("R").iter().flat_map(numbers).collect();
    let rotation = Matrix3::from_row_slice(&r);
    let centre = Vector3::from_vec(numbers(&camera["C"]));
    let k = numbers(&camera["k1k2p1p2"]);
    let lens = Lens {
        focal: number(&camera["f_px"]),
        centre: Px::new(number(&camera["cx"]), number(&camera["cy"])),
        k1: k[0],
        k2: k[1],
        p1: k[2],
        p2: k[3],
    };
    Model::Pinhole { lens, rotation, translation: -(rotation * centre) }
}

/// The picture, upright.
pub fn picture(file: &std::path::Path) -> Shot {
    use image::ImageDecoder;
    let reader = image::ImageReader::open(file).expect("the picture opens").with_guessed_format().expect("a known format");
    let mut decoder = reader.into_decoder().expect("a decoder");
    let turn = decoder.orientation().expect("orientation");
    let mut picture = image::DynamicImage::from_decoder(decoder).expect("decodes");
    picture.apply_orientation(turn);
    let rgb = picture.into_rgb8();
    Shot::from_rgb(rgb.width() as usize, rgb.height() as usize, rgb.into_raw())
}

/// Points about every `step` mm along a closed path, without its first point again.
pub fn points(path: &BezPath, step: f64) -> Vec<Mm> {
    let mut out = Vec::new();
    for s in path.segments() {
        let n = (s.arclen(1e-3) / step).ceil().max(1.0) as usize;
        out.extend((0..n).map(|k| s.eval(k as f64 / n as f64)).map(|p| Mm::new(p.x, p.y)));
    }
    if path.area() < 0.0 {
        out.reverse();
    }
    out
}

/// A rough polygon as a coarse segmentation would give it: corners rounded, up to `wrong` mm off in slow waves,
/// whole pixels.
pub fn rough(view: &View, truth: &[Mm], height: f64, wrong: f64, seed: f64) -> Vec<Px> {
    let n = truth.len();
    let reach = n.min(40) as isize / 2;
    let smooth: Vec<Mm> = (0..n as isize)
        .map(|k| {
            let sum = (-reach..=reach).fold(Vector2::zeros(), |s, d| s + truth[(k + d).rem_euclid(n as isize) as usize].vector());
            Mm::from(sum / (2 * reach + 1) as f64)
        })
        .collect();
    let mut s = 0.0;
    (0..n)
        .map(|k| {
            let t = smooth[(k + 5) % n] - smooth[(k + n - 5) % n];
            let normal = Vector2::new(t.y, -t.x).normalize();
            s += smooth[k].distance(smooth[(k + 1) % n]);
            let off = wrong * 0.5 * ((s / 17.0 + seed).sin() + (s / 41.0 + 2.0 * seed).sin());
            let p = view.to_px(smooth[k] + normal * off, height);
            Px::new((p.x / 2.0).round() * 2.0, (p.y / 2.0).round() * 2.0)
        })
        .collect()
}

/// Signed distances of found points from a densely sampled closed truth, positive outside (the truth runs clockwise).
pub fn signed(truth: &[Mm], found: &[Mm]) -> Vec<f64> {
    let n = truth.len();
    let (mut near, mut out) = (0usize, Vec::with_capacity(found.len()));
    for (k, p) in found.iter().enumerate() {
        let window: Vec<usize> =
            if k == 0 { (0..n).collect() } else { (0..400.min(n)).map(|d| (near + n - 200.min(n / 2) + d) % n).collect() };
        near = window.into_iter().min_by(|a, b| truth[*a].distance(*p).total_cmp(&truth[*b].distance(*p))).unwrap_or(0);
        let best = [(near + n - 1) % n, near]
            .map(|a| {
                let (a, b) = (truth[a], truth[(a + 1) % n]);
                let (leg, off) = (b - a, *p - a);
                let t = (off.dot(&leg) / leg.norm_squared().max(1e-12)).clamp(0.0, 1.0);
                let away = off - leg * t;
                let side = leg.perp(&off);
                // Clockwise as seen with y down: the inside has a positive perp.
                if side > 0.0 { -away.norm() } else { away.norm() }
            })
            .into_iter()
            .min_by(|a, b| a.abs().total_cmp(&b.abs()))
            .unwrap_or(f64::NAN);
        out.push(best);
    }
    out
}
