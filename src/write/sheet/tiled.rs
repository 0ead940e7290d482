//! A sheet on pages to be joined.

use super::inks::Ground;
use super::joints::{SheetPage, crosses, strips};
use super::rulers::{rulers, title};
use super::ruling::{ground as tinted, lines, marks};
use super::{SheetPrintError, front};
use crate::sheet::pages::{MARGIN, SheetPages};
use crate::sheet::{Paper, SheetPlan, called};
use crate::write::page::{Drawing, Letters, Page, Part, pdf};
use kurbo::{Point, Rect};

/// More pages than this nobody joins without drift.
const MOST_PAGES: usize = 400;

/// A file of pages.
#[derive(Clone, Debug, PartialEq)]
pub struct SheetPrint {
    /// The file.
    pub bytes: Vec<u8>,
    /// Pages across and down, without those that say how to print and join.
    pub size: [usize; 2],
    /// Pages before these.
    pub front: usize,
}

/// The sheet on pages of a paper, whichever way round takes fewer.
///
/// # Errors
/// The paper is too small, or far too many pages would be needed.
pub fn sheet_tiled(plan: &SheetPlan, paper: &Paper, ground: Ground) -> Result<SheetPrint, SheetPrintError> {
    let letters = Letters::new();
    let small = || SheetPrintError::SmallPaper { paper: paper.name.clone(), pitch: called(plan.code.pitch()) };
    let (pages, size) = SheetPages::fewest([paper.width, paper.height], plan.pitch(), plan.squares).ok_or_else(small)?;
    let [columns, rows] = pages.size(plan.squares);
    if columns * rows > MOST_PAGES {
        return Err(SheetPrintError::TooManyPages(columns * rows));
    }
    let room = size.map(|s| s - 2.0 * MARGIN);
    let fronts = front::pages(plan, &pages, ground, &paper.name, &letters, room).ok_or_else(small)?;
    let before = fronts.len();
    let all = Rect::new(0.0, 0.0, room[0], room[1]);
    let mut out: Vec<Page> = Vec::new();
    for (k, drawing) in fronts.into_iter().enumerate() {
        out.push(Page { size, parts: vec![part(drawing, all, Point::ZERO)], label: format!("{}", k + 1) });
    }
    for row in 0..rows {
        for column in 0..columns {
            out.push(page(&SheetPage { plan, pages: &pages, row, column }, ground, size, &letters));
        }
    }
    let bytes = pdf(&format!("Ruled {}", plan.words()), &out, &letters)?;
    Ok(SheetPrint { bytes, size: [columns, rows], front: before })
}

fn page(own: &SheetPage, ground: Ground, size: [f64; 2], letters: &Letters) -> Page {
    let (shown, whole) = (own.shown(), own.whole());
    let mut sheet = tinted(own.plan, ground, shown);
    sheet.append(crosses(own));
    sheet.append(lines(own.plan, shown));
    sheet.append(marks(own.plan, shown));
    sheet.append(rulers(own.plan, letters, shown));
    sheet.append(title(own.plan, letters));
    let corner = whole.origin();
    let parts = vec![part(sheet, shown, corner), part(strips(own, letters, ground), whole, corner)];
    Page { size, parts, label: own.address() }
}

/// Things of which what lies in a rectangle is shown, with a place of theirs at the corner of the margins.
fn part(drawing: Drawing, shown: Rect, corner: Point) -> Part {
    let moved = Point::new(MARGIN, MARGIN) - corner;
    Part { clip: Some(shown + moved), scale: [1.0, 1.0], origin: moved.to_point(), drawing }
}
