//! Finds lines at full resolution: the outer edge of cloth (the *rim*), stitch lines, seams within the piece.
//!
//! In: the picture, its view, what is ruled on the sheet, and a rough polygon a few pixels right or wrong. Out: a
//! [`SeamPath`](crate::path::SeamPath) in sheet millimetres at the cloth's height, each point with its standard error.
//!
//! The picture is unrolled along the rough path into a *band*; the best closed path through the band is found by dynamic
//! programming (Mortensen & Barrett 1995; closed curves: Appleton & Talbot 2005) with a cost that asks what lies on
//! either side rather than where the strongest step is; then a model of cloth, edge, contact shadow and sheet is fitted
//! to short stretches of it (a blurred step is an error function: Hagara & Kulla).
//!
//! | file | holds |
//! |---|---|
//! | `guide` | a path in mm, evenly stepped, with normals |
//! | `band` | the picture unrolled along a guide |
//! | `marks` | how much of a sheet point is ruled |
//! | `tones`, `shade` | colours of sheet, ruling and cloth along a band; the sheet's out of the cloth's shadow |
//! | `search`, `course` | the best path through a table of costs; the same with a price on turning |
//! | `shapes`, `edge`, `factor` | the model of a blurred edge, its fit, and the equations of that |
//! | `rough`, `fine`, `rim` | the outer edge of a piece or hole: first answer, precise answer, both |
//! | `edges` | where the first answer sees an edge rather than a smooth change |
//! | `drawn` | the check picture of a search |
//! | `bridge` | the line led on where a mark laid by hand hides it |
//! | `held` | where a person has settled the line |
//! | `through` | a rim sought again where it passed by a place that a person gave |
//! | `samples`, `learn` | what the places of one edge are averaged from; what they learn from each other |
//! | `lamp`, `cast` | how far a lamp casts the cloth's shadow; the strip of shade beside each place |
//! | `valley` | narrow dark lines within the cloth |
//! | `stitch` | the stitch line inside a shown allowance |
//! | `near` | places near to lines that are known already |
//! | `between` | a seam within the piece |

mod band;
mod between;
mod bridge;
mod cast;
mod course;
mod drawn;
mod edge;
mod edges;
mod factor;
mod fine;
mod guide;
mod held;
mod lamp;
mod learn;
mod marks;
mod near;
mod rim;
mod rough;
mod samples;
mod search;
mod shade;
mod shapes;
mod stitch;
mod strengths;
mod through;
mod tones;
mod valley;

use crate::length::Px;
use crate::shot::Area;

pub use between::between;
pub use marks::Marks;
pub use rim::rim;
pub use stitch::{elsewhere, stitch_line};
pub use through::through;

/// What can be chosen about the search.
#[derive(Clone, Debug, PartialEq)]
pub struct Settings {
    /// How far from the rough path the line may lie, mm. More finds worse roughs, costs time and lets in rivals.
    pub reach_mm: f64,
    /// Distance of the points that come out, mm. Finer costs time; the fits overlap below 2 mm.
    pub step_mm: f64,
    /// Length of edge that goes into one fit, mm. Longer is calmer and rounds off tight curves.
    pub window_mm: f64,
    /// Parts of the picture where something laid on top hides the line; it is led on over them.
    pub hidden: Vec<Area>,
    /// Places, px, through which a rim passes that comes near them.
    pub through: Vec<Px>,
    /// Regions along whose border a rim runs that comes near it.
    pub borders: Vec<Area>,
    /// Whether a line within the piece is a fold, which may be a bright ridge as well as a dark valley.
    pub fold: bool,
}

impl Default for Settings {
    fn default() -> Self {
        Self { reach_mm: 6.0, step_mm: 1.0, window_mm: 4.0, hidden: Vec::new(), through: Vec::new(), borders: Vec::new(), fold: false }
    }
}

/// Why a line could not be found.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum SeamError {
    /// The rough path has no extent, or lies where the view does not reach.
    #[error(
        "the outline of the cloth could not be followed: its rough shape is too small or lies outside what the sheet shows; show bare sheet all round the garment"
    )]
    NoPath,
    /// A point of a seam within the piece that is none of the picture's.
    #[error(
        "the point {:.0},{:.0} given for a seam within the piece lies outside the picture, which is {} by {} px; give pixels of the upright picture", at.x, at.y, size[0], size[1]
    )]
    PointOutside {
        /// The point.
        at: Px,
        /// Width and height of the picture.
        size: [usize; 2],
    },
    /// A point of a seam within the piece that lies beyond what the view maps.
    #[error("the point {:.0},{:.0} given for a seam within the piece does not lie on the sheet as the picture shows it; give a place on the cloth", .0.x, .0.y)]
    PointOffSheet(Px),
    /// A seam within the piece that hardly is one.
    #[error(
        "the points given for the seam at {:.0},{:.0} lie within {length:.1} mm of each other; give its two ends, at least {least:.0} mm apart", at.x, at.y
    )]
    PointsMeet {
        /// The first of them.
        at: Px,
        /// Length of the straight joins, mm.
        length: f64,
        /// The least there must be.
        least: f64,
    },
    /// Too little of the band lies in the picture.
    #[error("most of the cloth's edge lies outside the picture; take the picture again with the whole garment and some sheet around it")]
    OutOfPicture,
}
