//! Finds the sheet's lattice: its nodes to a fraction of a pixel, each with a whole-number address.
//!
//! In: an upright picture and what is known of the sheet. Out: a [`Lattice`], or a [`GridError`] in plain words.
//!
//! | step | file |
//! |---|---|
//! | ridges of lines (Steger 1998), linked, cut with one another; dots, crosses, checker corners | `ridge`, `stroke`, `lines`, `dots`, `crosses`, `checker` |
//! | lattices grown best-first from seeds all over the picture | `field`, `grow` |
//! | where no whole square is in view: two pencils of long lines, partly hidden; led on from crossing to crossing | `long`, `joints`, `led` |
//! | carried over the garment by a smooth map | `map`, `complete` |
//! | nodes measured at full resolution in windows that never reach the next node (Geiger et al. 2012) | `arms`, `profile`, `dots`, `crosses`, `checker` |
//! | how large dots and crosses are | `stamp` |
//! | nodes that do not lie with their neighbours dropped; the sheet's lattice chosen: it lies round all others and skips no marks | `settle`, `skipped`, `choose` |
//! | the two parts of a sheet that cloth lies across from frame to frame put together | `across` |
//! | taken down to the finest lines; which are heavier, and of which the pitch told is | `finer`, `refine`, `looks`, `period`, `level` |
//! | numbered, checked against nodes kept out, and doubted | `number`, `check`, `doubts` |
//! | the position code of a coded sheet read, and every node given its address on the sheet; patches put together by it | `code`, `coded` |

mod across;
mod arms;
mod blobs;
mod candidate;
mod check;
pub mod checker;
mod choose;
mod code;
mod coded;
mod complete;
pub mod crosses;
mod damped;
pub mod dots;
mod doubts;
mod error;
mod field;
mod finer;
mod grow;
mod joints;
mod led;
mod level;
mod lines;
mod long;
mod looks;
mod map;
mod number;
mod patch;
mod period;
mod profile;
mod refine;
mod ridge;
mod seek;
mod settle;
mod skipped;
mod spot;
mod square;
mod stamp;
mod stroke;

pub use candidate::Candidate;
pub use choose::find;
pub use error::{GridError, words};

use crate::length::{Mm, Px};
use crate::proof::Doubt;
use crate::sheet::{SheetCode, SheetKind, SheetLay};
use std::collections::BTreeMap;

/// One node of the sheet seen in the picture.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Node {
    /// Where it is seen.
    pub at: Px,
    /// Its address along x, in squares from the origin node.
    pub i: i32,
    /// Its address along y (down).
    pub j: i32,
    /// Standard error of each coordinate, px.
    pub error: f64,
}

/// A line against the usual one of its sheet, as seen.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct LineWeight {
    /// How many times as wide, blur included.
    pub width: f64,
    /// How many times as deep.
    pub depth: f64,
}

/// Lines that are not of the usual weight, by their number.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct LineWeights {
    /// Lines at a whole address i, which run down.
    pub down: BTreeMap<i32, LineWeight>,
    /// Lines at a whole address j, which run across.
    pub across: BTreeMap<i32, LineWeight>,
}

/// The nodes found, numbered.
///
/// On a coded sheet the addresses are the sheet's own. On others address (0, 0) is the node nearest the picture's centre; i grows along
/// the lattice direction nearest the picture's right, j along the one nearest its bottom. The numbering is never mirrored.
#[derive(Clone, Debug, PartialEq)]
pub struct Lattice {
    /// How the sheet is marked, as found or as told.
    pub kind: SheetKind,
    /// Which coded sheet it is.
    pub code: Option<SheetCode>,
    /// Distance of neighbouring nodes along x and y, mm: the pitch told, or a part of it where that is the heavier lines'.
    pub pitch: [f64; 2],
    /// How the sheet lies, where it is known to lie otherwise than its lines say.
    pub lay: SheetLay,
    /// Nodes that were seen, sorted by (j, i).
    pub nodes: Vec<Node>,
    /// Typical half-width of the ruled marks as seen (at half depth, blur included), mm, for drawing what the bare sheet would
    /// look like. Zero for a checker.
    pub mark_half_width: f64,
    /// How far a dot or the arms of a cross reach from their node as seen, mm; zero for other kinds.
    pub mark_reach: f64,
    /// Whether dots are filled squares, which count by their centres.
    pub squares: bool,
    /// How much darker the middle of a line is than the ground beside it, as a share of the ground in linear light; negative for
    /// light lines, zero for kinds without lines.
    pub mark_contrast: f32,
    /// Lines heavier or lighter than usual; none for kinds without lines.
    pub line_weights: LineWeights,
    /// How well nodes kept out of a smooth fit are met by it.
    pub kept_out: KeptOut,
    /// What may be wrong with it.
    pub doubts: Vec<Doubt>,
}

impl Lattice {
    /// Where an address lies on the sheet.
    pub fn place(&self, i: f64, j: f64) -> Mm {
        self.lay.lying(Mm::new(i * self.pitch[0], j * self.pitch[1]))
    }
}

impl Default for Lattice {
    /// An empty lattice of lines a millimetre apart, to be filled in.
    fn default() -> Self {
        Self {
            kind: SheetKind::Lines,
            code: None,
            pitch: [1.0; 2],
            lay: SheetLay::default(),
            nodes: Vec::new(),
            mark_half_width: 0.0,
            mark_reach: 0.0,
            squares: false,
            mark_contrast: 0.0,
            line_weights: LineWeights::default(),
            kept_out: KeptOut::default(),
            doubts: Vec::new(),
        }
    }
}

/// The independent check of a lattice: one node in ten is left out of a smooth fit (homography and radial lens) and compared with it.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct KeptOut {
    /// Nodes kept out.
    pub nodes: usize,
    /// Root mean square of a coordinate's difference, px.
    pub rms_px: f64,
}

/// What may be set about the search.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Settings {
    /// Long side of the reduced level that is searched first, px. Default 2100: lines of a phone picture keep 1–2 px there. Time
    /// grows with its square; half and double of it are tried when nothing is found.
    pub search_px: usize,
}

impl Default for Settings {
    fn default() -> Self {
        Self { search_px: 2100 }
    }
}
