//! Takes the pattern off a finished garment from pictures.
//!
//! A garment lies flat on a ruled sheet; a photograph or scan of it goes in, true-scale outlines come out.
//! The modules stand in the order of the work. Each sees only those above it in this list; a test holds the
//! `use` lines against that order, and nothing from `outline` down ever sees a pixel.

pub mod length;
pub mod solve;
pub mod path;
pub mod proof;
pub mod notes;
pub mod sheet;
pub mod shot;
pub mod grid;
pub mod view;
pub mod straight;
pub mod sticker;
pub mod cloth;
pub mod seam;
pub mod outline;
pub mod piece;
pub mod trace;
pub mod write;
pub mod wardrobe;
pub mod review;
pub mod cli;
