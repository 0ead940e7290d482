//! Garment notes: faults have words and a line; good notes are changed without losing a comment, and are good afterwards.

use ruboff::length::{Length, Px};
use ruboff::notes::{Belongs, Draft, Fault, Notch, Notes, Place, Spot, Tape, Word};

/// A change of notes.
type Change<'a> = &'a dyn Fn(&mut Draft) -> Result<(), Fault>;

/// # Panics
/// A property does not hold.
pub fn read(bytes: &[u8]) {
    let Ok(text) = std::str::from_utf8(bytes) else { return };
    let notes = match Notes::from_text(text) {
        Ok(notes) => notes,
        Err(e) => {
            let words = e.to_string();
            assert!((10..=290).contains(&words.chars().count()) && !words.contains('\n'), "{words}");
            assert!(e.line <= text.split('\n').count(), "{words}");
            assert!(Draft::from_text(text).is_err());
            return;
        }
    };
    let draft = Draft::from_text(text).unwrap_or_else(|e| panic!("good notes could not be taken up, {e}"));
    assert_eq!(draft.text(), text, "nothing was changed");
    added(&draft, text);
    renamed(&draft, &notes);
    taken_away(&draft, &notes);
}

/// Lines that are comments by themselves; none where a text of several lines might hold what only looks like one.
fn comments(text: &str) -> Vec<&str> {
    if text.contains("\"\"\"") || text.contains("'''") {
        return Vec::new();
    }
    let mut all: Vec<&str> = text.lines().map(str::trim).filter(|l| l.starts_with('#')).collect();
    all.sort_unstable();
    all
}

/// Makes a change, or sees that nothing was changed where it is refused; what there is then can be read and changed again.
fn changed(draft: &mut Draft, change: Change) -> bool {
    let before = draft.text();
    let done = change(draft).is_ok();
    assert!(done || draft.text() == before, "refused, but changed");
    draft.notes().unwrap_or_else(|e| panic!("a change spoilt the notes, {e}: {}", draft.text()));
    done
}

/// What is put in leaves every comment where it was.
fn added(draft: &Draft, text: &str) {
    let px = |x, y| Px::new(x, y);
    let border = [px(1.0, 1.0), px(90.0, 1.0), px(90.0, 80.0)];
    let tape = Tape {
        what: "chest".into(),
        reading: Length::from_mm(486.0),
        piece: None,
        round: false,
        by: Some("Wren".into()),
        on: Some("1926-05-17".into()),
        remarks: None,
        line: ruboff::notes::InLine::default(),
    };
    let notch = Notch { edge: "hem".into(), at: "100 mm".parse().expect("a length"), from: None, count: Some(2), style: None, once: false };
    let changes: [Change; 9] = [
        &|d| d.set_garment("name", Some("coat")),
        &|d| d.set_shot("front.jpg", "thickness", Some(Word::Text("1.5 mm"))),
        &|d| d.set_corner("front.jpg", "one", Place::Px(px(1.0, 2.0))),
        &|d| d.set_corner("front.jpg", "two", Place::Mm([Length::from_mm(40.0), Length::from_mm(-2.0)])),
        &|d| d.add_through("front.jpg", Place::Px(px(20.0, 20.04))),
        &|d| d.add_inner("front.jpg", Some("dart"), &[px(4.0, 4.0), px(9.0, 50.0)]),
        &|d| d.add_region("front.jpg", Belongs::Kept, &border),
        &|d| d.set_edge("front.jpg", ["one", "two"], "name", Some("hem")),
        &|d| d.set_tape(&tape, "19 1/8 in"),
    ];
    let mut draft = draft.clone();
    for change in changes {
        changed(&mut draft, change);
    }
    changed(&mut draft, &|d| d.add_notch("front", &notch));
    let centre = [Spot::Named("one".into()), Spot::Mm([Length::ZERO, Length::from_mm(-12.5)])];
    changed(&mut draft, &|d| d.set_centre("front", Some(&centre)));
    let now = draft.text();
    let (before, after) = (comments(text), comments(&now));
    assert!(before.iter().all(|c| after.contains(c)), "a comment is lost: {text}\n---\n{now}");
}

/// What is called otherwise is told as it was.
fn renamed(draft: &Draft, notes: &Notes) {
    let mut draft = draft.clone();
    for shot in &notes.shots {
        let picture = shot.picture.as_deref().unwrap_or("front.jpg");
        for corner in &shot.corners {
            changed(&mut draft, &|d| d.rename_corner(picture, &corner.name, "another"));
            changed(&mut draft, &|d| d.rename_corner(picture, "another", &corner.name));
        }
    }
    for piece in notes.pieces.keys() {
        let mut draft = draft.clone();
        changed(&mut draft, &|d| d.rename_edge(piece, "hem", "lower edge"));
        if changed(&mut draft, &|d| d.rename_pieces(&[(piece.clone(), Some("another".to_owned()))])) {
            assert_eq!(draft.notes().map(|n| n.pieces.len()).ok(), Some(notes.pieces.len()));
        }
        changed(&mut draft, &|d| d.rename_pieces(&[("another".to_owned(), None)]));
    }
}

/// Everything is taken away, one by one.
fn taken_away(draft: &Draft, notes: &Notes) {
    let mut draft = draft.clone();
    for shot in &notes.shots {
        let picture = shot.picture.as_deref().unwrap_or("front.jpg");
        for _ in 0..shot.through.len() {
            changed(&mut draft, &|d| d.remove_through(picture, 0));
        }
        for _ in 0..shot.inner.len() {
            changed(&mut draft, &|d| d.remove_inner(picture, 0));
        }
        for _ in 0..shot.regions.len() {
            changed(&mut draft, &|d| d.remove_region(picture, 0));
        }
        for edge in &shot.edges {
            let ends = [edge.from.as_str(), edge.to.as_str()];
            for key in ["name", "line", "is", "shape"] {
                changed(&mut draft, &|d| d.set_edge(picture, ends, key, None));
            }
        }
        for corner in &shot.corners {
            changed(&mut draft, &|d| d.remove_corner(picture, &corner.name));
        }
    }
    for _ in 0..notes.tapes.len() {
        changed(&mut draft, &|d| d.remove_tape(0));
    }
    changed(&mut draft, &|d| d.set_garment("name", None));
}
