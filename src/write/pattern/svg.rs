//! The pattern as SVG: millimetres, one group a piece, one group in it for each kind of line.

use super::dress::dressed;
use super::lay::{Ground, extent, lay};
use super::pens;
use super::piece::{LineKind, Pattern, PatternError};
use crate::write::page::{Letters, escaped, svg_item, svg_pen};
use crate::write::path_text::path_text;
use kurbo::{Affine, BezPath, Shape};
use std::fmt::Write;

/// Room round the pieces, mm.
const MARGIN: f64 = 10.0;
/// Side of the check square, mm.
const SQUARE: f64 = 100.0;
/// What pieces are laid out on, unless one is wider, mm.
const WIDE: f64 = 1500.0;

/// The drawing's text.
///
/// # Errors
/// The pieces can't be laid out.
pub fn pattern_svg(pattern: &Pattern) -> Result<String, PatternError> {
    let letters = Letters::of(pattern.font.as_ref());
    let family = pattern.font.as_ref().map(|f| format!("'{}', ", f.family())).unwrap_or_default();
    let outlines: Vec<&BezPath> = pattern.pieces.iter().map(|p| &p.outer).collect();
    let widest = outlines.iter().map(|o| o.bounding_box().width()).fold(0.0, f64::max) + 8.0;
    let laid = lay(&outlines, &Ground { width: widest.max(WIDE), height: f64::from(u32::MAX), page: None, turns: false })
        .ok_or_else(|| PatternError::Tiling("the pieces can't be laid out; please report it with the record".into()))?;
    let all = extent(&outlines, &laid, 0);
    let square_y = (MARGIN + all.y1 + MARGIN).ceil();
    let width = (all.x1 + 2.0 * MARGIN).ceil().max(SQUARE + 2.0 * MARGIN);
    let height = square_y + SQUARE + MARGIN;
    let mut out = String::new();
    // Writing to a string does not fail.
    let _ = writeln!(
        out,
        r#"<?xml version="1.0" encoding="UTF-8"?>
<svg xmlns="http://www.w3.org/2000/svg" width="{width}mm" height="{height}mm" viewBox="0 0 {width} {height}">
<title>{}</title>
<desc>Pattern in millimetres at true size, seen from above. The square at the bottom measures 100 mm.</desc>
<metadata>{}</metadata>
<g fill="none" stroke="black" stroke-linejoin="round" font-family="{family}'DejaVu Sans', sans-serif">"#,
        escaped(&pattern.garment),
        escaped(&facts(pattern))
    );
    for (k, l) in laid.iter().enumerate() {
        let by = Affine::translate((MARGIN, MARGIN)) * l.by;
        piece(&mut out, pattern, k, by, &letters);
    }
    let _ = writeln!(
        out,
        "<g id=\"check-square\" stroke-width=\"0.25\"><title>100 mm square</title>\
         <rect x=\"{MARGIN}\" y=\"{square_y}\" width=\"{SQUARE}\" height=\"{SQUARE}\"/></g>\n</g>\n</svg>"
    );
    Ok(out)
}

/// What is known of the garment, one line.
fn facts(pattern: &Pattern) -> String {
    let mut out = vec![format!("garment: {}", pattern.garment)];
    out.extend(pattern.number.iter().map(|n| format!("number: {n}")));
    out.push(format!("date: {}", pattern.date));
    out.push(format!("pieces: {}", pattern.pieces.len()));
    out.push(format!("made by: ruboff {}", env!("CARGO_PKG_VERSION")));
    out.push("units: mm".into());
    out.join("; ")
}

/// The groups of a kind of line, in the order they are drawn.
const GROUPS: [(LineKind, &str, &str); 7] = [
    (LineKind::Cut, "cut", "cut line"),
    (LineKind::Stitch, "stitch", "stitch line"),
    (LineKind::Fold, "fold", "place on fold"),
    (LineKind::Inner, "within", "lines within the piece"),
    (LineKind::Dart, "darts", "legs of darts"),
    (LineKind::Pleat, "pleats", "folds of pleats and where they come to lie"),
    (LineKind::CutOut, "holes", "holes"),
];

fn piece(out: &mut String, pattern: &Pattern, k: usize, by: Affine, letters: &Letters) {
    let p = &pattern.pieces[k];
    let id = format!("piece-{}", k + 1);
    let _ = writeln!(
        out,
        "<g id=\"{id}\">\n<title>{}</title>\n<desc>{}; {}; {}</desc>",
        escaped(&p.name),
        escaped(&p.cut_words()),
        p.side,
        escaped(&p.allowance)
    );
    // The whole outermost line once, without a stroke, for programs that want it in one.
    let _ = writeln!(out, "<path id=\"{id}-outer\" stroke=\"none\" d=\"{}\"/>", path_text(&(by * p.outer.clone())));
    for (kind, name, title) in GROUPS {
        let own: Vec<_> = p.lines.iter().filter(|l| l.kind == kind).collect();
        if own.is_empty() {
            continue;
        }
        let _ = writeln!(out, "<g id=\"{id}-{name}\"><title>{title}</title>");
        for (n, line) in own.iter().enumerate() {
            let assumed = if line.assumed { ", assumed" } else { "" };
            let d = path_text(&(by * line.path.clone()));
            let n = n + 1;
            let _ = writeln!(
                out,
                "<path id=\"{id}-{name}-{n}\"{} d=\"{d}\"><title>{}{assumed}</title></path>",
                svg_pen(&pens::of(line)),
                escaped(&line.name)
            );
        }
        let _ = writeln!(out, "</g>");
    }
    if !p.notches.is_empty() {
        let _ = writeln!(out, "<g id=\"{id}-notches\"><title>notches</title>");
        for (n, notch) in p.notches.iter().enumerate() {
            let said = if notch.assumed { "<title>assumed</title>" } else { "" };
            let (n, d) = (n + 1, path_text(&(by * notch.path.clone())));
            let _ = writeln!(out, "<path id=\"{id}-notches-{n}\"{} d=\"{d}\">{said}</path>", svg_pen(&pens::notch(notch)));
        }
        let _ = writeln!(out, "</g>");
    }
    // Everything else that is printed: arrow, marks, words.
    let _ = writeln!(out, "<g id=\"{id}-marking\"><title>grain, marks and words</title>");
    let drawn = dressed(pattern, k, letters, &[]).drawing.mapped(by);
    for item in drawn.items.iter().skip(p.lines.len() + p.notches.len()) {
        svg_item(out, item);
    }
    let _ = writeln!(out, "</g>\n</g>");
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_empty_kind_has_no_group() {
        let outer = kurbo::Rect::new(0.0, 0.0, 50.0, 80.0).to_path(0.1);
        let line = super::super::piece::PatternLine { kind: LineKind::Cut, assumed: false, name: "a & b".into(), path: outer.clone() };
        let p = super::super::piece::PatternPiece {
            name: "<f>".into(),
            outer,
            lines: vec![line],
            grain: Some(kurbo::Vec2::new(0.0, 1.0)),
            side: "right side up",
            allowance: "none".into(),
            band: None,
            ..super::super::piece::PatternPiece::default()
        };
        let text = pattern_svg(&Pattern { garment: "g".into(), pieces: vec![p], ..Pattern::default() }).expect("a drawing");
        assert!(text.contains("<title>&lt;f&gt;</title>") && text.contains("piece-1-cut-1") && !text.contains("piece-1-stitch"));
        assert!(text.contains("a &amp; b"));
    }
}
