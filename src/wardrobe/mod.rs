//! A folder of garments at a time: which pictures there are, what of them is done, and the run over the rest.
//!
//! | file | holds |
//! |---|---|
//! | `listing` | pictures in folders and where their results go; what is no picture is told |
//! | `units` | pictures that are worked on together: those of one garment, or one alone |
//! | `rests` | what a tracing rests on; whether it is still the one to be made |
//! | `failed` | why a picture could not be traced, kept so that it is not tried again unchanged |
//! | `earlier` | tracings that a new picture took the place of |
//! | `keeping` | locks, and marks of what was being worked on when a run died |
//! | `room` | memory, given out by what each picture needs |
//! | `queue` | the run: units opened in order, their pictures given to threads |
//! | `tally` | how far a run is |
//! | `readme` | how an archive is laid out, for whoever opens it without this program |

mod earlier;
mod failed;
mod keeping;
mod listing;
mod queue;
mod readme;
mod rests;
mod room;
mod tally;
mod units;

pub use earlier::replace;
pub use failed::FailedRecord;
pub use keeping::{Held, Keeping};
pub use listing::{Job, LeftOut, ListError, Listing, apart, as_one, grouped, list, pictures_in, place_for};
pub use queue::{Run, Task, run};
pub use readme::{README, keep_readme};
pub use rests::{Changed, Rests, of_garment};
pub use room::{Room, need, usable};
pub use tally::{Tally, time_words};
pub use units::{Unit, units};
