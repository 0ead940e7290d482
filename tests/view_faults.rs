//! What a view does with wild nodes, bent sheets, too little, and how long it takes.
#![allow(clippy::unwrap_used, clippy::print_stdout, clippy::print_stderr)]

use ruboff::grid::{Lattice, Node};
use ruboff::length::{Mm, Px};
use ruboff::proof::Proof;
use ruboff::sheet::SheetKind;
use ruboff::shot::Tags;
use ruboff::view::{FocalFrom, Kind, Lens, Model, Settings, Solved, View, ViewError, solve};

const SIZE: (usize, usize) = (4032, 3024);
const PITCH: f64 = 25.4;

/// Even numbers between -1 and 1 from whole ones, the same on every run.
fn luck(k: i64) -> f64 {
    let k = (k as u64).wrapping_mul(0x9E37_79B9_7F4A_7C15);
    let k = (k ^ (k >> 31)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
    (k ^ (k >> 29)) as f64 / u64::MAX as f64 * 2.0 - 1.0
}

fn camera(focal: f64, tilt: f64, up: f64) -> View {
    let lens = Lens { k1: 0.015, k2: -0.008, p1: 2e-4, p2: -3e-4, ..Lens::ideal(focal, Px::new(2021.0, 1504.0)) };
    let rotation = nalgebra::Rotation3::new(nalgebra::Vector3::new(tilt.to_radians(), 0.03, 0.1)).into_inner();
    View::known(Model::Pinhole { lens, rotation, translation: nalgebra::Vector3::new(4.0, -7.0, up) }, SIZE.0, SIZE.1)
}

/// Nodes seen by `view`, within 0.2 px, those of the middle hidden; `bend` moves the sheet's points, mm.
fn seen(view: &View, bend: impl Fn(Mm) -> Mm) -> Lattice {
    let mut nodes = Vec::new();
    for j in -30..=30 {
        for i in -30..=30 {
            let mm = Mm::new(f64::from(i) * PITCH, f64::from(j) * PITCH);
            let p = view.to_px(bend(mm), 0.0);
            let inside = p.is_finite() && p.x > 5.0 && p.y > 5.0 && p.x < 4026.0 && p.y < 3018.0;
            if inside && mm.x.hypot(mm.y * 1.3) > 180.0 {
                let k = i64::from(i * 100 + j);
                nodes.push(Node { at: Px::new(p.x + 0.2 * luck(3 * k), p.y + 0.2 * luck(3 * k + 1)), i, j, error: 0.12 });
            }
        }
    }
    Lattice { kind: SheetKind::Lines, pitch: [PITCH; 2], nodes, mark_half_width: 0.25, ..Lattice::default() }
}

fn tagged(focal: f64) -> Tags {
    Tags { focal_px: Some(focal), camera: true, ..Tags::default() }
}

fn run(lattice: &Lattice, tags: &Tags) -> Result<Solved, ViewError> {
    solve(lattice, SIZE, tags, &Settings::default(), &mut Proof::off())
}

/// Greatest distance of the two maps over the picture, mm, hidden parts too.
fn apart(a: &View, b: &View, height: f64) -> f64 {
    let mut most = 0.0f64;
    for y in (10..3020).step_by(200) {
        for x in (10..4030).step_by(200) {
            let p = Px::new(f64::from(x), f64::from(y));
            most = most.max(a.to_mm(p, height).unwrap().distance(b.to_mm(p, height).unwrap()));
        }
    }
    most
}

#[test]
fn wild_nodes_do_not_pull() {
    let truth = camera(3028.0, 12.0, 800.0);
    let mut lattice = seen(&truth, |p| p);
    for (k, n) in lattice.nodes.iter_mut().enumerate() {
        // One in eight is the next crossing, or anywhere.
        match k % 16 {
            3 => n.i += 1,
            11 => n.at = Px::new(n.at.x + 40.0 * luck(k as i64), n.at.y + 40.0 * luck(k as i64 + 7)),
            _ => (),
        }
    }
    let solved = run(&lattice, &tagged(3028.0)).unwrap();
    assert!(apart(&solved.view, &truth, 0.0) < 0.06, "{}", apart(&solved.view, &truth, 0.0));
    assert!(solved.outliers >= lattice.nodes.len() / 9);
    assert!(solved.held_out.unwrap().rms_px < 0.25);
}

#[test]
fn a_focal_length_the_sheet_contradicts_is_dropped() {
    let truth = camera(4200.0, 15.0, 900.0);
    let solved = run(&seen(&truth, |p| p), &tagged(3028.0)).unwrap();
    assert_eq!(solved.focal_from, Some(FocalFrom::Picture));
    assert!(apart(&solved.view, &truth, 3.0) < 0.1);
}

/// A long lens from straight above: the focal length cannot be seen. The assumed one stands, the map is right all the same,
/// and a doubt says so.
#[test]
fn what_cannot_be_seen_is_not_invented() {
    let truth = camera(15000.0, 0.0, 9000.0);
    let told = Settings { kind: Some(Kind::Photo), ..Settings::default() };
    let solved = solve(&seen(&truth, |p| p), SIZE, &Tags::default(), &told, &mut Proof::off()).unwrap();
    let Model::Pinhole { lens, .. } = solved.view.model else { panic!("told to be a photo") };
    println!("long lens: focal {:.0} ± {:.1} % from {:?}, {lens:?}", lens.focal, solved.focal_error * 100.0, solved.focal_from);
    assert!(apart(&solved.view, &truth, 0.0) < 0.1);
    assert!(lens.k1.abs() < 0.3 && lens.k2.abs() < 0.1, "{lens:?}");
}

#[test]
fn a_buckled_sheet_is_doubted_then_refused() {
    let truth = camera(3028.0, 12.0, 800.0);
    let bump = |size: f64| move |p: Mm| Mm::new(p.x + size * (-(p.distance(Mm::new(320.0, 180.0)) / 90.0).powi(2)).exp(), p.y);
    let doubtful = run(&seen(&truth, bump(2.5)), &tagged(3028.0)).unwrap();
    assert!((1.0..3.0).contains(&doubtful.field.most_mm), "{:?}", doubtful.field);
    assert!(doubtful.doubts.iter().any(|d| d.code() == "sheet-not-flat"));
    // Where nodes show it, it is followed, and errors are what nodes kept out were missed by; where none do, it may be anything.
    let bent = bump(2.5);
    let miss = |at: Mm| doubtful.view.to_mm(truth.to_px(bent(at), 0.0), 0.0).unwrap().distance(at);
    let error = |x: f64, y: f64| 1.96 * doubtful.view.error_at(Mm::new(x, y), 0.0).unwrap().trace().sqrt();
    let (there, away, hidden) = (error(320.0, 180.0), error(-330.0, -180.0), error(0.0, 0.0));
    println!("field {:.2}: errors {there:.2}, {away:.2}, {hidden:.2}", doubtful.field.most_mm);
    assert!(there < 0.3 && away < 0.3 && hidden > 0.5 * doubtful.field.most_mm);
    for at in [(320.0, 180.0), (270.0, 200.0), (350.0, 120.0), (-330.0, -180.0)].map(|(x, y)| Mm::new(x, y)) {
        assert!(miss(at) < 0.2 && miss(at) < error(at.x, at.y) + 0.03, "{at:?}: {} {}", miss(at), error(at.x, at.y));
    }
    // Waves of four squares are told by whole rows of nodes, and doubted as what is as large.
    let waves = |size: f64| move |p: Mm| Mm::new(p.x + size * (p.y / PITCH * std::f64::consts::FRAC_PI_2).sin(), p.y);
    let rough = run(&seen(&truth, waves(1.8)), &tagged(3028.0)).unwrap();
    assert!(rough.doubts.iter().any(|d| d.code() == "sheet-not-flat"), "{:?}", rough.field);
    assert!(matches!(run(&seen(&truth, waves(3.0)), &tagged(3028.0)), Err(ViewError::NotFlat { .. })));
    let flat = run(&seen(&truth, |p| p), &tagged(3028.0)).unwrap();
    assert!(flat.doubts.is_empty() && flat.field.most_mm < 0.1, "{:?}", flat.field);
    assert!(matches!(run(&seen(&truth, bump(8.0)), &tagged(3028.0)), Err(ViewError::NotFlat { .. })));
}

/// Waves of the paper that stand 1 to 4 mm up over a foot, drawn as heights above the table: the map follows them over the ground that is
/// seen, the lens stays the one that was told, and errors cover what is left. A picture of nodes that are out each for itself is not followed.
#[test]
fn long_waves_are_followed() {
    for (high, tilt) in [(1.0, 2.0), (2.0, 8.0), (4.0, 20.0)] {
        let truth = camera(3028.0, tilt, 800.0);
        let foot = truth.camera().unwrap();
        // A place that stands up is seen where the table is farther from the camera's foot.
        let bent = move |p: Mm| {
            let up = high * (0.5 + 0.5 * (p.x / 52.0).sin() * (p.y / 67.0).cos());
            Mm::new(p.x + (p.x - foot.x) * up / (-foot.z - up), p.y + (p.y - foot.y) * up / (-foot.z - up))
        };
        let lattice = seen(&truth, bent);
        let solved = run(&lattice, &tagged(3028.0)).unwrap();
        let Model::Pinhole { lens, .. } = solved.view.model else { panic!("told to be a photo") };
        let near = |at: &Mm| at.x.hypot(at.y * 1.3) > 180.0 && at.x.abs() < 400.0 && at.y.abs() < 280.0;
        let places = (-16..=16).flat_map(|x| (-12..=12).map(move |y| Mm::new(f64::from(x) * 25.0, f64::from(y) * 25.0)));
        let all: Vec<(f64, f64)> = places
            .filter(near)
            .map(|at| {
                let found = solved.view.to_mm(truth.to_px(bent(at), 0.0), 0.0).unwrap();
                (found.distance(at), 1.96 * solved.view.error_at(at, 0.0).unwrap().trace().sqrt())
            })
            .collect();
        let most = all.iter().map(|m| m.0).fold(0.0, f64::max);
        let held = all.iter().filter(|m| m.0 <= m.1 + 0.03).count() as f64 / all.len() as f64;
        println!("{high} mm at {tilt}°: most {most:.3} mm, held {held:.3}, focal {:.0}, out {:.2}", lens.focal, solved.field.most_mm);
        assert!(most < 0.15 && held > 0.95 && (lens.focal / 3028.0 - 1.0).abs() < 0.04, "{high} at {tilt}");
        assert!(solved.held_out.unwrap().rms_px < 0.3);
        assert_eq!(solved.doubts.iter().any(|d| d.code() == "sheet-not-flat"), solved.field.most_mm > 1.0);
    }
}

#[test]
fn too_little_is_refused_in_plain_words() {
    let lattice = seen(&camera(3028.0, 12.0, 800.0), |p| p);
    let part =
        |keep: &dyn Fn(&Node) -> bool| Lattice { nodes: lattice.nodes.iter().filter(|n| keep(n)).copied().collect(), ..lattice.clone() };
    let few = run(&part(&|n| n.i == 10 && n.j < 2), &tagged(3028.0)).unwrap_err();
    let none = run(&part(&|_| false), &tagged(3028.0)).unwrap_err();
    let line = run(&part(&|n| n.j == 9), &tagged(3028.0)).unwrap_err();
    for e in [few, none, line] {
        let words = e.to_string();
        assert!((15..250).contains(&words.len()) && !words.contains('\n'), "{words}");
    }
    let wild = Lattice {
        nodes: lattice
            .nodes
            .iter()
            .enumerate()
            .map(|(k, n)| Node { at: Px::new(2000.0 + 1900.0 * luck(k as i64), 1500.0 + 1400.0 * luck(-9 - k as i64)), ..*n })
            .collect(),
        ..lattice.clone()
    };
    assert!(run(&wild, &tagged(3028.0)).is_err());
}

proptest::proptest! {
    #![proptest_config(proptest::prelude::ProptestConfig::with_cases(60))]
    /// Whatever numbers come in, an answer or plain words come out.
    #[test]
    fn nothing_breaks_it(
        raw in proptest::collection::vec((-1e5..1e5f64, -1e5..1e5f64, -40..40i32, -40..40i32, 0usize..8), 0..60),
        pitch in proptest::sample::select(vec![0.0, -1.0, 1e-12, 10.0, 1e9, f64::NAN]),
        camera: bool,
    ) {
        let odd = |v: f64, k: usize| match k { 0 => f64::NAN, 1 => f64::INFINITY, 2 => 0.0, _ => v };
        let nodes = raw.iter().map(|&(x, y, i, j, k)| Node { at: Px::new(odd(x, k), y), i, j, error: odd(0.1, k) }).collect();
        let lattice = Lattice { nodes, pitch: [pitch, 10.0], ..seen(&camera_once(), |p| p) };
        let _ = run(&lattice, &Tags { camera, focal_px: Some(f64::NAN), ..Tags::default() }).map_err(|e| e.to_string());
    }
}

fn camera_once() -> View {
    camera(3028.0, 10.0, 6000.0)
}

/// A usual phone, hardly tilted, over a sheet a hundredth longer across than down: its tag is believed rather than a lens twice as long,
/// the map is right within a tenth of a millimetre, and what the other explanation would have made of it is in the doubt and the bound.
#[test]
fn an_oblong_sheet_is_not_another_lens() {
    let lens = Lens::ideal(3028.0, Px::new(2015.5, 1511.5));
    for (roll, share) in [(0.02, 0.01), (1.55, 0.01), (0.02, -0.006)] {
        let rotation = nalgebra::Rotation3::new(nalgebra::Vector3::new(4f64.to_radians(), 0.01, 0.0))
            * nalgebra::Rotation3::from_axis_angle(&nalgebra::Vector3::z_axis(), roll);
        let up = nalgebra::Vector3::new(4.0, -7.0, 800.0);
        let truth = View::known(Model::Pinhole { lens, rotation: rotation.into_inner(), translation: up }, SIZE.0, SIZE.1);
        let lattice = seen(&truth, |p| Mm::new(p.x * (1.0 + share / 2.0), p.y * (1.0 - share / 2.0)));
        let unmeasured = Settings { pitch_error: [0.002; 2], ..Settings::default() };
        let solved = solve(&lattice, SIZE, &tagged(3000.0), &unmeasured, &mut Proof::off()).unwrap();
        println!("{roll} {share}: {:.3} mm, pitch {:?}, {:?}", apart(&solved.view, &truth, 0.0), solved.pitch, solved.doubts);
        assert!(apart(&solved.view, &truth, 0.0) < 0.1);
        assert_eq!(solved.focal_from, Some(FocalFrom::Tag));
        assert!(solved.doubts.iter().any(|d| d.code() == "lens-or-sheet"));
        // A shape 200 mm across and down: half the share along either axis may be out.
        let points = [(-100.0, 0.0), (100.0, 0.0), (0.0, 100.0), (0.0, -100.0)].map(|(x, y)| Mm::new(x, y));
        let errors = solved.view.shape_errors(&points, 0.0, 0.0).unwrap();
        let bound = 2.0 * errors.view[1][(0, 0)].sqrt();
        assert!((0.8..1.5).contains(&(bound / (share.abs() / 2.0 * 100.0))), "{bound}");
        // Nobody told a lens: which of the two it is stays open, and both are told.
        let free = Settings { kind: Some(Kind::Photo), ..unmeasured };
        let open = solve(&lattice, SIZE, &Tags::default(), &free, &mut Proof::off()).unwrap();
        println!("    no tag: {:.3} mm, pitch {:?}, {:?}", apart(&open.view, &truth, 0.0), open.pitch, open.doubts);
        let errors = open.view.shape_errors(&points, 0.0, 0.0).unwrap();
        let out = [0, 2].map(|k| {
            let seen = open.view.to_mm(truth.to_px(points[k], 0.0), 0.0).unwrap();
            (seen - points[k]).norm() / (2.0 * errors.view[k].trace().sqrt())
        });
        assert!(out.iter().all(|o| *o < 1.3), "{out:?}");
        // A sheet that was measured is believed: then it is another lens.
        let measured = Settings { pitch_error: [0.0002; 2], ..Settings::default() };
        assert_eq!(solve(&lattice, SIZE, &tagged(3000.0), &measured, &mut Proof::off()).unwrap().pitch, None);
    }
    // Where the perspective tells the lens, a wrong tag does not stretch the sheet.
    let truth = camera(4200.0, 15.0, 900.0);
    let unmeasured = Settings { pitch_error: [0.002; 2], ..Settings::default() };
    let solved = solve(&seen(&truth, |p| p), SIZE, &tagged(3028.0), &unmeasured, &mut Proof::off()).unwrap();
    assert!(solved.pitch.is_none() && apart(&solved.view, &truth, 3.0) < 0.1, "{:?}", solved.doubts);
}
