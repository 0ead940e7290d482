//! Corrections as the page sends them.

use crate::notes::{Belongs, EdgeIs, Line, NotchStyle};
use crate::write::Record;
use serde::{Deserialize, Deserializer};

/// A correction. Places are sheet mm at the cloth's height; pieces, corners and edges are places in the record's lists, `n` places in the
/// lists of the notes.
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[serde(tag = "do", deny_unknown_fields)]
#[allow(missing_docs)] // the words of the page say it
pub enum Mend {
    #[serde(rename = "move corner")]
    MoveCorner { piece: usize, corner: usize, to: [f64; 2] },
    #[serde(rename = "name corner")]
    NameCorner { piece: usize, corner: usize, name: String },
    #[serde(rename = "add corner")]
    AddCorner {
        at: [f64; 2],
        name: String,
        #[serde(default)]
        round: bool,
    },
    /// The outline only bends there.
    #[serde(rename = "no corner")]
    NoCorner { piece: usize, corner: usize },
    /// What the notes say of it goes.
    #[serde(rename = "drop corner")]
    DropCorner { name: String },
    #[serde(rename = "through")]
    Through { at: [f64; 2] },
    #[serde(rename = "drop through")]
    DropThrough { n: usize },
    #[serde(rename = "draw seam")]
    DrawSeam {
        #[serde(default)]
        name: Option<String>,
        through: Vec<[f64; 2]>,
    },
    #[serde(rename = "drop seam")]
    DropSeam { n: usize },
    #[serde(rename = "region")]
    Region { is: Belongs, border: Vec<[f64; 2]> },
    #[serde(rename = "drop region")]
    DropRegion { n: usize },
    #[serde(rename = "edge")]
    Edge {
        piece: usize,
        edge: usize,
        /// Each `null` takes what is said away, left out leaves it.
        #[serde(default, deserialize_with = "given")]
        name: Option<Option<String>>,
        #[serde(default, deserialize_with = "given")]
        straight: Option<Option<bool>>,
        #[serde(default, deserialize_with = "given")]
        line: Option<Option<Line>>,
        #[serde(default, deserialize_with = "given")]
        is: Option<Option<EdgeIs>>,
    },
    #[serde(rename = "settings")]
    Settings {
        #[serde(default, deserialize_with = "given")]
        thickness: Option<Option<String>>,
        #[serde(default, deserialize_with = "given")]
        allowance: Option<Option<String>>,
        #[serde(default, deserialize_with = "given")]
        line: Option<Option<Line>>,
        #[serde(default, deserialize_with = "given")]
        pieces: Option<Option<u32>>,
        #[serde(default, deserialize_with = "given")]
        sheet: Option<Option<String>>,
        #[serde(default, deserialize_with = "given")]
        pitch: Option<Option<String>>,
        #[serde(default, deserialize_with = "given")]
        piece: Option<Option<String>>,
    },
    /// Left out of the picture.
    #[serde(rename = "drop piece")]
    DropPiece { piece: usize },
    /// Parted along a line.
    #[serde(rename = "split")]
    Split { line: Vec<[f64; 2]> },
    #[serde(rename = "centre")]
    Centre { piece: usize, spots: Option<[[f64; 2]; 2]> },
    #[serde(rename = "notch")]
    Notch {
        piece: usize,
        edge: usize,
        at_mm: f64,
        #[serde(default)]
        style: Option<NotchStyle>,
        #[serde(default)]
        count: Option<u32>,
    },
    #[serde(rename = "drop notch")]
    DropNotch { piece: usize, n: usize },
}

/// What is said of an edge: nothing where it stays, `Some(None)` where it goes.
#[derive(Clone, Copy, Debug, PartialEq)]
#[allow(missing_docs)]
pub struct EdgeSaid<'a> {
    pub name: Option<Option<&'a str>>,
    pub straight: Option<Option<bool>>,
    pub line: Option<Option<Line>>,
    pub is: Option<Option<EdgeIs>>,
}

/// Keys of a picture: nothing where one stays, `Some(None)` where it goes.
#[derive(Clone, Copy, Debug, PartialEq)]
#[allow(missing_docs)]
pub struct Settings<'a> {
    pub thickness: Option<Option<&'a str>>,
    pub allowance: Option<Option<&'a str>>,
    pub line: Option<Option<Line>>,
    pub pieces: Option<Option<u32>>,
    pub sheet: Option<Option<&'a str>>,
    pub pitch: Option<Option<&'a str>>,
    pub piece: Option<Option<&'a str>>,
}

/// A field that may be `null`, told apart from one that is left out.
fn given<'de, T: Deserialize<'de>, D: Deserializer<'de>>(from: D) -> Result<Option<Option<T>>, D::Error> {
    Option::deserialize(from).map(Some)
}

/// What a thing is called in a sentence: one with a number by it, one with a name by what it is and its name.
fn the(what: &str, name: Option<&str>) -> String {
    match name {
        Some(name) if name.starts_with(what) => name.to_owned(),
        Some(name) => format!("the {what} {name}"),
        None => format!("the {what}"),
    }
}

impl Mend {
    /// What was done, in words: what undoing it undoes.
    pub fn words(&self, record: Option<&Record>) -> String {
        let piece = |p: usize| record.and_then(|r| r.pieces.get(p));
        let corner = |p: usize, c: usize| the("corner", piece(p).and_then(|p| p.corners.get(c)).map(|c| c.name.as_str()));
        let edge = |p: usize, e: usize| the("edge", piece(p).and_then(|p| p.edges.get(e)).map(|e| e.name.as_str()));
        let own = |p: usize| the("piece", piece(p).map(|p| p.name.as_str()));
        match self {
            Self::MoveCorner { piece, corner: c, .. } => format!("moved {}", corner(*piece, *c)),
            Self::NameCorner { piece, corner: c, name } => format!("called {} {}", corner(*piece, *c), name.trim()),
            Self::AddCorner { name, round: false, .. } => format!("set the corner {}", name.trim()),
            Self::AddCorner { name, round: true, .. } => format!("said that there is no corner at {}", name.trim()),
            Self::NoCorner { piece, corner: c } => format!("took {} for a bend", corner(*piece, *c)),
            Self::DropCorner { name } => format!("took away what was said of the corner {}", name.trim()),
            Self::Through { .. } => "set a through-point".into(),
            Self::DropThrough { .. } => "took a through-point away".into(),
            Self::DrawSeam { name: Some(name), .. } => format!("drew the seam {}", name.trim()),
            Self::DrawSeam { name: None, .. } => "drew a seam".into(),
            Self::DropSeam { .. } => "took a seam away".into(),
            Self::Region { is: Belongs::Kept, .. } => "kept a region".into(),
            Self::Region { is: Belongs::LeftOut, .. } => "left a region out".into(),
            Self::DropRegion { .. } => "took a region away".into(),
            Self::Edge { piece, edge: e, .. } => format!("said something of {}", edge(*piece, *e)),
            Self::Settings { .. } => format!("changed {}", self.settings_words()),
            Self::DropPiece { piece } => format!("left {} out", own(*piece)),
            Self::Split { .. } => "parted a piece".into(),
            Self::Centre { piece, spots: Some(_) } => format!("set the centre of {}", own(*piece)),
            Self::Centre { piece, spots: None } => format!("took the centre of {} away", own(*piece)),
            Self::Notch { piece, edge: e, .. } => format!("set a notch in {}", edge(*piece, *e)),
            Self::DropNotch { .. } => "took a notch away".into(),
        }
    }

    /// Which settings it touches.
    fn settings_words(&self) -> String {
        let Self::Settings { thickness, allowance, line, pieces, sheet, pitch, piece } = self else { return String::new() };
        let touched = [
            (thickness.is_some(), "thickness"),
            (allowance.is_some(), "allowance"),
            (line.is_some(), "line"),
            (pieces.is_some(), "number of pieces"),
            (sheet.is_some(), "sheet"),
            (pitch.is_some(), "pitch"),
            (piece.is_some(), "piece"),
        ];
        let words: Vec<&str> = touched.iter().filter(|(is, _)| *is).map(|(_, word)| *word).collect();
        if words.is_empty() { "nothing".into() } else { words.join(", ") }
    }
}
