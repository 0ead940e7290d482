//! Numbers in, numbers out: homographies, robust lines, least squares, splines.

mod homography;

pub use homography::{homography, project};
