//! What is ruled or marked on a sheet, and where. No pixels here.
//!
//! A [`SheetProfile`] comes from a word for a kind (`lines`, `mat` …) with a pitch, from the profiles that are built in
//! (`calibration/sheets/*.toml`), or from a file of the same form. A [`SheetCode`] is what a coded sheet says of itself.

pub mod code;
pub mod pages;
pub mod paper;
mod lay;
mod measured;
mod plan;
mod print_file;
mod profile;

pub use code::SheetCode;
pub use lay::{PageLaid, PagesLaid, SheetLay};
pub use measured::{MeasuredError, MeasuredPrint, Readings};
pub use pages::SheetPages;
pub use paper::{LONGEST_PAGE, Paper, PaperError};
pub use plan::{LEAST, MOST, PlanError, SheetPlan, called};
pub use profile::{SheetError, UNMEASURED};

use serde::{Deserialize, Serialize};

/// How a sheet is marked.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum SheetKind {
    /// Dark lines on a light ground.
    Lines,
    /// Round dots at the nodes.
    Dots,
    /// Small crosses at the nodes.
    Crosses,
    /// Squares filled in turn.
    Checker,
    /// Light lines on a dark cutting mat.
    Mat,
    /// Dark lines with the marks of a position code (see [`code`]), which tell pitch and place.
    Coded,
    /// No ruling at all: a ground of one colour, with a scale from given points or a scanner's resolution.
    Plain,
}

impl SheetKind {
    /// The word for it in files and on the command line.
    pub fn word(self) -> &'static str {
        match self {
            Self::Lines => "lines",
            Self::Dots => "dots",
            Self::Crosses => "crosses",
            Self::Checker => "checker",
            Self::Mat => "mat",
            Self::Coded => "coded",
            Self::Plain => "plain",
        }
    }
}

/// A sheet as known before the picture is looked at.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct SheetProfile {
    /// What it is called.
    pub name: String,
    /// How it is marked; `None` when the picture has to tell.
    pub kind: Option<SheetKind>,
    /// Distance of neighbouring nodes along x and y, in mm; zero where nobody said and a position code has to tell.
    pub pitch: [f64; 2],
    /// Every n-th line is heavier; `None` when all are alike or nobody knows.
    pub heavy_every: Option<u32>,
    /// How the pitch was measured, in words; `None` when nobody measured it.
    pub measured: Option<String>,
    /// Relative standard error of the pitch along x and y (0.002 when nobody measured it).
    pub pitch_error: [f64; 2],
}
