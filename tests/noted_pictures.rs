//! What the notes of a picture ask of its tracing: the line, how many pieces; and notes that lie beside a single picture.

use assert_cmd::Command;
use serde_json::Value;
use std::fs;
use std::path::{Path, PathBuf};

/// The demo's waistcoat front in a folder of its own, with notes in a file of that name.
fn shop(notes: &str, text: &str) -> (tempfile::TempDir, PathBuf) {
    let dir = tempfile::tempdir().expect("a folder");
    let scans = dir.path().join("scans");
    fs::create_dir_all(&scans).expect("made");
    let demo = Path::new(env!("CARGO_MANIFEST_DIR")).join("examples/wardrobe/millers-waistcoat/left-front.jpg");
    fs::copy(demo, scans.join("left-front.jpg")).expect("copied");
    fs::write(scans.join(notes), text).expect("written");
    (dir, scans)
}

fn traced(scans: &Path, more: &[&str]) -> (Value, String) {
    let out = scans.with_file_name("traced");
    let mut call = Command::cargo_bin("ruboff").expect("built");
    let run = call.arg("trace").arg(scans).args(["--pitch", "1in", "--out"]).arg(&out).args(more).output().expect("run");
    let text = fs::read_to_string(out.join("left-front/outline.json")).unwrap_or_else(|_| "{}".into());
    let said = format!("{}{}", String::from_utf8_lossy(&run.stdout), String::from_utf8_lossy(&run.stderr));
    (serde_json::from_str(&text).expect("a record"), said)
}

#[test]
fn notes_beside_a_single_picture_are_its_own() {
    let (_dir, scans) = shop("left-front.jpg.toml", "[[shot]]\nthickness = \"3 mm\"\n");
    fs::copy(scans.join("left-front.jpg"), scans.join("other.jpg")).expect("copied");
    let (record, said) = traced(&scans, &[]);
    assert_eq!(record["views"][0]["thickness_mm"], 3.0);
    assert!(!said.contains(".toml"), "they are not told as a file that is no picture: {said}");
    let other = fs::read_to_string(scans.with_file_name("traced").join("other/outline.json")).expect("traced");
    assert!(!other.contains("\"thickness_mm\": 3.0"), "its neighbour has nothing to do with them");
    assert!(!scans.with_file_name("traced").join("garment.json").exists(), "no garment is made of them");
}

#[test]
fn the_line_and_the_number_of_pieces_may_stand_in_the_notes() {
    let (_dir, scans) =
        shop("garment.toml", "[[shot]]\npicture = \"left-front.jpg\"\npieces = 1\nline = \"seam\"\nallowance = \"10 mm\"\n");
    let (record, _) = traced(&scans, &[]);
    let settings = &record["made_by"]["settings"];
    assert_eq!(
        (settings["line"].as_str(), settings["pieces"].as_u64(), settings["allowance_mm"].as_f64()),
        (Some("seam"), Some(1), Some(10.0))
    );
    assert!(record["pieces"][0]["edges"].as_array().is_some_and(|e| e.iter().all(|e| e["line"] == "seam")));
    for (wrong, what) in [("line = \"fold\"", "rim or seam"), ("pieces = 0", "1 to 200"), ("line = \"seam\"", "allowance")] {
        let (_dir, scans) = shop("garment.toml", &format!("[[shot]]\npicture = \"left-front.jpg\"\n{wrong}\n"));
        let (_, said) = traced(&scans, &[]);
        assert!(said.contains(what), "{wrong}: {said}");
    }
}

/// A corner that the notes lay exactly is drawn there.
#[test]
fn a_corner_lies_where_it_is_put() {
    let (_dir, scans) = shop("garment.toml", "[garment]\n");
    let (free, _) = traced(&scans, &[]);
    let corner = &free["pieces"][0]["corners"][1];
    let record = ruboff::write::Record::from_text(&free.to_string()).expect("a record");
    let view = &ruboff::write::views(&record).expect("views")[0];
    let at = |v: &Value| ruboff::length::Mm::new(v[0].as_f64().expect("x"), v[1].as_f64().expect("y"));
    let height = record.views[0].thickness_mm;
    let moved = at(&corner["at"]) + nalgebra::Vector2::new(2.5, -2.0);
    let px = view.to_px(moved, height);
    let notes =
        format!("[[shot]]\npicture = \"left-front.jpg\"\n[[shot.corner]]\nname = \"tip\"\npx = [{:.1}, {:.1}]\nexact = true\n", px.x, px.y);
    fs::write(scans.join("garment.toml"), &notes).expect("written");
    let (laid, _) = traced(&scans, &[]);
    let tip = laid["pieces"][0]["corners"].as_array().expect("corners").iter().find(|c| c["name"] == "tip").expect("the corner");
    let off = at(&tip["at"]).distance(moved);
    assert!(off < 0.1, "{off}");
    assert_eq!(laid["pieces"][0]["corners"].as_array().map(Vec::len), free["pieces"][0]["corners"].as_array().map(Vec::len));
    // Laid farther off it is the same corner still.
    let farther = at(&corner["at"]) + nalgebra::Vector2::new(7.0, -6.0);
    let px = view.to_px(farther, height);
    let far =
        format!("[[shot]]\npicture = \"left-front.jpg\"\n[[shot.corner]]\nname = \"tip\"\npx = [{:.1}, {:.1}]\nexact = true\n", px.x, px.y);
    fs::write(scans.join("garment.toml"), &far).expect("written");
    let (laid, _) = traced(&scans, &[]);
    assert_eq!(laid["pieces"][0]["corners"].as_array().map(Vec::len), free["pieces"][0]["corners"].as_array().map(Vec::len));
    assert!(laid["pieces"][0]["corners"].as_array().is_some_and(|all| all.iter().any(|c| at(&c["at"]).distance(farther) < 0.1)));
    fs::write(scans.join("garment.toml"), notes + "round = true\n").expect("written");
    assert!(traced(&scans, &["--anew"]).1.contains("keep one of the two"));
}

/// A fault of a garment's notes is said once, however many pictures it has.
#[test]
fn a_fault_of_the_notes_is_said_once() {
    let (_dir, scans) = shop("garment.toml", "[garment]\nnamed = \"x\"\n");
    for name in ["back.jpg", "side.jpg"] {
        fs::copy(scans.join("left-front.jpg"), scans.join(name)).expect("copied");
    }
    let (_, said) = traced(&scans, &[]);
    assert_eq!(said.matches("line 2").count(), 1, "{said}");
    assert!(said.contains("2 more pictures failed by the same notes"), "{said}");
    let (_, said) = traced(&scans, &["--json"]);
    assert_eq!(said.matches("\"failed\"").count(), 3, "{said}");
}
