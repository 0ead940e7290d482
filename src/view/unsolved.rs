//! Why a lattice gives no view.

use super::solve::FEWEST;

/// Why there is no view.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum ViewError {
    /// Too little of the sheet is seen.
    #[error(
        "only {found} crossings of the sheet were found, too few to tell how the picture was taken; show at least {FEWEST}, better 50, all round the garment"
    )]
    TooFewNodes {
        /// How many were found.
        found: usize,
    },
    /// The nodes lie in one line, or behind each other.
    #[error(
        "the crossings found lie in one line or fit no camera, so the sheet's plane is open; show more of the sheet on every side of the garment"
    )]
    NoPlane,
    /// Most nodes contradict each other.
    #[error(
        "{outliers} of the {found} crossings found do not fit one flat sheet; see that the sheet is flat and only one shows, and check the kind of sheet given"
    )]
    Contradiction {
        /// Nodes that fit.
        outliers: usize,
        /// All nodes.
        found: usize,
    },
    /// The sheet is buckled.
    #[error(
        "the sheet does not lie flat: it is out by {most_mm:.1} mm near square ({i}, {j}) from the picture's middle; flatten it beside the garment and take the picture again"
    )]
    NotFlat {
        /// Size of the smooth residual, mm.
        most_mm: f64,
        /// Address of the node there.
        i: i32,
        /// Address of the node there.
        j: i32,
    },
}
