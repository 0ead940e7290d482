//! The checking page: looking at fifty outlines quickly, and mending the few that are wrong.
//!
//! | file | holds |
//! |---|---|
//! | `mend` | corrections, as changes of the garment's notes |
//! | `opinion` | what reviewers say of a tracing, and doubts they ticked off: `review.json` |
//! | `apart` | how far two outlines lie apart |
//! | `tile` | the straightened picture at full resolution, cut into tiles at several levels |
//! | `queue` | the tracings of an archive, worst first, each with its reason |
//! | `worst` | the worst places of a piece |
//! | `desk` | an archive's tracings with their pictures and notes: shown, corrected, redone |
//! | `words` | what is said elsewhere, as the page says it |
//! | `error` | why a request can't be answered |
//! | `asks`, `answers` | what is asked of whatever the page is served from, and how the desk answers |
//! | `gate` | who may ask: a browser on this machine that was given the address |
//! | `route` | from a request that was let in to its answer |
//! | `serve` | connections, and the few threads that work |
//! | `wire` | a connection without a socket |
//! | `page` | the page itself |

mod answers;
mod apart;
mod asks;
mod desk;
mod error;
mod gate;
pub mod mend;
mod opinion;
pub mod page;
mod queue;
mod route;
mod serve;
mod tile;
mod wire;
mod words;
mod worst;

pub use apart::apart;
pub use asks::{Answer, Asks, Refusal};
pub use desk::Desk;
pub use error::ReviewError;
pub use gate::Token;
pub use opinion::{Opinion, OpinionError, Opinions, Tick, Told, ToldOpinion, Verdict, doubt_id, outlines};
pub use queue::{Entry, Queue};
pub use serve::{address, listen, serve};
pub use tile::{Levels, Pyramid, TileError};
pub use wire::Wire;
pub use worst::{Worst, worst};
