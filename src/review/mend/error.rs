//! What can't be done, and what to do instead.

use crate::notes::Fault;

/// Why a correction was not made; nothing was changed.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum MendError {
    /// The picture was not traced, so there is nothing to point at.
    #[error("this picture was not traced, so that nothing in it can be pointed at; change its settings, or take it anew")]
    NotTraced,
    /// There is none of that number.
    #[error("there is no {what} {n} here any more; load the page anew")]
    Gone {
        /// What it is.
        what: &'static str,
        /// Its number.
        n: usize,
    },
    /// A place is none, or lies outside the picture.
    #[error("{what} lies outside the picture; point to a place in it")]
    Outside {
        /// What has that place.
        what: &'static str,
    },
    /// Too few or too many places.
    #[error("{what} needs {least} to {most} places, not {got}")]
    Places {
        /// What is drawn.
        what: &'static str,
        /// At least.
        least: usize,
        /// At most.
        most: usize,
        /// As many there are.
        got: usize,
    },
    /// A region or line without extent.
    #[error("{what} has no extent; draw it larger")]
    NoExtent {
        /// What was drawn.
        what: &'static str,
    },
    /// A name that is none.
    #[error("a name of {what} has 1 to {} characters in one line; write a shorter one", super::named::LONGEST)]
    Name {
        /// What is named.
        what: &'static str,
    },
    /// A name with a sign in it that stands between names.
    #[error("a name of {what} has no {sign} in it: the notes part names by that sign; write it another way")]
    Sign {
        /// What is named.
        what: &'static str,
        /// The sign.
        sign: char,
    },
    /// A name that something else has.
    #[error("another {what} is called \"{name}\"; give this one a name of its own")]
    Taken {
        /// What is named.
        what: &'static str,
        /// The name.
        name: String,
    },
    /// An edge names a corner that is to go.
    #[error("the edge from \"{from}\" to \"{to}\" is told by this corner; take away what is said of that edge first")]
    Held {
        /// Where the edge starts.
        from: String,
        /// Where it ends.
        to: String,
    },
    /// An edge that can't be told from others.
    #[error("{0}")]
    Edge(&'static str),
    /// A piece that is known by its number alone.
    #[error("name the piece first (settings, piece): other pictures of this garment have a \"{name}\" too")]
    Nameless {
        /// What it is called.
        name: String,
    },
    /// The only piece is to be left out.
    #[error("this is the only piece of the picture; to leave it all out, take the picture out of its folder or ask for a retake")]
    OnlyPiece,
    /// No region can be drawn by itself.
    #[error("no region fits round this {what} that spares what lies beside it; draw one by hand")]
    NoRegion {
        /// What it is of.
        what: &'static str,
    },
    /// A value that can't be meant.
    #[error("{what}: {why}")]
    Value {
        /// Which.
        what: &'static str,
        /// Why, and what to write.
        why: String,
    },
    /// The notes would be no good.
    #[error("the notes would not be right: {0}")]
    Notes(String),
}

impl From<Fault> for MendError {
    /// The line is that of a text nobody has seen.
    fn from(fault: Fault) -> Self {
        Self::Notes(fault.words)
    }
}
