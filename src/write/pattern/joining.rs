//! How pages of a pattern are printed and joined.

use crate::sheet::paper::short;

/// Which way round pages lie.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Orientation {
    /// Whichever takes fewer pages; as the paper is given where both take as many.
    #[default]
    Fewest,
    /// The longer side upright.
    Portrait,
    /// The longer side level.
    Landscape,
}

/// How pages are printed and joined.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Joining {
    /// Left bare at every side of a page, mm.
    pub margin: f64,
    /// How far neighbouring pages lie over one another, mm.
    pub overlap: f64,
    /// What 100 mm across and down measured on a print, mm; lengths are drawn longer by as much.
    pub printed: [f64; 2],
    /// Which way round pages lie; a roll lies as it is.
    pub orientation: Orientation,
}

impl Joining {
    /// How much longer lengths are drawn, across and down.
    pub fn correction(&self) -> [f64; 2] {
        self.printed.map(|p| 100.0 / p)
    }

    /// In words, when there is one.
    pub(super) fn correction_words(&self) -> Option<String> {
        let [x, y] = self.correction();
        let [a, b] = self.printed;
        ((x - 1.0).abs() > 1e-9 || (y - 1.0).abs() > 1e-9)
            .then(|| format!("printer correction: across x {x:.4}, down x {y:.4} (100 mm had printed as {} and {} mm)", short(a), short(b)))
    }
}

impl Default for Joining {
    /// Margins that desk printers keep, and a strip wide enough for tape. Common practice, no source.
    fn default() -> Self {
        Self { margin: 10.0, overlap: 10.0, printed: [100.0; 2], orientation: Orientation::Fewest }
    }
}
