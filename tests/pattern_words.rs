//! Words on a pattern against the lines they stand beside: what is drawn is what is said (common practice, no source).

#[path = "support/drawn_pieces.rs"]
mod drawn_pieces;

use drawn_pieces::{boxed, garment};
use ruboff::piece::Walk;
use ruboff::write::pattern::{Choices, LineKind, Pattern, PatternPiece, pattern_of_garment};

const WIDE: f64 = 200.0;
const HIGH: f64 = 800.0;

/// The pattern of a rectangle `leg` of 200 by 800 mm, its edges `e0` to `e3` clockwise from the upper one.
fn made(notes: &str) -> Pattern {
    let (record, _) = garment(notes, &[("leg", &boxed(WIDE, HIGH))]);
    pattern_of_garment(&record, &Choices::default()).expect("a pattern")
}

fn words(p: &PatternPiece) -> Vec<&str> {
    p.edge_words.iter().map(|w| w.words.as_str()).collect()
}

/// A leg that lay folded, drawn up at its waist; laid open, each half has its own words, and what is drawn at its full length is not called short of it.
#[test]
fn what_was_spread_on_both_halves_is_not_called_left_to_spread() {
    let between = "between = [{ edge = \"e0\", at = \"20 mm\", from = \"c0\" }, { edge = \"e0\", at = \"180 mm\", from = \"c0\" }]\n";
    for (by, told) in [("elastic", "draw up by elastic"), ("gathers", "gather")] {
        for between in [between, ""] {
            for (open, once) in [(true, false), (false, false), (true, true)] {
                let notes = format!(
                    "[[shot]]\npicture = \"leg.jpg\"\npiece = \"leg\"\nside = \"outside\"\nup = \"front\"\n[piece.leg]\ncut = \"2, mirrored\"\n\
                     fold = \"e3\"\nopen = {open}\ngrain = {{ along = \"e3\" }}\n[[piece.leg.gather]]\nname = \"waist\"\nby = \"{by}\"\nedge = \"e0\"\n\
                     sewn = \"160 mm\"\nfull = \"220 mm\"\n{between}{}",
                    if once { "once = true\n" } else { "" }
                );
                let pattern = made(&notes);
                let p = &pattern.pieces[0];
                let own: Vec<&str> = words(p).into_iter().filter(|w| w.starts_with(told)).collect();
                let case = format!("{by} {open} {once} {between}: {own:?}, {:?}", pattern.left_out);
                assert_eq!(own.len(), if once { 1 } else { 2 }, "{case}");
                // Where it was spread its ends lie further off.
                let ends = if between.is_empty() {
                    ""
                } else if open {
                    " from mark to mark"
                } else {
                    " from 20 mm off c0 to 180 mm off c0"
                };
                assert!(
                    own.iter().all(|w| w.contains(&format!("{told}{ends} to 160 mm")) && w.contains("not spread here") != open),
                    "{case}"
                );
                // Each stands on a half of its own.
                let middles: Vec<f64> =
                    p.edge_words.iter().filter(|w| w.words.starts_with(told)).map(|w| w.path.elements()).map(middle).collect();
                assert!(middles.len() < 2 || (middles[0] - middles[1]).abs() > WIDE - 1.0, "{middles:?}");
            }
        }
    }
}

/// Gathers of which nobody noted how long they are sewn are as long as the edge lay, from mark to mark, also where that was spread.
#[test]
fn gathers_between_marks_are_sewn_as_long_as_they_lay() {
    for open in [true, false] {
        let pattern = made(&format!(
            "[garment]\nshrinkage = {{ lengthwise = \"10 %\", crosswise = \"20 %\" }}\n[[shot]]\npicture = \"leg.jpg\"\npiece = \"leg\"\nside = \"outside\"\n\
             [piece.leg]\nopen = {open}\ngrain = {{ along = \"e3\" }}\n[[piece.leg.gather]]\nname = \"g\"\nedge = \"e0\"\nfull = \"120 mm\"\n\
             between = [{{ edge = \"e0\", at = \"20 mm\" }}, {{ edge = \"e0\", at = \"100 mm\" }}]\n"
        ));
        let told = if open {
            "gather from mark to mark to 100 mm"
        } else {
            "gather from 25 mm to 125 mm to 100 mm, from 150 mm drawn out: not spread here"
        };
        assert!(words(&pattern.pieces[0]).contains(&told), "{:?} {:?}", words(&pattern.pieces[0]), pattern.left_out);
    }
}

/// How far across the page the middle of a straight line lies, mm.
fn middle(line: &[kurbo::PathEl]) -> f64 {
    let ends: Vec<f64> = line.iter().filter_map(kurbo::PathEl::end_point).map(|p| p.x).collect();
    (ends[0] + ends[ends.len() - 1]) / 2.0
}

/// Cloth that will shrink by 20 % across and 10 % along: 4 mm across are drawn as 5, 9 mm along as 10, and that is what the words say of darts, opened or
/// shut, tucks, gathers and bands, for the lines beside them are drawn so. Elastic does not shrink with the cloth.
#[test]
fn words_are_of_the_piece_as_it_is_sized() {
    let made = |more: &str| {
        made(&format!(
            "[garment]\nshrinkage = {{ lengthwise = \"10 %\", crosswise = \"20 %\" }}\n[[shot]]\npicture = \"leg.jpg\"\npiece = \"leg\"\nside = \"outside\"\n\
             [piece.leg]\n{more}\n[piece.leg.grain]\nalong = \"e3\"\n"
        ))
    };
    for (open, shut) in [("true", ""), ("false", ", lies sewn shut")] {
        for (edge, point, intake, told) in [("e0", [100.0, 300.0], 24.0, 30.0), ("e1", [60.0, 400.0], 18.0, 20.0)] {
            let [x, y] = point;
            let at = if edge == "e0" { 100.0 } else { 400.0 };
            let pattern = made(&format!(
                "open = {open}\ndart = [{{ name = \"dart\", legs = [{{ edge = \"{edge}\", at = \"{at} mm\" }}], point = {{ mm = [\"{x} mm\", \"{y} mm\"] }}, \
                 intake = \"{intake} mm\", pressed = \"down\" }}]"
            ));
            let p = &pattern.pieces[0];
            assert!(
                words(p).contains(&format!("dart, takes in {told} mm, pressed down{shut}").as_str()),
                "{:?} {:?}",
                words(p),
                pattern.left_out
            );
            let mouths: Vec<kurbo::Point> = p.lines.iter().filter(|l| l.kind == LineKind::Dart).filter_map(|l| start(&l.path)).collect();
            assert!(mouths.len() == 1 || (mouths[0].distance(mouths[1]) - told).abs() < 1e-3, "{mouths:?}");
        }
        let pattern = made(&format!(
            "open = {open}\ndart = [{{ name = \"dart\", legs = [{{ mm = [\"60 mm\", \"400 mm\"] }}], point = {{ mm = [\"60 mm\", \"300 mm\"] }}, \
             other_point = {{ mm = [\"60 mm\", \"500 mm\"] }}, intake = \"16 mm\" }}]"
        ));
        let p = &pattern.pieces[0];
        assert!(words(p).contains(&"dart, takes in 20 mm"), "{:?}", words(p));
        let wide: Vec<f64> = p.lines.iter().filter(|l| l.kind == LineKind::Dart).filter_map(|l| start(&l.path)).map(|p| p.x).collect();
        let span = wide.iter().copied().fold(f64::MIN, f64::max) - wide.iter().copied().fold(f64::MAX, f64::min);
        assert!((span - 20.0).abs() < 1e-3, "{wide:?}");
        let pattern = made(&format!(
            "open = {open}\npleat = [{{ name = \"tuck\", edge = \"e0\", between = [{{ edge = \"e0\", at = \"100 mm\" }}, {{ edge = \"e0\", at = \"100 mm\" }}], \
             depth = \"8 mm\", count = 1, laid = \"box\", stitched_down = \"45 mm\" }}]"
        ));
        let p = &pattern.pieces[0];
        assert!(words(p).contains(&"tuck: 1 pleat 10.0 mm deep") && words(p).contains(&"stitched down 50.0 mm"), "{:?}", words(p));
        let line = p.lines.iter().find(|l| l.kind == LineKind::Pleat).expect("a line");
        assert!((Walk::of(&line.path).length() - 50.0).abs() < 1e-3);
        // Each side of a box is laid as far as it is deep.
        assert!(
            p.arrows.iter().all(|[from, to]| (from.distance(*to) - if open == "true" { 10.0 } else { 5.0 }).abs() < 1e-3),
            "{:?}",
            p.arrows
        );
    }
    let pattern = made(
        "gather = [{ name = \"gathers\", by = \"elastic\", edge = \"e0\", sewn = \"80 mm\", full = \"120 mm\", relaxed = \"72 mm\", \
         between = [{ edge = \"e0\", at = \"20 mm\", from = \"c0\" }, { edge = \"e0\", at = \"100 mm\", from = \"c0\" }] }]\nrelaxed = \"720 mm\"",
    );
    let p = &pattern.pieces[0];
    let told = "draw up by elastic from 25 mm off c0 to 125 mm off c0 to 100 mm, elastic 72 mm long, not made larger, \
                from 150 mm drawn out: not spread here";
    assert!(words(p).contains(&told), "{:?}", words(p));
    let ends: Vec<kurbo::Point> = p.lines.iter().filter(|l| l.name == "gathers").filter_map(|l| start(&l.path)).collect();
    assert!((ends[0].distance(ends[1]) - 100.0).abs() < 1e-3);
    assert_eq!(p.band.as_deref(), Some("band: 800 mm long relaxed, stretch not noted"));
}

/// Where a line starts.
fn start(line: &kurbo::BezPath) -> Option<kurbo::Point> {
    line.segments().next().map(|s| kurbo::ParamCurve::start(&s))
}

#[test]
fn a_bands_label_tells_its_relaxed_length() {
    let shot = "[[shot]]\npicture = \"leg.jpg\"\npiece = \"leg\"\n[piece.leg]\n";
    let band = |more: &str| made(&format!("{shot}{more}")).pieces.remove(0).band;
    let told = band("relaxed = \"400 mm\"\nstretch = { crosswise = \"20 %\" }\n").unwrap_or_default();
    assert!(told.starts_with("band: 400 mm") && told.ends_with("long relaxed, stretches 20 % crosswise"), "{told}");
    assert!(band("relaxed = \"400 mm\"\n").is_some_and(|w| w.ends_with("stretch not noted")));
    assert_eq!(band(""), None);
}
