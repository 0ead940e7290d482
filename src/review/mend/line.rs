//! What is said of an edge.

use super::asked::EdgeSaid;
use super::error::MendError;
use super::named;
use super::write::Where;
use crate::notes::{Draft, Line, Place};
use crate::write::{EdgeRecord, PieceRecord};

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
    let words = [
        ("name", name),
        ("shape", said.straight.map(|s| (s == Some(true)).then_some("straight"))),
        ("line", said.line.map(|l| l.map(line_word))),
        ("is", said.is.map(|is| is.map(crate::notes::EdgeIs::word))),
    ];
    let from = named::own(record, at.notes, p, ends[0]);
    let to = if ends[0] == ends[1] { from.clone() } else { named::apart(record, at.notes, p, ends[1], &from) };
    let own = [from, to];
    let anew = words.iter().any(|(_, word)| matches!(word, Some(Some(_))));
    for (corner, name) in ends.iter().zip(&own).filter(|_| anew) {
        if !named::noted(at.notes, name) {
            let place = at.at("the corner", piece.corners[*corner].at)?;
            draft.set_corner(at.picture, name, Place::Px(place))?;
        }
    }
    let [from, to] = &own;
    for (key, word) in words {
        if let Some(word) = word {
            draft.set_edge(at.picture, [from, to], key, word)?;
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
