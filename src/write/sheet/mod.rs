//! Coded sheets to print: on pages to be joined, on a roll, and as SVG.
//!
//! | file | holds |
//! |---|---|
//! | `inks` | ground, ink and lines |
//! | `ruling` | ground, lines and marks of the code |
//! | `rulers` | the long rulers along two edges, and the line that says which sheet it is |
//! | `joints` | what joins pages |
//! | `front` | page one and page map: how to print, measure and join |
//! | `tiled` | pages to be joined |
//! | `whole` | the sheet in one, on a roll or as SVG |

mod front;
mod inks;
mod joints;
mod rulers;
mod ruling;
mod tiled;
mod whole;

pub use inks::Ground;
pub use tiled::{SheetPrint, sheet_tiled};
pub use whole::{ROLL_MARGIN, sheet_roll, sheet_svg, surround};

use super::page::FontError;

/// Why a sheet can't be printed so.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum SheetPrintError {
    /// The paper holds too little.
    #[error("{paper} has no room for two lines of {pitch} each way and for page one; take larger paper, a smaller --pitch, or --roll")]
    SmallPaper {
        /// The paper.
        paper: String,
        /// Distance of neighbouring lines.
        pitch: String,
    },
    /// The roll is too narrow.
    #[error(
        "with its rulers and margins this sheet is {wide:.0} mm wide and the roll {roll:.0} mm; take a wider roll, a smaller --size, or --paper"
    )]
    Narrow {
        /// What is needed, mm.
        wide: f64,
        /// The roll, mm.
        roll: f64,
    },
    /// Longer than a page may be.
    #[error(
        "with its rulers this sheet is {long:.0} mm long, and a page ends at {most:.0} mm; it is never scaled: take a smaller --size, or --paper"
    )]
    Long {
        /// What is needed, mm.
        long: f64,
        /// What a page may have, mm.
        most: f64,
    },
    /// More pages than anybody tapes together.
    #[error("this sheet takes {0} pages of this paper, which nobody joins without drift; take larger paper, a smaller --size, or --roll")]
    TooManyPages(usize),
    /// The font could not be reduced.
    #[error(transparent)]
    Font(#[from] FontError),
}
