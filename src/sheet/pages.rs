//! How a sheet is parted into pages that are joined: which lines stand on which page, and where pages are cut.
//!
//! Along each axis the first page holds some lines and every further one as many as there is room for, whatever the size of the sheet, so that a
//! picture of any part of it can be told page by page. Pages are cut between two lines, [`CUT`] of a square after the first of them: beyond where
//! that line is measured, short of the mark in the middle. So every node, with all that is measured of it, lies on one page, and a mark
//! whole on the page that is laid on top, the one further right or further down. Pages lie over one another by [`OVERLAP`] beyond the cut,
//! with the drawing on it, and begin with a strip of [`TRIM`] before it that is cut off.

use std::ops::Range;

/// Left bare at each side of a page, mm: more than desk printers keep. Common practice, no source.
pub const MARGIN: f64 = 10.0;
/// How far a page goes on beyond the cut of the one that is laid on it, mm.
pub const OVERLAP: f64 = 8.0;
/// Strip before the cut, mm: what to do stands there.
pub const TRIM: f64 = 4.0;
/// Where a page is cut, in squares from the line before: nodes are measured up to here, and marks begin at 0.45.
pub const CUT: f64 = 0.44;
/// Least lines of each direction on a page: fewer don't tell how the page lies.
const LEAST: usize = 2;

/// What lies outside of the first lines, at the left and at the top, mm: the rulers.
pub fn before(pitch: f64) -> f64 {
    14.0 + super::code::MARK_RADIUS * pitch
}

/// What lies outside of the last lines, at the right and at the foot, mm. No more than a page has where another one would go on.
pub fn after(pitch: f64) -> f64 {
    8.0 + super::code::MARK_RADIUS * pitch
}

/// Pages along one axis.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Division {
    /// Lines on the first page.
    pub first: usize,
    /// Lines on every further one.
    pub step: usize,
}

impl Division {
    /// For pages of a size along the axis, mm; `None` when fewer than two lines would stand on one.
    fn of(size: f64, pitch: f64) -> Option<Self> {
        let room = size - 2.0 * MARGIN - OVERLAP;
        // Lengths in inches are binary fractions of a millimetre: what just fits must not fail by rounding.
        let whole = |v: f64| (v + 1e-9).floor().max(0.0) as usize;
        let first = whole((room - before(pitch)) / pitch + 1.0 - CUT);
        let step = whole((room - TRIM) / pitch);
        (first >= LEAST && step >= LEAST).then_some(Self { first, step })
    }

    /// The page a line stands on.
    pub fn page_of(self, line: usize) -> usize {
        if line < self.first { 0 } else { 1 + (line - self.first) / self.step }
    }

    /// The page that a place lies on, in squares from the first line.
    pub fn holds(self, at: f64) -> usize {
        let from = self.first as f64 - 1.0 + CUT;
        if at < from { 0 } else { 1 + ((at - from) / self.step as f64) as usize }
    }

    /// Pages for as many lines.
    pub fn pages(self, lines: usize) -> usize {
        self.page_of(lines.saturating_sub(1)) + 1
    }

    /// The lines of a page, of so many in all.
    pub fn lines(self, page: usize, lines: usize) -> Range<usize> {
        let from = |page: usize| if page == 0 { 0 } else { self.first + (page - 1) * self.step };
        from(page).min(lines)..from(page + 1).min(lines)
    }

    /// Where a page begins, in squares from the first line; the first page has no cut.
    pub fn cut(self, page: usize) -> Option<f64> {
        (page > 0).then(|| (self.first + (page - 1) * self.step) as f64 - 1.0 + CUT)
    }
}

/// The pages of a sheet, across and down.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct SheetPages {
    /// Columns of pages, and rows.
    pub axes: [Division; 2],
}

impl SheetPages {
    /// On paper of a size as it lies, width and height in mm, with lines at a pitch; `None` where a page would hold less than two lines.
    pub fn on(paper: [f64; 2], pitch: f64) -> Option<Self> {
        let [across, down] = paper.map(|size| Division::of(size, pitch));
        Some(Self { axes: [across?, down?] })
    }

    /// The way round of a paper that takes fewest pages for so many squares, upright when both take as many; with the paper's size as it lies.
    pub fn fewest(paper: [f64; 2], pitch: f64, squares: [usize; 2]) -> Option<(Self, [f64; 2])> {
        let ways = [paper, [paper[1], paper[0]]];
        let found = ways.into_iter().filter_map(|size| Some((Self::on(size, pitch)?, size)));
        found.min_by_key(|(pages, _)| pages.count(squares))
    }

    /// Column and row of the page a node stands on.
    pub fn page_of(&self, [i, j]: [usize; 2]) -> [usize; 2] {
        [self.axes[0].page_of(i), self.axes[1].page_of(j)]
    }

    /// Columns and rows of pages for so many squares.
    pub fn size(&self, squares: [usize; 2]) -> [usize; 2] {
        [0, 1].map(|k| self.axes[k].pages(squares[k] + 1))
    }

    fn count(&self, squares: [usize; 2]) -> usize {
        let [columns, rows] = self.size(squares);
        columns * rows
    }
}

/// Row and column of a page: `B3`.
pub fn address(row: usize, column: usize) -> String {
    format!("{}{}", row_word(row), column + 1)
}

/// A row: A to Z, then AA, AB …
pub fn row_word(row: usize) -> String {
    let letter = |k: usize| char::from(b'A' + (k % 26) as u8);
    if row < 26 { letter(row).to_string() } else { format!("{}{}", row_word(row / 26 - 1), letter(row)) }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::sheet::SheetCode;
    use crate::sheet::code::MARK_RADIUS;
    use proptest::prelude::*;

    #[test]
    fn rows_are_lettered() {
        assert_eq!(address(0, 0), "A1");
        assert_eq!(address(25, 9), "Z10");
        assert_eq!(address(26, 0), "AA1");
        assert_eq!(address(52, 0), "BA1");
    }

    /// By hand for A4 upright and squares of 25 mm. Across, 210 - 20 - 8 = 182 mm: less 15.25 of ruler 6.67 squares, and 0.56 of one
    /// before the first cut: 7 lines; less 4 of strip 178 mm: 7 lines. Down, 269 mm: 10.15 + 0.56 and 10.6: 10 and 10.
    #[test]
    fn pages_of_a4() {
        let pages = SheetPages::on([210.0, 297.0], 25.0).expect("pages");
        assert_eq!(pages.axes, [Division { first: 7, step: 7 }, Division { first: 10, step: 10 }]);
        assert_eq!(pages.size([36, 48]), [6, 5]);
        assert_eq!(pages.page_of([6, 9]), [0, 0]);
        assert_eq!(pages.page_of([7, 20]), [1, 2]);
        assert_eq!(pages.axes[0].lines(5, 37), 35..37);
        assert_eq!((pages.axes[0].cut(0), pages.axes[0].cut(2)), (None, Some(13.44)));
        // Lying it takes 4 columns of 10 lines by 7 rows of 7.
        assert_eq!(SheetPages::fewest([210.0, 297.0], 25.0, [36, 48]).map(|f| f.1), Some([297.0, 210.0]));
        assert_eq!(SheetPages::on([210.0, 297.0], 100.0), None);
    }

    #[test]
    fn a_cut_clears_marks_and_measured_arms() {
        assert!((0.44..0.5 - MARK_RADIUS).contains(&CUT));
    }

    proptest! {
        /// Every line stands on one page, between its cuts, and all that a page shows has room between its margins.
        #[test]
        fn every_line_has_a_page_and_every_page_fits(
            wide in 180.0..1300.0f64, nth in 0usize..20, lines in 7usize..100,
        ) {
            let pitches: Vec<f64> = SheetCode::pitches().map(|p| p.mm()).collect();
            let pitch = pitches[nth % pitches.len()];
            let Some(division) = Division::of(wide, pitch) else {
                prop_assert!(wide - 2.0 * MARGIN - OVERLAP - before(pitch) < 2.0 * pitch);
                return Ok(());
            };
            let pages = division.pages(lines);
            let mut next = 0;
            for page in 0..pages {
                let own = division.lines(page, lines);
                prop_assert_eq!(own.start, next);
                prop_assert!(!own.is_empty());
                next = own.end;
                prop_assert!(own.clone().all(|l| division.page_of(l) == page && division.holds(l as f64) == page));
                let from = division.cut(page).map_or(-before(pitch), |c| c * pitch - TRIM);
                let to = if page + 1 == pages { (lines - 1) as f64 * pitch + after(pitch) } else {
                    let cut = division.cut(page + 1).expect("a cut");
                    prop_assert!((cut - (own.end as f64 - 1.0 + CUT)).abs() < 1e-9);
                    cut * pitch + OVERLAP
                };
                prop_assert!(to - from <= wide - 2.0 * MARGIN + 1e-6, "page {} is {} mm of {}", page, to - from, wide);
            }
            prop_assert_eq!(next, lines);
        }
    }
}
