//! Things drawn as SVG, one line of text each.

use super::drawing::{Ink, Item, Pen};
use crate::write::path_text::path_text;
use std::fmt::Write;

/// One thing drawn, a line of text.
pub(in crate::write) fn svg_item(out: &mut String, item: &Item) {
    match item {
        Item::Stroke { path, pen: own } => {
            let _ = writeln!(out, "<path{} d=\"{}\"/>", svg_pen(own), path_text(path));
        }
        Item::Fill { path, ink } => {
            let _ = writeln!(out, "<path fill=\"{}\" stroke=\"none\" d=\"{}\"/>", named(*ink), path_text(path));
        }
        Item::Words(w) => {
            let turn = w.turn.to_degrees();
            let turned =
                if turn.abs() < 1e-6 { String::new() } else { format!(" transform=\"rotate({turn:.4} {:.4} {:.4})\"", w.at.x, w.at.y) };
            let _ = writeln!(
                out,
                "<text x=\"{:.4}\" y=\"{:.4}\" font-size=\"{:.3}\" fill=\"{}\" stroke=\"none\"{turned}>{}</text>",
                w.at.x,
                w.at.y,
                w.size,
                named(w.ink),
                escaped(&w.text)
            );
        }
    }
}

/// Attributes of a line; black where nothing is said.
pub(in crate::write) fn svg_pen(pen: &Pen) -> String {
    let dash: Vec<String> = pen.dash.iter().map(f64::to_string).collect();
    let dash = if dash.is_empty() { String::new() } else { format!(" stroke-dasharray=\"{}\"", dash.join(" ")) };
    let ink = if pen.ink == Ink::BLACK { String::new() } else { format!(" stroke=\"{}\"", named(pen.ink)) };
    format!(" stroke-width=\"{}\"{ink}{dash}", pen.width)
}

/// An ink as SVG calls it.
fn named(ink: Ink) -> String {
    let [r, g, b] = match ink {
        Ink::BLACK => return "black".into(),
        Ink::Grey(v) => [(v * 255.0).round() as u8; 3],
        Ink::Colour(rgb) => rgb,
    };
    format!("#{r:02x}{g:02x}{b:02x}")
}

/// Text as it stands between tags and in attributes.
pub(in crate::write) fn escaped(text: &str) -> String {
    text.replace('&', "&amp;").replace('<', "&lt;").replace('>', "&gt;").replace('"', "&quot;")
}
