//! Sheets that are hard to read, one difficulty a scene, drawn by the test renderer: the kind never told. Nodes against the renderer's own
//! camera, and the view solved from them against it: 95 % within 0.05 mm, scale within 50 ppm. Common practice, no source.
#![allow(clippy::print_stdout)] // Figures for people.

#[path = "render/mod.rs"]
mod render;

use render::camera::{Camera, Stand, focal_px};
use render::cloth::{Fabric, Piece, Weave};
use render::curve::{Curve, Point};
use render::scene::{Scene, Thing};
use render::shapes;
use render::sheet::{Buckle, Marks, Sheet, srgb};
use ruboff::cloth;
use ruboff::grid::{self, GridError, Lattice, Settings};
use ruboff::length::{Mm, Px};
use ruboff::proof::{Doubt, Proof};
use ruboff::sheet::{SheetKind, SheetProfile};
use ruboff::shot::{Shot, Tags};
use ruboff::view;
use std::collections::BTreeMap;

const SIZE: [usize; 2] = [1826, 1370];

/// What a scene gave.
struct Seen {
    lattice: Lattice,
    /// Root mean square of a coordinate, px, and nodes that are none of the sheet's.
    rms: f64,
    wrong: usize,
    solved: Result<view::Solved, view::ViewError>,
    /// Mapped points: 95 % of them within, mm; scale, ppm.
    p95: f64,
    ppm: f64,
}

fn stand(tilt: f64) -> Stand {
    Stand { film_mm: 26.0, tilt, side: 60.0, roll: 7.0 }
}

/// A camera that sees a patch of the table `wide` mm across.
fn camera(stand: Stand, wide: f64) -> Camera {
    let (w, h) = (wide / 2.0, wide / 2.0 * 0.75);
    Camera::framing(SIZE, stand, &[[-w, -h], [w, -h], [w, h], [-w, h]], 1.0)
}

fn block(from: Point, to: Point) -> Curve {
    Curve::from(from).line([to[0], from[1]]).line(to).line([from[0], to[1]]).close()
}

fn shirt(fabric: Fabric) -> Piece {
    Piece::new("shirt", &shapes::ellipse(130.0, 100.0), fabric, 1.0)
}

fn plain_shirt() -> Piece {
    shirt(Fabric::plain(srgb(110, 56, 96)))
}

fn search(scene: &Scene, pitch: f64) -> (Shot, Result<Lattice, GridError>) {
    let picture = scene.draw();
    if let Some(dir) = std::env::var_os("RUBOFF_KEEP") {
        let name = std::thread::current().name().unwrap_or("scene").to_owned();
        let file = std::path::Path::new(&dir).join(format!("{name}.png"));
        image::save_buffer(file, &picture.rgb, picture.size[0] as u32, picture.size[1] as u32, image::ColorType::Rgb8).expect("saved");
    }
    let shot = Shot::from_rgb(picture.size[0], picture.size[1], picture.rgb);
    let profile =
        SheetProfile { name: "auto".into(), kind: None, pitch: [pitch; 2], heavy_every: None, measured: None, pitch_error: [0.002; 2] };
    let found = grid::find(&shot, &profile, &Settings::default(), &mut Proof::off());
    (shot, found)
}

fn see(scene: &Scene, pitch: f64) -> Seen {
    let begun = std::time::Instant::now();
    let (_, found) = search(scene, pitch);
    let lattice = found.unwrap_or_else(|e| panic!("{e}"));
    let off = off(scene, &lattice, lattice.pitch[0]);
    let good: Vec<f64> = off.iter().map(|d| d[0].hypot(d[1])).filter(|d| *d < 2.0).collect();
    let rms = (good.iter().map(|d| d * d).sum::<f64>() / (2 * good.len().max(1)) as f64).sqrt();
    let tags = Tags { camera: true, focal_px: Some(focal_px(26.0, SIZE)), ..Tags::default() };
    let solved = view::solve(&lattice, (SIZE[0], SIZE[1]), &tags, &view::Settings::default(), &mut Proof::off());
    let (p95, ppm) = solved.as_ref().map_or((f64::NAN, f64::NAN), |s| mapped(scene, &s.view));
    let seen = Seen { wrong: off.len() - good.len(), rms, p95, ppm, solved, lattice };
    let held = seen.solved.as_ref().ok().and_then(|s| s.held_out).map_or(f64::NAN, |h| h.rms_px);
    println!(
        "{}: {:?} {} nodes, {} wrong, rms {:.3} px, kept out {held:.3} px, mapped 95 % within {:.4} mm, scale {:.1} ppm, {:?} {:?}, {:.1} s",
        std::thread::current().name().unwrap_or("scene"),
        seen.lattice.kind,
        seen.lattice.nodes.len(),
        seen.wrong,
        seen.rms,
        seen.p95,
        seen.ppm,
        seen.lattice.doubts.iter().map(|d| d.code()).collect::<Vec<_>>(),
        seen.solved.as_ref().map(|s| s.doubts.iter().map(|d| d.code()).collect::<Vec<_>>()).map_err(|e| e.to_string()),
        begun.elapsed().as_secs_f64()
    );
    seen
}

/// Nodes minus where the renderer sees them, px, after finding which node of the sheet each address stands for.
fn off(scene: &Scene, lattice: &Lattice, pitch: f64) -> Vec<Point> {
    let node = |i: i32, j: i32| scene.sheet.see(&scene.camera, [f64::from(i) * pitch, f64::from(j) * pitch]);
    let reach = (600.0 / pitch) as i32;
    let all: Vec<(i32, i32, Point)> =
        (-reach..=reach).flat_map(|j| (-reach..=reach).map(move |i| (i, j))).map(|(i, j)| (i, j, node(i, j))).collect();
    let turned = |t: i32, i: i32, j: i32| match t {
        0 => (i, j),
        1 => (-j, i),
        2 => (-i, -j),
        _ => (j, -i),
    };
    let mut votes = BTreeMap::<(i32, i32, i32), usize>::new();
    for n in lattice.nodes.iter().step_by(1 + lattice.nodes.len() / 40) {
        let far = |p: &Point| (p[0] - n.at.x).hypot(p[1] - n.at.y);
        let (p, q, _) = all.iter().min_by(|a, b| far(&a.2).total_cmp(&far(&b.2))).expect("nodes");
        for t in 0..4 {
            let (i, j) = turned(t, n.i, n.j);
            *votes.entry((t, p - i, q - j)).or_default() += 1;
        }
    }
    let ((t, a, b), _) = votes.into_iter().max_by_key(|v| v.1).expect("votes");
    lattice
        .nodes
        .iter()
        .map(|n| {
            let (i, j) = turned(t, n.i, n.j);
            let p = node(i + a, j + b);
            [n.at.x - p[0], n.at.y - p[1]]
        })
        .collect()
}

/// Points all over the picture mapped by the view, against the flat sheet seen there, after the best rigid laying-on: mm, ppm.
fn mapped(scene: &Scene, view: &view::View) -> (f64, f64) {
    let mut pairs: Vec<(Mm, Point)> = Vec::new();
    for y in (40..SIZE[1]).step_by(90) {
        for x in (40..SIZE[0]).step_by(90) {
            let truth = scene.camera.sheet([x as f64, y as f64], 0.0);
            let [a, b] = scene.sheet.span;
            let on = (0..2).all(|k| truth[k] > a[k] && truth[k] < b[k]);
            if let Some(mm) = view.to_mm(Px::new(x as f64, y as f64), 0.0).filter(|_| on) {
                pairs.push((mm, truth));
            }
        }
    }
    let n = pairs.len() as f64;
    let mean = |f: &dyn Fn(&(Mm, Point)) -> f64| pairs.iter().map(f).sum::<f64>() / n;
    let (mx, my, tx, ty) = (mean(&|p| p.0.x), mean(&|p| p.0.y), mean(&|p| p.1[0]), mean(&|p| p.1[1]));
    let (mut dot, mut perp, mut from, mut to) = (0.0, 0.0, 0.0, 0.0);
    for (m, t) in &pairs {
        let (a, b, c, d) = (m.x - mx, m.y - my, t[0] - tx, t[1] - ty);
        dot += a * c + b * d;
        perp += a * d - b * c;
        from += a * a + b * b;
        to += c * c + d * d;
    }
    let (s, c) = perp.atan2(dot).sin_cos();
    let mut miss: Vec<f64> = pairs
        .iter()
        .map(|(m, t)| {
            let (a, b) = (m.x - mx, m.y - my);
            (c * a - s * b - (t[0] - tx)).hypot(s * a + c * b - (t[1] - ty))
        })
        .collect();
    miss.sort_by(f64::total_cmp);
    (miss[miss.len() * 95 / 100], ((from / to).sqrt() - 1.0) * 1e6)
}

impl Seen {
    fn good(&self, kind: SheetKind) {
        assert_eq!(self.lattice.kind, kind);
        assert_eq!(self.wrong, 0, "nodes of something else");
        let held = self.solved.as_ref().expect("a view").held_out.expect("nodes to spare");
        assert!(held.rms_px < 0.15, "kept-out nodes {:.3} px", held.rms_px);
        assert!(self.p95 < 0.05 && self.ppm.abs() < 50.0, "mapped {:.4} mm, {:.1} ppm", self.p95, self.ppm);
    }
}

/// A thin bar from point to point.
fn bar(from: Point, to: Point, width: f64) -> Vec<Point> {
    let d = [to[0] - from[0], to[1] - from[1]];
    let n = d[0].hypot(d[1]);
    let w = [-d[1] / n * width / 2.0, d[0] / n * width / 2.0];
    vec![[from[0] - w[0], from[1] - w[1]], [to[0] - w[0], to[1] - w[1]], [to[0] + w[0], to[1] + w[1]], [from[0] + w[0], from[1] + w[1]]]
}

/// A mat with heavier and lighter lines, diagonals at 45 and 60 degrees, a row of print and scratches all over.
#[test]
fn mat_with_diagonals_print_and_scratches() {
    let mut sheet = Sheet::mat(10.0, 5, [620.0, 460.0]);
    for k in -3..=3 {
        let x = f64::from(k) * 80.0;
        sheet.print.push(bar([x - 200.0, -200.0], [x + 200.0, 200.0], 0.4));
        sheet.print.push(bar([x - 120.0, 207.0], [x + 120.0, -207.0], 0.4));
    }
    for k in 0..60 {
        let (a, b) = (f64::from(k * 37 % 61), f64::from(k * 53 % 59));
        let at = [a * 9.0 - 270.0, b * 6.5 - 190.0];
        let turn = f64::from(k) * 1.7;
        sheet.print.push(bar(at, [at[0] + 18.0 * turn.cos(), at[1] + 18.0 * turn.sin()], 0.25));
        // Letters: little blocks along the rim.
        let x = -290.0 + 9.5 * f64::from(k);
        sheet.print.push(bar([x, 196.0], [x + 3.0, 199.0], 1.2));
        sheet.print.push(bar([x, 199.0], [x + 3.0, 196.0], 1.2));
    }
    let scene = Scene::new(camera(stand(12.0), 560.0), sheet, vec![shirt(Fabric::plain(srgb(196, 150, 50)))]);
    see(&scene, 10.0).good(SheetKind::Mat);
}

/// Lines that differ from the paper by a twentieth.
/// Each fifth line is told from the others by how much it holds: 0.8 mm of full ink where they are 0.35 mm of 0.7 of it.
#[test]
fn heavier_lines_are_told_from_the_others() {
    let scene = Scene::new(camera(stand(15.0), 520.0), Sheet::heavy_lines(10.0, 5, [700.0, 600.0]), vec![plain_shirt()]);
    let seen = see(&scene, 10.0);
    let weights = &seen.lattice.line_weights;
    for (name, family) in [("down", &weights.down), ("across", &weights.across)] {
        let holds: Vec<f64> = family.values().map(|w| w.width * w.depth).collect();
        println!("heavier lines {name}: {:?} hold {holds:.2?} times as much", family.keys().collect::<Vec<_>>());
        assert!(family.len() >= 6, "{name}: {} lines", family.len());
        let first = family.keys().next().copied().unwrap_or_default();
        assert!(family.keys().all(|k| (k - first) % 5 == 0), "{name}: {:?}", family.keys());
        assert!(holds.iter().all(|h| (h / (0.8 / (0.35 * 0.7)) - 1.0).abs() < 0.1), "{name}: {holds:.2?}");
    }
    let even = see(&Scene::new(camera(stand(28.0), 520.0), Sheet::lines(10.0, [700.0, 600.0]), vec![plain_shirt()]), 10.0);
    assert_eq!(even.lattice.line_weights, grid::LineWeights::default());
}

#[test]
fn faint_lines() {
    let sheet = Sheet { ink: srgb(226, 227, 229), ..Sheet::lines(25.4, [900.0, 700.0]) };
    see(&Scene::new(camera(stand(10.0), 560.0), sheet, vec![plain_shirt()]), 25.4).good(SheetKind::Lines);
}

/// Heavy lines an inch apart, lighter ones every eighth between, and the pitch said to be an inch: all are measured, and addresses count
/// eighths.
#[test]
fn eighths_between_inches() {
    let marks = Marks::Lines { width: 0.3, heavy: 8, heavy_width: 0.7 };
    let sheet = Sheet { marks, ..Sheet::heavy_lines(3.175, 8, [900.0, 700.0]) };
    let seen = see(&Scene::new(camera(stand(10.0), 380.0), sheet, vec![shirt(Fabric::plain(srgb(110, 56, 96)))]), 25.4);
    assert!(seen.lattice.doubts.iter().any(|d| d.code() == "finer-ruling"), "{:?}", seen.lattice.doubts);
    assert!((seen.lattice.pitch[0] - 3.175).abs() < 1e-9, "{}", seen.lattice.pitch[0]);
    seen.good(SheetKind::Lines);
}

/// Lines an inch apart, and the pitch said to be an eighth: the camera would have stood in the garment's folds.
#[test]
fn an_eighth_said_of_inches() {
    let scene = Scene::new(camera(stand(10.0), 560.0), Sheet::lines(25.4, [900.0, 700.0]), vec![plain_shirt()]);
    let (_, found) = search(&scene, 3.175);
    let text = match &found {
        Ok(l) => format!("{:?}", l.doubts),
        Err(e) => e.to_string(),
    };
    println!("{text}");
    assert!(found.map_or(true, |l| l.doubts.iter().any(|d| d.code() == "pitch-looks-different")), "{text}");
}

/// All lines alike, and the pitch told that of rulings which hold them or which they hold: by the camera's distance the right one is told
/// to be likelier. Told right, nothing is said.
#[test]
fn another_ruling_is_likelier() {
    for (drawn, told, doubted) in [(25.4, 3.175, true), (25.4, 25.4, false), (25.4, 12.7, false)] {
        let scene = Scene::new(camera(stand(10.0), 1300.0), Sheet::lines(drawn, [1500.0, 1200.0]), vec![plain_shirt()]);
        let (mut shot, _) = search(&scene, told);
        shot.tags = Tags { camera: true, focal_px: Some(focal_px(26.0, SIZE)), ..Tags::default() };
        let profile =
            SheetProfile { name: "auto".into(), kind: None, pitch: [told; 2], heavy_every: None, measured: None, pitch_error: [0.002; 2] };
        let lattice = grid::find(&shot, &profile, &Settings::default(), &mut Proof::off()).unwrap_or_else(|e| panic!("{e}"));
        let likelier =
            lattice.doubts.iter().find_map(|d| if let Doubt::AnotherRuling { likelier, .. } = d { Some(*likelier) } else { None });
        assert_eq!(likelier, doubted.then_some(drawn), "{told} told of {drawn}: {:?}", lattice.doubts);
    }
}

/// Dots a millimetre across, less than three pixels.
#[test]
fn dots_a_millimetre_across() {
    let sheet = Sheet { marks: Marks::Dots { across: 1.0 }, ..Sheet::dots(12.7, [900.0, 700.0]) };
    see(&Scene::new(camera(stand(8.0), 560.0), sheet, vec![plain_shirt()]), 12.7).good(SheetKind::Dots);
}

/// Gingham nearly as wide as the squares under it.
#[test]
fn gingham_on_ruled_paper() {
    let cloth = Fabric::plain(srgb(70, 90, 160)).with(Weave::Gingham { period: 22.0 }, srgb(235, 235, 235));
    see(&Scene::new(camera(stand(10.0), 480.0), Sheet::lines(25.4, [900.0, 700.0]), vec![shirt(cloth)]), 25.4).good(SheetKind::Lines);
}

/// Stripes darker than the ruling, as far apart as it.
#[test]
fn checked_shirt_on_a_checker_sheet() {
    let cloth = Fabric::plain(srgb(60, 60, 66)).with(Weave::Gingham { period: 30.0 }, srgb(225, 225, 222));
    see(&Scene::new(camera(stand(10.0), 480.0), Sheet::checker(20.0, [900.0, 700.0]), vec![shirt(cloth)]), 20.0).good(SheetKind::Checker);
}

/// Three quarters of the sheet under cloth: a strip is left on three sides.
#[test]
fn three_quarters_hidden() {
    let cloth = Piece::new("coat", &block([-250.0, -186.0], [262.0, 170.0]), Fabric::plain(srgb(74, 88, 50)), 1.0);
    let sheet = Sheet::lines(25.4, [586.0, 446.0]);
    see(&Scene::new(camera(stand(12.0), 560.0), sheet, vec![cloth]), 25.4).good(SheetKind::Lines);
}

/// The edge of a hard shadow across the whole picture.
#[test]
fn a_hard_shadow_across() {
    let mut scene = Scene::new(camera(stand(12.0), 560.0), Sheet::lines(25.4, [900.0, 700.0]), vec![plain_shirt()]);
    scene.light = render::light::Light::lamp();
    scene.light.shadow = 0.8;
    // Something high beyond the picture, whose shadow lies across it.
    let (s, c) = scene.light.from.to_radians().sin_cos();
    let by = 300.0 * scene.light.reach;
    let outline = block([-300.0 + c * by, -40.0 + s * by], [60.0 + c * by, 400.0 + s * by]);
    scene.things.push(Thing { outline, height: 300.0, colour: srgb(20, 20, 20) });
    see(&scene, 25.4).good(SheetKind::Lines);
}

/// A camera held 35 degrees off the plumb line.
#[test]
fn tilted_by_35_degrees() {
    see(&Scene::new(camera(stand(35.0), 460.0), Sheet::lines(25.4, [1800.0, 1600.0]), vec![plain_shirt()]), 25.4).good(SheetKind::Lines);
}

/// The same over a sheet that fills the picture: far off its lines run together, and that is no garment.
#[test]
fn tilted_by_35_degrees_over_a_large_sheet() {
    let marks = Marks::Lines { width: 0.8, heavy: 0, heavy_width: 0.0 };
    let sheet = Sheet { marks, ..Sheet::lines(25.4, [5200.0, 5200.0]) };
    let scene = Scene::new(camera(stand(35.0), 860.0), sheet, vec![plain_shirt()]);
    let (shot, found) = search(&scene, 25.4);
    let lattice = found.unwrap_or_else(|e| panic!("{e}"));
    let size = (SIZE[0], SIZE[1]);
    let solved = view::solve(&lattice, size, &Tags::default(), &view::Settings::default(), &mut Proof::off()).expect("a view");
    let found = cloth::find(&shot, &lattice, &solved.view, &cloth::Settings::default(), &mut Proof::off());
    let found = found.unwrap_or_else(|e| panic!("{e}"));
    let area = std::f64::consts::PI * 130.0 * 100.0;
    assert!(found.regions.len() == 1 && (found.regions[0].area / area - 1.0).abs() < 0.02, "{} {area}", found.regions[0].area);
}

/// A barrel as of an action camera, the tags still those of a main camera.
#[test]
fn an_ultra_wide_lens() {
    let stand = Stand { film_mm: 15.0, ..stand(15.0) };
    let camera = camera(stand, 520.0).with_lens(-0.16, 0.02, 2e-4, -1e-4);
    see(&Scene::new(camera, Sheet::lines(25.4, [1500.0, 1300.0]), vec![plain_shirt()]), 25.4).good(SheetKind::Lines);
}

fn buckled(height: f64) -> Seen {
    let mut sheet = Sheet::lines(25.4, [900.0, 700.0]);
    sheet.buckle = Some(Buckle { at: [-150.0, 60.0], degrees: 70.0, height, width: 60.0 });
    see(&Scene::new(camera(stand(20.0), 560.0), sheet, vec![plain_shirt()]), 25.4)
}

/// Paper that stands up in a wave: by little it is doubted, by more refused.
#[test]
fn paper_that_does_not_lie_flat() {
    let a_little = buckled(2.0);
    let solved = a_little.solved.expect("a view");
    assert!(solved.doubts.iter().any(|d| d.code() == "sheet-not-flat"), "{:?}", solved.field);
    assert!(matches!(buckled(6.0).solved, Err(view::ViewError::NotFlat { .. })));
}

/// A second sheet beside the one under the garment: that one is measured, and the other named.
#[test]
fn two_sheets_one_under_the_garment() {
    let mut scene = Scene::new(camera(stand(8.0), 760.0), Sheet::lines(25.4, [420.0, 500.0]), vec![plain_shirt()]);
    let mut other = Sheet::lines(25.4, [260.0, 420.0]);
    other.laid = (11.0, [360.0, 10.0]);
    scene.more_sheets.push(other);
    let seen = see(&scene, 25.4);
    assert!(seen.lattice.doubts.iter().any(|d| d.code() == "another-sheet"), "{:?}", seen.lattice.doubts);
    seen.good(SheetKind::Lines);
}
