//! Each correction put into the notes.

use super::asked::{EdgeSaid, Mend, Settings};
use super::error::MendError;
use super::{grown, line, named, pieces};
use crate::length::{Length, Mm, Px};
use crate::notes::{Draft, Notch, Place, ShotNotes, Spot, Word, alike};
use crate::write::{PieceRecord, Record, path_from_text};
use kurbo::Point;

/// Most places of a line, and of a region, that a person draws.
const LINE: usize = 200;
const BORDER: usize = 1000;
/// How wide a region is that parts a piece, and how far its ends are led on, mm.
const PARTING: (f64, f64) = (2.0, 3.0);
/// Beyond it a number of notches is a slip.
const NOTCHES: u32 = 9;

/// What a correction is made in.
pub struct Where<'a> {
    /// File name of the picture whose pixels the notes tell.
    pub picture: &'a str,
    /// File names of all pictures that a table without one stands for.
    pub all: &'a [String],
    /// What was traced; nothing where the picture could not be.
    pub record: Option<&'a Record>,
    /// Where a place at the cloth's height is in the picture.
    pub px: &'a dyn Fn(Mm) -> Option<Px>,
    /// What the notes say of the picture so far.
    pub notes: &'a ShotNotes,
}

impl Mend {
    /// Puts the correction into the notes. What the notes would be no good with is refused, and the draft is then to be let go.
    ///
    /// # Errors
    /// Something it points at is not there, a place lies outside the picture, a name is none or taken, a value can't be meant.
    pub fn write(&self, draft: &mut Draft, at: &Where) -> Result<(), MendError> {
        draft.share_out(at.all)?;
        match self {
            Self::MoveCorner { piece, corner, to } => {
                let (_, name) = own_corner(at, *piece, *corner)?;
                at.put_corner(draft, &name, *to, [false, true])
            }
            Self::NameCorner { piece, corner, name } => renamed(at, draft, [*piece, *corner], name),
            Self::AddCorner { at: place, name, round } => {
                let name = named::name("a corner", name)?;
                named::free(at.notes, name)?;
                if at.traced()?.pieces.iter().flat_map(|p| &p.corners).any(|c| c.name == name) {
                    return Err(MendError::Taken { what: "corner of this picture", name: name.to_owned() });
                }
                at.put_corner(draft, name, *place, [*round, false])
            }
            Self::NoCorner { piece, corner } => {
                let (place, name) = own_corner(at, *piece, *corner)?;
                free_of_edges(at, draft, &name)?;
                draft.set_corner(at.picture, &name, Place::Px(at.at("the corner", place)?))?;
                Ok(draft.set_corner_is(at.picture, &name, true, false)?)
            }
            Self::DropCorner { name } => dropped_corner(at, draft, name.trim()),
            Self::Through { at: place } => Ok(draft.add_through(at.picture, Place::Px(at.at("the through-point", *place)?))?),
            Self::DropThrough { n } => {
                there("through-point", *n, at.notes.through.len())?;
                Ok(draft.remove_through(at.picture, *n)?)
            }
            Self::DrawSeam { name, through } => {
                let name = name.as_deref().map(|n| named::name("a seam", n)).transpose()?;
                if let Some(name) = name.filter(|n| at.notes.inner.iter().any(|i| i.name.as_deref() == Some(n))) {
                    return Err(MendError::Taken { what: "seam of this picture", name: name.to_owned() });
                }
                Ok(draft.add_inner(at.picture, name, &at.all("the seam", through, 2, LINE)?)?)
            }
            Self::DropSeam { n } => {
                there("seam", *n, at.notes.inner.len())?;
                Ok(draft.remove_inner(at.picture, *n)?)
            }
            Self::Region { is, border } => {
                let border = at.all("the region", border, 3, BORDER)?;
                if area(&border) < 1.0 {
                    return Err(MendError::NoExtent { what: "the region" });
                }
                Ok(draft.add_region(at.picture, *is, &border)?)
            }
            Self::DropRegion { n } => {
                there("region", *n, at.notes.regions.len())?;
                Ok(draft.remove_region(at.picture, *n)?)
            }
            Self::Edge { piece, edge, name, straight, line: seen, is } => {
                let said = EdgeSaid { name: text(name), straight: *straight, line: *seen, is: *is };
                line::said(at, draft, [*piece, *edge], said)
            }
            Self::Settings { thickness, allowance, line, pieces, sheet, pitch, piece } => settings(
                at,
                draft,
                Settings {
                    thickness: text(thickness),
                    allowance: text(allowance),
                    line: *line,
                    pieces: *pieces,
                    sheet: text(sheet),
                    pitch: text(pitch),
                    piece: text(piece),
                },
            ),
            Self::DropPiece { piece } => dropped_piece(at, draft, *piece),
            Self::Split { line } => split(at, draft, line),
            Self::Centre { piece, spots } => {
                let name = &known_piece(at, *piece)?.name;
                let spot = |p: [f64; 2]| at.at("the centre", p).map(Spot::Px);
                let spots = spots.map(|[a, b]| Ok::<_, MendError>([spot(a)?, spot(b)?])).transpose()?;
                if spots.as_ref().is_some_and(|[a, b]| a == b) {
                    return Err(MendError::NoExtent { what: "the centre" });
                }
                Ok(draft.set_centre(name, spots.as_ref())?)
            }
            Self::Notch { piece, edge, at_mm, style, count } => {
                let own = known_piece(at, *piece)?;
                let long = own.edges.get(*edge).ok_or(MendError::Gone { what: "edge", n: *edge })?.length_mm;
                if !(0.0..=long).contains(at_mm) {
                    return Err(MendError::Outside { what: "the notch" });
                }
                if count.is_some_and(|n| !(1..=NOTCHES).contains(&n)) {
                    return Err(MendError::Value { what: "notches", why: format!("there are 1 to {NOTCHES} of them side by side") });
                }
                let along = Length::from_mm((at_mm * 10.0).round() / 10.0);
                let edge = line::lasting(at, draft, [*piece, *edge])?;
                let notch = Notch { edge, at: along, from: None, count: *count, style: *style, once: false };
                Ok(draft.add_notch(&own.name, &notch)?)
            }
            Self::DropNotch { piece, n } => {
                let name = &known_piece(at, *piece)?.name;
                let own = draft.notes()?.pieces.into_iter().find(|(key, _)| alike(key, name)).map(|(_, p)| p).unwrap_or_default();
                there("notch", *n, own.notches.len())?;
                draft.remove_notch(name, *n)?;
                line::let_go(at, draft, name, &own.notches[*n].edge)
            }
        }
    }
}

/// A text that may be taken away.
fn text(given: &Option<Option<String>>) -> Option<Option<&str>> {
    given.as_ref().map(Option::as_deref)
}

/// Whether there is one of that number.
fn there(what: &'static str, n: usize, of: usize) -> Result<(), MendError> {
    if n < of { Ok(()) } else { Err(MendError::Gone { what, n }) }
}

/// Where a corner of the record is, and the name by which the notes tell of it.
fn own_corner(at: &Where, piece: usize, corner: usize) -> Result<([f64; 2], String), MendError> {
    let record = at.traced()?;
    let own = record.pieces.get(piece).ok_or(MendError::Gone { what: "piece", n: piece })?;
    let place = own.corners.get(corner).ok_or(MendError::Gone { what: "corner", n: corner })?.at;
    Ok((place, named::own(record, at.notes, piece, corner)))
}

/// A piece that the notes can tell of: one of a name, or of a number that no other picture has too.
fn known_piece<'a>(at: &'a Where, piece: usize) -> Result<&'a PieceRecord, MendError> {
    let own = at.traced()?.pieces.get(piece).ok_or(MendError::Gone { what: "piece", n: piece })?;
    if at.tells(piece) { Ok(own) } else { Err(MendError::Nameless { name: own.name.clone() }) }
}

/// Sees that nothing tells of an edge by a corner.
///
/// # Errors
/// Something does.
fn free_of_edges(at: &Where, draft: &Draft, corner: &str) -> Result<(), MendError> {
    if let Some(edge) = at.notes.edges.iter().find(|e| e.from == corner || e.to == corner) {
        return Err(MendError::Held { from: edge.from.clone(), to: edge.to.clone() });
    }
    for (_, piece) in at.record.iter().flat_map(|r| r.pieces.iter().enumerate()).filter(|(p, _)| at.tells(*p)) {
        for edge in &piece.edges {
            let [from, to] = [edge.from, edge.to].map(|c| c.and_then(|c| piece.corners.get(c)).map_or("", |c| c.name.as_str()));
            if (from == corner || to == corner) && crate::trace::by_corners(from, to).is_some() && draft.names_edge(&piece.name, &edge.name)
            {
                return Err(MendError::Held { from: from.to_owned(), to: to.to_owned() });
            }
        }
    }
    Ok(())
}

impl Where<'_> {
    /// Whether the notes can tell of a piece of the record: it has a name, or a number that no other picture has too.
    pub(super) fn tells(&self, piece: usize) -> bool {
        let name = self.record.and_then(|r| r.pieces.get(piece)).map(|p| p.name.as_str());
        name.is_some_and(|name| self.all.len() == 1 || name != format!("piece {}", piece + 1))
    }
}

/// Calls a corner by another name, wherever the notes tell of it.
fn renamed(at: &Where, draft: &mut Draft, [piece, corner]: [usize; 2], name: &str) -> Result<(), MendError> {
    let (place, old) = own_corner(at, piece, corner)?;
    let name = named::name("a corner", name)?;
    if name == old && at.notes.corners.iter().any(|c| c.name == old) {
        return Ok(());
    }
    if name != old {
        named::free(at.notes, name)?;
        let record = at.traced()?;
        if record.pieces.iter().flat_map(|p| &p.corners).any(|c| c.name == name) {
            return Err(MendError::Taken { what: "corner of this picture", name: name.to_owned() });
        }
    }
    if !at.notes.corners.iter().any(|c| c.name == old) {
        draft.set_corner(at.picture, name, Place::Px(at.at("the corner", place)?))?;
    }
    draft.rename_corner(at.picture, &old, name)?;
    if at.notes.piece.is_none() && at.tells(piece) {
        draft.rename_corner_of(&at.traced()?.pieces[piece].name, &old, name)?;
    }
    line::corner_called(at, draft, [piece, corner], [&old, name])
}

/// Takes away what the notes say of a corner.
fn dropped_corner(at: &Where, draft: &mut Draft, name: &str) -> Result<(), MendError> {
    let n = at.notes.corners.iter().position(|c| c.name == name).ok_or(MendError::Gone { what: "note of the corner", n: 0 })?;
    free_of_edges(at, draft, name)?;
    // The through-point that took the outline to the corner goes with it.
    if let Some(through) = at.notes.through.iter().position(|t| matches!(t, Place::Px(_)) && *t == at.notes.corners[n].at) {
        draft.remove_through(at.picture, through)?;
    }
    Ok(draft.remove_corner(at.picture, name)?)
}

/// Sets what is asked of the whole picture.
fn settings(at: &Where, draft: &mut Draft, asked: Settings) -> Result<(), MendError> {
    for (what, text, least) in [("thickness", asked.thickness, false), ("allowance", asked.allowance, false), ("pitch", asked.pitch, true)]
    {
        let Some(text) = text else { continue };
        let text = text.map(str::trim).filter(|t| !t.is_empty());
        if let Some(text) = text {
            let length: Length = text.parse().map_err(|e: crate::length::LengthError| MendError::Value { what, why: e.to_string() })?;
            if least && length.mm() == 0.0 {
                return Err(MendError::Value { what, why: "a length of more than nothing is needed".into() });
            }
        }
        draft.set_shot(at.picture, what, text.map(Word::Text))?;
    }
    if let Some(seen) = asked.line {
        draft.set_shot(at.picture, "line", seen.map(|l| Word::Text(line::line_word(l))))?;
    }
    if let Some(pieces) = asked.pieces {
        draft.set_shot(at.picture, "pieces", pieces.map(Word::Number))?;
    }
    let name = |what: &'static str, text: Option<&'_ str>| match text.map(str::trim).filter(|t| !t.is_empty()) {
        Some(text) => named::name(what, text).map(|t| Some(t.to_owned())),
        None => Ok(None),
    };
    if let Some(sheet) = asked.sheet {
        draft.set_shot(at.picture, "sheet", name("a sheet", sheet)?.as_deref().map(Word::Text))?;
    }
    match asked.piece {
        Some(piece) => pieces::called(at, draft, name("a piece", piece)?.as_deref(), asked.pieces == Some(Some(1))),
        None => Ok(()),
    }
}

/// Leaves a piece out by a region round it.
fn dropped_piece(at: &Where, draft: &mut Draft, piece: usize) -> Result<(), MendError> {
    let pieces = &at.traced()?.pieces;
    there("piece", piece, pieces.len())?;
    if pieces.len() == 1 {
        return Err(MendError::OnlyPiece);
    }
    let none = MendError::NoRegion { what: "piece" };
    let path = |p: &PieceRecord| path_from_text(&p.outline).ok();
    let own = path(&pieces[piece]).ok_or(none.clone())?;
    let others: Vec<_> = pieces.iter().enumerate().filter(|(k, _)| *k != piece).filter_map(|(_, p)| path(p)).collect();
    let region = grown::around(&own, &others).ok_or(none)?;
    left_out(at, draft, &region, "the piece")?;
    one_piece_more(at, draft, false)
}

/// Parts a piece by a narrow region along a line.
fn split(at: &Where, draft: &mut Draft, line: &[[f64; 2]]) -> Result<(), MendError> {
    at.all("the line", line, 2, LINE)?;
    let points: Vec<Point> = line.iter().map(|p| Point::new(p[0], p[1])).collect();
    let region = grown::along(&points, PARTING.0, PARTING.1).ok_or(MendError::NoRegion { what: "line" })?;
    left_out(at, draft, &region, "the line")?;
    one_piece_more(at, draft, true)
}

/// Where the notes tell how many pieces there are, there is one more or one less.
fn one_piece_more(at: &Where, draft: &mut Draft, more: bool) -> Result<(), MendError> {
    if let Some(n) = at.notes.pieces {
        let n = if more { n.saturating_add(1) } else { n.saturating_sub(1).max(1) };
        draft.set_shot(at.picture, "pieces", Some(Word::Number(n)))?;
    }
    Ok(())
}

/// A region left out; what of it reaches over the picture's border is taken to it.
fn left_out(at: &Where, draft: &mut Draft, region: &[Point], what: &'static str) -> Result<(), MendError> {
    let [width, height] = at.size()?;
    let place = |p: &Point| {
        let px = (at.px)(Mm::new(p.x, p.y)).filter(|p| p.is_finite()).ok_or(MendError::Outside { what })?;
        Ok(Px::new(px.x.clamp(0.0, width - 1.0), px.y.clamp(0.0, height - 1.0)))
    };
    let mut border = region.iter().map(place).collect::<Result<Vec<_>, MendError>>()?;
    border.dedup();
    draft
        .add_region(at.picture, crate::notes::Belongs::LeftOut, &border)
        .map_err(|_| MendError::NoRegion { what: what.trim_start_matches("the ") })
}

/// The area of a polygon, px².
fn area(border: &[Px]) -> f64 {
    let n = border.len();
    (0..n).map(|k| border[k].x * border[(k + 1) % n].y - border[(k + 1) % n].x * border[k].y).sum::<f64>().abs() / 2.0
}
