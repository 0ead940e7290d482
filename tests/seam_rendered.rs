//! The rim against rendered pictures whose outlines are known exactly.
#![allow(clippy::print_stderr)]

#[allow(dead_code)]
#[path = "support/rendered.rs"]
mod rendered;

use rendered::{Scene, points, rough, signed};
use ruboff::length::{Mm, Px};
use ruboff::path::SeamPath;
use ruboff::proof::Proof;
use ruboff::seam::{Settings, between, elsewhere, rim, stitch_line, through};

fn follow(scene: &Scene, piece: usize) -> (SeamPath, Vec<Mm>) {
    let height = scene.height(piece);
    let truth = points(&scene.silhouette(piece), 0.25);
    let start = rough(&scene.view, &truth, height, 2.0, 0.3 + piece as f64);
    let path = rim(&scene.shot, &scene.view, &scene.marks, &start, height, &Settings::default(), &mut Proof::off()).expect("a rim");
    (path, truth)
}

/// Signed distances from the truth, sorted, farther than 3 mm from every corner (edges are crossed there later).
fn errors(name: &str) -> Option<Vec<f64>> {
    let Some(scene) = Scene::load(name) else {
        eprintln!("skipped: no rendered picture {name}");
        return None;
    };
    let mut all = Vec::new();
    for piece in 0..scene.pieces() {
        let (path, truth) = follow(&scene, piece);
        let at: Vec<Mm> = path.points.iter().map(|p| p.at).collect();
        let corners = scene.corners(piece);
        let off = signed(&truth, &at);
        all.extend(at.iter().zip(off).filter(|(p, _)| corners.iter().all(|c| c.distance(**p) > 3.0)).map(|(_, d)| d));
    }
    all.sort_by(f64::total_cmp);
    Some(all)
}

/// 95 % within `p95`, all within `most`, bias within `bias`, mm.
fn check(name: &str, p95: f64, most: f64, bias: f64) {
    let Some(off) = errors(name) else { return };
    let mut size: Vec<f64> = off.iter().map(|d| d.abs()).collect();
    size.sort_by(f64::total_cmp);
    let mean = off.iter().sum::<f64>() / off.len() as f64;
    let (at95, max) = (size[size.len() * 95 / 100], size[size.len() - 1]);
    assert!(at95 < p95 && max < most && mean.abs() < bias, "{name}: bias {mean:.3}, 95 % within {at95:.3}, worst {max:.3}");
}

#[test]
fn plain_cloth_on_lines() {
    check("A51_lines_vest", 0.1, 0.3, 0.03);
}

#[test]
fn a_hard_shadow_is_not_cloth() {
    check("A59_black_hard_shadow", 0.1, 0.3, 0.03);
}

#[test]
fn a_scan() {
    check("E51_shield_pocket", 0.1, 0.3, 0.03);
    check("E52_cuff_scaled", 0.1, 0.3, 0.03);
}

#[test]
fn white_on_white_and_gingham() {
    check("A58_white_on_white", 0.4, 1.2, 0.1);
    check("A57_check_near_pitch", 0.4, 1.2, 0.1);
}

/// A rim that was led astray by 5 mm over 60 mm comes back to the cloth's edge by one place given on it, in the whole stretch; but for a
/// pinstripe beside the edge, which is taken for it over some millimetres at one of the places: a second place would settle it.
#[test]
fn one_place_brings_a_lost_rim_back() {
    for (name, most) in
        [("A51_lines_vest", 0.2f64), ("A57_check_near_pitch", 1.2), ("A59_black_hard_shadow", 0.2), ("A63_pinstripe_orientation_8", 2.5)]
    {
        let Some(scene) = Scene::load(name) else { return eprintln!("skipped: no rendered picture {name}") };
        let (path, truth) = follow(&scene, 0);
        let (height, n) = (scene.height(0), path.points.len());
        for place in (0..8).map(|k| k * n / 8) {
            let middle = path.points[place].at;
            // A line led astray round a corner needs a place on either side of it.
            let corners = scene.corners(0);
            if corners.iter().any(|c| c.distance(middle) < 35.0) {
                continue;
            }
            for away in [5.0, -5.0] {
                let mut lost = path.clone();
                for p in &mut lost.points {
                    let share = (std::f64::consts::PI * (p.at.distance(middle) / 30.0).min(1.0)).cos() * 0.5 + 0.5;
                    p.at = p.at + p.normal * (away * share);
                }
                let given = truth.iter().copied().min_by(|a, b| a.distance(middle).total_cmp(&b.distance(middle))).expect("a place");
                let settings = Settings { through: vec![scene.view.to_px(given, height)], ..Settings::default() };
                let found = through(&scene.shot, &scene.view, &scene.marks, lost, height, &settings, &mut Proof::off());
                let worst = |path: &SeamPath| {
                    let all: Vec<Mm> = path.points.iter().map(|p| p.at).collect();
                    let off = signed(&truth, &all);
                    let near = all.iter().zip(off).filter(|(p, _)| p.distance(middle) < 45.0);
                    let far = near.filter(|(p, _)| corners.iter().all(|c| c.distance(**p) > 4.0));
                    far.map(|(p, d)| (d.abs(), *p)).max_by(|a, b| a.0.total_cmp(&b.0)).expect("points")
                };
                let (as_found, worst) = (worst(&path).0, worst(&found));
                assert!(
                    worst.0 < most.max(as_found + 0.1),
                    "{name}, place {place}, away {away}: {:.2} mm out at {:.0}, {:.0}",
                    worst.0,
                    worst.1.x,
                    worst.1.y
                );
            }
        }
    }
}

/// 95 % of the line's points, 3 mm from corners and ends, within `p95` of the truth.
fn near(path: &SeamPath, truth: &[Mm], corners: &[Mm], p95: f64) {
    let away = |p: &Mm| truth.iter().map(|t| t.distance(*p)).fold(f64::INFINITY, f64::min);
    let mut off: Vec<f64> = path.points.iter().filter(|p| corners.iter().all(|c| c.distance(p.at) > 3.0)).map(|p| away(&p.at)).collect();
    off.sort_by(f64::total_cmp);
    let at95 = off[off.len() * 95 / 100];
    assert!(at95 < p95, "95 % within {at95:.3}");
}

#[test]
fn stitch_lines_inside_their_allowance() {
    for name in ["B51_band_vest", "B52_band_raglan_dots"] {
        let Some(scene) = Scene::load(name) else { return eprintln!("skipped: no rendered picture {name}") };
        let (edge, _) = follow(&scene, 0);
        let (line, allowance) = scene.stitches(0).expect("a stitch line");
        let settings = Settings::default();
        let path = stitch_line(&scene.shot, &scene.view, &edge, allowance, scene.height(0), &settings, &mut Proof::off()).expect("a line");
        near(&path, &points(&line, 0.1), &scene.corners(0), 0.35);
    }
}

/// Told an allowance that is half or twice what it is, the stitch line is seen where it is; told right, nowhere else is asked.
#[test]
fn a_stitch_line_at_another_allowance_is_seen_there() {
    let name = "B51_band_vest";
    let Some(scene) = Scene::load(name) else { return eprintln!("skipped: no rendered picture {name}") };
    let (edge, _) = follow(&scene, 0);
    let (drawn, allowance) = scene.stitches(0).expect("a stitch line");
    // Makers are out by a millimetre: it is drawn so far inside the rim, most of it.
    let far = |at: &Mm| edge.points.iter().map(|p| p.at.distance(*at)).fold(f64::INFINITY, f64::min);
    let mut inside: Vec<f64> = points(&drawn, 0.1).iter().step_by(40).map(far).collect();
    inside.sort_by(f64::total_cmp);
    let truth = inside[inside.len() / 2];
    let (settings, height) = (Settings::default(), scene.height(0));
    let seen = |told: f64| {
        let line = stitch_line(&scene.shot, &scene.view, &edge, told, height, &settings, &mut Proof::off()).expect("a line");
        elsewhere(&scene.shot, &scene.view, &edge, &line, height, &settings, &mut Proof::off())
    };
    assert_eq!(seen(allowance), None);
    for told in [0.5 * allowance, 2.0 * allowance] {
        let found = seen(told).expect("seen elsewhere");
        assert!((found - truth).abs() < 0.3, "{found} for {truth}, told {told}");
    }
}

#[test]
fn seams_within_the_piece_from_two_rough_ends() {
    for name in ["C51_armholes", "C52_panel_seams"] {
        let Some(scene) = Scene::load(name) else { return eprintln!("skipped: no rendered picture {name}") };
        for (line, ends) in scene.inner(0) {
            let ends: [Px; 2] = ends;
            let path =
                between(&scene.shot, &scene.view, &ends, scene.height(0), &[], &Settings::default(), &mut Proof::off()).expect("a seam");
            let truth = points(&line, 0.1);
            near(&path, &truth, &[truth[0], truth[truth.len() - 1]], 0.4);
        }
    }
}
