//! What the notes place on a piece of which one half is kept, or the mean of both drawn, on pieces whose lengths arithmetic gives.

mod given;
mod straight;

use given::{body, draft, notes};
use ruboff::notes::Notes;
use ruboff::piece::{Draft, Layer, Walk, marked};

const CENTRE: &str = "[piece.front]\nkind = \"body front\"\ncentre = [{ mm = [\"0 mm\", \"0 mm\"] }, { mm = [\"0 mm\", \"600 mm\"] }]\n";

/// A front 20 mm wider on its left, drafted with what is asked of it.
fn kept(more: &str) -> (Draft, Notes) {
    let said = notes(&format!("{CENTRE}{more}"));
    (draft("front", &body(20.0), &said), said)
}

/// How far along an edge a place lies from the corner of it that has a word in its name.
fn from(layer: &Layer, edge: &str, word: &str, at: f64) -> f64 {
    let k = layer.edge(edge).unwrap_or_else(|| panic!("{edge}"));
    let starts = layer.corners[k].name.contains(word);
    if starts { at } else { Walk::of(&layer.edges[k].path).length() - at }
}

/// A notch 65 mm from the underarm is 65 mm from it on the line that is drawn: of the mean on both halves, on the fold once, whichever side it was
/// noted on. Noted on both sides it is one on each.
#[test]
fn a_notch_keeps_its_length() {
    let notch = |side: &str| format!("[[piece.front.notch]]\nedge = \"armhole {side}\"\nat = \"65 mm\"\nfrom = \"underarm {side}\"\n");
    for own in ["left", "right"] {
        for (more, there) in [(String::new(), 2), (notch(if own == "left" { "right" } else { "left" }), 2)] {
            let all = format!("{}{more}", notch(own));
            let (d, _) = kept(&format!("cut = \"1\"\nkeep = \"mean\"\n{all}"));
            assert_eq!(d.undone, Vec::<String>::new());
            assert_eq!(d.piece.notches.len(), there, "{own}: {:?}", d.piece.notches);
            for n in &d.piece.notches {
                let at = from(d.piece.drafted(), &n.edge, "underarm", n.at);
                assert!((at - 65.0).abs() < 0.01, "{own} {}: {at}", n.edge);
            }
            let (d, _) = kept(&format!("cut = \"1, place on fold\"\nkeep = \"mean\"\n{all}"));
            assert_eq!(d.piece.notches.len(), 1, "{own}: {:?}", d.piece.notches);
            let at = from(d.piece.drafted(), &d.piece.notches[0].edge, "underarm", d.piece.notches[0].at);
            assert!((at - 65.0).abs() < 0.01, "{own}: {at}");
        }
    }
}

/// Where the piece's centre lies across the page.
fn centre(layer: &Layer) -> f64 {
    ["hem left", "hem right"].map(|name| layer.corner(name).map(|k| layer.corners[k].at.x)).into_iter().flatten().sum::<f64>() / 2.0
}

/// Both legs of each dart that is drawn: how far their ends are apart, and how far below the underarm the upper one ends, on either side.
fn mouths(d: &Draft, said: &Notes) -> Vec<(String, f64, f64)> {
    let layer = d.piece.drafted();
    let drawn = marked(d, &said.garment, "").darts;
    let ends = drawn.iter().map(|dart| {
        let [a, b] = [0, 1].map(|k| dart.legs[k].segments().next().map(|s| kurbo::ParamCurve::start(&s)).expect("a leg"));
        let side = if a.x > centre(layer) { "left" } else { "right" };
        let underarm = layer.corners[layer.corner(&format!("underarm {side}")).expect("there")].at;
        let near = [a, b].map(|p| p.distance((underarm.x, underarm.y).into())).into_iter().fold(f64::INFINITY, f64::min);
        (dart.name.clone(), a.distance(b), near)
    });
    ends.collect()
}

/// A dart noted on one side is opened on both, and every edge is as long on the left as on the right.
#[test]
fn a_dart_of_one_side_is_drawn_on_both() {
    let dart = "[[piece.front.dart]]\nname = \"bust\"\nlegs = [{ edge = \"side left\", at = \"100 mm\", from = \"underarm left\" }]\npoint = { mm = [\"90 mm\", \"300 mm\"] }\nintake = \"22 mm\"\n";
    for keep in ["mean", "left"] {
        let (d, said) = kept(&format!("cut = \"1\"\nopen = true\nkeep = \"{keep}\"\n{dart}"));
        let all = mouths(&d, &said);
        assert_eq!(all.iter().map(|m| m.0.as_str()).collect::<Vec<_>>(), ["bust", "bust right"], "{keep}");
        for (name, wide, far) in &all {
            assert!((wide - 22.0).abs() < 0.01 && (far - 100.0).abs() < 0.5, "{keep} {name}: {wide} {far}");
        }
        let layer = d.piece.drafted();
        let long = |name: &str| layer.edges[layer.edge(name).unwrap_or_else(|| panic!("{name}"))].length();
        for name in ["side", "armhole", "shoulder"] {
            let [left, right] = ["left", "right"].map(|side| {
                let (own, _) = d.piece.edges_of(&format!("{name} {side}"));
                own.iter().map(|&k| layer.edges[k].length()).sum::<f64>()
            });
            assert!((left - right).abs() < 0.01, "{keep} {name}: {left} {right}");
        }
        assert!((long("bust") - long("bust right 2")).abs() < 0.05, "{keep}");
    }
    // Shut, where it was noted on the half that is not kept: gone with that, which is told; `once`, it stays.
    let (d, said) = kept(&format!("cut = \"1\"\nkeep = \"right\"\n{dart}"));
    let told = marked(&d, &said.garment, "");
    assert!(told.darts.is_empty() && told.undone.iter().any(|u| u.contains("\"bust\"")), "{:?}", told.undone);
    for keep in ["right", "mean"] {
        let (d, said) = kept(&format!("cut = \"1\"\nkeep = \"{keep}\"\n{dart}once = true\n"));
        assert_eq!(marked(&d, &said.garment, "").darts.len(), 1, "{keep}");
    }
}

/// Darts noted on both sides, 100 and 110 mm below the underarms and 20 and 24 mm wide: their mean is 105 mm and 22 mm, on both halves or once on the fold;
/// of a half that is kept both are as on that half.
#[test]
fn darts_of_both_sides_are_as_one() {
    let dart = |name: &str, side: &str, at: f64, x: f64, intake: f64| {
        format!(
            "[[piece.front.dart]]\nname = \"{name}\"\nlegs = [{{ edge = \"side {side}\", at = \"{at} mm\", from = \"underarm {side}\" }}]\npoint = {{ mm = [\"{x} mm\", \"{} mm\"] }}\nintake = \"{intake} mm\"\n",
            200.0 + at
        )
    };
    for names in [["left dart", "right dart"], ["one", "another"]] {
        let both = format!("{}{}", dart(names[0], "left", 100.0, 110.0, 20.0), dart(names[1], "right", 110.0, -90.0, 24.0));
        for (keep, wide, far) in [("mean", 22.0, 105.0), ("left", 20.0, 100.0), ("right", 24.0, 110.0)] {
            for (cut, count) in [("1", 2), ("1, place on fold", 1)] {
                let (d, said) = kept(&format!("cut = \"{cut}\"\nopen = true\nkeep = \"{keep}\"\n{both}"));
                let all = mouths(&d, &said);
                assert_eq!(all.len(), count, "{keep} {cut}: {all:?}");
                assert!(d.undone.iter().all(|u| u.contains("was opened")), "{keep} {cut}: {:?}", d.undone);
                assert!(marked(&d, &said.garment, "").undone.is_empty(), "{keep} {cut}");
                for (name, w, f) in &all {
                    assert!((w - wide).abs() < 0.01 && (f - far).abs() < 0.5, "{keep} {cut} {name}: {w} {f}");
                }
            }
        }
    }
}

/// A pleat laid to the wearer's left and a pocket's mark: on the other half the pleat is laid to the right, the mark as far from the centre.
#[test]
fn pleats_and_marks_are_mirrored() {
    let text = "cut = \"1\"\nkeep = \"left\"\n[[piece.front.pleat]]\nname = \"tuck\"\nedge = \"hem\"\nbetween = [{ mm = [\"50 mm\", \"600 mm\"] }, { mm = [\"90 mm\", \"600 mm\"] }]\ncount = 2\ndepth = \"8 mm\"\nlaid = \"left\"\n\
        [[piece.front.mark]]\nname = \"pocket\"\nat = { mm = [\"100 mm\", \"350 mm\"] }\n";
    let (d, said) = kept(text);
    let told = marked(&d, &said.garment, "");
    let words: Vec<&str> = told.fullness.iter().map(|f| f.words.as_str()).collect();
    assert!(words.len() == 2 && words[0].contains("wearer's left") && words[1].contains("wearer's right"), "{words:?}");
    let marks: Vec<(&str, f64)> = told.marks.iter().map(|m| (m.name.as_str(), m.at.x)).collect();
    assert_eq!(marks.len(), 2, "{marks:?}");
    assert!((marks[0].1 + marks[1].1 - 2.0 * centre(d.piece.drafted())).abs() < 1e-6 && marks[1].0 == "pocket right", "{marks:?}");
}
