//! Where pages meet: the line to cut along, the line to lay it on, marks that must come together, and the page's address.

use super::grid::Grid;
use super::pens;
use super::room::Room;
use crate::sheet::pages::{address, row_word};
use crate::write::page::{Drawing, Item, Letters};
use kurbo::{BezPath, Point, Rect, Shape, Vec2};
use std::f64::consts::FRAC_PI_2;

/// Half the size of a mark that pages share, mm.
const MARK: f64 = 3.5;
/// Sizes of an address, mm.
const ADDRESS: [f64; 5] = [11.0, 8.0, 6.0, 4.5, 3.5];
/// Size of small print at the joints, mm.
const SMALL: f64 = 2.4;

/// A join of two pages.
#[derive(Clone, Copy, PartialEq)]
struct Join {
    /// The page that is laid on top: the one further right, or further down.
    over: (usize, usize),
    /// Whether the two stand side by side.
    beside: bool,
}

/// How far an address stays off words of the pattern where it can, mm.
const APART: f64 = 12.0;

/// What stands beside every address.
pub(super) struct Said {
    /// Pages before these.
    pub before: usize,
    /// Pages in all.
    pub all: usize,
    /// What was done to the print.
    pub correction: Option<String>,
}

/// What each page shows of its joins and its address, beside the pattern itself, whose things are `held`.
pub(super) fn drawn(grid: &Grid, held: &[Item], letters: &Letters, with: &Said) -> Vec<((usize, usize), Drawing)> {
    let pages: Vec<(usize, usize)> = grid.pages().collect();
    let extents: Vec<Rect> = held.iter().map(|i| i.extent(letters)).collect();
    let room = |&(r, c): &(usize, usize)| {
        let tile = grid.tile(r, c);
        let mut room = Room::of(tile);
        held.iter().zip(&extents).filter(|(_, e)| e.intersect(tile).area() > 0.0).for_each(|(i, _)| room.take(i, letters));
        room
    };
    let mut rooms: Vec<Room> = pages.iter().map(room).collect();
    let mut out: Vec<Drawing> = pages.iter().map(|_| Drawing::default()).collect();
    let number = |page: (usize, usize)| pages.iter().position(|p| *p == page);
    for (n, &(r, c)) in pages.iter().enumerate() {
        for beside in [true, false] {
            let over = if beside { (r, c + 1) } else { (r + 1, c) };
            if !grid.has(over.0, over.1) {
                continue;
            }
            let join = Join { over, beside };
            let other = number(over);
            let [under, over] = join.lines(grid);
            put(&mut out[n], &mut rooms[n], under, letters);
            let marks: Vec<BezPath> = join.marks(grid, (r, c), &rooms[n]);
            for mark in &marks {
                put(&mut out[n], &mut rooms[n], Item::Stroke { path: mark.clone(), pen: pens::FINE }, letters);
            }
            if let Some(k) = other {
                put(&mut out[k], &mut rooms[k], over, letters);
                for path in marks {
                    put(&mut out[k], &mut rooms[k], Item::Stroke { path, pen: pens::FINE }, letters);
                }
            }
        }
    }
    for (n, &(r, c)) in pages.iter().enumerate() {
        let mut words = vec![format!("row {}, column {}, page {} of {}", row_word(r), c + 1, with.before + n + 1, with.all)];
        words.extend(with.correction.clone());
        // Away from the pattern's own words, where there is room for that, so that the address is not read with them.
        let mut calm = rooms[n].clone();
        let own = held.iter().zip(&extents).filter(|(i, _)| matches!(i, Item::Words(_)));
        own.for_each(|(_, e)| calm.take_rect(e.inflate(APART, APART)));
        let at = Address { tile: grid.tile(r, c), name: address(r, c), words, calm };
        at.put(&mut out[n], &mut rooms[n], letters);
        for beside in [true, false] {
            said(grid, (r, c), beside, &mut out[n], &mut rooms[n], letters);
        }
    }
    pages.into_iter().zip(out).collect()
}

fn put(out: &mut Drawing, room: &mut Room, item: Item, letters: &Letters) {
    room.take(&item, letters);
    out.items.push(item);
}

impl Join {
    /// The line on the page below, and the one to cut along on the page above.
    fn lines(&self, grid: &Grid) -> [Item; 2] {
        let t = grid.tile(self.over.0, self.over.1);
        let path = if self.beside { kurbo::Line::new((t.x0, t.y0), (t.x0, t.y1)) } else { kurbo::Line::new((t.x0, t.y0), (t.x1, t.y0)) };
        [pens::LAY, pens::TRIM].map(|pen| Item::Stroke { path: path.to_path(0.1), pen })
    }

    /// Two marks on the join, away from the lines of the pattern where that can be.
    fn marks(&self, grid: &Grid, under: (usize, usize), room: &Room) -> Vec<BezPath> {
        let (t, below) = (grid.tile(self.over.0, self.over.1), grid.tile(under.0, under.1));
        let at = |share: f64| {
            if self.beside {
                Point::new(t.x0, below.y0 + (below.y1 - below.y0) * share)
            } else {
                Point::new(below.x0 + (below.x1 - below.x0) * share, t.y0)
            }
        };
        let around = [0.25, 0.7].map(|middle| {
            let tries = [0.0, 0.05, -0.05, 0.1, -0.1, 0.15, -0.15].map(|d| at(middle + d));
            tries.into_iter().find(|p| room.is_free(&square(*p))).unwrap_or(tries[0])
        });
        around.map(diamond).into()
    }
}

fn square(p: Point) -> BezPath {
    Rect::from_center_size(p, (2.0 * MARK + 3.0, 2.0 * MARK + 3.0)).to_path(0.1)
}

/// A diamond with a cross in it.
fn diamond(p: Point) -> BezPath {
    let [e, s] = [Vec2::new(MARK, 0.0), Vec2::new(0.0, MARK)];
    let mut path = BezPath::new();
    path.move_to(p - s);
    path.line_to(p + e);
    path.line_to(p + s);
    path.line_to(p - e);
    path.close_path();
    path.move_to(p - s);
    path.line_to(p + s);
    path.move_to(p - e);
    path.line_to(p + e);
    path
}

/// A page's address.
struct Address {
    tile: Rect,
    name: String,
    /// What stands beneath it.
    words: Vec<String>,
    /// The page's room without what is near words of the pattern.
    calm: Room,
}

impl Address {
    /// As large as there is room for, near the upper left corner.
    fn put(&self, out: &mut Drawing, room: &mut Room, letters: &Letters) {
        let near = Point::new(self.tile.x0 + 28.0, self.tile.y0 + 22.0);
        for size in ADDRESS {
            let small = (size * 0.3).clamp(SMALL, 3.2);
            let lines: Vec<String> = self.words.iter().flat_map(|w| letters.wrapped(w, small, 62.0)).collect();
            let wide = lines.iter().map(|l| letters.width(l, small)).fold(letters.width(&self.name, size), f64::max);
            let high = size + small * (0.4 + 1.4 * lines.len() as f64);
            let beside = Vec2::new(5.0, 4.0);
            let find = |room: &Room| room.find(wide + 2.0 * beside.x, high + 2.0 * beside.y, near);
            let Some(at) = find(&self.calm).or_else(|| find(room)) else { continue };
            let at = at + beside;
            let mut block = Drawing::default();
            block.words((at.x, at.y + size * 0.85), size, &self.name);
            for (k, line) in lines.into_iter().enumerate() {
                block.words((at.x, at.y + size + small * (1.2 + 1.4 * k as f64)), small, line);
            }
            block.items.into_iter().for_each(|i| put(out, room, i, letters));
            return;
        }
    }
}

/// What to do at a join, in small print: on the page to be cut, and on the one it is laid on.
fn said(grid: &Grid, (r, c): (usize, usize), beside: bool, out: &mut Drawing, room: &mut Room, letters: &Letters) {
    let t = grid.tile(r, c);
    let overlap = if beside { grid.shown[0] - grid.step[0] } else { grid.shown[1] - grid.step[1] };
    let turn = if beside { -FRAC_PI_2 } else { 0.0 };
    let before = if beside { c.checked_sub(1).map(|c| (r, c)) } else { r.checked_sub(1).map(|r| (r, c)) };
    let after = if beside { (r, c + 1) } else { (r + 1, c) };
    if let Some(b) = before.filter(|b| grid.has(b.0, b.1)) {
        let words = if overlap > 0.0 {
            format!("cut here, lay on {}", address(b.0, b.1))
        } else {
            format!("cut here, meets {}", address(b.0, b.1))
        };
        let off = SMALL * 0.5 + 2.6;
        let at = if beside { t.x0 + off } else { t.y0 + off };
        along(&Strip { t, beside, at, turn }, &words, out, room, letters);
    }
    if grid.has(after.0, after.1) && overlap >= SMALL + 3.0 {
        let words = format!("{} is laid here", address(after.0, after.1));
        let line = if beside { t.x0 + grid.step[0] } else { t.y0 + grid.step[1] };
        along(&Strip { t, beside, at: line + overlap / 2.0, turn }, &words, out, room, letters);
    }
}

/// A line across or down a page that words stand on.
struct Strip {
    t: Rect,
    beside: bool,
    at: f64,
    turn: f64,
}

/// Words somewhere along a strip.
fn along(strip: &Strip, words: &str, out: &mut Drawing, room: &mut Room, letters: &Letters) {
    let Strip { t, beside, at, turn } = *strip;
    for share in [0.5, 0.45, 0.55, 0.4, 0.6, 0.35, 0.65, 0.3, 0.8, 0.2, 0.86, 0.14] {
        let middle = if beside { Point::new(at, t.y0 + t.height() * share) } else { Point::new(t.x0 + t.width() * share, at) };
        let mut one = Drawing::default();
        one.words_about(letters, middle, SMALL, turn, words);
        let free = one.items.iter().all(|i| matches!(i, Item::Words(w) if room.is_free(&w.outline(letters))));
        if free {
            one.items.into_iter().for_each(|i| put(out, room, i, letters));
            return;
        }
    }
}
