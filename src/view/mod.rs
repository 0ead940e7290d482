//! Lens and pose, or a scanner's plain map: picture px ↔ sheet mm at any height above the sheet.
//!
//! Camera axes: x right, y down, z away from the camera. Sheet axes: x right, y down, z *into* the table, so a point
//! at height h above the sheet has z = -h. A sheet point X is seen at the camera point `rotation * X + translation`.
//! Lens model after Brown (1966): d = 1 + k1 r² + k2 r⁴, tangential p1, p2, on normalised coordinates.

mod bend;
mod buckle;
mod bundle;
mod camera;
mod check;
mod error;
mod given;
mod joint;
mod lens;
mod map;
mod oblong;
mod pages;
mod prior;
mod refused;
mod profile;
mod scan;
mod sense;
mod sensor;
mod solve;
mod stretch;
mod turned;
mod unsolved;
mod waves;

pub use bend::Bend;
pub use buckle::Buckle;
pub use check::{Field, HeldOut};
pub use error::ShapeErrors;
pub use given::{by_dpi, by_points};
pub use joint::{Freedom, KeptOutPictures, LensError, LensView, SolvedLens, solve_lens};
pub use lens::Lens;
pub use map::Local;
pub use pages::{JoinedPages, Step};
pub use prior::FocalFrom;
pub use profile::{CONTRADICTED, LensProfile, ProfileError};
pub use refused::GivenError;
pub use sensor::{SENSOR, Sensor};
pub use solve::{Kind, Settings, Solved, solve};
pub use turned::{stored, unturned};
pub use unsolved::ViewError;

use nalgebra::{DMatrix, Matrix3, Vector3};

/// How picture and sheet belong together.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Model {
    /// A camera above the sheet.
    Pinhole {
        /// Its lens.
        lens: Lens,
        /// Sheet axes to camera axes.
        rotation: Matrix3<f64>,
        /// Sheet origin in camera axes, mm.
        translation: Vector3<f64>,
    },
    /// A flatbed: px = [a b; c d] mm + [e, f], stored a b c d e f. Height does not matter.
    Scan {
        /// The six numbers.
        matrix: [f64; 6],
    },
}

impl Model {
    /// How many numbers the model has: focal length, centre x y, k1, k2, p1, p2, small turn x y z (applied after
    /// `rotation`, radians), translation x y z; or the six of a scan.
    pub const fn parameters(&self) -> usize {
        match self {
            Self::Pinhole { .. } => 13,
            Self::Scan { .. } => 6,
        }
    }
}

/// The solved map of one picture.
#[derive(Clone, Debug, PartialEq)]
pub struct View {
    /// The map.
    pub model: Model,
    /// Covariance of the model's parameters, in the order of [`Model::parameters`].
    pub covariance: DMatrix<f64>,
    /// How the sheet is out of flat, where that could be followed: the map is of the sheet as it lies then, else of a flat one.
    pub buckle: Option<Buckle>,
    /// How far the sheet may be out of what the map has.
    pub bend: Bend,
    /// Columns of the picture.
    pub width: usize,
    /// Rows of the picture.
    pub height: usize,
}

impl View {
    /// A view that is known exactly, of a picture of `width` × `height` px.
    pub fn known(model: Model, width: usize, height: usize) -> Self {
        let n = model.parameters();
        Self { model, covariance: DMatrix::zeros(n, n), buckle: None, bend: Bend::default(), width, height }
    }
}
