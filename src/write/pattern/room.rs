//! Room for words: a piece or a page cut into small cells, each free or taken.

use crate::write::page::{Item, Letters};
use kurbo::{BezPath, ParamCurve, ParamCurveArclen, PathEl, PathSeg, Point, Rect, Shape};

/// Side of a cell, mm.
const CELL: f64 = 1.0;
/// What stays free round a line, mm.
const CLEAR: f64 = 1.2;
/// No page or piece has more cells: finer ones would show nothing new.
const MOST: f64 = 4e6;

/// Which cells of a rectangle are taken.
#[derive(Clone)]
pub(super) struct Room {
    origin: Point,
    cell: f64,
    wide: usize,
    high: usize,
    taken: Vec<bool>,
}

impl Room {
    /// All of a rectangle, free.
    pub fn of(rect: Rect) -> Self {
        let cell = CELL.max((rect.width() * rect.height() / MOST).sqrt());
        let (wide, high) = ((rect.width() / cell).ceil().max(1.0) as usize, (rect.height() / cell).ceil().max(1.0) as usize);
        Self { origin: rect.origin(), cell, wide, high, taken: vec![false; wide * high] }
    }

    /// The inside of a closed line; what is outside is taken.
    pub fn within(outline: &BezPath) -> Self {
        let mut room = Self::of(outline.bounding_box());
        room.taken.fill(true);
        let edges = straight(outline);
        for row in 0..room.high {
            let y = room.origin.y + (row as f64 + 0.5) * room.cell;
            for [a, b] in spans(&edges, y).chunks_exact(2).map(|c| [c[0], c[1]]) {
                let from = ((a - room.origin.x) / room.cell).ceil().max(0.0) as usize;
                let to = (((b - room.origin.x) / room.cell).floor().max(0.0) as usize).min(room.wide);
                (from..to).for_each(|c| room.taken[row * room.wide + c] = false);
            }
        }
        room.take_path(outline, CLEAR);
        room
    }

    /// Takes the cells near a path.
    pub fn take_path(&mut self, path: &BezPath, clear: f64) {
        for segment in path.segments() {
            let steps = (segment.arclen(0.1) / (self.cell * 0.5)).ceil().clamp(1.0, 1e5);
            for k in 0..=steps as usize {
                let p = segment.eval(k as f64 / steps);
                self.take_rect(Rect::from_center_size(p, (2.0 * clear, 2.0 * clear)));
            }
        }
    }

    /// Takes the cells of a rectangle.
    pub fn take_rect(&mut self, r: Rect) {
        let Some([x0, x1, y0, y1]) = self.cells(r) else { return };
        for row in y0..y1 {
            self.taken[row * self.wide + x0..row * self.wide + x1].fill(true);
        }
    }

    /// Takes what a thing covers.
    pub fn take(&mut self, item: &Item, letters: &Letters) {
        match item {
            Item::Stroke { path, pen } => self.take_path(path, CLEAR + pen.width / 2.0),
            Item::Fill { path, .. } => self.take_path(path, CLEAR),
            Item::Words(w) => {
                let outline = w.outline(letters);
                self.take_path(&outline, CLEAR * 0.6);
                self.take_filled(&outline);
            }
        }
    }

    /// Takes the inside of a closed line.
    pub fn take_filled(&mut self, outline: &BezPath) {
        let edges = straight(outline);
        let Some([_, _, y0, y1]) = self.cells(outline.bounding_box()) else { return };
        for row in y0..y1 {
            let y = self.origin.y + (row as f64 + 0.5) * self.cell;
            for c in spans(&edges, y).chunks_exact(2) {
                self.take_rect(Rect::new(c[0], y - self.cell * 0.4, c[1], y + self.cell * 0.4));
            }
        }
    }

    /// Whether nothing stands where a small closed line would be.
    pub fn is_free(&self, outline: &BezPath) -> bool {
        let b = outline.bounding_box();
        let edges = straight(outline);
        let steps = (b.height() / (self.cell * 0.5)).ceil().max(1.0) as usize;
        (0..=steps).all(|k| {
            let y = b.y0 + b.height() * (k as f64 / steps as f64).clamp(0.001, 0.999);
            spans(&edges, y).chunks_exact(2).all(|c| self.row_free(y, c[0], c[1]))
        })
    }

    fn row_free(&self, y: f64, a: f64, b: f64) -> bool {
        let row = (y - self.origin.y) / self.cell;
        let (from, to) = ((a - self.origin.x) / self.cell, (b - self.origin.x) / self.cell);
        if row < 0.0 || row >= self.high as f64 || from < 0.0 || to >= self.wide as f64 {
            return false;
        }
        let row = row as usize * self.wide;
        !self.taken[row + from as usize..=row + to as usize].iter().any(|t| *t)
    }

    /// Upper left corner of a free rectangle of a size, its middle as near as can be to a place; a step of one cell is exact enough.
    pub fn find(&self, wide: f64, high: f64, near: Point) -> Option<Point> {
        self.find_by(&self.sums(), wide, high, near)
    }

    /// The same by sums that were made before.
    pub fn find_by(&self, sums: &[u32], wide: f64, high: f64, near: Point) -> Option<Point> {
        let (w, h) = ((wide / self.cell).ceil() as usize + 1, (high / self.cell).ceil() as usize + 1);
        if w > self.wide || h > self.high {
            return None;
        }
        let across = self.wide + 1;
        let mut best: Option<(f64, Point)> = None;
        for y in 0..=self.high - h {
            for x in 0..=self.wide - w {
                let taken = sums[(y + h) * across + x + w] + sums[y * across + x] - sums[y * across + x + w] - sums[(y + h) * across + x];
                if taken > 0 {
                    continue;
                }
                let at = self.origin + kurbo::Vec2::new(x as f64, y as f64) * self.cell;
                let off = (at + kurbo::Vec2::new(wide, high) / 2.0).distance_squared(near);
                if best.is_none_or(|b| off < b.0 - 1e-9) {
                    best = Some((off, at));
                }
            }
        }
        best.map(|b| b.1 + kurbo::Vec2::new(self.cell, self.cell) * 0.5)
    }

    /// Taken cells above and left of each corner of a cell.
    pub fn sums(&self) -> Vec<u32> {
        let across = self.wide + 1;
        let mut out = vec![0; across * (self.high + 1)];
        for y in 0..self.high {
            let mut row = 0;
            for x in 0..self.wide {
                row += u32::from(self.taken[y * self.wide + x]);
                out[(y + 1) * across + x + 1] = out[y * across + x + 1] + row;
            }
        }
        out
    }

    /// Cells that a rectangle touches: from and to across, from and to down.
    fn cells(&self, r: Rect) -> Option<[usize; 4]> {
        let at = |v: f64, origin: f64, n: usize| ((v - origin) / self.cell).clamp(0.0, n as f64);
        let x0 = at(r.x0, self.origin.x, self.wide).floor() as usize;
        let x1 = at(r.x1, self.origin.x, self.wide).ceil() as usize;
        let y0 = at(r.y0, self.origin.y, self.high).floor() as usize;
        let y1 = at(r.y1, self.origin.y, self.high).ceil() as usize;
        (x1 > x0 && y1 > y0).then_some([x0, x1, y0, y1])
    }
}

/// A closed line as straight bits, within 0.1 mm.
pub(super) fn straight(path: &BezPath) -> Vec<[Point; 2]> {
    let mut flat = BezPath::new();
    kurbo::flatten(path, 0.1, |el| flat.push(el));
    if !matches!(flat.elements().last(), None | Some(PathEl::ClosePath)) {
        flat.close_path();
    }
    flat.segments()
        .filter_map(|s| match s {
            PathSeg::Line(l) => Some([l.p0, l.p1]),
            _ => None,
        })
        .collect()
}

/// Where a level crosses straight bits, in order: inside lies between each first and second.
pub(super) fn spans(edges: &[[Point; 2]], y: f64) -> Vec<f64> {
    let crossing = |[a, b]: &[Point; 2]| ((a.y <= y) != (b.y <= y)).then(|| a.x + (b.x - a.x) * (y - a.y) / (b.y - a.y));
    let mut xs: Vec<f64> = edges.iter().filter_map(crossing).collect();
    xs.sort_by(f64::total_cmp);
    xs
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_free_place_nearest_is_found_and_none_is_made_up() {
        let outline = Rect::new(10.0, 10.0, 110.0, 60.0).to_path(0.1);
        let mut room = Room::within(&outline);
        let middle = Point::new(60.0, 35.0);
        let at = room.find(40.0, 10.0, middle).expect("room");
        assert!((at.x + 20.0 - 60.0).abs() <= 1.5 && (at.y + 5.0 - 35.0).abs() <= 1.5, "{at:?}");
        room.take_rect(Rect::new(10.0, 30.0, 110.0, 40.0));
        let at = room.find(40.0, 10.0, middle).expect("room");
        assert!(at.y >= 39.5 || at.y + 10.0 <= 30.5, "{at:?}");
        assert!(room.find(99.0, 10.0, middle).is_none() && room.find(40.0, 25.0, middle).is_none());
        assert!(!room.is_free(&Rect::new(50.0, 28.0, 70.0, 33.0).to_path(0.1)));
        assert!(room.is_free(&Rect::new(50.0, 15.0, 70.0, 25.0).to_path(0.1)));
        assert!(!room.is_free(&Rect::new(0.0, 15.0, 30.0, 25.0).to_path(0.1)));
    }
}
