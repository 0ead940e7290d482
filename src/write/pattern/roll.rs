//! The pattern on a roll: as long as it must be, never longer than a page may be, never scaled.

use super::dress::{Dressed, dressed};
use super::front::{self, Told};
use super::joining::Joining;
use super::lay::{Ground, Laid, extent, lay};
use super::map::{left_out, legend, unsaid};
use super::piece::{Pattern, PatternError};
use super::read::settable;
use super::tiled::Printed;
use crate::sheet::LONGEST_PAGE;
use crate::write::page::{Drawing, LEADING, Letters, NEEDED, Page, Part, SMALL, pdf};
use kurbo::{Affine, BezPath, Point};

/// Widest the words at the head of the roll are set, mm.
const FRONT: f64 = 360.0;
/// What the layout may lose to its raster, mm.
const FREE: f64 = 8.0;
/// Between the head and the pieces, mm.
const BELOW_FRONT: f64 = 15.0;

/// The pattern on a roll of a width, mm, on several pages where one would be too long.
///
/// # Errors
/// A piece is wider than the roll or longer than a page; the roll is too narrow for the squares.
pub fn roll(pattern: &Pattern, width: f64, joining: &Joining, turns: bool) -> Result<Printed, PatternError> {
    let letters = Letters::of(pattern.font.as_ref());
    settable(pattern, &letters)?;
    let m = joining.margin;
    let [kx, ky] = joining.correction();
    let room = [(width - 2.0 * m) / kx, (LONGEST_PAGE - 2.0 * m) / ky];
    let name = format!("a roll of {width:.1} mm");
    if room[0] < NEEDED[0] {
        let [needs_wide, needs_high] = NEEDED;
        return Err(PatternError::SmallPaper { paper: name, wide: room[0], high: room[1], needs_wide, needs_high });
    }
    let laid = laid(pattern, room, turns)?;
    let outlines: Vec<&BezPath> = pattern.pieces.iter().map(|p| &p.outer).collect();
    let sheets = laid.iter().map(|l| l.ground + 1).max().unwrap_or(1);
    let found = laid.iter().map(|l| if sheets == 1 { "this sheet".to_owned() } else { format!("sheet {} of {sheets}", l.ground + 1) });
    let head_high = 190.0 + 12.0 * pattern.pieces.len() as f64;
    let told = Told { room: [room[0].min(FRONT), head_high.max(NEEDED[1])], joining, found: found.collect(), paper: name };
    let mut heads = front::pages(pattern, &told, &letters)?.into_iter();
    let mut head = heads.next().unwrap_or_default();
    // What page one could not hold goes to its right, or below it.
    let beside = room[0] >= told.room[0] * 2.0 + 20.0;
    let mut down = told.room[1];
    for more in heads {
        let by = if beside { Affine::translate((told.room[0] + 20.0, 0.0)) } else { Affine::translate((0.0, down + 5.0)) };
        head.append(more.mapped(by));
        down += if beside { 0.0 } else { told.room[1] + 5.0 };
    }
    let dressed: Vec<Dressed> = (0..pattern.pieces.len()).map(|k| dressed(pattern, k, &letters, &[])).collect();
    let foot = legend(&mut head, pattern, &letters, [0.0, down + 6.0, told.room[0]]);
    let homeless = dressed.iter().zip(&pattern.pieces).filter_map(|(d, p)| unsaid(&p.name, &d.homeless));
    let foot = paragraphs(&mut head, &letters, homeless.chain(left_out(pattern)).collect(), [0.0, foot + 4.0, told.room[0]]);
    let top = foot + BELOW_FRONT;
    let mut pages = Vec::new();
    let mut parts = vec![head];
    let mut at = top;
    if top + extent(&outlines, &laid, 0).y1 > room[1] {
        // The words would make the first sheet too long.
        pages.push(page(width, top, joining, "words".into(), std::mem::take(&mut parts)));
        at = 0.0;
    }
    for sheet in 0..sheets {
        let all = extent(&outlines, &laid, sheet);
        parts.extend(pieces(&dressed, &laid, sheet, at));
        pages.push(page(width, at + all.y1, joining, format!("sheet {}", sheet + 1), std::mem::take(&mut parts)));
        at = 0.0;
    }
    let bytes = pdf(&pattern.garment, &pages, &letters)?;
    Ok(Printed { bytes, pages: pages.len(), front: 0, paper: told.paper })
}

/// The pieces of a sheet, moved down by what stands above them.
fn pieces(dressed: &[Dressed], laid: &[Laid], sheet: usize, down: f64) -> Vec<Drawing> {
    let own = laid.iter().zip(dressed).filter(|(l, _)| l.ground == sheet);
    own.map(|(l, d)| d.drawing.mapped(Affine::translate((0.0, down)) * l.by)).collect()
}

/// Texts one below the other, however many; how far down they reach.
fn paragraphs(out: &mut Drawing, letters: &Letters, texts: Vec<String>, [left, top, right]: [f64; 3]) -> f64 {
    let mut down = top;
    for text in texts {
        for line in letters.wrapped(&text, SMALL, right - left) {
            down += SMALL * LEADING;
            out.words((left, down - SMALL * 0.3), SMALL, line);
        }
        down += SMALL * 0.7;
    }
    down
}

/// A sheet as long as what is on it.
fn page(width: f64, long: f64, joining: &Joining, label: String, parts: Vec<Drawing>) -> Page {
    let [kx, ky] = joining.correction();
    let m = joining.margin;
    let part = |drawing| Part { clip: None, scale: [kx, ky], origin: Point::new(m, m), drawing };
    Page { size: [width, (long * ky + 2.0 * m).max(NEEDED[1])], parts: parts.into_iter().map(part).collect(), label }
}

/// Where the pieces lie.
fn laid(pattern: &Pattern, room: [f64; 2], turns: bool) -> Result<Vec<Laid>, PatternError> {
    for p in &pattern.pieces {
        let b = p.extent();
        let fits = |w: f64, h: f64| w <= room[0] - FREE && h <= room[1] - FREE;
        if fits(b.width(), b.height()) || (turns && fits(b.height(), b.width())) {
            continue;
        }
        let (way, size, room) = if b.width() > room[0] - FREE { ("wide", b.width(), room[0]) } else { ("long", b.height(), room[1]) };
        let advice = match (turns, fits(b.height(), b.width())) {
            (false, true) => "it fits with a quarter turn: say --turn, or take a wider roll",
            _ if way == "wide" => "take a wider roll, or pages to be joined (--paper)",
            _ => "take pages to be joined (--paper)",
        };
        return Err(PatternError::TooWide { piece: p.name.clone(), size, way, room, advice });
    }
    let outlines: Vec<&BezPath> = pattern.pieces.iter().map(|p| &p.outer).collect();
    lay(&outlines, &Ground { width: room[0], height: room[1], page: None, turns })
        .ok_or_else(|| PatternError::Tiling("the pieces can't be laid on the roll; please report it with the record".into()))
}
