//! Widths round a leg, over its front and its back: pictured as two faces of one piece that lay folded, or as two pieces. By arithmetic on polygons.

#[path = "support/drawn_pieces.rs"]
mod drawn_pieces;

use drawn_pieces::{garment, outlines};
use ruboff::notes::{Notes, Up};
use ruboff::write::{GarmentPiece, GarmentRecord, Record, Seen, Shown, both_faces, pieces, sum_faces};
use serde_json::json;

/// Half a leg folded where it has no outside seam, its front, and its back, which is 24 mm wider at the crotch; as each is seen.
const FRONT: [[f64; 2]; 5] = [[290.0, 1050.0], [90.0, 1050.0], [10.0, 250.0], [90.0, 0.0], [290.0, 0.0]];
const BACK: [[f64; 2]; 5] = [[0.0, 0.0], [200.0, 0.0], [304.0, 250.0], [200.0, 1050.0], [0.0, 1050.0]];

/// Their widths 1 in below the crotch.
fn thighs() -> [f64; 2] {
    [280.0 - 80.0 * 25.4 / 800.0, 304.0 - 104.0 * 25.4 / 800.0]
}

fn length(piece: &GarmentPiece, name: &str, side: Option<&str>) -> Option<f64> {
    let mut all = piece.measures.iter().filter(|m| m.name == name && m.side == side);
    let found = all.next().map(|m| m.length);
    assert!(all.next().is_none(), "{name} once");
    found
}

#[test]
fn a_leg_is_measured_over_both_its_faces() {
    let text = "[[shot]]\npicture = \"f.jpg\"\npiece = \"leg\"\nup = \"front\"\n[[shot]]\npicture = \"b.jpg\"\npiece = \"leg\"\nup = \"back\"\n\
        [piece.leg]\nkind = \"trouser front\"\nfold = \"e4\"\ncut = \"2, mirrored\"\n";
    let notes = Notes::from_text(text).unwrap_or_else(|e| panic!("{e}"));
    let records = [FRONT, BACK].map(|points| Record::from_text(&outlines(&[("leg", &points)]).to_string()).expect("a record"));
    let other = pieces(&records[1], &notes.shots[1], &notes).expect("closed").remove(0).draft;
    let other = other.piece.found().mapped(other.laying.by);
    let mut first = both_faces(&records[0], &notes.shots[0], &notes, &other).expect("closed").remove(0);
    let mut without = notes.clone();
    without.pieces.values_mut().for_each(|p| p.fold = None);
    let mut second = pieces(&records[1], &notes.shots[1], &without).expect("closed").remove(0);
    sum_faces([&mut first, &mut second], &records[1], (&notes, Some(Up::Back)));
    let close = |found: Option<f64>, want: f64| found.is_some_and(|l| (l - want).abs() < 1e-3);
    let [front, back] = thighs();
    assert!(close(length(&first, "thigh", None), front + back), "{:?}", first.measures);
    assert!(close(length(&first, "half thigh", Some("front")), front) && close(length(&second, "half thigh", Some("back")), back));
    // A rise is that of its own face, whatever the piece is noted as.
    assert!(close(length(&first, "front rise", Some("front")), 80f64.hypot(250.0)) && length(&first, "back rise", Some("back")).is_none());
    assert!(
        close(length(&second, "back rise", Some("back")), 104f64.hypot(250.0)) && length(&second, "front rise", Some("front")).is_none()
    );
    assert!(first.measures.iter().all(|m| !m.name.contains("doubled")), "{:?}", first.measures);
}

/// A tape held round a leg in two pieces is held against the sum of both, once, and agrees with neither twice over.
#[test]
fn a_tape_round_a_leg_takes_in_both_its_pieces() {
    let [front, back] = thighs();
    for (reading, agrees) in [(front + back, true), (2.0 * front, false), (2.0 * back, false)] {
        let text = format!(
            "[[shot]]\npicture = \"a.jpg\"\n[[shot]]\npicture = \"b.jpg\"\n[piece.fore]\nkind = \"trouser front\"\n[piece.seat]\nkind = \"trouser back\"\n\
             [[tape]]\nwhat = \"thigh\"\nreading = \"{reading:.1} mm\"\nround = true\n"
        );
        let notes = Notes::from_text(&text).unwrap_or_else(|e| panic!("{e}"));
        let shown: Vec<Shown> = [("fore", FRONT), ("seat", BACK)]
            .iter()
            .zip(&notes.shots)
            .map(|((name, points), shot)| {
                let mut record = outlines(&[(name, points)]);
                for (what, list) in [("corner", "corners"), ("edge", "edges")] {
                    let all = record["pieces"][0][list].as_array_mut().expect("a list");
                    all.iter_mut().enumerate().for_each(|(k, one)| one["name"] = json!(format!("{what} {}", k + 1)));
                }
                let record = Record::from_text(&record.to_string()).expect("a record");
                let seen = Seen {
                    pieces: pieces(&record, shot, &notes).expect("closed"),
                    record,
                    outline: format!("{name}/outline.json"),
                    beside: Vec::new(),
                };
                Shown { file: shot.picture.clone().expect("told"), shot: shot.clone(), found: Ok(Box::new(seen)) }
            })
            .collect();
        let record = GarmentRecord::of((&notes, &text), &shown, "trousers", Vec::new());
        let against = &record.tape[0].against;
        assert!(against.len() == 1 && against[0].piece == "fore + seat", "{against:?}");
        assert!((against[0].seen_mm - front - back).abs() < 0.01 && against[0].agrees == agrees, "{against:?}");
        assert_eq!(record.doubts.iter().filter(|d| d.doubt.code == "tape-disagrees").count(), usize::from(!agrees));
    }
}

/// Of half a front whose fold is not noted only the half's own widths are known; a reading of the whole says which there is.
#[test]
fn half_a_chest_is_offered() {
    let half = [[60.0, 0.0], [150.0, 20.0], [200.0, 200.0], [200.0, 600.0], [0.0, 600.0], [0.0, 80.0]];
    let names = ["neck", "shoulder tip", "underarm", "hem side", "hem centre", "neck centre"];
    let corners: String = names.iter().enumerate().map(|(k, _)| format!("[[shot.corner]]\nname = \"c{k}\"\npx = [{k}, 1]\n")).collect();
    let text = format!(
        "[[shot]]\npicture = \"front.jpg\"\n{corners}[piece.front]\nkind = \"body front\"\n[[tape]]\nwhat = \"chest\"\nreading = \"400 mm\"\n"
    );
    let notes = Notes::from_text(&text).unwrap_or_else(|e| panic!("{e}"));
    let mut record = outlines(&[("front", &half)]);
    for (k, name) in names.iter().enumerate() {
        record["pieces"][0]["corners"][k]["name"] = json!(name);
    }
    let record = Record::from_text(&record.to_string()).expect("a record");
    let found = pieces(&record, &notes.shots[0], &notes).expect("closed");
    assert!(found[0].measures.iter().any(|m| m.name == "half chest"), "{:?}", found[0].measures);
    let seen = Seen { record, pieces: found, outline: "front/outline.json".into(), beside: Vec::new() };
    let shown = Shown { file: "front.jpg".into(), shot: notes.shots[0].clone(), found: Ok(Box::new(seen)) };
    let record = GarmentRecord::of((&notes, &text), &[shown], "top", Vec::new());
    let line = 1 + text[..text.find("[[tape]]").expect("told")].lines().count();
    let want = format!("measure \"chest\" (line {line} of the notes), of which there is \"half chest\"");
    assert!(record.doubts.iter().any(|d| d.doubt.say.contains(&want)), "{:?}", record.doubts);
}

/// What could not be done on a lining is a doubt too.
#[test]
fn doubts_of_a_lining_are_told() {
    let text = "[piece.skirt]\ncut = \"1\"\n[piece.lining]\nfrom = \"skirt\"\n[[piece.lining.notch]]\nedge = \"e9\"\nat = \"10 mm\"\n";
    let (record, _) = garment(text, &[("skirt", &drawn_pieces::boxed(400.0, 600.0))]);
    let told = record.doubts.iter().filter(|d| d.doubt.say.starts_with("lining: a notch 10 mm along e9 has no place"));
    assert_eq!(told.filter(|d| d.doubt.say.contains("(line 5 of the notes)")).count(), 1, "{:?}", record.doubts);
}
