//! What notes place on a piece where it can't be is told with its line and left out, whether or not the piece is opened.

mod given;
mod straight;

use given::{draft, length, notes};
use ruboff::notes::EdgeNotes;
use ruboff::piece::{Layer, joins, marked};
use straight::{half_front, lines};

/// Each with the line that it stands in and a word that must be told.
#[test]
fn what_cant_be_is_told_with_its_line() {
    let dart = |point: &str| {
        format!(
            "[[piece.front.dart]]\nname = \"bust\"\nlegs = [{{ edge = \"side\", at = \"100 mm\" }}]\npoint = {{ mm = {point} }}\nintake = \"20 mm\"\n"
        )
    };
    let pleat = "[[piece.front.pleat]]\nname = \"tucks\"\nedge = \"hem\"\nbetween = [{ mm = [\"12 mm\", \"600 mm\"] }, { mm = [\"188 mm\", \"600 mm\"] }]\ndepth = \"2 mm\"\ncount = 100\n";
    let cases = [
        (dart("[\"260 mm\", \"300 mm\"]"), 4, "60 mm outside the piece"),
        // Straight from the side across the hollow of the armhole.
        (dart("[\"150 mm\", \"22 mm\"]").replace("100 mm", "5 mm"), 4, "does not run within the piece"),
        (pleat.to_owned(), 4, "1.8 mm apart"),
        (pleat.replace("count = 100", "stitched_down = \"900 mm\""), 4, "stitched down 900 mm, and the piece reaches"),
        (
            "[piece.front.grain]\nalong = [{ mm = [\"-40 mm\", \"0 mm\"] }, { mm = [\"-40 mm\", \"500 mm\"] }]\n".to_owned(),
            5,
            "80 mm off the cloth",
        ),
        (
            "[[piece.front.mark]]\nname = \"pocket\"\nat = { mm = [\"260 mm\", \"300 mm\"] }\n".to_owned(),
            4,
            "\"pocket\" lies 60 mm off the cloth",
        ),
        ("centre = [{ mm = [\"-30 mm\", \"100 mm\"] }, \"hem centre\"]\n".to_owned(), 4, "centre lies 30 mm off the cloth"),
        (
            dart("[\"100 mm\", \"300 mm\"]").replace("edge = \"side\", at = \"100 mm\" }", "mm = [\"210 mm\", \"290 mm\"] }, { mm = [\"210 mm\", \"310 mm\"] }"),
            4,
            "ends 10 mm off the cloth",
        ),
        (
            pleat.replace("600 mm", "560 mm").replace("count = 100", "count = 2"),
            4,
            "\"tucks\" starts or ends 40 mm from hem",
        ),
        (
            "[[piece.front.gather]]\nname = \"waist\"\nedge = \"hem\"\nbetween = [{ mm = [\"20 mm\", \"560 mm\"] }, { mm = [\"80 mm\", \"600 mm\"] }]\nfull = \"90 mm\"\n".to_owned(),
            4,
            "\"waist\" starts or ends 40 mm from hem",
        ),
        ("[[piece.front.notch]]\nedge = \"side\"\nat = \"1000 mm\"\n".to_owned(), 4, "the edge is 400.0 mm long"),
        ("[[piece.front.notch]]\nedge = \"sleeve\"\nat = \"100 mm\"\n".to_owned(), 4, "no edge called \"sleeve\""),
        ("allowance = { all = \"10 mm\", armhole = \"900 mm\" }\n".to_owned(), 4, "no cut line was drawn"),
        ("fold = \"armhole\"\ncut = \"1, place on fold\"\n".to_owned(), 4, "can be no fold"),
    ];
    for (text, line, word) in cases {
        for open in [false, true] {
            let said = notes(&format!("# invented\n[piece.front]\nopen = {open}\n{text}"));
            let front = draft("front", &hollowed(), &said);
            let drawn = marked(&front, &said.garment, "x/front");
            let told: Vec<&String> = front.undone.iter().chain(&drawn.undone).filter(|u| u.contains(word)).collect();
            assert_eq!(told.len(), 1, "{text}: {:?} {:?}", front.undone, drawn.undone);
            assert!(told[0].ends_with(&format!("(line {line} of the notes)")), "{}", told[0]);
            assert!(drawn.darts.is_empty() && drawn.fullness.is_empty());
            assert!((front.piece.drafted().perimeter() - hollowed().perimeter()).abs() < 1e-6);
        }
    }
}

/// Legs that are sewn together and not as long as one another are told, and drawn as they are noted; so is a fold that bends by 3 mm.
#[test]
fn legs_and_folds_that_are_uneven_are_told_and_kept() {
    let dart = "[piece.front]\n[[piece.front.dart]]\nname = \"bust\"\nlegs = [{ mm = [\"200 mm\", \"290 mm\"] }, { mm = [\"200 mm\", \"310 mm\"] }]\n\
                point = { mm = [\"100 mm\", \"330 mm\"] }\nintake = \"20 mm\"\n";
    let said = notes(dart);
    let front = draft("front", &half_front(), &said);
    assert!(
        front.undone.iter().any(|u| u.contains("are 107.7 and 102.0 mm long") && u.ends_with("(line 2 of the notes)")),
        "{:?}",
        front.undone
    );
    assert_eq!(marked(&front, &said.garment, "x/front").darts.len(), 1);
    let mut bent = half_front();
    bent.edges[4].path = kurbo::BezPath::from_svg("M 0 600 L 3 340 L 0 80").expect("path data");
    let front = draft("front", &bent, &notes("[piece.front]\nfold = \"centre\"\ncut = \"1, place on fold\"\n"));
    assert!(front.undone.iter().any(|u| u.contains("centre bends 3.0 mm") && u.ends_with("(line 2 of the notes)")), "{:?}", front.undone);
    assert_eq!(front.piece.drafted().edges[4].line, ruboff::piece::Line::Fold);
}

/// A back seen from outside with the garment's front up is told, for left and right would be changed round; not one seen from inside, through the open front.
#[test]
fn a_back_with_the_front_up_is_told() {
    for (shot, told) in [("up = \"front\"", true), ("up = \"back\"", false), ("up = \"front\"\nside = \"inside out\"", false)] {
        let said = notes(&format!("[[shot]]\npicture = \"x.jpg\"\npiece = \"back\"\n{shot}\n[piece.back]\nkind = \"body back\"\n"));
        let drawn = draft("back", &hollowed(), &said);
        assert_eq!(drawn.undone.iter().any(|u| u.contains("with the front up, seen from outside")), told, "{shot}: {:?}", drawn.undone);
    }
}

/// Half a skirt of which nobody named a corner: its sides lean by atan(100 / 600) = 9.5° against one another, so that the line through the middles of its widths is 4.7°
/// off either. Told with its line where it is cut in pairs, and right where its centre is marked.
#[test]
fn a_half_has_no_centre_in_its_middle() {
    let half = lines(&[
        ("corner 1", "edge 1", [0.0, 0.0]),
        ("corner 2", "edge 2", [150.0, 0.0]),
        ("corner 3", "edge 3", [250.0, 600.0]),
        ("corner 4", "edge 4", [0.0, 600.0]),
    ]);
    let made = |more: &str| {
        let text = format!("[piece.front]\nkind = \"skirt panel\"\ngrain = {{ along = \"centre\", runs = \"lengthwise\" }}\n{more}");
        draft("front", &half, &notes(&text))
    };
    let drawn = made("cut = \"2, mirrored\"\n");
    let told = drawn.undone.iter().any(|u| u.contains("4.7° off") && u.contains("(line 3 of the notes)"));
    assert!(told && (drawn.laying.turned_deg.abs() - 4.7).abs() < 0.1, "{:?} {}", drawn.undone, drawn.laying.turned_deg);
    for more in ["cut = \"1\"\n", "cut = \"2, mirrored\"\ncentre = [{ mm = [\"0 mm\", \"0 mm\"] }, { mm = [\"0 mm\", \"500 mm\"] }]\n"] {
        let drawn = made(more);
        assert!(drawn.undone.is_empty(), "{:?}", drawn.undone);
        assert_eq!(drawn.laying.turned_deg.abs() < 1e-9, more.contains("centre"), "{}", drawn.laying.turned_deg);
    }
    // An edge called the centre is one.
    let mut half = half;
    half.edges[3].name = "centre back".into();
    let said =
        notes("[piece.front]\nkind = \"skirt panel\"\ngrain = { along = \"centre\", runs = \"lengthwise\" }\ncut = \"2, mirrored\"\n");
    let drawn = draft("front", &half, &said);
    assert!(drawn.undone.is_empty() && drawn.laying.turned_deg.abs() < 1e-9, "{:?}", drawn.undone);
}

/// Half a front with an armhole that is drawn in by 40 mm.
fn hollowed() -> Layer {
    let mut out = half_front();
    out.edges[1].path = kurbo::BezPath::from_svg("M150,20 C110,80 130,180 200,200").expect("path data");
    out
}

/// Joins of what is not there, with corners that are not theirs or an ease no edge has, each with its line.
#[test]
fn joins_that_cant_be_walked_name_their_line() {
    let cases = [
        ("edges = [\"front: side\", \"moon: side\"]", "no outline of a piece called \"moon\""),
        ("edges = [\"front: side\", \"back: spine\"]", "back has no edge called \"spine\""),
        ("edges = [\"front: side\", \"back: side\"]\nmeet = [\"front: nowhere\", \"back: hem side\"]", "meet names front: nowhere"),
        ("edges = [\"front: side\", \"back: side\"]\nease = \"-900 mm\"", "an ease of -900 mm"),
    ];
    for (join, word) in cases {
        let said = notes(&format!("[piece.front]\n[piece.back]\n\n[[join]]\n{join}\n"));
        let [front, back] = ["front", "back"].map(|name| draft(name, &half_front(), &said));
        let why = joins(&said, &[&front.piece, &back.piece]).remove(0).expect_err(word).to_string();
        assert!(why.contains(word) && why.ends_with("(line 4 of the notes)"), "{why}");
    }
}

fn told(noted: &[EdgeNotes], corners: &[&str]) -> Vec<Option<(String, usize)>> {
    EdgeNotes::told(noted, corners).into_iter().map(|t| t.and_then(|(e, stretch)| Some((e.name.clone()?, stretch)))).collect()
}

fn noted(edges: &[[&str; 3]]) -> Vec<EdgeNotes> {
    let corners: std::collections::BTreeSet<&str> = edges.iter().flat_map(|e| [e[0], e[1]]).collect();
    let corners: String = corners.iter().map(|c| format!("[[shot.corner]]\nname = \"{c}\"\npx = [1, 1]\n")).collect();
    let edges: String =
        edges.iter().map(|[a, b, name]| format!("[[shot.edge]]\nfrom = \"{a}\"\nto = \"{b}\"\nname = \"{name}\"\n")).collect();
    notes(&format!("[[shot]]\npicture = \"a.jpg\"\n{corners}{edges}")).shots[0].edges.clone()
}

/// Between two corners there are two edges, told apart by from and to, clockwise; with more corners the order is free. Corners that nobody named part
/// no edge, and the shorter edge goes before the one that would take it in.
#[test]
fn edges_run_from_and_to_the_corners_told() {
    let name = |name: &str, stretch: usize| Some((name.to_owned(), stretch));
    let round = noted(&[["a", "b", "opening"], ["b", "a", "bag"]]);
    assert_eq!(told(&round, &["a", "b"]), [name("opening", 0), name("bag", 0)]);
    assert_eq!(told(&round[..1], &["b", "a"]), [None, name("opening", 0)]);
    let side = noted(&[["c", "b", "side"]]);
    assert_eq!(told(&side, &["a", "b", "c"]), [None, name("side", 0), None]);
    let hem = noted(&[["a", "d", "hem"], ["a", "b", "vent"]]);
    assert_eq!(told(&hem, &["a", "corner 2", "corner 3", "d", "e"]), [name("hem", 0), name("hem", 1), name("hem", 2), None, None]);
    assert_eq!(told(&hem, &["a", "b", "corner 3", "d", "e"]), [name("vent", 0), None, None, None, None]);
}

/// An edge that the notes tell from corner to corner, found in two stretches, is sewn as one: walked against one of 400 mm it is true, and what is chosen
/// for it holds for both.
#[test]
fn an_edge_found_in_stretches_is_sewn_as_one() {
    let parted = lines(&[
        ("neck", "shoulder", [60.0, 0.0]),
        ("tip", "armhole", [150.0, 20.0]),
        ("underarm", "flank", [200.0, 200.0]),
        ("corner 4", "flank 2", [202.0, 400.0]),
        ("hem side", "hem", [200.0, 600.0]),
        ("hem centre", "centre", [0.0, 600.0]),
        ("neck centre", "neckline", [0.0, 80.0]),
    ]);
    let text = "[[shot]]\npicture = \"a.jpg\"\n[[shot.corner]]\nname = \"underarm\"\npx = [1, 1]\n[[shot.corner]]\nname = \"hem side\"\npx = [1, 9]\n\
        [[shot.edge]]\nfrom = \"underarm\"\nto = \"hem side\"\nname = \"flank\"\nis = \"raw edge\"\n\
        [piece.front]\nallowance = { all = \"10 mm\", flank = \"20 mm\" }\n[[join]]\nedges = [\"front: flank\", \"back: side\"]\n";
    let said = notes(text);
    let given = ruboff::piece::Given { name: "front", lines: &parted, shot: &said.shots[0], notes: &said, other: None, place: &|_| None };
    let front = ruboff::piece::drafted(&given);
    let back = draft("back", &half_front(), &said);
    let walked = joins(&said, &[&front.piece, &back.piece]).remove(0).expect("walked");
    assert!((walked.walked.lengths[0] - length(&parted, "flank") - length(&parted, "flank 2")).abs() < 1e-9, "{:?}", walked.walked.lengths);
    assert_eq!(front.edges.iter().flatten().count(), 2);
    let cut = marked(&front, &said.garment, "x/front").cut.expect("a cut line");
    assert_eq!(cut.edges.iter().filter(|e| (e.allowance.width - 20.0).abs() < 1e-9).count(), 2);
}

/// Gathers that are noted as sewn to another length than they have in the picture, by more than the quarter of an inch that a tape may differ.
#[test]
fn gathers_of_another_length_are_told() {
    let told = |sewn: f64| {
        let text =
            format!("[piece.front]\n[[piece.front.gather]]\nname = \"waist\"\nedge = \"hem\"\nsewn = \"{sewn} mm\"\nfull = \"300 mm\"\n");
        draft("front", &half_front(), &notes(&text)).undone
    };
    assert!(told(194.0).is_empty() && told(206.0).is_empty(), "{:?}", told(194.0));
    for sewn in [193.0, 207.0] {
        let undone = told(sewn);
        assert!(
            undone.len() == 1 && undone[0].contains("200.0 mm in the picture") && undone[0].ends_with("(line 2 of the notes)"),
            "{undone:?}"
        );
    }
}
