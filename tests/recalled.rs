//! What a garment's record is good for by itself: walked and printed without pictures, outlines and notes, years after it was made.

#[path = "support/drawn_pieces.rs"]
mod drawn_pieces;

use assert_cmd::Command;
use drawn_pieces::{boxed, garment};
use ruboff::notes::Notes;
use ruboff::piece::{Piece, joins};
use ruboff::write::pattern::{Choices, pattern_of_drafted, pattern_of_garment, pattern_of_outline, tables_of_garment};
use ruboff::write::{DraftedRecord, GarmentRecord, Record, drafted_text};
use std::path::Path;

/// A skirt with opened pleats on a band: as drafted its waist is 460 mm long, as sewn 400, as long as the band.
const NOTES: &str = r#"[garment]
name = "lamplighter's skirt"
[[shot]]
picture = "skirt.jpg"
piece = "skirt"
side = "outside"
up = "front"
[[shot]]
picture = "band.jpg"
piece = "band"
side = "outside"
[piece.skirt]
open = true
cut = "1"
allowance = { all = "10 mm" }
[piece.skirt.grain]
along = ["c0", "c3"]
[[piece.skirt.pleat]]
name = "waist pleats"
edge = "e0"
between = [{ edge = "e0", at = "100 mm" }, { edge = "e0", at = "300 mm" }]
depth = "15 mm"
count = 2
laid = "to centre"
[[piece.skirt.notch]]
edge = "e1"
at = "150 mm"
[piece.band]
cut = "2, mirrored"
[[join]]
edges = ["skirt: e0", "band: e2"]
[[join]]
edges = ["skirt: e1", "skirt: e3"]
"#;

fn written(dir: &Path, name: &str, text: &str) {
    let file = dir.join(name);
    std::fs::create_dir_all(file.parent().expect("a folder")).expect("made");
    std::fs::write(file, text).expect("written");
}

fn told(dir: &Path, words: &[&str]) -> (Option<i32>, String, String) {
    let out = Command::cargo_bin("ruboff").expect("built").current_dir(dir).arg("true").args(words).output().expect("it runs");
    let text = |b: &[u8]| String::from_utf8_lossy(b).into_owned();
    (out.status.code(), text(&out.stdout), text(&out.stderr))
}

/// The record alone, in an empty folder, says of every join what notes and outlines say.
#[test]
fn a_record_alone_is_walked_like_its_outlines() {
    let dir = tempfile::tempdir().expect("a folder");
    let (record, outlines) = garment(NOTES, &[("skirt", &boxed(400.0, 600.0)), ("band", &boxed(400.0, 40.0))]);
    written(dir.path(), "whole/garment.toml", NOTES);
    for (name, outline) in ["skirt", "band"].iter().zip(&outlines) {
        written(dir.path(), &format!("whole/{name}/outline.json"), &outline.to_text());
    }
    written(dir.path(), "alone/garment.json", &record.to_text());
    let (code, lines, err) = told(dir.path(), &["alone"]);
    assert_eq!((code, err.as_str()), (Some(1), ""), "{lines}");
    assert!(lines.starts_with("skirt: e0 to band: e2: 400.0 and 400.0 mm, true"), "pleats are laid before the seam is walked: {lines}");
    assert!(lines.contains("1 notch against none"), "{lines}");
    for words in [&["--json"][..], &["--share"]] {
        let from = |place: &str| told(dir.path(), &[&[place], words].concat());
        assert_eq!(from("alone"), from("whole"), "{words:?}");
        assert_eq!(from("alone/garment.json"), from("whole"), "{words:?}");
    }
    let page = |place: &str| told(dir.path(), &[place, "--before-cutting"]).1.lines().skip(1).map(str::to_owned).collect::<Vec<_>>();
    assert_eq!(page("alone"), page("whole"));
    // The table of its seams is made of the same.
    let seams = tables_of_garment(&record).expect("tables").seams_csv;
    assert!(seams.lines().nth(1).is_some_and(|l| l.contains("400.00,400.00")), "{seams}");
}

/// Notches that were noted make sections, those that were only proposed do not: from the record alone as from the outlines.
#[test]
fn sections_are_the_same_from_the_record_alone() {
    let dir = tempfile::tempdir().expect("a folder");
    let more = "[[piece.skirt.notch]]\nedge = \"e3\"\nat = \"152 mm\"\nfrom = \"c0\"\n[piece.lining]\nfrom = \"skirt\"\n\
        [[join]]\nedges = [\"skirt: e2\", \"lining: e2\"]\n[[join]]\nedges = [\"skirt: e1\", \"lining: e1\"]\n";
    let notes = format!("{NOTES}{more}");
    let (record, outlines) = garment(&notes, &[("skirt", &boxed(400.0, 600.0)), ("band", &boxed(400.0, 40.0))]);
    assert!(record.to_text().contains("\"at_mm\""));
    written(dir.path(), "whole/garment.toml", &notes);
    for (name, outline) in ["skirt", "band"].iter().zip(&outlines) {
        written(dir.path(), &format!("whole/{name}/outline.json"), &outline.to_text());
    }
    written(dir.path(), "alone/garment.json", &record.to_text());
    let (code, lines, _) = told(dir.path(), &["alone"]);
    assert!(code == Some(1) && lines.contains("between notches: 150.0/152.0, 450.0/448.0 mm"), "{lines}");
    assert_eq!(told(dir.path(), &["alone"]).1, told(dir.path(), &["whole"]).1);
}

/// A dart that lay open is closed from the record alone, and from lines as drafted: a waist of 400 mm less its 20.
#[test]
fn what_lay_open_is_closed_from_the_record_alone() {
    let legs = "legs = [{ edge = \"e0\", at = \"190 mm\" }, { edge = \"e0\", at = \"210 mm\" }]";
    let dart = format!("[[piece.band.dart]]\nname = \"dart\"\n{legs}\npoint = {{ edge = \"e2\", at = \"200 mm\" }}\nintake = \"20 mm\"\n");
    let notes = format!("{NOTES}[[join]]\nedges = [\"band: e0\", \"band: e2\"]\n{dart}");
    let (record, _) = garment(&notes, &[("skirt", &boxed(400.0, 600.0)), ("band", &boxed(400.0, 40.0))]);
    let back = GarmentRecord::from_text(&record.to_text()).expect("read back");
    let (said, pieces) = (back.noted().expect("notes"), back.recalled().expect("pieces"));
    let long = |pieces: &[Piece]| joins(&said, pieces)[2].as_ref().expect("walked").walked.lengths;
    assert_eq!(long(&pieces), [380.0, 400.0]);
    let drafted = drafted_text(&pieces.iter().collect::<Vec<_>>(), &back.notes.as_written);
    assert_eq!(long(&DraftedRecord::from_text(&drafted).expect("read back").recalled().expect("pieces")), [380.0, 400.0]);
}

#[test]
fn what_a_record_keeps_is_what_was_drafted() {
    let (record, _) = garment(NOTES, &[("skirt", &boxed(400.0, 600.0)), ("band", &boxed(400.0, 40.0))]);
    let text = record.to_text();
    let back = GarmentRecord::from_text(&text).expect("read back");
    assert_eq!(back, record);
    assert_eq!(back.noted().expect("notes"), Notes::from_text(NOTES).expect("notes"));
    let pieces = back.recalled().expect("pieces");
    assert!((pieces[0].drafted().edges[0].length() - 460.0).abs() < 0.01 && (pieces[0].edges_of("e0").1 - 60.0).abs() < 1e-9);
    assert_eq!(joins(&back.noted().expect("notes"), &pieces).iter().filter(|j| j.is_ok()).count(), 2);
}

/// Outlines and drafted lines stand by themselves too: what cannot be told from them is said.
#[test]
fn other_records_are_walked_with_notes_beside_them() {
    let dir = tempfile::tempdir().expect("a folder");
    let (_, outlines) = garment(NOTES, &[("skirt", &boxed(400.0, 600.0)), ("band", &boxed(400.0, 40.0))]);
    written(dir.path(), "skirt.json", &outlines[0].to_text());
    written(dir.path(), "garment.toml", "[[join]]\nedges = [\"skirt: e1\", \"skirt: e3\"]\n");
    let (code, _, err) = told(dir.path(), &["skirt.json"]);
    assert!(code == Some(2) && err.contains("[[join]]"), "{err}");
    let (code, page, _) = told(dir.path(), &["skirt.json", "--before-cutting"]);
    assert!(code == Some(1) && page.contains("1 outline"), "{page}");
    let (code, lines, _) = told(dir.path(), &["skirt.json", "--notes", "garment.toml"]);
    assert!(lines.contains("600.0 and 600.0 mm, true"), "{code:?} {lines}");
    let (_, lines, _) = told(dir.path(), &["skirt.json", "--notes", "garment.toml", "--share", "--out", "drafted.json"]);
    assert!(!lines.is_empty());
    let (_, lines, _) = told(dir.path(), &["drafted.json", "--notes", "garment.toml"]);
    assert!(lines.contains("600.0 and 600.0 mm, true"), "{lines}");
    written(dir.path(), "other.json", "{\"format\": \"recipe\", \"version\": 1}");
    let (code, _, err) = told(dir.path(), &["other.json"]);
    assert!(code == Some(2) && err.contains("other.json") && err.lines().count() == 1, "{err}");
    // A record of a newer program is told as such.
    let newer = outlines[0].to_text().replacen("\"version\": 1", "\"version\": 7", 1);
    written(dir.path(), "newer.json", &newer);
    let (code, _, err) = told(dir.path(), &["newer.json"]);
    assert!(code == Some(2) && err.contains("newer ruboff"), "{err}");
    let inches = outlines[0].to_text().replacen("\"units\": \"mm\"", "\"units\": \"in\"", 1);
    written(dir.path(), "inches.json", &inches);
    let (code, _, err) = told(dir.path(), &["inches.json"]);
    assert!(code == Some(2) && err.contains("its units are `in`"), "{err}");
}

/// The golden file of drafted lines, as `true --share` writes it, is read back whole.
#[test]
fn drafted_lines_are_read_back() {
    let golden = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/golden");
    let text = std::fs::read_to_string(golden.join("drafted.json")).expect("there");
    let record = DraftedRecord::from_text(&text).expect("a record");
    let pieces = record.recalled().expect("pieces");
    assert_eq!((pieces[0].notches.len(), pieces[0].notches[0].count), (1, 2));
    let made = pattern_of_drafted(&record, "coat", &Choices::default()).expect("a pattern");
    assert_eq!(made.pieces[0].notches.len(), 2);
    // What `true` writes of them again has the same lines and notches.
    let again = DraftedRecord::from_text(&drafted_text(&pieces.iter().collect::<Vec<_>>(), &serde_json::Value::Null)).expect("a record");
    let (a, b) = (&again.pieces[0], &record.pieces[0]);
    assert_eq!((&a.outline, &a.edges, &a.corners, &a.notches), (&b.outline, &b.edges, &b.corners, &b.notches));
}

/// `golden/earlier` keeps the first records of each format that there ever were, as they were written then.
#[test]
fn the_first_records_there_were_are_still_read() {
    let earlier = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/golden/earlier");
    let text = |name: &str| std::fs::read_to_string(earlier.join(name)).expect("there");
    let garment = GarmentRecord::from_text(&text("garment.json")).expect("a record");
    let made = pattern_of_garment(&garment, &Choices::default()).expect("a pattern");
    assert!(!made.pieces.is_empty() && garment.recalled().is_ok() && garment.noted().is_ok());
    let outline = Record::from_text(&text("outline.json")).expect("a record");
    assert!(!pattern_of_outline(&outline, &Choices::default()).expect("a pattern").pieces.is_empty());
    let (code, page, err) = told(&earlier, &["garment.json", "--before-cutting"]);
    assert!(matches!(code, Some(0 | 1)) && page.contains("from its record"), "{page}{err}");
}
