use super::*;
use crate::length::{Mm, Px};
use crate::notes::{Belongs, Draft, EdgeIs, Line, Notes, Place, ShotNotes};
use crate::write::{CornerRecord, EdgeRecord, Record};

/// The picture of the record: 3 px a millimetre, the sheet's origin at 300, 300.
fn px(at: Mm) -> Option<Px> {
    Some(Px::new(300.0 + 3.0 * at.x, 300.0 + 3.0 * at.y))
}

/// Two squares of 100 mm side by side, their corners and edges without names.
fn squares() -> Record {
    let mut record = Record::from_text(include_str!("../../../tests/golden/outline.json")).expect("the golden record");
    let square = |x: f64, name: &str| {
        let mut piece = record.pieces[0].clone();
        let at = [[x, 0.0], [x + 100.0, 0.0], [x + 100.0, 100.0], [x, 100.0]];
        let path = |a: [f64; 2], b: [f64; 2]| format!("M {} {} L {} {}", a[0], a[1], b[0], b[1]);
        piece.name = name.into();
        piece.outline = format!("M {x} 0 L {} 0 L {} 100 L {x} 100 Z", x + 100.0, x + 100.0);
        piece.corners =
            (0..4).map(|k| CornerRecord { at: at[k], name: format!("corner {}", k + 1), error_mm: 0.1, laid_mm: None }).collect();
        let edge = |k: usize| EdgeRecord {
            name: format!("edge {}", k + 1),
            from: Some(k),
            to: Some((k + 1) % 4),
            path: path(at[k], at[(k + 1) % 4]),
            length_mm: 100.0,
            ..piece.edges[0].clone()
        };
        piece.edges = (0..4).map(edge).collect();
        piece
    };
    let (a, b) = (square(0.0, "piece 1"), square(110.0, "piece 2"));
    record.pieces = vec![a, b];
    record.pictures[0].file = "a.jpg".into();
    record
}

fn mend(json: &str) -> Mend {
    serde_json::from_str(json).unwrap_or_else(|e| panic!("{json}: {e}"))
}

/// The notes after a correction.
fn after(text: &str, record: Option<&Record>, json: &str) -> Result<Notes, MendError> {
    let mut draft = Draft::from_text(text).expect("good notes");
    let shot = draft.notes().expect("good").shots.first().cloned().unwrap_or_default();
    let all = ["a.jpg".to_owned()];
    mend(json).write(&mut draft, &Where { picture: "a.jpg", all: &all, record, px: &px, notes: &shot })?;
    Ok(draft.notes().expect("good notes"))
}

fn shot(text: &str, json: &str) -> ShotNotes {
    after(text, Some(&squares()), json).unwrap_or_else(|e| panic!("{json}: {e}")).shots.remove(0)
}

fn refused(text: &str, json: &str) -> String {
    let said = after(text, Some(&squares()), json).expect_err(json).to_string();
    assert!((15..=300).contains(&said.chars().count()) && said.lines().count() == 1, "{said}");
    said
}

#[test]
fn a_corner_is_moved_under_its_own_name_and_takes_the_outline_along() {
    let near = shot("", r#"{"do": "move corner", "piece": 0, "corner": 1, "to": [100.3, 0.1]}"#);
    assert_eq!((near.corners.len(), near.corners[0].at.clone(), near.through.len()), (1, Place::Px(Px::new(600.9, 300.3)), 0));
    // Both pieces have a corner of that number.
    assert_eq!(near.corners[0].name, "corner 9");
    let text = "[[shot]]\npicture = \"a.jpg\"\n[[shot.corner]]\nname = \"corner 2\" # mine\npx = [600, 300]\n";
    let off = shot(text, r#"{"do": "move corner", "piece": 0, "corner": 1, "to": [103, -2]}"#);
    assert_eq!((off.corners[0].name.as_str(), off.corners.len()), ("corner 2", 1));
    assert_eq!(off.through, [off.corners[0].at.clone()]);
    // Moved again, it leaves no through-point behind.
    let text = "[[shot]]\npicture = \"a.jpg\"\n[[shot.corner]]\nname = \"corner 2\"\npx = [609, 294]\n[[shot.through]]\npx = [9, 9]\n[[shot.through]]\npx = [609, 294]\n";
    let again = shot(text, r#"{"do": "move corner", "piece": 0, "corner": 1, "to": [102, -2]}"#);
    assert_eq!(again.through, [Place::Px(Px::new(9.0, 9.0)), Place::Px(Px::new(606.0, 294.0))]);
    let gone = shot(text, r#"{"do": "drop corner", "name": "corner 2"}"#);
    assert!(gone.corners.is_empty() && gone.through.len() == 1);
}

#[test]
fn corners_are_named_added_and_taken_for_bends() {
    let text = "[[shot]]\npicture = \"a.jpg\"\n[[shot.corner]]\nname = \"neck\"\npx = [1, 1]\n[[shot.corner]]\nname = \"corner 1\"\npx = [300, 300]\n[[shot.edge]]\n\
        from = \"corner 1\"\nto = \"neck\"\n";
    let named = shot(text, r#"{"do": "name corner", "piece": 0, "corner": 0, "name": " hem left "}"#);
    assert_eq!((named.corners[1].name.as_str(), named.edges[0].from.as_str()), ("hem left", "hem left"));
    let added = shot("", r#"{"do": "name corner", "piece": 0, "corner": 0, "name": "hem left"}"#);
    assert_eq!((added.corners[0].name.as_str(), added.corners[0].at.clone()), ("hem left", Place::Px(Px::new(300.0, 300.0))));
    let new = shot("", r#"{"do": "add corner", "at": [50, 0.2], "name": "notch", "round": false}"#);
    assert!(!new.corners[0].round && new.through.is_empty());
    let bend = shot("", r#"{"do": "no corner", "piece": 1, "corner": 2}"#);
    assert!(bend.corners[0].round && bend.corners[0].at == Place::Px(Px::new(930.0, 600.0)));
    assert!(refused(text, r#"{"do": "name corner", "piece": 0, "corner": 1, "name": "neck"}"#).contains("neck"));
    assert!(refused(text, r#"{"do": "drop corner", "name": "neck"}"#).contains("edge"));
    assert!(refused(text, r#"{"do": "no corner", "piece": 0, "corner": 0}"#).contains("edge"));
    assert!(refused(text, r#"{"do": "drop corner", "name": "nowhere"}"#).contains("no note"));
    assert!(refused("", r#"{"do": "move corner", "piece": 2, "corner": 0, "to": [1, 1]}"#).contains("piece 2"));
    assert!(refused("", r#"{"do": "move corner", "piece": 0, "corner": 4, "to": [1, 1]}"#).contains("corner 4"));
    for bad in ["", "  ", "a\\nb", "a\\u202eb"] {
        refused("", &format!(r#"{{"do": "name corner", "piece": 0, "corner": 0, "name": "{bad}"}}"#));
    }
    refused("", &format!(r#"{{"do": "name corner", "piece": 0, "corner": 0, "name": "{}"}}"#, "ä".repeat(81)));
}

#[test]
fn what_is_said_of_an_edge_names_its_corners() {
    let said =
        shot("", r#"{"do": "edge", "piece": 0, "edge": 1, "name": "side left", "straight": true, "line": "fold", "is": "hem fold"}"#);
    let edge = &said.edges[0];
    assert_eq!(
        (edge.name.as_deref(), edge.straight, edge.line, edge.is),
        (Some("side left"), true, Some(Line::Fold), Some(EdgeIs::HemFold))
    );
    assert_eq!(said.corners.iter().map(|c| c.name.as_str()).collect::<Vec<_>>(), [edge.from.as_str(), edge.to.as_str()]);
    let text = "[[shot]]\npicture = \"a.jpg\"\n[[shot.corner]]\nname = \"corner 2\"\npx = [600, 300]\n[[shot.corner]]\nname = \"corner 3\"\npx = [600, 600]\n[[shot.edge]]\n\
        from = \"corner 2\"\nto = \"corner 3\"\nname = \"side\"\nshape = \"straight\"\n";
    let kept = shot(text, r#"{"do": "edge", "piece": 0, "edge": 1, "straight": null}"#);
    assert_eq!((kept.edges[0].name.as_deref(), kept.edges[0].straight), (Some("side"), false));
    let none = shot(text, r#"{"do": "edge", "piece": 0, "edge": 1, "name": null, "straight": false, "line": null, "is": null}"#);
    assert!(none.edges.is_empty() && none.corners.len() == 2);
    assert!(after("", Some(&squares()), r#"{"do": "edge", "piece": 0, "edge": 1, "name": null}"#).expect("nothing to do").shots.is_empty());
    assert!(refused("", r#"{"do": "edge", "piece": 0, "edge": 1, "name": "edge 1"}"#).contains("another"));
    let mut lens = squares();
    lens.pieces[0].edges.truncate(2);
    lens.pieces[0].edges[0].to = Some(1);
    (lens.pieces[0].edges[1].from, lens.pieces[0].edges[1].to) = (Some(1), Some(0));
    let two = after("", Some(&lens), r#"{"do": "edge", "piece": 0, "edge": 1, "line": "fold"}"#).expect_err("which of them");
    assert!(matches!(two, MendError::Edge(_)));
    (lens.pieces[0].edges[0].from, lens.pieces[0].edges[0].to) = (None, None);
    let round = after("", Some(&lens), r#"{"do": "edge", "piece": 0, "edge": 0, "line": "fold"}"#).expect_err("it has no ends");
    assert!(round.to_string().contains("without a corner"));
}

/// Two squares of which the first is told of by the names of its edges.
const NAMED: &str = "[[shot]]\npicture = \"a.jpg\"\n[[shot.corner]]\nname = \"neck\"\npx = [300, 300]\n[[shot.corner]]\nname = \"hem\"\npx = [600, 300]\n\
    [[shot.corner]]\nname = \"corner 3\"\npx = [600, 600]\n[[shot.edge]]\nfrom = \"hem\"\nto = \"corner 3\"\nname = \"hem to corner 3\"\n[[join]]\n\
    edges = [\"piece 1: neck to hem\", \"piece 2: edge 1\"]\n[[piece.\"piece 1\".notch]]\nedge = \"hem to corner 3\"\nat = \"9 mm\"\nfrom = \"hem\"\n\
    [[piece.\"piece 2\".notch]]\nedge = \"edge 1\"\nat = \"9 mm\"\n";

fn named() -> Record {
    let mut record = squares();
    record.pieces[0].corners[0].name = "neck".into();
    record.pieces[0].corners[1].name = "hem".into();
    record.pieces[0].edges[0].name = "neck to hem".into();
    record.pieces[0].edges[1].name = "hem to corner 3".into();
    record
}

#[test]
fn what_names_an_edge_follows_its_new_name() {
    let called = |json: &str| after(NAMED, Some(&named()), json).unwrap_or_else(|e| panic!("{json}: {e}"));
    let told = |n: &Notes| (n.joins[0].edges[0].to_string(), n.pieces["piece 1"].notches[0].edge.clone());
    let edge = called(r#"{"do": "edge", "piece": 0, "edge": 0, "name": "top"}"#);
    assert_eq!(told(&edge), ("piece 1: top".into(), "hem to corner 3".into()));
    let edge = called(r#"{"do": "edge", "piece": 0, "edge": 1, "name": "side"}"#);
    assert_eq!(told(&edge), ("piece 1: neck to hem".into(), "side".into()));
    // A number that something names is told by the corners, not left to the next numbering.
    let kept = called(r#"{"do": "edge", "piece": 0, "edge": 1, "name": null}"#);
    assert_eq!((told(&kept).1, kept.shots[0].edges.len()), ("hem to corner 3".into(), 1));
    let corner = called(r#"{"do": "name corner", "piece": 0, "corner": 1, "name": "point"}"#);
    assert_eq!(told(&corner), ("piece 1: neck to point".into(), "point to corner 3".into()));
    assert_eq!(corner.shots[0].edges[0].name.as_deref(), Some("point to corner 3"));
    assert_eq!(corner.pieces["piece 1"].notches[0].from.as_deref(), Some("point"));
    assert_eq!(corner.pieces["piece 2"], edge.pieces["piece 2"], "another piece's edge of that name is another edge");
    for json in [
        r#"{"do": "no corner", "piece": 0, "corner": 0}"#,
        r#"{"do": "drop corner", "name": "neck"}"#,
        r#"{"do": "edge", "piece": 0, "edge": 0, "name": "top + side"}"#,
    ] {
        let said = after(NAMED, Some(&named()), json).expect_err(json).to_string();
        assert!((15..=300).contains(&said.chars().count()), "{said}");
    }
}

#[test]
fn what_is_told_of_a_piece_follows_its_new_name() {
    let mut record = squares();
    record.pieces.truncate(1);
    record.pieces[0].name = "front".into();
    let text = "[[shot]]\npicture = \"a.jpg\"\npiece = \"front\"\n[[tape]]\nwhat = \"length\"\nreading = \"19 in\"\npiece = \"front\"\n\
        [piece.front] # mine\ncut = \"2\"\n[piece.back]\ncut = \"1\"\n";
    let json = r#"{"do": "settings", "piece": "front panel"}"#;
    let notes = after(text, Some(&record), json).expect("called");
    assert_eq!((notes.shots[0].piece.as_deref(), notes.tapes[0].piece.as_deref()), (Some("front panel"), Some("front panel")));
    assert_eq!(notes.pieces.keys().collect::<Vec<_>>(), ["back", "front panel"]);
    assert!(refused(text, r#"{"do": "settings", "piece": "cuff"}"#).contains("several pieces"));
    let taken = after(text, Some(&record), r#"{"do": "settings", "piece": "back"}"#).expect_err("two tables of one piece");
    assert!(taken.to_string().contains("already"), "{taken}");
    // Another picture still shows the front.
    let two = format!("{text}[[shot]]\npicture = \"b.jpg\"\npiece = \"front\"\n");
    let all = ["a.jpg", "b.jpg"].map(String::from);
    let mut draft = Draft::from_text(&two).expect("good");
    let own = draft.notes().expect("good").shots[0].clone();
    mend(json).write(&mut draft, &Where { picture: "a.jpg", all: &all, record: Some(&record), px: &px, notes: &own }).expect("called");
    assert!(draft.text().contains("piece = \"front panel\"") && draft.text().contains("[piece.front] # mine"));
}

#[test]
fn hints_are_drawn_and_taken_away() {
    let through = shot("", r#"{"do": "through", "at": [10.017, 20]}"#);
    assert_eq!(through.through, [Place::Px(Px::new(330.1, 360.0))]);
    let seam = shot("", r#"{"do": "draw seam", "name": "armhole", "through": [[10, 20], [10, 20], [30, 40]]}"#);
    assert_eq!((seam.inner[0].name.as_deref(), seam.inner[0].through.len()), (Some("armhole"), 2));
    let region = shot("", r#"{"do": "region", "is": "left out", "border": [[0, 0], [10, 0], [10, 10]]}"#);
    assert_eq!((region.regions[0].is, region.regions[0].border.len()), (Belongs::LeftOut, 3));
    let text = "[[shot]]\npicture = \"a.jpg\"\nthrough = [{ px = [1, 1] }, { px = [2, 2] }]\n";
    assert_eq!(shot(text, r#"{"do": "drop through", "n": 0}"#).through, [Place::Px(Px::new(2.0, 2.0))]);
    for (json, word) in [
        (r#"{"do": "drop through", "n": 2}"#, "through-point 2"),
        (r#"{"do": "drop seam", "n": 0}"#, "seam 0"),
        (r#"{"do": "drop region", "n": 18446744073709551615}"#, "region"),
        (r#"{"do": "through", "at": [-200, 0]}"#, "outside"),
        (r#"{"do": "through", "at": [1e308, 1e308]}"#, "outside"),
        (r#"{"do": "draw seam", "through": [[0, 0]]}"#, "2 to"),
        (r#"{"do": "draw seam", "through": [[5, 5], [5, 5.001]]}"#, "extent"),
        (r#"{"do": "region", "is": "kept", "border": [[0, 0], [10, 0], [20, 0]]}"#, "extent"),
        (r#"{"do": "region", "is": "kept", "border": [[0, 0], [10, 10], [10, 0], [0, 10.5]]}"#, "crosses"),
    ] {
        assert!(refused(text, json).contains(word), "{json}: {}", refused(text, json));
    }
}

#[test]
fn settings_are_set_and_taken_away() {
    let text = "[[shot]]\npicture = \"a.jpg\"\nthickness = \"2 mm\"\n";
    let set = shot(
        text,
        r#"{"do": "settings", "thickness": null, "allowance": "1/4 in", "line": "seam", "pieces": 1, "pitch": "1 in", "sheet": "lines", "piece": "front"}"#,
    );
    assert_eq!((set.thickness, set.allowance.map(|l| l.mm()), set.line, set.pieces), (None, Some(6.35), Some(Line::Seam), Some(1)));
    assert_eq!((set.pitch.map(|l| l.mm()), set.sheet.as_deref(), set.piece.as_deref()), (Some(25.4), Some("lines"), Some("front")));
    for (json, word) in [
        (r#"{"do": "settings", "thickness": "2"}"#, "unit"),
        (r#"{"do": "settings", "thickness": "-2 mm"}"#, "less than nothing"),
        (r#"{"do": "settings", "pitch": "0 mm"}"#, "more than nothing"),
        (r#"{"do": "settings", "pieces": 0}"#, "1 to"),
        (r#"{"do": "settings", "line": "fold"}"#, "rim or seam"),
        (r#"{"do": "settings", "sheet": "../../etc/passwd"}"#, "outside the garment's folder"),
    ] {
        assert!(refused(text, json).contains(word), "{json}: {}", refused(text, json));
    }
    // What failed can still be told how it is to be taken.
    let all = ["a.jpg".to_owned()];
    let mut draft = Draft::from_text("").expect("empty");
    let at = Where { picture: "a.jpg", all: &all, record: None, px: &|_| None, notes: &ShotNotes::default() };
    mend(r#"{"do": "settings", "pitch": "1 in"}"#).write(&mut draft, &at).expect("set");
    assert_eq!(draft.notes().expect("good").shots[0].pitch.map(|l| l.mm()), Some(25.4));
    assert_eq!(mend(r#"{"do": "through", "at": [1, 1]}"#).write(&mut draft, &at), Err(MendError::NotTraced));
}

#[test]
fn pieces_are_left_out_and_parted() {
    let text = "[[shot]]\npicture = \"a.jpg\"\npieces = 2\n";
    let dropped = shot(text, r#"{"do": "drop piece", "piece": 1}"#);
    let region = &dropped.regions[0];
    assert_eq!((region.is, dropped.pieces), (Belongs::LeftOut, Some(1)));
    // From 110 mm on, grown by 3 mm, far from the first piece that ends at 100 mm.
    let xs: Vec<f64> = region.border.iter().map(|p| if let Place::Px(p) = p { p.x } else { f64::NAN }).collect();
    assert!(xs.iter().all(|x| (620.9..=939.1).contains(x)), "{xs:?}");
    let parted = shot(text, r#"{"do": "split", "line": [[50, -5], [50, 105]]}"#);
    assert_eq!((parted.regions[0].border.len(), parted.pieces), (4, Some(3)));
    let mut one = squares();
    one.pieces.truncate(1);
    assert_eq!(after("", Some(&one), r#"{"do": "drop piece", "piece": 0}"#), Err(MendError::OnlyPiece));
    refused("", r#"{"do": "split", "line": [[50, 50]]}"#);
}

#[test]
fn centre_and_notches_belong_to_pieces() {
    let record = squares();
    let notes = after("", Some(&record), r#"{"do": "centre", "piece": 0, "spots": [[50, 0], [50, 100]]}"#).expect("set");
    assert!(notes.pieces["piece 1"].centre.is_some());
    let notes =
        after("", Some(&record), r#"{"do": "notch", "piece": 0, "edge": 2, "at_mm": 33.333, "style": "V", "count": 2}"#).expect("set");
    let notch = &notes.pieces["piece 1"].notches[0];
    assert_eq!((notch.edge.as_str(), notch.at.mm(), notch.count), ("corner 9 to corner 10", 33.3, Some(2)));
    let text = "[[piece.\"piece 1\".notch]]\nedge = \"x\"\nat = \"1 mm\"\n";
    assert!(after(text, Some(&record), r#"{"do": "drop notch", "piece": 0, "n": 0}"#).expect("gone").pieces.is_empty());
    for json in [
        r#"{"do": "centre", "piece": 0, "spots": [[50, 0], [50, 0]]}"#,
        r#"{"do": "centre", "piece": 7, "spots": null}"#,
        r#"{"do": "notch", "piece": 0, "edge": 2, "at_mm": 101}"#,
        r#"{"do": "notch", "piece": 0, "edge": 2, "at_mm": 1, "count": 0}"#,
        r#"{"do": "drop notch", "piece": 0, "n": 0}"#,
    ] {
        refused("", json);
    }
    // Told by its corners, the edge outlasts another numbering; with its last notch it goes by its number again.
    let shot = &notes.shots[0];
    assert_eq!((shot.edges[0].name.as_deref(), shot.corners.len()), (Some("corner 9 to corner 10"), 2));
    assert_eq!(
        (shot.corners[0].at.clone(), shot.corners[1].at.clone()),
        (Place::Px(Px::new(600.0, 600.0)), Place::Px(Px::new(300.0, 600.0)))
    );
    let text = "[[shot]]\npicture = \"a.jpg\"\n[[shot.corner]]\nname = \"corner 9\"\npx = [600, 600]\n[[shot.corner]]\nname = \"corner 10\"\npx = [300, 600]\n\
        [[shot.edge]]\nfrom = \"corner 9\"\nto = \"corner 10\"\nname = \"corner 9 to corner 10\"\n[[piece.\"piece 1\".notch]]\n\
        edge = \"corner 9 to corner 10\"\nat = \"1 mm\"\n";
    let gone = after(text, Some(&record), r#"{"do": "drop notch", "piece": 0, "n": 0}"#).expect("gone");
    assert!(gone.shots[0].edges.is_empty() && gone.pieces.is_empty());
    // Two pictures of one garment may each have a first piece.
    let all = ["a.jpg", "b.jpg"].map(String::from);
    let at = Where { picture: "a.jpg", all: &all, record: Some(&record), px: &px, notes: &ShotNotes::default() };
    let refused = mend(r#"{"do": "centre", "piece": 0, "spots": null}"#).write(&mut Draft::from_text("").expect("empty"), &at);
    assert!(matches!(refused, Err(MendError::Nameless { .. })));
}

#[test]
fn only_known_corrections_with_known_fields_are_read() {
    for bad in [
        r#"{"do": "delete everything"}"#,
        r#"{"do": "through", "at": [1, 2], "file": "/etc/passwd"}"#,
        r#"{"do": "through", "at": [1, 2, 3]}"#,
        r#"{"do": "through"}"#,
        r#"{"do": "drop through", "n": -1}"#,
        r#"{"do": "move corner", "piece": 0.5, "corner": 0, "to": [1, 1]}"#,
        r#"{"do": "settings", "lens": "x"}"#,
        r#"{"at": [1, 2]}"#,
        r#"{"do": "through", "at": [1e999, 2]}"#,
    ] {
        assert!(serde_json::from_str::<Mend>(bad).is_err(), "{bad}");
    }
    let record = squares();
    assert_eq!(mend(r#"{"do": "move corner", "piece": 0, "corner": 1, "to": [1, 1]}"#).words(Some(&record)), "moved corner 2");
    assert_eq!(mend(r#"{"do": "settings", "pitch": "1 in", "line": null}"#).words(None), "changed line, pitch");
}
