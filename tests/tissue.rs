//! Tissue or clear film between sheet and garment: its edge is never taken for the cloth's.
//!
//! Museums lay acid-free tissue under cloth, so that it moves without being touched (common practice, no source). Rendered
//! pictures of 2 megapixels with exact truth.

// Figures are shown when a test fails or with --nocapture.
#![allow(clippy::print_stdout)]

mod judge;
mod render;

use rayon::prelude::*;
use render::camera::{Camera, Stand};
use render::cloth::{Fabric, Piece, Weave};
use render::curve::{Curve, Point};
use render::file::{self, Written};
use render::light::Light;
use render::scene::Scene;
use render::shapes::{self, Figure, around, extent};
use render::sheet::{Rgb, Sheet, srgb};
use render::under::Under;

/// A rectangle that reaches so many mm beyond the cloth, turned by some degrees about its middle.
fn beyond(piece: &Piece, by: [f64; 2], turned: f64) -> Curve {
    let [low, high] = extent(&piece.outline);
    let half = [0, 1].map(|k| 0.5 * (high[k] - low[k]) + by[k]);
    let middle: Point = [0, 1].map(|k| 0.5 * (high[k] + low[k]));
    let c = [[-1.0, -1.0], [1.0, -1.0], [1.0, 1.0], [-1.0, 1.0]].map(|[u, v]| [u * half[0], v * half[1]]);
    Curve::from(c[0]).line(c[1]).line(c[2]).line(c[3]).close().laid(turned, middle)
}

fn cloth(colour: Rgb, seed: u64) -> Piece {
    Piece::new("front", &shapes::bodice(&mut Figure::varied(seed, 0.08)), Fabric::plain(colour), 1.5).laid(4.0, [3.0, -8.0])
}

/// The cloth on a sheet, seen by a phone from a little askew.
fn scene(sheet: Sheet, piece: Piece, under: impl FnOnce(&Piece) -> Under) -> Scene {
    let camera = camera(&piece, Stand { film_mm: 26.0, tilt: 11.0, side: 70.0, roll: 92.0 }, 0.96);
    let under = Some(under(&piece));
    Scene { under, ..Scene::new(camera, sheet, vec![piece]) }
}

fn camera(piece: &Piece, stand: Stand, fill: f64) -> Camera {
    Camera::framing([1632, 1224], stand, &around([&piece.outline], 60.0), fill).with_lens(-0.035, 0.012, 0.0002, -0.0002)
}

/// The same before the cloth was laid on it, held by hand and a little darker.
fn before(scene: &Scene) -> Scene {
    let camera = camera(&scene.pieces[0], Stand { film_mm: 26.0, tilt: 9.6, side: 64.0, roll: 91.1 }, 0.95);
    let light = Light { level: 0.93 * scene.light.level, ..scene.light };
    Scene { camera, light, pieces: Vec::new(), seed: 5, ..scene.clone() }
}

/// Draws and traces: the one piece's figures, or what the program said.
fn traced(name: &str, scene: &Scene, before: Option<&Scene>, words: &[&str]) -> Result<judge::Figures, String> {
    let folder = tempfile::tempdir().expect("a folder");
    let picture = folder.path().join("shot.jpg");
    std::fs::write(&picture, file::jpeg(&scene.draw(), &Written::phone(26))).expect("written");
    let out = folder.path().join("out");
    let told = ["--thickness", "1.5mm"];
    let bare = folder.path().join("before.jpg");
    let before = match before {
        Some(before) => {
            std::fs::write(&bare, file::jpeg(&before.draw(), &Written::phone(26))).expect("written");
            vec!["--bare".as_ref(), bare.as_os_str()]
        }
        None => Vec::new(),
    };
    if let Some(to) = std::env::var_os("RUBOFF_KEEP") {
        let kept = |from: &std::path::Path, name: String| std::fs::copy(from, std::path::Path::new(&to).join(name)).expect("kept");
        kept(&picture, format!("{name}.jpg"));
        before.first().map(|_| kept(&bare, format!("{name} before.jpg")));
    }
    let output =
        judge::command().arg(&picture).args(words).args(told).args(before).arg("--out").arg(&out).output().expect("the program starts");
    if !output.status.success() {
        return Err(String::from_utf8_lossy(&output.stderr).trim().to_string());
    }
    let given = judge::outline(&out, "shot");
    let pieces = given["pieces"].as_array().expect("pieces");
    if pieces.len() != 1 {
        return Err(format!("{} pieces for one", pieces.len()));
    }
    Ok(judge::compare(&pieces[0], &scene.pieces[0]))
}

/// What is asked of plain cloth, mm: 95 % of points, and all. The bias of pale cloth on tissue is a little more than on paper.
const LIMITS: [f64; 3] = [0.2, 0.6, 0.07];

fn tissue(by: [f64; 2], turned: f64, veil: f32) -> impl Fn(&Piece) -> Under {
    move |p| Under::tissue(beyond(p, by, turned), veil)
}

/// Draws and traces all; every one that is out by more than the limits is named.
fn check(all: Vec<(&str, Scene, [&str; 3])>) {
    checked(all, false);
}

/// The same, with a picture of the bare sheet where there is one.
fn checked(all: Vec<(&str, Scene, [&str; 3])>, bare: bool) {
    let said: Vec<(String, bool)> = all
        .par_iter()
        .map(|(name, scene, [kind, pitch, under])| {
            let words = ["--sheet", kind, "--pitch", pitch, "--under", under];
            match traced(name, scene, bare.then(|| before(scene)).as_ref(), &words[..if under.is_empty() { 4 } else { 6 }]) {
                Ok(f) => {
                    let (p95, max, bias) = (f.laid.p95(), f.laid.max(), f.laid.bias);
                    (
                        format!("{name}: 95 % {p95:.3} max {max:.3} bias {bias:+.3} mm"),
                        p95 <= LIMITS[0] && max <= LIMITS[1] && bias.abs() <= LIMITS[2],
                    )
                }
                Err(e) => (format!("{name}: {e}"), false),
            }
        })
        .collect();
    said.iter().for_each(|s| println!("{}", s.0));
    let bad: Vec<&String> = said.iter().filter(|s| !s.1).map(|s| &s.0).collect();
    assert!(bad.is_empty(), "{bad:#?}");
}

const LINES: fn() -> Sheet = || Sheet::lines(25.4, [1000.0, 900.0]);
const FINE: fn() -> Sheet = || Sheet::lines(10.0, [1000.0, 900.0]);

#[test]
fn the_edge_of_tissue_is_not_the_cloths() {
    let (plum, black, sand) = (srgb(104, 60, 96), srgb(30, 30, 33), srgb(205, 190, 160));
    check(vec![
        ("plum", scene(LINES(), cloth(plum, 2), tissue([35.0, 30.0], 5.0, 0.5)), ["lines", "1in", "tissue"]),
        ("sand", scene(FINE(), cloth(sand, 5), tissue([28.0, 28.0], 12.0, 0.6)), ["lines", "10mm", "tissue"]),
        (
            "crosses",
            scene(Sheet::crosses(20.0, [1000.0, 900.0]), cloth(black, 8), tissue([30.0, 30.0], -5.0, 0.5)),
            ["crosses", "20mm", "tissue"],
        ),
        (
            "checker",
            scene(Sheet::checker(25.0, [1000.0, 900.0]), cloth(plum, 9), tissue([30.0, 30.0], 6.0, 0.5)),
            ["checker", "25mm", "tissue"],
        ),
        ("mat", scene(Sheet::mat(10.0, 5, [1000.0, 900.0]), cloth(black, 10), tissue([30.0, 30.0], 6.0, 0.5)), ["mat", "10mm", "tissue"]),
        ("over", scene(FINE(), cloth(plum, 11), tissue([-25.0, 30.0], 2.0, 0.5)), ["lines", "10mm", "tissue"]),
        ("film", scene(FINE(), cloth(plum, 12), |p| Under::film(beyond(p, [30.0, 30.0], 7.0))), ["lines", "10mm", "film"]),
    ]);
}

#[test]
#[ignore = "a measurement: thin tissue, dots, black cloth"]
fn more_tissue() {
    let (plum, black) = (srgb(104, 60, 96), srgb(30, 30, 33));
    check(vec![
        ("thin", scene(LINES(), cloth(plum, 2), tissue([35.0, 30.0], 5.0, 0.3)), ["lines", "1in", "tissue"]),
        ("black", scene(FINE(), cloth(black, 3), tissue([25.0, 35.0], -8.0, 0.5)), ["lines", "10mm", "tissue"]),
        ("dots", scene(Sheet::dots(25.4, [1000.0, 900.0]), cloth(plum, 7), tissue([40.0, 30.0], 5.0, 0.5)), ["dots", "1in", "tissue"]),
    ]);
}

#[test]
#[ignore = "not reached: a quarter of the marks' light left, 0.6 and 9 mm; white cloth, 2.6 and 15; gingham, 0.6 and 9; see DEVELOPERS.md"]
fn what_is_hard_on_tissue() {
    let (plum, white) = (srgb(104, 60, 96), srgb(238, 238, 236));
    let gingham = Fabric::plain(srgb(240, 240, 240)).with(Weave::Gingham { period: 8.0 }, srgb(60, 90, 150));
    let gingham = || Piece { fabric: gingham.clone(), ..cloth(white, 6) };
    let bare = |scene: Scene| Scene { under: None, ..scene };
    check(vec![
        ("thick", scene(LINES(), cloth(plum, 2), tissue([35.0, 30.0], 5.0, 0.75)), ["lines", "1in", "tissue"]),
        ("white", scene(FINE(), cloth(white, 4), tissue([30.0, 25.0], 3.0, 0.5)), ["lines", "10mm", "tissue"]),
        ("white-bare", bare(scene(FINE(), cloth(white, 4), tissue([30.0, 25.0], 3.0, 0.5))), ["lines", "10mm", ""]),
        ("gingham", scene(LINES(), gingham(), tissue([30.0, 30.0], 4.0, 0.5)), ["lines", "1in", "tissue"]),
        ("gingham-bare", bare(scene(LINES(), gingham(), tissue([30.0, 30.0], 4.0, 0.5))), ["lines", "1in", ""]),
    ]);
}

#[test]
fn a_picture_of_the_bare_sheet_shows_what_is_tissue() {
    // Two layers, which leave a quarter of the marks' light.
    let thick = scene(LINES(), cloth(srgb(104, 60, 96), 2), tissue([35.0, 30.0], 5.0, 0.75));
    checked(vec![("thick", thick, ["lines", "1in", "tissue"])], true);
}

#[test]
#[ignore = "not reached at 1.6 px to the mm: white cloth, 1.2 and 10 mm; gingham, 0.6 and 2.9; see DEVELOPERS.md"]
fn what_is_hard_with_a_picture_of_the_bare_sheet() {
    let white = srgb(238, 238, 236);
    let gingham = Fabric::plain(srgb(240, 240, 240)).with(Weave::Gingham { period: 8.0 }, srgb(60, 90, 150));
    let gingham = Piece { fabric: gingham, ..cloth(white, 6) };
    let all = vec![
        ("white", scene(FINE(), cloth(white, 4), tissue([30.0, 25.0], 3.0, 0.5)), ["lines", "10mm", "tissue"]),
        ("gingham", scene(LINES(), gingham, tissue([30.0, 30.0], 4.0, 0.5)), ["lines", "1in", "tissue"]),
    ];
    checked(all, true);
}

#[test]
fn a_bare_sheet_is_no_garment_and_one_from_elsewhere_is_left_out() {
    let (folder, away) = (tempfile::tempdir().expect("a folder"), tempfile::tempdir().expect("another"));
    let shot = Scene { under: None, ..scene(LINES(), cloth(srgb(104, 60, 96), 2), tissue([35.0, 30.0], 5.0, 0.5)) };
    let here = before(&shot);
    // The sheet moved by half a square between the two.
    let moved = Scene { sheet: Sheet { laid: (0.0, [12.7, 12.7]), ..here.sheet.clone() }, ..here.clone() };
    for (name, picture) in [("front.jpg", &shot), ("here.jpg", &here), ("moved.jpg", &moved)] {
        std::fs::write(folder.path().join(name), file::jpeg(&picture.draw(), &Written::phone(26))).expect("written");
    }
    for (bare, doubted) in [("here.jpg", false), ("moved.jpg", true)] {
        let notes = format!("[[shot]]\npicture = \"front.jpg\"\npitch = \"1in\"\nthickness = \"1.5mm\"\nbare = \"{bare}\"\n");
        std::fs::write(folder.path().join("garment.toml"), notes).expect("written");
        let other = if doubted { "here.jpg" } else { "moved.jpg" };
        let kept = away.path().join(other);
        std::fs::rename(folder.path().join(other), &kept).expect("put away");
        let out = folder.path().join(format!("out {bare}"));
        let output = judge::command().arg(folder.path()).arg("--out").arg(&out).output().expect("the program starts");
        let said = String::from_utf8_lossy(&output.stderr).into_owned() + &String::from_utf8_lossy(&output.stdout);
        assert!(output.status.success(), "{said}");
        assert!(!out.join(bare.trim_end_matches(".jpg")).exists(), "the bare sheet was traced: {said}");
        let given = judge::outline(&out, "front");
        let codes: Vec<&str> = given["doubts"].as_array().expect("doubts").iter().filter_map(|d| d["code"].as_str()).collect();
        assert_eq!(codes.contains(&"bare-unlike"), doubted, "{codes:?}");
        assert!(judge::compare(&given["pieces"][0], &shot.pieces[0]).laid.p95() < 0.2);
        std::fs::rename(&kept, folder.path().join(other)).expect("put back");
        std::fs::remove_dir_all(&out).expect("removed");
    }
}

/// A picture in which a garment lies already is no bare sheet's: it is refused, whether that is the same garment or another.
#[test]
fn a_garment_in_the_bare_sheets_picture_is_told() {
    let shot = Scene { under: None, ..scene(LINES(), cloth(srgb(104, 60, 96), 2), tissue([35.0, 30.0], 5.0, 0.5)) };
    for other in [srgb(104, 60, 96), srgb(60, 90, 70)] {
        let here = Scene { pieces: vec![cloth(other, 3)], ..before(&shot) };
        let said = traced("covered", &shot, Some(&here), &["--pitch", "1in"]).expect_err("it is refused");
        assert!(said.contains("bare sheet: something lies on it") && said.contains("leave it out"), "{said}");
    }
}
