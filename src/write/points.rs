//! `points.csv`: the points that were found, before any curve was drawn through them.

use super::measures::line;
use crate::path::Flags;
use crate::trace::Tracing;

/// What the columns hold: the piece, the line of it, where the point is on the sheet, its standard error across the line, where it was seen
/// in the (first) upright picture, and how it was found.
const HEAD: [&str; 8] = ["piece", "line", "x_mm", "y_mm", "error_mm", "x_px", "y_px", "found"];

/// The table of a tracing's points, in the order of their lines.
pub fn points(tracing: &Tracing) -> String {
    let mut out = String::new();
    line(&mut out, &HEAD.map(str::to_owned));
    for piece in &tracing.pieces {
        for (name, path) in &piece.points {
            for p in &path.points {
                let figures = [p.at.x, p.at.y, p.error, p.px.x, p.px.y].map(|v| format!("{v:.3}"));
                let words = [piece.name.clone(), name.clone()];
                let all: Vec<String> = words.into_iter().chain(figures).chain([found(p.flags).to_owned()]).collect();
                line(&mut out, &all);
            }
        }
    }
    out
}

fn found(flags: Flags) -> &'static str {
    match flags {
        f if f.cut => "cut off by the frame",
        f if f.by_hand => "by hand",
        f if f.unseen => "not seen",
        f if f.rival => "one of two",
        _ => "seen",
    }
}
