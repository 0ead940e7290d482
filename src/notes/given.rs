//! Places, marks laid by hand and hints: from their tables, checked for what can be known without the picture.

use super::values::Two;
use super::{Belongs, Counted, Fault, InnerNotes, MarkColour, MarkKind, MarkName, MarksNotes, Place, RegionNotes};
use crate::length::{Length, Px};
use serde::Deserialize;
use toml::Spanned;

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct MarksTable {
    are: Spanned<MarkKind>,
    colour: Option<MarkColour>,
    #[serde(default)]
    counted: Counted,
    #[serde(default)]
    names: Vec<Spanned<String>>,
}

/// One place, in one of three ways.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct PlaceTable {
    px: Option<Spanned<Px>>,
    mm: Option<Spanned<Two<Length>>>,
    mark: Option<Spanned<MarkName>>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct InnerTable {
    name: Option<String>,
    px: Option<Spanned<Vec<Px>>>,
    mm: Option<Spanned<Vec<Two<Length>>>>,
    mark: Option<Spanned<Vec<MarkName>>>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct RegionTable {
    is: Belongs,
    px: Option<Spanned<Vec<Px>>>,
    mm: Option<Spanned<Vec<Two<Length>>>>,
    mark: Option<Spanned<Vec<MarkName>>>,
}

/// The text of the notes, and the marks a place may name.
pub(super) struct Names<'a> {
    pub text: &'a str,
    pub marks: Vec<String>,
    /// Whether there are any marks at all.
    pub any: bool,
}

/// The words for a place that has none, or more than one.
const NO_PLACE: &str = "has no place; say px = [1204, 1730], or mm = [\"312 mm\", \"455 mm\"] on a coded sheet, or mark = \"a name\"";
const TWO_PLACES: &str = "has two places; keep one of px, mm and mark";
const NO_PLACES: &str = "has no places; say px = [[1204, 1730], …], or mm, or mark = [\"a name\", …]";

/// The groups of marks of a picture.
///
/// # Errors
/// Two marks of one name, an empty name, several groups that no colour or kind tells apart, stickers or pins when the
/// garment is fragile.
pub(super) fn marks(text: &str, tables: Vec<MarksTable>, fragile: bool) -> Result<Vec<MarksNotes>, Fault> {
    let mut out: Vec<MarksNotes> = Vec::new();
    for table in tables {
        let are = *table.are.get_ref();
        let fault = |words: String| Err(Fault::at(text, table.are.span().start, words));
        if fragile && are != MarkKind::Pointers {
            return fault(format!(
                "{} touch the garment, which is fragile; lay slips of paper on the sheet beside it and say are = \"pointers\"",
                are.word()
            ));
        }
        if out.iter().any(|m| m.are == are && (m.colour.is_none() || table.colour.is_none() || m.colour == table.colour)) {
            return fault(format!("there are two lists of {} that nothing tells apart; give each a colour of its own", are.word()));
        }
        let mut names: Vec<String> = Vec::new();
        for name in table.names {
            let trimmed = name.get_ref().trim();
            if trimmed.is_empty() || names.iter().chain(out.iter().flat_map(|m| &m.names)).any(|n| n == trimmed) {
                let words = format!("two marks are called \"{trimmed}\", or one has no name; give each a name of its own");
                return Err(Fault::at(text, name.span().start, words));
            }
            names.push(trimmed.to_owned());
        }
        out.push(MarksNotes { are, colour: table.colour, counted: table.counted, names });
    }
    Ok(out)
}

impl Names<'_> {
    /// One place from the three ways to say it; `what` has it, and `byte` is where that stands.
    pub fn place(
        &self,
        what: &str,
        byte: usize,
        px: Option<&Spanned<Px>>,
        mm: Option<&Spanned<Two<Length>>>,
        mark: Option<&Spanned<MarkName>>,
    ) -> Result<Place, Fault> {
        match (px, mm, mark) {
            (Some(px), None, None) => self.pixels(*px.get_ref(), px.span().start),
            (None, Some(mm), None) => Ok(Place::Mm(mm.get_ref().0)),
            (None, None, Some(mark)) => self.mark(mark.get_ref(), mark.span().start),
            (None, None, None) => Err(Fault::at(self.text, byte, format!("{what} {NO_PLACE}"))),
            _ => Err(Fault::at(self.text, byte, format!("{what} {TWO_PLACES}"))),
        }
    }

    /// A place through which the rim passes.
    pub fn through(&self, table: &Spanned<PlaceTable>) -> Result<Place, Fault> {
        let t = table.get_ref();
        self.place("a through-point", table.span().start, t.px.as_ref(), t.mm.as_ref(), t.mark.as_ref())
    }

    /// A seam within the piece.
    pub fn inner(&self, table: Spanned<InnerTable>) -> Result<InnerNotes, Fault> {
        let byte = table.span().start;
        let t = table.into_inner();
        let what = "a seam within the piece";
        let through = self.several(what, byte, (t.px, t.mm, t.mark))?;
        if through.len() < 2 {
            return Err(Fault::at(self.text, byte, format!("{what} needs its two ends, and places between them where it bends")));
        }
        Ok(InnerNotes { name: t.name.map(|n| n.trim().to_owned()).filter(|n| !n.is_empty()), through })
    }

    /// A region to keep or to leave out.
    pub fn region(&self, table: Spanned<RegionTable>) -> Result<RegionNotes, Fault> {
        let byte = table.span().start;
        let t = table.into_inner();
        let border = self.several("a region", byte, (t.px, t.mm, t.mark))?;
        let points: Option<Vec<[f64; 2]>> = border
            .iter()
            .map(|p| match p {
                Place::Px(p) => Some([p.x, p.y]),
                Place::Mm(xy) => Some(xy.map(|v| v.mm())),
                Place::Mark(_) => None,
            })
            .collect();
        if border.len() < 3 {
            return Err(Fault::at(self.text, byte, "a region needs three places or more round its border"));
        }
        if points.is_some_and(|p| crosses_itself(&p)) {
            return Err(Fault::at(self.text, byte, "the border of a region crosses itself; give its places in order round it"));
        }
        Ok(RegionNotes { is: t.is, border })
    }

    /// The places an edge runs through between its corners; there need be none.
    pub fn between(&self, byte: usize, ways: Ways) -> Result<Vec<Place>, Fault> {
        if matches!(ways, (None, None, None)) { Ok(Vec::new()) } else { self.several("an edge", byte, ways) }
    }

    /// A list of places, all said in one way.
    fn several(&self, what: &str, byte: usize, ways: Ways) -> Result<Vec<Place>, Fault> {
        match ways {
            (Some(px), None, None) => px.get_ref().iter().map(|p| self.pixels(*p, px.span().start)).collect(),
            (None, Some(mm), None) => Ok(mm.into_inner().into_iter().map(|two| Place::Mm(two.0)).collect()),
            (None, None, Some(marks)) => marks.get_ref().iter().map(|m| self.mark(m, marks.span().start)).collect(),
            (None, None, None) => Err(Fault::at(self.text, byte, format!("{what} {NO_PLACES}"))),
            _ => Err(Fault::at(self.text, byte, format!("{what} {TWO_PLACES}"))),
        }
    }

    fn pixels(&self, p: Px, byte: usize) -> Result<Place, Fault> {
        if p.is_finite() {
            return Ok(Place::Px(p));
        }
        Err(Fault::at(self.text, byte, "pixels must be two plain numbers, like px = [1204, 1730]"))
    }

    fn mark(&self, name: &MarkName, byte: usize) -> Result<Place, Fault> {
        let fault = |words: String| Err(Fault::at(self.text, byte, words));
        if !self.any {
            return fault(format!("mark {name} is used but no marks are told of; say [[shot.marks]] with are = \"stickers\""));
        }
        match name {
            MarkName::Number(0) => fault("marks are counted from 1".into()),
            MarkName::Number(n) => Ok(Place::Mark(MarkName::Number(*n))),
            MarkName::Name(n) if self.marks.iter().any(|m| m == n.trim()) => Ok(Place::Mark(MarkName::Name(n.trim().to_owned()))),
            MarkName::Name(_) => {
                let list = self.marks.iter().map(|c| format!("\"{c}\"")).collect::<Vec<_>>().join(", ");
                fault(format!(
                    "no mark is called {name}; {}",
                    if list.is_empty() { "none is named".into() } else { format!("named are {list}") }
                ))
            }
        }
    }
}

/// A list of places in each of the three ways.
pub(super) type Ways = (Option<Spanned<Vec<Px>>>, Option<Spanned<Vec<Two<Length>>>>, Option<Spanned<Vec<MarkName>>>);

/// Whether two sides of a closed polygon that are no neighbours meet.
pub(crate) fn crosses_itself(points: &[[f64; 2]]) -> bool {
    let n = points.len();
    let side = |k: usize| [points[k], points[(k + 1) % n]];
    (0..n).any(|i| (i + 2..n).filter(|j| (j + 1) % n != i).any(|j| sides_meet(side(i), side(j))))
}

/// Whether two straight stretches have a place in common.
pub(crate) fn sides_meet([a, b]: [[f64; 2]; 2], [c, d]: [[f64; 2]; 2]) -> bool {
    let turn = |a: [f64; 2], b: [f64; 2], c: [f64; 2]| (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0]);
    // Stretches of one straight line may lie apart on it.
    let beside = |k: usize| a[k].max(b[k]) >= c[k].min(d[k]) && c[k].max(d[k]) >= a[k].min(b[k]);
    beside(0) && beside(1) && turn(a, b, c) * turn(a, b, d) <= 0.0 && turn(c, d, a) * turn(c, d, b) <= 0.0
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::notes::Notes;

    const WHOLE: &str = r#"[garment]
name = "Pip's waistcoat"
[[shot]]
picture = "front.jpg"
[[shot.marks]]
are = "stickers"
colour = "red"
counted = "rows"
names = ["neck", "hem"]
[[shot.marks]]
are = "pointers"
[[shot.corner]]
name = "neck left"
mark = "neck"
round = true
[[shot.corner]]
name = "armhole"
mark = 3
[[shot.edge]]
from = "neck left"
to = "hem"
shape = "straight"
[[shot.inner]]
name = "dart"
mark = ["neck", 2]
[[shot.region]]
is = "left out"
px = [[1, 1], [9, 1], [9, 9]]
[[shot.region]]
is = "kept"
mm = [["1 mm", "1 mm"], ["9 mm", "1 mm"], ["9 mm", "9 mm"]]
[[shot.through]]
px = [12, 14]
"#;

    #[test]
    fn marks_and_hints_are_read() {
        let notes = Notes::from_text(WHOLE).unwrap_or_else(|e| panic!("{e}"));
        let shot = &notes.shots[0];
        assert_eq!(shot.marks[0].colour, Some(MarkColour::Red));
        assert_eq!((shot.marks[0].counted, shot.marks[1].counted), (Counted::Rows, Counted::Clockwise));
        assert_eq!(shot.corners[0].at, Place::Mark(MarkName::Name("neck".into())));
        assert!(shot.corners[0].round && !shot.corners[1].round);
        assert_eq!(shot.corners[1].at, Place::Mark(MarkName::Number(3)));
        assert!(shot.edges[0].straight);
        assert_eq!(shot.inner[0].through.len(), 2);
        assert_eq!((shot.regions[0].is, shot.regions[1].is), (Belongs::LeftOut, Belongs::Kept));
        assert_eq!(shot.through, [Place::Px(Px::new(12.0, 14.0))]);
        assert_eq!(shot.places().count(), 2 + 2 + 6 + 1);
    }

    #[test]
    fn sides_of_one_straight_line_that_lie_apart_do_not_cross() {
        let u = [[0.0, 0.0], [10.0, 0.0], [10.0, 50.0], [12.0, 50.0], [12.0, 0.0], [22.0, 0.0], [22.0, 60.0], [0.0, 60.0]];
        assert!(!crosses_itself(&u));
        let mut folded = u;
        folded[5] = [8.0, 0.0];
        assert!(crosses_itself(&folded));
    }

    /// One change to good notes, the line it is in, and a word the message must hold.
    #[test]
    fn faults_of_marks_and_hints_name_their_line() {
        let cases = [
            ("are = \"stickers\"", "are = \"buttons\"", 6, "stickers"),
            ("are = \"pointers\"", "are = \"stickers\"", 11, "colour"),
            ("name = \"Pip's waistcoat\"", "fragile = true", 6, "fragile"),
            ("names = [\"neck\", \"hem\"]", "names = [\"hem\", \"hem\"]", 9, "two marks"),
            ("mark = \"neck\"\n", "mark = \"collar\"\n", 14, "no mark is called \"collar\""),
            ("mark = 3", "mark = 0", 18, "from 1"),
            ("mark = 3", "mark = 3\npx = [1, 1]", 17, "two places"),
            ("mark = 3", "", 17, "no place"),
            ("to = \"hem\"", "to = \"cuff\"", 21, "no corner"),
            ("shape = \"straight\"", "shape = \"bent\"", 22, "straight"),
            ("mark = [\"neck\", 2]", "mark = [\"neck\"]", 23, "two ends"),
            ("mark = [\"neck\", 2]", "", 23, "no places"),
            ("is = \"left out\"", "is = \"out\"", 27, "left out"),
            ("px = [[1, 1], [9, 1], [9, 9]]", "px = [[1, 1], [9, 1]]", 26, "three places"),
            ("px = [[1, 1], [9, 1], [9, 9]]", "px = [[1, 1], [9, 9], [9, 1], [1, 9]]", 26, "crosses itself"),
            ("px = [[1, 1], [9, 1], [9, 9]]", "px = [[1, 1], [9, inf], [9, 9]]", 28, "plain numbers"),
            ("px = [12, 14]", "px = [12]", 33, "not of 1"),
        ];
        for (good, bad, line, word) in cases {
            assert!(WHOLE.contains(good), "{good}");
            let e = Notes::from_text(&WHOLE.replacen(good, bad, 1)).expect_err(bad);
            assert!(e.words.contains(word), "{bad}: {e}");
            assert_eq!(e.line, line, "{bad}: {e}");
            assert!((15..=300).contains(&e.to_string().chars().count()), "{e}");
        }
        let without = WHOLE.split("[[shot.marks]]").next().expect("head").to_owned() + "[[shot.through]]\nmark = 1\n";
        let e = Notes::from_text(&without).expect_err("no marks");
        assert!(e.words.contains("no marks are told of"), "{e}");
    }
}
