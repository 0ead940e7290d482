//! What the fuzz targets in `tests/fuzz` have found worth keeping, once through the same bodies: bytes from outside must never bring the
//! program down, hang it, or be read as what they are not. New bytes are sought by `.ci/run`, and for longer by hand (DEVELOPERS.md).

use std::fs;
use std::path::Path;
use std::time::{Duration, Instant};

#[path = "fuzz/bodies/length.rs"]
mod length;
#[path = "fuzz/bodies/notes.rs"]
mod notes;
#[path = "fuzz/bodies/path.rs"]
mod path;
#[path = "fuzz/bodies/patterns.rs"]
mod patterns;
#[path = "fuzz/bodies/picture.rs"]
mod picture;
#[path = "fuzz/bodies/profiles.rs"]
mod profiles;
#[path = "fuzz/bodies/records.rs"]
mod records;
#[path = "fuzz/bodies/requests.rs"]
mod requests;

/// No single case may take longer, on a busy machine either; the fuzzer allows as much.
const SLOW: Duration = Duration::from_secs(10);

/// Runs a target over all that is kept for it. A case that fails is named by its file.
fn replay(target: &str, read: fn(&[u8])) {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/fuzz/corpus").join(target);
    let mut files: Vec<_> = fs::read_dir(folder).expect("a corpus").map(|e| e.expect("an entry").path()).collect();
    files.sort();
    assert!(files.len() >= 10, "{target} has {} cases", files.len());
    for file in files {
        let bytes = fs::read(&file).expect("read");
        let begun = Instant::now();
        if std::panic::catch_unwind(|| read(&bytes)).is_err() {
            panic!("{target}: {}", file.display());
        }
        assert!(begun.elapsed() < SLOW, "{target}: {} took {:?}", file.display(), begun.elapsed());
    }
}

#[test]
fn lengths() {
    replay("length", length::read);
}

#[test]
fn garment_notes() {
    replay("notes", notes::read);
}

#[test]
fn path_data() {
    replay("path", path::read);
}

#[test]
fn patterns_of_records() {
    replay("patterns", patterns::read);
}

#[test]
fn pictures() {
    replay("picture", picture::read);
}

#[test]
fn profiles_of_sheets_lenses_and_prints() {
    replay("profiles", profiles::read);
}

#[test]
fn records_read_back() {
    replay("records", records::read);
}

#[test]
fn requests_to_the_checking_page() {
    replay("requests", requests::read);
}
