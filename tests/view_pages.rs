//! Coded sheets put together from pages that lie out of place: found, told, and corrected page by page.

// Figures are shown when a test fails or with --nocapture.
#![allow(clippy::print_stdout)]

use nalgebra::{Rotation2, Rotation3, Vector2, Vector3};
use ruboff::grid::{Lattice, Node};
use ruboff::length::{Length, Mm, Px};
use ruboff::proof::Proof;
use ruboff::sheet::{PageLaid, PagesLaid, SheetCode, SheetKind, SheetLay, SheetPages};
use ruboff::shot::Tags;
use ruboff::view::{Lens, Model, Settings, Solved, View, solve};
use std::collections::BTreeMap;

const SIZE: (usize, usize) = (4032, 3024);
const PITCH: f64 = 25.0;

/// Even numbers between -1 and 1, the same on every run.
struct Luck(u64);

impl Luck {
    fn next(&mut self) -> f64 {
        self.0 = self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        let k = (self.0 ^ (self.0 >> 33)).wrapping_mul(0xFF51_AFD7_ED55_8CCD);
        (k ^ (k >> 29)) as f64 / u64::MAX as f64 * 2.0 - 1.0
    }

    /// A normal deviate, near enough: twelve even ones.
    fn normal(&mut self) -> f64 {
        (0..12).map(|_| self.next()).sum::<f64>() / 2.0
    }
}

/// A phone about 1.2 m above the middle of a sheet of 900 by 1200 mm, 3 px to the mm.
fn camera(tilt: f64, turn: f64) -> View {
    let lens = Lens { k1: 0.015, k2: -0.008, p1: 2e-4, p2: -3e-4, ..Lens::ideal(3028.0, Px::new(2021.0, 1504.0)) };
    let rotation = Rotation3::from_euler_angles(tilt.to_radians(), 0.05, turn.to_radians()).into_inner();
    let middle = rotation * Vector3::new(450.0, 600.0, 0.0);
    View::known(Model::Pinhole { lens, rotation, translation: Vector3::new(0.0, 0.0, 1050.0) - middle }, SIZE.0, SIZE.1)
}

/// Nodes of a sheet of 36 by 48 squares as seen, an ellipse in the middle hidden.
fn seen(view: &View, lay: impl Fn(Mm) -> Mm, noise: f64, luck: &mut Luck) -> Lattice {
    let mut nodes = Vec::new();
    for j in 0..=48 {
        for i in 0..=36 {
            let ruled = Mm::new(f64::from(i) * PITCH, f64::from(j) * PITCH);
            let p = view.to_px(lay(ruled), 0.0);
            let inside = p.x > 5.0 && p.y > 5.0 && p.x < 4026.0 && p.y < 3018.0;
            if inside && ((ruled.x - 450.0) / 200.0).hypot((ruled.y - 600.0) / 260.0) > 1.0 {
                nodes.push(Node { at: Px::new(p.x + noise * luck.normal(), p.y + noise * luck.normal()), i, j, error: noise });
            }
        }
    }
    let code = SheetCode::new(7, Length::from_mm(PITCH));
    Lattice { kind: SheetKind::Coded, code, pitch: [PITCH; 2], nodes, mark_half_width: 0.2, ..Lattice::default() }
}

fn run(lattice: &Lattice) -> Solved {
    let tags = Tags { focal_px: Some(3028.0), camera: true, ..Tags::default() };
    solve(lattice, SIZE, &tags, &Settings::default(), &mut Proof::off()).expect("a view")
}

/// Pages of a paper as it lies, moved by up to `most` mm each way and turned so that their borders stray by a third of that.
fn out_of_place(paper: [f64; 2], most: f64, luck: &mut Luck) -> SheetLay {
    let pages = SheetPages::on(paper, PITCH).expect("pages");
    let [columns, rows] = pages.size([36, 48]);
    let middle = |axis: usize, page: usize| {
        let lines = pages.axes[axis].lines(page, if axis == 0 { 37 } else { 49 });
        (lines.start + lines.end - 1) as f64 * PITCH / 2.0
    };
    let laid = (0..columns * rows).map(|n| {
        let page = [n % columns, n / columns];
        PageLaid {
            page,
            middle: Mm::new(middle(0, page[0]), middle(1, page[1])),
            moved: Vector2::new(most * luck.next(), most * luck.next()),
            turned: most * luck.next() / 300.0,
        }
    });
    SheetLay { lean: 0.0, pages: Some(PagesLaid { pages, pitch: [PITCH; 2], stretched: [0.0; 2], laid: laid.collect() }) }
}

/// 95 % of these pairs of places lie within so much of each other, once they are laid on each other as well as it goes without scaling, mm; and
/// the scale of the first over the second less 1.
fn apart(pairs: &[(Mm, Mm)]) -> (f64, f64) {
    let n = pairs.len() as f64;
    let (p0, q0) = pairs.iter().fold((Vector2::zeros(), Vector2::zeros()), |s, p| (s.0 + p.0.vector() / n, s.1 + p.1.vector() / n));
    let (mut dot, mut cross, mut own) = (0.0, 0.0, 0.0);
    for (p, q) in pairs {
        let (u, v) = (p.vector() - p0, q.vector() - q0);
        dot += u.dot(&v);
        cross += u.perp(&v);
        own += v.norm_squared();
    }
    let turn = Rotation2::new(cross.atan2(dot));
    let mut off: Vec<f64> = pairs.iter().map(|(p, q)| (turn * (p.vector() - p0) - (q.vector() - q0)).norm()).collect();
    off.sort_by(f64::total_cmp);
    (off[off.len() * 95 / 100], dot.hypot(cross) / own - 1.0)
}

/// Both maps over the sheet, hidden parts too; and, page by page, the worst of them.
fn maps(found: &View, truth: &View, lay: &SheetLay) -> ((f64, f64), f64) {
    let mut all = Vec::new();
    let mut pages: BTreeMap<[usize; 2], Vec<(Mm, Mm)>> = BTreeMap::new();
    let own = &lay.pages.as_ref().expect("pages").pages;
    for y in (10..3020).step_by(60) {
        for x in (10..4030).step_by(60) {
            let p = Px::new(f64::from(x), f64::from(y));
            let (Some(a), Some(b)) = (found.to_mm(p, 0.0), truth.to_mm(p, 0.0)) else { continue };
            let ruled = lay.ruled(b);
            let page = [0, 1].map(|k| own.axes[k].holds([ruled.x, ruled.y][k] / PITCH));
            if !(0.0..900.0).contains(&ruled.x) || !(0.0..1200.0).contains(&ruled.y) {
                continue;
            }
            all.push((a, b));
            pages.entry(page).or_default().push((a, b));
        }
    }
    (apart(&all), pages.values().filter(|p| p.len() > 20).map(|p| apart(p).0).fold(0.0, f64::max))
}

#[test]
fn pages_out_of_place_are_found_and_corrected() {
    // ISO 216 and ANSI/ASME Y14.1, mm; upright and lying.
    let papers =
        [("A4", [297.0, 210.0]), ("A4", [210.0, 297.0]), ("Letter", [215.9, 279.4]), ("A3", [297.0, 420.0]), ("Tabloid", [431.8, 279.4])];
    for (k, (name, paper)) in papers.into_iter().enumerate() {
        let mut luck = Luck(100 + k as u64);
        let lay = out_of_place(paper, 0.7, &mut luck);
        let truth = camera(8.0 + 4.0 * k as f64, 20.0 * k as f64);
        let solved = run(&seen(&truth, |p| lay.lying(p), 0.12, &mut luck));
        let joined = solved.joined.as_ref().unwrap_or_else(|| panic!("{name}: nothing found"));
        let pages = lay.pages.as_ref().expect("pages");
        let alike = joined.laid.pages == pages.pages;
        let ((off, scale), within) = maps(&solved.view, &truth, &lay);
        // What a step is in truth: both pages' places of its middle.
        let mut misses = Vec::new();
        for s in &joined.steps {
            let own = |page: [usize; 2]| {
                let l = pages.laid.iter().find(|l| l.page == page).expect("a page");
                let d = s.at - l.middle;
                l.moved + Vector2::new(-d.y, d.x) * l.turned
            };
            let miss = (own(s.pages[1]) - own(s.pages[0]) - s.by).norm();
            misses.push(miss);
            assert!(
                s.error <= 0.1 && miss <= 0.1f64.max(4.0 * s.error),
                "{name}: a step is out by {miss:.3} mm, told to be known to {:.3}",
                s.error
            );
        }
        misses.sort_by(f64::total_cmp);
        let most = misses[misses.len() * 95 / 100];
        println!(
            "{name}: {} pages, papers {:?}, within pages {within:.3} mm, over all {off:.3} mm, scale {:+.0} ppm; {} steps up to {:.2} mm, 95 % within {most:.3}",
            joined.laid.laid.len(),
            joined.papers,
            scale * 1e6,
            joined.steps.len(),
            joined.steps[0].size()
        );
        assert!(alike && joined.papers.iter().any(|p| p == name), "{name}: {:?}", joined.papers);
        assert!(within <= 0.05 && off <= 0.1 && scale.abs() < 1e-4, "{name}: {within} mm, {off} mm, {scale}");
        assert!(most <= 0.1, "{name}: 95 % of steps are out by up to {most} mm");
        assert!(solved.doubts.iter().any(|d| d.code() == "pages-out-of-place"), "{:?}", solved.doubts);
        assert!(solved.doubts.iter().all(|d| d.code() != "sheet-not-flat"), "{:?}", solved.doubts);
    }
}

/// A sheet in one piece, one that stands up, and one whose code nobody read have no pages.
#[test]
fn nothing_else_is_taken_for_pages() {
    let truth = camera(14.0, 12.0);
    for seed in 0..4 {
        let mut luck = Luck(seed);
        let flat = run(&seen(&truth, |p| p, 0.12, &mut luck));
        assert_eq!(flat.joined, None, "{seed}");
        let wave = |p: Mm| Mm::new(p.x + 0.4 * (p.x / 260.0 + p.y / 400.0).sin(), p.y + 0.3 * (p.y / 300.0).cos());
        let bent = run(&seen(&truth, wave, 0.12, &mut luck));
        assert!(bent.joined.is_none(), "{seed}: {:?}", bent.joined.map(|j| j.steps[0]));
        let lay = out_of_place([297.0, 210.0], 0.7, &mut luck);
        let bare = Lattice { code: None, kind: SheetKind::Lines, ..seen(&truth, |p| lay.lying(p), 0.12, &mut luck) };
        assert_eq!(run(&bare).joined, None);
    }
}

/// Pages joined with gaps of a third of a millimetre across and none down: a tape reads the whole, gaps and all, and lengths within pages still come out right.
#[test]
fn a_tape_over_gaping_joins_is_allowed_for() {
    let mut luck = Luck(77);
    let mut lay = out_of_place([210.0, 297.0], 0.2, &mut luck);
    let gap = 0.35;
    let pages = lay.pages.as_mut().expect("pages");
    pages.laid.iter_mut().for_each(|l| l.moved.x += gap * l.page[0] as f64);
    // Five joins on 900 mm.
    let taped = [PITCH * (900.0 + 5.0 * gap) / 900.0, PITCH];
    let truth = camera(12.0, 15.0);
    let lattice = Lattice { pitch: taped, ..seen(&truth, |p| lay.lying(p), 0.12, &mut luck) };
    let tags = Tags { focal_px: Some(3028.0), camera: true, ..Tags::default() };
    let settings = |over_joins| Settings { over_joins, ..Settings::default() };
    let [told, untold] = [true, false].map(|o| solve(&lattice, SIZE, &tags, &settings(o), &mut Proof::off()).expect("a view"));
    let joined = told.joined.as_ref().expect("pages");
    let [((off, scale), within), (_, worse)] = [&told, &untold].map(|s| maps(&s.view, &truth, &lay));
    let share = joined.laid.stretched[0];
    let mean = joined.steps.iter().filter(|s| s.pages[0][1] == s.pages[1][1]).map(|s| s.by.x).collect::<Vec<_>>();
    let mean = mean.iter().sum::<f64>() / mean.len() as f64;
    println!(
        "within {within:.3} mm ({worse:.3} untold), all {off:.3} mm, scale {:+.0} ppm, stretched {:+.0} ppm, gaps {mean:.3} mm",
        scale * 1e6,
        share * 1e6
    );
    assert!(within <= 0.05 && off <= 0.15 && scale.abs() < 3e-4, "{within} {off} {scale}");
    assert!((share + 5.0 * gap / 900.0).abs() < 4e-4 && (mean - gap).abs() < 0.1, "{share} {mean}");
    assert!(worse > 1.5 * within, "{worse} against {within}");
}
