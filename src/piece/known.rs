//! Where a value of a pattern comes from. What was measured and what was chosen never mix.

use serde::{Deserialize, Serialize};
use std::fmt;

/// How a value came to be known.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum How {
    /// Found in a picture.
    Seen,
    /// Read off a tape or rule by a person.
    Taped,
    /// Written down by a person as a fact of the garment.
    Noted,
    /// Decided by whoever drafts.
    Chosen,
    /// Taken for want of anything better; nobody said so.
    Assumed,
}

impl How {
    /// How a line is known after it was drafted otherwise: what nobody measured stays assumed.
    pub fn drafted(self) -> Self {
        if self == Self::Assumed { self } else { Self::Chosen }
    }
}

impl fmt::Display for How {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::Seen => "seen",
            Self::Taped => "taped",
            Self::Noted => "noted",
            Self::Chosen => "chosen",
            Self::Assumed => "assumed",
        })
    }
}

/// A value with how it came to be known.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Known<T> {
    /// The value.
    pub value: T,
    /// Where it comes from.
    pub how: How,
}

impl<T> Known<T> {
    /// A value known in this way.
    pub const fn new(value: T, how: How) -> Self {
        Self { value, how }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn words_and_files_agree() {
        for how in [How::Seen, How::Taped, How::Noted, How::Chosen, How::Assumed] {
            assert_eq!(serde_json::to_string(&how).expect("written"), format!("\"{how}\""));
        }
    }
}
