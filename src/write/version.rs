//! Which records can be read: a version that came later is told as such before any of its fields is.

use serde::Deserialize;

/// Why a record could not be read.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum RecordError {
    /// No JSON, or a field of the wrong kind.
    #[error("not a record that can be read here: {0}")]
    Json(serde_json::Error),
    /// A version that this program does not know yet.
    #[error("this `{format}` is version {version} and a newer ruboff wrote it; this one reads up to version {reads}, so get a newer one")]
    Newer {
        /// What the file calls itself.
        format: String,
        /// Its version.
        version: u32,
        /// The newest that is read.
        reads: u32,
    },
    /// Lengths in another unit: none was ever written.
    #[error("its units are `{0}`, and records hold millimetres, `mm`: the file was changed by hand or made by another program")]
    Units(String),
    /// Another format, or no version that there ever was.
    #[error("this is `{format}` version {version}, which is no record that can be read here")]
    Format {
        /// What the file calls itself.
        format: String,
        /// Its version.
        version: u32,
    },
}

impl From<serde_json::Error> for RecordError {
    /// The fault is in its words already, so that it is no further cause.
    fn from(fault: serde_json::Error) -> Self {
        Self::Json(fault)
    }
}

/// Whether a text is a record of a format in a version that is read here: told before its fields are, which another version may have
/// otherwise.
///
/// # Errors
/// No JSON, another format, a newer version.
pub(crate) fn known(text: &str, wanted: &str, reads: u32) -> Result<(), RecordError> {
    #[derive(Deserialize)]
    struct Head {
        format: String,
        version: u32,
        units: Option<String>,
    }
    let Head { format, version, units } = serde_json::from_str(text)?;
    if let Some(units) = units.filter(|u| u != "mm") {
        return Err(RecordError::Units(units));
    }
    match (format == wanted, version) {
        (true, 1..) if version <= reads => Ok(()),
        (true, 1..) => Err(RecordError::Newer { format, version, reads }),
        _ => Err(RecordError::Format { format, version }),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn earlier_versions_are_read_and_later_ones_told() {
        let head = |version: u32| format!(r#"{{"format": "ruboff-coat", "version": {version}}}"#);
        for version in 1..=3 {
            assert!(known(&head(version), "ruboff-coat", 3).is_ok(), "{version}");
        }
        assert!(matches!(known(&head(4), "ruboff-coat", 3), Err(RecordError::Newer { version: 4, reads: 3, .. })));
        assert!(matches!(known(&head(0), "ruboff-coat", 3), Err(RecordError::Format { .. })));
        assert!(matches!(known(&head(1), "ruboff-cloak", 3), Err(RecordError::Format { .. })));
    }
}
