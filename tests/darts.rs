//! Darts, pleats, tucks and gathers, opened and drawn, on pieces whose result arithmetic gives.

mod given;
mod straight;

use given::{DART, draft, length, notes};
use kurbo::ParamCurve;
use ruboff::length::Mm;
use ruboff::piece::{How, Marked, Verdict, Walk, joins, marked};
use straight::{half_front, lines};

/// Legs of 110 mm and an intake of 22 mm: the side parts into two stretches of 100 and 300 mm with the dart between; the fold stays straight
/// and upright, and all else keeps its length. Walked against a back's side of 400 mm, dart closed, it is true.
#[test]
fn a_dart_is_opened_on_request_and_walked_closed() {
    let said = notes(&format!("{DART}[[join]]\nedges = [\"front: side\", \"back: side\"]\n"));
    let front = draft("front", &half_front(), &said);
    assert!(front.undone.is_empty(), "{:?}", front.undone);
    let layer = front.piece.drafted();
    assert!((length(layer, "side") - 100.0).abs() < 1e-6 && (length(layer, "side 2") - 300.0).abs() < 1e-6);
    let leg = |name: &str| layer.corners[layer.corner(name).expect("a leg")].at;
    assert!((leg("bust: first leg").distance(leg("bust: second leg")) - 22.0).abs() < 1e-6);
    for name in ["shoulder", "armhole", "neckline", "centre", "hem"] {
        assert!((length(layer, name) - length(front.piece.found(), name)).abs() < 1e-6, "{name}");
    }
    let fold: Vec<_> = layer.edges[layer.edge("centre").expect("there")].path.segments().collect();
    assert!(fold.len() == 1 && (fold[0].start().x - fold[0].end().x).abs() < 1e-9, "{fold:?}");
    // Its other half is its mirror image, so its edges stand for that too.
    assert_eq!(front.piece.edges_of("side").0.len(), 2);
    let change = front.piece.changes().last().expect("a change");
    assert!(
        change.what.contains("22.0 mm") && change.what.contains("all edges keep their length") && change.how == How::Chosen,
        "{}",
        change.what
    );
    // Turned about its point when the notes name the edge that gives, so blunt a dart turns the lower part far; that is told.
    let turned = draft("front", &half_front(), &notes(&DART.replace("intake =", "gives = \"hem\"\nintake =")));
    assert!(turned.undone.len() == 1 && turned.undone[0].contains("hem gave -"), "{:?}", turned.undone);
    // As found nothing has changed.
    assert_eq!(front.piece.found().edges.len(), 6);
    let back = draft("back", &half_front(), &said);
    let walked = joins(&said, &[&front.piece, &back.piece]).remove(0).expect("walked");
    assert!(walked.difference().abs() < 1e-6 && walked.verdict == Verdict::True, "{}", walked.difference());
    // Unless it is asked for, the piece stays as it lies, and the dart is drawn on it.
    let shut = notes(&DART.replace("open = true\n", ""));
    let front = draft("front", &half_front(), &shut);
    assert!((front.piece.drafted().area() - front.piece.found().area()).abs() < 1e-6);
    let drawn = marked(&front, &shut.garment, "x/front");
    assert_eq!(drawn.darts[0].legs.len(), 1);
}

/// Darts that a fold forbids are told with what to do: one with its mouth on the fold, and one for which the fold would have to give.
#[test]
fn a_fold_takes_no_dart() {
    let at_fold = DART.replace("legs = [{ edge = \"side\", at = \"100 mm\" }]", "legs = [{ edge = \"centre\", at = \"200 mm\" }]");
    for (text, word) in [(at_fold, "cut = \"2, mirrored\""), (DART.replace("intake =", "gives = \"centre\"\nintake ="), "stays straight")] {
        let front = draft("front", &half_front(), &notes(&text));
        assert!(front.undone.len() == 1 && front.undone[0].contains(word), "{:?}", front.undone);
        assert!((front.piece.drafted().area() - front.piece.found().area()).abs() < 1e-6);
    }
    // Cut twice instead, with a seam at the centre, it is opened there.
    let seam = DART
        .replace("legs = [{ edge = \"side\", at = \"100 mm\" }]", "legs = [{ edge = \"centre\", at = \"200 mm\" }]")
        .replace("cut = \"1, place on fold\"\nfold = \"centre\"", "cut = \"2, mirrored\"");
    let front = draft("front", &half_front(), &notes(&seam));
    assert_eq!(front.piece.edges_of("centre").0.len(), 2, "{:?}", front.undone);
}

/// A dart with two points is drawn where it is sewn, opened or not: four legs from its widest place, two holes; opened it makes the side
/// longer and leaves fold and hem alone, and a place beside it moves along.
#[test]
fn a_dart_with_two_points_is_opened_on_request() {
    let text = "[piece.front]\ncut = \"1, place on fold\"\nfold = \"centre\"\nopen = true\n[piece.front.grain]\nalong = \"centre\"\n\
        [[piece.front.dart]]\nname = \"waist\"\nlegs = [{ mm = [\"90 mm\", \"390 mm\"] }]\npoint = { mm = [\"90 mm\", \"250 mm\"] }\n\
        other_point = { mm = [\"90 mm\", \"510 mm\"] }\nintake = \"26 mm\"\n\
        [[piece.front.mark]]\nname = \"pocket\"\nat = { mm = [\"150 mm\", \"390 mm\"] }\n";
    let open = notes(text);
    let front = draft("front", &half_front(), &open);
    assert!(front.undone.is_empty(), "{:?}", front.undone);
    assert!((front.piece.drafted().area() - front.piece.found().area() - 26.0 * 260.0 / 2.0).abs() < 0.5);
    let drawn = marked(&front, &open.garment, "x/front");
    assert_eq!((drawn.darts[0].legs.len(), drawn.marks.len()), (4, 3));
    let pocket = drawn.marks.iter().find(|m| m.name == "pocket").expect("there").at;
    assert!((pocket.x - 176.0).abs() < 1e-6, "{pocket:?}");
    let shut = notes(&text.replace("open = true\n", ""));
    let front = draft("front", &half_front(), &shut);
    let wide = |m: &Marked| {
        m.darts[0]
            .legs
            .iter()
            .map(|l| l.segments().next().expect("a leg").start().x)
            .fold((f64::MAX, f64::MIN), |r, x| (r.0.min(x), r.1.max(x)))
    };
    for m in [&drawn, &marked(&front, &shut.garment, "x/front")] {
        let (low, high) = wide(m);
        assert!((high - low - 26.0).abs() < 1e-6, "{low} {high}");
    }
}

/// Pleats of 20 mm take up 40 each: three make the panel 120 mm wider all the way down, and its waist is sewn as long as before.
/// Gathered from 200 to 320 mm it is 120 wider too.
#[test]
fn pleats_and_gathers_are_spread() {
    let panel = lines(&[
        ("waist left", "waist", [0.0, 0.0]),
        ("waist right", "side right", [200.0, 0.0]),
        ("hem right", "hem", [240.0, 500.0]),
        ("hem left", "side left", [-40.0, 500.0]),
    ]);
    let band = lines(&[("a", "top", [0.0, 0.0]), ("b", "end", [200.0, 0.0]), ("c", "bottom", [200.0, 40.0]), ("d", "start", [0.0, 40.0])]);
    let join = "[[join]]\nedges = [\"panel: waist\", \"band: bottom\"]\n";
    for (fullness, taken) in [
        (
            "[[piece.panel.pleat]]\nname = \"p\"\nedge = \"waist\"\nbetween = [{ edge = \"waist\", at = \"50 mm\" }, { edge = \"waist\", at = \"150 mm\" }]\ndepth = \"20 mm\"\ncount = 3\nacross = \"hem\"\n",
            120.0,
        ),
        ("[[piece.panel.gather]]\nname = \"g\"\nedge = \"waist\"\nfull = \"320 mm\"\nacross = \"hem\"\n", 120.0),
        (
            "[[piece.panel.gather]]\nname = \"g\"\nby = \"elastic\"\nedge = \"waist\"\nsewn = \"200 mm\"\nfull = \"275 mm\"\nrelaxed = \"150 mm\"\nacross = \"hem\"\n",
            75.0,
        ),
    ] {
        let said = notes(&format!("[piece.panel]\nkind = \"skirt panel\"\nopen = true\n{fullness}{join}"));
        let full = draft("panel", &panel, &said);
        assert_eq!(full.undone, Vec::<String>::new());
        let layer = full.piece.drafted();
        assert!((length(layer, "waist") - 200.0 - taken).abs() < 1e-6, "{}", length(layer, "waist"));
        assert!((length(layer, "hem") - 280.0 - taken).abs() < 1e-6);
        assert!((layer.area() - panel.area() - taken * 500.0).abs() < 1e-3);
        let steps = layer.edges[layer.edge("hem").expect("there")].path.segments().count();
        assert_eq!(steps, if fullness.contains("gather") { 1 } else { 7 }, "pleats make steps, gathers none");
        assert!((length(layer, "side left") - length(&panel, "side left")).abs() < 1e-6);
        let plain = draft("band", &band, &said);
        let walked = joins(&said, &[&full.piece, &plain.piece]).remove(0).expect("walked");
        assert!(walked.difference().abs() < 1e-6, "{}", walked.difference());
    }
}

/// A waist that falls by 40 mm over 200 stays straight when it is gathered (arithmetic: stretched across, a line is a line), and is longer by exactly
/// what was asked, though it runs askew to the spreading.
#[test]
fn a_gathered_edge_stays_smooth() {
    let panel = lines(&[
        ("waist left", "waist", [0.0, 0.0]),
        ("waist right", "side right", [200.0, 40.0]),
        ("hem right", "hem", [200.0, 500.0]),
        ("hem left", "side left", [0.0, 500.0]),
    ]);
    let said = notes(
        "[piece.panel]\nkind = \"skirt panel\"\nopen = true\n[[piece.panel.gather]]\nname = \"g\"\nedge = \"waist\"\nfull = \"320 mm\"\nacross = \"hem\"\n",
    );
    let full = draft("panel", &panel, &said);
    assert_eq!(full.undone, Vec::<String>::new());
    let layer = full.piece.drafted();
    let before = length(&panel, "waist");
    let taken = full.piece.sewn()[0].taken_up;
    assert!((length(layer, "waist") - before - taken).abs() < 1e-6 && (taken - (320.0 - before)).abs() < 1e-6);
    let waist = &layer.edges[layer.edge("waist").expect("there")].path;
    let walk = Walk::of(waist);
    let bend = |far: f64| walk.along(far).cross(walk.along(0.0)).abs();
    assert!((0..=20).all(|k| bend(walk.length() * f64::from(k) / 20.0) < 1e-6));
    for side in ["side left", "side right"] {
        assert!((length(layer, side) - length(&panel, side)).abs() < 1e-6);
    }
}

/// Pleats 20 mm deep, at 70, 100 and 130 mm of a waist as it lies: each takes up 40 mm, so that the opened ones lie 70 mm apart, their two lines 40 mm
/// apart and as long as they are stitched down, with an arrow to the side they are laid to. Shut they are one line each. Of a box pleat each
/// visible edge is carried 20 mm outwards, of an inverted one both are carried to the middle.
#[test]
fn pleats_are_drawn() {
    let panel = lines(&[
        ("waist left", "waist", [0.0, 0.0]),
        ("waist right", "side right", [200.0, 0.0]),
        ("hem right", "hem", [200.0, 500.0]),
        ("hem left", "side left", [0.0, 500.0]),
    ]);
    let text = |laid: &str, open: bool| {
        format!(
            "[piece.panel]\nkind = \"skirt panel\"\nopen = {open}\n[[piece.panel.pleat]]\nname = \"p\"\nedge = \"waist\"\n\
             between = [{{ edge = \"waist\", at = \"70 mm\" }}, {{ edge = \"waist\", at = \"130 mm\" }}]\nspacing = \"30 mm\"\ncount = 3\n\
             depth = \"20 mm\"\nlaid = \"{laid}\"\nstitched_down = \"60 mm\"\nacross = \"hem\"\n"
        )
    };
    let drawn = |text: &str| {
        let said = notes(text);
        let draft = draft("panel", &panel, &said);
        assert!(draft.undone.is_empty(), "{:?}", draft.undone);
        let mut all = marked(&draft, &said.garment, "x/panel").fullness;
        assert_eq!(all.len(), 1);
        all.remove(0)
    };
    // Upright lines by where they stand, and arrows from where to where.
    let told = |f: &ruboff::piece::FullnessDrawn| {
        let (mut upright, mut arrows) = (Vec::new(), Vec::new());
        for line in &f.lines {
            let first = line.segments().next().expect("a line");
            let (a, b) = (first.start(), first.end());
            if (a.x - b.x).abs() < 1e-6 {
                assert!((b.y - a.y - 60.0).abs() < 1e-6, "{a} {b}");
                upright.push(a.x.round() as i32);
            } else {
                arrows.push((a.x.round() as i32, b.x.round() as i32));
            }
        }
        upright.sort_unstable();
        arrows.sort_unstable();
        (upright, arrows)
    };
    let left = drawn(&text("to side", true));
    assert_eq!(left.words, "3 pleats, each 20.0 mm deep, laid to the side, stitched down 60.0 mm");
    let places = vec![70, 110, 140, 180, 210, 250];
    // The opened panel is 320 mm wide: its middle lies at 160, in the middle pleat.
    assert_eq!(told(&left).0, places);
    assert!(told(&left).1.contains(&(110, 70)) && told(&left).1.contains(&(210, 250)), "{:?}", told(&left));
    let centre = told(&drawn(&text("to centre", true)));
    assert!(centre.1.contains(&(70, 110)) && centre.1.contains(&(250, 210)), "{centre:?}");
    // Half a front has its centre at its edge, as the notes mark it.
    let marked_centre = "kind = \"skirt panel\"\ncentre = [\"waist left\", \"hem left\"]";
    let centre = told(&drawn(&text("to centre", true).replace("kind = \"skirt panel\"", marked_centre)));
    assert!([(110, 70), (180, 140), (250, 210)].iter().all(|arrow| centre.1.contains(arrow)), "{centre:?}");
    let inverted = told(&drawn(&text("inverted", true)));
    assert!(inverted.1.contains(&(70, 90)) && inverted.1.contains(&(110, 90)), "{inverted:?}");
    let boxed = told(&drawn(&text("box", true)));
    assert!(boxed.1.contains(&(80, 60)) && boxed.1.contains(&(100, 120)), "{boxed:?}");
    let shut = told(&drawn(&text("box", false)));
    // Closed it is one line, its two arrows together as long as it is deep.
    assert_eq!(shut.0, [70, 100, 130]);
    assert!(shut.1.contains(&(70, 80)) && shut.1.contains(&(70, 60)), "{shut:?}");
    // Where cloth is drawn together between two places both are marked; elastic is told with its own length.
    let gathered = drawn(
        "[piece.panel]\nkind = \"skirt panel\"\nopen = true\n[[piece.panel.gather]]\nname = \"g\"\nby = \"elastic\"\nedge = \"waist\"\n\
         between = [{ edge = \"waist\", at = \"50 mm\" }, { edge = \"waist\", at = \"150 mm\" }]\nsewn = \"100 mm\"\nfull = \"160 mm\"\nrelaxed = \"90 mm\"\nacross = \"hem\"\n",
    );
    assert_eq!(gathered.words, "drawn up by elastic to 100.0 mm, cut 90.0 mm long, relaxed");
    let ends: Vec<i32> = gathered.lines.iter().map(|l| l.segments().next().expect("a line").start().x.round() as i32).collect();
    assert_eq!(ends, [50, 210]);
}

/// Names that nothing on the piece has are told, whatever they are of, whether or not the piece is opened; so is a place counted from a corner that
/// its edge has not, which might be counted from the wrong end otherwise.
#[test]
fn fullness_without_a_place_is_told() {
    let cases = [
        "[[piece.front.dart]]\nname = \"lost\"\nlegs = [\"nowhere\"]\npoint = { mm = [\"90 mm\", \"300 mm\"] }\nintake = \"20 mm\"\n",
        "[[piece.front.dart]]\nname = \"lost\"\nlegs = [{ edge = \"side\", at = \"100 mm\", from = \"elbow\" }]\npoint = { mm = [\"90 mm\", \"300 mm\"] }\nintake = \"20 mm\"\n",
        "[[piece.front.pleat]]\nname = \"lost\"\nedge = \"hem\"\nbetween = [\"a\", \"b\"]\ndepth = \"20 mm\"\n",
        "[[piece.front.gather]]\nname = \"lost\"\nedge = \"wrist\"\nfull = \"320 mm\"\n",
    ];
    for case in cases {
        for open in [false, true] {
            let said = notes(&format!("[piece.front]\nopen = {open}\n{case}"));
            let front = draft("front", &half_front(), &said);
            let drawn = marked(&front, &said.garment, "x/front");
            let told: Vec<&String> = front.undone.iter().chain(&drawn.undone).filter(|u| u.contains("\"lost\"")).collect();
            assert_eq!(told.len(), 1, "{open}: {case}: {told:?}");
        }
    }
    let said = notes("[piece.front]\n[[piece.front.notch]]\nedge = \"side\"\nat = \"100 mm\"\nfrom = \"elbow\"\n");
    let front = draft("front", &half_front(), &said);
    assert!(front.piece.notches.is_empty() && front.undone.len() == 1, "{:?}", front.undone);
}

/// A bust dart and one with two points that share their levels: whichever the notes name first, the bust dart's legs stay equal.
#[test]
fn darts_with_two_points_are_opened_first() {
    let waist = "[[piece.front.dart]]\nname = \"waist\"\nlegs = [{ mm = [\"90 mm\", \"400 mm\"] }]\npoint = { mm = [\"90 mm\", \"310 mm\"] }\nother_point = { mm = [\"90 mm\", \"510 mm\"] }\nintake = \"24 mm\"\n";
    let bust = "[[piece.front.dart]]\nname = \"bust\"\nlegs = [{ edge = \"side\", at = \"160 mm\" }]\npoint = { mm = [\"95 mm\", \"290 mm\"] }\nintake = \"25 mm\"\n";
    let mut areas = Vec::new();
    for both in [format!("{waist}{bust}"), format!("{bust}{waist}")] {
        let said = notes(&format!("[piece.front]\ncut = \"1, place on fold\"\nfold = \"centre\"\nopen = true\n{both}"));
        let front = draft("front", &half_front(), &said);
        let layer = front.piece.drafted();
        let leg = |name: &str| layer.corners[layer.corner(name).expect("a leg")].at;
        let (first, second) = (leg("bust: first leg"), leg("bust: second leg"));
        assert!((first.distance(second) - 25.0).abs() < 1e-6);
        let drawn = marked(&front, &said.garment, "x/front");
        let bust = drawn.darts.iter().find(|d| d.name == "bust").expect("drawn");
        let legs: Vec<f64> = bust.legs.iter().map(|l| Walk::of(l).length()).collect();
        assert!((legs[0] - legs[1]).abs() < 1e-6, "{legs:?}");
        areas.push(layer.area());
    }
    assert!((areas[0] - areas[1]).abs() < 1e-6, "{areas:?}");
}

/// Spread along a line that meets the fold aslant, a piece would no longer lie on the fold: told, and left as it is.
#[test]
fn a_fold_is_not_bent_by_pleats() {
    let said = notes(
        "[piece.front]\ncut = \"1, place on fold\"\nfold = \"centre\"\nopen = true\n[[piece.front.pleat]]\nname = \"tuck\"\n\
         edge = \"armhole\"\nbetween = [{ edge = \"armhole\", at = \"80 mm\" }, { edge = \"armhole\", at = \"90 mm\" }]\ndepth = \"8 mm\"\n",
    );
    let out = draft("front", &half_front(), &said);
    assert!(out.undone.iter().any(|u| u.contains("would bend centre")), "{:?}", out.undone);
    assert_eq!(length(out.piece.drafted(), "centre"), length(&half_front(), "centre"));
}

/// A panel of 200 by 500 mm.
fn panel() -> ruboff::piece::Layer {
    lines(&[
        ("waist left", "waist", [0.0, 0.0]),
        ("waist right", "side right", [200.0, 0.0]),
        ("hem right", "hem", [200.0, 500.0]),
        ("hem left", "side left", [0.0, 500.0]),
    ])
}

/// Gathered at one edge alone a panel becomes part of a ring: its waist an arc of 320 mm, its hem one of 200 as before, its sides 500 mm apart; so
/// large as the mean of both arcs times their distance (a ring's area). Half of it, on the fold, is half as large, and its fold lies as it lay.
#[test]
fn gathers_run_out_to_nothing_across() {
    let text = |more: &str| {
        format!("[piece.panel]\n{more}open = true\n[[piece.panel.gather]]\nname = \"g\"\nedge = \"waist\"\nfull = \"320 mm\"\n")
    };
    let full = draft("panel", &panel(), &notes(&text("")));
    assert_eq!(full.undone, Vec::<String>::new());
    let layer = full.piece.drafted();
    for (name, long) in [("waist", 320.0), ("hem", 200.0), ("side left", 500.0), ("side right", 500.0)] {
        assert!((length(layer, name) - long).abs() < 2e-3, "{name} {}", length(layer, name));
    }
    assert!((layer.area() - 130_000.0).abs() < 5.0, "{}", layer.area());
    let way = |name: &str, end: bool| {
        let walk = Walk::of(&layer.edges[layer.edge(name).expect("there")].path);
        walk.along(if end { walk.length() } else { 0.0 })
    };
    // 120 mm more on 500 are 0.24 radians, half of it to either side; corners keep their right angles.
    assert!((way("side right", false).x + (0.12f64).sin()).abs() < 1e-4, "{:?}", way("side right", false));
    assert!(way("waist", true).dot(way("side right", false)).abs() < 1e-4 && way("side right", true).dot(way("hem", false)).abs() < 1e-4);
    let what = &full.piece.changes().last().expect("a change").what;
    assert!(what.contains("to nothing at hem, which keeps its length"), "{what}");

    let half = draft("panel", &panel(), &notes(&text("cut = \"1, place on fold\"\nfold = \"side left\"\n").replace("320", "300")));
    assert_eq!(half.undone, Vec::<String>::new());
    let layer = half.piece.drafted();
    let fold: Vec<_> = layer.edges[layer.edge("side left").expect("there")].path.segments().collect();
    assert!(fold.len() == 1 && (fold[0].start().x - fold[0].end().x).abs() < 1e-9, "{fold:?}");
    assert!((layer.area() - 125_000.0).abs() < 5.0, "{}", layer.area());
}

/// Between two places of an edge the fullness opens there alone: beside them the edge runs as it ran, and all others keep their length. Three pleats of
/// 20 mm add three triangles with legs of 500 mm and a base of 40 (Heron), and their lines run together towards the hem.
#[test]
fn fullness_between_two_places_opens_there_alone() {
    let between = "between = [{ edge = \"waist\", at = \"50 mm\" }, { edge = \"waist\", at = \"150 mm\" }]\n";
    let open = |what: &str| {
        let said = notes(&format!("[piece.panel]\nopen = true\n{what}{between}"));
        let out = draft("panel", &panel(), &said);
        assert_eq!(out.undone, Vec::<String>::new());
        for name in ["hem", "side left", "side right"] {
            assert!((length(out.piece.drafted(), name) - length(&panel(), name)).abs() < 2e-3, "{name}");
        }
        assert!((length(out.piece.drafted(), "waist") - 320.0).abs() < 2e-3);
        (marked(&out, &said.garment, "x/panel"), out)
    };
    let (_, gathered) = open("[[piece.panel.gather]]\nname = \"g\"\nedge = \"waist\"\nsewn = \"100 mm\"\nfull = \"220 mm\"\n");
    let waist = Walk::of(&gathered.piece.drafted().edges[0].path);
    for far in [0.0, 270.0] {
        let bend = waist.along(far + 1.0).cross(waist.along(far + 49.0)).abs();
        assert!(bend < 1e-6, "{far}: {bend}");
    }
    let (drawn, pleated) =
        open("[[piece.panel.pleat]]\nname = \"p\"\nedge = \"waist\"\ndepth = \"20 mm\"\ncount = 3\nstitched_down = \"250 mm\"\n");
    let triangle = 20.0 * (500f64.powi(2) - 20f64.powi(2)).sqrt();
    assert!((pleated.piece.drafted().area() - 100_000.0 - 3.0 * triangle).abs() < 1e-3, "{}", pleated.piece.drafted().area());
    let feet: Vec<_> = drawn.fullness[0].lines.iter().map(|l| l.segments().last().expect("a line").end()).collect();
    assert_eq!(feet.len(), 6);
    assert!(
        (0..3).all(|k| (feet[2 * k].distance(feet[2 * k + 1]) - 20.0).abs() < 1e-6),
        "half way down they are half as far apart: {feet:?}"
    );
}

/// What is said to be as full across must lie across.
#[test]
fn another_edge_is_not_across() {
    for (name, word) in [("side left", "does not lie across"), ("cuff", "no edge called \"cuff\"")] {
        let said = notes(&format!(
            "[piece.panel]\nopen = true\n[[piece.panel.gather]]\nname = \"g\"\nedge = \"waist\"\nfull = \"320 mm\"\nacross = \"{name}\"\n"
        ));
        let out = draft("panel", &panel(), &said);
        assert!(out.undone.iter().any(|u| u.contains(word)), "{:?}", out.undone);
        assert_eq!(out.piece.drafted().area(), panel().area());
    }
    // Nor does anything on the piece move when it is refused.
    let said = notes(
        "[piece.panel]\nopen = true\n[[piece.panel.pleat]]\nname = \"p\"\nedge = \"waist\"\ndepth = \"10 mm\"\ncount = 2\nacross = \"side left\"\n\
         between = [{ edge = \"waist\", at = \"40 mm\" }, { edge = \"waist\", at = \"120 mm\" }]\n\
         [[piece.panel.mark]]\nname = \"pocket\"\nat = { mm = [\"150 mm\", \"300 mm\"] }\n",
    );
    let out = draft("panel", &panel(), &said);
    assert!(out.undone.iter().any(|u| u.contains("does not lie across")), "{:?}", out.undone);
    assert_eq!(marked(&out, &said.garment, "x/panel").marks[0].at, Mm::new(150.0, 300.0));
}

/// Half a sleeve laid open about its fold: what is noted on the half that was seen lies on the other too, mirrored, as its edges are called there; what is
/// there once stays so.
#[test]
fn what_is_noted_on_half_a_piece_is_on_both_when_it_is_laid_open() {
    let half = lines(&[
        ("cap top", "cap", [0.0, 0.0]),
        ("underarm", "underarm seam", [190.0, 150.0]),
        ("end seam", "end", [130.0, 580.0]),
        ("end fold", "fold", [0.0, 580.0]),
    ]);
    let text = |once: &str| {
        format!(
            "[piece.sleeve]\nkind = \"sleeve\"\nfold = \"fold\"\ncut = \"2, mirrored\"\nopen = true\nallowance = {{ all = \"10 mm\" }}\n\
             [[piece.sleeve.dart]]\nname = \"elbow\"\nlegs = [{{ edge = \"underarm seam\", at = \"200 mm\" }}]\npoint = {{ mm = [\"90 mm\", \"340 mm\"] }}\nintake = \"12 mm\"\n{once}\
             [[piece.sleeve.gather]]\nname = \"cuff\"\nedge = \"end\"\nfull = \"150 mm\"\n{once}\
             [[piece.sleeve.notch]]\nedge = \"cap\"\nat = \"80 mm\"\n{once}\
             [[piece.sleeve.mark]]\nname = \"loop\"\nat = {{ mm = [\"60 mm\", \"500 mm\"] }}\n{once}"
        )
    };
    for (once, count) in [("", 2), ("once = true\n", 1)] {
        let said = notes(&text(once));
        let sleeve = draft("sleeve", &half, &said);
        assert!(sleeve.undone.is_empty(), "{:?}", sleeve.undone);
        let drawn = marked(&sleeve, &said.garment, "x/sleeve");
        assert!(drawn.undone.is_empty(), "{:?}", drawn.undone);
        assert_eq!((drawn.darts.len(), sleeve.piece.notches.len()), (count, count));
        assert_eq!(drawn.marks.iter().filter(|m| m.name.starts_with("loop")).count(), count);
        let notched: Vec<&str> = sleeve.piece.notches.iter().map(|n| n.edge.as_str()).collect();
        assert!(notched.contains(&"cap seen") && notched.contains(&"cap other") == (count == 2), "{notched:?}");
        let layer = sleeve.piece.drafted();
        let long: f64 = ["end seen", "end other"].iter().map(|e| length(layer, e)).sum();
        assert!((long - 260.0 - 20.0 * f64::from(count as u32)).abs() < 0.02, "{long}");
        let seams: f64 = ["underarm seam seen", "underarm seam seen 2", "underarm seam other", "underarm seam other 2"]
            .iter()
            .filter_map(|e| layer.edge(e))
            .map(|k| layer.edges[k].length())
            .sum();
        assert!((seams - 2.0 * length(&half, "underarm seam")).abs() < 0.01, "{seams}");
    }
}

/// The body of a dress ends at its waist: where the garment has a skirt its lower edge is called so, and no hem is turned up there.
#[test]
fn the_body_of_a_dress_ends_at_the_waist() {
    let mut bare = given::body(0.0);
    bare.corners.iter_mut().enumerate().for_each(|(k, c)| c.name = format!("corner {}", k + 1));
    bare.edges.iter_mut().enumerate().for_each(|(k, e)| e.name = format!("edge {}", k + 1));
    for (skirt, name) in [("", "hem"), ("[piece.skirt]\nkind = \"skirt panel\"\n", "waist")] {
        let said = notes(&format!("[piece.back]\nkind = \"body back\"\nallowance = {{ all = \"10 mm\" }}\n{skirt}"));
        let back = draft("back", &bare, &said);
        let layer = back.piece.drafted();
        assert!((length(layer, name) - 400.0).abs() < 1e-6);
        assert!(layer.corner(&format!("{name} left")).is_some());
    }
}
