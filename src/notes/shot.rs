//! One picture: how the garment lies in it, places and lines in it, and marks laid by hand.

use super::is_number;
use crate::length::{Length, Px};
use serde::{Deserialize, Serialize};

/// One picture and what lies in it.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct ShotNotes {
    /// File name, from the folder of the notes.
    pub picture: Option<String>,
    /// Several pictures of one laying on one sheet that overlap and are joined to one tracing, instead of `picture`.
    pub pictures: Vec<String>,
    /// Places seen in two of them: their numbers and pixels.
    pub same: Vec<[(usize, Px); 2]>,
    /// Which piece it shows.
    pub piece: Option<String>,
    /// Which laying of that piece: pictures of one laying have one word, between pictures without a word it was laid anew.
    pub laying: Option<String>,
    /// Who took it, where that is not whoever took the garment's record.
    pub recorded_by: Option<String>,
    /// Edges that the piece takes from this laying when it is put together from several.
    pub gives: Vec<String>,
    /// How the garment lies: as worn, or inside out.
    pub side: Option<ClothSide>,
    /// Which side of the cloth faces the camera, where that differs from how the garment lies: a loose piece, or a front
    /// seen from within.
    pub faces: Option<Face>,
    /// Which side of the garment is seen.
    pub up: Option<Up>,
    /// Kind, name or file of the sheet.
    pub sheet: Option<String>,
    /// Distance of neighbouring nodes of the sheet.
    pub pitch: Option<Length>,
    /// Height of the visible edge above the sheet.
    pub thickness: Option<Length>,
    /// Which line the outline is: the rim, or the stitch line inside the allowance that is shown.
    pub line: Option<Line>,
    /// Cloth beyond the stitch line that is shown.
    pub allowance: Option<Length>,
    /// How many pieces lie on the sheet.
    pub pieces: Option<u32>,
    /// What lies between sheet and garment and is never traced.
    pub under: Option<String>,
    /// The sheet, with what lies between, in a picture taken before the garment was laid on it.
    pub bare: Option<String>,
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
    /// Whether the cloth is seen from its wrong side, so that the piece is mirrored to what the wearer shows; `None` when nobody
    /// said.
    pub fn wrong_side_up(&self) -> Option<bool> {
        self.faces.map(|f| f == Face::Wrong).or_else(|| self.side.map(|s| s == ClothSide::InsideOut))
    }

    /// Every place the notes give, with what it is the place of.
    pub fn places(&self) -> impl Iterator<Item = (&'static str, &Place)> {
        let corners = self.corners.iter().map(|c| ("a corner", &c.at));
        let inner = self.inner.iter().flat_map(|i| i.through.iter().map(|p| ("a seam within", p)));
        let regions = self.regions.iter().flat_map(|r| r.border.iter().map(|p| ("a region", p)));
        let edges = self.edges.iter().flat_map(|e| e.through.iter().map(|p| ("an edge", p)));
        corners.chain(edges).chain(inner).chain(regions).chain(self.through.iter().map(|p| ("a through-point", p)))
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
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
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

/// Which side of the cloth faces the camera.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Deserialize)]
pub enum Face {
    /// The side that shows when it is worn.
    #[serde(rename = "right side")]
    Right,
    /// The side towards the wearer.
    #[serde(rename = "wrong side")]
    Wrong,
}

/// How the garment lies.
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
    /// In which of several pictures that are joined its pixels are; the first when left out.
    pub picture: Option<String>,
    /// Whether the outline only bends there, however tightly, and has no corner.
    pub round: bool,
    /// Whether it lies where it is said to, also where the edges beside it, as found, would cross elsewhere.
    pub exact: bool,
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
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Line {
    /// Where cloth ends and sheet begins.
    Rim,
    /// The stitch line, or a seam within the piece.
    Seam,
    /// A folded edge.
    Fold,
}

/// What an edge of the cloth is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Deserialize)]
#[allow(missing_docs)] // the words say it
pub enum EdgeIs {
    #[serde(rename = "seam")]
    Seam,
    #[serde(rename = "hem fold")]
    HemFold,
    #[serde(rename = "centre fold")]
    CentreFold,
    /// A fold that is neither: of a one-piece sleeve, a trouser leg, a pleat.
    #[serde(rename = "folded edge")]
    FoldedEdge,
    #[serde(rename = "raw edge")]
    RawEdge,
    #[serde(rename = "bound edge")]
    BoundEdge,
    /// Turned in with a facing or lining.
    #[serde(rename = "faced edge")]
    FacedEdge,
    #[serde(rename = "selvedge")]
    Selvedge,
}

impl EdgeIs {
    /// All of them.
    pub const ALL: [Self; 8] =
        [Self::Seam, Self::HemFold, Self::CentreFold, Self::FoldedEdge, Self::RawEdge, Self::BoundEdge, Self::FacedEdge, Self::Selvedge];

    /// Its words.
    pub fn word(self) -> &'static str {
        match self {
            Self::Seam => "seam",
            Self::HemFold => "hem fold",
            Self::CentreFold => "centre fold",
            Self::FoldedEdge => "folded edge",
            Self::RawEdge => "raw edge",
            Self::BoundEdge => "bound edge",
            Self::FacedEdge => "faced edge",
            Self::Selvedge => "selvedge",
        }
    }
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
    /// Places it runs through between its corners, for a line within the cloth that bends far or has rivals.
    pub through: Vec<Place>,
    /// What it is.
    pub is: Option<EdgeIs>,
    /// How far the true seam lies inside the line that is seen; less than nothing when it lies beyond it.
    pub true_seam: Option<Length>,
    /// Nobody measured it: it is drawn, and labelled as assumed.
    pub assumed: bool,
    /// Height of this edge above the sheet.
    pub thickness: Option<Length>,
    /// What lies under it.
    pub under: Option<String>,
    /// Whether it is drawn with a ruler, whatever was found.
    pub straight: bool,
}

impl EdgeNotes {
    /// What is said of each edge of an outline with such corners, the first starting at the first; and which stretch it is, where corners that
    /// nobody named part what is one edge to the notes. Either corner may be told first, unless both edges between two corners are meant apart.
    pub fn told<'a>(noted: &'a [Self], corners: &[&str]) -> Vec<Option<(&'a Self, usize)>> {
        let n = corners.len();
        let mut out: Vec<Option<(&Self, usize)>> = vec![None; n];
        let place = |name: &str| corners.iter().position(|c| *c == name);
        let ends = noted.iter().filter_map(|e| Some((e, place(&e.from)?, place(&e.to)?))).filter(|(_, i, j)| i != j);
        let mut runs: Vec<(&Self, Vec<usize>)> = ends
            .filter_map(|(e, i, j)| {
                let run = |i: usize, j: usize| (0..(j + n - i) % n).map(|k| (i + k) % n).collect::<Vec<_>>();
                let (there, back) = (run(i, j), run(j, i));
                let free = |run: &Vec<usize>| run[1..].iter().all(|k| is_number(corners[*k]));
                let single = [&there, &back].into_iter().find(|r| r.len() == 1);
                single.or_else(|| [&there, &back].into_iter().find(|r| free(r))).map(|r| (e, r.clone()))
            })
            .collect();
        runs.sort_by_key(|(_, run)| run.len());
        for (e, run) in runs {
            for (stretch, k) in run.into_iter().enumerate() {
                out[k] = out[k].or(Some((e, stretch)));
            }
        }
        out
    }

    /// Whether it is the edge between two corners, in either order.
    pub fn joins(&self, a: &str, b: &str) -> bool {
        (self.from.as_str(), self.to.as_str()) == (a, b) || (self.to.as_str(), self.from.as_str()) == (a, b)
    }
}
