//! A toile's corrections on the drafted lines.

mod given;
mod straight;

use given::{draft, length, notes};
use ruboff::piece::Walk;
use straight::{half_front, lines};

/// A waist that an open dart parts is moved out all along, the dart's mouth with it, and gets longer at its end, not at the dart.
#[test]
fn an_edge_that_a_dart_parts_is_corrected_as_one() {
    let panel = lines(&[
        ("waist left", "waist", [0.0, 0.0]),
        ("waist right", "side right", [200.0, 0.0]),
        ("hem right", "hem", [200.0, 500.0]),
        ("hem left", "side left", [0.0, 500.0]),
    ]);
    let dart = "[piece.panel]\nopen = true\n[[piece.panel.dart]]\nname = \"one\"\nlegs = [{ mm = [\"80 mm\", \"0 mm\"] }]\npoint = { mm = [\"80 mm\", \"100 mm\"] }\nintake = \"20 mm\"\n";
    let change = |what: &str| notes(&format!("{dart}[[change]]\npiece = \"panel\"\non = \"2026-03-02\"\nedge = \"waist\"\n{what}\n"));
    let before = draft("panel", &panel, &notes(dart));
    let before = before.piece.drafted();
    let out = draft("panel", &panel, &change("out = \"5 mm\""));
    assert!(out.undone.is_empty(), "{:?}", out.undone);
    let out = out.piece.drafted();
    for name in ["waist", "one", "one 2", "waist 2"] {
        let was = Walk::of(&before.edges[before.edge(name).expect("there")].path);
        let now = Walk::of(&out.edges[out.edge(name).expect("there")].path);
        let far = now.nearest(was.at(was.length() / 2.0)).1;
        assert!((far - 5.0).abs() < 0.05, "{name}: {far}");
    }
    let long = draft("panel", &panel, &change("longer = \"4 mm\""));
    let long = long.piece.drafted();
    assert!((length(long, "waist 2") - length(before, "waist 2") - 4.0).abs() < 0.01);
    for name in ["waist", "one", "one 2"] {
        assert!((length(long, name) - length(before, name)).abs() < 1e-6, "{name}");
    }
}

/// Of half a piece without a noted fold the hem gets longer at its side: the centre, by its name or where the notes mark it, stays where it is.
#[test]
fn a_half_keeps_its_centre() {
    let half = |centre: &str| {
        let mut out = half_front();
        let k = out.edge("centre").expect("there");
        out.edges[k].name = centre.into();
        out
    };
    for (name, more) in [("centre", ""), ("opening", "centre = [\"neck centre\", \"hem centre\"]\n")] {
        for layer in [half(name), half(name).mapped(kurbo::Affine::FLIP_X)] {
            let said = notes(&format!(
                "[piece.front]\n{more}[[change]]\npiece = \"front\"\non = \"2026-03-02\"\nedge = \"hem\"\nlonger = \"10 mm\"\n"
            ));
            let d = draft("front", &layer, &said);
            assert!(d.undone.is_empty(), "{:?}", d.undone);
            let (before, after) = (d.piece.found(), d.piece.drafted());
            assert!((length(after, "hem") - 210.0).abs() < 0.01);
            assert!((length(after, name) - length(before, name)).abs() < 1e-9, "{name}");
            let change = &d.piece.changes().last().expect("a change").what;
            assert!(change.contains("its corner hem side moved 10.0 mm"), "{change}");
        }
    }
}

/// What can't be corrected is told with what there is, and its line.
#[test]
fn corrections_of_what_is_not_there_are_told() {
    let panel =
        lines(&[("a", "top", [0.0, 0.0]), ("b", "right", [200.0, 0.0]), ("c", "bottom", [200.0, 500.0]), ("d", "left", [0.0, 500.0])]);
    for (what, word) in [
        ("edge = \"waist\"\nout = \"5 mm\"", "top, right, bottom, left"),
        ("corner = \"nape\"\nmove = [\"1 mm\", \"1 mm\"]", "a, b, c, d"),
        ("edge = \"top\"\nlonger = \"900 mm\"", "top is 200.0 mm long there and can't be made longer by +900.0 mm"),
        ("edge = \"top\"\nout = \"-900 mm\"", "top can't be moved out by -900.0 mm"),
    ] {
        let said = notes(&format!("[piece.panel]\n[[change]]\npiece = \"panel\"\non = \"2026-03-02\"\n{what}\n"));
        let undone = draft("panel", &panel, &said).undone;
        assert!(undone.len() == 1 && undone[0].contains(word) && undone[0].ends_with("(line 2 of the notes)"), "{undone:?}");
    }
}
