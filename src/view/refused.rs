//! Why places that were given, or a resolution, make no view.

use super::given::{PHOTO, SCAN};
use super::sense;

/// Why there is no view.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum GivenError {
    /// Nothing tells the scale.
    #[error(
        "nothing tells the scale of this picture: no ruled sheet is sought on --sheet plain, so give places with --at \"x,y=mm,mm\" or, for a scan, say --trust-dpi"
    )]
    NoScale,
    /// No resolution in the file.
    #[error(
        "the file does not say at what resolution it was scanned, so --trust-dpi has nothing to go by; give places with --at \"x,y=mm,mm\""
    )]
    NoResolution,
    /// Fewer points than needed.
    #[error(
        "{given} places given with --at are too few: a photograph needs {PHOTO} or more, not in one line, and a scan that says its resolution {SCAN}"
    )]
    TooFew {
        /// How many were given.
        given: usize,
    },
    /// The points lie in one line.
    #[error("the places given with --at lie nearly in one line, so the sheet's plane is open; give places on all sides of the piece")]
    OneLine,
    /// The points contradict each other.
    #[error("the places given with --at contradict each other: {}", contradicts(*.number, *.off))]
    Contradiction {
        /// Which, from 0; `None` where so few can't tell which of them is wrong.
        number: Option<usize>,
        /// How far off it is from where the others have it, or the farthest of all from where they would agree, px.
        off: f64,
    },
    /// A place that the picture does not show.
    #[error(
        "place number {} given with --at lies outside the picture of {} x {} px{}",
        .number + 1, .size.0, .size.1,
        if *.turned { "; its px are exchanged, x goes first and runs to the right" } else { "; give its px in the upright picture" }
    )]
    Outside {
        /// Which, from 0.
        number: usize,
        /// Columns and rows.
        size: (usize, usize),
        /// Whether it would lie within with x and y exchanged.
        turned: bool,
    },
    /// All points lie mirrored.
    #[error(
        "the places given with --at would show the sheet from behind: x and y are exchanged in px or mm, or an axis runs the wrong way, or the picture is mirrored; write x first, to the right, then y, downwards, in both"
    )]
    Behind,
    /// Two points took each other's place.
    #[error("the places number {} and {} given with --at seem exchanged: the others fit only the other way round; check which px belong to which mm", .numbers[0] + 1, .numbers[1] + 1)]
    Exchanged {
        /// Which, from 0.
        numbers: [usize; 2],
    },
    /// One point lies where none of the others lets it.
    #[error("place number {} given with --at lies on the wrong side of the others; check its numbers", .number + 1)]
    Misplaced {
        /// Which, from 0.
        number: usize,
    },
    /// The points are arranged as no camera sees them.
    #[error(
        "no camera sees places so arranged as those given with --at: their order round the picture is not that on the sheet; check the numbers of each, px and mm, for one that is mistyped"
    )]
    Unseeable,
    /// The view is one that nobody takes.
    #[error(
        "by the places given with --at the picture was taken {tilt:.0}° aslant, a millimetre being {:.2} px at one of them and {:.2} at another, which can't be measured; check the numbers of each, px and mm, or take it from above",
        .px_per_mm[0], .px_per_mm[1]
    )]
    Aslant {
        /// Tilt, degrees.
        tilt: f64,
        /// Least and greatest scale at the points.
        px_per_mm: [f64; 2],
    },
    /// No camera stands there.
    #[error(
        "by the places given with --at the picture was taken from {:.2} m away, where no camera stands; check their unit: numbers without one are mm{}", .away / 1000.0, in_other_units(*.away)
    )]
    Distance {
        /// How far, mm.
        away: f64,
    },
    /// A file that says so few dots to the inch that no glass is so large.
    #[error(
        "by the file's {:.0} dpi the glass would be {:.0} x {:.0} mm, and flatbeds reach A3; {:.0} dpi may be what a program wrote that did not know: give places with --at \"x,y=mm,mm\", or lay a ruled sheet behind", 25.4 * .px_per_mm, .glass[0], .glass[1], 25.4 * .px_per_mm
    )]
    Glass {
        /// By the file, px per mm along x.
        px_per_mm: f64,
        /// How large the picture would be, mm.
        glass: [f64; 2],
    },
    /// Lines of a ruled sheet on what was taken for a plain ground.
    #[error(
        "the scan shows a ruled sheet, with squares of about {pitch:.1} mm by the file's resolution, and its lines can't be told from cloth on a plain ground; say --pitch instead of --trust-dpi"
    )]
    Ruled {
        /// Pitch by the resolution, mm.
        pitch: f64,
    },
    /// A scan whose scale is many times another than the file's.
    #[error(
        "by the places given with --at the scan has {:.0} dpi, and its file says {:.0}; check their unit: numbers without one are mm", 25.4 * .seen, 25.4 * .told
    )]
    Slip {
        /// By the points, px per mm.
        seen: f64,
        /// By the file.
        told: f64,
    },
}

/// What is said of places that contradict each other.
fn contradicts(number: Option<usize>, off: f64) -> String {
    match number {
        Some(number) => format!("number {} is {off:.1} px from where the others have it; check its numbers", number + 1),
        None => format!("one of them is wrong, by {off:.1} px or more, and so few can't tell which; check the numbers of each, px and mm"),
    }
}

/// What the distance would be if places that make a camera stand too near were meant in another unit.
fn in_other_units(away: f64) -> String {
    let meant = [("cm", 10.0), ("inches", 25.4)].map(|(unit, by)| (unit, away * by));
    let likely: Vec<String> =
        meant.iter().filter(|(_, a)| sense::USUAL.contains(a)).map(|(u, a)| format!("{:.1} m in {u}", a / 1000.0)).collect();
    if away < *sense::USUAL.start() && !likely.is_empty() { format!(" (it would be {})", likely.join(", ")) } else { String::new() }
}
