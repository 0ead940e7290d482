//! A font of the user's own, for names in letters that the one that comes with the program has not.

use std::sync::Arc;
use ttf_parser::{Face, Permissions, name_id};

/// A TrueType or OpenType font, or the first of a collection, that pages can be set in.
#[derive(Clone, PartialEq, Eq)]
pub struct Font {
    data: Arc<[u8]>,
    name: String,
    family: String,
}

/// Why a file is no font that pages can be set in.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum FontFileError {
    /// Not a font, or a damaged one.
    #[error("no font can be read in it ({0}); name a TrueType or OpenType file")]
    Unread(String),
    /// Letters that can't be embedded.
    #[error("its letters have no outlines that a PDF can hold; name a font with TrueType or CFF outlines")]
    Outlines,
    /// The maker of the font forbids it.
    #[error("its licence flags forbid putting a part of it into a file (OS/2, fsType); name another font")]
    Forbidden,
    /// The program's own words could not be printed with it.
    #[error("it lacks letters that every page needs ({0}); name a font that has Latin letters too")]
    Lacks(String),
}

impl Font {
    /// Reads one.
    ///
    /// # Errors
    /// No font, no outlines, embedding forbidden, no Latin letters.
    pub fn from_bytes(data: Vec<u8>) -> Result<Self, FontFileError> {
        let face = Face::parse(&data, 0).map_err(|e| FontFileError::Unread(e.to_string()))?;
        if face.tables().glyf.is_none() && face.tables().cff.is_none() {
            return Err(FontFileError::Outlines);
        }
        // Where the table is missing nothing is forbidden.
        if face.tables().os2.is_some() && (face.permissions() == Some(Permissions::Restricted) || !face.is_subsetting_allowed()) {
            return Err(FontFileError::Forbidden);
        }
        let missing: Vec<String> = (' '..='~').chain(['…']).filter(|c| face.glyph_index(*c).is_none()).map(String::from).collect();
        if !missing.is_empty() {
            return Err(FontFileError::Lacks(missing.iter().take(6).cloned().collect::<Vec<_>>().join(" ")));
        }
        let called = |id: u16| face.names().into_iter().filter(|n| n.name_id == id).find_map(|n| n.to_string()).unwrap_or_default();
        // Names in a PDF are plain letters (ISO 32000-1, 7.3.5).
        let name: String = called(name_id::POST_SCRIPT_NAME).chars().filter(|c| c.is_ascii_alphanumeric() || *c == '-').take(60).collect();
        let family: String = called(name_id::FAMILY).chars().filter(|c| !c.is_control() && !"'\"<>&;".contains(*c)).take(60).collect();
        let name = if name.is_empty() { "Font".to_owned() } else { name };
        Ok(Self { family: if family.is_empty() { name.clone() } else { family }, name, data: data.into() })
    }

    /// The file's bytes.
    pub(super) fn data(&self) -> &[u8] {
        &self.data
    }

    /// Its name in files.
    pub(super) fn name(&self) -> &str {
        &self.name
    }

    /// What its family is called.
    pub(in crate::write) fn family(&self) -> &str {
        &self.family
    }
}

impl std::fmt::Debug for Font {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "Font({}, {} bytes)", self.name, self.data.len())
    }
}
