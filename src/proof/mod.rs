//! What the stages leave behind for people: doubts in words, figures, and check pictures.
//!
//! Figures and pictures are kept only when somebody asked for them (`--workings`); without that a [`Proof`] costs nothing.

mod cause;
mod code;
mod doubt;
mod say;
mod workings;

pub use cause::Cause;
pub use doubt::Doubt;
pub use workings::Proof;
