//! What a person knows of a piece: how it is cut, its grain, notches and marks.

use super::fullness::{Dart, Gather, Pleat};
use super::garment::Directions;
use super::in_line::PieceLines;
use super::meant::Called;
use super::values::{Two, length, notches, some_length, two};
use crate::length::{Length, Px};
use serde::Deserialize;
use serde::de::{Deserializer, Error, MapAccess, Visitor, value::MapAccessDeserializer};
use std::collections::BTreeMap;
use std::fmt;

/// What is known of a piece.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct PieceNotes {
    /// What kind of piece it is, when its name doesn't say.
    pub kind: Option<PieceKind>,
    /// How many are cut, and how.
    pub cut: Option<Cut>,
    /// What it is cut from: outer cloth, lining, interfacing …
    pub cloth: Option<String>,
    /// Allowance by edge; `all` for the rest. Chosen, never measured: a finished garment does not show it.
    pub allowance: BTreeMap<String, Length>,
    /// How the threads or wales run.
    pub grain: Option<Grain>,
    /// Two places on its centre (placket, centre-back seam, stickers).
    pub centre: Option<[Spot; 2]>,
    /// The edge it is unfolded about, or that is placed on the fold.
    pub fold: Option<String>,
    /// Which half is kept.
    pub keep: Option<Keep>,
    /// What is made of several layings of it; nothing, and they are compared, each a piece by itself.
    pub layings: Option<LayingsMake>,
    /// Whether edges that meet the fold of a kept half are bent to meet it at a right angle.
    pub squared: bool,
    /// Whether its darts, pleats and gathers are opened in its pattern.
    pub open: bool,
    /// What the turn of the cloth and its thread take up at each edge that is sewn or folded; nothing unless it is asked for.
    pub take_up: Option<Length>,
    /// Length of a band or rib taken off and relaxed.
    pub relaxed: Option<Length>,
    /// As [`super::Garment::stretch`], where this piece's cloth differs.
    pub stretch: Directions,
    /// As [`super::Garment::shrinkage`], where this piece's cloth differs.
    pub shrinkage: Directions,
    /// Darts.
    pub darts: Vec<Dart>,
    /// Pleats and tucks.
    pub pleats: Vec<Pleat>,
    /// Gathers and elastic.
    pub gathers: Vec<Gather>,
    /// Notches in its edges.
    pub notches: Vec<Notch>,
    /// Placement marks within it.
    pub marks: Vec<PieceMark>,
    /// The piece it is derived from, as that is drafted: a facing, a lining.
    pub from: Option<String>,
    /// The edges of that piece that a facing lies along; none for a lining.
    pub along: Vec<String>,
    /// How wide a facing is.
    pub width: Option<Length>,
    /// Anything else.
    pub remarks: Option<String>,
    /// Where all that stands.
    pub lines: PieceLines,
}

/// Kinds of pieces that are recognised.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Deserialize)]
#[serde(rename_all = "lowercase")]
#[allow(missing_docs)] // the names say it
pub enum PieceKind {
    #[serde(rename = "body front")]
    BodyFront,
    #[serde(rename = "body back")]
    BodyBack,
    Sleeve,
    #[serde(rename = "trouser front")]
    TrouserFront,
    #[serde(rename = "trouser back")]
    TrouserBack,
    #[serde(rename = "skirt panel")]
    SkirtPanel,
    Collar,
    Cuff,
    Pocket,
    Waistband,
    Yoke,
}

impl PieceKind {
    /// All of them.
    pub const ALL: [Self; 11] = [
        Self::BodyFront,
        Self::BodyBack,
        Self::Sleeve,
        Self::TrouserFront,
        Self::TrouserBack,
        Self::SkirtPanel,
        Self::Collar,
        Self::Cuff,
        Self::Pocket,
        Self::Waistband,
        Self::Yoke,
    ];

    /// Its words.
    pub fn word(self) -> &'static str {
        match self {
            Self::BodyFront => "body front",
            Self::BodyBack => "body back",
            Self::Sleeve => "sleeve",
            Self::TrouserFront => "trouser front",
            Self::TrouserBack => "trouser back",
            Self::SkirtPanel => "skirt panel",
            Self::Collar => "collar",
            Self::Cuff => "cuff",
            Self::Pocket => "pocket",
            Self::Waistband => "waistband",
            Self::Yoke => "yoke",
        }
    }

    /// What the words of a record say.
    pub fn from_word(word: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|k| k.word() == word)
    }
}

/// How many are cut, and how: `2, mirrored` or `1, place on fold`.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Cut {
    /// As it was written.
    pub words: String,
    /// How many.
    pub count: u32,
    /// Whether half a piece is drawn and laid on a fold of the cloth.
    pub on_fold: bool,
    /// Whether they are cut in mirrored pairs.
    pub mirrored: bool,
}

/// Words that may stand in how a piece is cut: a slip of the pen in one that matters must not pass in silence.
const CUT_WORDS: [&str; 29] = [
    "mirrored", "mirror", "image", "images", "pair", "pairs", "not", "place", "placed", "on", "the", "a", "of", "fold", "cloth", "fabric",
    "cut", "as", "is", "it", "alike", "same", "each", "in", "one", "and", "single", "double", "layer",
];

impl Cut {
    /// Reads one: how many first, then how.
    ///
    /// # Errors
    /// It doesn't start with a number of pieces.
    pub fn from_text(text: &str) -> Result<Self, String> {
        let words = text.trim();
        let digits = words.bytes().take_while(u8::is_ascii_digit).count();
        let count: u32 = words[..digits].parse().unwrap_or(0);
        if count == 0 {
            return Err(format!(
                "`{words}` doesn't say how many are cut; write the number first, like \"2, mirrored\" or \"1, place on fold\""
            ));
        }
        let low = words[digits..].to_lowercase();
        let all = || low.split(|c: char| !c.is_alphanumeric()).filter(|w| !w.is_empty());
        if let Some(word) = all().find(|w| !CUT_WORDS.contains(w) && !w.bytes().all(|b| b.is_ascii_digit())) {
            return Err(format!(
                "\"{word}\" says nothing of how a piece is cut; write \"2, mirrored\", \"1, place on fold\" or the number alone, and anything else as remarks"
            ));
        }
        let has = |word: &str| all().any(|w| w == word);
        let mirrored = (has("mirrored") || has("mirror") || has("pair") || has("pairs")) && !has("not");
        Ok(Self { words: words.to_owned(), count, on_fold: has("fold"), mirrored })
    }
}

impl<'de> Deserialize<'de> for Cut {
    fn deserialize<D: Deserializer<'de>>(from: D) -> Result<Self, D::Error> {
        Self::from_text(&String::deserialize(from)?).map_err(D::Error::custom)
    }
}

/// Which half of a piece is kept.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Deserialize)]
pub enum Keep {
    /// Both, as they are.
    #[serde(rename = "as is")]
    AsIs,
    /// The wearer's left.
    #[serde(rename = "left")]
    Left,
    /// The wearer's right.
    #[serde(rename = "right")]
    Right,
    /// Their mean about the centre line.
    #[serde(rename = "mean")]
    Mean,
}

/// What is made of several layings of a piece.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Deserialize)]
pub enum LayingsMake {
    /// Their mean.
    #[serde(rename = "mean")]
    Mean,
    /// One piece, with each edge from the laying in which it lay flat.
    #[serde(rename = "put together")]
    PutTogether,
}

/// A place on a piece.
#[derive(Clone, Debug, PartialEq)]
pub enum Spot {
    /// A corner, mark, or seam end by its name.
    Named(String),
    /// In pixels of the upright picture of the piece.
    Px(Px),
    /// On a sheet that knows its own places.
    Mm([Length; 2]),
    /// On an edge, so far along it.
    OnEdge(OnEdge),
}

/// A place on an edge.
#[derive(Clone, Debug, PartialEq)]
pub struct OnEdge {
    /// The edge.
    pub edge: String,
    /// How far along it.
    pub at: Length,
    /// From which of its corners; from where it starts (edges run clockwise as seen) when left out.
    pub from: Option<String>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct SpotTable {
    px: Option<Px>,
    mm: Option<Two<Length>>,
    edge: Option<String>,
    #[serde(default, deserialize_with = "some_length")]
    at: Option<Length>,
    from: Option<String>,
}

impl<'de> Deserialize<'de> for Spot {
    fn deserialize<D: Deserializer<'de>>(from: D) -> Result<Self, D::Error> {
        struct Reader;
        impl<'de> Visitor<'de> for Reader {
            type Value = Spot;

            fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.write_str("a place: the name of a corner or mark, { px = [1204, 1730] } or { edge = \"hem\", at = \"40 mm\" }")
            }

            fn visit_str<E: Error>(self, name: &str) -> Result<Spot, E> {
                match name.trim() {
                    "" => Err(E::custom("a place needs the name of a corner or mark")),
                    name => Ok(Spot::Named(name.to_owned())),
                }
            }

            fn visit_map<A: MapAccess<'de>>(self, map: A) -> Result<Spot, A::Error> {
                let t = SpotTable::deserialize(MapAccessDeserializer::new(map))?;
                match (t.px, t.mm, t.edge, t.at) {
                    (Some(px), None, None, None) if px.is_finite() => Ok(Spot::Px(px)),
                    (Some(_), None, None, None) => Err(A::Error::custom("pixels must be two plain numbers, like px = [1204, 1730]")),
                    (None, Some(mm), None, None) => Ok(Spot::Mm(mm.0)),
                    (None, None, Some(edge), Some(at)) => Ok(Spot::OnEdge(OnEdge { edge, at, from: t.from })),
                    _ => Err(A::Error::custom("a place is said in one way: px, mm on a coded sheet, or edge and at together")),
                }
            }
        }
        from.deserialize_any(Reader)
    }
}

/// How the threads or wales of a piece run, as a person saw them.
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Grain {
    /// Two places on one thread or wale, or the edge or centre it follows.
    pub along: GrainAlong,
    /// How the lengthwise threads run to that line.
    #[serde(default)]
    pub runs: GrainRuns,
}

/// What shows the direction of the grain.
#[derive(Clone, Debug, PartialEq)]
pub enum GrainAlong {
    /// Two places on one thread or wale.
    Spots([Spot; 2]),
    /// An edge, such as a selvedge or a straight fold.
    Edge(String),
    /// The centre line of the piece.
    Centre,
}

impl<'de> Deserialize<'de> for GrainAlong {
    fn deserialize<D: Deserializer<'de>>(from: D) -> Result<Self, D::Error> {
        struct Reader;
        impl<'de> Visitor<'de> for Reader {
            type Value = GrainAlong;

            fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.write_str("\"centre\", the name of an edge, or two places on one thread")
            }

            fn visit_str<E: Error>(self, words: &str) -> Result<GrainAlong, E> {
                match words.trim() {
                    "" => Err(E::custom("say along what the grain runs: \"centre\", the name of an edge, or two places on one thread")),
                    "centre" => Ok(GrainAlong::Centre),
                    edge => Ok(GrainAlong::Edge(edge.to_owned())),
                }
            }

            fn visit_seq<A: serde::de::SeqAccess<'de>>(self, list: A) -> Result<GrainAlong, A::Error> {
                two(serde::de::value::SeqAccessDeserializer::new(list)).map(GrainAlong::Spots)
            }
        }
        from.deserialize_any(Reader)
    }
}

/// How the lengthwise threads run to a line.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum GrainRuns {
    /// Along it.
    #[default]
    Lengthwise,
    /// At right angles to it: cut across the grain.
    Crosswise,
    /// At 45° to it.
    Bias,
}

/// A notch in an edge.
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Notch {
    /// The edge.
    pub edge: String,
    /// How far along it.
    #[serde(deserialize_with = "length")]
    pub at: Length,
    /// From which of its corners; from where it starts (edges run clockwise as seen) when left out.
    #[serde(default)]
    pub from: Option<String>,
    /// Single for front, double for back; by the piece's kind when left out.
    #[serde(default, deserialize_with = "notches")]
    pub count: Option<u32>,
    /// How it is cut.
    #[serde(default)]
    pub style: Option<NotchStyle>,
    /// On a piece that lies folded, or is drawn of one half or the mean of both: on the half that it was seen on alone.
    #[serde(default)]
    pub once: bool,
}

/// How a notch is cut.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Deserialize)]
#[allow(missing_docs)] // the names say it
pub enum NotchStyle {
    #[serde(rename = "slit")]
    Slit,
    #[serde(rename = "V")]
    V,
}

/// A placement mark within the piece.
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct PieceMark {
    /// Its name.
    pub name: String,
    /// Where it is.
    pub at: Spot,
    /// What belongs there: drill hole, button, buttonhole, pocket corner …
    #[serde(default)]
    pub is: Option<String>,
    /// On a piece that lies folded, or is drawn of one half or the mean of both: on the half that it was seen on alone.
    #[serde(default)]
    pub once: bool,
}

impl PieceNotes {
    /// The allowance chosen for an edge, when one is chosen, and the name it was given by.
    pub fn allowance_of(&self, edge: &Called) -> Option<(&str, Length)> {
        let key = edge.key(self.allowance.keys().map(String::as_str))?;
        Some((key, *self.allowance.get(key)?))
    }
}
