//! Garment notes: what a person knows and the picture can't say.
//!
//! `garment.toml` in, [`Notes`] out, every fault with its line. All of it is optional. [`Draft`] changes a file in
//! place and keeps the person's comments and order.
//!
//! | module | does |
//! |---|---|
//! | `read` | text to [`Notes`], checked |
//! | `given` | the same of places, marks laid by hand and hints |
//! | `draft` | changes to a file that keep everything else as it was |
//! | `fault` | what is wrong, and in which line |

mod draft;
mod fault;
mod given;
mod read;

pub use draft::Draft;
pub use fault::Fault;

use crate::length::{Length, Px};
use serde::Deserialize;
use std::collections::BTreeMap;

/// All that `garment.toml` says.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Notes {
    /// The garment itself.
    pub garment: Garment,
    /// Its pictures.
    pub shots: Vec<ShotNotes>,
    /// What is known of pieces, by name.
    pub pieces: BTreeMap<String, PieceNotes>,
    /// Edges that are sewn together.
    pub joins: Vec<Join>,
}

/// The garment as an object: what a record of it needs. Texts as the person wrote them.
#[derive(Clone, Debug, Default, PartialEq, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct Garment {
    /// What it is called.
    pub name: Option<String>,
    /// Object or stock number.
    pub number: Option<String>,
    /// Accession number of a collection.
    pub accession: Option<String>,
    /// Who made it.
    pub maker: Option<String>,
    /// When it was made.
    pub date: Option<String>,
    /// Where it was made.
    pub place: Option<String>,
    /// Cloth, lining, fastenings.
    pub materials: Option<String>,
    /// Size as labelled.
    pub size: Option<String>,
    /// State, repairs, losses.
    pub condition: Option<String>,
    /// Where it came from.
    pub provenance: Option<String>,
    /// Who took the record.
    pub recorded_by: Option<String>,
    /// When the record was taken.
    pub recorded_on: Option<String>,
    /// Who may use the record, and how.
    pub rights: Option<String>,
    /// Anything else.
    pub remarks: Option<String>,
    /// Nothing may touch, turn, flatten or weight it.
    pub fragile: bool,
    /// Further words under names of one's own (`[garment.more]`).
    pub more: BTreeMap<String, String>,
}

/// One picture and what lies in it.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct ShotNotes {
    /// File name, from the folder of the notes.
    pub picture: Option<String>,
    /// Which piece it shows.
    pub piece: Option<String>,
    /// Which side of the cloth is seen.
    pub side: Option<ClothSide>,
    /// Which side of the garment is seen.
    pub up: Option<Up>,
    /// Kind, name or file of the sheet.
    pub sheet: Option<String>,
    /// Distance of neighbouring nodes of the sheet.
    pub pitch: Option<Length>,
    /// Height of the visible edge above the sheet.
    pub thickness: Option<Length>,
    /// Cloth beyond the stitch line that is shown.
    pub allowance: Option<Length>,
    /// What lies between sheet and garment and is never traced.
    pub under: Option<String>,
    /// Places of a plain sheet that are known: where in the upright picture, where on the sheet.
    pub at: Vec<(Px, [Length; 2])>,
    /// Corners that were named.
    pub corners: Vec<CornerNotes>,
    /// Edges of which something is known.
    pub edges: Vec<EdgeNotes>,
    /// Marks laid by hand, each kind and colour by itself.
    pub marks: Vec<MarksNotes>,
    /// Seams within the piece.
    pub inner: Vec<InnerNotes>,
    /// Parts of the picture that belong to a piece, or don't.
    pub regions: Vec<RegionNotes>,
    /// Places through which the rim passes.
    pub through: Vec<Place>,
}

impl ShotNotes {
    /// Every place the notes give, with what it is the place of.
    pub fn places(&self) -> impl Iterator<Item = (&'static str, &Place)> {
        let corners = self.corners.iter().map(|c| ("a corner", &c.at));
        let inner = self.inner.iter().flat_map(|i| i.through.iter().map(|p| ("a seam within", p)));
        let regions = self.regions.iter().flat_map(|r| r.border.iter().map(|p| ("a region", p)));
        corners.chain(inner).chain(regions).chain(self.through.iter().map(|p| ("a through-point", p)))
    }
}

/// Marks of one kind (and one colour, when it is given) that a person laid on the garment or on the sheet.
#[derive(Clone, Debug, PartialEq)]
pub struct MarksNotes {
    /// What they are.
    pub are: MarkKind,
    /// Their colour, needed only to tell them from other marks or from buttons and print.
    pub colour: Option<MarkColour>,
    /// In which order they are counted.
    pub counted: Counted,
    /// Their names in that order; none when they are known by number.
    pub names: Vec<String>,
}

/// What lies there as a mark.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum MarkKind {
    /// Round stickers.
    Stickers,
    /// Round heads of pins.
    Pins,
    /// Slim triangles of paper that lie on the sheet and point at the garment with their tips.
    Pointers,
}

impl MarkKind {
    /// The word for several of them.
    pub fn word(self) -> &'static str {
        match self {
            Self::Stickers => "stickers",
            Self::Pins => "pins",
            Self::Pointers => "pointers",
        }
    }
}

/// A strong colour by its everyday name.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "lowercase")]
#[allow(missing_docs)] // the names say it
pub enum MarkColour {
    Red,
    Orange,
    Yellow,
    Green,
    Blue,
    Purple,
    Pink,
}

/// How a person counts marks.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Counted {
    /// From the topmost in the picture on, round the middle of them all.
    #[default]
    Clockwise,
    /// Rows from top to bottom, each from left to right.
    Rows,
}

/// A seam within the piece.
#[derive(Clone, Debug, PartialEq)]
pub struct InnerNotes {
    /// Its name, when it has one.
    pub name: Option<String>,
    /// Its ends, and places it runs through between them.
    pub through: Vec<Place>,
}

/// A part of the picture of which a person says whether it belongs to a piece.
#[derive(Clone, Debug, PartialEq)]
pub struct RegionNotes {
    /// Whether it belongs to a piece or not.
    pub is: Belongs,
    /// Its border, three places or more, in order.
    pub border: Vec<Place>,
}

/// Whether a region belongs to a piece.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Deserialize)]
pub enum Belongs {
    /// It does.
    #[serde(rename = "kept")]
    Kept,
    /// It doesn't.
    #[serde(rename = "left out")]
    LeftOut,
}

/// Which side of the cloth is seen.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Deserialize)]
pub enum ClothSide {
    /// The garment lies inside out.
    #[serde(rename = "inside out")]
    InsideOut,
    /// As worn.
    #[serde(rename = "outside")]
    Outside,
}

/// Which side of the garment is seen.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Up {
    /// The wearer's front.
    Front,
    /// The wearer's back.
    Back,
}

/// A named corner.
#[derive(Clone, Debug, PartialEq)]
pub struct CornerNotes {
    /// Its name, the only one of that name in its picture.
    pub name: String,
    /// Where it is.
    pub at: Place,
    /// Whether the outline only bends there, however tightly, and has no corner.
    pub round: bool,
}

/// Where something is, as the notes say it.
#[derive(Clone, Debug, PartialEq)]
pub enum Place {
    /// In pixels of the upright picture.
    Px(Px),
    /// On a sheet that knows its own places.
    Mm([Length; 2]),
    /// Where a mark laid by hand was found.
    Mark(MarkName),
}

/// One of the marks laid by hand.
#[derive(Clone, Debug, PartialEq, Eq, Deserialize)]
#[serde(untagged)]
pub enum MarkName {
    /// By its number in the order of counting, from 1; numbers run on from one `[[shot.marks]]` to the next.
    Number(usize),
    /// By its name.
    Name(String),
}

impl std::fmt::Display for MarkName {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::Number(n) => write!(f, "{n}"),
            Self::Name(name) => write!(f, "\"{name}\""),
        }
    }
}

/// How the line of an edge is seen.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Line {
    /// Where cloth ends and sheet begins.
    Rim,
    /// The stitch line, or a seam within the piece.
    Seam,
    /// A folded edge.
    Fold,
}

/// What is known of the edge between two named corners.
#[derive(Clone, Debug, PartialEq)]
pub struct EdgeNotes {
    /// Its own name, when it has one.
    pub name: Option<String>,
    /// Name of the corner it starts at; edges run clockwise as seen.
    pub from: String,
    /// Name of the corner it ends at.
    pub to: String,
    /// How it is seen.
    pub line: Option<Line>,
    /// What it is: hem fold, raw edge, bound edge, selvedge …
    pub is: Option<String>,
    /// Height of this edge above the sheet.
    pub thickness: Option<Length>,
    /// What lies under it.
    pub under: Option<String>,
    /// Whether it is drawn with a ruler, whatever was found.
    pub straight: bool,
}

/// What is known of a piece.
#[derive(Clone, Debug, Default, PartialEq, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct PieceNotes {
    /// How many are cut, and how: `1, place on fold`.
    pub cut: Option<String>,
    /// Allowance by edge; `all` for the rest.
    pub allowance: BTreeMap<String, Length>,
}

/// Two edges that are sewn together.
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Join {
    /// Each as `piece: edge`.
    pub edges: [String; 2],
    /// How much longer the first is than the second.
    #[serde(default)]
    pub ease: Option<Length>,
}

impl EdgeNotes {
    /// Whether it is the edge between two corners, in either order.
    pub fn joins(&self, a: &str, b: &str) -> bool {
        (self.from.as_str(), self.to.as_str()) == (a, b) || (self.to.as_str(), self.from.as_str()) == (a, b)
    }
}

impl Notes {
    /// Reads the text of a `garment.toml`.
    ///
    /// # Errors
    /// It is no TOML, has a key that is not known here, a value of the wrong kind or without its unit, two corners or marks
    /// of one name in one picture, an edge that names a corner which is not there, a place that names no mark, a region
    /// that crosses itself, or stickers or pins on a fragile garment.
    pub fn from_text(text: &str) -> Result<Self, Fault> {
        read::notes(text)
    }
}
