//! From lines as found to lines as drafted, in the order of the trade, on pieces whose result arithmetic gives.

mod given;
mod straight;

use given::{DART, body, draft, length, notes};
use kurbo::{ParamCurve, ParamCurveNearest, Shape};
use ruboff::length::Mm;
use ruboff::notes::{Notes, Spot};
use ruboff::piece::{Down, Given, How, Line, Marked, Piece, Walk, drafted, joins, marked, match_notches};
use straight::{half_front, lines};

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
    let mut scrap = half_front();
    scrap.edges[4].name = "edge 5".into();
    let d = draft("scrap", &scrap, &nobody);
    assert!(d.undone[0].contains("grain"), "{:?}", d.undone);
    assert!((d.piece.drafted().area() - half_front().area()).abs() < 1e-6);
    // An edge that is called the centre tells where that is.
    let d = draft("scrap", &half_front(), &nobody);
    assert!(d.undone[0].contains("nobody noted the grain") && (length(d.piece.drafted(), "centre") - 520.0 / 0.97).abs() < 1e-6);
}

/// Without a recorded grain the centre line stands in for it, which is told and assumed; cloth that shrinks alike both ways needs none. 1 / 0.96 is 4.2 %
/// more, 1 / 0.99 is 1.0 %. A lining of the piece is drawn for the piece's cloth.
#[test]
fn shrinkage_without_a_recorded_grain_is_told() {
    let drafted = |shrinkage: &str, grain: &str| {
        let text = format!(
            "[garment]\nshrinkage = {shrinkage}\n[piece.front]\nkind = \"body front\"\n{grain}\n[piece.lining]\nfrom = \"front\"\nshrinkage = {{ lengthwise = \"1 %\" }}\n"
        );
        let said = notes(&text);
        let front = draft("front", &half_front(), &said);
        let lining = ruboff::piece::derived(&said, &[&front]).remove(0).expect("a lining");
        assert!(lining.larger == front.larger && lining.undone.iter().any(|u| u.contains("its own shrinkage")), "{:?}", lining.undone);
        let label = marked(&front, &said.garment, "x").label;
        (front, label)
    };
    let unlike = "{ lengthwise = \"4 %\", crosswise = \"1 %\" }";
    let (front, label) = drafted(unlike, "");
    let told: Vec<&String> =
        front.undone.iter().filter(|u| u.contains("4.2 % longer along the centre line and 1.0 % wider across")).collect();
    assert!(told.len() == 1 && told[0].contains("[piece.front.grain]"), "{:?}", front.undone);
    assert_eq!(front.larger.expect("larger").how, How::Assumed);
    assert!(front.piece.changes().iter().any(|c| c.how == How::Assumed && c.what.contains("stands in for the grain")));
    assert!(label.iter().any(|l| l.contains("longer along the centre line")), "{label:?}");
    let (front, label) = drafted(unlike, "[piece.front.grain]\nalong = \"centre\"\n");
    assert!(front.undone.is_empty() && front.larger.expect("larger").how == How::Chosen, "{:?}", front.undone);
    assert!(label.iter().any(|l| l == "made 4.2 % longer along the grain and 1.0 % wider across for shrinkage"), "{label:?}");
    let (front, _) = drafted("{ lengthwise = \"4 %\", crosswise = \"4 %\" }", "");
    assert!(front.undone.is_empty(), "{:?}", front.undone);
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
    // What takes up cloth on the face that its notes are of may be on the other too: told with its line, unless that is meant.
    for (once, told) in [("", true), ("once = true\n", false)] {
        let text = format!(
            "[[shot]]\npiece = \"sleeve\"\nup = \"front\"\n[piece.sleeve]\nkind = \"sleeve\"\nfold = \"fold\"\n[[piece.sleeve.gather]]\nname = \"wrist\"\nedge = \"end\"\nfull = \"150 mm\"\n{once}"
        );
        let said = notes(&text);
        let d =
            drafted(&Given { name: "sleeve", lines: &sleeve, shot: &said.shots[0], notes: &said, other: Some(&wider), place: &nowhere });
        let found = d.undone.iter().any(|u| u.contains("\"wrist\" is on the front half alone") && u.ends_with("(line 7 of the notes)"));
        assert_eq!(found, told, "{:?}", d.undone);
    }
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

/// A sleeve whose ends are named front and back has a centre that its grain may follow, and is measured.
#[test]
fn a_sleeve_of_front_and_back_has_a_centre() {
    let sleeve = lines(&[
        ("underarm front", "cap", [0.0, 100.0]),
        ("underarm back", "underarm seam back", [360.0, 100.0]),
        ("end back", "end", [320.0, 500.0]),
        ("end front", "underarm seam front", [40.0, 500.0]),
    ])
    .mapped(kurbo::Affine::rotate(0.2));
    let said = notes("[piece.sleeve]\nkind = \"sleeve\"\n[piece.sleeve.grain]\nalong = \"centre\"\n");
    let d = draft("sleeve", &sleeve, &said);
    assert_eq!((d.laying.down, d.undone.len()), (Down::Grain, 0), "{:?}", d.undone);
    assert!((d.laying.turned_deg.abs() - 0.2f64.to_degrees()).abs() < 0.01, "{}", d.laying.turned_deg);
}

/// An allowance is meant for every edge that bears its words, whether the notes or the shape gave it: both sides by `side`, the end of a sleeve by
/// `hem`, and not an edge that is known by its ends alone.
#[test]
fn an_allowance_is_meant_for_all_edges_of_its_name() {
    let widths = |d: &ruboff::piece::Draft, said: &ruboff::notes::Notes| -> Vec<(String, f64, ruboff::piece::Finish)> {
        let cut = marked(d, &said.garment, "x").cut.expect("a cut line");
        cut.edges.iter().map(|e| (e.name.clone(), e.allowance.width, e.allowance.finish)).collect()
    };
    let said = notes(
        "[piece.front]\nkind = \"body front\"\nallowance = { all = \"10 mm\", side = \"15 mm\", hem = \"25 mm\", \"side right\" = \"20 mm\" }\n",
    );
    let cut = widths(&draft("front", &body(0.0), &said), &said);
    let of = |name: &str| cut.iter().find(|e| e.0 == name).expect("there").1;
    assert_eq!((of("side left"), of("side right"), of("hem"), of("neckline")), (15.0, 20.0, 25.0, 10.0));
    let sleeve = lines(&[
        ("underarm left", "cap", [0.0, 100.0]),
        ("underarm right", "underarm right to end right", [360.0, 100.0]),
        ("end right", "end", [320.0, 500.0]),
        ("end left", "underarm seam left", [40.0, 500.0]),
    ]);
    let said = notes("[piece.sleeve]\nkind = \"sleeve\"\nallowance = { all = \"10 mm\", hem = \"25 mm\", underarm = \"12 mm\" }\n");
    let cut = widths(&draft("sleeve", &sleeve, &said), &said);
    assert!(cut.contains(&("end".into(), 25.0, ruboff::piece::Finish::Mirrored)), "{cut:?}");
    assert!(cut.iter().any(|e| e.0 == "underarm seam left" && e.1 == 12.0), "{cut:?}");
}

/// Half a piece without a noted grain lies along its fold, whatever its own widths say: that is the centre of the whole.
#[test]
fn half_a_piece_lies_along_its_fold() {
    let half = lines(&[
        ("waist centre", "waist", [0.0, 0.0]),
        ("waist side", "side", [180.0, 0.0]),
        ("hem side", "hem", [300.0, 600.0]),
        ("hem centre", "centre", [0.0, 600.0]),
    ]);
    for (turn, flip) in [(0.3, false), (-0.4, true)] {
        let seen = half.mapped(kurbo::Affine::rotate(turn) * if flip { kurbo::Affine::FLIP_X } else { kurbo::Affine::IDENTITY });
        let said = notes("[piece.front]\nkind = \"skirt panel\"\ncut = \"1, place on fold\"\nfold = \"centre\"\n");
        let d = draft("front", &seen, &said);
        let layer = d.piece.drafted();
        let at = |name: &str| layer.corners[layer.corner(name).expect("there")].at;
        let (top, bottom) = (at("waist centre"), at("hem centre"));
        assert!((top.x - bottom.x).abs() < 1e-6 && top.y < bottom.y && d.laying.down == Down::Centre, "{top:?} {bottom:?}");
    }
}

/// Cloth that will shrink by 20 % across: a band of 160 mm relaxed is drawn 200 mm long and is not stretched on an edge of as much, and gathers take up their share of what
/// is drawn: of 200 mm drawn together to 160, drawn 250, 50.
#[test]
fn lengths_noted_of_the_garment_are_drawn_for_what_shrinks() {
    let panel =
        lines(&[("a", "waist", [0.0, 0.0]), ("b", "right", [160.0, 0.0]), ("c", "hem", [160.0, 500.0]), ("d", "left", [0.0, 500.0])]);
    let text = "[garment]\nshrinkage = { crosswise = \"20 %\" }\n[piece.panel]\nkind = \"skirt panel\"\nopen = true\n[piece.panel.grain]\nalong = \"left\"\n\
        [[piece.panel.gather]]\nname = \"gathers\"\nedge = \"waist\"\nsewn = \"160 mm\"\nfull = \"200 mm\"\nacross = \"hem\"\n\
        [piece.band]\nkind = \"waistband\"\nrelaxed = \"160 mm\"\n[piece.band.grain]\nalong = \"left\"\n[[join]]\nedges = [\"band: waist\", \"panel: waist\"]\n";
    let said = notes(text);
    let (skirt, band) = (draft("panel", &panel, &said), draft("band", &panel, &said));
    assert!((length(skirt.piece.drafted(), "waist") - 250.0).abs() < 0.01);
    let told = joins(&said, &[&skirt.piece, &band.piece]).remove(0).expect("walked");
    assert!(told.walked.lengths.iter().all(|l| (l - 200.0).abs() < 0.01), "{:?}", told.walked.lengths);
    assert!(told.relaxed.is_some_and(|r| (r - 200.0).abs() < 1e-6) && told.stretched().is_none_or(|s| s < 1e-4), "{told:?}");
}

/// An edge noted as the centre fold of a piece that is cut twice has a seam without an allowance: told with its line, and not of one that is placed on the
/// fold or laid open about it, or of a seam.
#[test]
fn a_centre_fold_of_a_piece_that_is_cut_twice_is_told() {
    let back =
        lines(&[("a", "neck", [0.0, 0.0]), ("b", "side", [160.0, 0.0]), ("c", "hem", [160.0, 500.0]), ("d", "centre back", [0.0, 500.0])]);
    let told = |is: &str, cut: &str| {
        let said = notes(&format!(
            "[[shot]]\npiece = \"back\"\n[[shot.corner]]\nname = \"a\"\npx = [0, 0]\n[[shot.corner]]\nname = \"d\"\npx = [0, 500]\n\
             [[shot.edge]]\nfrom = \"d\"\nto = \"a\"\nis = \"{is}\"\n[piece.back]\nallowance = {{ all = \"15 mm\" }}\n{cut}"
        ));
        marked(&draft("back", &back, &said), &said.garment, "x").undone
    };
    let [why] = &told("centre fold", "cut = \"2, mirrored\"\n")[..] else { panic!("{:?}", told("centre fold", "cut = \"2, mirrored\"\n")) };
    for word in ["centre back", "centre fold", "\"2, mirrored\"", "seam", "(line 15 of the notes)"] {
        assert!(why.contains(word), "{word}: {why}");
    }
    for (is, cut) in [
        ("centre fold", "cut = \"1, place on fold\"\n"),
        ("centre fold", "cut = \"1, place on fold\"\nfold = \"centre back\"\n"),
        ("centre fold", "cut = \"1\"\nfold = \"centre back\"\n"),
        ("seam", "cut = \"2, mirrored\"\n"),
    ] {
        assert_eq!(told(is, cut), Vec::<String>::new(), "{is} {cut}");
    }
}
