//! Text to notes: read as TOML, then checked for what TOML can't know.

use super::in_line::{PieceLines, Places};
use super::pictures::{self, ShotTable};
use super::pieces::{self, PieceTable};
use super::{Correction, Fault, Garment, Join, Notes, Tape, alike};
use serde::Deserialize;
use std::collections::BTreeMap;
use toml::Spanned;

#[derive(Deserialize, Default)]
#[serde(deny_unknown_fields, default)]
struct File {
    garment: Option<Spanned<Garment>>,
    shot: Vec<ShotTable>,
    piece: BTreeMap<String, Spanned<PieceTable>>,
    join: Vec<Spanned<Join>>,
    tape: Vec<Tape>,
    change: Vec<Spanned<Correction>>,
}

/// Reads and checks notes.
pub(super) fn notes(text: &str) -> Result<Notes, Fault> {
    let file: File = toml::from_str(text).map_err(|e| Fault::of_toml(text, &e))?;
    let places = Places::of(text);
    let garment = file.garment.map_or(Ok(Garment::default()), |g| garment(text, &places, g))?;
    pictures::each_once(text, &file.shot)?;
    let shots = file.shot.into_iter().map(|s| pictures::shot(text, s, garment.fragile)).collect::<Result<_, _>>()?;
    let mut names: Vec<&String> = Vec::new();
    for name in file.piece.keys() {
        if let Some(other) = names.iter().find(|n| alike(n, name)) {
            let words = format!("the piece \"{name}\" has another table as \"{other}\"; put what is known of it into one");
            return Err(Fault::at(text, places.byte(&["piece", name]).unwrap_or(0), words));
        }
        names.push(name);
    }
    let piece = |(name, table): (String, _)| {
        let piece = pieces::piece(text, (&name, &places), table)?;
        Ok((name, piece))
    };
    let pieces = file.piece.into_iter().map(piece).collect::<Result<BTreeMap<_, _>, Fault>>()?;
    let lines = places.each(&["join"]);
    let join = |(k, j): (usize, Spanned<Join>)| match j.get_ref().wrong(&pieces) {
        Some(words) => Err(Fault::at(text, j.span().start, words)),
        None => Ok(Join { line: PieceLines::of(&lines, k), ..j.into_inner() }),
    };
    let joins = file.join.into_iter().enumerate().map(join).collect::<Result<_, _>>()?;
    let lines = places.each(&["change"]);
    let change = |(k, c): (usize, Spanned<Correction>)| match c.get_ref().wrong() {
        Some(words) => Err(Fault::at(text, c.span().start, words)),
        None => Ok(Correction { line: PieceLines::of(&lines, k), ..c.into_inner() }),
    };
    let changes = file.change.into_iter().enumerate().map(change).collect::<Result<_, Fault>>()?;
    let lines = places.each(&["tape"]);
    let tapes = file.tape.into_iter().enumerate().map(|(k, t)| Tape { line: PieceLines::of(&lines, k), ..t }).collect();
    Ok(Notes { garment, shots, pieces, joins, tapes, changes })
}

fn garment(text: &str, places: &Places, table: Spanned<Garment>) -> Result<Garment, Fault> {
    let byte = table.span().start;
    let garment = table.into_inner();
    if let (Some(earliest), Some(latest)) = (&garment.date_earliest, &garment.date_latest)
        && latest.before(earliest)
    {
        let words = format!("date_earliest {} comes after date_latest {}; change them round", earliest.text(), latest.text());
        return Err(Fault::at(text, byte, words));
    }
    pieces::directions(text, |key| places.byte(&["garment", key]).unwrap_or(byte), &garment.stretch, &garment.shrinkage)?;
    Ok(garment)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::length::{Length, Px};
    use crate::notes::{ClothSide, EdgeIs, Line, Place, Up};

    const WHOLE: &str = r#"# taken before the remake
[garment]
name = "Pip's waistcoat"
number = "W 12/3"
fragile = true
[garment.more]
role = "second gravedigger"

[[shot]]
picture = "front.jpg"
piece = "front"
side = "inside out"
up = "front"
sheet = "inch-lines"
thickness = "1.5 mm"
under = "tissue"
[[shot.at]]
px = [102, 88.5]
mm = ["0 mm", "17 cm"]
[[shot.corner]]
name = "shoulder tip left"
px = [980, 411.5]
[[shot.corner]]
name = "underarm left"
mm = ["312 mm", "-1/2 in"]
[[shot.edge]]
from = "shoulder tip left"
to = "underarm left"
line = "seam"
is = "bound edge"

[piece.front]
cut = "1, place on fold"
allowance = { all = "6 mm", hem = "25 mm" }

[[join]]
edges = ["front: side left", "back: side left"]
ease = "-2 mm"
"#;

    #[test]
    fn all_of_it() {
        let notes = notes(WHOLE).unwrap_or_else(|e| panic!("{e}"));
        assert_eq!(notes.garment.name.as_deref(), Some("Pip's waistcoat"));
        assert!(notes.garment.fragile);
        let shot = &notes.shots[0];
        assert_eq!((shot.side, shot.up), (Some(ClothSide::InsideOut), Some(Up::Front)));
        assert_eq!(shot.at, [(Px::new(102.0, 88.5), [Length::from_mm(0.0), Length::from_mm(170.0)])]);
        assert_eq!(shot.corners[0].at, Place::Px(Px::new(980.0, 411.5)));
        assert_eq!(shot.corners[1].at, Place::Mm([Length::from_mm(312.0), Length::from_mm(-12.7)]));
        assert_eq!(shot.edges[0].line, Some(Line::Seam));
        assert_eq!((shot.edges[0].is, shot.wrong_side_up()), (Some(EdgeIs::BoundEdge), Some(true)));
        assert_eq!(notes.pieces["front"].allowance["hem"].mm(), 25.0);
        assert_eq!(notes.joins[0].ease, Some(Length::from_mm(-2.0)));
        assert_eq!(super::notes(""), Ok(Notes::default()));
        let twice = WHOLE.replacen("[piece.front]", "[[shot]]\npicture = \"front.jpg\"\n[piece.front]", 1);
        let e = super::notes(&twice).expect_err("two tables of one picture");
        assert!(e.words.contains("front.jpg has two [[shot]] tables") && e.line == 33, "{e}");
    }

    /// One change to good notes, the line it is in, and a word the message must hold.
    #[test]
    fn faults_name_their_line() {
        let cases = [
            ("fragile = true", "fragil = true", 5, "there is no"),
            ("\"front.jpg\"", "\"../../etc/passwd\"", 10, "outside the garment's folder"),
            ("\"front.jpg\"", "\"/etc/passwd\"", 10, "outside the garment's folder"),
            ("\"inch-lines\"", "'..\\own.toml'", 14, "outside the garment's folder"),
            ("fragile = true", "fragile = \"yes\"", 5, "true or false"),
            ("thickness = \"1.5 mm\"", "thickness = \"1.5\"", 15, "no unit"),
            ("thickness = \"1.5 mm\"", "thickness = 1.5", 15, "no unit"),
            ("thickness = \"1.5 mm\"", "thickness = \"-1.5 mm\"", 15, "0 mm or more"),
            ("sheet = \"inch-lines\"", "pitch = \"0 in\"", 14, "more than 0"),
            ("name = \"underarm left\"", "name = \"shoulder tip left\"", 24, "two corners"),
            ("name = \"underarm left\"", "name = \"Shoulder-Tip left\"", 24, "two corners"),
            ("to = \"underarm left\"", "to = \"underarm right\"", 28, "no corner"),
            ("px = [980, 411.5]", "px = [980]", 22, "not of 1"),
            ("px = [980, 411.5]", "px = [980, 411.5, 3]", 22, "not of 3"),
            ("mm = [\"0 mm\", \"17 cm\"]", "mm = [\"0 mm\", \"17 cm\", \"1 mm\"]", 19, "not of 3"),
            ("\"back: side left\"]", "\"back: side left\", \"back: hem\"]", 37, "not of 3"),
            ("\"back: side left\"]", "\"Front:  side left\"]", 36, "front: side left is sewn to itself"),
            ("is = \"bound edge\"", "is = \"pretty edge\"", 30, "bound edge"),
            ("px = [980, 411.5]", "px = [nan, 2]", 22, "plain numbers"),
            ("px = [980, 411.5]", "", 21, "no place"),
            ("px = [980, 411.5]", "px = [980, 411.5]\nmm = [\"1 mm\", \"1 mm\"]", 21, "two places"),
            ("mm = [\"312 mm\", \"-1/2 in\"]", "mm = [\"312 px\", \"1 in\"]", 25, "unit"),
            ("side = \"inside out\"", "side = \"inside\"", 12, "inside"),
            ("line = \"seam\"", "line = seam", 29, ""),
            ("[piece.front]", "[piece.Front]\n[piece.front]", 33, "another table as \"Front\""),
            ("name = \"Pip's waistcoat\"", "name = \"Pip's waistcoat", 3, ""),
        ];
        for (good, bad, line, word) in cases {
            assert!(WHOLE.contains(good));
            let e = notes(&WHOLE.replacen(good, bad, 1)).expect_err(bad);
            assert_eq!(e.line, line, "{bad}: {e}");
            assert!(e.words.contains(word), "{bad}: {e}");
            assert!((15..=300).contains(&e.to_string().chars().count()), "{e}");
            assert_eq!(e.to_string().lines().count(), 1, "{e}");
        }
    }
}
