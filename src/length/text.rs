//! Lengths as text.

/// A length in millimetres.
#[derive(Clone, Copy, Debug, Default, PartialEq, PartialOrd)]
pub struct Length {
    mm: f64,
}

impl Length {
    /// From millimetres.
    pub const fn from_mm(mm: f64) -> Self {
        Self { mm }
    }

    /// In millimetres.
    pub const fn mm(self) -> f64 {
        self.mm
    }
}

/// Why a text is not a length.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum LengthError {
    /// No unit was given.
    #[error("`{0}` has no unit; write mm, cm or in after the number")]
    NoUnit(String),
}
