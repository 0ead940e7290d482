//! A toile's corrections on the drafted lines.

mod given;
mod straight;

use given::{draft, length, notes};
use kurbo::{ParamCurve, Point};
use ruboff::piece::{Draft, Layer, Walk, marked};
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

/// Where legs of darts, pleats' lines and marks start.
fn starts(d: &Draft) -> Vec<Point> {
    let all = marked(d, &Default::default(), "");
    let lines = all.darts.iter().flat_map(|d| &d.legs).chain(all.fullness.iter().flat_map(|f| &f.lines));
    let drawn: Vec<Point> = lines.filter_map(|l| l.segments().next()).map(|s| s.start()).collect();
    drawn.into_iter().chain(all.marks.iter().filter(|m| !m.name.contains("point")).map(|m| Point::new(m.at.x, m.at.y))).collect()
}

/// How far a place lies off an edge.
fn off(layer: &Layer, edge: &str, p: Point) -> f64 {
    Walk::of(&layer.edges[layer.edge(edge).expect("there")].path).nearest(p).1
}

/// What sits on a waist goes with it where it is moved out, made longer, or a corner of it is moved: legs of a dart that lies open, a dart shut and one
/// turned open, a pleat, a mark and a notch. A mark within the piece stays.
#[test]
fn what_sits_on_an_edge_goes_with_it() {
    let panel = lines(&[
        ("waist left", "waist", [0.0, 0.0]),
        ("waist right", "side right", [300.0, 0.0]),
        ("hem right", "hem", [300.0, 500.0]),
        ("hem left", "side left", [0.0, 500.0]),
    ]);
    let at = |x: f64, y: f64| format!("{{ mm = [\"{x} mm\", \"{y} mm\"] }}");
    let dart = |name: &str, legs: &str, x: f64| {
        format!("[[piece.panel.dart]]\nname = \"{name}\"\nlegs = [{legs}]\npoint = {}\nintake = \"20 mm\"\n", at(x, 100.0))
    };
    let more = format!(
        "[[piece.panel.pleat]]\nname = \"pleat\"\nedge = \"waist\"\nbetween = [{0}, {0}]\ncount = 1\ndepth = \"10 mm\"\n\
         [[piece.panel.mark]]\nname = \"loop\"\nat = {1}\n[[piece.panel.mark]]\nname = \"pocket\"\nat = {2}\n\
         [[piece.panel.notch]]\nedge = \"waist\"\nat = \"270 mm\"\nfrom = \"waist left\"\n",
        at(200.0, 0.0),
        at(230.0, 0.0),
        at(150.0, 300.0)
    );
    let open = dart("open", &format!("{}, {}", at(40.0, 0.0), at(60.0, 0.0)), 50.0);
    let shut = dart("shut", &at(140.0, 0.0), 140.0);
    let centre = "centre = [\"waist left\", \"hem left\"]\n";
    for opened in [false, true] {
        let text = format!("[piece.panel]\nopen = {opened}\n{centre}{open}{}{more}", if opened { String::new() } else { shut.clone() });
        for change in [
            "edge = \"waist\"\nout = \"6 mm\"",
            "edge = \"waist\"\nout = \"-7 mm\"",
            "edge = \"waist\"\nlonger = \"5 mm\"",
            "corner = \"waist right\"\nmove = [\"9 mm\", \"-8 mm\"]",
        ] {
            let before = draft("panel", &panel, &notes(&text));
            let after = draft("panel", &panel, &notes(&format!("{text}[[change]]\npiece = \"panel\"\non = \"2026-03-02\"\n{change}\n")));
            let (was, now) = (starts(&before), starts(&after));
            assert_eq!(was.len(), now.len(), "{change}");
            let mut moved = 0;
            for (p, q) in was.iter().zip(&now) {
                if off(before.piece.drafted(), "waist", *p) < 0.01 {
                    let there = off(after.piece.drafted(), "waist", *q);
                    assert!(there < 0.01, "{change}: {p:?} {q:?}");
                    moved += 1;
                } else if (p.y - 300.0).abs() < 1.0 {
                    assert!(p.distance(*q) < 1e-9, "{change}: {p:?} {q:?}");
                }
            }
            assert!(moved >= 4, "{change}: {moved}");
            // Moved out it stays where it is along the edge; made longer all lies further along by its share of the edge.
            let by = |l: &Draft| length(l.piece.drafted(), "waist");
            let longer = if change.contains("out") { 1.0 } else { by(&after) / by(&before) };
            let share = after.piece.notches[0].at / before.piece.notches[0].at;
            assert!((share - longer).abs() < 1e-3, "{change}: {share} {longer}");
            let [a, b] = after.piece.open_along(after.piece.drafted().edge("waist").expect("there"))[..].concat()[..] else {
                panic!("{change}")
            };
            assert!((b - a - 20.0 * longer).abs() < 1e-3, "{change}: {a} {b}");
        }
    }
    // Of a dart that was turned open the legs end where its mouth does.
    let text = format!("[piece.panel]\nopen = true\n{centre}{shut}");
    let out = draft(
        "panel",
        &panel,
        &notes(&format!("{text}[[change]]\npiece = \"panel\"\non = \"2026-03-02\"\nedge = \"waist\"\nout = \"6 mm\"\n")),
    );
    let corner = |name: &str| {
        let layer = out.piece.drafted();
        let at = layer.corners[layer.corner(name).unwrap_or_else(|| panic!("{name}"))].at;
        Point::new(at.x, at.y)
    };
    let legs = starts(&out);
    assert!(legs[0].distance(corner("shut: first leg")) < 1e-9 && legs[1].distance(corner("shut: second leg")) < 1e-9, "{legs:?}");
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
