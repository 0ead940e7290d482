//! What a person corrects on the page, as changes of the garment's notes: the same words they would write by hand.
//!
//! | file | holds |
//! |---|---|
//! | `asked` | the corrections as the page sends them, and what undoing them is called |
//! | `places` | places of the sheet, checked and told in pixels of the picture |
//! | `named` | names, checked; corners that need one of their own |
//! | `pieces` | what a picture's piece is called |
//! | `grown` | regions round a piece and along a line |
//! | `line` | what is said of an edge |
//! | `write` | each correction put into the notes |
//! | `error` | what can't be done, and what to do instead |

mod asked;
mod error;
mod grown;
mod line;
mod named;
mod pieces;
mod places;
#[cfg(test)]
mod tests;
mod write;

pub use asked::{EdgeSaid, Mend, Settings};
pub use error::MendError;
pub use write::Where;
