//! The checking page: looking at fifty outlines quickly, and mending the few that are wrong.
//!
//! | file | holds |
//! |---|---|
//! | `mend` | corrections, as changes of the garment's notes |
//! | `opinion` | what reviewers say of a tracing, and doubts they ticked off: `review.json` |
//! | `tile` | the straightened picture at full resolution, cut into tiles at several levels |
//! | `queue` | the tracings of an archive, worst first, each with its reason |
//! | `worst` | the worst places of a piece |
//! | `desk` | an archive's tracings with their pictures and notes: shown, corrected, redone |
//! | `page` | the page itself |
//! | `error` | why a request can't be answered |

mod desk;
mod error;
pub mod mend;
mod opinion;
pub mod page;
mod queue;
mod tile;
mod worst;

pub use desk::Desk;
pub use error::ReviewError;
pub use opinion::{Opinion, OpinionError, Opinions, Tick, Told, ToldOpinion, Verdict, apart, doubt_id, outlines};
pub use queue::{Entry, Queue};
pub use tile::{Levels, Pyramid, TileError};
pub use worst::{Worst, worst};
