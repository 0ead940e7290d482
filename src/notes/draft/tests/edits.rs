//! Any changes one after another: comments stay, notes still read, a change and its reverse leave the meaning.

use super::*;

/// A change; the numbers in it choose pictures, names and places.
#[derive(Clone, Debug)]
enum Edit {
    Corner(usize, usize, f64),
    Round(usize, usize, bool),
    Rename(usize, usize, usize),
    DropCorner(usize, usize),
    Through(usize, f64),
    DropThrough(usize, usize),
    Inner(usize, bool, f64),
    DropInner(usize, usize),
    Region(usize, f64),
    DropRegion(usize, usize),
    Edge(usize, [usize; 2], usize, bool),
    Shot(usize, usize, bool),
    Centre(bool, f64),
    Notch(f64),
    DropNotch(usize),
    Tape(usize, bool, f64),
    DropTape(usize),
}

const PICTURES: [&str; 3] = ["a.jpg", "b.jpg", "c.jpg"];
const NAMES: [&str; 4] = ["neck", "hem", "cuff \"left\"", "ärmel"];
const EDGES: [(&str, &str); 4] = [("name", "side"), ("line", "fold"), ("is", "hem fold"), ("shape", "straight")];
const KEYS: [(&str, Word); 4] =
    [("thickness", Word::Text("1.5 mm")), ("sheet", Word::Text("lines")), ("pitch", Word::Text("1 in")), ("piece", Word::Text("back"))];

fn edits() -> impl Strategy<Value = Edit> {
    let (picture, name, at, some) = (0..3usize, 0..4usize, 0.0..4000.0f64, any::<bool>());
    prop_oneof![
        (picture.clone(), name.clone(), at.clone()).prop_map(|(p, n, v)| Edit::Corner(p, n, v)),
        (picture.clone(), name.clone(), some).prop_map(|(p, n, s)| Edit::Round(p, n, s)),
        (picture.clone(), name.clone(), name.clone()).prop_map(|(p, a, b)| Edit::Rename(p, a, b)),
        (picture.clone(), name.clone()).prop_map(|(p, n)| Edit::DropCorner(p, n)),
        (picture.clone(), at.clone()).prop_map(|(p, v)| Edit::Through(p, v)),
        (picture.clone(), 0..3usize).prop_map(|(p, n)| Edit::DropThrough(p, n)),
        (picture.clone(), some, at.clone()).prop_map(|(p, s, v)| Edit::Inner(p, s, v)),
        (picture.clone(), 0..3usize).prop_map(|(p, n)| Edit::DropInner(p, n)),
        (picture.clone(), at.clone()).prop_map(|(p, v)| Edit::Region(p, v)),
        (picture.clone(), 0..3usize).prop_map(|(p, n)| Edit::DropRegion(p, n)),
        (picture.clone(), name.clone(), name.clone(), 0..4usize, some).prop_map(|(p, a, b, k, s)| Edit::Edge(p, [a, b], k, s)),
        (picture, 0..4usize, some).prop_map(|(p, k, s)| Edit::Shot(p, k, s)),
        (some, at.clone()).prop_map(|(s, v)| Edit::Centre(s, v)),
        at.clone().prop_map(Edit::Notch),
        (0..3usize).prop_map(Edit::DropNotch),
        (0..3usize, some, at).prop_map(|(n, s, v)| Edit::Tape(n, s, v + 1.0)),
        (0..3usize).prop_map(Edit::DropTape),
    ]
}

fn make(d: &mut Draft, edit: &Edit) -> Result<(), Fault> {
    let px = |v: f64| Px::new(v, v / 2.0);
    match *edit {
        Edit::Corner(p, n, v) => d.set_corner(PICTURES[p], NAMES[n], Place::Px(px(v))),
        Edit::Round(p, n, round) => d.set_corner_is(PICTURES[p], NAMES[n], round, false),
        Edit::Rename(p, a, b) => d.rename_corner(PICTURES[p], NAMES[a], NAMES[b]),
        Edit::DropCorner(p, n) => d.remove_corner(PICTURES[p], NAMES[n]),
        Edit::Through(p, v) => d.add_through(PICTURES[p], Place::Px(px(v))),
        Edit::DropThrough(p, n) => d.remove_through(PICTURES[p], n),
        Edit::Inner(p, s, v) => d.add_inner(PICTURES[p], s.then_some("armhole"), &[px(v), px(v + 90.0)]),
        Edit::DropInner(p, n) => d.remove_inner(PICTURES[p], n),
        Edit::Region(p, v) => d.add_region(PICTURES[p], Belongs::LeftOut, &[px(v), Px::new(v + 40.0, v), Px::new(v + 40.0, v + 80.0)]),
        Edit::DropRegion(p, n) => d.remove_region(PICTURES[p], n),
        Edit::Edge(p, [a, b], k, s) => d.set_edge(PICTURES[p], [NAMES[a], NAMES[b]], EDGES[k].0, s.then_some(EDGES[k].1)),
        Edit::Shot(p, k, s) => d.set_shot(PICTURES[p], KEYS[k].0, s.then_some(KEYS[k].1)),
        Edit::Centre(s, v) => d.set_centre("front", s.then_some(&[Spot::Px(px(v)), Spot::Named("neck".into())])),
        Edit::Notch(v) => d.add_notch("front", &notch(v)),
        Edit::DropNotch(n) => d.remove_notch("front", n),
        Edit::Tape(n, round, v) => d.set_tape(&tape(["chest", "waist", "length"][n], round, v), &Length::from_mm(v).to_string()),
        Edit::DropTape(n) => d.remove_tape(n),
    }
}

fn notch(v: f64) -> Notch {
    Notch {
        edge: "side".into(),
        at: Length::from_mm((v * 10.0).round() / 10.0),
        from: None,
        count: None,
        style: Some(NotchStyle::V),
        once: false,
    }
}

proptest! {
    /// Whatever is changed in whatever order, the notes read and no comment that tells of more than what was taken away is lost. A change
    /// that is refused changes nothing.
    #[test]
    fn changes_keep_comments_and_leave_notes_that_read(base in 0..4usize, all in prop::collection::vec(edits(), 1..14), dos in any::<bool>()) {
        let text = [LINES, INLINE, JOINED, ""][base];
        let text = if dos { text.replace('\n', "\r\n") } else { text.to_owned() };
        let mut d = draft(&text);
        for edit in &all {
            let before = d.text();
            if make(&mut d, edit).is_err() {
                prop_assert_eq!(d.text(), before);
            }
        }
        let after = d.text();
        prop_assert!(Notes::from_text(&after).is_ok(), "{after}");
        for n in (1..=10).map(|n| format!("# keep {n}")).filter(|k| text.contains(k)) {
            prop_assert_eq!(after.matches(&n).count(), text.matches(&n).count(), "{} in\n{}", n, after);
        }
        // What was written can be taken up again.
        prop_assert_eq!(draft(&after).text(), after.clone());
        prop_assert!(!dos || base == 3 || !after.replace("\r\n", "").contains('\n'));
    }

    /// A change and its reverse leave the meaning as it was.
    #[test]
    fn a_change_and_its_reverse_leave_the_meaning(base in 0..3usize, p in 0..2usize, k in 0..4usize, v in 0.0..4000.0f64) {
        let text = [LINES, INLINE, JOINED][base];
        let (was, picture) = (Notes::from_text(text).expect("good"), PICTURES[p]);
        // A table of a piece in which nothing stands says nothing.
        let meaning = |d: &Draft| {
            let mut notes = d.notes().expect("good");
            notes.pieces.retain(|_, piece| *piece != crate::notes::PieceNotes::default());
            notes
        };
        let shot = |notes: &Notes| notes.shots.iter().find(|s| s.picture.as_deref() == Some(picture) || s.pictures.iter().any(|q| q == picture)).cloned();
        let own = shot(&was).expect("told of");
        let mut d = draft(text);
        let both = |d: &mut Draft, there: Edit, back: Edit| {
            make(d, &there).unwrap_or_else(|e| panic!("{there:?}: {e}"));
            assert_ne!(meaning(d), was, "{there:?}");
            make(d, &back).unwrap_or_else(|e| panic!("{back:?}: {e}"));
            assert_eq!(meaning(d), was, "{there:?}\n{}", d.text());
        };
        both(&mut d, Edit::Corner(p, 2, v), Edit::DropCorner(p, 2));
        both(&mut d, Edit::Through(p, v), Edit::DropThrough(p, own.through.len()));
        both(&mut d, Edit::Inner(p, k % 2 == 0, v), Edit::DropInner(p, own.inner.len()));
        both(&mut d, Edit::Region(p, v), Edit::DropRegion(p, own.regions.len()));
        both(&mut d, Edit::Notch(v), Edit::DropNotch(was.pieces.get("front").map_or(0, |f| f.notches.len())));
        both(&mut d, Edit::Tape(k % 3, v > 2000.0, v + 1.0), Edit::DropTape(0));
        if k < 3 {
            both(&mut d, Edit::Shot(p, k, true), Edit::Shot(p, k, false));
        }
        if own.corners.len() > 1 {
            both(&mut d, Edit::Edge(p, [0, 1], k, true), Edit::Edge(p, [1, 0], k, false));
        }
        if !own.corners.is_empty() {
            both(&mut d, Edit::Rename(p, 0, 3), Edit::Rename(p, 3, 0));
            both(&mut d, Edit::Round(p, 0, true), Edit::Round(p, 0, false));
        }
    }
}
