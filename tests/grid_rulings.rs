//! Sheets ruled in two or three weights: the lattice found, the pitch told given to the right lines, and the heavy lines not taken for
//! cloth. Drawn by the test renderer, against its own camera. Common practice, no source.
//!
//! The whole table is asked for: `cargo test --release --test grid_rulings -- --ignored --nocapture`; `RUBOFF_KEEP` names a folder for
//! the pictures, `RUBOFF_ONLY` a part of the name.
#![allow(clippy::print_stdout)] // Figures for people.

mod render;
mod rim;

use render::camera::{Camera, Stand};
use render::cloth::{Fabric, Piece};
use render::file::{self, Written};
use render::scene::Scene;
use render::shapes;
use render::sheet::{Marks, Sheet, srgb};
use ruboff::grid::{self, Lattice, Settings};
use ruboff::length::Length;
use ruboff::proof::{Doubt, Proof};
use ruboff::sheet::SheetProfile;
use ruboff::shot::{Limits, Shot};
use std::path::{Path, PathBuf};

const SIZE: [usize; 2] = [1826, 1370];

/// A ruling: distance of the finest lines, how many of them make a heavy square, and how deep they are against the heavy ones.
#[derive(Clone, Copy)]
struct Ruling {
    mat: bool,
    fine: f64,
    every: usize,
    contrast: f64,
}

impl Ruling {
    fn sheet(self) -> Sheet {
        let marks = Marks::Lines { width: 0.3, heavy: self.every, heavy_width: 0.6 };
        let size = [700.0, 560.0];
        let plain = if self.mat { Sheet::mat(self.fine, self.every, size) } else { Sheet::heavy_lines(self.fine, self.every, size) };
        Sheet { marks, strength: self.contrast, ..plain }
    }

    fn name(self) -> String {
        format!("{} {:.2} mm every {} contrast {:.2}", if self.mat { "mat" } else { "paper" }, self.fine, self.every, self.contrast)
    }
}

/// A camera that sees a patch of the table `wide` mm across.
fn camera(wide: f64, tilt: f64) -> Camera {
    let (w, h) = (wide / 2.0, wide / 2.0 * 0.75);
    Camera::framing(SIZE, Stand { film_mm: 26.0, tilt, side: 60.0, roll: 7.0 }, &[[-w, -h], [w, -h], [w, h], [-w, h]], 1.0)
}

fn scene(sheet: Sheet, wide: f64) -> Scene {
    let cloth = Piece::new("piece", &shapes::ellipse(0.24 * wide, 0.18 * wide), Fabric::plain(srgb(130, 60, 60)), 1.0);
    Scene::new(camera(wide, 10.0), sheet, vec![cloth])
}

/// What came of a scene.
struct Seen {
    lattice: Lattice,
    /// Lengths given over true ones.
    scale: f64,
    /// Share of the nodes that are not where lines of the sheet cross.
    stray: f64,
    /// What is wrong with the cloth, if anything; looked for once a picture.
    cloth: Option<String>,
}

fn draw(scene: &Scene, name: &str, folder: &Path) -> PathBuf {
    let keep = std::env::var_os("RUBOFF_KEEP").map(PathBuf::from);
    let file = keep.as_deref().unwrap_or(folder).join(format!("{}.jpg", name.replace(' ', "_")));
    if !file.exists() {
        std::fs::write(&file, file::jpeg(&scene.draw(), &Written::phone(26))).expect("written");
    }
    file
}

fn see(scene: &Scene, file: &Path, told: f64, cloth: bool) -> Result<Seen, String> {
    let shot = Shot::open(file, &Limits::default()).map_err(|e| e.to_string())?;
    let profile = SheetProfile::from_words("auto", Some(Length::from_mm(told))).map_err(|e| e.to_string())?;
    let lattice = grid::find(&shot, &profile, &Settings::default(), &mut Proof::off()).map_err(|e| e.to_string())?;
    let mut ratios = Vec::new();
    let place = |n: &grid::Node| scene.camera.sheet([n.at.x, n.at.y], 0.0);
    for pair in lattice.nodes.windows(2) {
        let (p, q) = (place(&pair[0]), place(&pair[1]));
        let given = (f64::from(pair[1].i - pair[0].i) * lattice.pitch[0]).hypot(f64::from(pair[1].j - pair[0].j) * lattice.pitch[1]);
        ratios.push(given / (p[0] - q[0]).hypot(p[1] - q[1]));
    }
    ratios.sort_by(f64::total_cmp);
    let pitch = scene.sheet.pitch;
    let off = |p: [f64; 2]| [0, 1].map(|k| (p[k] - (p[k] / pitch[k]).round() * pitch[k]).abs());
    let stray = lattice.nodes.iter().filter(|n| off(place(n)).iter().any(|d| *d > 0.25)).count();
    Ok(Seen {
        scale: ratios[ratios.len() / 2],
        stray: stray as f64 / lattice.nodes.len() as f64,
        cloth: cloth.then(|| rim::fault(&rim::find(file, "auto", told, scene, "scene"))).flatten(),
        lattice,
    })
}

/// One line on what was seen, and whether all is well with it.
fn words(seen: &Result<Seen, String>, every: usize) -> (String, bool) {
    match seen {
        Err(why) => (format!("NOT FOUND {why}"), false),
        Ok(s) => {
            let named = |d: &Doubt| !matches!(d, Doubt::FinerRuling { parts, .. } if *parts as usize != every);
            let good = (s.scale - 1.0).abs() < 0.01 && s.stray < 0.01 && s.cloth.is_none() && s.lattice.doubts.iter().all(named);
            let doubts: Vec<_> = s.lattice.doubts.iter().map(|d| format!("{d:?}")).collect();
            let text = format!(
                "{} {:?} pitch {:.3}, {} nodes, scale {:.3}, stray {:.3}, weights {}+{}, {} {}",
                if good { "good" } else { "BAD" },
                s.lattice.kind,
                s.lattice.pitch[0],
                s.lattice.nodes.len(),
                s.scale,
                s.stray,
                s.lattice.line_weights.down.len(),
                s.lattice.line_weights.across.len(),
                doubts.join(" "),
                s.cloth.clone().unwrap_or_default()
            );
            (text, good)
        }
    }
}

/// Rulings of which the heavy lines, or the fine ones, were once taken for nothing, for cloth or for each other; the pitch told is that of
/// the fine lines or of the heavy ones, and the scale the same.
#[test]
fn the_pitch_told_is_given_to_the_right_lines() {
    let folder = tempfile::tempdir().expect("a folder");
    let rulings = [(false, 2, 12.7, 0.25), (false, 10, 2.54, 1.0), (true, 2, 5.0, 0.25), (true, 5, 10.0, 0.25), (true, 8, 3.175, 1.0)];
    let mut bad = Vec::new();
    for (mat, every, fine, contrast) in rulings {
        let ruling = Ruling { mat, fine, every, contrast };
        let scene = scene(ruling.sheet(), if fine < 3.0 { 320.0 } else { 480.0 });
        let file = draw(&scene, &ruling.name(), folder.path());
        for told in [fine, fine * every as f64] {
            let (text, good) = words(&see(&scene, &file, told, told > fine), every);
            println!("{:44} told {told:6.2}: {text}", ruling.name());
            if !good {
                bad.push(format!("{} told {told}: {text}", ruling.name()));
            }
        }
    }
    assert!(bad.is_empty(), "{bad:#?}");
}

/// From arm's length the pitch of the heavier lines is told and nothing else can be meant: 50 mm of the finer ones would be seen from 4 m, in
/// heavier squares of a quarter of a metre. Nearer, where both are possible, it stays a doubt.
#[test]
fn the_heavier_lines_pitch_is_not_doubted_where_it_fits() {
    let folder = tempfile::tempdir().expect("a folder");
    let ruling = Ruling { mat: true, fine: 10.0, every: 5, contrast: 1.0 };
    for (wide, doubted) in [(1000.0, false), (480.0, true)] {
        let scene = scene(ruling.sheet(), wide);
        let file = draw(&scene, &format!("{} {wide}", ruling.name()), folder.path());
        let seen = see(&scene, &file, 50.0, false).expect("a lattice");
        println!("{wide}: {:?}", seen.lattice.doubts);
        assert!((seen.scale - 1.0).abs() < 0.01 && seen.stray < 0.01, "scale {}, stray {}", seen.scale, seen.stray);
        assert_eq!(!seen.lattice.doubts.is_empty(), doubted, "{:?}", seen.lattice.doubts);
    }
}

#[test]
#[ignore = "a measurement of minutes"]
fn table_of_rulings() {
    let folder = tempfile::tempdir().expect("a folder");
    let only = std::env::var("RUBOFF_ONLY").unwrap_or_default();
    let (mut all, mut well) = (0, 0);
    for mat in [false, true] {
        for (every, fine) in [(2, 5.0), (2, 12.7), (4, 6.35), (5, 10.0), (5, 2.0), (8, 3.175), (10, 2.54)] {
            for contrast in [1.0, 0.5, 0.25] {
                let ruling = Ruling { mat, fine, every, contrast };
                if !ruling.name().contains(&only) {
                    continue;
                }
                let scene = scene(ruling.sheet(), if fine < 3.0 { 320.0 } else { 480.0 });
                let file = draw(&scene, &ruling.name(), folder.path());
                for told in [fine, fine * every as f64] {
                    let (text, good) = words(&see(&scene, &file, told, told > fine), every);
                    println!("{:44} told {told:6.2}: {text}", ruling.name());
                    all += 1;
                    well += usize::from(good);
                }
            }
        }
    }
    println!("{well} of {all}");
}
