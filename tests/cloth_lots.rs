//! Rough outlines of cloth on scenes drawn by lot: nothing plain is refused, and the outline is right to a few pixels.
//!
//! `RUBOFF_SCENES` and `RUBOFF_FIRST` choose the scenes, `RUBOFF_SIZE` the megapixels, `RUBOFF_WORKINGS` a folder for check
//! pictures; the long run is asked for: `cargo test --release --test cloth_lots -- --ignored --nocapture`.
#![allow(clippy::print_stdout)]

mod render;
mod rim;

use render::file::{self, Written};
use render::many::{Lot, lot};
use std::path::{Path, PathBuf};

/// Megapixels of each picture.
const SIZE: f64 = 2.5;

fn number(name: &str, otherwise: f64) -> f64 {
    std::env::var(name).ok().and_then(|v| v.parse().ok()).unwrap_or(otherwise)
}

/// The lot's picture as a file; kept in the folder `RUBOFF_KEEP`, when that is given, and not drawn again.
fn picture(lot: &Lot, size: f64, folder: &Path) -> PathBuf {
    let keep = std::env::var_os("RUBOFF_KEEP").map(PathBuf::from);
    let file = keep.as_deref().unwrap_or(folder).join(format!("lot{}-{size}.jpg", &lot.name[..3]));
    if !file.exists() {
        std::fs::write(&file, file::jpeg(&lot.scene.draw(), &Written::phone(lot.film_mm))).expect("written");
    }
    file
}

/// Draws scenes and returns what is wrong with each.
fn look(seeds: impl Iterator<Item = u64>, size: f64) -> Vec<String> {
    let folder = tempfile::tempdir().expect("a folder");
    let mut bad = Vec::new();
    for lot in seeds.map(|seed| lot(seed, size)) {
        let file = picture(&lot, size, folder.path());
        let found = rim::find(&file, lot.kind, lot.pitch, &lot.scene, &lot.name[..3]);
        println!("{:58} {}{}", lot.name, rim::words(&found), if lot.hard { " (hard)" } else { "" });
        if let Some(why) = rim::fault(&found) {
            bad.push(format!("{}: {why}", lot.name));
        }
    }
    bad
}

#[test]
#[ignore = "a measurement of minutes"]
fn rough_rims_of_many_scenes() {
    let (first, count) = (number("RUBOFF_FIRST", 1.0) as u64, number("RUBOFF_SCENES", 80.0) as u64);
    let bad = look(first..first + count, number("RUBOFF_SIZE", SIZE));
    assert!(bad.is_empty(), "{} of {count}: {bad:#?}", bad.len());
}

/// Dark cloth without a colour of its own, all of it as likely a shadow, on sheets with marks at the nodes only: a navy bodice on dots, a
/// black collar on crosses.
#[test]
fn dark_cloth_between_sparse_marks() {
    let bad = look([168, 108].into_iter(), SIZE);
    assert!(bad.is_empty(), "{bad:#?}");
}
