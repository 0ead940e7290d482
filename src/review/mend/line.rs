//! What is said of an edge.

use super::asked::EdgeSaid;
use super::error::MendError;
use super::named;
use super::write::Where;
use crate::notes::{Draft, Line, Place};
use crate::trace::{between, by_corners, is_number};
use crate::write::{EdgeRecord, PieceRecord, Record};

/// A line's word in the notes.
pub(super) fn line_word(line: Line) -> &'static str {
    match line {
        Line::Rim => "rim",
        Line::Seam => "seam",
        Line::Fold => "fold",
    }
}

/// Says something of the edge `n` of a piece. Its corners are named in the notes when they are not yet.
pub(super) fn said(at: &Where, draft: &mut Draft, [p, n]: [usize; 2], said: EdgeSaid) -> Result<(), MendError> {
    let record = at.traced()?;
    let piece = record.pieces.get(p).ok_or(MendError::Gone { what: "piece", n: p })?;
    let edge = piece.edges.get(n).ok_or(MendError::Gone { what: "edge", n })?;
    let ends = ends(piece, edge)?;
    let name = match said.name {
        Some(Some(text)) => {
            let name = named::name("an edge", text)?;
            if piece.edges.iter().enumerate().any(|(k, e)| k != n && e.name == name) {
                return Err(MendError::Taken { what: "edge of this piece", name: name.to_owned() });
            }
            Some(Some(name))
        }
        other => other.map(|_| None),
    };
    let own = own_ends(at, record, p, ends);
    let [from, to] = &own;
    let lasting = between(from, to);
    let name = match name {
        // What goes by a number goes by another one soon.
        Some(None) if at.tells(p) && by_corners(from, to).is_none() && draft.names_edge(&piece.name, &edge.name) => {
            Some(Some(lasting.as_str()))
        }
        name => name,
    };
    let words = [
        ("name", name),
        ("shape", said.straight.map(|s| (s == Some(true)).then_some("straight"))),
        ("line", said.line.map(|l| l.map(line_word))),
        ("is", said.is.map(|is| is.map(crate::notes::EdgeIs::word))),
    ];
    if words.iter().any(|(_, word)| matches!(word, Some(Some(_)))) {
        put_ends(at, draft, piece, ends, &own)?;
    }
    for (key, word) in words {
        if let Some(word) = word {
            draft.set_edge(at.picture, [from, to], key, word)?;
        }
    }
    let now = match name {
        Some(Some(name)) => Some(name.to_owned()),
        Some(None) => by_corners(from, to),
        None => None,
    };
    match now.filter(|_| at.tells(p)) {
        Some(now) => Ok(draft.rename_edge(&piece.name, &edge.name, &now)?),
        None => Ok(()),
    }
}

/// The name of an edge by which something else may tell of it: an edge that went by its number is told by its corners from now on. Where
/// that can't be (it has none, or shares both with another edge), its number stays.
pub(super) fn lasting(at: &Where, draft: &mut Draft, [p, n]: [usize; 2]) -> Result<String, MendError> {
    let record = at.traced()?;
    let piece = record.pieces.get(p).ok_or(MendError::Gone { what: "piece", n: p })?;
    let edge = piece.edges.get(n).ok_or(MendError::Gone { what: "edge", n })?;
    let Some(ends) = ends(piece, edge).ok().filter(|_| is_number(&edge.name)) else { return Ok(edge.name.clone()) };
    let own = own_ends(at, record, p, ends);
    let name = between(&own[0], &own[1]);
    if piece.edges.iter().any(|e| e.name == name) {
        return Err(MendError::Taken { what: "edge of this piece", name });
    }
    put_ends(at, draft, piece, ends, &own)?;
    draft.set_edge(at.picture, [&own[0], &own[1]], "name", Some(&name))?;
    draft.rename_edge(&piece.name, &edge.name, &name)?;
    Ok(name)
}

/// An edge by whose corners alone it was told goes by its number again when nothing names it any more.
pub(super) fn let_go(at: &Where, draft: &mut Draft, piece: &str, name: &str) -> Result<(), MendError> {
    let told = |e: &&crate::notes::EdgeNotes| e.name.as_deref() == Some(name) && name == between(&e.from, &e.to);
    match at.notes.edges.iter().find(told).filter(|_| !draft.names_edge(piece, name)) {
        Some(edge) => Ok(draft.set_edge(at.picture, [&edge.from, &edge.to], "name", None)?),
        None => Ok(()),
    }
}

/// A corner of a piece was called otherwise: edges that are named by it are so too.
pub(super) fn corner_called(at: &Where, draft: &mut Draft, [p, corner]: [usize; 2], [old, name]: [&str; 2]) -> Result<(), MendError> {
    let piece = &at.traced()?.pieces[p];
    for (k, edge) in piece.edges.iter().enumerate() {
        let (Some(from), Some(to)) = (edge.from, edge.to) else { continue };
        if from != corner && to != corner || from.max(to) >= piece.corners.len() {
            continue;
        }
        let called = |c: usize, own: &str| if c == corner { own.to_owned() } else { piece.corners[c].name.clone() };
        let ([was_from, was_to], [from, to]) = ([called(from, old), called(to, old)], [called(from, name), called(to, name)]);
        let told = at.notes.edges.iter().find(|e| e.joins(&was_from, &was_to));
        let now = match told.and_then(|e| Some((e, e.name.as_deref()?))) {
            Some((e, own)) if own == between(&e.from, &e.to) => {
                let ends = [&e.from, &e.to].map(|c| if c == old { name } else { c.as_str() });
                let now = between(ends[0], ends[1]);
                draft.set_edge(at.picture, ends, "name", Some(&now))?;
                now
            }
            Some(_) => continue,
            None => by_corners(&from, &to).unwrap_or_else(|| format!("edge {}", k + 1)),
        };
        if at.tells(p) {
            draft.rename_edge(&piece.name, &edge.name, &now)?;
        }
    }
    Ok(())
}

/// The names by which the notes tell of an edge's corners.
fn own_ends(at: &Where, record: &Record, p: usize, ends: [usize; 2]) -> [String; 2] {
    let from = named::own(record, at.notes, p, ends[0]);
    let to = if ends[0] == ends[1] { from.clone() } else { named::apart(record, at.notes, p, ends[1], &from) };
    [from, to]
}

/// Puts the corners of an edge into the notes where they are not there yet.
fn put_ends(at: &Where, draft: &mut Draft, piece: &PieceRecord, ends: [usize; 2], own: &[String; 2]) -> Result<(), MendError> {
    for (corner, name) in ends.iter().zip(own) {
        if !named::noted(at.notes, name) {
            let place = at.at("the corner", piece.corners[*corner].at)?;
            draft.set_corner(at.picture, name, Place::Px(place))?;
        }
    }
    Ok(())
}

/// The corners of an edge, by which the notes know it.
fn ends(piece: &PieceRecord, edge: &EdgeRecord) -> Result<[usize; 2], MendError> {
    let (Some(from), Some(to)) = (edge.from, edge.to) else {
        return Err(MendError::Edge("this edge runs round without a corner; set two corners on it first, and name what lies between them"));
    };
    if from >= piece.corners.len() || to >= piece.corners.len() {
        return Err(MendError::Gone { what: "corner", n: from.max(to) });
    }
    let alike = |e: &&EdgeRecord| (e.from, e.to) == (Some(from), Some(to)) || (e.from, e.to) == (Some(to), Some(from));
    if piece.edges.iter().filter(alike).count() > 1 {
        return Err(MendError::Edge(
            "both edges of this piece run between the same two corners; set a corner on one of them to tell them apart",
        ));
    }
    Ok([from, to])
}
