//! The work on one picture and on one garment, as every run does it: what is wanted of a picture, its tracing with all files, and the
//! garment's record made of its pictures'.
//!
//! | file | holds |
//! |---|---|
//! | `terms` | what a call asks for of every picture it names |
//! | `noted` | the notes that go with a picture |
//! | `wanted` | both together: what is wanted of one picture |
//! | `kept`, `lenses`, `prints` | what was solved and measured before |
//! | `looked` | what a look at a picture tells before it is decoded, and what there is of its tracing |
//! | `one` | one picture traced, or several joined |
//! | `outcome` | what came of it, and its files |
//! | `layings` | several pictures of one piece held against each other |
//! | `faces` | two pictures that show the faces of one folded piece |
//! | `garment` | the record of a garment, once all its pictures are done |
//! | `calls` | the calls that made an archive, kept in it |
//! | `error` | why any of it can't be done |

mod calls;
mod error;
mod faces;
mod garment;
mod kept;
mod layings;
mod lenses;
mod looked;
pub mod noted;
mod one;
mod outcome;
mod prints;
mod terms;
mod wanted;

pub use calls::{KeptCall, keep_call, kept_calls};
pub use error::WorkError;
pub use faces::{folded, right_side};
pub use garment::{Laid, Written, gather, namesakes, taken};
pub use layings::{Compared, MadeOf, Repeats, Traced};
pub use lenses::{LENSES, Lenses};
pub use looked::{Before, Looked, before, look, look_by};
pub use one::{Work, keep_failure, session, trace_job};
pub use outcome::Outcome;
pub use prints::{PRINTS, Prints};
pub use terms::{AUTO, Terms, sheet};
pub use wanted::{possible, settings, shown};
