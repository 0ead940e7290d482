//! The pattern on pages to be joined.

use super::dress::dressed;
use super::front::{self, Told};
use super::grid::{Grid, INSET, shown};
use super::joining::{Joining, Orientation};
use super::lay::{Ground, Laid, lay};
use super::map::{left_out, unsaid};
use super::piece::{Pattern, PatternError};
use super::read::settable;
use super::{joints, map, tables};
use crate::sheet::Paper;
use crate::sheet::pages::address;
use crate::write::page::{Drawing, Letters, Page, Part, pdf};
use kurbo::{Affine, BezPath, Point, Rect, Shape};

/// What the joined sheet is no wider than unless a piece is, mm: a cutting table. Common practice, no source.
const TABLE: f64 = 1100.0;

/// What came of a file of pages.
#[derive(Clone, Debug, PartialEq)]
pub struct Printed {
    /// The file.
    pub bytes: Vec<u8>,
    /// How many pages it has.
    pub pages: usize,
    /// Of these, before the pattern itself begins.
    pub front: usize,
    /// The paper as it lies.
    pub paper: String,
}

/// The pattern on pages of a paper.
///
/// # Errors
/// The paper is too small, or far too many pages would be needed.
pub fn tiled(pattern: &Pattern, paper: &Paper, joining: &Joining, turns: bool) -> Result<Printed, PatternError> {
    let [portrait, landscape] = both_ways(paper);
    match joining.orientation {
        Orientation::Portrait => on_pages(pattern, &portrait, joining, turns),
        Orientation::Landscape => on_pages(pattern, &landscape, joining, turns),
        Orientation::Fewest => {
            let given = paper.width > paper.height;
            let (first, other) = if given { (landscape, portrait) } else { (portrait, landscape) };
            let (first, other) = (on_pages(pattern, &first, joining, turns), on_pages(pattern, &other, joining, turns));
            match (&first, other) {
                (Ok(a), Ok(b)) if b.pages < a.pages => Ok(b),
                (Err(_), Ok(b)) => Ok(b),
                _ => first,
            }
        }
    }
}

/// A paper with its longer side upright, and level.
fn both_ways(paper: &Paper) -> [Paper; 2] {
    let (short, long) = (paper.width.min(paper.height), paper.width.max(paper.height));
    let level = Paper { name: format!("{} landscape", paper.name), width: long, height: short };
    [Paper { name: paper.name.clone(), width: short, height: long }, level]
}

fn on_pages(pattern: &Pattern, paper: &Paper, joining: &Joining, turns: bool) -> Result<Printed, PatternError> {
    let letters = Letters::of(pattern.font.as_ref());
    settable(pattern, &letters)?;
    let room = shown(paper, joining)?;
    let laid = laid(pattern, room, joining.overlap, turns)?;
    let outlines: Vec<BezPath> = pattern.pieces.iter().zip(&laid).map(|(p, l)| l.by * p.outer.clone()).collect();
    let grid = Grid::over(&outlines, room, joining.overlap)?;
    let mut drawing = Drawing::default();
    let strips = grid.strips();
    let mut homeless = Vec::new();
    for (k, l) in laid.iter().enumerate() {
        let joints: Vec<BezPath> = strips.iter().map(|s| l.by.inverse() * s.to_path(0.1)).collect();
        let dressed = dressed(pattern, k, &letters, &joints);
        drawing.append(dressed.drawing.mapped(l.by));
        homeless.extend(unsaid(&pattern.pieces[k].name, &dressed.homeless));
    }
    let beside = [homeless, left_out(pattern)].concat();
    let count = grid.pages().count();
    let told = |front: usize| Told {
        room,
        joining,
        found: outlines.iter().map(|o| pages_of(&grid, o)).collect(),
        paper: format!("{count} pages of {} to be joined, and {front} like this one and the map", paper.name),
    };
    // How many pages the list takes does not depend on what they are called.
    let listed = pattern.tables.as_ref().map(|t| tables::pages(t, &letters, room)).unwrap_or_default();
    let maps = map::pages(pattern, &grid, &outlines, &letters, room, &beside);
    let before = front::pages(pattern, &told(2), &letters)?.len() + maps.len() + listed.len();
    let mut fronts = front::pages(pattern, &told(before), &letters)?;
    fronts.extend(maps);
    fronts.extend(listed);
    let all = fronts.len() + count;
    let mut pages: Vec<Page> = Vec::new();
    for (k, drawing) in fronts.into_iter().enumerate() {
        pages.push(page(paper, joining, format!("{}", k + 1), Point::ZERO, vec![drawing]));
    }
    let extents: Vec<Rect> = drawing.items.iter().map(|i| i.extent(&letters)).collect();
    let said = joints::Said { before, all, correction: joining.correction_words() };
    for ((row, column), own) in joints::drawn(&grid, &drawing.items, &letters, &said) {
        let tile = grid.tile(row, column);
        let seen = drawing.items.iter().zip(&extents).filter(|(_, e)| meet(**e, tile)).map(|(i, _)| i.clone()).collect();
        pages.push(page(paper, joining, address(row, column), tile.origin(), vec![Drawing { items: seen }, own]));
    }
    let bytes = pdf(&pattern.garment, &pages, &letters)?;
    Ok(Printed { bytes, pages: pages.len(), front: before, paper: paper.name.clone() })
}

fn meet(a: Rect, b: Rect) -> bool {
    a.x0 <= b.x1 && a.x1 >= b.x0 && a.y0 <= b.y1 && a.y1 >= b.y0
}

/// A page that shows what lies right and below of a place of the drawing.
fn page(paper: &Paper, joining: &Joining, label: String, from: Point, parts: Vec<Drawing>) -> Page {
    let m = joining.margin;
    let [kx, ky] = joining.correction();
    let clip = Rect::new(m, m, paper.width - m, paper.height - m);
    let part = |drawing| Part { clip: Some(clip), scale: [kx, ky], origin: Point::new(m - from.x * kx, m - from.y * ky), drawing };
    Page { size: [paper.width, paper.height], parts: parts.into_iter().map(part).collect(), label }
}

/// Where the pieces lie: on a table's width, or on as little more as the widest piece needs.
fn laid(pattern: &Pattern, room: [f64; 2], overlap: f64, turns: bool) -> Result<Vec<Laid>, PatternError> {
    let outlines: Vec<&BezPath> = pattern.pieces.iter().map(|p| &p.outer).collect();
    let step = room.map(|r| r - overlap);
    let widest = outlines.iter().map(|o| o.bounding_box().width()).fold(0.0, f64::max);
    let longest = outlines.iter().map(|o| o.bounding_box().height()).fold(0.0, f64::max);
    let need = |w: f64| ((w + 2.0 * INSET + 4.0) / step[0]).ceil().max(1.0);
    let most = need(widest).max((TABLE / step[0]).floor());
    let mut best: Option<(usize, f64, Vec<Laid>)> = None;
    let mut columns = need(widest);
    while columns <= most {
        let width = columns * step[0] - 2.0 * INSET;
        let ground = Ground { width, height: (longest + 50.0) * outlines.len() as f64 * 2.0, page: Some(step), turns };
        if let Some(found) = lay(&outlines, &ground) {
            let found: Vec<Laid> = found.into_iter().map(|l| Laid { by: Affine::translate((INSET, INSET)) * l.by, ..l }).collect();
            let placed: Vec<BezPath> = outlines.iter().zip(&found).map(|(o, l)| l.by * (*o).clone()).collect();
            let grid = Grid::over(&placed, room, overlap)?;
            let pages = grid.pages().count();
            // Of layouts with as many pages the one nearest to a square is easiest to tape.
            let odd = (grid.columns as f64 * step[0] - grid.rows as f64 * step[1]).abs();
            if best.as_ref().is_none_or(|b| (pages, odd) < (b.0, b.1)) {
                best = Some((pages, odd, found));
            }
        }
        columns += 1.0;
    }
    best.map(|b| b.2).ok_or_else(|| PatternError::Tiling("the pieces can't be laid on pages; please report it with the record".into()))
}

/// The pages that hold something of a piece: `A1 to B3` where they make a rectangle, else row by row, `A1 to A3, B2`.
fn pages_of(grid: &Grid, outline: &BezPath) -> String {
    let mut own = Grid { used: vec![false; grid.used.len()], ..grid.clone() };
    own.mark(outline);
    let mut runs: Vec<[(usize, usize); 2]> = Vec::new();
    for page in own.pages() {
        match runs.last_mut() {
            Some([_, last]) if (last.0, last.1 + 1) == page => *last = page,
            _ => runs.push([page, page]),
        }
    }
    let alike = |w: &[[(usize, usize); 2]]| w[0][0].0 + 1 == w[1][0].0 && [0, 1].iter().all(|&k| w[0][k].1 == w[1][k].1);
    if let (true, Some([first, _]), Some([_, last])) = (runs.windows(2).all(alike), runs.first(), runs.last()) {
        runs = vec![[*first, *last]];
    }
    let named = runs.iter().map(|[a, b]| {
        let (from, to) = (address(a.0, a.1), address(b.0, b.1));
        if a == b { from } else { format!("{from} to {to}") }
    });
    named.collect::<Vec<_>>().join(", ")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_piece_is_found_on_the_pages_that_hold_it() {
        let l = BezPath::from_svg("M 4 4 L 100 4 L 100 700 L 500 700 L 500 780 L 4 780 Z").expect("a path");
        let wide = BezPath::from_svg("M 4 4 L 300 4 L 300 500 L 4 500 Z").expect("a path");
        let grid = Grid::over(std::slice::from_ref(&l), [190.0, 277.0], 10.0).expect("a grid");
        assert_eq!(pages_of(&grid, &l), "A1, B1, C1 to C3");
        assert_eq!(pages_of(&grid, &wide), "A1 to B2");
        assert_eq!(pages_of(&grid, &BezPath::from_svg("M 4 4 L 90 4 L 90 90 Z").expect("a path")), "A1");
    }
}
