//! The main job on one picture: shot → grid → view → cloth → rim → corners → outlines, as a session of stages.
//!
//! A [`Session`] keeps what each stage gave; [`Session::want`] has the next run start at the first stage a change touches,
//! so that a new thickness does not decode the picture again.

mod assemble;
mod bare;
mod bound;
mod budget;
mod checks;
mod composite;
mod creases;
mod error;
mod frayed;
mod joint;
mod laid;
mod lens;
mod lines;
mod lit;
mod names;
mod order;
mod places;
mod plain;
mod print;
mod resolution;
mod retake;
mod second;
mod seen;
mod rolled;
mod session;
mod soft;
mod tracing;
mod wanted;
mod weld;
mod whereabouts;
mod why;
mod worst;

pub use composite::CompositeError;
pub use error::TraceError;
pub use joint::{JoinError, JoinWanted, join};
pub use laid::{Laid, NotesError};
pub use lens::ChosenLens;
pub use names::{between, by_corners, is_number};
pub use retake::Flaw;
pub use session::Session;
pub use tracing::{Budget, EdgeFound, Found, Further, InnerSeam, Joined, Line, Picture, SheetFound, Sources, Traced, Tracing};
pub use wanted::Wanted;
