//! Views from points other people measured in real pictures.
#![allow(clippy::unwrap_used, clippy::print_stdout, clippy::print_stderr)]

mod truth;

use ruboff::grid::{Lattice, Node};
use ruboff::length::{Mm, Px};
use ruboff::proof::Proof;
use ruboff::sheet::SheetKind;
use ruboff::shot::Tags;
use ruboff::view::{Model, Settings, solve};
use std::path::Path;

fn numbers(file: &Path) -> Vec<f64> {
    std::fs::read_to_string(file).unwrap().split_whitespace().map(|w| w.parse().unwrap()).collect()
}

/// Zhang's calibration example (2000; repository imagingbook-calibrate, BSD-2-Clause): each of the five views solved by
/// itself is reprojected no worse than with the parameters he published for all five.
#[test]
fn zhangs_views_one_by_one() {
    let Some(dir) = truth::data().map(|d| d.join("zhang")) else { return };
    let model = numbers(&dir.join("Model.txt"));
    let published = numbers(&dir.join("calibration-result-zhang-withdistortion.txt"));
    let (mut ours, mut theirs, mut count) = (0.0, 0.0, 0.0);
    for view in 0..5 {
        let seen = numbers(&dir.join(format!("data{}.txt", view + 1)));
        let pose = &published[7 + 12 * view..][..12];
        let (mut nodes, mut sum) = (Vec::new(), 0.0);
        for (m, p) in model.chunks_exact(2).zip(seen.chunks_exact(2)) {
            let v: Vec<f64> = (0..3).map(|k| pose[3 * k] * m[0] + pose[3 * k + 1] * m[1] + pose[9 + k]).collect();
            let (x, y) = (v[0] / v[2], v[1] / v[2]);
            let r2 = x * x + y * y;
            let d = 1.0 + published[5] * r2 + published[6] * r2 * r2;
            let u = published[0] * x * d + published[1] * y * d + published[3];
            let w = published[2] * y * d + published[4];
            sum += (u - p[0]).powi(2) + (w - p[1]).powi(2);
            // Squares of 1/2 at a pitch of 8/9: whole addresses in eighteenths. y runs up in the file.
            let at = |k: usize| (m[k] * 18.0).round() as i32;
            nodes.push(Node { at: Px::new(p[0], p[1]), i: at(0), j: at(1), error: 0.25 });
        }
        let n = nodes.len() as f64;
        let lattice = Lattice { kind: SheetKind::Checker, pitch: [1.0 / 18.0; 2], nodes, mark_half_width: 0.0, ..Lattice::default() };
        let solved =
            solve(&lattice, (640, 480), &Tags { camera: true, ..Tags::default() }, &Settings::default(), &mut Proof::off()).unwrap();
        let rms = (sum / n).sqrt();
        let Model::Pinhole { lens, .. } = solved.view.model else { panic!("tagged as a photo") };
        println!(
            "view {}: rms {:.4} px, published {rms:.4}, {} left out, {lens:?} ±{:.1}%",
            view + 1,
            solved.rms_px,
            solved.outliers,
            solved.focal_error * 100.0
        );
        assert!(solved.rms_px <= rms && solved.outliers <= 3);
        (ours, theirs, count) = (ours + solved.rms_px.powi(2) * n, theirs + sum, count + n);
    }
    println!("all: rms {:.4}, published {:.6}", (ours / count).sqrt(), (theirs / count).sqrt());
    // The published numbers as they stand leave 0.336435 px.
    assert!(((theirs / count).sqrt() - 0.336435).abs() < 1e-4);
}

/// Garments on floor tiles (clothing dataset by A. Grigorev and contributors, CC0; crossings by a homography fitted to the
/// joints): a handful of visible crossings, no tags; the crossings under the garment are predicted within 3 px.
#[test]
fn crossings_under_garments_on_tiles() {
    let Some(dir) = truth::data().map(|d| d.join("garments-on-tiles")) else { return };
    let all: serde_json::Value = serde_json::from_slice(&std::fs::read(dir.join("expected.json")).unwrap()).unwrap();
    for (name, picture) in all.as_object().unwrap() {
        let crossings: Vec<[f64; 5]> = picture["crossings_i_j_x_y_hidden"]
            .as_array()
            .unwrap()
            .iter()
            .map(|c| std::array::from_fn(|k| c[k].as_f64().unwrap()))
            .collect();
        // A tile counts as 330 mm here; the source does not say.
        let node = |c: &[f64; 5]| Node { at: Px::new(c[2], c[3]), i: c[0] as i32, j: c[1] as i32, error: 0.3 };
        let nodes: Vec<Node> = crossings.iter().filter(|c| c[4] == 0.0).map(node).collect();
        let seen = nodes.len();
        let lattice = Lattice { kind: SheetKind::Lines, pitch: [330.0; 2], nodes, mark_half_width: 1.0, ..Lattice::default() };
        let tags = Tags { camera: true, ..Tags::default() };
        let solved = match solve(&lattice, (400, 533), &tags, &Settings::default(), &mut Proof::off()) {
            Ok(s) => s,
            Err(e) => {
                println!("{name}: {seen} visible: {e}");
                assert!(seen < 6, "{name}: {e}");
                continue;
            }
        };
        let off = |c: &[f64; 5]| solved.view.to_px(Mm::new(c[0] * 330.0, c[1] * 330.0), 0.0).distance(Px::new(c[2], c[3]));
        let most = |hidden: f64| crossings.iter().filter(|c| c[4] == hidden).map(off).fold(0.0, f64::max);
        let Model::Pinhole { lens, .. } = solved.view.model else { panic!("tagged as a photo") };
        println!(
            "{name}: {seen} visible {:.2} px, {} hidden {:.2} px, focal {:.0} ±{:.0} %, tilt {:.1}°, k1 {:.3}",
            most(0.0),
            crossings.len() - seen,
            most(1.0),
            lens.focal,
            solved.focal_error * 100.0,
            solved.view.tilt_deg(),
            lens.k1
        );
        assert!(most(0.0) < 1.5 && most(1.0) < 3.0, "{name}");
        // One focal length fits all eight: 515 px.
        assert!((350.0..760.0).contains(&lens.focal), "{name}: {}", lens.focal);
    }
}
