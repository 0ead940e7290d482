//! `ruboff start` as a person calls it.

use assert_cmd::Command;
use ruboff::notes::Notes;
use std::path::Path;

fn start(words: &[&str]) -> (i32, String, String) {
    let out = Command::cargo_bin("ruboff").expect("built").arg("start").args(words).output().expect("run");
    let text = |b: Vec<u8>| String::from_utf8(b).expect("text");
    (out.status.code().expect("a code"), text(out.stdout), text(out.stderr))
}

fn written(folder: &Path) -> Notes {
    Notes::from_text(&std::fs::read_to_string(folder.join("garment.toml")).expect("written")).unwrap_or_else(|e| panic!("{e}"))
}

#[test]
fn a_page_for_each_kind_and_the_list_of_kinds() {
    let (code, list, _) = start(&[]);
    assert_eq!(code, 0);
    for kind in ["top", "skirt", "trousers", "dress", "coat", "waistcoat", "sleeve"] {
        assert!(list.contains(kind), "{list}");
        let (code, page, talk) = start(&[kind]);
        assert_eq!((code, talk.as_str()), (0, ""));
        assert!(page.contains("Pieces to find") && page.contains("RECORD") && page.contains("conservator"), "{page}");
    }
    let (code, _, talk) = start(&["moonsuit"]);
    assert_eq!((code, talk.lines().count()), (2, 1), "{talk}");
    assert!(talk.contains("waistcoat"), "{talk}");
}

#[test]
fn a_blank_record_is_written_once() {
    let dir = tempfile::tempdir().expect("a folder");
    let folder = dir.path().join("coat");
    let named = folder.to_str().expect("plain");
    let (code, said, _) = start(&["coat", "--fragile", "--out", named]);
    assert_eq!(code, 0, "{said}");
    assert!(written(&folder).garment.fragile);
    let before = std::fs::read(folder.join("garment.toml")).expect("read");
    let (code, _, talk) = start(&["skirt", "--out", named]);
    assert_eq!((code, talk.lines().count()), (2, 1));
    assert!(talk.contains("already"), "{talk}");
    assert_eq!(std::fs::read(folder.join("garment.toml")).expect("read"), before);
}

#[test]
fn pictures_that_are_there_are_listed() {
    let dir = tempfile::tempdir().expect("a folder");
    let named = dir.path().to_str().expect("plain");
    let (code, _, talk) = start(&["--from", named]);
    assert_eq!(code, 2);
    assert!(talk.contains("no picture"), "{talk}");
    for file in ["back.JPG", "left-sleeve.tif", "notes.txt", ".hidden.jpg"] {
        std::fs::write(dir.path().join(file), b"").expect("written");
    }
    assert_eq!(start(&["top", "--from", named]).0, 0);
    let notes = written(dir.path());
    let shots: Vec<_> = notes.shots.iter().map(|s| (s.picture.as_deref(), s.piece.as_deref())).collect();
    assert_eq!(shots, [(Some("back.JPG"), Some("back")), (Some("left-sleeve.tif"), Some("left sleeve"))]);
    assert_eq!(notes.garment.kind.as_deref(), Some("top"));
}
