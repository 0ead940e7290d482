//! The print that a coded sheet in a picture is, where somebody measured it.

use super::wanted::Wanted;
use crate::grid::Lattice;
use crate::proof::Doubt;
use crate::sheet::MeasuredPrint;
use crate::solve::TWO_SIDED;

/// The measured print of the sheet in view; `None` where there is none, or where the sheet was told as a profile that was itself measured.
pub(super) fn of<'a>(lattice: &Lattice, wanted: &'a Wanted) -> Option<&'a MeasuredPrint> {
    let code = lattice.code?;
    wanted.prints.iter().find(|p| p.code == code).filter(|_| wanted.sheet.measured.is_none())
}

/// The lattice with the pitch and the lean of its measured print.
pub(super) fn laid(lattice: Lattice, wanted: &Wanted) -> Lattice {
    let Some(print) = of(&lattice, wanted) else { return lattice };
    let (pitch, lean) = (print.pitch(), print.skew.map_or(0.0, |s| s[0]));
    let mut out = lattice;
    out.pitch = pitch;
    out.lay.lean = lean;
    out
}

/// What is not known of the sheet: relative standard error of the pitch along x and y, and of its lean, radians.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Unknown {
    pub pitch: [f64; 2],
    pub lean: f64,
}

impl Unknown {
    /// By its measured print, else by what is told of the sheet.
    pub fn of(lattice: &Lattice, wanted: &Wanted) -> Self {
        match of(lattice, wanted) {
            Some(print) => Self { pitch: print.scale_error, lean: print.skew.map_or(0.0, |s| s[1]) },
            None => Self { pitch: wanted.sheet.pitch_error, lean: 0.0 },
        }
    }

    /// The same of a sheet that was found longer one way than the other: which of its pitches is the one told, if either, nobody knows.
    pub fn oblong(self, doubts: &[Doubt]) -> Self {
        let share = doubts.iter().find_map(|d| if let Doubt::LensOrSheet { share, .. } = d { Some(share.abs()) } else { None });
        let half = share.unwrap_or(0.0) / 2.0 / TWO_SIDED;
        Self { pitch: self.pitch.map(|e| e.hypot(half)), ..self }
    }
}
