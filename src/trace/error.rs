//! Why a picture could not be traced: the first stage that could not do its work.

use super::composite::CompositeError;
use super::laid::NotesError;
use crate::cloth::{ClothError, Side};
use crate::grid::GridError;
use crate::outline::OutlineError;
use crate::seam::SeamError;
use crate::view::{GivenError, ProfileError, ViewError};

pub(super) fn sides(all: &[Side]) -> String {
    all.iter().map(|s| s.name()).collect::<Vec<_>>().join(" and ")
}

/// Why a picture could not be traced.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum TraceError {
    /// The lattice.
    #[error(transparent)]
    Grid(#[from] GridError),
    /// The map between picture and sheet.
    #[error(transparent)]
    View(#[from] ViewError),
    /// The view from given points or a scanner's resolution.
    #[error(transparent)]
    Given(#[from] GivenError),
    /// The lens profile.
    #[error(transparent)]
    Lens(#[from] ProfileError),
    /// By the profile that was named the sheet would be far from flat, and by a lens of the picture's own it is flat.
    #[error(
        "the lens profile {name} does not fit this picture: by it the sheet would be out of flat by {most:.1} mm, and by a lens of its own it lies flat; the picture was zoomed, cut, or taken by another camera: leave --lens out, or name the profile of that lens"
    )]
    LensUnfit {
        /// Its name.
        name: String,
        /// How far the sheet would be out, mm.
        most: f64,
    },
    /// The picture of the bare sheet.
    #[error("the picture of the bare sheet: {0}; or leave it out")]
    Bare(#[source] Box<TraceError>),
    /// What is said to be a bare sheet is not.
    #[error("something lies on it where the garment does: take it before anything is laid down")]
    Covered,
    /// The covered region.
    #[error(transparent)]
    Cloth(#[from] ClothError),
    /// A sheet of filled squares.
    #[error(
        "the sheet shows separate filled squares, whose edges can't be told from the garment's: they will do for ruboff lens, but lay the garment on lines, dots, crosses or a checkerboard"
    )]
    Squares,
    /// What the frame cuts off has squares of its own.
    #[error(
        "what runs out of the picture at the {} has squares of its own, as a second sheet under the garment has: take that sheet away, or, if it is checked cloth, take the garment whole",
        sides(.0)
    )]
    SecondSheet(Vec<Side>),
    /// The rim or a seam.
    #[error(transparent)]
    Seam(#[from] SeamError),
    /// The curves.
    #[error(transparent)]
    Outline(#[from] OutlineError),
    /// The notes of the picture.
    #[error(transparent)]
    Notes(#[from] NotesError),
    /// An outline of several lines.
    #[error(transparent)]
    Composite(#[from] CompositeError),
}
