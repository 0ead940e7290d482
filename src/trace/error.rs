//! Why a picture could not be traced: the first stage that could not do its work.

use super::composite::CompositeError;
use super::laid::NotesError;
use crate::cloth::ClothError;
use crate::grid::GridError;
use crate::outline::OutlineError;
use crate::seam::SeamError;
use crate::view::{GivenError, ProfileError, ViewError};

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
    /// The picture of the bare sheet.
    #[error("the picture of the bare sheet: {0}; or leave it out")]
    Bare(#[source] Box<TraceError>),
    /// The covered region.
    #[error(transparent)]
    Cloth(#[from] ClothError),
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
