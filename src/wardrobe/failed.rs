//! `failed.json`: why a picture could not be traced.

use crate::write::{RecordError, WriteError, known, write_whole};
use serde::{Deserialize, Serialize};
use std::path::{Path, PathBuf};

const FORMAT: &str = "ruboff-failed";
const NAME: &str = "failed.json";

/// The whole file. It stands where the outline would, and goes when the picture is traced.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[allow(missing_docs)] // each field is named and explained by the format itself
pub struct FailedRecord {
    pub format: String,
    pub version: u32,
    pub picture: FailedPicture,
    pub say: String,
    pub made_by: FailedBy,
}

/// The picture.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[allow(missing_docs)]
pub struct FailedPicture {
    pub file: String,
    /// None where it could not be read.
    pub blake3: Option<String>,
}

/// Which program said so.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[allow(missing_docs)]
pub struct FailedBy {
    pub version: String,
    /// What the picture's tracing would have rested on; none where trying again may help by itself, as when a file could not be read.
    pub rests_on: Option<String>,
}

impl FailedRecord {
    /// What is kept of a failure: the sentence that was said, and what it rests on.
    pub fn of(picture: &Path, blake3: Option<String>, say: String, rests_on: Option<String>) -> Self {
        Self {
            format: FORMAT.into(),
            version: 1,
            picture: FailedPicture { file: picture.file_name().unwrap_or_default().to_string_lossy().into_owned(), blake3 },
            say,
            made_by: FailedBy { version: env!("CARGO_PKG_VERSION").into(), rests_on },
        }
    }

    fn place(folder: &Path) -> PathBuf {
        folder.join(NAME)
    }

    /// The one in a picture's folder, when there is one that can be read.
    pub fn open(folder: &Path) -> Option<Self> {
        Self::from_text(&std::fs::read_to_string(Self::place(folder)).ok()?).ok()
    }

    /// Reads a record back.
    ///
    /// # Errors
    /// No JSON, missing fields, or another format.
    pub fn from_text(text: &str) -> Result<Self, RecordError> {
        known(text, FORMAT, 1)?;
        Ok(serde_json::from_str(text)?)
    }

    /// Keeps it in a picture's folder.
    ///
    /// # Errors
    /// It can't be written.
    pub fn keep(&self, folder: &Path) -> Result<(), WriteError> {
        let place = Self::place(folder);
        std::fs::create_dir_all(folder).map_err(|source| WriteError::Io { path: place.display().to_string(), source })?;
        let mut text = serde_json::to_string_pretty(self).unwrap_or_default();
        text.push('\n');
        write_whole(&place, text.as_bytes())
    }

    /// Takes it away: the picture was traced.
    pub fn forget(folder: &Path) {
        // Mostly there is none.
        let _ = std::fs::remove_file(Self::place(folder));
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn kept_read_and_taken_away() {
        let dir = tempfile::tempdir().expect("a folder");
        let folder = dir.path().join("front");
        let failed = FailedRecord::of(Path::new("in/front.jpg"), None, "is no picture".into(), Some("0123".into()));
        failed.keep(&folder).expect("written");
        assert_eq!(FailedRecord::open(&folder), Some(failed));
        FailedRecord::forget(&folder);
        assert_eq!(FailedRecord::open(&folder), None);
        assert!(FailedRecord::from_text("{}").is_err());
    }
}
