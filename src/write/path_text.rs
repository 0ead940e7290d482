//! Outlines as SVG path data (SVG 2, section 9.3): plain decimals, spaces between numbers, no exponents.

use kurbo::{BezPath, PathEl, Point};
use std::fmt::Write;

/// Decimals kept: a tenth of a micrometre, far below anything cloth can show.
const DECIMALS: usize = 4;

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

/// Reads path data back.
///
/// # Errors
/// The text is no path data; the message says what was met.
pub fn path_from_text(text: &str) -> Result<BezPath, kurbo::SvgParseError> {
    BezPath::from_svg(text)
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
}
