//! Why no lattice could be given.

use crate::sheet::SheetKind;
use thiserror::Error;

/// What went wrong while the sheet was sought, in words for the person with the picture.
#[derive(Clone, Debug, PartialEq, Error)]
#[non_exhaustive]
pub enum GridError {
    /// Too few pixels to hold a sheet.
    #[error("the picture is only {width} x {height} pixels, too small to show a ruled sheet; use the original picture")]
    TooSmall {
        /// Columns.
        width: usize,
        /// Rows.
        height: usize,
    },
    /// Hardly any light.
    #[error("the picture is too dark for the sheet to be seen; take it again with more light")]
    TooDark,
    /// No lattice, and most of the picture is white beyond what it can hold.
    #[error(
        "no {kind} were found and most of the picture is burnt out to white; turn off the flash or slide the exposure down and take it again"
    )]
    TooBright {
        /// What was sought, in words.
        kind: &'static str,
    },
    /// No lattice of the wanted kind, nor of another.
    #[error(
        "no {kind} were found anywhere in the picture; lay the garment on a ruled sheet that shows all round it, or name the sheet's kind with --sheet; a scan without one goes by --trust-dpi, marks at known places by --at"
    )]
    NoGrid {
        /// What was sought, in words.
        kind: &'static str,
    },
    /// No lattice, and nothing in the picture is sharp.
    #[error(
        "no {kind} were found and the picture is blurred throughout; hold the camera still, tap to focus on the sheet and take it again"
    )]
    Blurred {
        /// What was sought, in words.
        kind: &'static str,
    },
    /// Another kind than was said.
    #[error("no {told} were found, but the sheet looks like {seen}; say --sheet {word}")]
    OtherKind {
        /// What was sought, in words.
        told: &'static str,
        /// What was seen, in words.
        seen: &'static str,
        /// The word for it on the command line.
        word: &'static str,
    },
    /// A few nodes that fix nothing.
    #[error("only {nodes} places of the sheet's {kind} can be made out, too few to measure from; show more of the sheet round the garment")]
    TooFew {
        /// How many were found.
        nodes: usize,
        /// What was sought, in words.
        kind: &'static str,
    },
    /// No camera could have stood where the pitch told puts it.
    #[error(
        "squares of {told:.1} mm would mean a picture {wide:.0} mm across, taken from {away:.0} mm away; the squares seen must be others: measure them and say --pitch"
    )]
    PitchImpossible {
        /// Pitch told, mm.
        told: f64,
        /// How far the camera would have been, mm.
        away: f64,
        /// What the picture's long side would show, mm.
        wide: f64,
    },
    /// A sheet without a position code, and nobody said the pitch.
    #[error(
        "no position code is in view, and how far the marks of this sheet are apart can't be told from a picture; measure it and say --pitch, like --pitch 1in or --pitch 10mm"
    )]
    NoPitch,
    /// A coded sheet was told, and none is seen.
    #[error(
        "ruled lines are seen but no position code on them; show more of the sheet round the garment and hold the camera nearer, or say --pitch for a sheet without code"
    )]
    NoCode,
    /// The code reads only in a mirror.
    #[error(
        "the picture is mirrored, as selfie cameras make them, so left and right of the garment would be exchanged; turn mirroring off or take it with the main camera"
    )]
    Mirrored,
    /// Two lattices side by side.
    #[error(
        "two ruled sheets lie in the picture, side by side, and nothing says which one to measure on; take one sheet away or crop the picture to one"
    )]
    TwoSheets,
}

/// What a sheet of this kind shows, in words (plural).
pub fn words(kind: Option<SheetKind>) -> &'static str {
    match kind {
        None => "lines, dots, crosses or checks of a sheet",
        Some(SheetKind::Lines) => "ruled lines",
        Some(SheetKind::Dots) => "dots",
        Some(SheetKind::Crosses) => "crosses",
        Some(SheetKind::Checker) => "checkered squares",
        Some(SheetKind::Mat) => "light lines on a dark mat",
        Some(SheetKind::Coded) => "ruled lines",
        Some(SheetKind::Plain) => "marks",
    }
}

/// The command line's word for a kind.
pub fn word(kind: SheetKind) -> &'static str {
    match kind {
        SheetKind::Lines => "lines",
        SheetKind::Dots => "dots",
        SheetKind::Crosses => "crosses",
        SheetKind::Checker => "checker",
        SheetKind::Mat => "mat",
        SheetKind::Coded => "coded",
        SheetKind::Plain => "plain",
    }
}
