//! The JSON that is read back: what is read writes itself the same, and everything that looks at a record can look at this one.

use ruboff::review::{Opinions, Pyramid, worst};
use ruboff::wardrobe::{Archive, FailedRecord, cards, kept_calls, report};
use ruboff::write::{DraftedRecord, GarmentRecord, Record, as_found, views};
use std::fs;
use std::path::Path;
use std::sync::{LazyLock, Mutex, PoisonError};
use tempfile::TempDir;

/// An archive that each record is laid in, in turn.
static ARCHIVE: LazyLock<Mutex<TempDir>> = LazyLock::new(|| Mutex::new(tempfile::tempdir().expect("a folder")));

/// # Panics
/// A property does not hold.
pub fn read(bytes: &[u8]) {
    let Ok(text) = std::str::from_utf8(bytes) else { return };
    if let Ok(record) = Record::from_text(text) {
        let written = record.to_text();
        assert_eq!(Record::from_text(&written).map(|r| r.to_text()).ok().as_ref(), Some(&written));
        looked_at(&record);
    }
    if let Ok(record) = GarmentRecord::from_text(text) {
        let written = record.to_text();
        assert_eq!(GarmentRecord::from_text(&written).map(|r| r.to_text()).ok().as_ref(), Some(&written));
    }
    if let Ok(record) = DraftedRecord::from_text(text) {
        record.pieces.iter().flat_map(|p| &p.edges).for_each(|e| drop(e.line()));
    }
    if let Ok(record) = FailedRecord::from_text(text) {
        let written = serde_json::to_string(&record).expect("plain fields always become JSON");
        assert_eq!(FailedRecord::from_text(&written).ok(), Some(record));
    }
    archived(bytes);
}

/// What is worked out of a record.
fn looked_at(record: &Record) {
    for piece in &record.pieces {
        if let Ok(layer) = as_found(piece) {
            assert!(layer.area() >= 0.0 && layer.perimeter().is_finite(), "{}", piece.name);
        }
    }
    if let Some(pyramid) = Pyramid::of(record) {
        let told = pyramid.told();
        assert!(told.width.max(told.height) <= 1 << 16 && told.origin_mm.iter().all(|v| v.is_finite()), "{told:?}");
    }
    assert!(worst(record).iter().all(|w| w.at.iter().all(|v| v.is_finite())));
    drop(views(record));
}

/// The same file where an archive would have it. One that is no JSON at all is passed over: that may be half written, which is waited for.
fn archived(bytes: &[u8]) {
    if serde_json::from_slice::<serde_json::Value>(bytes).is_err() {
        return;
    }
    let archive = ARCHIVE.lock().unwrap_or_else(PoisonError::into_inner);
    let root = archive.path();
    let holds = |word: &str| bytes.windows(word.len()).any(|w| w == word.as_bytes());
    if holds("ruboff-calls") {
        laid(root, ".ruboff/calls.json", bytes, || drop(kept_calls(root)));
    }
    if holds("ruboff-review") {
        laid(root, "review.json", bytes, || {
            if let Ok(opinions) = Opinions::open(root) {
                opinions.save(root).expect("kept");
                assert_eq!(Opinions::open(root).ok(), Some(opinions));
            }
        });
    }
    for file in ["outline", "garment", "failed"] {
        if holds(&format!("ruboff-{file}")) {
            laid(root, &format!("coat/{file}.json"), bytes, || looked_up(root));
        }
    }
}

fn laid(root: &Path, file: &str, bytes: &[u8], look: impl FnOnce()) {
    let file = root.join(file);
    fs::create_dir_all(file.parent().expect("a folder")).expect("made");
    fs::write(&file, bytes).expect("written");
    look();
    fs::remove_file(&file).expect("taken away");
}

/// Read as an archive, reported, and kept for look-up: the second time from what was kept, which says the same.
fn looked_up(root: &Path) {
    let read = Archive::read(root).expect("an archive");
    assert!(read.garments.len() + read.loose.len() == 1, "one record, one entry");
    report::write(root, &read).expect("written");
    let [anew, kept] = [true, false].map(|anew| cards(root, anew).expect("an archive"));
    assert_eq!(anew.cards, kept.cards);
}
