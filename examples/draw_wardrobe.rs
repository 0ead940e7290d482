//! Draws the demo's pictures again: `cargo run --release --example draw_wardrobe [FOLDER]`, by default `examples/wardrobe`.
//!
//! The pictures come from the tests' renderer, so their truth is known exactly; the same machine writes the same bytes.

#![allow(clippy::print_stdout)]

#[path = "../tests/render/mod.rs"]
mod render;

use std::path::PathBuf;

fn main() -> std::io::Result<()> {
    let folder = std::env::args_os().nth(1).map_or_else(|| PathBuf::from("examples/wardrobe"), PathBuf::from);
    for (name, scene) in render::wardrobe::all() {
        let file = folder.join(name);
        if let Some(parent) = file.parent() {
            std::fs::create_dir_all(parent)?;
        }
        let bytes = render::wardrobe::jpeg(&scene);
        std::fs::write(&file, &bytes)?;
        println!("{} ({} kB)", file.display(), bytes.len() / 1000);
    }
    Ok(())
}
