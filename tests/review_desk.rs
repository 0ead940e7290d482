//! The desk of the checking page on the demo, as a person uses it: looked at, corrected, taken back; and a run afterwards that finds nothing
//! left to do, since what is corrected here is what a run would make of the notes.

use assert_cmd::Command;
use ruboff::notes::Notes;
use ruboff::review::mend::Mend;
use ruboff::review::{Desk, ReviewError, Verdict};
use serde_json::{Value, json};
use std::fs;
use std::path::{Path, PathBuf};

/// The demo's pictures and what a run made of them.
struct Shop {
    _dir: tempfile::TempDir,
    wardrobe: PathBuf,
    traced: PathBuf,
}

const BODICE: &str = "ferrywomans-bodice/front";

impl Shop {
    /// One garment of the demo, with a loose picture beside it.
    fn new() -> Self {
        let dir = tempfile::tempdir().expect("a folder");
        let (wardrobe, traced) = (dir.path().join("wardrobe"), dir.path().join("traced"));
        let demo = Path::new(env!("CARGO_MANIFEST_DIR")).join("examples/wardrobe");
        for (from, to) in [
            ("ferrywomans-bodice/front.jpg", "ferrywomans-bodice/front.jpg"),
            ("ferrywomans-bodice/garment.toml", "ferrywomans-bodice/garment.toml"),
            ("millers-waistcoat/left-front.jpg", "scans/left-front.jpg"),
        ] {
            let to = wardrobe.join(to);
            fs::create_dir_all(to.parent().expect("a folder")).expect("made");
            fs::copy(demo.join(from), to).expect("copied");
        }
        let shop = Self { _dir: dir, wardrobe, traced };
        shop.trace();
        shop
    }

    /// A run over the pictures; what it said.
    fn trace(&self) -> Vec<Value> {
        let words =
            [self.wardrobe.as_os_str(), "--pitch".as_ref(), "1in".as_ref(), "--json".as_ref(), "--out".as_ref(), self.traced.as_os_str()];
        let out = Command::cargo_bin("ruboff").expect("built").arg("trace").args(words).output().expect("run");
        assert!(out.status.success(), "{}", String::from_utf8_lossy(&out.stderr));
        String::from_utf8_lossy(&out.stdout).lines().map(|l| serde_json::from_str(l).expect("a line of JSON")).collect()
    }

    fn desk(&self) -> Desk {
        Desk::open(&self.traced, None).expect("an archive")
    }

    fn notes(&self, file: &str) -> String {
        fs::read_to_string(self.wardrobe.join(file)).expect("notes")
    }
}

fn mend(of: Value) -> Mend {
    serde_json::from_value(of).expect("a correction")
}

fn version(look: &Value) -> &str {
    look["version"].as_str().expect("a version")
}

fn at(v: &Value) -> [f64; 2] {
    [v[0].as_f64().expect("x"), v[1].as_f64().expect("y")]
}

/// Everything that was corrected is in the notes, in the outline, and is what a run makes of the notes; taken back, all is as it was.
#[test]
fn a_correction_is_what_a_run_makes_of_the_notes() {
    let shop = Shop::new();
    let before = shop.notes("ferrywomans-bodice/garment.toml");
    let desk = shop.desk();
    let look = desk.look(BODICE, "Wren").expect("shown");
    assert_eq!((look["mendable"].as_bool(), look["undo"].as_str()), (Some(true), None));
    let outline = look["record"]["pieces"][0]["outline"].as_str().expect("an outline").to_owned();
    let corner = &look["record"]["pieces"][0]["corners"][0];
    let [x, y] = at(&corner["at"]);
    let moved = mend(json!({"do": "move corner", "piece": 0, "corner": 0, "to": [x + 1.5, y + 1.5]}));
    let now = desk.mend(BODICE, version(&look), "Wren", &moved).expect("mended");
    assert_ne!(version(&now), version(&look));
    assert_ne!(now["record"]["pieces"][0]["outline"], outline.as_str());
    let nearest = now["record"]["pieces"][0]["corners"].as_array().expect("corners").iter().map(|c| {
        let [a, b] = at(&c["at"]);
        (a - x - 1.5).hypot(b - y - 1.5)
    });
    assert!(nearest.fold(f64::INFINITY, f64::min) < 0.8, "the corner came along");
    assert!(shop.notes("ferrywomans-bodice/garment.toml").len() > before.len());

    // A second tab that saw the old state is told, and changes nothing.
    let late = desk.mend(BODICE, version(&look), "Wren", &moved);
    assert!(matches!(late, Err(ReviewError::Changed { .. })));

    // A run over all now has nothing to do.
    assert_eq!(desk.settle(), None);
    let said = shop.trace();
    assert!(said.iter().filter(|l| l["result"] == "traced" || l["result"] == "recorded").all(|l| l["unchanged"] == true), "{said:?}");

    let back = desk.undo(BODICE, version(&now), "Wren").expect("taken back");
    assert_eq!(back["record"]["pieces"][0]["outline"], outline.as_str());
    assert_eq!(shop.notes("ferrywomans-bodice/garment.toml"), before);
    assert!(matches!(desk.undo(BODICE, version(&back), "Wren"), Err(ReviewError::Cannot(_))));
}

/// A picture of no garment gets notes of its own beside it, which a run reads; its neighbours stay what they are.
#[test]
fn a_loose_picture_is_corrected_by_notes_of_its_own() {
    let shop = Shop::new();
    let desk = shop.desk();
    let loose = "scans/left-front";
    let look = desk.look(loose, "").expect("shown");
    let thicker = mend(json!({"do": "settings", "thickness": "2.5 mm"}));
    let now = desk.mend(loose, version(&look), "", &thicker).expect("mended");
    assert_eq!(now["settings"]["thickness"], "2.5 mm");
    assert!((now["record"]["views"][0]["thickness_mm"].as_f64().expect("a height") - 2.5).abs() < 1e-9);
    let notes = Notes::from_text(&shop.notes("scans/left-front.jpg.toml")).expect("good notes");
    assert_eq!(notes.shots[0].picture.as_deref(), Some("left-front.jpg"));
    desk.settle();
    let said = shop.trace();
    assert!(said.iter().all(|l| l["unchanged"] == true), "{said:?}");
    assert!(!shop.traced.join("scans/garment.json").exists(), "no garment is made of it");
    let back = desk.undo(loose, version(&now), "").expect("taken back");
    assert!(!shop.wardrobe.join("scans/left-front.jpg.toml").exists());
    assert_eq!(back["settings"]["thickness"], look["settings"]["thickness"]);
}

/// A picture that could not be traced by what its notes said is traced by what a person sets right.
#[test]
fn a_failure_is_mended_by_another_setting() {
    let shop = Shop::new();
    let file = shop.wardrobe.join("scans/left-front.jpg.toml");
    fs::remove_dir_all(shop.traced.join("scans")).expect("taken away");
    fs::write(&file, "# from the old list\n[[shot]]\nsheet = \"checker\"\npitch = \"20 mm\"\n").expect("written");
    let run = Command::cargo_bin("ruboff")
        .expect("built")
        .arg("trace")
        .arg(&shop.wardrobe)
        .args(["--pitch", "1in", "--out"])
        .arg(&shop.traced)
        .output();
    assert_eq!(run.expect("run").status.code(), Some(1));
    let (desk, loose) = (shop.desk(), "scans/left-front");
    let look = desk.look(loose, "Wren").expect("shown");
    assert_eq!((look["standing"].as_str(), look["mendable"].as_bool()), (Some("failed"), Some(true)));
    assert!(look["say"].as_str().is_some_and(|s| s.len() > 15));
    assert!(look["record"].is_null() && look["frame"]["px_per_mm"] == 1.0, "the picture as it is");
    assert!(desk.tile(loose, 0, 0, 0).is_ok());
    let right = mend(json!({"do": "settings", "sheet": "lines", "pitch": "1 in"}));
    let now = desk.mend(loose, version(&look), "Wren", &right).expect("mended");
    assert!(now["say"].is_null() && now["record"]["pieces"].as_array().is_some_and(|p| p.len() == 1));
    assert!(shop.notes("scans/left-front.jpg.toml").starts_with("# from the old list\n"));
    desk.settle();
    assert!(!shop.traced.join("scans/left-front/failed.json").exists());
    assert_ne!(desk.look(loose, "Wren").expect("shown")["standing"], "failed");
    assert!(shop.trace().iter().all(|l| l["unchanged"] == true));
}

/// A retake of the same name is what the next correction is made on.
#[test]
fn a_picture_taken_anew_is_the_one_corrected() {
    let shop = Shop::new();
    let desk = shop.desk();
    let loose = "scans/left-front";
    let look = desk.look(loose, "").expect("shown");
    let thicker = |mm: &str| mend(json!({"do": "settings", "thickness": mm}));
    let first = desk.mend(loose, version(&look), "", &thicker("2 mm")).expect("mended");
    desk.settle();
    fs::copy(shop.wardrobe.join("ferrywomans-bodice/front.jpg"), shop.wardrobe.join("scans/left-front.jpg")).expect("taken anew");
    let late = desk.mend(loose, version(&first), "", &thicker("3 mm"));
    assert!(matches!(late, Err(ReviewError::Changed { .. })), "another outline than was seen");
    let look = desk.look(loose, "").expect("shown");
    let area = |v: &Value| v["record"]["pieces"][0]["area_mm2"].as_f64().expect("an area");
    assert!((area(&look) / area(&first) - 1.0).abs() > 0.05);
    let now = desk.mend(loose, version(&look), "", &thicker("3 mm")).expect("mended");
    assert!((area(&now) / area(&look) - 1.0).abs() < 0.02);
}

/// What can't be done leaves notes and outline as they were.
#[test]
fn what_can_not_be_done_changes_nothing() {
    let shop = Shop::new();
    let (desk, before) = (shop.desk(), shop.notes("ferrywomans-bodice/garment.toml"));
    let look = desk.look(BODICE, "Wren").expect("shown");
    for bad in [
        json!({"do": "move corner", "piece": 7, "corner": 0, "to": [0.0, 0.0]}),
        json!({"do": "through", "at": [1e7, 0.0]}),
        json!({"do": "settings", "sheet": "moon dust"}),
        json!({"do": "settings", "line": "seam"}),
        json!({"do": "region", "is": "left out", "border": [[0.0, 0.0], [1.0, 1.0]]}),
        json!({"do": "drop seam", "n": 3}),
    ] {
        let refused = desk.mend(BODICE, version(&look), "Wren", &mend(bad.clone())).expect_err("refused");
        assert_eq!(refused.status(), 422, "{bad}: {}", refused.say());
        assert!((15..300).contains(&refused.say().chars().count()), "{}", refused.say());
    }
    assert_eq!(shop.notes("ferrywomans-bodice/garment.toml"), before);
    assert_eq!(desk.look(BODICE, "Wren").expect("shown")["version"], look["version"]);
    assert!(matches!(desk.look("../wardrobe", "Wren"), Err(ReviewError::NoEntry(_))));
    assert!(matches!(desk.tile("ferrywomans-bodice", 0, 0, 0), Err(ReviewError::NoEntry(_))));
}

/// Opinions, ticks, the garment beside it, tiles and residuals.
#[test]
fn opinions_checks_and_the_picture() {
    let shop = Shop::new();
    let desk = shop.desk();
    let look = desk.look(BODICE, "Wren").expect("shown");
    let queue = desk.queue("Wren").expect("a queue");
    assert_eq!(queue["entries"].as_array().map(Vec::len), Some(2));
    desk.opinion(BODICE, version(&look), "Wren", Some(Verdict::Retake), "the hem lies in shadow").expect("kept");
    let other = desk.look(BODICE, "Ash").expect("shown");
    assert_eq!((other["others"].as_array().map(Vec::len), other["others_hidden"].as_u64()), (Some(0), Some(1)));
    let given = desk.opinion(BODICE, version(&other), "Ash", Some(Verdict::Accepted), "").expect("kept");
    assert_eq!(given["others"][0]["note"], "the hem lies in shadow");
    assert!(given["others"][0]["differs_mm"].as_f64().is_some_and(|d| d < 1e-6));
    if let Some(doubt) = look["doubts"].as_array().and_then(|d| d.first()) {
        let ticked = desk.tick(BODICE, "Ash", doubt["id"].as_str().expect("an id"), true).expect("kept");
        assert_eq!(ticked["doubts"][0]["ticked"]["by"], "Ash");
    }
    let checks = desk.checks(BODICE).expect("checks");
    assert!(checks["measures"].as_array().is_some_and(|m| !m.is_empty()));
    let levels = look["frame"]["levels"].as_u64().expect("levels");
    let tile = desk.tile(BODICE, levels as u32 - 1, 0, 0).expect("a tile");
    assert_eq!(&tile[..2], b"\xFF\xD8");
    assert!(desk.thumbnail(BODICE).is_ok());
    let residuals = desk.residuals(BODICE).expect("residuals");
    assert!(residuals["nodes"].as_array().is_some_and(|n| n.len() > 100) && residuals["rms_mm"].as_f64().is_some_and(|r| r < 0.1));
}

/// Notes that were changed by hand while the page was open are what is shown; pictures that were moved are found where one says.
#[test]
fn what_was_changed_by_hand_is_shown() {
    let shop = Shop::new();
    let desk = shop.desk();
    let look = desk.look(BODICE, "").expect("shown");
    let file = shop.wardrobe.join("ferrywomans-bodice/garment.toml");
    let before = fs::read_to_string(&file).expect("notes");
    fs::write(&file, before.replace("thickness = \"1.5 mm\"", "thickness = \"4 mm\"")).expect("written");
    let now = desk.look(BODICE, "").expect("shown");
    assert_ne!(now["version"], look["version"]);
    assert_eq!(now["record"]["views"][0]["thickness_mm"], 4.0, "what is shown is what the notes ask");
    // Broken in the middle: the outline can be looked at and judged, and what is wrong is told.
    fs::write(&file, format!("{before}\n[[shot.corner]\n")).expect("written");
    let broken = desk.look(BODICE, "Wren").expect("shown");
    assert!(broken["why_not"].as_str().is_some_and(|w| w.contains("line ")) && !broken["record"].is_null());
    assert!(desk.opinion(BODICE, version(&broken), "Wren", Some(Verdict::Retake), "blurred").is_ok());
    let turned = mend(json!({"do": "settings", "thickness": "2 mm"}));
    assert_eq!(desk.mend(BODICE, version(&broken), "Wren", &turned).expect_err("refused").status(), 422);
    fs::write(&file, &before).expect("written");
    let picture = shop.wardrobe.join("ferrywomans-bodice/front.jpg");
    fs::rename(&picture, picture.with_extension("gone")).expect("moved");
    let gone = desk.look(BODICE, "").expect("shown");
    assert!(gone["why_not"].as_str().is_some_and(|w| w.contains("front.jpg")) && !gone["record"].is_null());
    fs::rename(picture.with_extension("gone"), &picture).expect("back");
    drop(desk);
    let moved = shop.wardrobe.with_file_name("attic");
    fs::rename(&shop.wardrobe, &moved).expect("moved");
    let desk = shop.desk();
    assert_eq!(desk.mendable(), 0);
    assert_eq!(desk.look(BODICE, "").expect("shown")["mendable"], false);
    let desk = Desk::open(&shop.traced, Some(&moved)).expect("an archive");
    assert_eq!(desk.look(BODICE, "").expect("shown")["mendable"], true);
}
