//! Why pictures can't be joined, in one line each.

use super::super::error::TraceError;

/// Why several pictures make no one tracing.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum JoinError {
    /// Nothing to join.
    #[error("one picture alone can't be joined; name two or more pictures that overlap, all of one sheet")]
    TooFew,
    /// One picture under two names.
    #[error("{first} and {second} are the same picture; name each one once")]
    Twice {
        /// A picture.
        first: String,
        /// The other.
        second: String,
    },
    /// A stage of one picture.
    #[error("{picture}: {why}")]
    Picture {
        /// Which.
        picture: String,
        /// Why.
        why: TraceError,
    },
    /// Nothing to tell places by.
    #[error("pictures on a sheet without ruling can't be joined; lay the garment on a ruled or coded sheet")]
    NoRuling,
    /// Two kinds of sheet, or pitches.
    #[error(
        "{} shows {} {:.2} mm apart and {} {} {:.2} mm apart: not one sheet; join pictures of one sheet, with the garment not moved in between",
        pictures[0], kinds[0], pitches[0], pictures[1], kinds[1], pitches[1]
    )]
    OtherSheet {
        /// Two pictures.
        pictures: [String; 2],
        /// How their sheets are marked.
        kinds: [&'static str; 2],
        /// The pitches, mm.
        pitches: [f64; 2],
    },
    /// Two coded sheets.
    #[error("{} shows {} and {} {}; join pictures of one sheet", pictures[0], number(numbers[0]), pictures[1], number(numbers[1]))]
    OtherNumber {
        /// Two pictures.
        pictures: [String; 2],
        /// Their sheets' numbers.
        numbers: [Option<u32>; 2],
    },
    /// The camera looked along the table.
    #[error("{picture} looks along the sheet rather than down on it; take it again from above")]
    TooSlanting {
        /// Which.
        picture: String,
    },
    /// Nothing in common.
    #[error(
        "{picture} shows nothing that the others show too, or the garment was moved; let pictures overlap by a third, or say one place seen in both with --same"
    )]
    Apart {
        /// Which.
        picture: String,
    },
    /// A mirrored picture.
    #[error("{} fits {} only when it is mirrored; switch mirroring off in the camera or scanner, or turn the picture round", pictures[1], pictures[0])]
    Mirrored {
        /// The one that fits, and the one that is mirrored.
        pictures: [String; 2],
    },
    /// Several placements fit.
    #[error(
        "{} and {} fit together in {ways} ways, whole squares apart; say one place seen in both: --same {}:x,y={}:x,y, in pixels",
        pictures[0], pictures[1], numbers[0], numbers[1]
    )]
    Open {
        /// The two.
        pictures: [String; 2],
        /// Their numbers, from 1.
        numbers: [usize; 2],
        /// How many ways.
        ways: usize,
    },
    /// The cloth lies otherwise in one picture than in another.
    #[error(
        "the edge seen in {} lies amid the cloth seen in {}, {off:.0} mm in: the garment was moved between them; take both again with nothing moved, or trace them one by one",
        pictures[0], pictures[1]
    )]
    Moved {
        /// The two.
        pictures: [String; 2],
        /// How far in, mm.
        off: f64,
    },
    /// Parts that do not meet.
    #[error(
        "{} and {} show parts of the garment that do not meet; add a picture of what lies between them, overlapping both by a third, or say --partial",
        pictures[0], pictures[1]
    )]
    Parted {
        /// The two.
        pictures: [String; 2],
    },
    /// A hint outside its picture.
    #[error(
        "a place given with --same, {:.0},{:.0}, is outside {picture}, which is {} × {} pixels when upright; give pixels of the upright picture",
        at[0], at[1], size[0], size[1]
    )]
    HintOutside {
        /// Which picture.
        picture: String,
        /// The place, px.
        at: [f64; 2],
        /// Columns and rows.
        size: [usize; 2],
    },
    /// A hint that lies nowhere.
    #[error("a place given with --same for {} and {} does not lie on the sheet; give pixels of the upright pictures", pictures[0], pictures[1])]
    HintOff {
        /// The two.
        pictures: [String; 2],
    },
    /// A named corner without a place.
    #[error(
        "the corner \"{corner}\" has no place in the joined pictures; give px and picture, the file it is seen in (or mm on a coded sheet)"
    )]
    CornerLost {
        /// Its name.
        corner: String,
    },
    /// A piece that no picture shows whole.
    #[error(
        "after joining, the piece is still cut off at the {side} side of {picture}; add a picture that shows more there, or say --partial"
    )]
    CutOff {
        /// The picture.
        picture: String,
        /// Its side.
        side: &'static str,
    },
    /// Less is there than was said.
    #[error("{asked} pieces were asked for and only {found} are seen in all pictures together; change --pieces if fewer lie there")]
    Fewer {
        /// Asked for.
        asked: usize,
        /// Seen.
        found: usize,
    },
    /// The curves.
    #[error("the joined outline: {0}")]
    Outline(TraceError),
}

fn number(number: Option<u32>) -> String {
    number.map_or_else(|| "no sheet whose code can be read".into(), |n| format!("the coded sheet {n}"))
}
