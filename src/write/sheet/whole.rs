//! A sheet in one: a page of a roll, or a drawing for other programs; below it the squares to measure and what to do.

use super::inks::Ground;
use super::rulers::{rulers, title};
use super::ruling::{extent, ground as tinted, lines, marks};
use super::{SheetPrintError, front};
use crate::sheet::{LONGEST_PAGE, SheetPlan, pages};
use crate::write::page::{Drawing, Letters, Page, Part, escaped, pdf, svg_item};
use kurbo::{Affine, Point};
use std::fmt::Write;

/// Left bare at each side of a roll, mm: what plotters keep. Common practice, no source.
pub const ROLL_MARGIN: f64 = 5.0;
/// From the sheet to what stands below it, mm.
const GAP: f64 = 8.0;
/// Least width of the words below, mm.
const LEAST: f64 = 150.0;

/// How much wider and higher than its squares a sheet is, mm.
pub fn surround(pitch: f64) -> f64 {
    pages::before(pitch) + pages::after(pitch)
}

/// Things of a kind, by name.
type Group = (&'static str, Drawing);

/// The sheet and what stands below it, within a width, from the upper left corner; with its size.
fn whole(plan: &SheetPlan, ground: Ground, letters: &Letters, wide: f64) -> (Vec<Group>, [f64; 2]) {
    let all = extent(plan);
    let mut border = rulers(plan, letters, all);
    border.append(title(plan, letters));
    let (below, high) = front::strip(plan, ground, letters, wide);
    let by = Affine::translate(((wide - all.width()) / 2.0 - all.x0, -all.y0));
    let groups = [("ground", tinted(plan, ground, all)), ("lines", lines(plan, all)), ("marks", marks(plan, all)), ("rulers", border)];
    let mut out: Vec<Group> = groups.into_iter().map(|(name, d)| (name, d.mapped(by))).collect();
    out.push(("how-to-print", below.mapped(Affine::translate((0.0, all.height() + GAP)))));
    (out, [wide, all.height() + GAP + high])
}

/// The sheet as one page of a roll.
///
/// # Errors
/// The roll is too narrow, or the page would be longer than pages may be.
pub fn sheet_roll(plan: &SheetPlan, roll: f64, ground: Ground) -> Result<Vec<u8>, SheetPrintError> {
    let letters = Letters::new();
    let wide = extent(plan).width().max(LEAST) + 2.0 * ROLL_MARGIN;
    if wide > roll + 1e-6 {
        return Err(SheetPrintError::Narrow { wide, roll });
    }
    let (groups, size) = whole(plan, ground, &letters, roll - 2.0 * ROLL_MARGIN);
    let long = size[1] + 2.0 * ROLL_MARGIN;
    if long > LONGEST_PAGE {
        return Err(SheetPrintError::Long { long, most: LONGEST_PAGE });
    }
    let corner = Point::new(ROLL_MARGIN, ROLL_MARGIN);
    let parts = groups.into_iter().map(|(_, drawing)| Part { clip: None, scale: [1.0, 1.0], origin: corner, drawing }).collect();
    let page = Page { size: [roll, long], parts, label: "sheet".into() };
    Ok(pdf(&format!("Ruled {}", plan.words()), &[page], &letters)?)
}

/// The sheet as a drawing.
pub fn sheet_svg(plan: &SheetPlan, ground: Ground) -> String {
    let letters = Letters::new();
    let (groups, [width, height]) = whole(plan, ground, &letters, extent(plan).width().max(LEAST));
    let mut out = String::new();
    // Writing to a string does not fail.
    let _ = writeln!(
        out,
        r#"<?xml version="1.0" encoding="UTF-8"?>
<svg xmlns="http://www.w3.org/2000/svg" width="{width:.4}mm" height="{height:.4}mm" viewBox="0 0 {width:.4} {height:.4}">
<title>Ruled {}</title>
<desc>A coded sheet in millimetres at true size. Print at 100 %; the squares below it measure 100 mm and 4 in. Made by ruboff {}.</desc>
<g fill="none" stroke="black" stroke-linejoin="round" font-family="'DejaVu Sans', sans-serif">"#,
        escaped(&plan.words()),
        env!("CARGO_PKG_VERSION")
    );
    for (name, drawing) in groups {
        let _ = writeln!(out, "<g id=\"{name}\">");
        drawing.items.iter().for_each(|item| svg_item(&mut out, item));
        let _ = writeln!(out, "</g>");
    }
    out.push_str("</g>\n</svg>\n");
    out
}
