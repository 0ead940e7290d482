//! The checking page: looking at fifty outlines quickly, and mending the few that are wrong.

pub mod page;
