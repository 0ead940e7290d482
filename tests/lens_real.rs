//! One lens from several real pictures, against the solutions others published for the same points and pictures.
#![allow(clippy::unwrap_used, clippy::print_stdout, clippy::print_stderr)]

mod truth;

use ruboff::grid::{self, Lattice, Node};
use ruboff::length::{Length, Mm, Px};
use ruboff::proof::Proof;
use ruboff::sheet::{SheetKind, SheetProfile};
use ruboff::shot::{Limits, Shot, Tags};
use ruboff::view::{Freedom, SolvedLens, View, solve_lens};
use std::path::{Path, PathBuf};

fn numbers(file: &Path) -> Vec<f64> {
    std::fs::read_to_string(file).unwrap().split_whitespace().map(|w| w.parse().unwrap()).collect()
}

fn show(name: &str, s: &SolvedLens) {
    println!("{name}: rms {:.5} px over {} nodes, kept out {:?}", s.rms_px, s.nodes, s.kept_out);
    println!("  {:?}", s.sensor);
    println!("  ± {:?}", s.errors());
    println!("  {:?}", s.views.iter().map(|v| (v.nodes, v.outliers, (v.rms_px * 1000.0).round())).collect::<Vec<_>>());
}

/// Zhang's calibration example (Z. Zhang, "A flexible new technique for camera calibration", 2000; points from the
/// repository imagingbook-calibrate, BSD-2-Clause): 256 points in each of five views, solved together with skew and
/// without decentring as he did.
#[test]
fn zhangs_five_views_together() {
    let Some(dir) = truth::data().map(|d| d.join("zhang")) else { return };
    let model = numbers(&dir.join("Model.txt"));
    let published = numbers(&dir.join("calibration-result-zhang-withdistortion.txt"));
    // Alpha, gamma, beta, u0, v0, k1, k2 in his file.
    let [alpha, gamma, beta, u0, v0, k1, k2] = std::array::from_fn(|k| published[k]);
    let lattices: Vec<Lattice> = (1..=5)
        .map(|view| {
            let seen = numbers(&dir.join(format!("data{view}.txt")));
            let node = |(m, p): (&[f64], &[f64])| {
                // Squares of 1/2 at a pitch of 8/9: whole addresses in eighteenths. y runs up in the file.
                let at = |k: usize| (m[k] * 18.0).round() as i32;
                Node { at: Px::new(p[0], p[1]), i: at(0), j: at(1), error: 0.25 }
            };
            let nodes = model.chunks_exact(2).zip(seen.chunks_exact(2)).map(node).collect();
            Lattice { kind: SheetKind::Checker, pitch: [1.0 / 18.0; 2], nodes, ..Lattice::default() }
        })
        .collect();
    let all: Vec<&Lattice> = lattices.iter().collect();
    let freedom = Freedom { square: false, skew: true, tangential: false, keep: f64::INFINITY };
    let solved = solve_lens(&all, (640, 480), &Tags { camera: true, ..Tags::default() }, freedom, &mut Proof::off()).unwrap();
    show("zhang", &solved);
    let s = solved.sensor;
    for (name, got, want) in [
        ("alpha", s.focal[0], alpha),
        ("beta", s.focal[1], beta),
        ("u0", s.centre.x, u0),
        ("v0", s.centre.y, v0),
        ("k1", s.radial[0], k1),
        ("k2", s.radial[1], k2),
    ] {
        assert!((got / want - 1.0).abs() < 1e-3, "{name}: {got}, published {want}");
    }
    assert!((s.skew - gamma).abs() < 5e-3, "gamma: {}, published {gamma}", s.skew);
    // The free least-squares fit of his seven numbers leaves 0.33643 px (recomputed with SciPy; his own numbers 0.336435).
    assert!((solved.rms_px - 0.33643).abs() < 1e-4, "{}", solved.rms_px);
    // Pictures kept out lie no more than a quarter further off.
    let kept = solved.kept_out.unwrap();
    assert_eq!(kept.pictures, 5);
    assert!(kept.rms_px < 1.25 * solved.rms_px, "{kept:?}");
}

fn lattice(file: &Path, sheet: &str, pitch: f64) -> Result<(Lattice, (usize, usize)), String> {
    let shot = Shot::open(file, &Limits::default()).unwrap();
    let sheet = SheetProfile::from_words(sheet, Some(Length::from_mm(pitch))).unwrap();
    let found = grid::find(&shot, &sheet, &grid::Settings::default(), &mut Proof::off()).map_err(|e| e.to_string())?;
    Ok((found, (shot.width, shot.height)))
}

/// OpenCV's sample checkerboards left01 to left14 (Apache-2.0; 9 × 6 inner corners, 25 mm). Recomputed with OpenCV 5.0.0
/// from corners refined in windows of 5: f 533 ± 2 px, 0.204 px left by k1 and k2, 0.195 px by five terms.
#[test]
fn opencvs_checkerboards_together() {
    let Some(dir) = truth::data().map(|d| d.join("opencv-left")) else { return };
    let found: Vec<Lattice> =
        (1..=14).filter(|k| *k != 10).map(|k| lattice(&dir.join(format!("left{k:02}.jpg")), "checker", 25.0).unwrap().0).collect();
    let all: Vec<&Lattice> = found.iter().collect();
    for (square, keep) in [(true, 4.0), (false, 4.0), (true, f64::INFINITY)] {
        let freedom = Freedom { square, keep, ..Freedom::default() };
        let solved = solve_lens(&all, (640, 480), &Tags { camera: true, ..Tags::default() }, freedom, &mut Proof::off()).unwrap();
        show("opencv", &solved);
        assert!(solved.rms_px <= 0.195 && solved.nodes > 680, "{} px over {} nodes", solved.rms_px, solved.nodes);
        assert!((solved.sensor.focal[0] - 533.0).abs() < 2.0, "{:?}", solved.sensor);
        assert!(solved.kept_out.unwrap().rms_px < 1.1 * 0.195, "{:?}", solved.kept_out);
    }
}

/// Every picture of a folder whose sheet is found.
fn all_of(dir: &Path, sheet: &str, pitch: f64) -> Vec<Lattice> {
    named(dir, sheet, pitch).into_iter().map(|f| f.1).collect()
}

/// The same with the pictures.
fn named(dir: &Path, sheet: &str, pitch: f64) -> Vec<(PathBuf, Lattice)> {
    let mut files: Vec<_> = std::fs::read_dir(dir).unwrap().map(|f| f.unwrap().path()).collect();
    files.sort();
    let found = |f: PathBuf| match lattice(&f, sheet, pitch) {
        Ok((lattice, _)) => Some((f, lattice)),
        Err(e) => {
            println!("{}: {e}", f.display());
            None
        }
    };
    files.into_iter().filter(|f| f.extension().is_some_and(|e| e == "jpg")).filter_map(found).collect()
}

/// Discs 25 mm apart on a clipboard by a compact camera (P. Abeles, BoofCV-Data, CC BY 4.0). Recomputed with OpenCV 5.0.0: rms
/// 0.501 px, fx 456.94, fy 454.30; the sheet is not quite flat, which is most of what is left.
#[test]
fn a_clipboard_of_discs() {
    let Some(dir) = truth::data().map(|d| d.join("boofcv-sony-circles")) else { return };
    let found = all_of(&dir, "dots", 25.0);
    let all: Vec<&Lattice> = found.iter().collect();
    let freedom = Freedom { square: false, ..Freedom::default() };
    let solved = solve_lens(&all, (640, 480), &Tags { camera: true, ..Tags::default() }, freedom, &mut Proof::off()).unwrap();
    show("discs", &solved);
    assert!(solved.rms_px <= 0.501 && solved.views.len() == 6 && solved.nodes > 440, "{} px", solved.rms_px);
    assert!(solved.kept_out.unwrap().rms_px < 1.1 * 0.501, "{:?}", solved.kept_out);
    let [fx, fy] = solved.sensor.focal;
    assert!((fx / 456.94 - 1.0).abs() < 0.005 && (fy / 454.30 - 1.0).abs() < 0.005, "{fx} {fy}");
}

/// Twelve separate squares 60 mm apart (30 mm squares, 30 mm gaps) by the same camera (P. Abeles, BoofCV-Data, CC BY 4.0), by
/// their centres. Published, with two radial terms: fx 703.08, fy 704.79, k1 -0.2491; recomputed with OpenCV 5.0.0 from their
/// corners: 703.41, 703.94, k1 -0.2600, 0.542 px.
#[test]
fn a_dozen_squares_a_picture() {
    let Some(dir) = truth::data().map(|d| d.join("boofcv-sony-square")) else { return };
    let found = all_of(&dir, "dots", 60.0);
    let all: Vec<&Lattice> = found.iter().collect();
    let solved = solve_lens(&all, (640, 480), &Tags { camera: true, ..Tags::default() }, Freedom::default(), &mut Proof::off()).unwrap();
    show("squares", &solved);
    assert!(solved.rms_px <= 0.3 && solved.views.len() >= 12 && solved.kept_out.unwrap().rms_px < 0.4, "{} px", solved.rms_px);
    assert!((solved.sensor.focal[0] / 703.9 - 1.0).abs() < 0.01 && (solved.sensor.radial[0] + 0.2545).abs() < 0.03, "{:?}", solved.sensor);
}

/// Light of the picture about a place of the sheet, blue, where wood is darkest against paper; `None` out of view.
fn light(shot: &Shot, view: &View, at: Mm) -> Option<f64> {
    let p = view.to_px(at, 0.0);
    let (x, y) = (p.x.floor(), p.y.floor());
    if !(x >= 0.0 && y >= 0.0 && x + 1.0 < shot.width as f64 && y + 1.0 < shot.height as f64) {
        return None;
    }
    let (u, v) = (p.x - x, p.y - y);
    let of = |dx: usize, dy: usize| f64::from(shot.rgb[((y as usize + dy) * shot.width + x as usize + dx) * 3 + 2]);
    Some((of(0, 0) * (1.0 - u) + of(1, 0) * u) * (1.0 - v) + (of(0, 1) * (1.0 - u) + of(1, 1) * u) * v)
}

/// The sheet's edge on one side of its squares as a line `a + b t`: along `axis`, outwards by `way`, mm.
fn edge(shot: &Shot, view: &View, lattice: &Lattice, axis: usize, way: f64) -> [f64; 2] {
    let places: Vec<[f64; 2]> = lattice.nodes.iter().map(|n| lattice.place(f64::from(n.i), f64::from(n.j))).map(|p| [p.x, p.y]).collect();
    let most = |k: usize, way: f64| places.iter().map(|p| way * p[k]).fold(f64::MIN, f64::max) * way;
    let (from, [low, high]) = (most(axis, way), [most(1 - axis, -1.0), most(1 - axis, 1.0)]);
    let at = |t: f64, out: f64| if axis == 0 { Mm::new(from + way * out, t) } else { Mm::new(t, from + way * out) };
    let mut seen: Vec<[f64; 2]> = Vec::new();
    for k in 0..=((high - low) / 5.0) as usize {
        let t = low + 5.0 * k as f64;
        // Beyond the square, the steepest fall of light over three millimetres.
        let fall = |out: f64| Some(light(shot, view, at(t, out - 1.5))? - light(shot, view, at(t, out + 1.5))?);
        let steps = (0..300).map(|k| 20.0 + 0.25 * f64::from(k)).filter_map(|out| Some((out, fall(out)?)));
        if let Some((out, _)) = steps.max_by(|a, b| a.1.total_cmp(&b.1)) {
            seen.push([t, from + way * out]);
        }
    }
    // A line through the middle of what pairs of places say (Theil 1950, Sen 1968).
    let middle = |mut v: Vec<f64>| {
        v.sort_by(f64::total_cmp);
        v[v.len() / 2]
    };
    let pairs = seen.iter().flat_map(|p| seen.iter().filter(move |q| q[0] - p[0] > 20.0).map(move |q| (q[1] - p[1]) / (q[0] - p[0])));
    let slope = middle(pairs.collect());
    [middle(seen.iter().map(|p| p[1] - slope * p[0]).collect()), slope]
}

/// Lengths of the sheet the dozen squares are printed on: US Letter, 279.4 by 215.9 mm (the data's README: the source names no format,
/// the ratio of the sides fits no other; recomputed with OpenCV over these nine pictures 279.9 and 217.4, sd 0.3 and 0.2). One picture's
/// may be out by 4 mm, the means by 1.5 and 2.5.
#[test]
fn the_squares_tell_the_sheets_own_size() {
    let Some(dir) = truth::data().map(|d| d.join("boofcv-sony-square")) else { return };
    let found = named(&dir, "dots", 60.0);
    let all: Vec<&Lattice> = found.iter().map(|f| &f.1).collect();
    let solved = solve_lens(&all, (640, 480), &Tags { camera: true, ..Tags::default() }, Freedom::default(), &mut Proof::off()).unwrap();
    let mut sizes = Vec::new();
    for ((file, lattice), seen) in found.iter().zip(&solved.views) {
        let name = file.file_stem().unwrap().to_string_lossy().into_owned();
        if !["01", "02", "03", "08", "09", "11", "12", "13", "14"].iter().any(|n| name.ends_with(n)) {
            continue;
        }
        let shot = Shot::open(file, &Limits::default()).unwrap();
        let [left, right, top, bottom] =
            [(0, -1.0), (0, 1.0), (1, -1.0), (1, 1.0)].map(|(axis, way)| edge(&shot, &seen.view, lattice, axis, way));
        // x = a + b y meets y = c + d x.
        let corner = |[a, b]: [f64; 2], [c, d]: [f64; 2]| {
            let x = (a + b * c) / (1.0 - b * d);
            Mm::new(x, c + d * x)
        };
        let [p, q, r, s] = [corner(left, top), corner(right, top), corner(right, bottom), corner(left, bottom)];
        let sides = [0.5 * (p.distance(q) + s.distance(r)), 0.5 * (p.distance(s) + q.distance(r))];
        println!("{name}: {:.1} x {:.1} mm", sides[0].max(sides[1]), sides[0].min(sides[1]));
        sizes.push([sides[0].max(sides[1]), sides[0].min(sides[1])]);
    }
    let mean = [0, 1].map(|k| sizes.iter().map(|s| s[k]).sum::<f64>() / sizes.len() as f64);
    println!("{} sheets, {:.2} x {:.2} mm in the mean", sizes.len(), mean[0], mean[1]);
    assert!(sizes.len() >= 8 && (mean[0] - 279.4).abs() < 1.5 && (mean[1] - 215.9).abs() < 2.5, "{mean:?}");
    assert!(sizes.iter().all(|s| (s[0] - 279.4).abs() < 4.0 && (s[1] - 215.9).abs() < 4.0), "{sizes:?}");
}
