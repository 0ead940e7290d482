//! The joined record of a garment: its golden file, and the folder of a garment traced whole.

use assert_cmd::Command;
use kurbo::BezPath;
use nalgebra::Matrix3;
use ruboff::length::{Mm, Px};
use ruboff::notes::Notes;
use ruboff::outline::{Corner, Edge, Outline, Shape};
use ruboff::piece::How;
use ruboff::sheet::SheetKind;
use ruboff::trace::{Budget, EdgeFound, Found, Line, Picture, SheetFound, Sources, Traced, Tracing};
use ruboff::view::{FocalFrom, Lens, Model, View};
use ruboff::write::{GarmentRecord, Record, Seen, Shown, measures, pieces};
use serde_json::{Map, json};
use std::path::{Path, PathBuf};

const NOTES: &str = r#"[garment]
name = "Stoker's waistcoat"
number = "LSP 0412/b"
date_earliest = "1905"
recorded_by = "wardrobe"
recorded_on = "2 March"
stretch = { crosswise = "3 %" }
[[shot]]
picture = "front.jpg"
piece = "front"
up = "front"
side = "inside out"
[[shot.corner]]
name = "underarm right"
px = [1, 1]
[[shot.corner]]
name = "hem right"
px = [2, 2]
[[shot.edge]]
from = "underarm right"
to = "hem right"
is = "seam"
true_seam = "-0.5 mm"
[piece.front]
kind = "body front"
cut = "1"
allowance = { all = "10 mm" }
[[join]]
edges = ["front: side right", "back: side right"]
ease = "2 mm"
[[tape]]
what = "chest"
reading = "40 in"
round = true
by = "apprentice"
[[tape]]
what = "shoulder"
reading = "147 mm"
"#;

/// A waistcoat's front, laid inside out: straight edges, so that every length is plain arithmetic.
fn front() -> Traced {
    let at = [(80.0, 0.0), (220.0, 50.0), (260.0, 250.0), (250.0, 600.0), (-250.0, 600.0), (-260.0, 250.0), (-220.0, 50.0), (-80.0, 0.0)];
    let mut names: Vec<String> = (0..8).map(|k| format!("corner {}", k + 1)).collect();
    // Seen from the wrong side, the wearer's right lies right on the page.
    names[2] = "underarm right".into();
    names[3] = "hem right".into();
    let edge = |k: usize| {
        let (a, b) = (at[k], at[(k + 1) % 8]);
        let path = BezPath::from_vec(vec![kurbo::PathEl::MoveTo(a.into()), kurbo::PathEl::LineTo(b.into())]);
        Edge { from: Some(k), to: Some((k + 1) % 8), path, shape: Shape::Straight, cut: false, along: vec![[0.0, 0.05]] }
    };
    let mut path = BezPath::new();
    path.move_to(at[0]);
    at[1..].iter().for_each(|p| path.line_to(*p));
    path.close_path();
    let found = |k: usize| EdgeFound {
        name: if k == 2 { "underarm right to hem right".into() } else { format!("edge {}", k + 1) },
        line: Line::Rim,
        bound: Some(0.2),
        along: vec![[0.0, 0.2]],
        found: Found::Picture,
        rough: None,
        pictures: vec![0],
    };
    let corner = |p: &(f64, f64)| Corner { at: Mm::new(p.0, p.1), error: 0.1, turn_deg: 60.0, rounded: 3.0, given: false };
    Traced {
        name: "front".into(),
        outline: Outline { path, corners: at.iter().map(corner).collect(), edges: (0..8).map(edge).collect() },
        corner_names: names,
        edges: (0..8).map(found).collect(),
        holes: Vec::new(),
        inner: Vec::new(),
        bound: Some(0.2),
        joined: None,
        points: Vec::new(),
    }
}

fn tracing() -> Tracing {
    let lens = Lens { focal: 3050.2, centre: Px::new(2015.5, 1511.5), k1: 0.0, k2: 0.0, p1: 0.0, p2: 0.0 };
    let model = Model::Pinhole { lens, rotation: Matrix3::identity(), translation: [-5.0, -7.5, 800.0].into() };
    let none = Sources { sheet: 0.0, grid: 0.0, lens: 0.0, edge: 0.1, thickness: 0.0 };
    Tracing {
        picture: Picture { file: "front.jpg".into(), blake3: "00ff".into(), width: 4032, height: 3024, photo: true },
        sheet: SheetFound {
            kind: SheetKind::Lines,
            number: None,
            measured: None,
            joined: None,
            pitch: [25.4; 2],
            nodes: 812,
            rms_px: 0.14,
            coverage: 0.93,
            held_out: None,
        },
        view: View::known(model, 4032, 3024),
        focal_from: Some(FocalFrom::Tag),
        lens_profile: None,
        px_per_mm: [3.1, 4.2],
        thickness: 1.5,
        more: Vec::new(),
        pieces: vec![front()],
        marks: Vec::new(),
        doubts: Vec::new(),
        budget: Budget { worst: none, median: none, not_measured: 0.0 },
        profiles: vec!["blake3 abcd".into()],
    }
}

fn record() -> GarmentRecord {
    let notes = Notes::from_text(NOTES).unwrap_or_else(|e| panic!("{e}"));
    let tracing = tracing();
    let mut settings = Map::new();
    settings.insert("sheet".into(), json!("lines"));
    let record = Record::of(&tracing, settings, tracing.profiles.clone());
    let found = pieces(&record, &notes.shots[0], &notes).expect("closed");
    let seen = Seen { record, pieces: found, outline: "front/outline.json".into(), beside: Vec::new() };
    let lost = Shown { file: "back.jpg".into(), shot: notes.shots[0].clone(), found: Err("the picture is too dark".into()) };
    let shown = [Shown { file: "front.jpg".into(), shot: notes.shots[0].clone(), found: Ok(Box::new(seen)) }, lost];
    GarmentRecord::of((&notes, NOTES), &shown, "folder", vec![json!({"on": "2 April", "why": "toile"})])
}

/// A slip of the pen in a name is told; names that a failed picture might have answered to are not.
#[test]
fn names_that_no_picture_answers_to_are_doubts() {
    let own = NOTES
        .replace("all = \"10 mm\"", "all = \"10 mm\", side = \"15 mm\", seam = \"12 mm\", flounce = \"20 mm\", \"raw edge\" = \"2 mm\"");
    let text = format!(
        "{own}\n[piece.frnt]\ncut = \"1\"\n\n[piece.lining]\nfrom = \"front\"\n\n[[tape]]\nwhat = \"ches\"\nreading = \"480 mm\"\n\n[[shot]]\npicture = \"bakc.jpg\"\n"
    );
    let notes = Notes::from_text(&text).unwrap_or_else(|e| panic!("{e}"));
    let tracing = tracing();
    let record = Record::of(&tracing, Map::new(), tracing.profiles.clone());
    let found = pieces(&record, &notes.shots[0], &notes).expect("closed");
    let seen = Seen { record, pieces: found, outline: "front/outline.json".into(), beside: Vec::new() };
    let shown = Shown { file: "front.jpg".into(), shot: notes.shots[0].clone(), found: Ok(Box::new(seen)) };
    let doubts = |shown: &[Shown]| -> Vec<String> {
        let record = GarmentRecord::of((&notes, &text), shown, "folder", Vec::new());
        record.doubts.iter().filter(|d| d.doubt.code == "unanswered").map(|d| d.doubt.say.clone()).collect()
    };
    let alone = doubts(std::slice::from_ref(&shown));
    for name in ["picture \"bakc.jpg\"", "piece \"frnt\"", "measure \"ches\""] {
        assert_eq!(alone.iter().filter(|d| d.contains(name)).count(), 1, "{name}: {alone:?}");
    }
    for (name, key) in [("piece \"frnt\"", "[piece.frnt]"), ("measure \"ches\"", "[[tape]]\nwhat = \"ches\"")] {
        let line = 1 + text[..text.find(key).expect(key)].lines().count();
        assert!(alone.iter().any(|d| d.contains(&format!("{name} (line {line} of the notes)"))), "{name} {line}: {alone:?}");
    }
    // Allowances for edges that are not there, with those that are; both sides are meant by `side`, and one edge is a seam.
    assert!(alone.iter().any(|d| d.contains("edge \"flounce\" of front") && d.contains("side right")), "{alone:?}");
    assert!(alone.iter().any(|d| d.contains("raw edge among the edges of front")), "{alone:?}");
    assert!(!alone.iter().any(|d| d.contains("\"side\"") || d.contains("seam among")), "{alone:?}");
    // A lining is in no picture and has none to be in.
    assert!(!alone.iter().any(|d| d.contains("\"front\"") || d.contains("\"lining\"")), "{alone:?}");
    let lost = Shown { file: "back.jpg".into(), shot: notes.shots[0].clone(), found: Err("the picture is too dark".into()) };
    assert_eq!(doubts(&[shown, lost]).len(), 1, "only the picture that is not there");
}

/// Compares with the golden file, or writes it anew when asked to.
fn golden(name: &str, text: &str) {
    let path = PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("tests/golden").join(name);
    if std::env::var_os("RUBOFF_GOLDEN").is_some_and(|v| v == "write") {
        std::fs::write(&path, text).expect("the golden folder is writable");
    }
    let want = std::fs::read_to_string(&path).expect("a golden file; make it with RUBOFF_GOLDEN=write");
    assert_eq!(text, want, "{name} differs; if that is meant, make it anew with RUBOFF_GOLDEN=write and read the difference");
}

#[test]
fn the_record_and_the_table() {
    let record = record();
    golden("garment.json", &record.to_text());
    golden("measures.csv", &measures(&record));
    assert_eq!(GarmentRecord::from_text(&record.to_text()).expect("read back"), record);
    assert!(GarmentRecord::from_text(&record.to_text().replace("ruboff-garment", "ruboff-outline")).is_err());
}

/// What a reader of the record relies on, said apart from the golden file.
#[test]
fn values_say_where_they_come_from() {
    let record = record();
    assert_eq!(record.id, "lsp-0412-b");
    let piece = &record.pieces[0];
    assert_eq!(piece.id, "lsp-0412-b/front");
    let side = piece.as_found.edges.iter().find(|e| e.name == "side right").expect("named by shape");
    assert_eq!((side.named, side.source.how, side.id.as_str()), (How::Assumed, How::Seen, "lsp-0412-b/front/side-right"));
    assert_eq!(side.is.as_ref().map(|t| (t.source.how, t.source.by.as_deref())), Some((How::Noted, Some("wardrobe"))));
    assert_eq!(side.true_seam_mm.as_ref().and_then(|t| t.value.as_f64()), Some(-0.5));
    // Mirrored once: the wearer's right lies left on the page of the pattern. The true seam lies 0.5 mm outside of the right side, which adds
    // a strip of that width. Its ends are cut off by the lines of its neighbours, which turn by 12.95° and 1.64° from being square to it
    // or in line with it (trigonometry).
    let drafted = &piece.as_drafted;
    let lean = (10f64 / 350.0).atan();
    let turn = lean + (40f64 / 200.0).atan();
    let more = drafted.lines.area_mm2 - piece.as_found.area_mm2;
    let strip = 0.5 * side.length_mm - 0.125 * (1.0 / turn.tan() + lean.tan());
    assert!(drafted.mirrored && (more - strip).abs() < 1e-3, "{more} {strip}");
    let at = |name: &str| drafted.lines.corners.iter().find(|c| c.name == name).expect("there").at;
    assert!(at("underarm right")[0] < at("underarm left")[0]);
    let again = drafted.lines.edges.iter().find(|e| e.name == "side right").expect("there");
    assert_eq!((again.named, again.is.is_some(), again.source.how), (How::Assumed, true, How::Noted));
    // What was done, in order, each with how it is known and, where a person told it, by whom.
    let done: Vec<(&str, How)> = drafted.changes.iter().map(|c| (c.what.split([' ', ',']).next().unwrap_or_default(), c.how)).collect();
    assert_eq!(done, [("so", How::Assumed), ("mirrored", How::Noted), ("moved", How::Noted)]);
    assert_eq!(drafted.changes[2].by.as_deref(), Some("wardrobe"));
    // The chest 1 in below the armhole: 2 x (260 - 10 x 25.4 / 350), and the tape's 40 in round are 508 mm flat.
    let chest = piece.measures.iter().find(|m| m.name == "chest").expect("a chest");
    assert!((chest.mm - 2.0 * (260.0 - 10.0 * 25.4 / 350.0)).abs() < 1e-3 && chest.half_round, "{}", chest.mm);
    let tape = &record.tape[0];
    assert_eq!((tape.source.how, tape.source.by.as_deref(), tape.source.on.as_deref()), (How::Taped, Some("apprentice"), Some("2 March")));
    assert!(!tape.against[0].agrees && (tape.against[0].seen_mm - tape.against[0].off_mm - 508.0).abs() < 1e-3);
    // The shoulders are 148.66 mm long: within a quarter of an inch of the tape.
    assert!(record.tape[1].against[0].agrees);
    assert_eq!(record.doubts.iter().map(|d| d.doubt.code.as_str()).collect::<Vec<_>>(), ["tape-disagrees"]);
    assert_eq!(record.joins[0].lengths_mm, [Some(side.length_mm), None]);
    assert_eq!((record.pictures[1].result.as_str(), record.pictures[1].say.as_deref()), ("failed", Some("the picture is too dark")));
    assert_eq!(record.changes.len(), 1);
    assert_eq!(record.notes.as_written["piece"]["front"]["cut"], "1");
}

/// A folder with notes is a garment; a picture named by itself is none.
#[test]
fn a_folder_of_the_demo_is_recorded() {
    let garment = Path::new(env!("CARGO_MANIFEST_DIR")).join("examples/wardrobe/millers-waistcoat");
    let out = tempfile::tempdir().expect("a folder");
    let trace = |what: &Path, out: &Path| {
        let run = Command::cargo_bin("ruboff").expect("built").arg("trace").arg(what).args(["--pitch", "1in", "--out"]).arg(out).output();
        String::from_utf8(run.expect("run").stdout).expect("text")
    };
    let single = out.path().join("single");
    assert_eq!(trace(&garment.join("left-front.jpg"), &single).lines().count(), 1);
    assert!(!single.join("garment.json").exists());
    let whole = out.path().join("whole");
    assert_eq!(trace(&garment, &whole).lines().count(), 2);
    let text = std::fs::read_to_string(whole.join("garment.json")).expect("written");
    let record = GarmentRecord::from_text(&text).expect("a record");
    assert_eq!((record.id.as_str(), record.pieces[0].name.as_str()), ("lsp-0412", "left front"));
    assert!(whole.join(record.pictures[0].outline.as_deref().expect("traced")).is_file());
    // A toile's corrections, written into the record by hand, outlast another run; nothing else differs.
    let changed = text.replace("\"changes\": []", "\"changes\": [\n    \"hem let down 6 mm\"\n  ]");
    assert_ne!(changed, text);
    std::fs::write(whole.join("garment.json"), &changed).expect("written");
    trace(&garment, &whole);
    assert_eq!(std::fs::read_to_string(whole.join("garment.json")).expect("there"), changed);
    // Another garment's record is not written over it, nor are its outlines.
    let other = out.path().join("other");
    std::fs::create_dir(&other).expect("a folder");
    std::fs::write(other.join("garment.toml"), "[garment]\nnumber = \"LSP 1\"\n").expect("written");
    // The same picture would be this garment under another number.
    let picture = std::fs::read(garment.join("left-front.jpg")).expect("there");
    std::fs::write(other.join("left-front.jpg"), [picture, b"another".to_vec()].concat()).expect("written");
    let outline = std::fs::read(whole.join("left-front/outline.json")).expect("there");
    assert_eq!(trace(&other, &whole), "");
    assert_eq!(std::fs::read_to_string(whole.join("garment.json")).expect("there"), changed);
    assert_eq!(std::fs::read(whole.join("left-front/outline.json")).expect("there"), outline);
}
