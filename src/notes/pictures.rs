//! Pictures: from their tables, with corners and edges, checked for what their values can't know one by one.

use super::given::{self, InnerTable, MarksTable, Names, PlaceTable, RegionTable};
use super::values::Two;
use super::{ClothSide, CornerNotes, EdgeIs, EdgeNotes, Face, Fault, Line, MarkName, ShotNotes, Up, alike};
use crate::length::{Length, Px};
use serde::Deserialize;
use std::path::{Component, Path};
use toml::Spanned;

/// Pieces that may lie on one sheet.
const MOST_PIECES: u32 = 200;

#[derive(Deserialize, Default)]
#[serde(deny_unknown_fields, default)]
pub(super) struct ShotTable {
    picture: Option<Spanned<String>>,
    pictures: Vec<Spanned<String>>,
    same: Vec<SameTable>,
    piece: Option<String>,
    laying: Option<Word>,
    recorded_by: Option<String>,
    gives: Vec<String>,
    side: Option<ClothSide>,
    faces: Option<Face>,
    up: Option<Up>,
    sheet: Option<Spanned<String>>,
    pitch: Option<Spanned<Length>>,
    thickness: Option<Spanned<Length>>,
    line: Option<Spanned<Line>>,
    allowance: Option<Spanned<Length>>,
    pieces: Option<Spanned<u32>>,
    under: Option<String>,
    bare: Option<Spanned<String>>,
    at: Vec<AtTable>,
    corner: Vec<CornerTable>,
    edge: Vec<EdgeTable>,
    marks: Vec<MarksTable>,
    inner: Vec<Spanned<InnerTable>>,
    region: Vec<Spanned<RegionTable>>,
    through: Vec<Spanned<PlaceTable>>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct AtTable {
    px: Spanned<Px>,
    mm: Two<Length>,
}

/// One thing seen in two of the pictures that are joined.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct SameTable {
    pictures: Spanned<Two<String>>,
    px: Spanned<Two<Px>>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct CornerTable {
    name: Spanned<String>,
    px: Option<Spanned<Px>>,
    mm: Option<Spanned<Two<Length>>>,
    mark: Option<Spanned<MarkName>>,
    picture: Option<String>,
    #[serde(default)]
    round: bool,
    #[serde(default)]
    exact: bool,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct EdgeTable {
    name: Option<String>,
    from: Spanned<String>,
    to: Spanned<String>,
    line: Option<Line>,
    px: Option<Spanned<Vec<Px>>>,
    mm: Option<Spanned<Vec<Two<Length>>>>,
    mark: Option<Spanned<Vec<MarkName>>>,
    is: Option<EdgeIs>,
    true_seam: Option<Length>,
    #[serde(default)]
    assumed: bool,
    thickness: Option<Spanned<Length>>,
    under: Option<String>,
    shape: Option<Shape>,
}

/// A word or a number, for what people count or call by a name.
#[derive(Deserialize)]
#[serde(untagged)]
enum Word {
    Number(i64),
    Text(String),
}

impl Word {
    fn text(self) -> String {
        match self {
            Self::Number(n) => n.to_string(),
            Self::Text(t) => t.trim().to_owned(),
        }
    }
}

/// How an edge is drawn.
#[derive(Deserialize, PartialEq)]
#[serde(rename_all = "lowercase")]
enum Shape {
    Straight,
    Curve,
}

/// Whether every picture has one table.
///
/// # Errors
/// One has two: what the second says would never be read.
pub(super) fn each_once(text: &str, all: &[ShotTable]) -> Result<(), Fault> {
    let mut seen: Vec<&str> = Vec::new();
    for picture in all.iter().filter_map(|s| s.picture.as_ref()) {
        if seen.contains(&picture.get_ref().as_str()) {
            let words = format!("the picture {} has two [[shot]] tables; put what is known of it into one", picture.get_ref());
            return Err(Fault::at(text, picture.span().start, words));
        }
        seen.push(picture.get_ref());
    }
    Ok(())
}

/// What is told of a picture, checked; `fragile` where nothing may touch the garment.
pub(super) fn shot(text: &str, table: ShotTable, fragile: bool) -> Result<ShotNotes, Fault> {
    let marks = given::marks(text, table.marks, fragile)?;
    let names = Names { text, marks: marks.iter().flat_map(|m| m.names.clone()).collect(), any: !marks.is_empty() };
    let mut corners: Vec<CornerNotes> = Vec::new();
    for t in table.corner {
        let corner = corner(&names, &t)?;
        if corners.iter().any(|c| alike(&c.name, &corner.name)) {
            let words = format!("there are two corners called \"{}\" in this picture; give each a name of its own", corner.name);
            return Err(Fault::at(text, t.name.span().start, words));
        }
        corners.push(corner);
    }
    let place = |t: AtTable| match t.px.get_ref().is_finite() {
        true => Ok((*t.px.get_ref(), t.mm.0)),
        false => Err(Fault::at(text, t.px.span().start, "pixels must be two plain numbers, like px = [1204, 1730]")),
    };
    let at = table.at.into_iter().map(place).collect::<Result<_, _>>()?;
    let edges = table.edge.into_iter().map(|t| edge(&names, t, &corners)).collect::<Result<_, _>>()?;
    if let Some(one) = table.picture.as_ref().filter(|_| !table.pictures.is_empty()) {
        return Err(Fault::at(text, one.span().start, "a shot has picture, or pictures that are joined; keep one of them"));
    }
    table.picture.iter().chain(&table.pictures).chain(&table.sheet).chain(&table.bare).try_for_each(|file| within(text, file))?;
    let pictures: Vec<String> = table.pictures.into_iter().map(Spanned::into_inner).collect();
    let same = table.same.into_iter().map(|t| same(text, t, &pictures)).collect::<Result<_, _>>()?;
    Ok(ShotNotes {
        picture: table.picture.map(Spanned::into_inner),
        pictures,
        same,
        piece: table.piece,
        laying: table.laying.map(Word::text).filter(|t| !t.is_empty()),
        recorded_by: table.recorded_by,
        gives: table.gives,
        side: table.side,
        faces: table.faces,
        up: table.up,
        sheet: table.sheet.map(Spanned::into_inner),
        pitch: some_length(text, "pitch", table.pitch, true)?,
        thickness: some_length(text, "thickness", table.thickness, false)?,
        line: table.line.map(|l| outline_line(text, l)).transpose()?,
        allowance: some_length(text, "allowance", table.allowance, false)?,
        pieces: table.pieces.map(|n| how_many(text, n)).transpose()?,
        under: table.under,
        bare: table.bare.map(Spanned::into_inner),
        at,
        corners,
        edges,
        inner: table.inner.into_iter().map(|t| names.inner(t)).collect::<Result<_, _>>()?,
        regions: table.region.into_iter().map(|t| names.region(t)).collect::<Result<_, _>>()?,
        through: table.through.iter().map(|t| names.through(t)).collect::<Result<_, _>>()?,
        marks,
    })
}

/// The line of a whole outline, which a fold is not.
fn outline_line(text: &str, line: Spanned<Line>) -> Result<Line, Fault> {
    match line.get_ref() {
        Line::Fold => Err(Fault::at(text, line.span().start, "a whole outline is rim or seam; folds are told edge by edge")),
        _ => Ok(line.into_inner()),
    }
}

/// A number of pieces that can lie on a sheet.
fn how_many(text: &str, n: Spanned<u32>) -> Result<u32, Fault> {
    match n.get_ref() {
        1..=MOST_PIECES => Ok(n.into_inner()),
        _ => Err(Fault::at(text, n.span().start, format!("pieces is how many lie on the sheet, 1 to {MOST_PIECES}"))),
    }
}

/// Sees that a file lies in the garment's own folder: notes travel with it, and may come from anybody.
fn within(text: &str, file: &Spanned<String>) -> Result<(), Fault> {
    let name = file.get_ref();
    let ordinary = |c: Component| matches!(c, Component::Normal(_) | Component::CurDir);
    if Path::new(name).components().all(ordinary) && !name.contains('\\') {
        return Ok(());
    }
    let words = format!("\"{name}\" lies outside the garment's folder; copy it there and give its name alone");
    Err(Fault::at(text, file.span().start, words))
}

/// One thing seen in two of the joined pictures.
fn same(text: &str, t: SameTable, pictures: &[String]) -> Result<[(usize, Px); 2], Fault> {
    let byte = t.pictures.span().start;
    let named = t.pictures.into_inner().0;
    let number = |name: &String| pictures.iter().position(|p| p == name);
    let (Some(a), Some(b)) = (number(&named[0]), number(&named[1])) else {
        return Err(Fault::at(text, byte, "same tells of two of the shot's own pictures, named as there"));
    };
    let [p, q] = t.px.into_inner().0;
    if a == b || !p.is_finite() || !q.is_finite() {
        return Err(Fault::at(text, byte, "same needs two different pictures and pixels in each, like px = [[1204, 1730], [310, 1722]]"));
    }
    Ok([(a, p), (b, q)])
}

fn corner(names: &Names, t: &CornerTable) -> Result<CornerNotes, Fault> {
    let (name, byte) = (t.name.get_ref().trim(), t.name.span().start);
    if name.is_empty() {
        return Err(Fault::at(names.text, byte, "a corner needs a name, like name = \"underarm left\""));
    }
    let at = names.place(&format!("the corner \"{name}\""), byte, t.px.as_ref(), t.mm.as_ref(), t.mark.as_ref())?;
    if t.round && t.exact {
        return Err(Fault::at(names.text, byte, "a corner is round, or lies exactly where it is said to; keep one of the two"));
    }
    Ok(CornerNotes { name: name.to_owned(), at, picture: t.picture.clone(), round: t.round, exact: t.exact })
}

fn edge(names: &Names, t: EdgeTable, corners: &[CornerNotes]) -> Result<EdgeNotes, Fault> {
    let text = names.text;
    // A mark that lies at a corner gives it its name.
    let all = || corners.iter().map(|c| &c.name).chain(&names.marks);
    let known = |name: &Spanned<String>| {
        let wanted = name.get_ref().trim();
        if all().any(|c| c == wanted) {
            return Ok(wanted.to_owned());
        }
        let list = all().map(|c| format!("\"{c}\"")).collect::<Vec<_>>().join(", ");
        let there = if list.is_empty() { "none is named".to_owned() } else { format!("named are {list}") };
        Err(Fault::at(text, name.span().start, format!("no corner of this picture is called \"{wanted}\"; {there}")))
    };
    let (from, to) = (known(&t.from)?, known(&t.to)?);
    let thickness = some_length(text, "thickness", t.thickness, false)?;
    let through = names.between(t.from.span().start, (t.px, t.mm, t.mark))?;
    let straight = t.shape == Some(Shape::Straight);
    Ok(EdgeNotes {
        name: t.name,
        from,
        to,
        line: t.line,
        through,
        is: t.is,
        true_seam: t.true_seam,
        assumed: t.assumed,
        thickness,
        under: t.under,
        straight,
    })
}

/// A length that may not be less than nothing, or must be more.
fn some_length(text: &str, what: &str, length: Option<Spanned<Length>>, positive: bool) -> Result<Option<Length>, Fault> {
    let Some(length) = length else { return Ok(None) };
    let mm = length.get_ref().mm();
    if mm < 0.0 || (positive && mm == 0.0) {
        let least = if positive { "more than 0" } else { "0 mm or more" };
        return Err(Fault::at(text, length.span().start, format!("{what} must be {least}, not {}", length.get_ref())));
    }
    Ok(Some(length.into_inner()))
}
