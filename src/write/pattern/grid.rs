//! How pages cut up a large drawing: which of them hold something, and what they are called.

use super::joining::Joining;
use super::piece::PatternError;
use super::room::straight;
use crate::sheet::Paper;
use kurbo::{BezPath, Point, Rect, Shape};

/// What stays free at the outer border of the drawing, mm.
pub(super) const INSET: f64 = 4.0;
/// More pages than this nobody tapes together.
const MOST_PAGES: usize = 2000;

/// Pages over a drawing, in its own millimetres.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Grid {
    /// What a page shows between its margins.
    pub shown: [f64; 2],
    /// From one page to the next.
    pub step: [f64; 2],
    pub columns: usize,
    pub rows: usize,
    /// Row by row, whether a page holds something.
    pub used: Vec<bool>,
}

/// What a page of this paper shows, mm of the drawing: a correction makes it less.
pub(super) fn shown(paper: &Paper, joining: &Joining) -> Result<[f64; 2], PatternError> {
    let [kx, ky] = joining.correction();
    let room = [(paper.width - 2.0 * joining.margin) / kx, (paper.height - 2.0 * joining.margin) / ky];
    if room.iter().any(|r| *r < 40.0 || *r < joining.overlap * 3.0) {
        return Err(PatternError::Tiling(format!(
            "a margin of {} mm and an overlap of {} mm leave too little of {}; make them smaller",
            joining.margin, joining.overlap, paper.name
        )));
    }
    Ok(room)
}

impl Grid {
    /// The pages that these outlines need, which lie on the drawing from `INSET` on.
    ///
    /// # Errors
    /// Far too many.
    pub fn over(outlines: &[BezPath], shown: [f64; 2], overlap: f64) -> Result<Self, PatternError> {
        let all = outlines.iter().map(Shape::bounding_box).reduce(|a, b| a.union(b)).unwrap_or(Rect::ZERO);
        let step = shown.map(|s| s - overlap);
        let count = |far: f64, k: usize| (((far + INSET - shown[k]) / step[k]).ceil().max(0.0) as usize) + 1;
        let (columns, rows) = (count(all.x1, 0), count(all.y1, 1));
        if columns * rows > 100 * MOST_PAGES {
            return Err(PatternError::TooManyPages(columns * rows));
        }
        let mut grid = Self { shown, step, columns, rows, used: vec![false; columns * rows] };
        for outline in outlines {
            grid.mark(outline);
        }
        let pages = grid.pages().count();
        if pages > MOST_PAGES { Err(PatternError::TooManyPages(pages)) } else { Ok(grid) }
    }

    pub fn mark(&mut self, outline: &BezPath) {
        let b = outline.bounding_box();
        let edges = straight(outline);
        for row in 0..self.rows {
            for column in 0..self.columns {
                let own = self.own(row, column);
                let k = row * self.columns + column;
                let near = own.x0 <= b.x1 && own.x1 >= b.x0 && own.y0 <= b.y1 && own.y1 >= b.y0;
                self.used[k] = self.used[k] || (near && (edges.iter().any(|e| meets(e, own)) || outline.contains(own.center())));
            }
        }
    }

    /// Where pages lie over one another, all across and down; where they butt, a narrow strip.
    pub fn strips(&self) -> Vec<Rect> {
        let full = self.tile(self.rows.saturating_sub(1), self.columns.saturating_sub(1));
        let lap = [0, 1].map(|k| (self.shown[k] - self.step[k]).max(2.0));
        let down = (1..self.columns).map(|c| c as f64 * self.step[0]).map(|x| Rect::new(x, 0.0, x + lap[0], full.y1));
        let across = (1..self.rows).map(|r| r as f64 * self.step[1]).map(|y| Rect::new(0.0, y, full.x1, y + lap[1]));
        down.chain(across).collect()
    }

    /// What a page shows.
    pub fn tile(&self, row: usize, column: usize) -> Rect {
        let (x, y) = (column as f64 * self.step[0], row as f64 * self.step[1]);
        Rect::new(x, y, x + self.shown[0], y + self.shown[1])
    }

    /// What no page further on shows.
    fn own(&self, row: usize, column: usize) -> Rect {
        let t = self.tile(row, column);
        let x1 = if column + 1 < self.columns { t.x0 + self.step[0] } else { t.x1 };
        let y1 = if row + 1 < self.rows { t.y0 + self.step[1] } else { t.y1 };
        Rect::new(t.x0, t.y0, x1, y1)
    }

    pub fn has(&self, row: usize, column: usize) -> bool {
        row < self.rows && column < self.columns && self.used[row * self.columns + column]
    }

    /// Pages that hold something, in reading order.
    pub fn pages(&self) -> impl Iterator<Item = (usize, usize)> + '_ {
        (0..self.rows * self.columns).filter(|k| self.used[*k]).map(|k| (k / self.columns, k % self.columns))
    }
}

/// Whether a straight bit and a rectangle have a point in common (Liang & Barsky 1984).
fn meets([a, b]: &[Point; 2], r: Rect) -> bool {
    let (mut from, mut to) = (0.0f64, 1.0f64);
    for (start, way, low, high) in [(a.x, b.x - a.x, r.x0, r.x1), (a.y, b.y - a.y, r.y0, r.y1)] {
        if way.abs() < 1e-12 {
            if start < low || start > high {
                return false;
            }
            continue;
        }
        let (p, q) = ((low - start) / way, (high - start) / way);
        from = from.max(p.min(q));
        to = to.min(p.max(q));
    }
    from <= to
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::sheet::pages::address;

    /// An L covers five pages of a three by three sheet; the rest is not printed. 3 x 180 + 10 by 3 x 267 + 10 mm.
    #[test]
    fn only_pages_with_something_on_them() {
        let l = BezPath::from_svg("M 4 4 L 100 4 L 100 700 L 500 700 L 500 780 L 4 780 Z").expect("a path");
        let grid = Grid::over(&[l], [190.0, 277.0], 10.0).expect("a grid");
        let pages: Vec<String> = grid.pages().map(|(r, c)| address(r, c)).collect();
        assert_eq!(pages, ["A1", "B1", "C1", "C2", "C3"]);
        // What lies in the overlap of the last page needs no page of its own.
        let narrow = Rect::new(4.0, 4.0, 185.0, 270.0).to_path(0.1);
        assert_eq!(Grid::over(&[narrow], [190.0, 277.0], 10.0).expect("a grid").pages().count(), 1);
        // A page that lies within a piece carries it.
        let wide = Rect::new(4.0, 4.0, 700.0, 1000.0).to_path(0.1);
        let grid = Grid::over(&[wide], [190.0, 277.0], 10.0).expect("a grid");
        assert_eq!(grid.pages().count(), 16);
    }
}
