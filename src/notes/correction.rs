//! What a toile showed and a person corrected, dated: changes of the drafted lines, never of what was found.

use super::in_line::InLine;
use super::values::{Day, some_two};
use crate::length::Length;
use serde::Deserialize;

/// One correction. It says one thing: an edge moved out or made longer, or a corner moved.
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Correction {
    /// The piece.
    pub piece: String,
    /// On which day it was made.
    pub on: Day,
    /// By whom; whoever took the record when left out.
    #[serde(default)]
    pub by: Option<String>,
    /// Why.
    #[serde(default)]
    pub why: Option<String>,
    /// The edge that was changed.
    #[serde(default)]
    pub edge: Option<String>,
    /// How far it was moved out of the piece, less than nothing inwards.
    #[serde(default)]
    pub out: Option<Length>,
    /// By how much it was made longer, less than nothing shorter.
    #[serde(default)]
    pub longer: Option<Length>,
    /// The corner that was moved.
    #[serde(default)]
    pub corner: Option<String>,
    /// How far it was moved on the page of the pattern: to the right, and down.
    #[serde(default, rename = "move", deserialize_with = "some_two")]
    pub by_way: Option<[Length; 2]>,
    /// Where it stands.
    #[serde(skip)]
    pub line: InLine,
}

impl Correction {
    /// What is wrong with it, when it does not say one thing.
    pub(super) fn wrong(&self) -> Option<&'static str> {
        match (&self.edge, self.out, self.longer, &self.corner, self.by_way) {
            (Some(_), Some(_), None, None, None) | (Some(_), None, Some(_), None, None) | (None, None, None, Some(_), Some(_)) => None,
            _ => Some(
                "a change names an edge with out or longer, or a corner with move = [\"3 mm\", \"-2 mm\"] (right, down); several changes are several entries",
            ),
        }
    }
}
