//! Why the page can't be answered, in one line each: what, where, what to do.

use super::mend::MendError;
use super::opinion::OpinionError;
use super::words::on_page;
use crate::notes::Fault;
use crate::wardrobe::{ArchiveError, WorkError};
use crate::write::{RecordError, WriteError};
use serde_json::Value;

/// Why a request can't be answered.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum ReviewError {
    /// The archive can't be read.
    #[error(transparent)]
    Archive(#[from] ArchiveError),
    /// What it keeps of its calls.
    #[error("what the archive keeps of its calls can't be read; trace its pictures again")]
    Calls(#[source] RecordError),
    /// Nothing of that name.
    #[error("there is no tracing {0} in this archive; load the page again")]
    NoEntry(String),
    /// Another hand was quicker.
    #[error("{say}")]
    Changed {
        /// What happened.
        say: String,
        /// What the entry looks like now.
        look: Box<Value>,
    },
    /// A correction that can't be made.
    #[error(transparent)]
    Mend(#[from] MendError),
    /// What is asked for can't be done with this entry.
    #[error("{0}")]
    Cannot(String),
    /// The notes would not be right any more.
    #[error("the notes would not be right: {0}")]
    Notes(#[from] Fault),
    /// An opinion that can't be kept.
    #[error(transparent)]
    Opinion(#[from] OpinionError),
    /// Tracing.
    #[error(transparent)]
    Work(#[from] WorkError),
    /// A file can't be written.
    #[error(transparent)]
    Write(#[from] WriteError),
    /// A file can't be read.
    #[error("cannot read {file}")]
    Read {
        /// Which one.
        file: String,
        /// What the system said.
        source: std::io::Error,
    },
}

impl ReviewError {
    /// The status of the answer (RFC 9110, 15.5).
    pub fn status(&self) -> u16 {
        match self {
            Self::NoEntry(_) => 404,
            Self::Changed { .. } => 409,
            Self::Mend(_) | Self::Cannot(_) | Self::Notes(_) | Self::Opinion(_) | Self::Work(_) => 422,
            Self::Archive(_) | Self::Calls(_) | Self::Write(_) | Self::Read { .. } => 500,
        }
    }

    /// One line for the person at the page.
    pub fn say(&self) -> String {
        let causes = std::iter::successors(Some(self as &dyn std::error::Error), |e| e.source());
        let mut words: Vec<String> = causes.map(ToString::to_string).collect();
        words.dedup();
        on_page(&words.join(": "))
    }
}
