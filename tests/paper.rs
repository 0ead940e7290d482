//! What stands on a pattern beside its lines: pleats and darts with their words, proposed notches, names in any letters; and pages that lie level where
//! that saves some.

#[path = "support/drawn_pieces.rs"]
mod drawn_pieces;
#[path = "support/font.rs"]
mod font;
#[path = "support/pdf.rs"]
mod pdf;

use assert_cmd::Command;
use drawn_pieces::{F, boxed, garment, outlines, pattern};
use font::{font, latin};
use pdf::{boxes, contents, drawn};
use ruboff::sheet::Paper;
use ruboff::write::GarmentRecord;
use ruboff::write::pattern::{
    Choices, Font, FontFileError, Joining, LineKind, Orientation, PatternPiece, Units, dxf, pattern_of_garment, pattern_svg, tiled,
};
use serde_json::json;

const GARMENT: &str = include_str!("golden/garment.json");

/// A panel of 400 by 600 mm, its grain down its side, with one pleat in its upper edge.
fn panel(up: &str, open: bool, more: &str) -> PatternPiece {
    let name = "panel";
    let notes = format!(
        "[[shot]]\npicture = \"{name}.jpg\"\npiece = \"{name}\"\nside = \"outside\"\nup = \"{up}\"\n[piece.\"{name}\"]\nkind = \"skirt panel\"\nopen = {open}\n\
         [piece.\"{name}\".grain]\nalong = [\"c0\", \"c3\"]\n\
         [[piece.\"{name}\".pleat]]\nname = \"waist pleat\"\nedge = \"e0\"\ndepth = \"15 mm\"\n\
         between = [{{ edge = \"e0\", at = \"100 mm\" }}, {{ edge = \"e0\", at = \"140 mm\" }}]\n{more}"
    );
    let (record, _) = garment(&notes, &[(name, &boxed(400.0, 600.0))]);
    pattern_of_garment(&record, &Choices::default()).expect("a pattern").pieces.remove(0)
}

fn words(p: &PatternPiece) -> Vec<&str> {
    p.edge_words.iter().map(|w| w.words.as_str()).collect()
}

/// Common practice, no source: the arrow leads from the fold to the line it comes to lie on, twice the pleat's depth away. A front's left is right on the
/// page, a back's left is left.
#[test]
fn a_pleat_has_two_lines_and_an_arrow_the_way_it_is_laid() {
    for (up, laid, words, way) in [
        ("front", "left", "laid to the wearer's left", 1.0),
        ("back", "left", "laid to the wearer's left", -1.0),
        ("front", "right", "laid to the wearer's right", -1.0),
        ("front", "to centre", "laid to the centre", 1.0),
    ] {
        let p = panel(up, true, &format!("laid = \"{laid}\"\nstitched_down = \"60 mm\"\n"));
        let lines: Vec<_> = p.lines.iter().filter(|l| l.kind == LineKind::Pleat).collect();
        assert_eq!(lines.len(), 2, "{up} {laid}");
        let ends = |k: usize| lines[k].path.elements().iter().filter_map(kurbo::PathEl::end_point).collect::<Vec<_>>();
        let (a, b) = (ends(0), ends(1));
        assert!(((b[0] - a[0]).hypot() - 30.0).abs() < 1e-3 && ((a[1] - a[0]).hypot() - 60.0).abs() < 1e-3, "{a:?} {b:?}");
        let [[from, tip]] = p.arrows[..] else { panic!("{:?}", p.arrows) };
        assert!((tip - from - kurbo::Vec2::new(30.0 * way, 0.0)).hypot() < 1e-3, "{up} {laid}: {from:?} to {tip:?}");
        for told in ["waist pleat: 1 pleat 15.0 mm deep", words, "stitched down 60.0 mm"] {
            assert!(self::words(&p).contains(&told), "{told}: {:?}", self::words(&p));
        }
    }
    // An inverted pleat's arrows meet, a box pleat's part.
    let two = |laid: &str| panel("front", true, &format!("laid = \"{laid}\"\n")).arrows;
    let (inverted, boxed) = (two("inverted"), two("box"));
    assert!((inverted[0][1] - inverted[1][1]).hypot() < 1e-3 && (inverted[0][0] - inverted[1][0]).hypot() > 29.0);
    assert!((boxed[0][1] - boxed[1][1]).hypot() > (boxed[0][0] - boxed[1][0]).hypot() + 10.0, "{boxed:?}");
}

#[test]
fn a_pleat_that_lies_folded_or_was_not_described_says_so() {
    let p = panel("front", false, "laid = \"right\"\n");
    assert_eq!(p.lines.iter().filter(|l| l.kind == LineKind::Pleat).count(), 1);
    assert!((p.arrows[0][1].x - p.arrows[0][0].x + 15.0).abs() < 1e-3, "{:?}", p.arrows);
    assert!(words(&p).contains(&"lies folded"), "{:?}", words(&p));
    let p = panel("front", true, "");
    assert!(p.arrows.is_empty() && words(&p).contains(&"which way is not recorded"), "{:?}", words(&p));
}

#[test]
fn a_dart_has_its_legs_its_point_and_its_words() {
    let notes = "[[shot]]\npicture = \"front.jpg\"\npiece = \"front\"\n[piece.front]\nallowance = { all = \"10 mm\", e2 = \"30 mm\" }\ncut = \"2, mirrored\"\n\
                 cloth = \"lining\"\n[[piece.front.dart]]\nname = \"waist dart\"\nlegs = [{ edge = \"e2\", at = \"190 mm\" }, { edge = \"e2\", at = \"210 mm\" }]\n\
                 point = { edge = \"e1\", at = \"200 mm\" }\nintake = \"20 mm\"\npressed = \"to centre\"\n";
    let (record, _) = garment(notes, &[("front", &boxed(400.0, 600.0))]);
    let made = pattern_of_garment(&record, &Choices { date: "1926-05-17".into(), ..Choices::default() }).expect("a pattern");
    let p = &made.pieces[0];
    assert_eq!((p.lines.iter().filter(|l| l.kind == LineKind::Dart).count(), p.tips.len()), (2, 1));
    assert!(words(p).contains(&"waist dart, takes in 20 mm, pressed to centre"), "{:?}", words(p));
    // Edges with unequal allowances say each its own; the list has the cloth beside the number.
    assert!(words(p).contains(&"e0, 10 mm allowance") && words(p).contains(&"e2, 30 mm allowance"), "{:?}", words(p));
    assert_eq!((p.cut_words().as_str(), p.count_words().as_str()), ("cut 2 lining, mirrored", "cut 2, mirrored"));
    let drawing = pattern_svg(&made).expect("a drawing");
    assert!(drawing.contains("id=\"piece-1-darts-2\""));
    assert!(dxf(&made, Units::Metric, 0.02).expect("a file").contains("waist dart, takes in 20 mm"));
}

/// A piece that was pictured twice is printed once, which is said; one that a person called with a number is a piece of its own.
#[test]
fn what_was_pictured_twice_is_printed_once() {
    let shot = |piece: &str, picture: &str| format!("[[shot]]\npicture = \"{picture}.jpg\"\npiece = \"{piece}\"\n");
    let printed = |second: &str| {
        let notes = shot("pocket", "one") + &shot(second, "two");
        let (record, _) = garment(&notes, &[("pocket", &boxed(400.0, 600.0)), (second, &boxed(401.0, 600.0))]);
        let made = pattern_of_garment(&record, &Choices::default()).expect("a pattern");
        let told = made.left_out.iter().any(|l| l == "pocket (2): another picture of pocket, which is printed once.");
        (made.pieces.iter().map(|p| p.name.clone()).collect::<Vec<_>>(), told)
    };
    assert_eq!(printed("pocket"), (vec!["pocket".to_owned()], true));
    assert_eq!(printed("pocket (2)"), (vec!["pocket".to_owned(), "pocket (2)".to_owned()], false));
}

/// A notch that was proposed is no notch that was found.
#[test]
fn proposed_notches_are_drawn_otherwise() {
    let mut record: serde_json::Value = serde_json::from_str(GARMENT).expect("the golden record");
    let notch = |edge: &str, how: &str| json!({"edge": edge, "at_mm": 100.0, "place": [0.0, 0.0], "count": 1, "style": "slit", "how": how});
    record["pieces"][0]["as_drafted"]["notches"] = json!([notch("side left", "assumed"), notch("side right", "noted")]);
    let record = GarmentRecord::from_text(&record.to_string()).expect("a record");
    let made = pattern_of_garment(&record, &Choices::default()).expect("a pattern");
    assert_eq!(made.pieces[0].notches.iter().map(|n| n.assumed).collect::<Vec<_>>(), [true, false]);
    let drawing = pattern_svg(&made).expect("a drawing");
    let line = |k: usize| drawing.lines().find(|l| l.contains(&format!("id=\"piece-1-notches-{k}\""))).expect("a notch").to_owned();
    assert!(line(1).contains("stroke-dasharray") && line(1).contains("<title>assumed</title>") && !line(2).contains("stroke-dasharray"));
    assert!(dxf(&made, Units::Metric, 0.02).expect("a file").contains("notches proposed for seams are assumed"));
}

/// An allowance that could not be drawn when the record was made stops nobody from printing the piece; one that is asked for now is refused.
#[test]
fn a_record_whose_cut_line_failed_still_prints() {
    let notes = "[[shot]]\npicture = \"front.jpg\"\npiece = \"front\"\n[piece.front]\nallowance = { all = \"100 mm\" }\n";
    let (record, _) = garment(notes, &[("front", &F)]);
    assert!(
        record.pieces[0].as_drafted.undone.iter().any(|u| u.contains("no cut line was drawn")),
        "{:?}",
        record.pieces[0].as_drafted.undone
    );
    let made = pattern_of_garment(&record, &Choices::default()).expect("a pattern");
    assert!(made.pieces[0].allowance.starts_with("no allowance") && made.left_out.iter().any(|w| w.contains("without any allowance")));
    let asked = Choices { allowance: vec![("all".into(), 100.0)], ..Choices::default() };
    assert!(pattern_of_garment(&record, &asked).is_err());
}

/// 255 x 170 mm fill one A4 page that lies level, and two that stand.
#[test]
fn pages_lie_level_where_that_saves_some() {
    let p = pattern(&outlines(&[("yoke", &boxed(255.0, 170.0))]));
    let paper: Paper = "a4".parse().expect("a paper");
    let with = |orientation| tiled(&p, &paper, &Joining { orientation, ..Joining::default() }, false).expect("pages");
    let count = |orientation| {
        let made = with(orientation);
        let all = boxes(&made.bytes);
        (made.pages - made.front, all.iter().all(|b| (b[0] > b[1]) == (all[0][0] > all[0][1])), all[0][0] > all[0][1])
    };
    assert_eq!(count(Orientation::Fewest), (1, true, true));
    assert_eq!(count(Orientation::Landscape), (1, true, true));
    assert_eq!(count(Orientation::Portrait), (2, true, false));
    assert_eq!(with(Orientation::Fewest).paper, "A4 landscape");
    // Where both take as many, pages stand.
    let p = pattern(&outlines(&[("cuff", &boxed(100.0, 100.0))]));
    let made = tiled(&p, &paper, &Joining::default(), false).expect("pages");
    assert_eq!((made.pages - made.front, made.paper.as_str()), (1, "A4"));
    // Page one has its squares either way.
    for orientation in [Orientation::Portrait, Orientation::Landscape] {
        let p = pattern(&outlines(&[("yoke", &boxed(255.0, 170.0))]));
        let made = tiled(&p, &paper, &Joining { orientation, ..Joining::default() }, false).expect("pages");
        let one = drawn(&contents(&made.bytes)[0]);
        let side = |d: &pdf::Drawn| {
            let span = |k: usize| {
                let all = d.points.iter().map(|p| p[k]);
                all.clone().fold(f64::MIN, f64::max) - all.fold(f64::MAX, f64::min)
            };
            [span(0), span(1)]
        };
        for wanted in [100.0, 101.6] {
            assert!(one.iter().any(|d| side(d).iter().all(|s| (s - wanted).abs() < 1e-3)), "{orientation:?}: no square of {wanted} mm");
        }
    }
}

#[test]
fn names_in_other_letters_are_printed_in_a_font_that_has_them() {
    let dir = tempfile::tempdir().expect("a folder");
    let put = |name: &str, bytes: &[u8]| std::fs::write(dir.path().join(name), bytes).expect("written");
    put("kimono.json", outlines(&[("着物", &F)]).to_string().as_bytes());
    put("shirt.json", outlines(&[("قميص", &F)]).to_string().as_bytes());
    put("own.ttf", &font(&latin(), &[('着', 'K'), ('物', 'M')], 0));
    put("bare.ttf", &font("abc", &[('着', 'K'), ('物', 'M')], 0));
    put("closed.ttf", &font(&latin(), &[], 2));
    put("text.ttf", b"no font at all");
    let verb = |record: &str, font: &str| {
        let mut call = Command::cargo_bin("ruboff").expect("built");
        call.current_dir(dir.path()).args(["pattern", record, "--paper", "a4", "--out", "p", "--force", "--font", font]);
        let out = call.output().expect("it runs");
        (out.status.code().unwrap_or(-1), String::from_utf8_lossy(&out.stderr).into_owned())
    };
    assert_eq!(verb("kimono.json", "own.ttf"), (0, String::new()));
    // Read back as text it is the same name: the file says which letters its glyphs stand for (ISO 32000-1, 9.10.3).
    let bytes = std::fs::read(dir.path().join("p/pattern-a4.pdf")).expect("a file");
    let told = pdf::streams(&bytes).into_iter().find(|s| s.contains("beginbfchar")).expect("what glyphs stand for");
    assert!(told.contains("<7740>") && told.contains("<7269>"), "{told}");
    for (record, font, words) in [
        ("shirt.json", "own.ttf", "right to left"),
        ("kimono.json", "bare.ttf", "lacks letters"),
        ("kimono.json", "closed.ttf", "licence"),
        ("kimono.json", "text.ttf", "no font"),
        ("kimono.json", "gone.ttf", "cannot read the font"),
    ] {
        let (code, err) = verb(record, font);
        assert!(code == 2 && err.contains(words) && err.lines().count() == 1, "{record} {font}: {code} {err}");
    }
    let lacking = Font::from_bytes(font("abc", &[], 0)).expect_err("no Latin");
    assert!(matches!(lacking, FontFileError::Lacks(_)));
}
