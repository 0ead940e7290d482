//! From lines as found to lines as drafted, in the order of the trade, on pieces whose result arithmetic gives.

mod straight;

use kurbo::{ParamCurve, ParamCurveNearest, Shape};
use ruboff::length::Mm;
use ruboff::notes::{Notes, ShotNotes, Spot};
use ruboff::piece::{Down, Draft, Given, How, Layer, Line, Marked, Piece, Verdict, Walk, drafted, joins, marked, match_notches};
use straight::{half_front, lines};

/// A whole body that is `wider` on the wearer's left, which lies on the right of the page.
fn body(wider: f64) -> Layer {
    lines(&[
        ("neck left", "shoulder left", [60.0, 0.0]),
        ("tip left", "armhole left", [150.0 + wider, 20.0]),
        ("underarm left", "side left", [200.0 + wider, 200.0]),
        ("hem left", "hem", [200.0 + wider, 600.0]),
        ("hem right", "side right", [-200.0, 600.0]),
        ("underarm right", "armhole right", [-200.0, 200.0]),
        ("tip right", "shoulder right", [-150.0, 20.0]),
        ("neck right", "neckline", [-60.0, 0.0]),
    ])
}

fn notes(text: &str) -> Notes {
    Notes::from_text(text).unwrap_or_else(|e| panic!("{e}"))
}

fn draft(name: &str, lines: &Layer, notes: &Notes) -> Draft {
    let nothing = ShotNotes::default();
    let shot = notes.shots.iter().find(|s| s.piece.as_deref() == Some(name)).unwrap_or(&nothing);
    let nowhere = |_: &Spot| None;
    let out = drafted(&Given { name, lines, shot, notes, other: None, place: &nowhere });
    out.piece.drafted().check().expect("closed");
    out
}

fn length(layer: &Layer, edge: &str) -> f64 {
    layer.edges[layer.edge(edge).unwrap_or_else(|| panic!("{edge}"))].length()
}

const DART: &str = "[piece.front]\ncut = \"1, place on fold\"\nfold = \"centre\"\nopen = true\n[piece.front.grain]\nalong = \"centre\"\n\
    [[piece.front.dart]]\nname = \"bust\"\nlegs = [{ edge = \"side\", at = \"100 mm\" }]\npoint = { mm = [\"90 mm\", \"300 mm\"] }\nintake = \"22 mm\"\n";

/// Legs of 110 mm and an intake of 22 mm: the side parts into two stretches of 100 and 300 mm with the dart between; the fold stays straight
/// and upright, the hem follows the side down, and all else keeps its length. Walked against a back's side of 400 mm, dart closed, it is true.
#[test]
fn a_dart_is_opened_on_request_and_walked_closed() {
    let said = notes(&format!("{DART}[[join]]\nedges = [\"front: side\", \"back: side\"]\n"));
    let front = draft("front", &half_front(), &said);
    assert!(front.undone.is_empty(), "{:?}", front.undone);
    let layer = front.piece.drafted();
    assert!((length(layer, "side") - 100.0).abs() < 1e-6 && (length(layer, "side 2") - 300.0).abs() < 1e-6);
    let leg = |name: &str| layer.corners[layer.corner(name).expect("a leg")].at;
    assert!((leg("bust: first leg").distance(leg("bust: second leg")) - 22.0).abs() < 1e-6);
    for name in ["shoulder", "armhole", "neckline", "centre"] {
        assert!((length(layer, name) - length(front.piece.found(), name)).abs() < 1e-6, "{name}");
    }
    let fold: Vec<_> = layer.edges[layer.edge("centre").expect("there")].path.segments().collect();
    assert!(fold.len() == 1 && (fold[0].start().x - fold[0].end().x).abs() < 1e-9, "{fold:?}");
    assert_eq!(layer.edges[layer.edge("hem").expect("there")].how, How::Chosen);
    // Its other half is its mirror image, so its edges stand for that too.
    assert_eq!(front.piece.edges_of("side").0.len(), 2);
    let change = front.piece.changes().last().expect("a change");
    assert!(change.what.contains("22.0 mm") && change.what.contains("hem gave") && change.how == How::Chosen, "{}", change.what);
    assert!(change.what.contains("side turns by 11.9° at the dart"), "{}", change.what);
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
            "[[piece.panel.pleat]]\nname = \"p\"\nedge = \"waist\"\nbetween = [{ edge = \"waist\", at = \"50 mm\" }, { edge = \"waist\", at = \"150 mm\" }]\ndepth = \"20 mm\"\ncount = 3\n",
            120.0,
        ),
        ("[[piece.panel.gather]]\nname = \"g\"\nedge = \"waist\"\nfull = \"320 mm\"\n", 120.0),
        (
            "[[piece.panel.gather]]\nname = \"g\"\nby = \"elastic\"\nedge = \"waist\"\nsewn = \"200 mm\"\nfull = \"275 mm\"\nrelaxed = \"150 mm\"\n",
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
        assert!((length(layer, "side left") - length(&panel, "side left")).abs() < 1e-6);
        let plain = draft("band", &band, &said);
        let walked = joins(&said, &[&full.piece, &plain.piece]).remove(0).expect("walked");
        assert!(walked.difference().abs() < 1e-6, "{}", walked.difference());
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
             depth = \"20 mm\"\nlaid = \"{laid}\"\nstitched_down = \"60 mm\"\n"
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
         between = [{ edge = \"waist\", at = \"50 mm\" }, { edge = \"waist\", at = \"150 mm\" }]\nsewn = \"100 mm\"\nfull = \"160 mm\"\nrelaxed = \"90 mm\"\n",
    );
    assert_eq!(gathered.words, "drawn up by elastic to 100.0 mm, cut 90.0 mm long, relaxed");
    let ends: Vec<i32> = gathered.lines.iter().map(|l| l.segments().next().expect("a line").start().x.round() as i32).collect();
    assert_eq!(ends, [50, 210]);
}

/// Of a body 20 mm wider on its left (a strip all the way down but for the shoulder's slope): halves, their mean, and the whole of one half,
/// by arithmetic; right angles where hem and fold meet.
#[test]
fn halves_are_kept_as_asked() {
    let whole = body(20.0);
    let found = whole.area();
    let half = body(0.0).area() / 2.0;
    let area = |more: &str, line: &str| {
        let said = notes(&format!(
            "[piece.front]\nkind = \"body front\"\ncentre = [{{ mm = [\"0 mm\", \"0 mm\"] }}, {{ mm = [\"0 mm\", \"600 mm\"] }}]\n{line}\n{more}"
        ));
        let d = draft("front", &whole, &said);
        assert_eq!(d.undone, Vec::<String>::new(), "{line}");
        (d.piece.drafted().area(), d)
    };
    let fold = "cut = \"1, place on fold\"";
    let (left, d) = area("", &format!("{fold}\nkeep = \"left\""));
    assert!((left - (found - half)).abs() < 1e-3, "{left}");
    assert!(d.piece.drafted().corner("underarm left").is_some() && d.piece.drafted().corner("underarm right").is_none());
    let on_fold = d.piece.drafted().edges.iter().filter(|e| e.line == Line::Fold).count();
    assert_eq!(on_fold, 1);
    assert!(d.piece.changes().last().expect("one").what.contains("hem meets the fold at 90.0°"), "{:?}", d.piece.changes());
    let (right, _) = area("", &format!("{fold}\nkeep = \"right\""));
    assert!((right - half).abs() < 1e-3, "{right}");
    let (mean, _) = area("", &format!("{fold}\nkeep = \"mean\""));
    // Edges are averaged at equal shares of their lengths, so where they are unlike the area is the mean of both but for their ends.
    assert!((mean - (left + right) / 2.0).abs() < 200.0, "{mean} {left} {right}");
    let (twice, d) = area("", "cut = \"1\"\nkeep = \"left\"");
    assert!((twice - 2.0 * left).abs() < 1e-3);
    let layer = d.piece.drafted();
    assert_eq!(layer.edges.len(), 8, "{:?}", layer.edges.iter().map(|e| &e.name).collect::<Vec<_>>());
    assert!((length(layer, "side left") - length(layer, "side right")).abs() < 1e-6);
    let (same, _) = area("", "cut = \"1\"");
    assert!((same - found).abs() < 1e-6);
    // On the fold, drawn whole, and nobody said which half: told, not done.
    let said = notes("[piece.front]\nkind = \"body front\"\ncut = \"1, place on fold\"\n");
    assert!(draft("front", &whole, &said).undone[0].contains("keep"));
}

/// 3 % lengthwise along a grain that lies 20° askew: what runs along it grows by 1/0.97, and is laid down the page.
#[test]
fn size_changes_along_the_grain() {
    let said = notes("[garment]\nshrinkage = { lengthwise = \"3 %\" }\n[piece.front.grain]\nalong = [\"neck centre\", \"hem centre\"]\n");
    let askew = half_front().mapped(kurbo::Affine::rotate(0.35));
    let d = draft("front", &askew, &said);
    assert_eq!(d.laying.down, Down::Grain);
    assert!((length(d.piece.drafted(), "centre") - 520.0 / 0.97).abs() < 1e-6);
    assert!((length(d.piece.drafted(), "hem") - 200.0).abs() < 1e-6);
    let nobody = notes("[garment]\nshrinkage = { lengthwise = \"3 %\" }\n");
    let d = draft("scrap", &half_front(), &nobody);
    assert!(d.undone[0].contains("grain"), "{:?}", d.undone);
    assert!((d.piece.drafted().area() - half_front().area()).abs() < 1e-6);
}

#[test]
fn a_folded_sleeve_is_laid_open() {
    let sleeve = lines(&[
        ("cap top", "cap", [0.0, 0.0]),
        ("underarm", "underarm seam", [180.0, 90.0]),
        ("end seam", "end", [120.0, 500.0]),
        ("end fold", "fold", [0.0, 500.0]),
    ]);
    let said = notes("[[shot]]\npiece = \"sleeve\"\nup = \"front\"\n[piece.sleeve]\nkind = \"sleeve\"\nfold = \"fold\"\n");
    let d = draft("sleeve", &sleeve, &said);
    assert_eq!(d.undone, Vec::<String>::new());
    let layer = d.piece.drafted();
    assert!((layer.area() - 2.0 * sleeve.area()).abs() < 1e-6);
    for edge in ["cap", "underarm seam", "end"] {
        let both = ["front", "back"].map(|side| length(layer, &format!("{edge} {side}")));
        assert!((both[0] - both[1]).abs() < 1e-6);
    }
    assert_eq!(layer.edges[layer.edge("cap back").expect("there")].how, How::Assumed);
    assert!(layer.inner.iter().any(|i| i.name == "fold"));
    // The other face was traced too: 6 mm wider at the underarm, its fold on the other side as it is seen.
    let wider = lines(&[
        ("underarm", "cap", [-186.0, 90.0]),
        ("cap top", "fold", [0.0, 0.0]),
        ("end fold", "end", [0.0, 500.0]),
        ("end seam", "underarm seam", [-120.0, 500.0]),
    ])
    .mapped(kurbo::Affine::translate((40.0, 7.0)) * kurbo::Affine::rotate(0.2));
    let nowhere = |_: &Spot| None;
    let d = drafted(&Given { name: "sleeve", lines: &sleeve, shot: &said.shots[0], notes: &said, other: Some(&wider), place: &nowhere });
    let layer = d.piece.drafted();
    layer.check().expect("closed");
    assert!((layer.area() - sleeve.area() - wider.area()).abs() < 1e-6, "{}", layer.area());
    assert_eq!(layer.edges[layer.edge("cap back").expect("there")].how, How::Seen);
    assert!((length(layer, "cap back") - 186f64.hypot(90.0)).abs() < 1e-6);
}

/// Notches keep their distance from the corner they were noted from when the piece is mirrored; a back's are double; proposals sit at the
/// middle of a seam on both sides, and answer one another.
#[test]
fn notches_are_noted_or_proposed() {
    let text = "[[shot]]\npiece = \"front\"\nside = \"inside out\"\n[[shot]]\npiece = \"back\"\n\
        [[piece.front.notch]]\nedge = \"side left\"\nat = \"150 mm\"\nfrom = \"underarm left\"\nstyle = \"V\"\n\
        [[piece.back.notch]]\nedge = \"side left\"\nat = \"150 mm\"\nfrom = \"underarm left\"\n\
        [[join]]\nedges = [\"front: side left\", \"back: side left\"]\n[[join]]\nedges = [\"front: side right\", \"back: side right\"]\n\
        [piece.front]\nallowance = { all = \"10 mm\" }\n[piece.back]\nallowance = { all = \"5 mm\" }\n";
    let said = notes(text);
    let mut pieces = [draft("front", &body(0.0), &said), draft("back", &body(0.0), &said)];
    for d in &pieces {
        let n = &d.piece.notches[0];
        let layer = d.piece.drafted();
        let underarm = layer.corners[layer.corner("underarm left").expect("there")].at;
        let drawn = marked(d, &said.garment, "x");
        assert!((drawn.notches[0].place.distance(underarm) - 150.0).abs() < 1e-6, "{}", d.piece.name);
        assert_eq!((n.count, n.how), (if d.piece.name == "back" { 2 } else { 1 }, How::Noted));
        // In 5 mm there is no room for a notch of 2 mm that stays 1/8 in clear of the seam.
        assert_eq!(drawn.notches[0].paths.len(), usize::from(d.piece.name == "front"));
        assert_eq!(drawn.undone.len(), usize::from(d.piece.name == "back"));
    }
    let kinds = [None, None];
    {
        let mut both: Vec<&mut Piece> = pieces.iter_mut().map(|d| &mut d.piece).collect();
        match_notches(&said, &mut both, &kinds);
    }
    // Where notches are noted none are proposed.
    for d in &pieces {
        let proposed: Vec<_> = d.piece.notches.iter().filter(|n| n.how == How::Assumed).collect();
        assert_eq!(proposed.len(), 1);
        assert_eq!((proposed[0].edge.as_str(), proposed[0].at), ("side right", 200.0));
    }
    let walked = joins(&said, &[&pieces[0].piece, &pieces[1].piece]);
    for j in walked {
        let j = j.expect("walked");
        assert_eq!(j.walked.sections.len(), 2);
        assert!(j.walked.sections.iter().all(|s| (s.lengths[0] - s.lengths[1]).abs() < 1e-6), "{:?}", j.walked.sections);
    }
}

/// A cap of 440 mm in armholes of 200 + 200: notches a third up from either underarm on both (66.7 mm), one at the shoulder with half of the
/// ease on either side; below the notches nothing is eased.
#[test]
fn a_cap_is_notched_to_its_armholes() {
    let strip = |name: &str, edge: &str, long: f64, ends: [&str; 2]| {
        lines(&[(ends[0], edge, [0.0, 0.0]), (ends[1], "x", [long, 0.0]), ("c", name, [long, 50.0]), ("d", "z", [0.0, 50.0])])
    };
    let said = notes("[[join]]\nedges = [\"sleeve: cap\", \"front: armhole + back: armhole\"]\n");
    let mut pieces = [
        draft("sleeve", &strip("y", "cap", 440.0, ["underarm back", "underarm front"]), &said).piece,
        draft("front", &strip("y", "armhole", 200.0, ["underarm front", "tip"]), &said).piece,
        draft("back", &strip("y", "armhole", 200.0, ["tip", "underarm back"]), &said).piece,
    ];
    match_notches(&said, &mut pieces.iter_mut().collect::<Vec<_>>(), &[None; 3]);
    let places = |p: &Piece| p.notches.iter().map(|n| (n.at.round(), n.count)).collect::<Vec<_>>();
    assert_eq!(places(&pieces[1]), [(67.0, 1)]);
    assert_eq!(places(&pieces[2]), [(133.0, 2)]);
    assert_eq!(places(&pieces[0]), [(67.0, 2), (220.0, 1), (373.0, 1)]);
}

/// 6 mm let down over a hem of 200 mm between upright neighbours add 1200 mm² (arithmetic); before and after are kept, with the day.
#[test]
fn a_toiles_corrections_are_dated_changes() {
    let said = notes(
        "[garment]\nrecorded_by = \"wardrobe\"\n[[change]]\npiece = \"front\"\non = \"2026-04-02\"\nwhy = \"second toile, too short\"\nedge = \"hem\"\nout = \"6 mm\"\n\
         [[change]]\npiece = \"front\"\non = \"2026-04-03\"\nby = \"fitter\"\ncorner = \"tip\"\nmove = [\"-4 mm\", \"0 mm\"]\n\
         [[change]]\npiece = \"front\"\non = \"2026-04-03\"\nedge = \"cuff\"\nlonger = \"4 mm\"\n",
    );
    let d = draft("front", &half_front(), &said);
    let made = &d.piece.changes()[d.piece.changes().len() - 2..];
    let [before, after] = made[0].outlines.as_ref().expect("kept");
    assert!((after.area() - before.area() - 1200.0).abs() < 1e-6);
    assert_eq!(
        (made[0].on.as_deref(), made[0].by.as_deref(), made[0].why.as_deref()),
        (Some("2026-04-02"), Some("wardrobe"), Some("second toile, too short"))
    );
    assert_eq!((made[1].on.as_deref(), made[1].by.as_deref(), made[1].how), (Some("2026-04-03"), Some("fitter"), How::Chosen));
    assert_eq!(d.piece.found(), &draft("front", &half_front(), &Notes::default()).piece.found().clone());
    assert!(d.undone[0].contains("cuff"), "{:?}", d.undone);
    for bad in ["edge = \"hem\"", "edge = \"hem\"\nout = \"1 mm\"\nlonger = \"1 mm\"", "corner = \"tip\"", "edge = \"hem\"\nout = \"1\""] {
        let e = Notes::from_text(&format!("[[change]]\npiece = \"front\"\non = \"2026-04-02\"\n{bad}\n")).expect_err(bad);
        assert!((1..=5).contains(&e.line), "{e}");
    }
}

/// What belongs on a piece: allowances true to 0.05 mm, a hole 1/2 in short of the dart's point, the arrow upright within the piece, a scale
/// line of 100 mm, a label with name, record, number cut and day.
#[test]
fn a_piece_is_marked() {
    let said = notes(&format!(
        "[garment]\nname = \"smock\"\nnumber = \"L 7\"\nrecorded_by = \"wardrobe\"\nrecorded_on = \"2 March\"\n{DART}\
         [piece.front.allowance]\nall = \"10 mm\"\nhem = \"30 mm\"\n[[piece.front.mark]]\nname = \"button\"\nat = {{ mm = [\"10 mm\", \"200 mm\"] }}\n"
    ));
    let d = draft("front", &half_front(), &said);
    let drawn: Marked = marked(&d, &said.garment, "l-7/front");
    assert_eq!(drawn.undone, Vec::<String>::new());
    let cut = drawn.cut.as_ref().expect("a cut line");
    let layer = d.piece.drafted();
    for (edge, wide) in [("side", 10.0), ("hem", 30.0), ("centre", 0.0), ("bust", 10.0)] {
        let k = layer.edge(edge).expect("there");
        assert!((cut.edges[k].allowance.width - wide).abs() < 1e-9, "{edge}");
        let stitch: Vec<_> = layer.edges[k].path.segments().collect();
        // Both ends of a cut line are lengthened to the corners; its middle lies beside the edge.
        let walk = Walk::of(&cut.edges[k].path);
        let middle = walk.at(walk.length() / 2.0);
        let off = stitch.iter().map(|s| s.nearest(middle, 1e-6).distance_sq).fold(f64::INFINITY, f64::min).sqrt();
        assert!((off - wide).abs() < 0.05, "{edge}: {off}");
    }
    let hole = drawn.marks.iter().find(|m| m.name == "bust: point").expect("a hole");
    let point = drawn.darts[0].legs[0].segments().last().expect("a line").end();
    assert_eq!(drawn.darts[0].legs.len(), 2);
    assert!((hole.at.distance(Mm::new(point.x, point.y)) - 12.7).abs() < 1e-6);
    assert!(drawn.marks.iter().any(|m| m.name == "button"));
    let ([top, foot], how) = drawn.grain.expect("an arrow");
    assert!((top.x - foot.x).abs() < 1e-9 && foot.y > top.y && how == How::Noted);
    let [a, b] = drawn.scale.expect("room");
    assert!((a.distance(b) - 100.0).abs() < 1e-9);
    assert_eq!(
        drawn.label,
        ["front", "smock, L 7", "record l-7/front", "cut 1, place on fold", "recorded by wardrobe, 2 March", "right side up"]
    );
}

/// A facing 50 mm wide along neckline and shoulder's neighbour: by arithmetic a strip along a straight edge between edges at right angles is
/// its length times its width; a lining is the piece.
#[test]
fn facings_and_linings_are_derived() {
    let panel =
        lines(&[("a", "top", [0.0, 0.0]), ("b", "right", [200.0, 0.0]), ("c", "bottom", [200.0, 500.0]), ("d", "left", [0.0, 500.0])]);
    let said = notes(
        "[piece.panel]\nkind = \"pocket\"\n[piece.facing]\nfrom = \"panel\"\nalong = [\"top\"]\nwidth = \"50 mm\"\n[piece.corner]\nfrom = \"panel\"\nalong = [\"left\", \"top\"]\nwidth = \"50 mm\"\n\
         [piece.lining]\nfrom = \"panel\"\n[piece.lost]\nfrom = \"yoke\"\n",
    );
    let of = draft("panel", &panel, &said);
    let made = ruboff::piece::derived(&said, &[&of]);
    let area = |name: &str| {
        let d = made.iter().flatten().find(|d| d.piece.name == name).unwrap_or_else(|| panic!("{name}: {made:?}"));
        d.piece.drafted().area()
    };
    assert!((area("facing") - 10_000.0).abs() < 1e-6 && (area("lining") - 100_000.0).abs() < 1e-6);
    // Both strips overlap in a square of 50 mm.
    assert!((area("corner") - (25_000.0 + 10_000.0 - 2_500.0)).abs() < 1e-6, "{}", area("corner"));
    assert!(made.iter().any(|m| m.as_ref().is_err_and(|e| e.contains("yoke"))));
    assert!(Notes::from_text("[piece.facing]\nfrom = \"panel\"\nwidth = \"50 mm\"\n").is_err());
}

/// A lining of half a front on the fold is cut as that is, with its allowances, notches and darts; a facing has them but for its inner edge,
/// and the notch that lies on its stretch of the shoulder; an interfacing comes from the facing; what is cut in two where its piece lies on the fold
/// has a seam there.
#[test]
fn what_is_derived_is_cut_as_its_piece() {
    let said = notes(
        "[piece.front]\ncut = \"1, place on fold\"\nfold = \"centre\"\nallowance = { all = \"10 mm\", hem = \"25 mm\" }\n\
         [[piece.front.dart]]\nname = \"bust\"\nlegs = [{ edge = \"side\", at = \"100 mm\" }]\npoint = { mm = [\"90 mm\", \"300 mm\"] }\nintake = \"22 mm\"\n\
         [[piece.front.notch]]\nedge = \"side\"\nat = \"200 mm\"\n[[piece.front.notch]]\nedge = \"shoulder\"\nat = \"20 mm\"\n[[piece.front.notch]]\nedge = \"shoulder\"\nat = \"70 mm\"\n\
         [piece.lining]\nfrom = \"front\"\ncloth = \"lining\"\n\
         [piece.facing]\nfrom = \"front\"\nalong = [\"neckline\"]\nwidth = \"50 mm\"\n\
         [piece.interfacing]\nfrom = \"facing\"\nallowance = { all = \"0 mm\" }\n\
         [piece.split]\nfrom = \"front\"\ncut = \"2, mirrored\"\n",
    );
    let front = draft("front", &half_front(), &said);
    let made = ruboff::piece::derived(&said, &[&front]);
    let of = |name: &str| made.iter().flatten().find(|d| d.piece.name == name).unwrap_or_else(|| panic!("{name}: {made:?}"));
    let drawn = |name: &str| marked(of(name), &said.garment, "x/front");
    let width = |m: &Marked, edge: &str| {
        let cut = m.cut.as_ref().expect("cut");
        cut.edges.iter().find(|e| e.name == edge).unwrap_or_else(|| panic!("{edge}")).allowance.width
    };
    let lining = drawn("lining");
    assert!(lining.label.contains(&"cut 1, place on fold, lining".to_owned()), "{:?}", lining.label);
    assert_eq!((width(&lining, "hem"), width(&lining, "side"), width(&lining, "centre")), (25.0, 10.0, 0.0));
    assert_eq!((lining.notches.len(), lining.darts.len(), lining.marks.len()), (3, 1, 1));
    let facing = drawn("facing");
    assert!(facing.label.contains(&"cut 1, place on fold".to_owned()), "{:?}", facing.label);
    assert_eq!((width(&facing, "neckline"), width(&facing, "inner edge")), (10.0, 0.0));
    // The strip ends 50 mm along the shoulder: one of both notches there lies on it.
    assert_eq!((facing.notches.len(), facing.darts.len()), (1, 0), "{:?}", facing.notches);
    assert!((of("interfacing").piece.drafted().area() - of("facing").piece.drafted().area()).abs() < 1e-6);
    let split = drawn("split");
    assert_eq!(width(&split, "centre"), 10.0);
    assert!(split.label.contains(&"cut 2, mirrored".to_owned()) && of("split").undone.is_empty());
}

/// A hem that was seen as a fold is cut with what is turned up, as its mirror image; a centre fold stays on the fold.
#[test]
fn a_hem_fold_is_no_place_on_the_fold() {
    let edge =
        |from: &str, to: &str, is: &str| format!("[[shot.edge]]\nfrom = \"{from}\"\nto = \"{to}\"\nline = \"fold\"\nis = \"{is}\"\n");
    let corner = |name: &str, k: u32| format!("[[shot.corner]]\nname = \"{name}\"\npx = [{k}, 1]\n");
    let corners: String = ["neck centre", "hem centre", "hem side"].iter().zip(1..).map(|(n, k)| corner(n, k)).collect();
    let said = notes(&format!(
        "[[shot]]\npicture = \"front.jpg\"\npiece = \"front\"\n{corners}{}{}[piece.front]\ncut = \"1, place on fold\"\nallowance = {{ all = \"10 mm\", hem = \"25 mm\" }}\n",
        edge("hem side", "hem centre", "hem fold"),
        edge("hem centre", "neck centre", "centre fold"),
    ));
    let mut seen = half_front();
    for name in ["hem", "centre"] {
        let k = seen.edge(name).expect("there");
        seen.edges[k].line = Line::Fold;
    }
    let front = draft("front", &seen, &said);
    let drawn = marked(&front, &said.garment, "x/front");
    let cut = drawn.cut.expect("a cut line");
    let of = |name: &str| cut.edges.iter().find(|e| e.name == name).expect("there").allowance;
    assert_eq!((of("hem").width, of("hem").finish), (25.0, ruboff::piece::Finish::Mirrored));
    assert_eq!(of("centre").width, 0.0);
    let folds: Vec<&str> = front.piece.drafted().edges.iter().filter(|e| e.line == Line::Fold).map(|e| e.name.as_str()).collect();
    assert_eq!(folds, ["centre"]);
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

/// What the turn of the cloth takes up is made up for only when it is asked for: 0.5 mm at each edge that is sewn makes a panel of 200 mm by 500 mm
/// 201 mm wide, and longer at its waist alone where its hem is raw.
#[test]
fn take_up_is_off_unless_asked_for() {
    let panel = lines(&[
        ("waist left", "waist", [0.0, 0.0]),
        ("waist right", "side right", [200.0, 0.0]),
        ("hem right", "hem", [200.0, 500.0]),
        ("hem left", "side left", [0.0, 500.0]),
    ]);
    let corners = "[[shot.corner]]\nname = \"hem left\"\npx = [1, 1]\n[[shot.corner]]\nname = \"hem right\"\npx = [2, 1]\n";
    let text = format!(
        "[[shot]]\npicture = \"panel.jpg\"\npiece = \"panel\"\n{corners}[[shot.edge]]\nfrom = \"hem right\"\nto = \"hem left\"\nis = \"raw edge\"\n[piece.panel]\nkind = \"skirt panel\"\n"
    );
    let plain = draft("panel", &panel, &notes(&text));
    assert!((plain.piece.drafted().area() - 100_000.0).abs() < 1e-6);
    let asked = draft("panel", &panel, &notes(&format!("{text}take_up = \"0.5 mm\"\n")));
    assert!((asked.piece.drafted().area() - 201.0 * 500.5).abs() < 1e-3, "{}", asked.piece.drafted().area());
    let change = asked.piece.changes().last().expect("a change");
    assert!(
        change.how == How::Chosen && change.what.contains("side left by -0.50 mm") && !change.what.contains("hem by"),
        "{}",
        change.what
    );
    assert!((asked.piece.found().area() - 100_000.0).abs() < 1e-6);
}

/// A grain noted along an edge that the piece has not is told, and what stands in for it is not called noted.
#[test]
fn a_grain_that_is_not_found_is_told() {
    let said = notes("[piece.front]\n[piece.front.grain]\nalong = \"selvege\"\n");
    let front = draft("front", &body(0.0), &said);
    assert!(front.laying.down != Down::Grain && front.undone.iter().any(|u| u.contains("grain")), "{:?}", front.undone);
}

/// A lining of one lopsided panel lies with its wrong side on the panel's: it is its mirror image, and so are its notches; of a pair both are there
/// anyway, so it is drawn as its piece. A pleat, a mark, a notch and a toile's correction of its own are a lining's too.
#[test]
fn a_lining_lies_wrong_side_to_wrong_side() {
    let panel = lines(&[
        ("waist left", "waist", [0.0, 0.0]),
        ("waist right", "side right", [200.0, 0.0]),
        ("hem right", "hem", [300.0, 500.0]),
        ("hem left", "side left", [0.0, 500.0]),
    ]);
    let text = |cut: &str, more: &str| {
        format!(
            "[garment]\nrecorded_by = \"wardrobe\"\n[piece.panel]\ncut = \"{cut}\"\n[piece.panel.grain]\nalong = \"side left\"\n[[piece.panel.notch]]\nedge = \"side right\"\nat = \"100 mm\"\n[piece.lining]\nfrom = \"panel\"\n{more}"
        )
    };
    let derive = |text: &str| {
        let said = notes(text);
        let of = draft("panel", &panel, &said);
        let made = ruboff::piece::derived(&said, &[&of]).remove(0).unwrap_or_else(|e| panic!("{e}"));
        made.piece.drafted().check().expect("closed");
        made
    };
    let at = |d: &Draft, corner: &str| d.piece.drafted().corners[d.piece.drafted().corner(corner).expect("there")].at;
    let alone = derive(&text("1", ""));
    assert_eq!(at(&alone, "hem right"), Mm::new(0.0, 500.0));
    assert!(alone.laying.mirrored && alone.piece.changes()[0].what.contains("wrong side to wrong side"), "{:?}", alone.piece.changes());
    assert_eq!(alone.piece.changes()[0].by.as_deref(), Some("wardrobe"));
    // As far from the waist as on the panel, though the edge now runs up.
    let notch = &alone.piece.notches[0];
    let place = Walk::of(&alone.piece.drafted().edges[alone.piece.drafted().edge(&notch.edge).expect("there")].path).at(notch.at);
    assert!((place.distance((100.0, 0.0).into()) - 100.0).abs() < 1e-6, "{place:?}");
    let pair = derive(&text("2, mirrored", ""));
    assert!(at(&pair, "hem right") == Mm::new(300.0, 500.0) && !pair.laying.mirrored);
    let own = "open = true\n[[piece.lining.pleat]]\nname = \"centre pleat\"\nedge = \"waist\"\nbetween = [{ edge = \"waist\", at = \"50 mm\" }, { edge = \"waist\", at = \"50 mm\" }]\ndepth = \"15 mm\"\n\
        [[piece.lining.notch]]\nedge = \"side left\"\nat = \"200 mm\"\n[[piece.lining.mark]]\nname = \"label\"\nat = { mm = [\"150 mm\", \"50 mm\"] }\n\
        [[change]]\npiece = \"lining\"\non = \"2026-03-02\"\nedge = \"hem\"\nout = \"-20 mm\"\n";
    let said = text("2, mirrored", own);
    let lining = derive(&said);
    assert!(lining.undone.is_empty(), "{:?}", lining.undone);
    assert!((length(lining.piece.drafted(), "waist") - 230.0).abs() < 0.01, "{}", length(lining.piece.drafted(), "waist"));
    assert_eq!(at(&lining, "hem left").y, 480.0);
    assert_eq!(lining.piece.notches.len(), 2);
    let drawn = marked(&lining, &notes(&said).garment, "x/lining");
    assert_eq!((drawn.fullness.len(), drawn.marks.len()), (1, 1));
    assert!(drawn.marks[0].name == "label" && (drawn.marks[0].at.x - 180.0).abs() < 1e-6, "{:?}", drawn.marks);
}

/// What nobody measured is still assumed when a half is mirrored, a dart opened, an edge shared or corrected.
#[test]
fn what_is_assumed_stays_so() {
    let mut seen = half_front();
    for name in ["hem", "side"] {
        let k = seen.edge(name).expect("there");
        (seen.edges[k].how, seen.edges[k].bound) = (How::Assumed, None);
    }
    let said = notes(&format!("{DART}[[change]]\npiece = \"front\"\non = \"2026-03-02\"\nedge = \"hem\"\nlonger = \"4 mm\"\n"));
    let front = draft("front", &seen, &said);
    let layer = front.piece.drafted();
    for name in ["hem", "side", "side 2"] {
        assert_eq!(layer.edges[layer.edge(name).expect("there")].how, How::Assumed, "{name}");
    }
    let drawn = marked(&front, &said.garment, "x/front");
    assert!(drawn.label.iter().any(|l| l == "assumed: side, side 2, hem"), "{:?}", drawn.label);
}
