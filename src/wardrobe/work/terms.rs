//! What a call asks for of every picture it names.

use crate::length::{Length, Mm, Px};
use crate::notes::{Line, MarkKind};
use crate::sheet::{SheetError, SheetProfile};
use serde::{Deserialize, Serialize};
use std::path::PathBuf;

/// The word that lets the picture tell the kind of sheet.
pub const AUTO: &str = "auto";

/// What a call asks for of every picture it names: kept with an archive, so that a picture can be traced again as it was.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct Terms {
    /// Kind, name or file of the sheet.
    pub sheet: String,
    /// Distance of neighbouring nodes.
    pub pitch: Option<Length>,
    /// Height of the traced edge above the sheet.
    pub thickness: Option<Length>,
    /// What was laid as marks.
    pub marks: Option<MarkKind>,
    /// Which line to follow, where the call says so.
    pub line: Option<Line>,
    /// Width of the shown allowance.
    pub allowance: Option<Length>,
    /// Seams within the piece, in px of the upright picture.
    pub inner: Vec<Vec<Px>>,
    /// How many pieces lie on the sheet.
    pub pieces: Option<u32>,
    /// What lies between sheet and garment.
    pub under: Option<String>,
    /// A picture of the bare sheet, taken before.
    pub bare: Option<PathBuf>,
    /// Garment notes for all pictures, instead of those beside each.
    pub notes: Option<PathBuf>,
    /// Known places of a plain sheet: px of the upright picture, and where that is, mm.
    pub at: Vec<(Px, Mm)>,
    /// Whether a scan without ruling is traced by its resolution.
    pub trust_dpi: bool,
    /// The lens profile to use.
    pub lens: Option<PathBuf>,
    /// Places seen in two of the pictures that are joined.
    pub same: Vec<[(usize, Px); 2]>,
    /// Whether all pictures are joined to one tracing.
    pub join: bool,
    /// Whether a piece cut off by the frame is traced.
    pub partial: bool,
}

impl Default for Terms {
    fn default() -> Self {
        Self {
            sheet: AUTO.into(),
            pitch: None,
            thickness: None,
            marks: None,
            line: None,
            allowance: None,
            inner: Vec::new(),
            pieces: None,
            under: None,
            bare: None,
            notes: None,
            at: Vec::new(),
            trust_dpi: false,
            lens: None,
            same: Vec::new(),
            join: false,
            partial: false,
        }
    }
}

/// The sheet by its word. Without a pitch, a picture that has another scale `told` is taken for one on a plain sheet.
///
/// # Errors
/// There is no such sheet, or its pitch is missing.
pub fn sheet(word: &str, pitch: Option<Length>, told: bool) -> Result<SheetProfile, SheetError> {
    if word == AUTO && pitch.is_none() && told { Ok(SheetProfile::plain()) } else { SheetProfile::from_words(word, pitch) }
}
