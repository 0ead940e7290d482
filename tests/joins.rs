//! Seams walked on pieces whose lengths and angles arithmetic gives.

mod given;
mod straight;

use given::draft;
use kurbo::BezPath;
use proptest::prelude::*;
use ruboff::notes::{NotchStyle, Notes, ShotNotes, Spot};
use ruboff::piece::{Given, How, NotShared, NotchAt, Outcome, Piece, Verdict, checks, drafted, joins, lengthened, shared};
use straight::lines;

/// A piece from its corners, each with its name and that of the edge that starts there.
fn piece(name: &str, corners: &[(&str, &str, [f64; 2])]) -> Piece {
    Piece::new(name, lines(corners))
}

/// Front as seen, its left on the right of the page; `long` down the side, which leans out by `flare`.
fn front(long: f64, flare: f64) -> Piece {
    piece(
        "front",
        &[
            ("neck right", "neckline", [-60.0, -200.0]),
            ("neck left", "shoulder left", [60.0, -200.0]),
            ("tip left", "armscye left", [150.0, -170.0]),
            ("arm left", "armhole left", [150.0, 0.0]),
            ("underarm left", "side left", [200.0, 0.0]),
            ("hem left", "hem", [200.0 + flare, long]),
            ("hem right", "side right", [-200.0 - flare, long]),
            ("underarm right", "armhole right", [-200.0, 0.0]),
            ("arm right", "armscye right", [-150.0, 0.0]),
            ("tip right", "shoulder right", [-150.0, -170.0]),
        ],
    )
}

/// Back as seen, its left on the left of the page.
fn back(long: f64, flare: f64) -> Piece {
    piece(
        "back",
        &[
            ("neck left", "neckline", [-60.0, -200.0]),
            ("neck right", "shoulder right", [60.0, -200.0]),
            ("tip right", "armscye right", [150.0, -170.0]),
            ("arm right", "armhole right", [150.0, 0.0]),
            ("underarm right", "side right", [200.0, 0.0]),
            ("hem right", "hem", [200.0 + flare, long]),
            ("hem left", "side left", [-200.0 - flare, long]),
            ("underarm left", "armhole left", [-200.0, 0.0]),
            ("arm left", "armscye left", [-150.0, 0.0]),
            ("tip left", "shoulder left", [-150.0, -170.0]),
        ],
    )
}

fn notes(text: &str) -> Notes {
    Notes::from_text(text).unwrap_or_else(|e| panic!("{e}"))
}

const SIDES: &str = "[[join]]\nedges = [\"front: side left\", \"back: side left\"]\n";

#[test]
fn equal_seams_are_true_and_unequal_ones_are_told() {
    let found = joins(&notes(SIDES), &[front(400.0, 0.0), back(400.0, 0.0)]).remove(0).expect("walked");
    assert!((found.difference()).abs() < 1e-9 && found.good() && found.walked.ends_known);
    assert!((found.walked.lengths[0] - 400.0).abs() < 1e-9);
    // Four corners, each known to 0.1 mm: 1.96 × 0.2.
    assert!((found.walked.known_to - 0.392).abs() < 1e-9);
    let found = joins(&notes(SIDES), &[front(404.0, 0.0), back(400.0, 0.0)]).remove(0).expect("walked");
    assert!((found.off() - 4.0).abs() < 1e-9 && found.verdict == Verdict::Off && found.tolerance.how == How::Assumed);
    let eased = format!("{SIDES}ease = \"4 mm\"\ntolerance = \"0.5 mm\"\n");
    let found = joins(&notes(&eased), &[front(404.0, 0.0), back(400.0, 0.0)]).remove(0).expect("walked");
    assert!(found.verdict == Verdict::True && found.ease.how == How::Noted && found.tolerance.value == 0.5);
}

/// Two half panels with their sides on the right of the page, one named by hand and one by its shape: both sides run down, so that 150 mm
/// from the waist is the same place. Walked against each other they would seem true as well, their notches 100 mm out.
#[test]
fn a_side_named_by_hand_meets_one_named_left_or_right() {
    let panel = |name: &str, [waist, hem, centre]: [&str; 3]| {
        piece(
            name,
            &[
                ("waist centre", "waist", [0.0, 0.0]),
                (waist, "side", [180.0, 0.0]),
                (hem, "hem", [180.0, 400.0]),
                ("hem centre", centre, [0.0, 400.0]),
            ],
        )
    };
    let said = notes("[[join]]\nedges = [\"front: side\", \"back: side\"]\n");
    for other in [["waist right", "hem right", "centre back"], ["top corner at waist", "hem corner", "centre back"]] {
        let mut pieces = [panel("front", ["waist side", "hem side", "centre front"]), panel("back", other)];
        for p in &mut pieces {
            p.notches = vec![NotchAt { edge: "side".into(), at: 150.0, count: 1, style: NotchStyle::Slit, how: How::Noted, answers: None }];
        }
        let found = joins(&said, &pieces).remove(0).expect("walked");
        assert!(found.walked.same_way && found.walked.ends_known, "{other:?}");
        assert!(found.walked.sections.iter().all(|s| (s.lengths[0] - s.lengths[1]).abs() < 1e-9));
    }
}

/// Sides that lean by 1 in 10 make angles of 90° − 5.71° with a straight hem: sewn together 11.42° less than a straight line, so that the cloth
/// stands out in a point (arithmetic).
#[test]
fn a_straight_hem_on_flared_sides_makes_a_point() {
    let found = joins(&notes(SIDES), &[front(400.0, 40.0), back(400.0, 40.0)]).remove(0).expect("walked");
    let lean = 2.0 * 0.1f64.atan().to_degrees();
    let hem = found.walked.across.iter().find(|x| x.corner == "hem left").expect("both have a hem there");
    assert!((hem.bend_deg + lean).abs() < 1e-6, "{hem:?}");
    assert_eq!(hem.edges, ["hem", "hem"]);
    assert_eq!(hem.makes(), "point");
    assert_eq!(found.rough.iter().filter(|x| x.corner == "hem left").count(), 1);
    let under = found.walked.across.iter().find(|x| x.corner == "underarm left").expect("both have an armhole there");
    assert_eq!(under.edges, ["armhole left", "armhole left"]);
    assert!((under.bend_deg - lean).abs() < 1e-6);
    assert_eq!(found.verdict, Verdict::True);
}

#[test]
fn sections_are_walked_between_notches() {
    let text = |at: &str| {
        format!(
            "{SIDES}[[piece.front.notch]]\nedge = \"side left\"\nat = \"150 mm\"\n[[piece.back.notch]]\nedge = \"side left\"\nat = \"{at}\"\nfrom = \"underarm left\"\n"
        )
    };
    let drafts = |said: &Notes| {
        let (shot, nowhere) = (ShotNotes::default(), |_: &Spot| None);
        [front(400.0, 0.0), back(400.0, 0.0)]
            .map(|p| drafted(&Given { name: &p.name, lines: p.found(), shot: &shot, notes: said, other: None, place: &nowhere }).piece)
    };
    let said = notes(&text("150 mm"));
    let found = joins(&said, &drafts(&said)).remove(0).expect("walked");
    let lengths: Vec<[f64; 2]> = found.walked.sections.iter().map(|s| s.lengths.map(f64::round)).collect();
    assert_eq!(lengths, [[150.0, 150.0], [250.0, 250.0]]);
    assert!(found.good());
    let said = notes(&text("146 mm"));
    let found = joins(&said, &drafts(&said)).remove(0).expect("walked");
    assert_eq!(found.sections_off.len(), 2);
    assert!((found.sections_off[0].1 - 4.0).abs() < 1e-6 && !found.good() && found.verdict == Verdict::True);
}

#[test]
fn a_cap_is_eased_into_both_armholes() {
    let cap = |long: f64| {
        piece(
            "sleeve",
            &[
                ("underarm back", "cap", [0.0, 0.0]),
                ("underarm front", "underarm seam front", [long, 0.0]),
                ("wrist", "underarm seam back", [100.0, 300.0]),
            ],
        )
    };
    let armhole = 50.0;
    let text = "[[join]]\nedges = [\"front: armhole left + back: armhole left\", \"sleeve: cap\"]\n";
    for (ease, verdict) in [(30.0, Verdict::True), (-5.0, Verdict::Ease), (60.0, Verdict::Ease)] {
        let pieces = [front(400.0, 0.0), back(400.0, 0.0), cap(2.0 * armhole + ease)];
        let found = joins(&notes(text), &pieces).remove(0).expect("walked");
        assert!(found.cap && found.sides[0] == "sleeve: cap", "{:?}", found.sides);
        assert!((found.difference() - ease).abs() < 1e-6);
        assert_eq!(found.verdict, verdict, "{ease}");
    }
}

/// Between notches a cap may be longer than its armhole, not shorter, and below them by no more than 1/4 in: 60 + 100 mm of cap on 50 + 50 of
/// two armholes notched at their meeting ends.
#[test]
fn a_cap_is_held_against_its_armholes_section_by_section() {
    let cap = piece(
        "sleeve",
        &[
            ("underarm back", "cap", [0.0, 0.0]),
            ("underarm front", "underarm seam front", [110.0, 0.0]),
            ("wrist", "underarm seam back", [50.0, 300.0]),
        ],
    );
    let sections = |at: [f64; 2]| {
        let mut pieces = [front(400.0, 0.0), back(400.0, 0.0), cap.clone()];
        let notch =
            |edge: &str, at: f64| NotchAt { edge: edge.into(), at, count: 1, style: NotchStyle::Slit, how: How::Noted, answers: None };
        // The front's armhole runs from its arm end to the underarm: 20 mm from the underarm is 30 along it.
        pieces[0].notches.push(notch("armhole left", 30.0));
        pieces[1].notches.push(notch("armhole left", 20.0));
        pieces[2].notches.extend(at.map(|s| notch("cap", s)));
        let text = "[[join]]\nedges = [\"sleeve: cap\", \"front: armhole left + back: armhole left\"]\nmeet = [\"sleeve: underarm front\", \"back: underarm left\"]\n";
        joins(&notes(text), &pieces).remove(0).expect("walked")
    };
    let good = sections([20.0, 90.0]);
    assert_eq!(good.walked.sections.len(), 3);
    assert_eq!(good.verdict, Verdict::True);
    let off = |at: [f64; 2]| sections(at).sections_off.iter().map(|s| s.0).collect::<Vec<_>>();
    let lengths: Vec<[f64; 2]> = good.walked.sections.iter().map(|s| s.lengths.map(f64::round)).collect();
    // Told by their own lengths: whatever is shorter by more than 1/16 in, or eased by more than 1/4 in at either end.
    let wrong = |all: &[[f64; 2]]| {
        let d: Vec<f64> = all.iter().map(|l| l[0] - l[1]).collect();
        (0..3).filter(|&k| d[k] < -1.5875 || (k != 1 && d[k] > 6.35)).map(|k| k + 1).collect::<Vec<_>>()
    };
    assert_eq!(off([20.0, 90.0]), wrong(&lengths));
    for at in [[10.0, 90.0], [30.0, 90.0], [20.0, 70.0], [50.0, 60.0]] {
        let all: Vec<[f64; 2]> = sections(at).walked.sections.iter().map(|s| s.lengths).collect();
        assert_eq!(off(at), wrong(&all), "{all:?}");
        assert!(!off(at).is_empty());
    }
}

/// A rib of 340 mm relaxed on an edge of 400: 85 % of it, and nothing is off.
#[test]
fn a_band_is_told_by_its_relaxed_length() {
    let rib = || piece("rib", &[("a", "edge", [0.0, 0.0]), ("b", "x", [345.0, 0.0]), ("c", "y", [345.0, 60.0]), ("d", "z", [0.0, 60.0])]);
    let text = "[piece.rib]\nrelaxed = \"340 mm\"\n[[join]]\nedges = [\"front: side left\", \"rib: edge\"]\n";
    let found = joins(&notes(text), &[front(400.0, 0.0), rib()]).remove(0).expect("walked");
    assert!((found.band.expect("a ratio") - 0.85).abs() < 1e-9 && found.verdict == Verdict::True);
    // 1 / 0.85 - 1: stretched by 17.6 %, which cloth that gives 15 % does not.
    assert!((found.stretched().expect("stretched") - 0.17647).abs() < 1e-5 && found.relaxed == Some(340.0));
    for (stretch, over) in [("15 %", true), ("20 %", false)] {
        let told = text.replace("[[join]]", &format!("stretch = {{ crosswise = \"{stretch}\" }}\n[[join]]"));
        let found = joins(&notes(&told), &[front(400.0, 0.0), rib()]).remove(0).expect("walked");
        assert_eq!((found.verdict == Verdict::Stretch, found.good()), (over, !over), "{stretch}");
    }
    // Between notches it is stretched evenly: half of the rib on half of the edge, not 30 mm further.
    let notch = |edge: &str, at: f64| NotchAt { edge: edge.into(), at, count: 1, style: NotchStyle::Slit, how: How::Noted, answers: None };
    for (at, off) in [(172.5, 0), (202.5, 2)] {
        let (mut side, mut band) = (front(400.0, 0.0), rib());
        side.notches.push(notch("side left", 200.0));
        band.notches.push(notch("edge", at));
        let found = joins(&notes(text), &[side, band]).remove(0).expect("walked");
        assert_eq!(found.sections_off.len(), off, "{:?}", found.sections_off);
        assert!(found.sections_off.iter().all(|s| (s.1.abs() - 30.0 * 400.0 / 345.0).abs() < 6.0), "{:?}", found.sections_off);
    }
}

/// A neckline that ends at the fold is sewn on both sides of it: a collar of twice its length is true, notches on it stand on both sides, and what
/// is off by 4 mm in all is shared by a millimetre on each half of it and two on the collar. What is cut twice has a seam there instead.
#[test]
fn what_ends_at_the_fold_is_sewn_twice() {
    let neck = (60f64).hypot(80.0);
    let collar = |long: f64| {
        piece("collar", &[("a", "edge", [0.0, 0.0]), ("b", "x", [long, 0.0]), ("c", "y", [long, 60.0]), ("d", "z", [0.0, 60.0])])
    };
    let half = || {
        let mut lines = straight::half_front();
        let fold = lines.edge("centre").expect("there");
        lines.edges[fold].line = ruboff::piece::Line::Fold;
        Piece::new("front", lines)
    };
    let said = |cut: &str| notes(&format!("[piece.front]\ncut = \"{cut}\"\n[[join]]\nedges = [\"front: neckline\", \"collar: edge\"]\n"));
    let on_fold = said("1, place on fold");
    let found = joins(&on_fold, &[half(), collar(2.0 * neck)]).remove(0).expect("walked");
    assert!(found.verdict == Verdict::True && (found.walked.lengths[0] - 2.0 * neck).abs() < 1e-9, "{found:?}");
    let cut_twice = joins(&said("2, mirrored"), &[half(), collar(neck)]).remove(0).expect("walked");
    assert!(cut_twice.verdict == Verdict::True && (cut_twice.walked.lengths[0] - neck).abs() < 1e-9);
    let (mut front, mut band) = (half(), collar(2.0 * neck + 4.0));
    // Clockwise the neckline runs from the fold up.
    front.notches.push(NotchAt { edge: "neckline".into(), at: 30.0, count: 1, style: NotchStyle::Slit, how: How::Noted, answers: None });
    let walked = joins(&on_fold, &[&front, &band]);
    assert_eq!(walked[0].as_ref().expect("walked").walked.notches, [2, 0]);
    let told = shared(&on_fold, &mut [&mut front, &mut band], &walked).remove(0).expect("shared");
    assert!((told.moved[0].by - 1.0).abs() < 1e-9 && (told.moved[1].by + 2.0).abs() < 1e-9, "{told:?}");
    assert!(joins(&on_fold, &[&front, &band]).remove(0).expect("walked").difference().abs() < 0.01);
}

/// Left and right pieces are one another's mirror images, or told edge by edge.
#[test]
fn pairs_are_mirrored() {
    let sleeve = |name: &str, long: f64, mirror: f64| {
        let mut all = [
            ("top", "a", [0.0, 0.0]),
            ("b", "seam", [mirror * 200.0, 0.0]),
            ("c", "end", [mirror * 160.0, long]),
            ("d", "fold", [0.0, long]),
        ];
        if mirror < 0.0 {
            all = [
                ("top", "fold", [0.0, 0.0]),
                ("d", "end", [0.0, long]),
                ("c", "seam", [mirror * 160.0, long]),
                ("b", "a", [mirror * 200.0, 0.0]),
            ];
        }
        piece(name, &all)
    };
    let of = |pieces: &[Piece]| checks(&notes(""), pieces, &[]).into_iter().find(|c| c.code == "pairs");
    let alike = [sleeve("left sleeve", 500.0, 1.0), sleeve("right sleeve", 500.0, -1.0)];
    assert_eq!(of(&alike).expect("checked").outcome, Outcome::Good);
    let longer = [sleeve("left sleeve", 500.0, 1.0), sleeve("right sleeve", 504.0, -1.0)];
    let found = of(&longer).expect("checked").found;
    assert!(found.len() == 2 && found.iter().any(|f| f.contains("fold is 4.0 mm shorter")), "{found:?}");
    assert!(of(&alike[..1]).is_none());
}

/// A sleeve laid open about its fold has its cap in two halves: both are the cap, eased as one, whether or not a person named it, and in whatever
/// order it was seen.
#[test]
fn a_cap_laid_open_is_one() {
    let half = |cap: &str| {
        lines(&[
            ("top", cap, [0.0, 0.0]),
            ("underarm", "underarm seam", [180.0, 90.0]),
            ("wrist", "end", [120.0, 500.0]),
            ("wrist fold", "fold", [0.0, 500.0]),
        ])
    };
    let long = 2.0 * 180f64.hypot(90.0);
    for cap in ["cap", "edge 1"] {
        for layer in [half(cap), half(cap).mapped(kurbo::Affine::FLIP_X)] {
            let text = "[piece.sleeve]\nkind = \"sleeve\"\nfold = \"fold\"\n[[join]]\nedges = [\"sleeve: cap\", \"body: armhole\"]\n";
            let said = notes(text);
            let sleeve = draft("sleeve", &layer, &said);
            let hole = lines(&[("a", "armhole", [0.0, 0.0]), ("b", "side", [long - 30.0, 0.0]), ("c", "rest", [0.0, 300.0])]);
            let body = draft("body", &hole, &said);
            let found = joins(&said, &[&sleeve.piece, &body.piece]).remove(0).unwrap_or_else(|e| panic!("{cap}: {e}"));
            assert!(found.cap && found.verdict == Verdict::True, "{cap}: {found:?}");
            assert!((found.difference() - 30.0).abs() < 0.01, "{}", found.difference());
        }
    }
}

/// A corner that a person named parts an edge of one name by its shape: asked for without a number it is all of it, walked from end to end.
#[test]
fn what_a_corner_parts_is_walked_as_one() {
    let text = "[piece.front]\nkind = \"body front\"\n[[join]]\nedges = [\"front: neckline\", \"band: edge\"]\n";
    let said = notes(text);
    for flip in [false, true] {
        let front = lines(&[
            ("corner 1", "edge 1", [-60.0, 0.0]),
            ("neck centre front", "edge 2", [0.0, 80.0]),
            ("corner 3", "edge 3", [60.0, 0.0]),
            ("corner 4", "edge 4", [150.0, 20.0]),
            ("corner 5", "edge 5", [200.0, 200.0]),
            ("corner 6", "edge 6", [200.0, 600.0]),
            ("corner 7", "edge 7", [-200.0, 600.0]),
            ("corner 8", "edge 8", [-200.0, 200.0]),
            ("corner 9", "edge 9", [-150.0, 20.0]),
        ]);
        let front = if flip { front.mapped(kurbo::Affine::FLIP_X) } else { front };
        let front = draft("front", &front, &said);
        assert!(front.piece.drafted().edge("neckline 2").is_some(), "{:?}", front.piece.drafted().edges);
        let band = lines(&[("a", "edge", [0.0, 0.0]), ("b", "end", [200.0, 0.0]), ("c", "rest", [0.0, 300.0])]);
        let band = draft("band", &band, &said);
        let found = joins(&said, &[&front.piece, &band.piece]).remove(0).unwrap_or_else(|e| panic!("{e}"));
        assert!((found.difference()).abs() < 1e-6, "{}", found.difference());
    }
}

#[test]
fn what_is_not_there_is_named_with_what_is() {
    let pieces = [front(400.0, 0.0), back(400.0, 0.0)];
    let text = "[[join]]\nedges = [\"front: side left\", \"back: flank\"]\n[[join]]\nedges = [\"gusset: top\", \"back: hem\"]\n";
    let found = joins(&notes(text), &pieces);
    let words: Vec<String> = found.iter().map(|f| f.as_ref().expect_err("not there").to_string()).collect();
    assert!(words[0].contains("flank") && words[0].contains("side left"), "{words:?}");
    assert!(words[1].contains("gusset") && words[1].contains("front, back"), "{words:?}");
}

#[test]
fn the_cutters_checks_say_what_to_look_at() {
    let pieces = [front(400.0, 0.0), back(403.0, 0.0)];
    let text = format!(
        "[garment]\nname = \"smock\"\nchild = true\n{SIDES}[piece.front]\ncut = \"1\"\nallowance = {{ all = \"10 mm\" }}\n[piece.back]\ncut = \"1\"\nallowance = {{ all = \"12 mm\" }}\n[piece.front.grain]\nalong = \"centre\"\n[piece.pocket]\ncut = \"2\"\n"
    );
    let notes = notes(&text);
    let walked = joins(&notes, &pieces);
    let found = checks(&notes, &pieces, &walked);
    let of = |code: &str| found.iter().find(|c| c.code == code).unwrap_or_else(|| panic!("{code}"));
    assert!(of("pieces").found.iter().any(|f| f.contains("pocket") && f.contains("not traced")));
    assert!(of("pieces").found.iter().any(|f| f.contains("mirrored")));
    assert!(of("lengths").found[0].contains("3.0 mm shorter"), "{:?}", of("lengths"));
    assert!(of("allowances").found[0].contains("10.0 and 12.0"));
    assert_eq!(of("grain").found, ["back: the grain is not recorded."]);
    assert_eq!(of("edges").outcome, Outcome::Good);
    assert_eq!(of("left-and-right").outcome, Outcome::Good);
    assert_eq!(of("cords").outcome, Outcome::ByHand);
    assert_eq!(of("notches").outcome, Outcome::ByHand);
    assert!(!found.iter().any(|c| c.code == "folds"), "nothing is cut on a fold");
    assert!(!found.iter().any(|c| c.code == "sleepwear" || c.code == "protective"));
}

/// A half that is kept is compared as it was found, not with nothing; a facing is cut as its piece.
#[test]
fn a_kept_half_is_compared_as_it_was_found() {
    let said = notes(
        "[piece.front]\ncut = \"1, place on fold\"\nkeep = \"left\"\n[piece.facing]\nfrom = \"front\"\nalong = [\"neckline\"]\nwidth = \"40 mm\"\n",
    );
    let whole = front(400.0, 0.0);
    let nothing = ShotNotes::default();
    let nowhere = |_: &Spot| None;
    let half = drafted(&Given { name: "front", lines: whole.found(), shot: &nothing, notes: &said, other: None, place: &nowhere });
    assert!(half.piece.drafted().area() < 0.6 * whole.found().area());
    let facing = ruboff::piece::derived(&said, &[&half]).remove(0).expect("a facing");
    let found = checks(&said, &[&half.piece, &facing.piece], &[]);
    let of = |code: &str| found.iter().find(|c| c.code == code).unwrap_or_else(|| panic!("{code}"));
    assert_eq!(of("left-and-right").found, Vec::<String>::new());
    assert_eq!(of("pieces").found, Vec::<String>::new());
    // A hem that lies 12 mm to one side: the middle of its level lies 12 mm beside the line through the others, and left and right differ.
    let mut lines = whole.found().clone();
    for (name, by) in [("hem left", 12.0), ("hem right", 12.0)] {
        let k = lines.corner(name).expect("there");
        lines.corners[k].at.x += by;
    }
    for k in 0..lines.edges.len() {
        let (a, b) = (lines.corners[k].at, lines.corners[(k + 1) % lines.corners.len()].at);
        let mut path = BezPath::new();
        path.move_to((a.x, a.y));
        path.line_to((b.x, b.y));
        lines.edges[k].path = path;
    }
    let known = ruboff::piece::balance(&lines, None).expect("two like sides");
    let hem = known.centre.levels.iter().find(|l| l.name == "hem").expect("a level");
    assert!((hem.off - 12.0).abs() < 0.5, "{:?}", known.centre.levels);
    assert!(known.centre.levels.iter().filter(|l| l.name != "hem").all(|l| l.off.abs() < 0.5), "{:?}", known.centre.levels);
    let found = checks(&said, &[&Piece::new("front", lines)], &[]);
    let told = &found.iter().find(|c| c.code == "left-and-right").expect("checked").found;
    assert!(told.iter().any(|f| f.contains("at hem the middle of the width lies 12.0 mm beside")), "{told:?}");
}

/// A side of 404 mm against one of 400 with notches 100 and 101 mm below the underarm: 402 on either side, and the notches come to lie on each other
/// 100.5 mm down, also where the second edge runs the other way.
#[test]
fn a_difference_is_shared_and_the_notches_with_it() {
    let notch = |edge: &str, at: f64| NotchAt { edge: edge.into(), at, count: 1, style: NotchStyle::Slit, how: How::Noted, answers: None };
    let said = notes(SIDES);
    let (mut a, mut b) = (front(404.0, 0.0), back(400.0, 0.0));
    a.notches.push(notch("side left", 100.0));
    // The back's left side runs from the hem up.
    b.notches.push(notch("side left", 400.0 - 101.0));
    b.notches.push(notch("hem", 50.0));
    let walked = joins(&said, &[&a, &b]);
    let told = shared(&said, &mut [&mut a, &mut b], &walked).remove(0).expect("shared");
    assert!((told.off - 4.0).abs() < 1e-9 && told.moved[0].by == -2.0 && told.moved[1].by == 2.0, "{told:?}");
    assert!(told.moved.iter().all(|m| m.corner == "hem left" && (m.corner_moved - 2.0).abs() < 0.01), "{told:?}");
    assert!(told.moved.iter().all(|m| m.notch_moved.is_some_and(|far| (far - 0.5).abs() < 0.01)), "{told:?}");
    let after = joins(&said, &[&a, &b]).remove(0).expect("walked");
    assert!(after.good(), "{after:?}");
    for s in &after.walked.sections {
        assert!((s.lengths[0] - s.lengths[1]).abs() < 0.01, "{:?}", after.walked.sections);
    }
    assert!((after.walked.sections[0].lengths[0] - 100.5).abs() < 0.01);
    // The hem's corner moved along the side, at right angles to it: its notch is where it was.
    let hem = b.drafted().edge("hem").expect("a hem");
    assert!((b.notches[1].at / b.drafted().edges[hem].length() - 0.125).abs() < 1e-9);
    assert!(b.changes().last().is_some_and(|c| c.what.contains("side left of back +2.00 mm")), "{:?}", b.changes());
    // An edge across a whole piece gives at one end, and its two sides are unlike then: told of the yoke, not of a strip without left and right.
    let strip = |name: &str, ends: [&str; 2], long: f64| {
        piece(
            name,
            &[(ends[0], "seam", [0.0, 0.0]), (ends[1], "end", [long, 0.0]), ("c", "top", [long, 90.0]), ("d", "start", [0.0, 90.0])],
        )
    };
    let across = notes("[[join]]\nedges = [\"yoke: seam\", \"strip: seam\"]\n");
    let (mut a, mut b) = (strip("yoke", ["armhole left", "armhole right"], 364.0), strip("strip", ["a", "b"], 360.0));
    let walked = joins(&across, &[&a, &b]);
    let told = shared(&across, &mut [&mut a, &mut b], &walked).remove(0).expect("shared");
    assert_eq!(told.moved.each_ref().map(|m| m.other_side.is_some()), [true, false], "{told:?}");
    assert!(told.moved[0].other_side.as_deref().is_some_and(|c| c.starts_with("armhole ") && c != told.moved[0].corner), "{told:?}");
    // Ten millimetres are a mistake, and two edges in a row have no end that could slide.
    let (mut a, mut b) = (front(410.0, 0.0), back(400.0, 0.0));
    let walked = joins(&said, &[&a, &b]);
    assert!(matches!(shared(&said, &mut [&mut a, &mut b], &walked)[..], [Err(NotShared::TooMuch { .. })]));
    let rows = notes("[[join]]\nedges = [\"front: side left\", \"back: side left + back: armhole left\"]\ntolerance = \"1 mm\"\n");
    let (mut a, mut b) = (front(453.0, 0.0), back(400.0, 0.0));
    let walked = joins(&rows, &[&a, &b]);
    assert!(matches!(shared(&rows, &mut [&mut a, &mut b], &walked)[..], [Err(NotShared::Several { .. })]));
    // Both edges of one piece: the left side of a front a little longer than its right one.
    let own = notes("[[join]]\nedges = [\"front: side left\", \"front: side right\"]\n");
    let mut a = front(400.0, 0.0);
    let layer = lengthened(a.drafted(), 4, true, 3.0).expect("longer").0;
    a = Piece::new("front", layer);
    let walked = joins(&own, &[&a]);
    shared(&own, &mut [&mut a], &walked).remove(0).expect("shared");
    assert!(joins(&own, &[&a]).remove(0).expect("walked").difference().abs() < 0.05);
}

proptest! {
    /// An edge is longer by exactly what was asked, its corner moved by about as much, all else as it was.
    #[test]
    fn lengthened_by_what_was_asked(by in -6.0..6.0f64, edge in 0usize..10, at_end: bool, bow in -12.0..12.0f64) {
        let before = front(400.0, 20.0);
        let mut layer = before.found().clone();
        let (a, b) = (layer.corners[edge].at, layer.corners[(edge + 1) % 10].at);
        let out = nalgebra::Vector2::new(b.y - a.y, a.x - b.x).normalize() * bow;
        let (p, q) = (a.lerp(b, 1.0 / 3.0) + out, a.lerp(b, 2.0 / 3.0) + out);
        let mut path = BezPath::new();
        path.move_to((a.x, a.y));
        path.curve_to((p.x, p.y), (q.x, q.y), (b.x, b.y));
        layer.edges[edge].path = path;
        let (longer, moved) = lengthened(&layer, edge, at_end, by).expect("small");
        prop_assert!((longer.edges[edge].length() - layer.edges[edge].length() - by).abs() < 0.01);
        // A bowed edge gives a little in its bow as well.
        prop_assert!(moved < 2.0 * by.abs() + 0.01 && moved > 0.5 * by.abs() - 0.01, "{} for {}", moved, by);
        let neighbour = if at_end { (edge + 1) % 10 } else { (edge + 9) % 10 };
        for k in (0..10).filter(|k| *k != edge && *k != neighbour) {
            prop_assert_eq!(&longer.edges[k], &layer.edges[k]);
        }
        prop_assert_eq!(longer.edges[edge].how, How::Chosen);
        prop_assert!(longer.check().is_ok());
    }
}
