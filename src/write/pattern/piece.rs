//! What is printed and exchanged of a garment: its pieces with all lines, marks and words, in mm, x right, y down.

use super::tables::Tables;
use crate::notes::{Cut, PieceKind};
use crate::piece::AllowanceError;
use crate::write::page::{Font, FontError, LettersError};
use kurbo::{BezPath, Point, Rect, Shape, Vec2};

/// A pattern.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Pattern {
    /// What the garment is called.
    pub garment: String,
    /// Its object or stock number.
    pub number: Option<String>,
    /// The day on the labels.
    pub date: String,
    /// Its pieces.
    pub pieces: Vec<PatternPiece>,
    /// Cautions for this garment, beside the usual ones.
    pub cautions: Vec<String>,
    /// What the record says and the pattern can't show, a sentence each.
    pub left_out: Vec<String>,
    /// Measures and seams, where they are to be printed too.
    pub tables: Option<Tables>,
    /// The font that pages are set in, unless it is the one that comes with the program.
    pub font: Option<Font>,
}

/// What a line of a pattern is for.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum LineKind {
    /// The outermost line: what is cut along, or the finished edge where no allowance is included.
    Cut,
    /// What is sewn along, inside an allowance.
    Stitch,
    /// What lies on the fold of the cloth.
    Fold,
    /// A seam or another line within, drawn and not cut.
    Inner,
    /// The leg of a dart, which is sewn.
    Dart,
    /// Where a pleat is folded, or where its fold comes to lie.
    Pleat,
    /// A hole, which is cut.
    CutOut,
}

/// One line.
#[derive(Clone, Debug, PartialEq)]
pub struct PatternLine {
    /// What it is for.
    pub kind: LineKind,
    /// Nobody saw or measured it.
    pub assumed: bool,
    /// The edge or seam it belongs to.
    pub name: String,
    /// Where it runs.
    pub path: BezPath,
}

/// A notch in the outermost line.
#[derive(Clone, Debug, PartialEq)]
pub struct PatternNotch {
    /// Its place on that line.
    pub at: Point,
    /// Into the piece, of length 1.
    pub into: Vec2,
    /// How deep, mm.
    pub depth: f64,
    /// How wide at the line, mm; 0 for a slit.
    pub width: f64,
    /// Nobody saw it: it was proposed for a seam.
    pub assumed: bool,
    /// As it is drawn.
    pub path: BezPath,
}

/// A placement mark within the piece.
#[derive(Clone, Debug, PartialEq)]
pub struct PatternMark {
    /// Where.
    pub at: Point,
    /// What belongs there.
    pub words: String,
}

/// Words along an edge.
#[derive(Clone, Debug, PartialEq)]
pub struct EdgeWords {
    /// The line they stand along, inside of it.
    pub path: BezPath,
    /// The words.
    pub words: String,
}

/// One piece.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct PatternPiece {
    /// Its name.
    pub name: String,
    /// The outermost line, closed, clockwise as seen.
    pub outer: BezPath,
    /// What it is, where that is known.
    pub kind: Option<PieceKind>,
    /// All lines.
    pub lines: Vec<PatternLine>,
    /// Where lines have corners.
    pub corners: Vec<Point>,
    /// Notches.
    pub notches: Vec<PatternNotch>,
    /// Placement marks.
    pub marks: Vec<PatternMark>,
    /// Points of darts.
    pub tips: Vec<Point>,
    /// From a pleat's fold to where it comes to lie.
    pub arrows: Vec<[Point; 2]>,
    /// Direction of the lengthwise threads, of length 1; nothing while nobody recorded it.
    pub grain: Option<Vec2>,
    /// Words along edges.
    pub edge_words: Vec<EdgeWords>,
    /// How many are cut, and how.
    pub cut: Option<Cut>,
    /// From which cloth.
    pub cloth: Option<String>,
    /// Which side is up.
    pub side: &'static str,
    /// Which allowance is included.
    pub allowance: String,
    /// Of a band or rib its relaxed length and its stretch.
    pub band: Option<String>,
    /// By how much it is drawn larger for what its cloth will shrink, in words.
    pub larger: Option<String>,
}

/// Why no pattern can be made.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum PatternError {
    /// There is nothing to draw.
    #[error("the record holds no pieces; trace the garment again")]
    Empty,
    /// A piece can't be read from its record.
    #[error(transparent)]
    Found(#[from] crate::write::FoundError),
    /// No cut line can be drawn round a piece.
    #[error("{piece}: {why}")]
    Allowance {
        /// The piece.
        piece: String,
        /// Why.
        why: AllowanceError,
    },
    /// A name that can't be printed.
    #[error(transparent)]
    Letters(#[from] LettersError),
    /// A size that no piece of a garment has.
    #[error("{piece} measures {long:.0} mm; nothing over {most:.0} mm is a piece of a garment, so the record is spoilt")]
    Huge {
        /// The piece.
        piece: String,
        /// Its longer side, mm.
        long: f64,
        /// What is taken, mm.
        most: f64,
    },
    /// It fits on no page of the roll.
    #[error("{piece} is {size:.0} mm {way} and the roll leaves {room:.0} mm; {advice}")]
    TooWide {
        /// The piece.
        piece: String,
        /// Its size, mm.
        size: f64,
        /// `wide` or `long`.
        way: &'static str,
        /// Room between the margins, mm.
        room: f64,
        /// What to do.
        advice: &'static str,
    },
    /// The paper has no room for what page one must hold.
    #[error(
        "{paper} leaves {wide:.0} x {high:.0} mm between its margins; page one needs {needs_wide:.0} x {needs_high:.0} mm: take larger paper or a smaller margin"
    )]
    SmallPaper {
        /// The paper.
        paper: String,
        /// Room, mm.
        wide: f64,
        /// Room, mm.
        high: f64,
        /// Needed, mm.
        needs_wide: f64,
        /// Needed, mm.
        needs_high: f64,
    },
    /// Margin and overlap leave nothing.
    #[error("{0}")]
    Tiling(String),
    /// More sheets than anybody tapes together.
    #[error("the pattern takes {0} pages of this paper; take a larger one, or a roll")]
    TooManyPages(usize),
    /// The font could not be reduced for the file.
    #[error(transparent)]
    Font(#[from] FontError),
}

impl PatternPiece {
    /// A rectangle that holds it.
    pub fn extent(&self) -> Rect {
        self.outer.bounding_box()
    }

    /// Words for how many are cut from what: `cut 2 lining, mirrored`.
    pub fn cut_words(&self) -> String {
        self.cut_from(self.cloth.as_deref().unwrap_or_default())
    }

    /// The same where the cloth is told elsewhere: `cut 2, mirrored`.
    pub fn count_words(&self) -> String {
        self.cut_from("")
    }

    fn cut_from(&self, cloth: &str) -> String {
        match &self.cut {
            None if cloth.is_empty() => "number to cut not recorded".into(),
            None => format!("cut from {cloth}; number not recorded"),
            Some(cut) => {
                let how = cut.words.trim_start_matches(|c: char| c.is_ascii_digit()).trim_start_matches([',', ' ', ';', 'x', '×']).trim();
                let cloth = if cloth.is_empty() { String::new() } else { format!(" {cloth}") };
                let how = if how.is_empty() { String::new() } else { format!(", {how}") };
                format!("cut {}{cloth}{how}", cut.count)
            }
        }
    }
}
