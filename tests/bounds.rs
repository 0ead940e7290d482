//! Whether `bound_mm` is honest: over many scenes drawn by lot it holds for 93 to 99 % of the points of all edges, and its
//! median is at most twice what is measured.
//!
//! Takes minutes, so it is asked for: `cargo test --release --test bounds -- --ignored --nocapture`. `RUBOFF_SCENES` sets how
//! many scenes (200), `RUBOFF_FIRST` the first one's number, `RUBOFF_SIZE` the megapixels of each picture (2.5), `RUBOFF_KEEP` a folder
//! for the pictures of scenes that fail, each with its true outline beside.
//! Scenes whose rim was missed (another line followed, over 1 % of the points out by more than `MISSED`) are counted apart:
//! there the search is to blame, and no bound can mend it.

// Its table is the point of it.
#![allow(clippy::print_stdout)]

mod judge;
mod render;

use judge::{Figures, compare};
use rayon::prelude::*;
use render::file::{self, Written};
use render::many::{Lot, lot};
use std::path::Path;

/// Megapixels of each picture.
const SIZE: f64 = 2.5;

fn number<T: std::str::FromStr>(name: &str, otherwise: T) -> T {
    std::env::var(name).ok().and_then(|v| v.parse().ok()).unwrap_or(otherwise)
}

/// One scene through the program: its figures, or the program's complaint.
fn traced(lot: &Lot, folder: &Path) -> Result<Figures, String> {
    let (picture, out) = (folder.join("shot.jpg"), folder.join("out"));
    std::fs::write(&picture, file::jpeg(&lot.scene.draw(), &Written::phone(lot.film_mm))).expect("written");
    let (pitch, thickness) = (format!("{}mm", lot.pitch), format!("{:.2}mm", lot.scene.pieces[0].thickness));
    let words = ["--sheet", lot.kind, "--pitch", &pitch, "--thickness", &thickness, "--out"];
    let output = judge::command().arg(&picture).args(words).arg(&out).output().expect("the program starts");
    if !output.status.success() {
        return Err(String::from_utf8_lossy(&output.stderr).trim().to_string());
    }
    let given = judge::outline(&out, "shot");
    let pieces = given["pieces"].as_array().expect("pieces");
    if pieces.len() != 1 {
        return Err(format!("{} pieces for one", pieces.len()));
    }
    Ok(compare(&pieces[0], &lot.scene.pieces[0]))
}

/// The picture, what a person would tell of it, and points of the true outline in sheet mm.
fn keep(lot: &Lot, folder: &Path) {
    if let Some(to) = std::env::var_os("RUBOFF_KEEP") {
        let to = Path::new(&to).join(&lot.name[..3]);
        std::fs::copy(folder.join("shot.jpg"), to.with_extension("jpg")).expect("the folder is there");
        let piece = &lot.scene.pieces[0];
        let told = format!(
            "{}, {:?}\n--sheet {} --pitch {}mm --thickness {:.2}mm\n",
            lot.name, lot.scene.light, lot.kind, lot.pitch, piece.thickness
        );
        let points: String = piece.outline.points(0.5).iter().map(|p| format!("{:.4} {:.4}\n", p[0], p[1])).collect();
        std::fs::write(to.with_extension("txt"), told + &points).expect("the folder is there");
    }
}

/// Farther out than this, mm, another line was followed.
const MISSED: f64 = 0.8;

/// Pictures with 95 % of the outline no nearer than this, mm, are kept too: what is asked of plain cloth.
const FAR: f64 = 0.2;

/// Points and bounds of all scenes together.
#[derive(Default)]
struct Sum {
    scenes: usize,
    distances: Vec<f64>,
    bounds: Vec<f64>,
    kept: f64,
    kept_along: f64,
}

impl Sum {
    fn add(&mut self, f: &Figures) {
        self.scenes += 1;
        self.distances.extend(&f.at_edges);
        self.bounds.extend(&f.bounds);
        self.kept += f.held * f.bounds.len() as f64;
        self.kept_along += f.held_along * f.bounds.len() as f64;
    }

    /// Share held, and median bound over the measured 95 %.
    fn verdict(&mut self, name: &str) -> (f64, f64) {
        self.distances.sort_by(f64::total_cmp);
        self.bounds.sort_by(f64::total_cmp);
        let at = |v: &[f64], p: f64| v.get((v.len().saturating_sub(1) as f64 * p) as usize).copied().unwrap_or(f64::NAN);
        let (p95, median, n) = (at(&self.distances, 0.95), at(&self.bounds, 0.5), self.bounds.len().max(1) as f64);
        println!(
            "{name:>9}: {} scenes, bound held for {:.2} % of {n} points, place by place {:.2} %, measured 95 % {p95:.3} mm, median bound {median:.3} mm, ratio {:.2}",
            self.scenes,
            self.kept / n * 100.0,
            self.kept_along / n * 100.0,
            median / p95
        );
        (self.kept / n, median / p95)
    }
}

/// All scenes of the lot, those whose rim was found, and how many were not traced.
fn measure() -> (Sum, Sum, Vec<String>) {
    let (first, count, size) = (number("RUBOFF_FIRST", 1_u64), number("RUBOFF_SCENES", 200_u64), number("RUBOFF_SIZE", SIZE));
    let [mut all, mut plain, mut hard, mut found] = [(); 4].map(|()| Sum::default());
    let mut failed = Vec::new();
    let run = |seed: u64| {
        let lot = lot(seed, size);
        let folder = tempfile::tempdir().expect("a folder");
        let traced = traced(&lot, folder.path());
        if traced.as_ref().map_or(true, |f| f.held < 0.8 || f.false_corners > 0 || f.laid.p95() > FAR) {
            keep(&lot, folder.path());
        }
        (lot, traced)
    };
    // The program itself is not kept busy by one picture; two at a time use both cores.
    let runs: Vec<_> = (first..first + count).into_par_iter().map(run).collect();
    for (lot, traced) in runs {
        let hard_one = if lot.hard { " (hard)" } else { "" };
        match traced {
            Ok(f) => {
                let missed = f.at_edges.iter().filter(|d| **d > MISSED).count() as f64 / f.at_edges.len().max(1) as f64;
                println!(
                    "{:60} p95 {:.3} max {:.3} bias {:+.3} scale {:+5.0} held {:.3} bound {:.3} missed {missed:.3} corners {:.2}/{:.2} false {}{hard_one}",
                    lot.name,
                    f.laid.p95(),
                    f.laid.max(),
                    f.laid.bias,
                    f.laid.scale_ppm,
                    f.held,
                    f.bounds.get(f.bounds.len() / 2).copied().unwrap_or(f64::NAN),
                    f.median_corner,
                    f.worst_corner,
                    f.false_corners,
                );
                all.add(&f);
                if lot.hard {
                    hard.add(&f)
                } else {
                    plain.add(&f)
                }
                if missed <= 0.01 {
                    found.add(&f);
                }
            }
            Err(why) => {
                println!("{:60} NOT TRACED: {why}{hard_one}", lot.name);
                failed.push(lot.name);
            }
        }
    }
    plain.verdict("plain");
    hard.verdict("hard");
    println!("not traced: {} of {count}; rim missed in {}", failed.len(), all.scenes - found.scenes);
    (all, found, failed)
}

/// Where the rim was found, what is claimed of it holds.
#[test]
#[ignore = "a measurement of minutes, run by .ci/run"]
fn bounds_hold_where_the_rim_was_found() {
    let (mut all, mut found, failed) = measure();
    all.verdict("all");
    let (held, ratio) = found.verdict("rim found");
    assert!((0.93..=0.99).contains(&held), "held for {held}");
    assert!(ratio <= 2.0, "bounds {ratio} times what is measured");
    let missed = (all.scenes - found.scenes + failed.len()) as f64 / (all.scenes + failed.len()) as f64;
    assert!(missed < MOST_MISSED, "{missed} of the scenes missed or not traced");
}

/// A ratchet: tighten it, never loosen it.
const MOST_MISSED: f64 = 0.27;

/// The aim: over all scenes.
#[test]
#[ignore = "a measurement of minutes, and not yet met: see DEVELOPERS.md"]
fn bounds_hold_over_many_scenes() {
    let (mut all, _, failed) = measure();
    let (held, ratio) = all.verdict("all");
    assert!((0.93..=0.99).contains(&held), "held for {held}");
    assert!(ratio <= 2.0, "bounds {ratio} times what is measured");
    assert!(failed.is_empty(), "not traced: {failed:?}");
}
