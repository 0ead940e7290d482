mod edits;

use super::*;
use crate::length::{Length, Px};
use crate::notes::{Belongs, GrainAlong, InLine, Line, Notch, NotchStyle, OnEdge, Place, Spot, Tape};
use proptest::prelude::*;

const NOTES: &str = "# mine\n[garment]\nname = \"Top\"   # the blue one\n\n# by the window\n[[shot]]\npicture = \"a.jpg\"\n[[shot.corner]] # first\n\
     name = \"neck\"\npx = [1, 2] # rough\n\n[[shot.edge]]\nfrom = \"neck\"\nto = \"neck\"\n";

/// The same notes in both layouts, with comments that tell of more than the entry they stand at.
const LINES: &str = "# keep 1\n[garment]\nname = \"Top\" # keep 2\n\n# keep 3\n\n[[shot]] # keep 4\npicture = \"a.jpg\" # keep 5\npiece = \"front\"\n\n\
    # keep 6\n\n[[shot.corner]]\nname = \"neck\"\npx = [1, 2]\n[[shot.corner]]\nname = \"hem\"\npx = [5, 9]\n\n# keep 7\n\n[[shot.through]]\n\
    px = [3, 3]\n[[shot]]\npicture = \"b.jpg\" # keep 8\n[[shot.region]]\nis = \"kept\"\npx = [[1, 1], [9, 1], [9, 9]]\n\n[piece.front]\n\
    cut = \"2, mirrored\" # keep 9\ncentre = [\"neck\", \"hem\"]\n[[piece.front.notch]]\nedge = \"side\"\nat = \"12 mm\"\nfrom = \"hem\"\n# keep 10\n";
const INLINE: &str = "# keep 1\nshot = [ # keep 2\n  { picture = \"a.jpg\", piece = \"front\", corner = [{ name = \"neck\", px = [1, 2] }, { name = \"hem\", px = [5, 9] }] },\n  \
    # keep 3\n  { picture = \"b.jpg\", through = [{ px = [3, 3] }] }, # keep 4\n] # keep 5\npiece.front = { cut = \"2, mirrored\", centre = [\"neck\", \
    \"hem\"] } # keep 6\n# keep 7\n";
const JOINED: &str = "# keep 1\n[[shot]]\npictures = [\"a.jpg\", \"b.jpg\"] # keep 2\npiece = \"front\"\n[[shot.corner]]\nname = \"neck\"\n\
    picture = \"b.jpg\"\npx = [1, 2]\n";

fn tape(what: &str, round: bool, mm: f64) -> Tape {
    Tape {
        what: what.into(),
        reading: Length::from_mm(mm),
        piece: None,
        round,
        by: Some("Pip".into()),
        on: None,
        remarks: None,
        line: InLine::default(),
    }
}

fn draft(text: &str) -> Draft {
    Draft::from_text(text).unwrap_or_else(|e| panic!("{e}"))
}

#[test]
fn a_corner_moves_and_all_else_stays() {
    let mut d = draft(NOTES);
    d.set_corner("a.jpg", "neck", Place::Px(Px::new(10.04, 20.0))).expect("good");
    assert_eq!(d.text(), NOTES.replace("[1, 2]", "[10.0, 20.0]"));
    d.set_garment("name", Some("Blouse")).expect("good");
    assert!(d.text().contains("name = \"Blouse\"   # the blue one"));
}

#[test]
fn corners_and_pictures_are_added() {
    let mut d = draft(NOTES);
    d.set_corner("a.jpg", "hem", Place::Px(Px::new(5.0, 6.0))).expect("good");
    d.set_corner("b.jpg", "cuff", Place::Mm([Length::from_mm(312.0), Length::from_mm(455.25)])).expect("good");
    let notes = d.notes().expect("good");
    assert_eq!(notes.shots[0].corners.len(), 2);
    assert_eq!(notes.shots[1].picture.as_deref(), Some("b.jpg"));
    assert!(d.text().starts_with(NOTES.split("[[shot.edge]]").next().expect("head")), "{}", d.text());
    let mut empty = draft("");
    empty.set_corner("c.jpg", "tip", Place::Px(Px::new(1.0, 1.0))).expect("good");
    assert_eq!(empty.notes().expect("good").shots[0].corners[0].name, "tip");
}

#[test]
fn inline_lists_are_changed_too() {
    let text = "shot = [{ picture = \"a.jpg\", corner = [{ name = \"x\", px = [1, 1] }] }] # all in one\n";
    let mut d = draft(text);
    d.set_corner("a.jpg", "x", Place::Px(Px::new(2.0, 2.0))).expect("good");
    d.set_corner("a.jpg", "y", Place::Px(Px::new(3.0, 3.0))).expect("good");
    assert_eq!(d.notes().expect("good").shots[0].corners.len(), 2);
    assert!(d.text().contains("# all in one"));
    d.remove_corner("a.jpg", "x").expect("good");
    assert_eq!(d.notes().expect("good").shots[0].corners[0].name, "y");
}

#[test]
fn what_would_spoil_the_notes_is_not_done() {
    let mut d = draft(NOTES);
    assert!(d.remove_corner("a.jpg", "neck").is_err(), "an edge names it");
    assert!(d.set_corner("a.jpg", "neck", Place::Px(Px::new(f64::NAN, 0.0))).is_err());
    assert!(d.set_garment("colour of the moon", Some("x")).is_err());
    assert_eq!(d.text(), NOTES);
}

#[test]
fn saved_whole() {
    let dir = tempfile::tempdir().expect("a folder");
    let path = dir.path().join("garment.toml");
    draft(NOTES).save(&path).expect("written");
    assert_eq!(std::fs::read_to_string(&path).expect("read"), NOTES);
    assert_eq!(std::fs::read_dir(dir.path()).expect("listed").count(), 1);
}

/// Blocks of notes, each good by itself, as people lay them out.
const BLOCKS: [&str; 8] = [
    "[garment]\nname='Top'   # the blue one\nfragile   =false\n",
    "[[shot]]\npicture = \"a.jpg\"\n  [[shot.corner]]\n  name = \"neck\"\n  px = [ 1,2 ,]\n[[shot.edge]]\nfrom = \"neck\"\nto = \"neck\"\n",
    "[[shot]]\nmarks = [{ are = \"stickers\", names = [\n  \"a\", # first\n  \"b\",\n] }]\n",
    "[piece.front]\ncut = \"2, mirrored\"\nallowance = {all=\"6 mm\", \"hem\" = \"25mm\"}\n",
    "[[piece.back.dart]]\nname = \"\"\"waist\"\"\"\nlegs = [\"m\"]\npoint = { px = [4, 9] }\n",
    "[piece.\"left sleeve\".grain]\nalong = \"centre\"\n",
    "[[join]]\nedges = [\"front: side\", 'back: side']\n",
    "[[tape]]\nwhat = \"chest\"\nreading = \"19 \\u00bd in\"\n",
];

proptest! {
    /// Any of the blocks in any order, with comments, blank lines, tabs and either line break between: not a byte is lost.
    #[test]
    fn nothing_changed_is_byte_for_byte_the_same(
        order in Just((0..8usize).collect::<Vec<_>>()).prop_shuffle(),
        taken in 0..=8usize,
        between in prop::collection::vec("(#[ -~é…]{0,20}|[ \\t]{0,4})\n{1,3}", 9),
        dos in any::<bool>(),
    ) {
        let mut text = String::new();
        for (k, block) in order.into_iter().take(taken).enumerate() {
            text.push_str(&between[k]);
            text.push_str(BLOCKS[block]);
        }
        text.push_str(between[8].trim_end());
        let text = if dos { text.replace('\n', "\r\n") } else { text };
        let mut kept = draft(&text);
        prop_assert_eq!(kept.text(), text.clone());
        prop_assert!(kept.set_garment("colour of the moon", Some("x")).is_err());
        kept.remove_corner("a.jpg", "not there").expect("nothing to do");
        prop_assert_eq!(kept.text(), text);
    }
}

#[test]
fn line_breaks_and_the_byte_order_mark_outlast_a_change() {
    let text = format!("\u{feff}{}", NOTES.replace('\n', "\r\n"));
    let mut d = draft(&text);
    assert_eq!(d.text(), text);
    d.set_garment("name", Some("Blouse")).expect("good");
    assert_eq!(d.text(), text.replace("\"Top\"", "\"Blouse\""));
}

#[test]
fn dotted_keys_stay() {
    let text = "garment.more.role = \"ghost\"\n# end";
    assert_eq!(draft(text).text(), text);
}

#[test]
fn one_table_for_all_pictures_is_shared_out_before_one_is_changed() {
    let pictures = ["a.jpg", "b.jpg", "c.jpg"].map(String::from);
    for text in [
        "# all alike\n[[shot]] # one\nthickness = \"1.5 mm\" # calipers\n[[shot.corner]]\nname = \"neck\"\npx = [1, 2]\n\n[piece.front]\ncut = \"2\"\n",
        "shot = [{ thickness = \"1.5 mm\", corner = [{ name = \"neck\", px = [1, 2] }] }] # all alike\n",
    ] {
        let mut d = draft(text);
        let was = d.notes().expect("good").shots[0].clone();
        // A single picture keeps the table as it is.
        d.share_out(&pictures[..1]).expect("nothing to do");
        assert_eq!(d.text(), text);
        d.share_out(&pictures).expect("shared");
        d.set_corner("b.jpg", "neck", Place::Px(Px::new(7.0, 8.0))).expect("good");
        let notes = d.notes().expect("good");
        assert_eq!(notes.shots.iter().map(|s| s.picture.as_deref()).collect::<Vec<_>>(), ["a.jpg", "b.jpg", "c.jpg"].map(Some));
        for (k, shot) in notes.shots.iter().enumerate() {
            let mut own = was.clone();
            own.picture.clone_from(&shot.picture);
            if k == 1 {
                own.corners[0].at = Place::Px(Px::new(7.0, 8.0));
            }
            assert_eq!(*shot, own, "{}", d.text());
        }
        assert!(d.text().contains("# all alike"), "{}", d.text());
        let again = d.text();
        d.share_out(&pictures).expect("nothing to do");
        assert_eq!(d.text(), again);
    }
}

#[test]
fn a_single_table_that_names_no_picture_is_changed_itself() {
    let mut d = draft("[[shot]]\nthickness = \"1.5 mm\" # calipers\n");
    d.set_shot("a.jpg", "thickness", Some(Word::Text("2 mm"))).expect("good");
    assert_eq!(d.text(), "[[shot]]\nthickness = \"2 mm\" # calipers\n");
}

#[test]
fn a_corner_of_joined_pictures_is_told_in_its_own_picture() {
    let mut d = draft(JOINED);
    d.set_corner("a.jpg", "neck", Place::Px(Px::new(5.0, 6.0))).expect("good");
    d.set_corner("b.jpg", "hem", Place::Px(Px::new(7.0, 8.0))).expect("good");
    let shot = &d.notes().expect("good").shots[0];
    let told: Vec<_> = shot.corners.iter().map(|c| (c.name.as_str(), c.picture.as_deref())).collect();
    assert_eq!(told, [("neck", None), ("hem", Some("b.jpg"))]);
}

#[test]
fn a_corner_is_renamed_wherever_it_is_named() {
    let text = "[[shot]]\npicture = \"a.jpg\"\npiece = \"front\"\n[[shot.corner]]\nname = \"x\"\npx = [1, 2]\n[[shot.corner]]\nname = \"y\"\npx = [9, 9]\n\
        [[shot.edge]]\nfrom = \"x\" # first\nto = \"y\"\n[piece.front]\nfrom = \"x\"\ncentre = [\"x\", { edge = \"x\", at = \"1 mm\", from = \"x\" }]\n\
        [[piece.front.notch]]\nedge = \"x\"\nat = \"2 mm\"\nfrom = \"x\"\n[[join]]\nedges = [\"front: x\", \"back: x\"]\nmeet = [\"front: x\", \"back: x\"]\n";
    let mut d = draft(text);
    d.rename_corner("a.jpg", "x", "neck").expect("good");
    let notes = d.notes().expect("good");
    let front = &notes.pieces["front"];
    assert_eq!((notes.shots[0].edges[0].from.as_str(), front.from.as_deref()), ("neck", Some("x")));
    let on = OnEdge { edge: "x".into(), at: Length::from_mm(1.0), from: Some("neck".into()) };
    assert_eq!(front.centre, Some([Spot::Named("neck".into()), Spot::OnEdge(on)]));
    assert_eq!((front.notches[0].edge.as_str(), front.notches[0].from.as_deref()), ("x", Some("neck")));
    let meet = notes.joins[0].meet.as_ref().expect("told");
    assert_eq!((meet[0].to_string(), meet[1].to_string()), ("front: neck".into(), "back: x".into()));
    assert!(d.text().contains("# first") && d.rename_corner("a.jpg", "neck", "y").is_err());
}

#[test]
fn an_edge_of_which_nothing_is_said_any_more_goes() {
    let mut d = draft(LINES);
    d.set_edge("a.jpg", ["neck", "hem"], "line", Some("fold")).expect("good");
    d.set_edge("a.jpg", ["hem", "neck"], "shape", Some("straight")).expect("good");
    let edges = d.notes().expect("good").shots[0].edges.clone();
    assert_eq!((edges.len(), edges[0].line, edges[0].straight), (1, Some(Line::Fold), true));
    d.set_edge("a.jpg", ["neck", "hem"], "line", None).expect("good");
    d.set_edge("a.jpg", ["neck", "hem"], "shape", None).expect("good");
    assert!(d.notes().expect("good").shots[0].edges.is_empty());
    assert!(d.set_edge("a.jpg", ["neck", "cuff"], "line", Some("fold")).is_err(), "no such corner");
    assert!(d.set_edge("a.jpg", ["neck", "hem"], "is", Some("pretty edge")).is_err());
}

const TOLD: &str = "# keep 1\n[[shot]]\npicture = \"a.jpg\"\npiece = \"front\"\n\n# keep 2\n\n[piece.\"piece 1\"] # one\nfold = \"side\"\n\
    allowance = { all = \"10 mm\", side = \"1/2 in\" } # wide\ngrain = { along = \"side\" }\ncentre = [{ edge = \"side\", at = \"1 mm\" }, \"hem\"]\n\
    [[piece.\"piece 1\".dart]]\nname = \"side\"\nlegs = [\"a\"]\npoint = { px = [1, 2] }\ngives = \"Side\"\n[[piece.\"piece 1\".notch]]\nedge = \"side\" # notch\nat = \"2 mm\"\n\
    [piece.\"piece 2\"] # two\nfold = \"side\"\n[piece.facing]\nfrom = \"piece 1\"\nalong = [\"side\", \"neck\"]\nwidth = \"50 mm\"\n\
    [[join]]\nedges = [\"piece 1: side + piece 2: side\", \"front: side\"] # seam\n[[change]]\npiece = \"piece 1\"\nedge = \"side\"\non = \"2024-03-01\"\nout = \"1 mm\"\n\
    [[tape]]\nwhat = \"length\"\nreading = \"19 1/2 in\"\npiece = \"piece 2\"\n";

#[test]
fn an_edge_is_renamed_wherever_its_piece_is_told_of() {
    let mut d = draft(TOLD);
    assert!(d.names_edge("Piece 1", "side") && !d.names_edge("piece 1", "sides") && !d.names_edge("back", "side"));
    d.rename_edge("piece 1", "side", "flank").expect("good");
    let notes = d.notes().expect("good");
    let one = &notes.pieces["piece 1"];
    assert_eq!((one.fold.as_deref(), one.notches[0].edge.as_str(), one.darts[0].gives.as_deref()), (Some("flank"), "flank", Some("flank")));
    assert_eq!((one.darts[0].name.as_str(), one.grain.as_ref().map(|g| g.along.clone())), ("side", Some(GrainAlong::Edge("flank".into()))));
    assert_eq!(one.allowance.keys().collect::<Vec<_>>(), ["all", "flank"]);
    assert!(matches!(&one.centre, Some([Spot::OnEdge(on), Spot::Named(hem)]) if on.edge == "flank" && hem == "hem"));
    assert_eq!(
        (notes.pieces["piece 2"].fold.as_deref(), &notes.pieces["facing"].along),
        (Some("side"), &vec!["flank".into(), "neck".into()])
    );
    assert_eq!(notes.joins[0].edges[0].to_string(), "piece 1: flank + piece 2: side");
    assert_eq!((notes.joins[0].edges[1].to_string(), notes.changes[0].edge.as_deref()), ("front: side".into(), Some("flank")));
    // The person's own text around it is as it was, and comes back.
    d.rename_edge("piece 1", "flank", "side").expect("good");
    assert_eq!(d.text(), TOLD.replace("\"Side\"", "\"side\""));
}

#[test]
fn pieces_change_their_names_all_at_once() {
    let name = |n: &str| Some(n.to_owned());
    let mut d = draft(TOLD);
    d.rename_pieces(&[("piece 1".into(), name("piece 2")), ("piece 2".into(), name("piece 1"))]).expect("good");
    let notes = d.notes().expect("good");
    assert_eq!((notes.pieces["piece 2"].notches.len(), notes.pieces["piece 1"].notches.len()), (1, 0));
    assert_eq!((notes.pieces["facing"].from.as_deref(), notes.tapes[0].piece.as_deref()), (Some("piece 2"), Some("piece 1")));
    assert_eq!((notes.joins[0].edges[0].to_string(), notes.changes[0].piece.as_str()), ("piece 2: side + piece 1: side".into(), "piece 2"));
    d.rename_pieces(&[("piece 1".into(), name("piece 2")), ("piece 2".into(), name("piece 1"))]).expect("good");
    assert_eq!(d.text(), TOLD);
    assert!(d.rename_pieces(&[("piece 1".into(), name("facing"))]).is_err(), "two tables of one name");
    assert_eq!(d.text(), TOLD);
    // One is no more: what is told of it goes, and the next one takes its number.
    d.rename_pieces(&[("piece 1".into(), None), ("piece 2".into(), name("piece 1"))]).expect("good");
    let notes = d.notes().expect("good");
    assert_eq!(notes.pieces.keys().collect::<Vec<_>>(), ["piece 1"]);
    assert!(notes.joins.is_empty() && notes.changes.is_empty() && notes.tapes[0].piece.as_deref() == Some("piece 1"));
    assert!(["# keep 1", "# keep 2", "# two"].iter().all(|k| d.text().contains(k)) && !d.text().contains("# one"), "{}", d.text());
    let mut d = draft("piece.\"piece 1\" = { cut = \"2\" } # one\npiece.\"piece 2\" = { cut = \"3\" } # two\n");
    d.rename_pieces(&[("piece 1".into(), name("piece 2")), ("piece 2".into(), name("piece 1"))]).expect("good");
    assert_eq!(d.text(), "piece.\"piece 2\" = { cut = \"2\" } # one\npiece.\"piece 1\" = { cut = \"3\" } # two\n");
}

#[test]
fn a_reading_is_kept_as_typed_and_anothers_left_alone() {
    let by = |by: &str, what: &str| Tape { by: Some(by.into()), ..tape(what, false, 485.775) };
    let ann = "[[tape]]\nwhat = \"chest\"\nreading = \"5 7/8 in\" # twice\nby = \"Ann\"\n";
    let mut d = draft(ann);
    d.set_tape(&by("Kit", "chest"), " 19 1/8 in ").expect("good");
    assert!(d.text().starts_with(ann) && d.text().contains("\"19 1/8 in\"") && d.text().contains("by = \"Kit\""));
    d.set_tape(&by("kit", "Chest"), "19 1/4 in").expect("good");
    let notes = d.notes().expect("good");
    assert_eq!(notes.tapes.iter().map(|t| t.reading.inches()).collect::<Vec<_>>(), [5.875, 19.25]);
    d.set_tape(&by("ANN", "chest"), "6 in").expect("good");
    assert!(d.text().contains("reading = \"6 in\" # twice"));
}
