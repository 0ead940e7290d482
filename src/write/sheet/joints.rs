//! Where pages of a sheet meet: the strip that is cut off, the dashes a page is laid on, crosses that come together, and each page's address.
//!
//! All of it is cut off or covered when the sheet is joined, save halves of small crosses in the middle of squares.

use super::inks::{Ground, JOIN, TRIM};
use super::ruling::extent;
use crate::sheet::SheetPlan;
use crate::sheet::pages::address;
use crate::sheet::pages::{CUT, OVERLAP, SheetPages, TRIM as STRIP};
use crate::write::page::{Drawing, Letters, fitting};
use kurbo::{BezPath, Line, Point, Rect, Shape, Vec2};
use std::f64::consts::FRAC_PI_2;

/// Half the size of a cross, mm.
const CROSS: f64 = 2.5;
/// Size of words, mm.
const SIZE: f64 = 2.3;
/// Dashes lie this far beyond the cut, so that a page laid right covers them, mm.
const UNDER: f64 = 0.15;

/// A page of a sheet.
#[derive(Clone, Copy)]
pub(super) struct SheetPage<'a> {
    pub plan: &'a SheetPlan,
    pub pages: &'a SheetPages,
    pub row: usize,
    pub column: usize,
}

impl SheetPage<'_> {
    /// The part of the sheet it shows: from its cuts, or the sheet's border, to beyond the next page's.
    pub fn shown(&self) -> Rect {
        let all = extent(self.plan);
        let [x0, y0] = [0, 1].map(|k| self.cut(k, self.at(k)));
        let [x1, y1] = [0, 1].map(|k| self.next(k).map(|c| c + OVERLAP));
        Rect::new(x0.unwrap_or(all.x0), y0.unwrap_or(all.y0), x1.unwrap_or(all.x1), y1.unwrap_or(all.y1))
    }

    /// The same with the strips that are cut off.
    pub fn whole(&self) -> Rect {
        let r = self.shown();
        let [left, top] = [0, 1].map(|k| if self.at(k) > 0 { STRIP } else { 0.0 });
        Rect::new(r.x0 - left, r.y0 - top, r.x1, r.y1)
    }

    pub fn address(&self) -> String {
        address(self.row, self.column)
    }

    fn at(&self, axis: usize) -> usize {
        [self.column, self.row][axis]
    }

    /// Where page number `page` of an axis is cut, mm.
    fn cut(&self, axis: usize, page: usize) -> Option<f64> {
        Some(self.pages.axes[axis].cut(page)? * self.plan.pitch())
    }

    /// Where the page after this one is cut, when there is one.
    fn next(&self, axis: usize) -> Option<f64> {
        let page = self.at(axis) + 1;
        if page < self.pages.size(self.plan.squares)[axis] { self.cut(axis, page) } else { None }
    }

    /// The address of the page before or after this one.
    fn neighbour(&self, axis: usize, after: bool) -> String {
        let step = |at: usize| if after { at + 1 } else { at - 1 };
        if axis == 0 { address(self.row, step(self.column)) } else { address(step(self.row), self.column) }
    }
}

/// What stands on the part that is shown: crosses on the cuts.
pub(super) fn crosses(page: &SheetPage) -> Drawing {
    let mut out = Drawing::default();
    for axis in [0, 1] {
        for cut in [page.cut(axis, page.at(axis)), page.next(axis)].into_iter().flatten() {
            for at in middles(page, 1 - axis) {
                let p = if axis == 0 { Point::new(cut, at) } else { Point::new(at, cut) };
                let arm = CROSS.min(page.plan.pitch() * 0.2);
                let mut path = BezPath::new();
                for way in [Vec2::new(arm, 0.0), Vec2::new(0.0, arm)] {
                    path.move_to(p - way);
                    path.line_to(p + way);
                }
                out.stroke(path, JOIN);
            }
        }
    }
    out
}

/// The middles of two squares along an axis, a quarter from either end of the page's own lines.
fn middles(page: &SheetPage, axis: usize) -> Vec<f64> {
    let own = page.pages.axes[axis].lines(page.at(axis), page.plan.squares[axis] + 1);
    let count = own.len();
    let quarter = (count.saturating_sub(1)) / 4;
    let mut nth = vec![own.start + quarter, (own.end - 1).saturating_sub(quarter + 1).max(own.start)];
    nth.dedup();
    nth.retain(|k| *k < page.plan.squares[axis]);
    nth.into_iter().map(|k| (k as f64 + 0.5) * page.plan.pitch()).collect()
}

/// What stands on the strips that are cut off or covered.
pub(super) fn strips(page: &SheetPage, letters: &Letters, ground: Ground) -> Drawing {
    let mut out = Drawing::default();
    let shown = page.shown();
    for axis in [0, 1] {
        let turn = if axis == 0 { -FRAC_PI_2 } else { 0.0 };
        let long = if axis == 0 { shown.height() } else { shown.width() };
        if let Some(cut) = page.cut(axis, page.at(axis)) {
            if ground == Ground::White {
                out.stroke(across(axis, cut, &shown).to_path(0.1), TRIM);
            }
            let edge = if ground == Ground::White { "fine line" } else { "edge of the tint" };
            let words = format!(
                "{}: cut this strip off along the {edge}; lay the page on {}, its edge to the dashes there",
                page.address(),
                page.neighbour(axis, false)
            );
            let words = fitting(letters, &words, SIZE, long - 4.0);
            out.words_about(letters, spot(axis, cut - STRIP / 2.0, middle(axis, &shown)), SIZE, turn, &words);
        }
        if let Some(cut) = page.next(axis) {
            dashes(&mut out, page, axis, cut);
            let words = format!("{}. {} is laid here", page.address(), page.neighbour(axis, true));
            boxed(&mut out, letters, spot(axis, cut + OVERLAP * 0.56, middle(axis, &shown)), turn, &words, ground);
        }
    }
    if page.next(0).is_none() && page.next(1).is_none() {
        // The last page has no strip to be called by.
        let at = Point::new(shown.x1 - 4.0, shown.y1 - 3.0);
        super::rulers::words(&mut out, letters, at, SIZE, 0.0, &page.address());
    }
    out
}

/// Dashes between the ruled lines, from the last page's to where the part ends.
fn dashes(out: &mut Drawing, page: &SheetPage, axis: usize, cut: f64) {
    let pitch = page.plan.pitch();
    let shown = page.shown();
    let [from, to] = if axis == 0 { [shown.y0, shown.y1] } else { [shown.x0, shown.x1] };
    let mut all = BezPath::new();
    for k in 0..page.plan.squares[1 - axis] {
        let [a, b] = [0.2, CUT - 0.04].map(|s| (k as f64 + s) * pitch);
        let [c, d] = [0.62, 0.8].map(|s| (k as f64 + s) * pitch);
        for [a, b] in [[a, b], [c, d]] {
            if a >= from && b <= to {
                all.move_to(spot(axis, cut + UNDER, a));
                all.line_to(spot(axis, cut + UNDER, b));
            }
        }
    }
    if !all.is_empty() {
        out.stroke(all, JOIN);
    }
}

/// Words on a patch of the ground.
fn boxed(out: &mut Drawing, letters: &Letters, at: Point, turn: f64, text: &str, ground: Ground) {
    let size = Vec2::new(letters.width(text, SIZE) + 2.0, SIZE + 1.0);
    let size = if turn == 0.0 { size } else { Vec2::new(size.y, size.x) };
    out.fill(Rect::from_center_size(at, size.to_size()).to_path(0.1), ground.ink());
    super::rulers::words(out, letters, at, SIZE, turn, text);
}

fn across(axis: usize, at: f64, shown: &Rect) -> Line {
    if axis == 0 { Line::new((at, shown.y0), (at, shown.y1)) } else { Line::new((shown.x0, at), (shown.x1, at)) }
}

fn middle(axis: usize, shown: &Rect) -> f64 {
    if axis == 0 { shown.center().y } else { shown.center().x }
}

/// The place `at` along an axis and `other` along the other.
fn spot(axis: usize, at: f64, other: f64) -> Point {
    if axis == 0 { Point::new(at, other) } else { Point::new(other, at) }
}
