//! Lens and pose, or a scanner's plain map: picture px ↔ sheet mm at any height above the sheet.
//!
//! Camera axes: x right, y down, z away from the camera. Sheet axes: x right, y down, z *into* the table, so a point
//! at height h above the sheet has z = -h. A sheet point X is seen at the camera point `rotation * X + translation`.
//! Lens model after Brown (1966): d = 1 + k1 r² + k2 r⁴, tangential p1, p2, on normalised coordinates.

use crate::length::{Mm, Px};
use nalgebra::{DMatrix, Matrix2, Matrix3, Vector3};

/// Focal length, centre and distortion of a camera.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Lens {
    /// Focal length, px.
    pub focal: f64,
    /// Principal point.
    pub centre: Px,
    /// Radial terms.
    pub k1: f64,
    /// Radial terms.
    pub k2: f64,
    /// Tangential terms.
    pub p1: f64,
    /// Tangential terms.
    pub p2: f64,
}

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

/// The solved map of one picture.
#[derive(Clone, Debug, PartialEq)]
pub struct View {
    /// The map.
    pub model: Model,
    /// Covariance of the model's free parameters (see `parameters`), order fixed by the solver.
    pub covariance: DMatrix<f64>,
    /// Columns of the picture.
    pub width: usize,
    /// Rows of the picture.
    pub height: usize,
}

/// The sheet's plane near a point: where it is and how it moves.
#[derive(Clone, Copy, Debug)]
pub struct Local {
    /// The sheet point.
    pub at: Mm,
    /// Derivative of px by mm.
    pub px_by_mm: Matrix2<f64>,
}
