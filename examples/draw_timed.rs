//! Draws pictures that time and accuracy are measured on, with their truth: `cargo run --release --example draw_timed FOLDER [NAME …]`.
//!
//! Names: `phone-12mp`, `phone-48mp` and `scan-300dpi` (these three unless told), any other number of either, `ruled-10mm`, `filling-20`, `alike-20`.
//! Beside `NAME.jpg` stands `NAME.truth.json`: what is told of the picture, its outlines (SVG path data, mm of the sheet), and where four
//! nodes of the sheet are seen, as a person could point at them.

#![allow(clippy::print_stdout)]

#[path = "../tests/render/mod.rs"]
mod render;

use render::timed::{self, Timed};
use serde_json::{Value, json};
use std::path::{Path, PathBuf};

const USUAL: [&str; 3] = ["phone-12mp", "phone-48mp", "scan-300dpi"];

fn truth(timed: &Timed) -> Value {
    let scene = &timed.scene;
    let pieces: Vec<Value> = scene.pieces.iter().map(|p| json!({ "name": p.name, "outline": p.outline.svg() })).collect();
    // A tenth of the picture's sides in from each of its corners, to the nearest node.
    let nearest = |at: [f64; 2]| scene.camera.sheet(at, 0.0).map(|mm| (mm / timed.pitch).round());
    let [w, h] = scene.camera.size.map(|n| n as f64);
    let shown = [[0.1, 0.1], [0.9, 0.1], [0.9, 0.9], [0.1, 0.9]].map(|[x, y]| {
        let node = nearest([x * w, y * h]);
        json!({ "node": node, "px": scene.camera.project(node.map(|n| n * timed.pitch), 0.0) })
    });
    json!({
        "size_px": scene.camera.size,
        "pitch_mm": timed.pitch,
        "thickness_mm": timed::HEIGHT,
        "film_mm": timed.written.film_mm,
        "dpi": timed.written.dpi,
        "told": timed.told(),
        "pieces": pieces,
        "shown": shown,
    })
}

fn draw(name: &str, folder: &Path) -> std::io::Result<()> {
    let unknown = || std::io::Error::other(format!("no picture is called {name}"));
    let timed = timed::named(name).ok_or_else(unknown)?;
    std::fs::create_dir_all(folder)?;
    let file = timed.file(folder);
    std::fs::write(folder.join(format!("{name}.truth.json")), format!("{:#}\n", truth(&timed)))?;
    println!("{} ({} kB)", file.display(), std::fs::metadata(&file)?.len() / 1000);
    Ok(())
}

fn main() -> std::io::Result<()> {
    let mut words = std::env::args().skip(1);
    let folder = PathBuf::from(words.next().ok_or_else(|| std::io::Error::other("which folder?"))?);
    let names: Vec<String> = words.collect();
    let usual = || USUAL.map(String::from).to_vec();
    let names = if names.is_empty() { usual() } else { names };
    names.iter().try_for_each(|name| draw(name, &folder))
}
