//! Numbers in, numbers out: homographies, robust lines, least squares, splines.

mod homography;
mod least_squares;
mod line;
mod similarity;

pub use homography::{homography, project};
pub use least_squares::{Loss, Minimum, Normal, Problem, minimise};
pub use line::Line;
pub use similarity::Similarity;
