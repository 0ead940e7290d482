//! Paper: the names it goes by, its size, and how pages of it are joined.

use crate::length::Length;
use std::str::FromStr;

/// A sheet of paper, upright as it is given.
#[derive(Clone, Debug, PartialEq)]
pub struct Paper {
    /// What it is called.
    pub name: String,
    /// Its width, mm.
    pub width: f64,
    /// Its height, mm.
    pub height: f64,
}

/// Sizes by name, mm: ISO 216, and ANSI/ASME Y14.1 in whole inches.
const NAMED: [(&str, f64, f64); 14] = [
    ("A4", 210.0, 297.0),
    ("A3", 297.0, 420.0),
    ("A2", 420.0, 594.0),
    ("A1", 594.0, 841.0),
    ("A0", 841.0, 1189.0),
    ("Letter", 215.9, 279.4),
    ("Legal", 215.9, 355.6),
    ("Tabloid", 279.4, 431.8),
    ("Ledger", 431.8, 279.4),
    ("ANSI C", 431.8, 558.8),
    ("ANSI D", 558.8, 863.6),
    ("ANSI E", 863.6, 1117.6),
    ("Arch D", 609.6, 914.4),
    ("Arch E", 914.4, 1219.2),
];

/// The largest page: 14 400 units of 1/72 in (ISO 32000-1, annex C.2).
pub const LONGEST_PAGE: f64 = 5080.0;

/// Why a text names no paper.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
#[error("`{0}` is no paper known here; write a4, letter, a3, tabloid, or a size like 330x483mm or 13x19in")]
pub struct PaperError(String);

impl FromStr for Paper {
    type Err = PaperError;

    fn from_str(text: &str) -> Result<Self, PaperError> {
        let plain = |t: &str| t.chars().filter(|c| !c.is_whitespace() && *c != '-' && *c != '_').collect::<String>().to_lowercase();
        if let Some((name, width, height)) = NAMED.iter().find(|n| plain(n.0) == plain(text)) {
            return Ok(Self { name: (*name).into(), width: *width, height: *height });
        }
        let fail = || PaperError(text.chars().take(40).collect());
        let (a, b) = text.split_once(['x', 'X', '×']).ok_or_else(fail)?;
        let high: Length = b.parse().map_err(|_| fail())?;
        // The unit may stand once, at the end.
        let unit = b.trim().trim_start_matches(|c: char| c.is_ascii_digit() || " .,/-½¼¾⅛⅜⅝⅞".contains(c));
        let wide: Length = a.parse().or_else(|_| format!("{a} {unit}").parse()).map_err(|_| fail())?;
        let sound = |l: Length| (50.0..=LONGEST_PAGE).contains(&l.mm());
        if !sound(wide) || !sound(high) {
            return Err(fail());
        }
        Ok(Self { name: format!("{} x {} mm", short(wide.mm()), short(high.mm())), width: wide.mm(), height: high.mm() })
    }
}

/// A number without needless decimals.
pub(super) fn short(v: f64) -> String {
    let text = format!("{v:.2}");
    text.trim_end_matches('0').trim_end_matches('.').to_owned()
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
        Self { margin: 10.0, overlap: 10.0, printed: [100.0; 2] }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// ISO 216: A4, A3; ANSI/ASME Y14.1: A is 8.5 x 11 in, B is 11 x 17 in.
    #[test]
    fn papers_by_name_and_size() {
        for (text, w, h) in [
            ("a4", 210.0, 297.0),
            ("A3", 297.0, 420.0),
            ("letter", 8.5 * 25.4, 11.0 * 25.4),
            ("tabloid", 11.0 * 25.4, 17.0 * 25.4),
            ("330x483mm", 330.0, 483.0),
            ("13x19in", 330.2, 482.6),
            ("13in x 19in", 330.2, 482.6),
            ("33 cm × 48.3 cm", 330.0, 483.0),
        ] {
            let p: Paper = text.parse().unwrap_or_else(|e| panic!("{e}"));
            assert!((p.width - w).abs() < 1e-9 && (p.height - h).abs() < 1e-9, "{text}: {p:?}");
        }
        for text in ["", "a5x", "210x297", "10x10mm", "6000x100mm", "0x0mm", "x", "-5x9in"] {
            assert!(text.parse::<Paper>().is_err(), "{text}");
        }
    }
}
