//! From tracings to files and back: the record, the true-scale drawing, the evidence picture.
//!
//! Files appear whole: they are written aside and then renamed, so nobody ever reads half of one.

mod aside;
mod drafted;
mod evidence;
mod garment;
mod held;
mod joined;
mod found;
mod json;
mod layings;
mod marked;
mod measures;
mod page;
mod path_text;
mod pieces;
mod points;
mod recalled;
mod recorded;
pub mod pattern;
mod several;
pub mod sheet;
mod svg;
mod thumbnail;
mod unanswered;
mod version;
mod who;

pub use aside::{write_together, write_whole};
pub use drafted::{DraftedChange, DraftedCorner, DraftedEdge, DraftedPiece, DraftedRecord, drafted_text};
pub(crate) use evidence::as_jpeg;
pub use evidence::{Evidence, evidence};
pub use found::{FoundError, as_found, spot_at, views};
pub use garment::{GarmentRecord, JoinOf, TapeOf};
pub use joined::{Seen, Shown, as_written};
pub use json::{CornerRecord, DoubtRecord, EdgeRecord, MarkRecord, PieceRecord, Record, ReplacedRecord, RestsOn};
pub use layings::{Made, Source, layings_svg};
pub(crate) use measures::line as table_line;
pub use measures::measures;
pub use path_text::{path_from_text, path_text};
pub use pieces::{GarmentPiece, both_faces, made, pieces, sum_faces};
pub use points::points;
pub use svg::svg;
pub use version::RecordError;
pub(crate) use version::known;

/// Why a file could not be written.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum WriteError {
    /// The disk or the folder refused.
    #[error("cannot write {path}")]
    Io {
        /// Which file.
        path: String,
        /// What the system said.
        source: std::io::Error,
    },
    /// The evidence picture could not be encoded.
    #[error("cannot make the evidence picture")]
    Picture(#[from] jpeg_encoder::EncodingError),
}
