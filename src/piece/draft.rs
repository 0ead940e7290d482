//! A piece in two layers: as found, which nothing overwrites, and as drafted, with a list of what was changed.

use super::How;
use super::layer::Layer;
use serde::Serialize;

/// One change of the drafted layer.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Change {
    /// What was done, in words with its figures.
    pub what: String,
    /// Whether it was chosen, noted, or assumed.
    pub how: How,
    /// Who did it.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub by: Option<String>,
    /// On which day.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub on: Option<String>,
}

/// A pattern piece.
#[derive(Clone, Debug, PartialEq)]
pub struct Piece {
    /// Its name.
    pub name: String,
    found: Layer,
    drafted: Layer,
    changes: Vec<Change>,
}

impl Piece {
    /// A piece of which nothing has been changed yet.
    pub fn new(name: impl Into<String>, found: Layer) -> Self {
        Self { name: name.into(), drafted: found.clone(), found, changes: Vec::new() }
    }

    /// Its lines as they were found.
    pub fn found(&self) -> &Layer {
        &self.found
    }

    /// Its lines as they are drafted.
    pub fn drafted(&self) -> &Layer {
        &self.drafted
    }

    /// What was changed, in order.
    pub fn changes(&self) -> &[Change] {
        &self.changes
    }

    /// Drafts new lines, and says what was changed.
    pub fn redraft(&mut self, lines: Layer, change: Change) {
        self.drafted = lines;
        self.changes.push(change);
    }
}
