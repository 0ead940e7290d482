//! Paper that is printed on: the names it goes by, and its size.

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
#[error("`{0}` is no paper that can be printed on; write a4, letter, a3, tabloid, or a size from 50 mm up, like 330x483mm or 13x19in")]
pub struct PaperError(String);

impl Paper {
    /// All that have a name.
    pub fn named() -> impl Iterator<Item = Self> {
        NAMED.iter().map(|(name, width, height)| Self { name: (*name).into(), width: *width, height: *height })
    }
}

impl FromStr for Paper {
    type Err = PaperError;

    fn from_str(text: &str) -> Result<Self, PaperError> {
        let plain = |t: &str| t.chars().filter(|c| !c.is_whitespace() && *c != '-' && *c != '_').collect::<String>().to_lowercase();
        if let Some((name, width, height)) = NAMED.iter().find(|n| plain(n.0) == plain(text)) {
            return Ok(Self { name: (*name).into(), width: *width, height: *height });
        }
        let fail = || PaperError(text.chars().take(40).collect());
        let [wide, high] = sides(text).ok_or_else(fail)?;
        let sound = |l: Length| (50.0..=LONGEST_PAGE).contains(&l.mm());
        if !sound(wide) || !sound(high) {
            return Err(fail());
        }
        Ok(Self { name: format!("{} x {} mm", short(wide.mm()), short(high.mm())), width: wide.mm(), height: high.mm() })
    }
}

/// Two lengths as a size is written: `330x483mm`, `13 in x 19 in`. The unit may stand once, at the end.
pub fn sides(text: &str) -> Option<[Length; 2]> {
    let (a, b) = text.split_once(['x', 'X', '×'])?;
    let high: Length = b.parse().ok()?;
    let unit = b.trim().trim_start_matches(|c: char| c.is_ascii_digit() || " .,/-½¼¾⅛⅜⅝⅞".contains(c));
    let wide: Length = a.parse().or_else(|_| format!("{a} {unit}").parse()).ok()?;
    Some([wide, high])
}

/// A number without needless decimals.
pub(crate) fn short(v: f64) -> String {
    let text = format!("{v:.2}");
    text.trim_end_matches('0').trim_end_matches('.').to_owned()
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
