//! Outlines as SVG path data (SVG 2, section 9.3): plain decimals, spaces between numbers, no exponents.

use kurbo::{BezPath, PathEl, Point, SvgParseError};
use std::fmt::Write;

/// Decimals kept: a tenth of a micrometre, far below anything cloth can show.
const DECIMALS: usize = 4;

/// No place of a sheet is farther from its origin, mm: a kilometre.
const FARTHEST: f64 = 1e6;

/// Path data in mm. Quadratics are raised to cubics so that readers meet only M, L, C and Z.
pub fn path_text(path: &BezPath) -> String {
    let mut out = String::new();
    let mut at = Point::ZERO;
    for el in path.elements() {
        if !out.is_empty() {
            out.push(' ');
        }
        match *el {
            PathEl::MoveTo(p) => points(&mut out, 'M', &[p]),
            PathEl::LineTo(p) => points(&mut out, 'L', &[p]),
            PathEl::CurveTo(a, b, p) => points(&mut out, 'C', &[a, b, p]),
            PathEl::QuadTo(q, p) => points(&mut out, 'C', &[at.lerp(q, 2.0 / 3.0), p.lerp(q, 2.0 / 3.0), p]),
            PathEl::ClosePath => out.push('Z'),
        }
        at = el.end_point().unwrap_or(at);
    }
    out
}

/// Reads path data back: what the schema of a record allows, absolute M, L, C and Z with plain decimals. Other commands, and places that no
/// line of a garment has, are refused: a curve of 1e30 mm cut into straight sides asks for terabytes.
///
/// # Errors
/// The text is no such path data; the message says what was met.
pub fn path_from_text(text: &str) -> Result<BezPath, SvgParseError> {
    if let Some(other) = text.chars().find(|c| c.is_alphabetic() && !"MLCZ".contains(*c)) {
        return Err(SvgParseError::UnknownCommand(other));
    }
    let path = BezPath::from_svg(text)?;
    let far = |p: &Point| !(p.x.abs() <= FARTHEST && p.y.abs() <= FARTHEST);
    let beyond = |el: &PathEl| match el {
        PathEl::MoveTo(p) | PathEl::LineTo(p) => far(p),
        PathEl::QuadTo(a, p) => far(a) || far(p),
        PathEl::CurveTo(a, b, p) => far(a) || far(b) || far(p),
        PathEl::ClosePath => false,
    };
    if path.elements().iter().any(beyond) { Err(SvgParseError::Wrong) } else { Ok(path) }
}

fn points(out: &mut String, letter: char, points: &[Point]) {
    out.push(letter);
    for p in points {
        // Adding zero turns a negative zero into a plain one, so that equal outlines give equal bytes.
        let (x, y) = (round(p.x) + 0.0, round(p.y) + 0.0);
        let _ = write!(out, " {x:.DECIMALS$} {y:.DECIMALS$}");
    }
}

/// A number as the files keep it.
pub(super) fn round(v: f64) -> f64 {
    let s = 10f64.powi(DECIMALS as i32);
    (v * s).round() / s + 0.0
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn text_and_back() {
        let mut p = BezPath::new();
        p.move_to((10.2, 33.0));
        p.curve_to((1e-7, -0.00001), (2.5, 3.25), (4.0, 5.0));
        p.line_to((7.0, 8.0));
        p.close_path();
        let text = path_text(&p);
        assert_eq!(text, "M 10.2000 33.0000 C 0.0000 0.0000 2.5000 3.2500 4.0000 5.0000 L 7.0000 8.0000 Z");
        assert_eq!(path_text(&path_from_text(&text).expect("path data")), text);
        assert!(path_from_text("M 1 1 X").is_err());
    }

    /// Found by the fuzz target `path`.
    #[test]
    fn what_no_garment_has_is_refused() {
        let unknown = |text: &str| match path_from_text(text) {
            Err(SvgParseError::UnknownCommand(c)) => c,
            other => panic!("{text}: {other:?}"),
        };
        assert_eq!((unknown("M 0 0 A 5 5 0 0 1 9 9"), unknown("M 0 0 l 1 1"), unknown("M 1e9 0")), ('A', 'l', 'e'));
        for far in ["M 1000001 0", "M 0 0 L 0 -99999999999", "M 0 0 C 1 1 2 2 3 9999999", &format!("M {} 0", "9".repeat(400))] {
            assert!(matches!(path_from_text(far), Err(SvgParseError::Wrong)), "{far}");
        }
        assert!(path_from_text("M 0 0 L 1000000 -1000000 Z").is_ok());
    }
}
