//! Which picture wants to be looked at first.

use super::archive::{Figures, Outcome, Picture};

/// Doubts that only say what nobody measured or told: the line is where it is, its scale or height is known no better.
const REMARKS: [&str; 6] =
    ["pitch-not-measured", "thickness-assumed", "focal-assumed", "scale-by-dpi", "few-places", "lens-profile-left-out"];

/// Whether a doubt is about a picture's line, and not only about what nobody measured.
pub fn wants_a_look(code: &str) -> bool {
    !REMARKS.contains(&code)
}

/// How a picture stands; the worst first.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Standing {
    /// It could not be traced.
    Failed,
    /// Its record can't be read.
    Unread,
    /// Something about its line is to be looked at.
    Doubtful,
    /// Only things that nobody measured.
    Remarks,
    /// Nothing.
    Good,
}

impl Standing {
    /// All of them, the worst first.
    pub const ALL: [Self; 5] = [Self::Failed, Self::Unread, Self::Doubtful, Self::Remarks, Self::Good];

    /// That of a picture.
    pub fn of(picture: &Picture) -> Self {
        match &picture.result {
            Outcome::Failed(_) => Self::Failed,
            Outcome::Unread(_) => Self::Unread,
            Outcome::Traced(f) if f.cut_off || f.doubts.iter().any(|d| wants_a_look(&d.code)) => Self::Doubtful,
            Outcome::Traced(f) if !f.doubts.is_empty() => Self::Remarks,
            Outcome::Traced(_) => Self::Good,
        }
    }

    /// Its word in a page.
    pub fn word(self) -> &'static str {
        match self {
            Self::Failed => "not traced",
            Self::Unread => "record can't be read",
            Self::Doubtful => "doubtful",
            Self::Remarks => "good, with remarks",
            Self::Good => "good",
        }
    }

    /// Its name in the page's code.
    pub fn code(self) -> &'static str {
        match self {
            Self::Failed => "failed",
            Self::Unread => "unread",
            Self::Doubtful => "doubtful",
            Self::Remarks => "remarks",
            Self::Good => "good",
        }
    }
}

/// By how much the line may be out where it is worst, mm; nothing where no bound holds.
pub fn out(figures: &Figures) -> Option<f64> {
    figures.out_mm.map(|mm| mm.max(figures.worst_place_mm))
}

/// Pictures of one standing, worst first: those with no bound, then by how far the line may be out.
pub fn badness(picture: &Picture) -> f64 {
    match &picture.result {
        Outcome::Traced(f) if f.cut_off => f64::INFINITY,
        Outcome::Traced(f) => out(f).unwrap_or(f64::INFINITY),
        _ => f64::INFINITY,
    }
}
