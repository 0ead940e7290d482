//! The demo is what it says: its notes are good, and its pictures are the renderer's.

mod render;

use ruboff::notes::Notes;
use std::path::{Path, PathBuf};

fn folder() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("examples/wardrobe")
}

#[test]
fn notes_are_good_and_name_their_pictures() {
    for (name, scene) in render::wardrobe::all() {
        let file = folder().join(name).with_file_name("garment.toml");
        let notes =
            Notes::from_text(&std::fs::read_to_string(&file).expect("readable")).unwrap_or_else(|e| panic!("{}: {e}", file.display()));
        let shot = &notes.shots[0];
        assert_eq!(shot.picture.as_deref().map(Path::new).and_then(Path::file_name), Path::new(name).file_name());
        let thickness = shot.thickness.as_ref().expect("a thickness").mm();
        assert!((thickness - scene.pieces[0].thickness).abs() < 1e-9, "{thickness}");
    }
}

/// The files differ from what is drawn here by no more than another machine's rounding would bring.
#[test]
fn pictures_are_the_renderers() {
    for (name, scene) in render::wardrobe::all() {
        let bytes = std::fs::read(folder().join(name)).expect("readable");
        assert!(bytes.len() < 400_000, "{name} is {} bytes", bytes.len());
        let (old, new) = (pixels(&bytes), pixels(&render::wardrobe::jpeg(&scene)));
        assert_eq!(old.len(), new.len());
        let mean = old.iter().zip(&new).map(|(a, b)| f64::from(a.abs_diff(*b))).sum::<f64>() / old.len() as f64;
        assert!(mean < 0.05, "{name} is out of date by {mean} levels: run `cargo run --release --example draw_wardrobe`");
    }
}

fn pixels(jpeg: &[u8]) -> Vec<u8> {
    image::load_from_memory(jpeg).expect("a picture").to_rgb8().into_raw()
}
