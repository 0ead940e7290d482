//! Sheets marked by dots, crosses and checker squares: nodes against the true camera of rendered pictures, and against
//! published pictures of calibration targets.

#![allow(missing_docs, clippy::print_stdout)]

use nalgebra::{Matrix3, Vector2, Vector3};
use ruboff::grid::{self, Candidate, checker, crosses, dots};
use ruboff::length::{Length, Px};
use ruboff::proof::Proof;
use ruboff::sheet::SheetProfile;
use ruboff::shot::{Gray, Shot};
use serde_json::Value;
use std::path::{Path, PathBuf};

type Refine = fn(&Shot, Px, [Vector2<f64>; 2]) -> Option<(Px, f64)>;
type Candidates = fn(&Gray) -> Vec<Candidate>;

/// A folder below the one that `variable` names; without it below `shared/`, beside the project.
fn folder(variable: &str, shared: &str, name: &str) -> Option<PathBuf> {
    let beside = || Path::new(env!("CARGO_MANIFEST_DIR")).join("../shared").join(shared);
    let path = std::env::var_os(variable).map_or_else(beside, PathBuf::from).join(name);
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
        let dir = folder("RUBOFF_PRACTICE", "practice/pictures", "")?;
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

/// Rendered 12 MP pictures: every node clear of the garment is found from a prediction up to 2 px off, none is off by a pixel,
/// places are right to the given rms (both coordinates together), even, and honest about their error.
#[test]
fn rendered_sheets_against_their_cameras() {
    let cases: [(&str, f64, Refine, Candidates); 5] = [
        ("A53_dots_two_pieces", 0.055, dots::refine, dots::candidates),
        ("B52_band_raglan_dots", 0.055, dots::refine, dots::candidates),
        ("A54_crosses_raglan", 0.03, crosses::refine, crosses::candidates),
        ("C52_panel_seams", 0.04, crosses::refine, crosses::candidates),
        ("A55_checker_gore", 0.03, checker::refine, checker::candidates),
    ];
    for (name, rms, refine, candidates) in cases {
        let Some(truth) = Truth::load(name) else { return };
        let (share, count) = coverage(&truth, candidates, 2);
        let before = std::time::Instant::now();
        let s = score(&truth, refine);
        println!("{name}: refine {:?}, candidates cover {share:.3} with {count}; {s:.4?}", before.elapsed());
        assert!(share > 0.99 && count <= 20_000, "{name}: {share} {count}");
        assert!(s.found as f64 >= 0.99 * s.clear as f64, "{name}: {s:?}");
        assert!(s.false_found * 500 <= s.found, "{name}: {s:?}");
        assert!(s.rms < rms && s.bias.amax() < 0.005, "{name}: {s:?}");
        assert!(s.honesty > 0.5 && s.honesty < 1.3, "{name}: {s:?}");
    }
}

/// A picture of light given as a function of place (linear, 0 to 1), sRGB encoded: each pixel is a mean over two pixels' width,
/// weighted like a tent, the least blur that a lens and a colour filter leave (common practice, no source).
fn draw(width: usize, height: usize, light: impl Fn(f64, f64) -> f64) -> Shot {
    const FINE: usize = 12;
    let offset = |k: usize| 2.0 * (k as f64 + 0.5) / FINE as f64 - 1.0;
    let total: f64 = (0..FINE).map(|k| 1.0 - offset(k).abs()).sum();
    let mut rgb = Vec::with_capacity(width * height * 3);
    for y in 0..height {
        for x in 0..width {
            let weighted = |k: usize| {
                let (dx, dy) = (offset(k % FINE), offset(k / FINE));
                (1.0 - dx.abs()) * (1.0 - dy.abs()) * light(x as f64 + dx, y as f64 + dy)
            };
            let l = (0..FINE * FINE).map(weighted).sum::<f64>() / (total * total);
            // IEC 61966-2-1, encoding.
            let encoded = if l <= 0.0031308 { 12.92 * l } else { 1.055 * l.powf(1.0 / 2.4) - 0.055 };
            rgb.extend([(encoded * 255.0).round() as u8; 3]);
        }
    }
    Shot::from_rgb(width, height, rgb)
}

/// Paper that grows darker to the right, as in a soft shadow.
fn paper(x: f64, y: f64) -> f64 {
    0.7 - 0.003 * x - 0.001 * y
}

const STEPS: [Vector2<f64>; 2] = [Vector2::new(60.0, 5.0), Vector2::new(-4.0, 58.0)];

#[test]
fn drawn_dots_of_all_sizes_in_a_slope_of_light() {
    for (k, radius) in [1.0, 1.6, 2.4, 3.5, 5.0, 7.0, 11.0, 16.0].into_iter().enumerate() {
        for ink in [0.05, 0.6] {
            // Room for the coarsest size looked at.
            let size = if radius < 10.0 { 81 } else { 161 };
            let c = Px::new((size / 2) as f64 + 0.13 * k as f64, (size / 2) as f64 + 1.37 - 0.09 * k as f64);
            let shot = draw(size, size, |x, y| {
                let inside = ((x - c.x) / 1.1).hypot(y - c.y) < radius;
                paper(x, y) * if inside { ink } else { 1.0 }
            });
            let (p, error) =
                dots::refine(&shot, Px::new(c.x + 1.3, c.y - 1.4), STEPS).unwrap_or_else(|| panic!("radius {radius} ink {ink}"));
            assert!(p.distance(c) < 0.04, "radius {radius} ink {ink}: {p:?} {c:?}");
            assert!(error < 0.12, "radius {radius} ink {ink}: {error}");
            let spots = dots::candidates(&shot.gray(1));
            assert!(spots.iter().any(|s| s.at.distance(c) < 0.2 * radius.max(3.0)), "radius {radius} ink {ink}: {spots:?}");
        }
    }
}

/// Two bars of half length 15 and width `w` along `STEPS`.
fn bars(x: f64, y: f64, c: Px, w: f64, length: f64) -> bool {
    STEPS.iter().any(|s| {
        let (along, d) = (s.normalize(), Vector2::new(x - c.x, y - c.y));
        d.dot(&along).abs() < length && (d.x * along.y - d.y * along.x).abs() < 0.5 * w
    })
}

#[test]
fn drawn_crosses_and_what_only_looks_like_one() {
    for (k, width) in [1.0, 1.7, 3.0].into_iter().enumerate() {
        let c = Px::new(40.2 + 0.21 * k as f64, 39.7 + 0.17 * k as f64);
        let cross = draw(81, 81, |x, y| paper(x, y) * if bars(x, y, c, width, 15.0) { 0.2 } else { 1.0 });
        let (p, error) = crosses::refine(&cross, Px::new(c.x + 1.3, c.y - 1.4), STEPS).expect("a cross");
        assert!(p.distance(c) < 0.03 && error < 0.1, "width {width}: {p:?} {c:?} {error}");
        let seen = crosses::candidates(&cross.gray(1));
        let axes = seen.first().and_then(|c| c.axes).expect("a cross has arms");
        assert!(seen[0].at.distance(c) < 0.7);
        for s in STEPS {
            assert!(axes.iter().any(|a| a.dot(&s.normalize()).abs() > 0.99), "{axes:?}");
        }
        assert!(dots::refine(&cross, c, STEPS).is_none(), "a cross is not a dot");
        // Lines that run on to the next node are a ruling, not crosses.
        let lines = draw(81, 81, |x, y| paper(x, y) * if bars(x, y, c, width, 1e3) { 0.2 } else { 1.0 });
        assert!(crosses::refine(&lines, c, STEPS).is_none() && dots::refine(&lines, c, STEPS).is_none());
        // Cloth over one arm.
        let covered =
            draw(81, 81, |x, y| if x > c.x + 6.0 { 0.1 } else { paper(x, y) * if bars(x, y, c, width, 15.0) { 0.2 } else { 1.0 } });
        assert!(crosses::refine(&covered, c, STEPS).is_none());
        let dot = draw(81, 81, |x, y| if (x - c.x).hypot(y - c.y) < 4.0 { 0.1 } else { paper(x, y) });
        assert!(crosses::refine(&dot, c, STEPS).is_none() && crosses::candidates(&dot.gray(1)).is_empty());
    }
}

#[test]
fn drawn_checker_corners_of_both_states() {
    let back = nalgebra::Matrix2::from_columns(&STEPS).try_inverse().expect("two directions");
    for (k, turn) in [1.0, -1.0].into_iter().enumerate() {
        let c = Px::new(40.31 - 0.4 * k as f64, 39.77 + 0.3 * k as f64);
        let square = |x: f64, y: f64| {
            let d = back * Vector2::new(x - c.x, y - c.y);
            turn * d.x * d.y > 0.0
        };
        let shot = draw(81, 81, |x, y| paper(x, y) * if square(x, y) { 0.1 } else { 1.0 });
        let (p, error) = checker::refine(&shot, Px::new(c.x - 1.5, c.y + 1.5), STEPS).expect("a corner");
        assert!(p.distance(c) < 0.02 && error < 0.06, "{p:?} {c:?} {error}");
        let seen = checker::candidates(&shot.gray(1));
        let first = seen.first().expect("a corner");
        assert!(seen.len() == 1 && first.at.distance(c) < 0.5 && first.state == turn as i8, "{seen:?}");
        let axes = first.axes.expect("two edges");
        assert!(axes[0].dot(&STEPS[0].normalize()) > 0.99 && axes[1].dot(&STEPS[1].normalize()) > 0.99, "{axes:?}");
        // Cloth covering all but a quarter, and a plain edge: nothing to measure.
        let covered = draw(81, 81, |x, y| if x > c.x - 2.0 || y > c.y - 2.0 { 0.3 } else { paper(x, y) });
        assert!(checker::refine(&covered, c, STEPS).is_none());
        let edge = draw(81, 81, |x, y| if x > c.x { 0.1 } else { paper(x, y) });
        assert!(checker::refine(&edge, c, STEPS).is_none() && checker::candidates(&edge.gray(1)).is_empty());
    }
}

/// On a board lying at 45 degrees, seen a little from the side, no neighbours share a state.
#[test]
fn states_alternate_at_any_angle() {
    for degrees in [0.0f64, 20.0, 44.0, 45.5, 70.0] {
        let (s, c) = degrees.to_radians().sin_cos();
        let h = Matrix3::new(24.0 * c, -24.0 * s, 100.0, 24.0 * s, 24.0 * c, 100.0, 0.004, 0.01, 1.0);
        let back = h.try_inverse().expect("a homography");
        let shot = draw(201, 201, |x, y| {
            let v = back * Vector3::new(x, y, 1.0);
            let even = (v.x / v.z).floor() as i32 + (v.y / v.z).floor() as i32;
            if even.rem_euclid(2) == 0 { 0.1 } else { 0.7 }
        });
        let found = checker::candidates(&shot.gray(1));
        let mut states = [[0; 2]; 2];
        for c in &found {
            let v = back * Vector3::new(c.at.x, c.at.y, 1.0);
            let (i, j) = ((v.x / v.z).round(), (v.y / v.z).round());
            assert!((v.x / v.z - i).abs() < 0.05 && (v.y / v.z - j).abs() < 0.05);
            states[((i + j) as i32).rem_euclid(2) as usize][usize::from(c.state > 0)] += 1;
        }
        assert!(found.len() > 40 && (0..2).all(|k| states[k].contains(&0)), "{degrees}: {states:?}");
    }
}

/// Consumer camera, 10 × 8 discs of 15 mm, 25 mm apart (P. Abeles, BoofCV-Data, `Sony_DSC-HX5V_CircleRegular`, CC BY 4.0): every disc
/// in view is found, told the kind or not. With the lens as recomputed from the six pictures (OpenCV 5.0.0: fx 456.94 fy 454.30
/// cx 318.35 cy 238.67, hardly any distortion; rms 0.501 px, plane residual 0.25 to 0.47 mm) they lie on a plane
/// within 0.5 mm, and their diameter, published 15 mm, comes out within 0.4 mm.
#[test]
fn large_discs_of_a_calibration_target() {
    let Some(dir) = folder("RUBOFF_DATA", "data", "boofcv-sony-circles") else { return };
    let mut diameters = Vec::new();
    for k in 0..6 {
        let shot = open(&dir.join(format!("image{k:05}.jpg")));
        let find = |kind: &str| {
            let sheet = SheetProfile::from_words(kind, Some(Length::from_mm(25.0))).expect("a kind");
            grid::find(&shot, &sheet, &grid::Settings::default(), &mut Proof::off())
        };
        let (lattice, auto) = (find("dots").expect("discs"), find("auto").expect("discs"));
        assert_eq!(auto.nodes, lattice.nodes, "picture {k}: {:?}", auto.kind);
        let at: Vec<_> = lattice.nodes.iter().map(|n| Vector2::new((n.at.x - 318.35) / 456.94, (n.at.y - 238.67) / 454.30)).collect();
        let mm: Vec<_> = lattice.nodes.iter().map(|n| Vector2::new(f64::from(n.i), f64::from(n.j)) * 25.0).collect();
        let back = ruboff::solve::homography(&at, &mm).expect("a plane");
        let off = |(p, q): (&Vector2<f64>, &Vector2<f64>)| (ruboff::solve::project(&back, *p).expect("in view") - q).norm_squared();
        let rms = (at.iter().zip(&mm).map(off).sum::<f64>() / at.len() as f64).sqrt();
        println!("picture {k}: {} discs, plane residual {rms:.3} mm, kept out {:.3} px", at.len(), lattice.kept_out.rms_px);
        assert!(lattice.nodes.len() >= 76, "picture {k}: {} of 80", lattice.nodes.len());
        assert!(rms <= 0.5, "picture {k}: {rms} mm");
        let place = |i: i32, j: i32| lattice.nodes.iter().find(|n| (n.i, n.j) == (i, j)).map(|n| n.at);
        for n in &lattice.nodes {
            let (Some(r), Some(l), Some(d), Some(u)) = (place(n.i + 1, n.j), place(n.i - 1, n.j), place(n.i, n.j + 1), place(n.i, n.j - 1))
            else {
                continue;
            };
            let frame = [(r - l) * 0.5, (d - u) * 0.5];
            let dot = dots::measure(&shot, n.at, frame).expect("measured before");
            diameters.push(2.0 * 25.0 * dot.radius / nalgebra::Matrix2::from_columns(&frame).determinant().abs().sqrt());
        }
    }
    let mean = diameters.iter().sum::<f64>() / diameters.len() as f64;
    println!("{} discs, mean diameter {mean:.2} mm", diameters.len());
    assert!((mean - 15.0).abs() < 0.4, "{mean}");
}

/// The centre of a seen disc is the centroid of its outline's polygon, however it is seen (Heikkilä 2000, where the offset is derived).
#[test]
fn a_disc_in_perspective_is_off_centre() {
    let h = Matrix3::new(900.0, 40.0, 300.0, -30.0, 700.0, 200.0, 0.05, 0.6, 1.0);
    let (at, radius) = (Vector2::new(0.3, 0.4), 0.12);
    let n = 20_000;
    let outline: Vec<Vector2<f64>> = (0..n)
        .map(|k| {
            let a = std::f64::consts::TAU * k as f64 / n as f64;
            let v = h * Vector3::new(at.x + radius * a.cos(), at.y + radius * a.sin(), 1.0);
            Vector2::new(v.x / v.z, v.y / v.z)
        })
        .collect();
    let (mut area, mut centre) = (0.0, Vector2::zeros());
    for k in 0..n {
        let (p, q) = (outline[k], outline[(k + 1) % n]);
        let cross = p.x * q.y - q.x * p.y;
        area += cross;
        centre += (p + q) * cross;
    }
    centre /= 3.0 * area;
    let v = h * Vector3::new(at.x, at.y, 1.0);
    let want = centre - Vector2::new(v.x / v.z, v.y / v.z);
    let got = dots::off_centre(&h, at, radius).expect("in front of the camera");
    assert!(want.norm() > 0.5 && (got - want).norm() < 1e-3, "{got:?} {want:?}");
}
