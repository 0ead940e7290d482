//! The desk of the checking page on the demo, as a person uses it: looked at, corrected, taken back; and a run afterwards that finds nothing
//! left to do, since what is corrected here is what a run would make of the notes.

mod render;

use assert_cmd::Command;
use nalgebra::{DMatrix, DVector};
use render::camera::{Camera, Stand};
use render::cloth::{Fabric, Piece};
use render::curve::Curve;
use render::file::{Written, jpeg};
use render::scene::Scene;
use render::shapes::around;
use render::sheet::{Sheet, srgb};
use ruboff::length::Px;
use ruboff::notes::{Notes, Tape};
use ruboff::review::mend::Mend;
use ruboff::review::{Desk, ReviewError, Verdict};
use ruboff::view::{Lens, LensProfile};
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
    desk.settle();
    let said = shop.trace();
    assert!(said.iter().all(|l| l["unchanged"] == true), "taken back, a run finds nothing to do: {said:?}");
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

/// A lens that the call named is the one a correction is made with, and the run after it finds nothing to do.
#[test]
fn the_lens_of_the_call_is_kept_to() {
    let shop = Shop::new();
    let record = shop.desk().look(BODICE, "").expect("shown")["record"].clone();
    let view = &record["views"][0];
    let number = |v: &Value| v.as_f64().expect("a number");
    let size = ["width_px", "height_px"].map(|k| record["pictures"][0][k].as_u64().expect("a size") as usize);
    let centre = Px::new(number(&view["centre_px"][0]), number(&view["centre_px"][1]));
    let profile = LensProfile {
        name: "the shop's lens".into(),
        camera: None,
        tag_focal_px: None,
        size,
        lens: Lens::ideal(number(&view["focal_px"]), centre),
        covariance: DMatrix::from_diagonal(&DVector::from_vec(vec![100.0, 25.0, 25.0, 1e-4, 1e-4, 1e-8, 1e-8])),
        pictures: 9,
        nodes: 2000,
        rms_px: 0.1,
        kept_out_rms_px: None,
        solved_on: "2026-11-25".into(),
    };
    let file = shop.wardrobe.with_file_name("lens.toml");
    fs::write(&file, profile.to_text()).expect("written");
    let run = || {
        let mut call = Command::cargo_bin("ruboff").expect("built");
        let folder = shop.wardrobe.join("ferrywomans-bodice");
        call.arg("trace").arg(folder).args(["--pitch", "1in", "--json", "--lens"]).arg(&file).arg("--out").arg(shop.traced.join("again"));
        let out = call.output().expect("run");
        assert!(out.status.success(), "{}", String::from_utf8_lossy(&out.stderr));
        String::from_utf8_lossy(&out.stdout).into_owned()
    };
    run();
    let (desk, at) = (Desk::open(&shop.traced.join("again"), None).expect("an archive"), "front");
    let look = desk.look(at, "").expect("shown");
    let now = desk.mend(at, version(&look), "", &mend(json!({"do": "settings", "thickness": "2 mm"}))).expect("mended");
    assert_eq!(now["record"]["made_by"]["settings"]["lens"], "the shop's lens");
    desk.settle();
    let said = run();
    assert!(said.lines().all(|l| l.contains("\"unchanged\":true")), "{said}");
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

/// Three cloths of different size on one sheet.
fn three_cloths() -> Vec<u8> {
    let cloth = |name: &str, [x, y]: [f64; 2], [w, h]: [f64; 2]| {
        let outline = Curve::from([x, y]).line([x + w, y + 6.0]).line([x + w - 12.0, y + h]).line([x + 4.0, y + h - 8.0]).close();
        Piece::new(name, &outline, Fabric::plain(srgb(104, 60, 96)), 1.5)
    };
    let pieces = vec![
        cloth("body", [-230.0, -150.0], [210.0, 270.0]),
        cloth("cuff", [30.0, -140.0], [190.0, 120.0]),
        cloth("pocket", [50.0, 40.0], [130.0, 100.0]),
    ];
    let stand = Stand { film_mm: 26.0, tilt: 9.0, side: 200.0, roll: 2.0 };
    let camera = Camera::framing([1632, 1224], stand, &around(pieces.iter().map(|p| &p.outline), 45.0), 0.96);
    jpeg(&Scene::new(camera, Sheet::lines(25.4, [1000.0, 900.0]), pieces).draw(), &Written::phone(26))
}

/// What is told of pieces and edges that go by numbers stays with them when the numbers move; taken back, all is as it was.
#[test]
fn notes_of_pieces_and_edges_stay_with_them() {
    let dir = tempfile::tempdir().expect("a folder");
    let shop = Shop { wardrobe: dir.path().join("wardrobe"), traced: dir.path().join("traced"), _dir: dir };
    fs::create_dir_all(&shop.wardrobe).expect("made");
    fs::write(shop.wardrobe.join("cloths.jpg"), three_cloths()).expect("written");
    shop.trace();
    let (desk, at) = (shop.desk(), "cloths");
    let look = desk.look(at, "Wren").expect("shown");
    assert_eq!(look["record"]["pieces"].as_array().map(Vec::len), Some(3));
    let notch = mend(json!({"do": "notch", "piece": 1, "edge": 2, "at_mm": 30.0}));
    let notched = desk.mend(at, version(&look), "Wren", &notch).expect("mended");
    let place = |look: &Value| {
        let all = look["hints"]["notches"].as_array().expect("notches");
        assert_eq!(all.len(), 1, "{all:?}");
        self::at(&all[0]["at"])
    };
    let there = place(&notched);
    let same = |look: &Value| {
        let [x, y] = place(look);
        assert!((x - there[0]).hypot(y - there[1]) < 0.5, "the notch went from {there:?} to {:?}", [x, y]);
    };
    let before = shop.notes("cloths.jpg.toml");
    // The largest piece is left out: the others have other numbers from now on.
    let left = desk.mend(at, version(&notched), "Wren", &mend(json!({"do": "drop piece", "piece": 0}))).expect("mended");
    assert_eq!(left["record"]["pieces"].as_array().map(Vec::len), Some(2));
    same(&left);
    assert_eq!(left["hints"]["notches"][0]["piece"], "piece 1");
    let back = desk.undo(at, version(&left), "Wren").expect("taken back");
    assert_eq!(shop.notes("cloths.jpg.toml"), before);
    same(&back);
    // Another corner is none any more: the edges have other numbers from now on.
    let edge = back["record"]["pieces"][1]["edges"].as_array().expect("edges")[2].clone();
    let bend = (0..back["record"]["pieces"][1]["corners"].as_array().expect("corners").len())
        .find(|c| edge["from"] != *c && edge["to"] != *c)
        .expect("a corner away from the notch");
    let bent = desk.mend(at, version(&back), "Wren", &mend(json!({"do": "no corner", "piece": 1, "corner": bend}))).expect("mended");
    same(&bent);
    let held = mend(json!({"do": "no corner", "piece": 1, "corner": edge["from"]}));
    assert_eq!(desk.mend(at, version(&bent), "Wren", &held).expect_err("held").status(), 422);
    let e = bent["record"]["pieces"][1]["edges"].as_array().expect("edges").iter().position(|e| e["name"] == edge["name"]).expect("it");
    let renamed = mend(json!({"do": "edge", "piece": 1, "edge": e, "name": "cuff end"}));
    let called = desk.mend(at, version(&bent), "Wren", &renamed).expect("mended");
    same(&called);
    assert_eq!(called["hints"]["notches"][0]["edge"], "cuff end");
    let one = mend(json!({"do": "settings", "piece": "cuff"}));
    let several = desk.mend(at, version(&called), "Wren", &one).expect_err("three pieces").say();
    assert!(several.contains("several pieces"), "{several}");
    desk.settle();
    assert!(shop.trace().iter().all(|l| l["unchanged"] == true));
}

/// Two people's readings stand side by side, each as it was read.
#[test]
fn readings_stay_as_they_were_read() {
    let shop = Shop::new();
    let desk = shop.desk();
    let mut look = desk.look(BODICE, "Wren").expect("shown");
    for (by, written) in [("Wren", "19 1/8 in"), ("Ash", "486 mm"), ("wren", "19 1/4 in")] {
        let tape = Tape {
            what: "full length".into(),
            reading: written.parse().expect("a length"),
            piece: None,
            round: false,
            by: Some(by.into()),
            on: None,
            remarks: None,
            line: ruboff::notes::InLine::default(),
        };
        look = desk.tape(BODICE, version(&look), by, &tape, written).expect("written");
    }
    let notes = shop.notes("ferrywomans-bodice/garment.toml");
    let read = |mm: f64| Notes::from_text(&notes).expect("good").tapes.iter().filter(|t| (t.reading.mm() - mm).abs() < 1e-9).count();
    assert!(notes.contains("\"19 1/4 in\"") && !notes.contains("\"19 1/8 in\""), "{notes}");
    assert_eq!((read(488.95), read(486.0)), (1, 1), "{notes}");
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
