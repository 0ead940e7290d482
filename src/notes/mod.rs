//! Garment notes: what a person knows and the picture can't say.
//!
//! `garment.toml` in, [`Notes`] out, every fault with its line. All of it is optional. [`Draft`] changes a file in
//! place and keeps the person's comments and order.
//!
//! | module | does |
//! |---|---|
//! | `garment` | the garment as an object, tape readings |
//! | `shot` | pictures, with corners, edges, marks laid by hand and hints |
//! | `piece` | pieces: cut, grain, notches, marks |
//! | `fullness` | darts, pleats, gathers and elastic of a piece |
//! | `join` | edges that are sewn together |
//! | `correction` | what was corrected after a toile |
//! | `values` | percentages, dates, lists of two |
//! | `read` | text to [`Notes`], checked |
//! | `pictures` | the same of pictures, their corners and edges |
//! | `given` | the same of places, marks laid by hand and hints |
//! | `pieces` | the same of pieces |
//! | `alike`, `meant` | which names are the same; which edge an allowance is meant for |
//! | `draft` | changes to a file that keep everything else as it was |
//! | `guide` | before any picture: how to lay and measure, the blank record |
//! | `in_line` | the lines in which things stand |
//! | `fault` | what is wrong, and in which line |

mod alike;
mod correction;
mod draft;
mod fault;
mod fullness;
mod garment;
mod given;
pub mod guide;
mod in_line;
mod join;
mod meant;
mod piece;
mod pictures;
mod pieces;
mod read;
mod shot;
mod values;

pub use alike::{alike, is_number};
pub use correction::Correction;
pub use draft::{Draft, Word};
pub use fault::Fault;
pub use fullness::{Dart, Gather, GatheredBy, Laid, Pleat, Pressed};
pub use garment::{Certainty, Directions, Garment, Tape};
pub(crate) use given::{crosses_itself, sides_meet};
pub use in_line::{InLine, PieceLines};
pub use join::{EdgeName, Join, JoinSide, cut_of};
pub use meant::Called;
pub use piece::{Cut, Grain, GrainAlong, GrainRuns, Keep, LayingsMake, Notch, NotchStyle, OnEdge, PieceKind, PieceMark, PieceNotes, Spot};
pub(crate) use pieces::{crowded, legs_off, slack};
pub use shot::{
    Belongs, ClothSide, CornerNotes, Counted, EdgeIs, EdgeNotes, Face, InnerNotes, Line, MarkColour, MarkKind, MarkName, MarksNotes, Place,
    RegionNotes, ShotNotes, Up,
};
pub use values::{Day, Percent};

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
    /// What a tape said.
    pub tapes: Vec<Tape>,
    /// What was corrected in the drafted lines after a toile.
    pub changes: Vec<Correction>,
}

impl Notes {
    /// Reads the text of a `garment.toml`.
    ///
    /// # Errors
    /// It is no TOML, has a key that is not known here, a value of the wrong kind or without its unit, two corners or marks
    /// of one name in one picture, an edge that names a corner which is not there, a place that names no mark, a region
    /// that crosses itself, stickers or pins on a fragile garment, two darts of one name in one piece, or an earliest date after the
    /// latest.
    pub fn from_text(text: &str) -> Result<Self, Fault> {
        read::notes(text)
    }

    /// The same without the lines in which things stand, for notes that are read from no file of a person's: a record keeps what they say, in lines of its
    /// own.
    #[must_use]
    pub fn without_lines(mut self) -> Self {
        self.pieces.values_mut().for_each(|p| p.lines.forget());
        self.joins.iter_mut().for_each(|j| j.line = InLine::default());
        self.tapes.iter_mut().for_each(|t| t.line = InLine::default());
        self.changes.iter_mut().for_each(|c| c.line = InLine::default());
        self
    }
}
