//! Doubts: what may be wrong with a result that is still given, with what it may cost and what to do.

use crate::length::Mm;

/// A reason to look twice. Carries its numbers; the words are made in [`Doubt::say`].
#[derive(Clone, Debug, PartialEq)]
#[non_exhaustive]
pub enum Doubt {
    /// Nobody said how high the visible edge stands above the sheet.
    ThicknessAssumed {
        /// Assumed height, mm.
        height: f64,
        /// How far the outline may be out for it, mm.
        cost: f64,
    },
    /// Few pixels to the millimetre.
    LowResolution {
        /// Pixels per mm at the coarsest place of the outline.
        px_per_mm: f64,
        /// Where that is.
        at: Mm,
    },
}

impl Doubt {
    /// Short fixed code for files, words joined by hyphens.
    pub fn code(&self) -> &'static str {
        match self {
            Self::ThicknessAssumed { .. } => "thickness-assumed",
            Self::LowResolution { .. } => "low-resolution",
        }
    }

    /// The place it is about, when it has one.
    pub fn place(&self) -> Option<Mm> {
        match self {
            Self::ThicknessAssumed { .. } => None,
            Self::LowResolution { at, .. } => Some(*at),
        }
    }

    /// What is in doubt and what to do about it, in one sentence or two.
    pub fn say(&self) -> String {
        match self {
            Self::ThicknessAssumed { height, cost } => format!(
                "The cloth's height was not given; {height:.1} mm was assumed, which may put the outline out by {cost:.1} mm. Measure it and say --thickness."
            ),
            Self::LowResolution { px_per_mm, .. } => {
                format!("Only {px_per_mm:.1} pixels to the millimetre here. Come nearer or take the piece in two pictures.")
            }
        }
    }
}
