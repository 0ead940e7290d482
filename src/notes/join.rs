//! Edges that are sewn together.

use super::alike;
use super::in_line::InLine;
use super::piece::{Cut, PieceNotes};
use super::values::{some_length, some_two, two};
use crate::length::Length;
use serde::Deserialize;
use serde::de::{Deserializer, Error};
use std::collections::BTreeMap;
use std::fmt;

/// An edge by its piece and its own name, written `piece: edge`.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct EdgeName {
    /// The piece.
    pub piece: String,
    /// The edge; the corner, where a corner is named.
    pub edge: String,
}

impl EdgeName {
    /// Reads `front: side left`.
    ///
    /// # Errors
    /// There is no colon, or nothing on one side of it.
    pub fn from_text(text: &str) -> Result<Self, String> {
        match text.split_once(':').map(|(piece, edge)| (piece.trim(), edge.trim())) {
            Some((piece, edge)) if !piece.is_empty() && !edge.is_empty() => Ok(Self { piece: piece.to_owned(), edge: edge.to_owned() }),
            _ => Err(format!("`{}` names no edge; write its piece, a colon and its name, like \"front: side left\"", text.trim())),
        }
    }
}

impl fmt::Display for EdgeName {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}: {}", self.piece, self.edge)
    }
}

impl<'de> Deserialize<'de> for EdgeName {
    fn deserialize<D: Deserializer<'de>>(from: D) -> Result<Self, D::Error> {
        Self::from_text(&String::deserialize(from)?).map_err(D::Error::custom)
    }
}

/// One side of a join: an edge, or several that follow one another, written with ` + ` between them.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct JoinSide(pub Vec<EdgeName>);

impl fmt::Display for JoinSide {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let names: Vec<String> = self.0.iter().map(EdgeName::to_string).collect();
        f.write_str(&names.join(" + "))
    }
}

impl<'de> Deserialize<'de> for JoinSide {
    fn deserialize<D: Deserializer<'de>>(from: D) -> Result<Self, D::Error> {
        let text = String::deserialize(from)?;
        text.split('+').map(EdgeName::from_text).collect::<Result<_, _>>().map(Self).map_err(D::Error::custom)
    }
}

/// Two edges (or rows of edges) that are sewn together.
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Join {
    /// Each as `piece: edge`, or `piece: edge + piece: edge` where several follow one another.
    #[serde(deserialize_with = "two")]
    pub edges: [JoinSide; 2],
    /// How much longer the first is than the second.
    #[serde(default)]
    pub ease: Option<Length>,
    /// How far the difference may be off that ease before it is told.
    #[serde(default, deserialize_with = "some_length")]
    pub tolerance: Option<Length>,
    /// A corner of the first and one of the second that lie together when they are sewn, each as `piece: corner`, where
    /// their names don't tell.
    #[serde(default, deserialize_with = "some_two")]
    pub meet: Option<[EdgeName; 2]>,
    /// Where it stands.
    #[serde(skip)]
    pub line: InLine,
}

impl Join {
    /// What is wrong with it: an edge that is sewn to itself. Of a piece that is cut more than once it is sewn to its own likeness, as the centre
    /// back of two backs is.
    pub(super) fn wrong(&self, pieces: &BTreeMap<String, PieceNotes>) -> Option<String> {
        let all: Vec<&EdgeName> = self.edges.iter().flat_map(|side| &side.0).collect();
        let same = |a: &EdgeName, b: &EdgeName| alike(&a.piece, &b.piece) && alike(&a.edge, &b.edge);
        let twice = all.iter().enumerate().find(|(k, a)| all[k + 1..].iter().any(|b| same(a, b)));
        let one = twice.map(|(_, one)| one).filter(|e| cut_of(pieces, &e.piece).is_none_or(|cut| cut.count < 2))?;
        let piece = &one.piece;
        Some(format!(
            "{one} is sewn to itself, and {piece} is not cut more than once; name another edge, or say of {piece} that it is: cut = \"2, mirrored\""
        ))
    }
}

/// How a piece is cut, by its own notes or by those of the piece it is derived from.
pub fn cut_of<'a>(pieces: &'a BTreeMap<String, PieceNotes>, name: &str) -> Option<&'a Cut> {
    let of = |name: &str| pieces.iter().find(|(n, _)| alike(n, name)).map(|(_, p)| p);
    let mut own = of(name);
    // Pieces may be derived from derived ones, never in a ring.
    for _ in 0..=pieces.len() {
        match own {
            Some(PieceNotes { cut: Some(cut), .. }) => return Some(cut),
            Some(PieceNotes { from: Some(from), .. }) => own = of(from),
            _ => break,
        }
    }
    None
}
