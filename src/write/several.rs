//! What `outline.json` says of several pictures: joined to one tracing, or laid on each other to make a piece.

use super::path_text::round;
use crate::trace::Joined;
use serde::{Deserialize, Serialize};

/// A tracing that a derived piece was made of, and how it was laid on the first.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[allow(missing_docs)]
pub struct LayingRecord {
    pub picture: usize,
    pub outline: String,
    pub laying: usize,
    pub mirrored: bool,
    pub turned_deg: f64,
    pub shift_mm: [f64; 2],
}

/// A point that two layings share.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[allow(missing_docs)]
pub struct SharedRecord {
    pub name: String,
    pub picture: usize,
    pub at: [f64; 2],
    pub off_mm: f64,
    pub allowed_mm: f64,
}

/// How several pictures agree on a piece that they were joined for.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[allow(missing_docs)]
pub struct PicturesJoinedRecord {
    pub pictures: Vec<usize>,
    /// Length of outline that several see.
    pub overlap_mm: f64,
    /// 95 % of its places lie no further apart in them.
    pub apart_mm: f64,
    pub most_mm: f64,
    pub most_at: [f64; 2],
    /// What their errors allow (95 %).
    pub allowed_mm: f64,
}

impl PicturesJoinedRecord {
    /// What a file keeps of it.
    pub(super) fn of(j: &Joined) -> Self {
        Self {
            pictures: j.pictures.clone(),
            overlap_mm: round(j.overlap),
            apart_mm: round(j.apart),
            most_mm: round(j.most),
            most_at: [round(j.at.x), round(j.at.y)],
            allowed_mm: round(j.allowed),
        }
    }
}
