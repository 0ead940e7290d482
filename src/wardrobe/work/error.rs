//! Why a picture or a garment can't be worked on, in one line each: what, where, what to do.

use super::layings::LayingsError;
use crate::length::Length;
use crate::notes::Fault;
use crate::sheet::SheetError;
use crate::shot::ShotError;
use crate::trace::{JoinError, TraceError};
use crate::view::ProfileError;
use crate::write::WriteError;
use std::path::PathBuf;

/// Why work can't be done.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum WorkError {
    /// The picture.
    #[error(transparent)]
    Shot(#[from] ShotError),
    /// The sheet that is told.
    #[error(transparent)]
    Sheet(#[from] SheetError),
    /// The lens profile that was named.
    #[error(transparent)]
    Lens(#[from] ProfileError),
    /// A stage of the tracing.
    #[error(transparent)]
    Trace(#[from] TraceError),
    /// Pictures that should make one tracing.
    #[error(transparent)]
    Join(#[from] JoinError),
    /// A file that can't be written.
    #[error(transparent)]
    Write(#[from] WriteError),
    /// Layings of one piece.
    #[error(transparent)]
    Layings(#[from] LayingsError),
    /// One of several pictures, named.
    #[error("{picture}")]
    Of {
        /// Its file name.
        picture: String,
        /// What is wrong with it.
        source: Box<WorkError>,
    },
    /// The notes can't be read.
    #[error("cannot read the notes {name}")]
    NotesFile {
        /// Name of the file.
        name: String,
        /// What the system said.
        source: std::io::Error,
    },
    /// The notes are no text of reasonable size.
    #[error("the notes {name} are no text file of reasonable size; name the garment's TOML file with --notes")]
    NotesLong {
        /// Name of the file.
        name: String,
    },
    /// The notes are not right.
    #[error("the notes {name}")]
    Notes {
        /// Name of the file.
        name: String,
        /// Which line, and what is wrong.
        source: Fault,
    },
    /// A stitch line is wanted, and nobody said how wide the allowance is.
    #[error("--line seam needs the width of the shown allowance; say --allowance, such as --allowance 1/4in")]
    NoAllowance,
    /// An allowance that none has.
    #[error("no stitch line runs {0} inside the edge; give the allowance from edge to seam, 1 mm to 60 mm, such as 1/4in")]
    Allowance(Length),
    /// A height that no edge of cloth has.
    #[error(
        "{:.0} mm is too high for the edge of cloth above its sheet; give the height of the traced edge itself, such as 1.5mm", .0.mm()
    )]
    Thickness(Length),
    /// Places are told on a ruled sheet.
    #[error("--at gives places on a sheet without ruling; say --sheet plain with it, or leave it out")]
    PlacesOnRuling,
    /// Marks that touch a garment which nothing may touch.
    #[error(
        "--marks {0}: {0} touch the garment, and its notes say that it is fragile; say --marks pointers, slips of paper that lie beside it"
    )]
    MarksTouch(&'static str),
    /// Marks are told of twice.
    #[error("--marks and the notes both tell of marks in this picture; keep one of them")]
    MarksTwice,
    /// A stitch line in joined pictures.
    #[error("a stitch line inside a shown allowance is not followed in joined pictures; trace their outer edge, or one picture at a time")]
    JoinedSeam,
    /// Hints in joined pictures.
    #[error(
        "marks, regions, through-points, a bare sheet and seams or folds within are not followed in joined pictures; leave them out of this [[shot]]"
    )]
    JoinedHints,
    /// The outlines have no extent.
    #[error("the outlines have no extent to draw; please report it with the picture")]
    NoExtent,
    /// No folder for the results.
    #[error("cannot make the folder {}; choose another with --out", folder.display())]
    Folder {
        /// The folder.
        folder: PathBuf,
        /// What the system said.
        source: std::io::Error,
    },
    /// A tracing that should be kept can't be.
    #[error("cannot keep the earlier tracing in {}", folder.display())]
    Earlier {
        /// The folder.
        folder: PathBuf,
        /// What the system said.
        source: std::io::Error,
    },
    /// The garment's record.
    #[error("cannot write the garment's record")]
    Garment(#[source] WriteError),
}

impl WorkError {
    /// Whether a disk or a folder refused, so that trying again may help by itself.
    pub fn refused(&self) -> bool {
        let mut cause: Option<&(dyn std::error::Error + 'static)> = Some(self);
        while let Some(e) = cause {
            if e.is::<std::io::Error>() {
                return true;
            }
            cause = e.source();
        }
        matches!(self, Self::Write(_) | Self::Garment(_))
    }
}

impl WorkError {
    /// Whether it is the garment's notes that are wrong, for all its pictures alike.
    pub fn of_notes(&self) -> bool {
        matches!(self, Self::NotesFile { .. } | Self::NotesLong { .. } | Self::Notes { .. })
    }
}
