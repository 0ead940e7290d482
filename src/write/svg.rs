//! The true-scale drawing. `width` and `height` in mm and a viewBox in mm make one user unit one millimetre (SVG 2, chapter 8).

use super::path_text::path_text;
use crate::trace::Tracing;
use kurbo::{Rect, Shape};
use std::fmt::Write;

/// Room around the pieces, mm.
pub(super) const MARGIN: f64 = 10.0;
/// Side of the printed check square, mm.
pub(super) const SQUARE: f64 = 100.0;

/// Draws all pieces where they lay on the sheet, with a 100 mm square below to check the print by.
pub fn svg(tracing: &Tracing) -> String {
    let extent = tracing.pieces.iter().map(|p| p.outline.path.bounding_box()).reduce(|a, b| a.union(b)).unwrap_or(Rect::ZERO);
    let (x, y) = ((extent.x0 - MARGIN).floor(), (extent.y0 - MARGIN).floor());
    let square_y = (extent.y1 + 2.0 * MARGIN).ceil();
    let width = (extent.x1 + MARGIN - x).ceil().max(SQUARE + 2.0 * MARGIN);
    let height = square_y + SQUARE + MARGIN - y;
    let mut out = String::new();
    // Writing to a string does not fail.
    let _ = writeln!(
        out,
        r#"<?xml version="1.0" encoding="UTF-8"?>
<svg xmlns="http://www.w3.org/2000/svg" width="{width}mm" height="{height}mm" viewBox="{x} {y} {width} {height}">
<title>{}</title>
<desc>Outlines in millimetres, as seen from above. Check the print: the square at the bottom measures 100 mm.</desc>
<g fill="none" stroke="black" stroke-width="0.25" stroke-linejoin="round">"#,
        escape(&tracing.picture.file)
    );
    for (k, piece) in tracing.pieces.iter().enumerate() {
        let n = k + 1;
        let _ = writeln!(out, "<g id=\"piece-{n}\">\n<title>{}</title>", escape(&piece.name));
        let _ = writeln!(out, "<path id=\"piece-{n}-outer-edge\" d=\"{}\"/>", path_text(&piece.outline.path));
        for (h, hole) in piece.holes.iter().enumerate() {
            let _ = writeln!(out, "<path id=\"piece-{n}-hole-{}\" d=\"{}\"/>", h + 1, path_text(&hole.path));
        }
        for (s, seam) in piece.inner.iter().enumerate() {
            let _ = writeln!(
                out,
                "<path id=\"piece-{n}-seam-{}\" stroke-dasharray=\"4 1.5\" d=\"{}\"><title>{}</title></path>",
                s + 1,
                path_text(&seam.path),
                escape(&seam.name)
            );
        }
        let _ = writeln!(out, "</g>");
    }
    let _ = writeln!(out, "{}\n</g>\n</svg>", check_square(x + MARGIN, square_y));
    out
}

/// The square a print is checked by, its upper left corner at a place.
pub(super) fn check_square(x: f64, y: f64) -> String {
    format!("<g id=\"check-square\"><title>100 mm square</title><rect x=\"{x}\" y=\"{y}\" width=\"{SQUARE}\" height=\"{SQUARE}\"/></g>")
}

pub(super) fn escape(text: &str) -> String {
    text.replace('&', "&amp;").replace('<', "&lt;").replace('>', "&gt;").replace('"', "&quot;")
}
