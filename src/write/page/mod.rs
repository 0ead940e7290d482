//! Printed pages, whatever is on them: patterns and sheets share what is drawn with, measured by and written as.
//!
//! | file | holds |
//! |---|---|
//! | `drawing`, `letters`, `font` | what stands on a page; its letters; a font of the user's own |
//! | `measuring` | squares and rulers that a print is measured by, and text beside them |
//! | `pdf`, `svg` | their formats |

mod drawing;
mod font;
mod letters;
mod measuring;
mod pdf;
mod svg;

pub(in crate::write) use drawing::{Drawing, Ink, Item, Pen, Words};
pub use font::{Font, FontFileError};
pub use letters::LettersError;
pub(in crate::write) use letters::{Letters, composed};
pub(in crate::write) use measuring::{FOUR_INCHES, LEADING, NEEDED, RULER, SMALL, TEXT, TITLE, column, fitting, rulers, squares};
pub use pdf::FontError;
pub(in crate::write) use pdf::{Page, Part, pdf};
pub(in crate::write) use svg::{escaped, svg_item, svg_pen};
