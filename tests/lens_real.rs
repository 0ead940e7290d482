//! One lens from several real pictures, against the solutions others published for the same points and pictures.
#![allow(clippy::unwrap_used, clippy::print_stdout, clippy::print_stderr)]

mod truth;

use ruboff::grid::{self, Lattice, Node};
use ruboff::length::{Length, Px};
use ruboff::proof::Proof;
use ruboff::sheet::{SheetKind, SheetProfile};
use ruboff::shot::{Limits, Shot, Tags};
use ruboff::view::{Freedom, SolvedLens, solve_lens};
use std::path::Path;

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
    let mut files: Vec<_> = std::fs::read_dir(dir).unwrap().map(|f| f.unwrap().path()).collect();
    files.sort();
    let pictures = files.iter().filter(|f| f.extension().is_some_and(|e| e == "jpg"));
    pictures.filter_map(|f| lattice(f, sheet, pitch).map_err(|e| println!("{}: {e}", f.display())).ok()).map(|l| l.0).collect()
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
