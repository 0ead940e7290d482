//! Gives the program a name for the state of its stages: a hash of the sources that decide what an outline is. Records carry it, so
//! that a wardrobe traced by other stages is traced anew and one traced by these is not.

use std::path::{Path, PathBuf};

/// Modules that come after the files of a picture: how results are listed or shown changes none of them.
const AFTER: [&str; 4] = ["wardrobe", "review", "cli", "main.rs"];

fn main() {
    let root = PathBuf::from(std::env::var_os("CARGO_MANIFEST_DIR").unwrap_or_default());
    let mut files = Vec::new();
    gather(&root.join("src"), &mut files);
    gather(&root.join("calibration/sheets"), &mut files);
    files.push(root.join("calibration/sheet-code.txt"));
    files.push(root.join("Cargo.lock"));
    files.sort();
    let mut hash = Fnv(0xcbf2_9ce4_8422_2325);
    for file in files {
        let below = file.strip_prefix(&root).unwrap_or(&file);
        if below.components().nth(1).is_some_and(|c| AFTER.iter().any(|a| c.as_os_str() == *a)) {
            continue;
        }
        hash.take(below.to_string_lossy().replace('\\', "/").as_bytes());
        hash.take(&std::fs::read(&file).unwrap_or_default());
    }
    println!("cargo::rustc-env=RUBOFF_STAGES={:016x}", hash.0);
    for watched in ["src", "calibration", "Cargo.lock"] {
        println!("cargo::rerun-if-changed={watched}");
    }
}

/// All files below a folder.
fn gather(folder: &Path, files: &mut Vec<PathBuf>) {
    let Ok(list) = std::fs::read_dir(folder) else { return };
    for path in list.filter_map(|e| Some(e.ok()?.path())) {
        if path.is_dir() { gather(&path, files) } else { files.push(path) }
    }
}

/// FNV-1a, 64 bit (Fowler, Noll and Vo 1991): enough to tell builds apart, and needs no crate.
struct Fnv(u64);

impl Fnv {
    fn take(&mut self, bytes: &[u8]) {
        for byte in bytes {
            self.0 = (self.0 ^ u64::from(*byte)).wrapping_mul(0x0000_0100_0000_01b3);
        }
    }
}
