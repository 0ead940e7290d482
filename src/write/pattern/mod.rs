//! Patterns at true size: on pages to be joined, on a roll, and for other programs.
//!
//! | file | holds |
//! |---|---|
//! | `piece` | `Pattern`: what is printed and exchanged of a garment |
//! | `draw`, `read`, `garment`, `fullness`, `notches` | records → `Pattern`: cut line, stitch line, fold, words; darts, pleats and gathers; notches |
//! | `joining` | margins and overlap of pages, a printer's correction |
//! | `pens`, `room` | kinds of line; room for words |
//! | `dress`, `label` | a piece as it is printed |
//! | `lay` | pieces laid out to save pages |
//! | `grid`, `joints` | pages over a large drawing, and what joins them |
//! | `front`, `map`, `tables` | page one, page map, measures and seams |
//! | `tiled`, `roll` | whole files |
//! | `svg`, `dxf` | formats for other programs |

mod draw;
mod dress;
mod dxf;
mod front;
mod fullness;
mod garment;
mod grid;
mod joining;
mod joints;
mod label;
mod lay;
mod map;
mod notches;
mod pens;
mod piece;
mod read;
mod roll;
mod room;
mod svg;
mod tables;
mod tiled;

pub use super::page::{Font, FontError, FontFileError, LettersError};
pub use dxf::{Units, dxf};
pub use garment::{pattern_of_garment, tables_of_garment};
pub use joining::{Joining, Orientation};
pub use piece::{EdgeWords, LineKind, Pattern, PatternError, PatternLine, PatternMark, PatternNotch, PatternPiece};
pub use read::{Choices, pattern_of_drafted, pattern_of_outline};
pub use roll::roll;
pub use svg::pattern_svg;
pub use tables::Tables;
pub use tiled::{Printed, tiled};
