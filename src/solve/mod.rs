//! Numbers in, numbers out: homographies, robust lines, least squares, splines, smooth surfaces.

mod circle;
mod gauss;
mod homography;
mod least_squares;
mod line;
mod linear;
mod median;
mod polynomial;
mod similarity;
mod spline;
mod surface;

pub use circle::{Circle, circle};
pub use gauss::{TWO_SIDED, mixture_bound, within};
pub use homography::{homography, project};
pub use least_squares::{Loss, Minimum, Normal, Problem, minimise};
pub use line::Line;
pub use linear::{Linear, linear};
pub use median::{Real, median};
pub use polynomial::{HIGHEST, Moments, Polynomial};
pub use similarity::Similarity;
pub use spline::{Sample, Spline};
pub use surface::{Surface, SurfaceSample};
