//! Halves on the fold sewn to whole pieces: a half stands for both its sides, whichever of them was kept, on figures that arithmetic gives.

mod given;
mod straight;

use assert_cmd::Command;
use given::{draft, notes};
use kurbo::Affine;
use ruboff::notes::{NotchStyle, Notes};
use ruboff::piece::{How, Joined, Layer, NotShared, NotchAt, Piece, joins, match_notches, shared};
use ruboff::write::{DraftedRecord, as_written, drafted_text};
use straight::{half_front, lines};

/// A body as seen, its wearer's left on the right of the page where it is a front and on the left where it is a back; shoulders slope, sides are `long`
/// and armholes 10 mm deeper where it is deep.
fn body(front: bool, long: f64, deep: bool) -> Layer {
    let [right, left] = if front { ["left", "right"] } else { ["right", "left"] };
    let under = if deep { 210.0 } else { 200.0 };
    let name = |place: &str, side: &str| format!("{place} {side}");
    let corners: Vec<(String, String, [f64; 2])> = vec![
        (name("neck", left), "neckline".into(), [-60.0, 0.0]),
        (name("neck", right), name("shoulder", right), [60.0, 0.0]),
        (name("shoulder tip", right), name("armhole", right), [150.0, 20.0]),
        (name("underarm", right), name("side", right), [200.0, under]),
        (name("hem", right), "hem".into(), [200.0, under + long]),
        (name("hem", left), name("side", left), [-200.0, under + long]),
        (name("underarm", left), name("armhole", left), [-200.0, under]),
        (name("shoulder tip", left), name("shoulder", left), [-150.0, 20.0]),
    ];
    lines(&corners.iter().map(|(c, e, at)| (c.as_str(), e.as_str(), *at)).collect::<Vec<_>>())
}

/// A sleeve opened out, its front on the left of the page; the cap is a straight line of `cap`.
fn sleeve(cap: f64) -> Layer {
    lines(&[
        ("underarm front", "cap", [0.0, 0.0]),
        ("underarm back", "underarm seam back", [cap, 0.0]),
        ("end back", "end", [cap - 40.0, 400.0]),
        ("end front", "underarm seam front", [40.0, 400.0]),
    ])
}

const JOINS: &str = r#"
[[join]]
edges = ["sleeve: cap", "front: armhole left + back: armhole left"]
[[join]]
edges = ["sleeve: cap", "back: armhole right + front: armhole right"]
[[join]]
edges = ["front: side left", "back: side left"]
[[join]]
edges = ["front: side right", "back: side right"]
[[join]]
edges = ["front: shoulder left", "back: shoulder left"]
"#;

fn said(front: &str, joins: &str) -> Notes {
    notes(&format!("[piece.front]\nkind = \"body front\"\n{front}\n[piece.sleeve]\nkind = \"sleeve\"\n{joins}"))
}

fn garment(said: &Notes, [front, back]: [f64; 2], deep: bool, cap: f64) -> Vec<Piece> {
    let drafted = |name: &str, layer: &Layer| {
        let made = draft(name, layer, said);
        assert_eq!(made.undone, Vec::<String>::new(), "{name}");
        made.piece
    };
    vec![drafted("front", &body(true, front, deep)), drafted("back", &body(false, back, false)), drafted("sleeve", &sleeve(cap))]
}

fn walked(said: &Notes, pieces: &[Piece]) -> Vec<Joined> {
    joins(said, pieces).into_iter().map(|j| j.unwrap_or_else(|e| panic!("{e}"))).collect()
}

fn notch(edge: &str, at: f64) -> NotchAt {
    NotchAt { edge: edge.into(), at, count: 1, style: NotchStyle::Slit, how: How::Noted, answers: None }
}

const KEPT: [&str; 4] = [
    "",
    "cut = \"1, place on fold\"\nkeep = \"left\"",
    "cut = \"1, place on fold\"\nkeep = \"right\"",
    "cut = \"1, place on fold\"\nkeep = \"mean\"",
];

/// Whole or half, whichever half was kept, the armhole of 186.8 + 196.5 mm is walked from underarm to underarm with the front's beside the cap's front, and
/// side and shoulder from corner to corner that lie together.
#[test]
fn a_half_is_walked_like_the_whole() {
    let [near, deep] = [50f64.hypot(180.0), 50f64.hypot(190.0)];
    for kept in KEPT {
        let said = said(kept, JOINS);
        let mut pieces = garment(&said, [400.0, 400.0], true, near + deep);
        // 60 mm from the underarm at the front, 50 at the back, in body and cap.
        let own = pieces[0].drafted();
        for name in ["armhole left", "armhole right"] {
            let up = |k: usize| if own.corners[k].name.contains("underarm") { 60.0 } else { deep - 60.0 };
            let Some(at) = own.edge(name).map(up) else { continue };
            pieces[0].notches.push(notch(name, at));
            break;
        }
        let at_front = pieces[0].notches.len();
        if kept.is_empty() {
            pieces[0].notches.push(notch("armhole right", 60.0));
        }
        assert_eq!(at_front, 1);
        pieces[1].notches.extend([notch("armhole left", 50.0), notch("armhole right", near - 50.0)]);
        pieces[2].notches.extend([notch("cap", 60.0), notch("cap", near + deep - 50.0)]);
        let found = walked(&said, &pieces);
        for j in &found[..2] {
            assert!(j.cap && j.walked.ends_known, "{kept}: {:?}", j.walked);
            let lengths: Vec<[f64; 2]> = j.walked.sections.iter().map(|s| s.lengths).collect();
            let mut own: Vec<f64> = lengths.iter().map(|l| l[0]).collect();
            assert!(lengths.iter().all(|l| (l[0] - l[1]).abs() < 1e-6), "{kept}: {lengths:?}");
            own.sort_by(f64::total_cmp);
            assert!((own[0] - 50.0).abs() < 1e-6 && (own[1] - 60.0).abs() < 1e-6, "{kept}: {lengths:?}");
            // Across the ends lie the sleeve's underarm seam and the body's side.
            let across: Vec<[&str; 2]> = j.walked.across.iter().map(|x| x.edges.each_ref().map(String::as_str)).collect();
            assert!(across.iter().all(|e| e[0].starts_with("underarm seam") && e[1].starts_with("side")), "{kept}: {across:?}");
        }
        for (j, side) in found[2..4].iter().zip(["left", "right"]) {
            assert!(j.walked.ends_known && j.difference().abs() < 1e-6, "{kept}");
            let corners: Vec<&str> = j.walked.across.iter().map(|x| x.corner.as_str()).collect();
            assert!(
                corners.contains(&format!("underarm {side}").as_str()) && corners.contains(&format!("hem {side}").as_str()),
                "{corners:?}"
            );
            let edges: Vec<[String; 2]> = j.walked.across.iter().map(|x| x.edges.clone()).collect();
            assert!(edges.iter().any(|e| e.iter().all(|e| *e == format!("armhole {side}"))), "{kept}: {edges:?}");
        }
        assert!(found[4].walked.ends_known && found[4].walked.across.iter().any(|x| x.edges.iter().all(|e| e == "neckline")), "{kept}");
    }
}

/// Two armholes that meet at both their ends are a ring: it is opened at the underarm, in whatever order they are named.
#[test]
fn an_armhole_is_opened_at_the_underarm() {
    for order in ["front: armhole left + back: armhole left", "back: armhole left + front: armhole left"] {
        let said = said("", &format!("[[join]]\nedges = [\"sleeve: cap\", \"{order}\"]\n"));
        let pieces = garment(&said, [400.0; 2], false, 400.0);
        let found = walked(&said, &pieces).remove(0);
        assert!(found.walked.ends_known, "{order}");
        assert!(found.walked.across.iter().all(|x| x.edges[1] == "side left"), "{order}: {:?}", found.walked.across);
    }
}

/// Where names tell nothing of a sleeve's ends, `meet` does, for a half too, whichever side of it was kept; one that can't be obeyed is refused.
#[test]
fn meet_is_obeyed_or_refused() {
    let nameless = |name: &str| name.replace(" front", " x").replace(" back", " y");
    for kept in KEPT {
        for (corner, front_first) in [("underarm x", true), ("underarm y", false)] {
            let join = format!(
                "[[join]]\nedges = [\"sleeve: cap\", \"front: armhole left + back: armhole left\"]\nmeet = [\"sleeve: {corner}\", \"front: underarm left\"]\n"
            );
            let said = said(kept, &join);
            let mut pieces = garment(&said, [400.0; 2], true, 400.0);
            let mut layer = sleeve(400.0);
            layer.corners.iter_mut().for_each(|c| c.name = nameless(&c.name));
            pieces[2] = Piece::new("sleeve", layer);
            pieces[1].notches.push(notch("armhole left", 50.0));
            // Of the cap the notch is 50 mm from the end that lies at the back.
            pieces[2].notches.push(notch("cap", if front_first { 350.0 } else { 50.0 }));
            let found = walked(&said, &pieces).remove(0);
            assert!(found.walked.ends_known, "{kept} {corner}");
            let ends: Vec<f64> = found.walked.sections.iter().map(|s| s.lengths[0].min(s.lengths[1])).collect();
            assert!(ends.iter().any(|e| (e - 50.0).abs() < 1e-6), "{kept} {corner}: {:?}", found.walked.sections);
        }
    }
    let said =
        said("", "[[join]]\nedges = [\"front: side left\", \"back: side left\"]\nmeet = [\"front: neck left\", \"back: hem left\"]\n");
    let pieces = garment(&said, [400.0; 2], false, 400.0);
    let why = joins(&said, &pieces).remove(0).expect_err("no end of it").to_string();
    assert!(why.contains("front: neck left") && why.contains("\"front: hem left\"") && why.lines().count() == 1, "{why}");
}

/// A front's sides of 404 mm against a back's of 400 and 401: the half gives once for both, every seam is true, and the written file is walked with the
/// same result.
#[test]
fn a_half_is_shared_for_both_its_sides() {
    let fold = "cut = \"1, place on fold\"\nkeep = \"left\"";
    let text = |kept: &str| format!("[piece.front]\nkind = \"body front\"\n{kept}\n{JOINS}");
    for (kept, right) in [(fold, 400.0), (fold, 401.0), ("cut = \"1, place on fold\"\nkeep = \"right\"", 402.0), ("", 401.0)] {
        let said = notes(&text(kept));
        let mut pieces = garment(&said, [404.0, 400.0], false, 390.0);
        // The back's right side, longer by lengthening it at its hem.
        let k = pieces[1].drafted().edge("side right").expect("there");
        let layer = ruboff::piece::lengthened(pieces[1].drafted(), k, true, right - 400.0).expect("longer").0;
        pieces[1] = Piece::new("back", layer);
        // 100 mm below the underarm on every side; the back's left runs up.
        for name in ["side left", "side right"] {
            let own = pieces[0].drafted();
            let down = |k: usize| if own.corners[k].name.contains("underarm") { 100.0 } else { own.edges[k].length() - 100.0 };
            if let Some(at) = own.edge(name).map(down) {
                pieces[0].notches.push(notch(name, at));
            }
        }
        pieces[1].notches.extend([notch("side left", 300.0), notch("side right", 101.0)]);
        let before = joins(&said, &pieces);
        let told = shared(&said, &mut pieces.iter_mut().collect::<Vec<_>>(), &before);
        assert_eq!(told.len(), 2, "{told:?}");
        let moved: Vec<_> = told.iter().map(|t| t.as_ref().expect("shared")).collect();
        if !kept.is_empty() {
            // The same edge in both: half of the mean of 4 mm and what the other is off.
            assert_eq!(moved[0].moved[0], moved[1].moved[0]);
            assert!(moved[0].moved[0].both_sides && (moved[0].moved[0].by + (4.0 + 404.0 - right) / 4.0).abs() < 1e-6, "{moved:?}");
        }
        let after = walked(&said, &pieces);
        for j in &after[2..4] {
            assert!(j.difference().abs() < 0.01 && j.good(), "{kept} {right}: {j:?}");
            assert!(j.walked.sections.iter().all(|s| (s.lengths[0] - s.lengths[1]).abs() < 0.01), "{:?}", j.walked.sections);
        }
        // Written, read, walked again.
        let file = drafted_text(&pieces.iter().collect::<Vec<_>>(), &as_written(&text(kept)));
        let record = DraftedRecord::from_text(&file).expect("a record");
        let again = joins(&record.noted().expect("notes"), &record.recalled().expect("pieces"));
        for (a, b) in after.iter().zip(&again) {
            let b = b.as_ref().expect("walked");
            assert_eq!(
                (a.verdict, a.good(), a.walked.notches, a.walked.ends_known),
                (b.verdict, b.good(), b.walked.notches, b.walked.ends_known)
            );
            assert!((0..2).all(|k| (a.walked.lengths[k] - b.walked.lengths[k]).abs() < 0.01));
            assert!((a.walked.known_to - b.walked.known_to).abs() < 1e-3);
        }
    }
}

/// A join of the same edge that is true stays so; two that contradict one another are told.
#[test]
fn true_seams_of_a_shared_edge_stay_true() {
    let fold = "cut = \"1, place on fold\"\nkeep = \"left\"";
    let said = said(fold, JOINS);
    let mut pieces = garment(&said, [404.0, 400.0], false, 390.0);
    let k = pieces[1].drafted().edge("side right").expect("there");
    let layer = ruboff::piece::lengthened(pieces[1].drafted(), k, true, 4.0).expect("longer").0;
    pieces[1] = Piece::new("back", layer);
    let before = joins(&said, &pieces);
    let told = shared(&said, &mut pieces.iter_mut().collect::<Vec<_>>(), &before);
    assert!(told.len() == 1 && told[0].is_ok(), "{told:?}");
    let after = walked(&said, &pieces);
    assert!(
        after[2].difference().abs() < 0.01 && after[3].difference().abs() < 0.01,
        "{} {}",
        after[2].difference(),
        after[3].difference()
    );
    let twice = notes(
        "[[join]]\nedges = [\"front: side left\", \"back: side left\"]\n[[join]]\nedges = [\"front: side left\", \"back: side left\"]\nease = \"2 mm\"\n",
    );
    let mut pieces = [("front", body(true, 404.0, false)), ("back", body(false, 400.0, false))].map(|(n, l)| Piece::new(n, l));
    let before = joins(&twice, &pieces);
    let told = shared(&twice, &mut pieces.iter_mut().collect::<Vec<_>>(), &before);
    assert!(matches!(told[..], [Err(NotShared::Against { .. }), Err(NotShared::Against { .. })]), "{told:?}");
}

/// A notch proposed on a half is on both its sides, and a cap's in both armholes: what they are sewn to has one each, and nothing has two.
#[test]
fn proposed_notches_of_a_half_are_answered_on_both_sides() {
    for kept in KEPT {
        let said = said(kept, JOINS);
        let mut pieces = garment(&said, [400.0; 2], false, 390.0);
        match_notches(&said, &mut pieces.iter_mut().collect::<Vec<_>>(), &[None; 3]);
        for j in walked(&said, &pieces) {
            let n = j.walked.notches;
            // A cap has one more, where front and back armhole meet.
            assert!(
                if j.cap { n == [3, 2] } else { n[0] == n[1] && n[0] == usize::from(j.walked.lengths[0] > 100.0) },
                "{kept}: {:?} {n:?}",
                j.sides
            );
            assert!(j.cap || j.walked.sections.iter().all(|s| (s.lengths[0] - s.lengths[1]).abs() < 1e-6));
        }
        if !kept.is_empty() {
            let own: Vec<_> = pieces[0].notches.iter().filter(|n| n.edge.starts_with("side")).collect();
            assert!(own.len() == 1 && own[0].answers.as_deref() == Some("back: side left and back: side right"), "{own:?}");
        }
    }
}

/// Half a hem of 200 mm on the fold is walked as 400 against its band, with a notch on either side of its dart and their mirror images, whether the dart was
/// opened or not and whichever way the half lies. Shared, it gives half of what is off, for it is sewn twice.
#[test]
fn what_a_dart_parts_is_walked_on_both_sides_of_the_fold() {
    for (open, flip) in [(false, false), (true, false), (false, true), (true, true)] {
        let x = if flip { -110.0 } else { 110.0 };
        let text = format!(
            "[piece.front]\ncut = \"1, place on fold\"\nfold = \"centre\"\nopen = {open}\n[piece.front.grain]\nalong = \"centre\"\n\
            [[piece.front.dart]]\nname = \"waist dart\"\nlegs = [{{ edge = \"hem\", at = \"90 mm\", from = \"hem side\" }}]\n\
            point = {{ mm = [\"{x} mm\", \"400 mm\"] }}\nintake = \"24 mm\"\n\
            [[piece.front.notch]]\nedge = \"hem\"\nat = \"30 mm\"\nfrom = \"hem side\"\n\
            [[piece.front.notch]]\nedge = \"hem\"\nat = \"150 mm\"\nfrom = \"hem side\"\n\
            [[join]]\nedges = [\"front: hem\", \"band: edge\"]\n"
        );
        let said = notes(&text);
        let half = half_front().mapped(if flip { Affine::FLIP_X } else { Affine::IDENTITY });
        let mut made = draft("front", &half, &said);
        assert!(made.undone.iter().all(|u| u.starts_with("the dart was opened")), "{:?}", made.undone);
        assert_eq!(made.piece.edges_of("hem").0.len(), if open { 2 } else { 1 });
        let long = lines(&[("a", "edge", [0.0, 0.0]), ("b", "x", [404.0, 0.0]), ("c", "y", [404.0, 40.0]), ("d", "z", [0.0, 40.0])]);
        let found = walked(&said, &[made.piece.clone(), Piece::new("band", long.clone())]).remove(0);
        assert!((found.walked.lengths[0] - 400.0).abs() < 1e-6, "{open} {flip}: {:?}", found.walked);
        assert_eq!(found.walked.notches[0], 4);
        let mut band = Piece::new("band", long);
        band.notches.extend([30.0, 150.0, 250.0, 370.0].map(|at| notch("edge", at)));
        let own = walked(&said, &[made.piece.clone(), band.clone()]).remove(0);
        let sections: Vec<f64> = own.walked.sections.iter().map(|s| s.lengths[0]).collect();
        assert!(sections.iter().zip([30.0, 120.0, 100.0, 120.0, 30.0]).all(|(s, w)| (s - w).abs() < 1e-6), "{open} {flip}: {sections:?}");
        let before = joins(&said, &[made.piece.clone(), band.clone()]);
        let told = shared(&said, &mut [&mut made.piece, &mut band], &before);
        let told = told[0].as_ref().expect("shared");
        assert!((told.moved[0].by - 1.0).abs() < 1e-6, "{open} {flip}: {told:?}");
        assert!(walked(&said, &[made.piece, band])[0].difference().abs() < 0.01);
    }
}

/// A whole front whose left armhole alone is shared with the back's, 4 mm: its underarm slides along the armhole, which makes its side shorter by as much as that
/// goes down, and its right armhole stays.
#[test]
fn what_else_a_share_changes_is_told() {
    let said = said("", "[[join]]\nedges = [\"front: armhole left\", \"back: armhole left\"]\nease = \"13.65 mm\"\n");
    let mut pieces = garment(&said, [400.0; 2], true, 400.0);
    let before = joins(&said, &pieces);
    let told = shared(&said, &mut pieces.iter_mut().collect::<Vec<_>>(), &before);
    let moved = &told[0].as_ref().expect("shared").moved;
    let side = moved[0].others.iter().find(|(name, _)| name == "side left").expect("the side").1;
    let down = moved[0].by * 190.0 / 50f64.hypot(190.0);
    assert!((side[0] - 400.0).abs() < 1e-6 && (side[1] - side[0] + down).abs() < 0.05, "{side:?} {moved:?}");
    assert!(moved.iter().all(|m| m.other_side.as_deref() == Some("armhole right")), "{moved:?}");
}

/// Of half a front laid open the dart and the notch of the notes lie on both halves; on the fold they stand for both.
#[test]
fn what_is_noted_on_a_half_is_on_both() {
    for (cut, count) in [("1", 2), ("1, place on fold", 1)] {
        let said = notes(&format!(
            "[piece.front]\ncut = \"{cut}\"\nfold = \"centre\"\n[[piece.front.dart]]\nname = \"bust\"\nlegs = [{{ edge = \"side\", at = \"100 mm\" }}]\n\
            point = {{ mm = [\"90 mm\", \"300 mm\"] }}\nintake = \"22 mm\"\n[[piece.front.notch]]\nedge = \"side\"\nat = \"150 mm\"\n"
        ));
        let front = draft("front", &half_front(), &said);
        assert!(front.undone.is_empty(), "{:?}", front.undone);
        assert_eq!((front.piece.notches.len(), front.notes.map_or(0, |n| n.darts.len())), (count, count));
    }
}

/// The same by the program: shared, written, and walked from what was written alone.
#[test]
fn what_share_writes_is_true_by_itself() {
    let folder = tempfile::tempdir().expect("a folder");
    let sides = ["left", "right"].map(|side| format!("[[join]]\nedges = [\"front: side {side}\", \"back: side {side}\"]\n")).concat();
    let text = format!("[piece.front]\nkind = \"body front\"\ncut = \"1, place on fold\"\nkeep = \"left\"\n{sides}");
    let said = notes(&text);
    let pieces = garment(&said, [404.0, 400.0], false, 390.0);
    let file = |name: &str| folder.path().join(name);
    std::fs::write(file("drafted.json"), drafted_text(&pieces.iter().collect::<Vec<_>>(), &as_written(&text))).expect("written");
    let run = |words: &[&str]| {
        let out =
            Command::cargo_bin("ruboff").expect("built").current_dir(folder.path()).arg("true").args(words).output().expect("it runs");
        (out.status.code(), String::from_utf8_lossy(&out.stdout).into_owned() + &String::from_utf8_lossy(&out.stderr))
    };
    let (code, told) = run(&["drafted.json"]);
    assert!(code == Some(1) && told.contains("off by +4.0 mm"), "{told}");
    let (code, told) = run(&["drafted.json", "--share", "--out", "shared.json"]);
    assert!(code == Some(0) && told.contains("side left of front -2.00 mm on either side of the fold"), "{told}");
    let (code, told) = run(&["shared.json"]);
    assert_eq!(code, Some(0), "{told}");
    assert!(told.lines().filter(|l| l.starts_with("front: s")).all(|l| l.contains("true within")), "{told}");
}
