//! Facings, linings and interfacings made from their pieces, and what nobody measured.

mod given;
mod straight;

use given::{DART, draft, length, notes};
use ruboff::length::Mm;
use ruboff::notes::Notes;
use ruboff::piece::{Draft, How, Marked, Walk, marked};
use straight::{half_front, lines};

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
    assert!(made.iter().any(|m| m.as_ref().is_err_and(|e| e.piece == "lost" && e.why.contains("yoke"))));
    assert!(Notes::from_text("[piece.facing]\nfrom = \"panel\"\nwidth = \"50 mm\"\n").is_err());
}

/// A facing that can't be has a message with its line: of an edge that is not there, too wide for its piece, of a piece that nobody traced.
#[test]
fn facings_that_cant_be_are_told_with_their_line() {
    let panel =
        lines(&[("a", "top", [0.0, 0.0]), ("b", "right", [200.0, 0.0]), ("c", "bottom", [200.0, 500.0]), ("d", "left", [0.0, 500.0])]);
    let cases = [
        ("from = \"panel\"\nalong = [\"tob\"]\nwidth = \"50 mm\"", "no edge called \"tob\"", 4),
        ("from = \"panel\"\nalong = [\"top\"]\nwidth = \"600 mm\"", "does not lie within panel, which is 200 x 500 mm", 5),
        ("from = \"panel\"\nalong = [\"left\", \"top\"]\nwidth = \"600 mm\"", "does not lie within panel", 5),
        ("from = \"yoke\"", "yoke, which was not traced", 3),
    ];
    for (text, word, line) in cases {
        let said = notes(&format!("[piece.panel]\n[piece.facing]\n{text}\n"));
        let made = ruboff::piece::derived(&said, &[&draft("panel", &panel, &said)]);
        let why = made[0].as_ref().expect_err(text).to_string();
        assert!(why.contains(word) && why.ends_with(&format!("(line {line} of the notes)")), "{why}");
    }
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
    let own = "open = true\n[[piece.lining.pleat]]\nname = \"centre pleat\"\nedge = \"waist\"\nbetween = [{ edge = \"waist\", at = \"50 mm\" }, { edge = \"waist\", at = \"50 mm\" }]\ndepth = \"15 mm\"\nacross = \"hem\"\n\
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

/// The facing of a waist with two open darts is traced with them shut: by arithmetic a strip 50 mm wide along 200 mm that are straight again, its waist in one
/// piece. Edges that something else parts can't be followed.
#[test]
fn darts_are_shut_for_a_facing() {
    let panel = lines(&[
        ("waist left", "waist", [0.0, 0.0]),
        ("waist right", "side right", [200.0, 0.0]),
        ("hem right", "hem", [200.0, 500.0]),
        ("hem left", "side left", [0.0, 500.0]),
    ]);
    let dart = |name: &str, at: f64| {
        format!(
            "[[piece.panel.dart]]\nname = \"{name}\"\nlegs = [{{ mm = [\"{at} mm\", \"0 mm\"] }}]\npoint = {{ mm = [\"{at} mm\", \"100 mm\"] }}\nintake = \"20 mm\"\npressed = \"to centre\"\n"
        )
    };
    let text = format!(
        "[piece.panel]\nkind = \"skirt panel\"\nopen = true\n{}{}[piece.facing]\nfrom = \"panel\"\nalong = [\"waist\"]\nwidth = \"50 mm\"\n\
         [piece.apart]\nfrom = \"panel\"\nalong = [\"waist\", \"hem\"]\nwidth = \"50 mm\"\n",
        dart("one", 60.0),
        dart("two", 140.0)
    );
    let said = notes(&text);
    let of = draft("panel", &panel, &said);
    assert!(of.piece.edges_of("waist").0.len() == 3, "{:?}", of.piece.drafted());
    let made = ruboff::piece::derived(&said, &[&of]);
    let facing = made.iter().flatten().find(|d| d.piece.name == "facing").unwrap_or_else(|| panic!("{made:?}"));
    let layer = facing.piece.drafted();
    let waist = &layer.edges[layer.edge("waist").expect("a waist")].path;
    assert!((Walk::of(waist).length() - 200.0).abs() < 0.01, "{waist:?}");
    let walk = Walk::of(waist);
    assert!((walk.at(0.0).distance(walk.at(walk.length())) - 200.0).abs() < 0.01, "{waist:?}");
    // The stretch between the darts lies as on the panel; the facing is turned over from left to right.
    let middle = Walk::of(&of.piece.drafted().edges[of.piece.edges_of("waist").0[1]].path).along(40.0);
    let (way, along) = (walk.along(100.0), kurbo::Vec2::new(middle.x, -middle.y));
    assert!(way.cross(along).abs() < 1e-6 && way.dot(along) > 0.0, "{way:?} {along:?}");
    assert!(facing.piece.changes()[0].what.contains("darts folded shut"), "{:?}", facing.piece.changes()[0]);
    // The corners beside the waist gave by some degrees when the darts were opened, so the ends are not quite square.
    assert!((layer.area() - 10_000.0).abs() < 600.0, "{}", layer.area());
    let inner = Walk::of(&layer.edges[layer.edge("inner edge").expect("an inner edge")].path);
    assert!(inner.steps(10.0).iter().all(|s| (walk.nearest(inner.at(*s)).1 - 50.0).abs() < 1.0));
    let apart = made.iter().find_map(|m| m.as_ref().err()).expect("refused");
    assert!(apart.why.contains("do not follow one another"), "{apart}");
}

/// Half a skirt on the fold whose waist of 150 mm holds a dart that lay open, 20 mm wide: its facing is 130 mm long, with the fold upright as it is on the piece. One along
/// a hem that was spread by 60 mm for gathers says so with its line.
#[test]
fn darts_that_lie_open_are_shut_for_a_facing() {
    let half = lines(&[
        ("waist centre", "waist", [0.0, 0.0]),
        ("waist side", "side", [150.0, 0.0]),
        ("hem side", "hem", [150.0, 600.0]),
        ("hem centre", "centre", [0.0, 600.0]),
    ]);
    let text = "[piece.skirt]\ncut = \"1, place on fold\"\nfold = \"centre\"\nopen = true\n\
        [[piece.skirt.dart]]\nname = \"waist dart\"\nlegs = [{ mm = [\"60 mm\", \"1 mm\"] }, { mm = [\"80 mm\", \"0 mm\"] }]\npoint = { mm = [\"70 mm\", \"100 mm\"] }\n\
        [[piece.skirt.gather]]\nname = \"full\"\nedge = \"hem\"\nfull = \"210 mm\"\n\
        [piece.facing]\nfrom = \"skirt\"\nalong = [\"waist\"]\nwidth = \"50 mm\"\n\
        [piece.turnup]\nfrom = \"skirt\"\nalong = [\"hem\"]\nwidth = \"40 mm\"\n";
    let said = notes(text);
    let of = draft("skirt", &half, &said);
    let made = ruboff::piece::derived(&said, &[&of]);
    let own = |name: &str| made.iter().flatten().find(|d| d.piece.name == name).unwrap_or_else(|| panic!("{name}: {made:?}"));
    let layer = own("facing").piece.drafted();
    assert!((length(layer, "waist") - 130.0).abs() < 0.05, "{layer:?}");
    assert!((length(layer, "centre") - 50.0).abs() < 0.05, "{layer:?}");
    let fold = Walk::of(&layer.edges[layer.edge("centre").expect("a fold")].path);
    let theirs = Walk::of(&of.piece.drafted().edges[of.piece.drafted().edge("centre").expect("a fold")].path);
    assert!(fold.along(10.0).cross(theirs.along(10.0)).abs() < 1e-3, "{layer:?}");
    let told = &own("turnup").undone;
    assert!(told.iter().any(|u| u.contains("60.0 mm longer here than it is sewn") && u.ends_with("(line 19 of the notes)")), "{told:?}");
}
