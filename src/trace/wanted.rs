//! What is asked of a tracing: the sheet, the line, and what is known of both beforehand.

use super::lens::ChosenLens;
use super::tracing::Line;
use crate::length::{Mm, Px};
use crate::notes::ShotNotes;
use crate::sheet::{MeasuredPrint, SheetProfile};

/// Height taken when nobody measured the cloth, and how far it may be out, mm.
pub const THICKNESS_ASSUMED: (f64, f64) = (1.0, 1.0);
/// How well a person knows the height they typed, mm: calipers on cloth that gives.
const THICKNESS_TOLD: f64 = 0.1;
/// The same when one height is told for several pieces, mm: a bound edge is a millimetre thicker than a raw one, and which
/// of them was measured is not known.
const THICKNESS_SHARED: f64 = 0.5;

/// What is asked of a tracing.
#[derive(Clone, Debug)]
pub struct Wanted {
    /// The sheet the garment lies on.
    pub sheet: SheetProfile,
    /// Height of the traced edge above the sheet, mm; `None` when nobody measured it.
    pub thickness: Option<f64>,
    /// Which line to follow.
    pub line: Line,
    /// Width of the shown allowance when the line is a seam, mm.
    pub allowance: Option<f64>,
    /// Seams within the piece: ends and points between, in picture px.
    pub inner: Vec<Vec<Px>>,
    /// A lens solved before, when one belongs to the picture.
    pub lens: Option<ChosenLens>,
    /// Measured prints of coded sheets; the one that is in the picture is gone by.
    pub prints: Vec<MeasuredPrint>,
    /// Places of the sheet pointed at in a picture without ruling: px and where that is.
    pub at: Vec<(Px, Mm)>,
    /// Whether a scan without ruling is traced by the resolution its file gives.
    pub trust_dpi: bool,
    /// Whether the sheet is taken as it was told even where the lens says that it is longer one way (default: not).
    pub as_ruled: bool,
    /// How many pieces there are, when known.
    pub pieces: Option<usize>,
    /// Whether a piece cut off by the frame is traced as far as it is in view.
    pub partial: bool,
    /// What a person wrote down about this picture: names, corners (kept however gentle), edges.
    pub notes: ShotNotes,
}

impl Wanted {
    /// The outer edge of whatever lies on `sheet`, nothing more known.
    pub fn new(sheet: SheetProfile) -> Self {
        Self {
            sheet,
            thickness: None,
            line: Line::Rim,
            allowance: None,
            inner: Vec::new(),
            lens: None,
            prints: Vec::new(),
            at: Vec::new(),
            trust_dpi: false,
            as_ruled: false,
            pieces: None,
            partial: false,
            notes: ShotNotes::default(),
        }
    }

    /// Height and its standard error, mm.
    pub(super) fn height(&self) -> (f64, f64) {
        self.thickness.map_or(THICKNESS_ASSUMED, |t| (t, THICKNESS_TOLD))
    }

    /// The same where one height is told for so many pieces.
    pub(super) fn height_of_each(&self, pieces: usize) -> (f64, f64) {
        let (height, error) = self.height();
        (height, height_of_each(error, pieces))
    }
}

/// What a height known to `error` mm is known to where it is told for so many pieces.
pub(super) fn height_of_each(error: f64, pieces: usize) -> f64 {
    if pieces > 1 { error.max(THICKNESS_SHARED) } else { error }
}
