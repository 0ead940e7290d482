//! Lengths as people write them, and points of picture and sheet as types that never mix.
//!
//! - [`Px`] is a point of the upright picture: x right, y down, whole numbers are pixel centres.
//! - [`Mm`] is a point of the sheet: millimetres, x right, y down.
//! - [`Length`] is what a person types or reads: `"1/4 in"`, `"6.35mm"`, `"19 1/8 in"`.

mod point;
mod text;

pub use point::{Mm, Px};
pub use text::{Length, LengthError};
