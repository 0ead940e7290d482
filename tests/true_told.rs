//! What `true` says of a garment, in words: bands, grains, edges sewn to themselves, records that can't be read.

#[path = "support/drawn_pieces.rs"]
mod drawn_pieces;

use assert_cmd::Command;
use drawn_pieces::{boxed, garment};
use ruboff::notes::Notes;
use ruboff::write::pattern::tables_of_garment;
use std::path::Path;

fn told(dir: &Path, words: &[&str]) -> (Option<i32>, String, String) {
    let out = Command::cargo_bin("ruboff").expect("built").current_dir(dir).arg("true").args(words).output().expect("it runs");
    let text = |b: &[u8]| String::from_utf8_lossy(b).into_owned();
    (out.status.code(), text(&out.stdout), text(&out.stderr))
}

fn recorded(dir: &Path, notes: &str, each: &[(&str, &[[f64; 2]])]) {
    std::fs::write(dir.join("garment.json"), garment(notes, each).0.to_text()).expect("written");
}

/// An elastic of 400 mm relaxed on a waist of 880: stretched by 120 %, which the headline says is true only where its cloth takes it.
#[test]
fn a_band_stretched_too_far_is_not_called_true() {
    for (stretch, code, headline) in [
        ("stretch = { lengthwise = \"80 %\" }", 1, "NOT true: the band, 400.0 mm relaxed, is stretched by 120 %, and its cloth takes 80 %"),
        ("stretch = { lengthwise = \"130 %\" }", 0, "true: the band, 400.0 mm relaxed, is stretched by 120 % (its cloth takes 130 %)"),
        ("", 0, "true: the band, 400.0 mm relaxed, is stretched by 120 % (how far its cloth stretches is not noted)"),
    ] {
        let dir = tempfile::tempdir().expect("a folder");
        let notes = format!("[piece.band]\nrelaxed = \"400 mm\"\n{stretch}\n[[join]]\nedges = [\"skirt: e0\", \"band: e2\"]\n");
        recorded(dir.path(), &notes, &[("skirt", &boxed(880.0, 600.0)), ("band", &boxed(880.0, 40.0))]);
        let (found, out, _) = told(dir.path(), &["garment.json"]);
        assert!(out.lines().next().is_some_and(|l| l.ends_with(headline)), "{stretch}: {out}");
        assert_eq!(found, Some(code), "{out}");
        let (_, out, _) = told(dir.path(), &["garment.json", "--json"]);
        assert!(out.contains("\"relaxed_mm\":400.0") && out.contains(if code == 1 { "\"stretch\"" } else { "\"true\"" }), "{out}");
    }
}

/// A band of 400 mm relaxed on a waist of 300 can't be sewn flat: told in the headline and before cutting, unless its ease or what draws it up is noted.
#[test]
fn a_band_longer_than_its_edge_is_not_called_true() {
    let gathered = "[[piece.band.gather]]\nname = \"g\"\nby = \"elastic\"\nedge = \"e2\"\n";
    for (more, join, good) in [
        ("", "", false),
        ("", "tolerance = \"90 mm\"\n", false),
        ("", "tolerance = \"101 mm\"\n", true),
        ("", "ease = \"-100 mm\"\n", true),
        (gathered, "", true),
    ] {
        let dir = tempfile::tempdir().expect("a folder");
        let notes = format!("[piece.band]\nrelaxed = \"400 mm\"\n{more}[[join]]\nedges = [\"skirt: e0\", \"band: e2\"]\n{join}");
        recorded(dir.path(), &notes, &[("skirt", &boxed(300.0, 600.0)), ("band", &boxed(400.0, 40.0))]);
        let (code, out, _) = told(dir.path(), &["garment.json"]);
        let headline = "NOT true: the band, 400.0 mm relaxed, is 100.0 mm longer than its edge, and nothing is noted that draws it up";
        assert!(code == Some(i32::from(!good)) && out.contains(headline) != good, "{more}{join}: {out}");
        let (_, page, _) = told(dir.path(), &["garment.json", "--before-cutting"]);
        let page = page.split_whitespace().collect::<Vec<_>>().join(" ");
        assert!(page.contains("LOOK Edges that are sewn together") != good, "{page}");
        assert!(page.contains("the band, 400.0 mm relaxed, is 100.0 mm longer than its edge") != good, "{page}");
    }
}

/// What lets a cap of 436 mm pass in an armhole of 391, an ease of up to 50 mm, stands in the row of the seams' tables; so does what a band may be stretched by.
#[test]
fn the_ease_that_lets_a_seam_pass_stands_in_its_row() {
    let notes = "[[shot]]\npicture = \"sleeve.jpg\"\npiece = \"sleeve\"\n[[shot.corner]]\nname = \"c0\"\npx = [0, 0]\n[[shot.corner]]\nname = \"c1\"\npx = [436, 0]\n[[shot.edge]]\nfrom = \"c0\"\nto = \"c1\"\nname = \"cap\"\n\
        [piece.band]\nrelaxed = \"300 mm\"\nstretch = { lengthwise = \"25 %\" }\n\
        [[join]]\nedges = [\"sleeve: cap\", \"body: e2\"]\n[[join]]\nedges = [\"body: e0\", \"body: e2\"]\nease = \"3 mm\"\n\
        [[join]]\nedges = [\"band: e0\", \"body: e2\"]\n";
    let each: [(&str, &[[f64; 2]]); 3] = [("sleeve", &boxed(436.0, 300.0)), ("body", &boxed(391.0, 300.0)), ("band", &boxed(300.0, 40.0))];
    let tables = tables_of_garment(&garment(notes, &each).0).expect("tables");
    let rows: Vec<Vec<&str>> = tables.seams_csv.lines().map(|l| l.split(',').collect()).collect();
    assert_eq!(rows[0][5..9], ["ease mm", "ease how", "least ease mm", "most ease mm"]);
    assert_eq!(rows[1][5..9], ["0.00", "assumed", "0.00", "50.00"]);
    assert_eq!(rows[2][5..9], ["3.00", "noted", "3.00", "3.00"]);
    assert_eq!(rows[3][5..9], ["0.00", "assumed", "-78.20", "0.00"]);
    assert!(tables.seams[0][4].contains("with 45.0 mm of ease (0 to 50 mm are usual, assumed)"), "{:?}", tables.seams);
}

/// A grain that is noted along what the piece has not is not called recorded before the cloth is cut; nor in the record alone.
#[test]
fn a_grain_counts_where_it_was_placed() {
    let dir = tempfile::tempdir().expect("a folder");
    let notes = "[piece.skirt]\ncut = \"1\"\n[piece.skirt.grain]\nalong = [\"c0\", \"nowhere\"]\n[piece.band]\ncut = \"1\"\n[piece.band.grain]\nalong = [\"c0\", \"c3\"]\n";
    recorded(dir.path(), notes, &[("skirt", &boxed(400.0, 600.0)), ("band", &boxed(400.0, 40.0))]);
    let (_, page, _) = told(dir.path(), &["garment.json", "--before-cutting"]);
    let lines: Vec<&str> = page.lines().skip_while(|l| !l.contains("grain line")).take(3).collect();
    assert!(lines[0].starts_with("LOOK") && lines[1].contains("skirt: the places") && !lines[2].contains("band"), "{page}");
}

/// An edge sewn to itself is a slip of the pen, unless its piece is cut more than once.
#[test]
fn an_edge_is_not_sewn_to_itself() {
    let join = "[[join]]\nedges = [\"back: centre back\", \"back: centre  back\"]\n";
    let fault = Notes::from_text(&format!("[garment]\n{join}")).expect_err("a slip");
    assert!(
        fault.line == 2 && fault.words.contains("back: centre back is sewn to itself") && fault.words.contains("2, mirrored"),
        "{fault}"
    );
    for cut in ["1", "1, place on fold"] {
        assert!(Notes::from_text(&format!("[piece.back]\ncut = \"{cut}\"\n{join}")).is_err(), "{cut}");
    }
    assert!(Notes::from_text(&format!("[piece.back]\ncut = \"2, mirrored\"\n{join}")).is_ok());
    let lining = "[piece.lining]\nfrom = \"back\"\n[piece.back]\ncut = \"2, mirrored\"\n";
    assert!(Notes::from_text(&format!("{lining}{}", join.replace("back: ", "lining: "))).is_ok());
    let row = "[[join]]\nedges = [\"cuff: edge\", \"sleeve: end + cuff: edge\"]\n";
    assert!(Notes::from_text(row).is_err());
    // Sewn to its own likeness it is walked the same way, and what runs across the seam is told.
    let dir = tempfile::tempdir().expect("a folder");
    let notes = "[piece.back]\ncut = \"2, mirrored\"\n[[join]]\nedges = [\"back: e3\", \"back: e3\"]\n";
    recorded(dir.path(), notes, &[("back", &[[0.0, 0.0], [300.0, 60.0], [300.0, 600.0], [0.0, 600.0]])]);
    let (code, out, _) = told(dir.path(), &["garment.json"]);
    assert!(code == Some(1) && out.contains("600.0 and 600.0 mm, true") && out.contains("at c0, e0 and e0 make a point of 23°"), "{out}");
}

/// A record keeps what the notes say in lines of its own, of which a person knows nothing: no line is told by it.
#[test]
fn a_record_tells_no_line() {
    let dir = tempfile::tempdir().expect("a folder");
    let notes = "# mine\n\n[[join]]\nedges = [\"skirt: e9\", \"skirt: e2\"]\n[piece.skirt]\ncut = \"1\"\n";
    let (record, outlines) = garment(notes, &[("skirt", &boxed(400.0, 600.0))]);
    std::fs::write(dir.path().join("garment.json"), record.to_text()).expect("written");
    let (_, out, _) = told(dir.path(), &["garment.json"]);
    assert!(out.contains("skirt has no edge called \"e9\"") && !out.contains("(line"), "{out}");
    std::fs::create_dir(dir.path().join("skirt")).expect("made");
    std::fs::write(dir.path().join("skirt/outline.json"), outlines[0].to_text()).expect("written");
    std::fs::write(dir.path().join("garment.toml"), notes).expect("written");
    let (_, out, _) = told(dir.path(), &["."]);
    assert!(out.contains("(line 3 of the notes)"), "{out}");
}

/// A fault of a record is said once, and a piece that could not be derived is not called one that was not traced.
#[test]
fn faults_are_said_once() {
    let dir = tempfile::tempdir().expect("a folder");
    std::fs::write(dir.path().join("garment.json"), "{\"format\": \"ruboff-garment\", \"version\": 1, \"units\": \"mm\"}")
        .expect("written");
    let (code, _, err) = told(dir.path(), &["garment.json"]);
    assert!(code == Some(2) && err.matches("missing field").count() == 1, "{err}");
    let notes = "[garment]\nname = \"Lamplighter's skirt\"\nnumber = \"L 7\"\n[piece.skirt]\ncut = \"1\"\n[piece.facing]\nfrom = \"skirt\"\nalong = [\"e9\"]\nwidth = \"40 mm\"\n\
        [piece.interfacing]\nfrom = \"facing\"\n";
    let (record, outlines) = garment(notes, &[("skirt", &boxed(400.0, 600.0))]);
    let doubts: Vec<&str> = record.doubts.iter().map(|d| d.doubt.say.as_str()).filter(|s| s.contains("facing")).collect();
    assert_eq!(
        doubts,
        [
            "facing: it was not derived from skirt: there is no edge called \"e9\" (line 8 of the notes).",
            "interfacing: it is to be derived from facing, which could not be derived itself (line 11 of the notes)."
        ]
    );
    assert_eq!(record.name(), "Lamplighter's skirt");
    std::fs::create_dir(dir.path().join("skirt")).expect("made");
    std::fs::write(dir.path().join("skirt/outline.json"), outlines[0].to_text()).expect("written");
    std::fs::write(dir.path().join("garment.toml"), notes).expect("written");
    let (_, page, _) = told(dir.path(), &[".", "--before-cutting"]);
    assert!(page.contains("- facing is to be derived from skirt and was not.") && !page.contains("facing stands in the notes"), "{page}");
}
