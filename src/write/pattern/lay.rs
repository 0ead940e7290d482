//! Pieces laid out so that few pages are needed, or little of a roll. Pieces keep their direction unless quarter turns are asked for.
//!
//! Bottom-left packing on a raster (Baker, Coffman & Rivest 1980 for rectangles; here of true shapes): the largest first, each where it
//! needs the fewest new pages, then highest, then leftmost. Several orders are tried and the best is kept.

use super::room::{spans, straight};
use kurbo::{Affine, BezPath, ParamCurve, ParamCurveArclen, Rect, Shape, Vec2};

/// Side of a raster cell, mm: what lies closer is not told apart.
const CELL: f64 = 4.0;
/// Cells kept free between pieces: room for scissors.
const GAP: usize = 2;

/// What pieces are laid on.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Ground {
    /// Width, mm.
    pub width: f64,
    /// Height, mm; what doesn't fit goes on another ground.
    pub height: f64,
    /// Size of a page on it, mm; nothing on a roll.
    pub page: Option<[f64; 2]>,
    /// Whether quarter turns are asked for.
    pub turns: bool,
}

/// Where a piece lies.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Laid {
    /// Which ground, from 0 on.
    pub ground: usize,
    /// From the piece's own millimetres to the ground's.
    pub by: Affine,
}

/// Lays all pieces; nothing when one of them is larger than the ground.
pub(super) fn lay(outlines: &[&BezPath], ground: &Ground) -> Option<Vec<Laid>> {
    let shapes: Vec<Vec<Shaped>> = outlines.iter().map(|o| Shaped::turns(o, ground.turns)).collect();
    let size = |k: usize| shapes[k].first().map_or([0.0; 3], |s| [s.filled as f64, s.high as f64, s.wide as f64]);
    let mut best: Option<([usize; 3], Vec<Laid>)> = None;
    for by in 0..3 {
        let mut order: Vec<usize> = (0..shapes.len()).collect();
        order.sort_by(|a, b| size(*b)[by].total_cmp(&size(*a)[by]).then(a.cmp(b)));
        let (cost, laid) = in_order(&shapes, &order, ground)?;
        if best.as_ref().is_none_or(|b| cost < b.0) {
            best = Some((cost, laid));
        }
    }
    best.map(|b| b.1)
}

/// Pieces laid one after the other, and what it costs: grounds, pages, and the lowest row.
fn in_order(shapes: &[Vec<Shaped>], order: &[usize], ground: &Ground) -> Option<([usize; 3], Vec<Laid>)> {
    let mut grounds = vec![Covered::new(ground)];
    let mut out = vec![Laid { ground: 0, by: Affine::IDENTITY }; shapes.len()];
    for &k in order {
        let here = |g: &Covered| {
            let each = shapes[k].iter().filter_map(|s| g.place(s).map(|p| (p, s)));
            each.min_by_key(|(p, _)| p.cost)
        };
        let found = grounds.iter().enumerate().find_map(|(n, g)| here(g).map(|f| (n, f)));
        let (n, (place, shape)) = match found {
            Some(found) => found,
            None => {
                let fresh = Covered::new(ground);
                let found = here(&fresh)?;
                grounds.push(fresh);
                (grounds.len() - 1, found)
            }
        };
        grounds[n].put(shape, place.x, place.y);
        let corner = Vec2::new(place.x as f64 * CELL, place.y as f64 * CELL);
        out[k] = Laid { ground: n, by: Affine::translate(corner) * shape.by };
    }
    let pages = grounds.iter().map(|g| g.pages.iter().filter(|p| **p).count()).sum();
    let low = grounds.iter().map(Covered::lowest).sum();
    Some(([grounds.len(), pages, low], out))
}

/// The cells of a piece.
struct Shaped {
    /// From the piece's own millimetres to those of its raster.
    by: Affine,
    wide: usize,
    high: usize,
    rows: Vec<Vec<u64>>,
    /// The same with the gap round it, beginning `GAP` cells further up and left.
    fat: Vec<Vec<u64>>,
    filled: usize,
    /// Cells above and left of each.
    sums: Vec<u32>,
}

impl Shaped {
    fn turns(outline: &BezPath, quarter: bool) -> Vec<Self> {
        let turns: &[f64] = if quarter { &[0.0, 90.0] } else { &[0.0] };
        turns.iter().map(|deg| Self::of(outline, Affine::rotate(deg.to_radians()))).collect()
    }

    fn of(outline: &BezPath, turn: Affine) -> Self {
        let turned = turn * outline.clone();
        let b = turned.bounding_box();
        let by = Affine::translate(-b.origin().to_vec2()) * turn;
        let here = by * outline.clone();
        let (wide, high) = ((b.width() / CELL).floor() as usize + 1, (b.height() / CELL).floor() as usize + 1);
        let mut cells = vec![false; wide * high];
        let edges = straight(&here);
        for row in 0..high {
            for c in spans(&edges, (row as f64 + 0.5) * CELL).chunks_exact(2) {
                let (from, to) = ((c[0] / CELL).floor() as usize, (c[1] / CELL).floor() as usize);
                cells[row * wide + from.min(wide - 1)..=row * wide + to.min(wide - 1)].fill(true);
            }
        }
        for s in here.segments() {
            let steps = (s.arclen(0.1) / (CELL / 4.0)).ceil().clamp(1.0, 1e5) as usize;
            for k in 0..=steps {
                let p = s.eval(k as f64 / steps as f64);
                let (x, y) = ((p.x.max(0.0) / CELL) as usize, (p.y.max(0.0) / CELL) as usize);
                cells[y.min(high - 1) * wide + x.min(wide - 1)] = true;
            }
        }
        let fat_wide = wide + 2 * GAP;
        let fat = |row: usize, col: usize| {
            let (y0, y1) = (row.saturating_sub(2 * GAP), row.min(high - 1));
            let (x0, x1) = (col.saturating_sub(2 * GAP), col.min(wide - 1));
            y0 <= y1 && (y0..=y1).any(|y| x0 <= x1 && cells[y * wide + x0..=y * wide + x1].contains(&true))
        };
        let fat = (0..high + 2 * GAP).map(|r| bits(fat_wide, |c| fat(r, c))).collect();
        let mut sums = vec![0; (wide + 1) * (high + 1)];
        for y in 0..high {
            let mut row = 0;
            for x in 0..wide {
                row += u32::from(cells[y * wide + x]);
                sums[(y + 1) * (wide + 1) + x + 1] = sums[y * (wide + 1) + x + 1] + row;
            }
        }
        let rows = (0..high).map(|r| bits(wide, |c| cells[r * wide + c])).collect();
        Self { by, wide, high, rows, fat, filled: cells.iter().filter(|c| **c).count(), sums }
    }

    /// Whether any of its cells lie in a rectangle of them.
    fn any(&self, x0: usize, x1: usize, y0: usize, y1: usize) -> bool {
        let (x1, y1, w) = (x1.min(self.wide), y1.min(self.high), self.wide + 1);
        x0 < x1 && y0 < y1 && self.sums[y1 * w + x1] + self.sums[y0 * w + x0] > self.sums[y0 * w + x1] + self.sums[y1 * w + x0]
    }
}

fn bits(n: usize, on: impl Fn(usize) -> bool) -> Vec<u64> {
    let mut out = vec![0; n.div_ceil(64)];
    (0..n).filter(|k| on(*k)).for_each(|k| out[k / 64] |= 1 << (k % 64));
    out
}

/// A place with what it costs: new pages, the lowest row of pages it reaches, cells down, cells across.
struct Place {
    x: usize,
    y: usize,
    cost: [usize; 4],
}

/// A ground with what lies on it.
struct Covered {
    wide: usize,
    most: usize,
    page: Option<[f64; 2]>,
    rows: Vec<Vec<u64>>,
    across: usize,
    pages: Vec<bool>,
}

impl Covered {
    fn new(ground: &Ground) -> Self {
        let across = ground.page.map_or(1, |p| (ground.width / p[0]).ceil().max(1.0) as usize);
        let wide = (ground.width / CELL).floor() as usize;
        Self { wide, most: (ground.height / CELL).floor() as usize, page: ground.page, rows: Vec::new(), across, pages: Vec::new() }
    }

    /// The best place for a piece.
    fn place(&self, s: &Shaped) -> Option<Place> {
        if s.wide > self.wide || s.high > self.most {
            return None;
        }
        let down = (self.rows.len() + GAP).min(self.most - s.high);
        let mut best: Option<Place> = None;
        for y in 0..=down {
            // On a roll nothing further down can be better.
            if self.page.is_none() && best.is_some() {
                break;
            }
            for x in 0..=self.wide - s.wide {
                if best.as_ref().is_some_and(|b| self.least(s, y) > b.cost[1] && b.cost[0] == 0) {
                    break;
                }
                if self.meets(s, x, y) {
                    continue;
                }
                let (new, low) = self.new_pages(s, x, y);
                let cost = [new, low, y, x];
                if best.as_ref().is_none_or(|b| cost < b.cost) {
                    best = Some(Place { x, y, cost });
                }
                if self.page.is_none() {
                    break;
                }
            }
        }
        best
    }

    /// The lowest row of pages a piece reaches from a height.
    fn least(&self, s: &Shaped, y: usize) -> usize {
        self.page.map_or(0, |p| (((y + s.high) as f64 * CELL - 1e-9) / p[1]) as usize)
    }

    /// Pages that would be new, and the lowest row of them all.
    fn new_pages(&self, s: &Shaped, x: usize, y: usize) -> (usize, usize) {
        let Some([w, h]) = self.page else { return (0, 0) };
        let cells = |from: f64, to: f64, at: usize| {
            let a = (from / CELL).floor().max(0.0) as usize;
            let b = (to / CELL).ceil().max(0.0) as usize;
            (a.saturating_sub(at), b.saturating_sub(at))
        };
        let first = |at: usize, size: f64| (at as f64 * CELL / size) as usize;
        let last = |at: usize, n: usize, size: f64| (((at + n) as f64 * CELL - 1e-9) / size) as usize;
        let low = last(y, s.high, h);
        let mut new = 0;
        for r in first(y, h)..=low {
            let (y0, y1) = cells(r as f64 * h, (r + 1) as f64 * h, y);
            for c in first(x, w)..=last(x, s.wide, w) {
                let (x0, x1) = cells(c as f64 * w, (c + 1) as f64 * w, x);
                let there = self.pages.get(r * self.across + c).copied().unwrap_or(false);
                new += usize::from(!there && s.any(x0, x1, y0, y1));
            }
        }
        (new, low)
    }

    /// Whether a piece with its gap would lie on others.
    fn meets(&self, s: &Shaped, x: usize, y: usize) -> bool {
        s.fat.iter().enumerate().any(|(k, row)| {
            let at = (y + k).checked_sub(GAP).and_then(|r| self.rows.get(r));
            at.is_some_and(|here| overlap(here, row, x as isize - GAP as isize))
        })
    }

    fn put(&mut self, s: &Shaped, x: usize, y: usize) {
        let words = self.wide.div_ceil(64) + 1;
        while self.rows.len() < y + s.high {
            self.rows.push(vec![0; words]);
        }
        for (k, row) in s.rows.iter().enumerate() {
            let here = &mut self.rows[y + k];
            for (n, w) in row.iter().enumerate() {
                let (word, bit) = ((x + n * 64) / 64, (x + n * 64) % 64);
                here[word] |= w << bit;
                if let Some(next) = here.get_mut(word + 1).filter(|_| bit > 0) {
                    *next |= w >> (64 - bit);
                }
            }
        }
        if let Some([w, h]) = self.page {
            let low = (((y + s.high) as f64 * CELL - 1e-9) / h) as usize;
            self.pages.resize(self.pages.len().max((low + 1) * self.across), false);
            for r in 0..=low {
                for c in 0..self.across {
                    let cells = |k: usize, size: f64, at: usize| {
                        let a = (k as f64 * size / CELL).floor() as usize;
                        let b = ((k + 1) as f64 * size / CELL).ceil() as usize;
                        (a.saturating_sub(at), b.saturating_sub(at))
                    };
                    let ((x0, x1), (y0, y1)) = (cells(c, w, x), cells(r, h, y));
                    if s.any(x0, x1, y0, y1) {
                        self.pages[r * self.across + c] = true;
                    }
                }
            }
        }
    }

    fn lowest(&self) -> usize {
        self.rows.len()
    }
}

/// Whether two rows of cells share one, the second moved right.
fn overlap(here: &[u64], row: &[u64], by: isize) -> bool {
    row.iter().enumerate().any(|(n, w)| {
        let at = by + n as isize * 64;
        let (word, bit) = (at.div_euclid(64), at.rem_euclid(64) as u32);
        let get = |k: isize| usize::try_from(k).ok().and_then(|k| here.get(k)).copied().unwrap_or(0);
        (get(word) & (w << bit)) != 0 || (bit > 0 && (get(word + 1) & (w >> (64 - bit))) != 0)
    })
}

/// The extent of pieces where they lie on one ground.
pub(super) fn extent(outlines: &[&BezPath], laid: &[Laid], ground: usize) -> Rect {
    let each = outlines.iter().zip(laid).filter(|(_, l)| l.ground == ground).map(|(o, l)| (l.by * (*o).clone()).bounding_box());
    each.reduce(|a, b| a.union(b)).unwrap_or(Rect::ZERO)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn boxed(w: f64, h: f64) -> BezPath {
        Rect::new(-20.0, 5.0, w - 20.0, h + 5.0).to_path(0.1)
    }

    fn apart(outlines: &[BezPath], laid: &[Laid]) -> bool {
        let boxes: Vec<(usize, Rect)> = outlines.iter().zip(laid).map(|(o, l)| (l.ground, (l.by * o.clone()).bounding_box())).collect();
        boxes.iter().enumerate().all(|(i, a)| boxes[..i].iter().all(|b| a.0 != b.0 || a.1.intersect(b.1).area() <= 0.0))
    }

    #[test]
    fn two_pieces_that_fit_one_page_share_it() {
        let pieces = [boxed(80.0, 200.0), boxed(70.0, 150.0)];
        let refs: Vec<&BezPath> = pieces.iter().collect();
        let laid = lay(&refs, &Ground { width: 950.0, height: 1e5, page: Some([190.0, 277.0]), turns: false }).expect("laid");
        let all = extent(&refs, &laid, 0);
        assert!(all.x0 >= 0.0 && all.y0 >= 0.0 && all.x1 <= 190.0 && all.y1 <= 277.0, "{all:?}");
        assert!(apart(&pieces, &laid));
    }

    #[test]
    fn what_is_too_wide_is_not_laid_unless_it_may_turn() {
        let piece = boxed(700.0, 300.0);
        let mut ground = Ground { width: 500.0, height: 5000.0, page: None, turns: false };
        assert!(lay(&[&piece], &ground).is_none());
        ground.turns = true;
        let laid = lay(&[&piece], &ground).expect("laid");
        let b = extent(&[&piece], &laid, 0);
        assert!((b.width() - 300.0).abs() < 1e-6 && (b.height() - 700.0).abs() < 1e-6);
    }

    #[test]
    fn a_full_roll_goes_on_with_another() {
        let pieces = vec![boxed(400.0, 900.0); 3];
        let refs: Vec<&BezPath> = pieces.iter().collect();
        let laid = lay(&refs, &Ground { width: 420.0, height: 2000.0, page: None, turns: false }).expect("laid");
        assert_eq!(laid.iter().map(|l| l.ground).max(), Some(1));
        assert!(apart(&pieces, &laid));
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(24))]
        #[test]
        fn pieces_never_lie_on_one_another(sizes in prop::collection::vec((30.0f64..400.0, 30.0f64..700.0), 1..8)) {
            let pieces: Vec<BezPath> = sizes.iter().map(|(w, h)| boxed(*w, *h)).collect();
            let refs: Vec<&BezPath> = pieces.iter().collect();
            let tiles = Ground { width: 760.0, height: 1e5, page: Some([180.0, 267.0]), turns: false };
            let roll = Ground { width: 600.0, height: 1500.0, page: None, turns: true };
            for ground in [tiles, roll] {
                let laid = lay(&refs, &ground).expect("laid");
                prop_assert!(apart(&pieces, &laid));
                for (p, l) in pieces.iter().zip(&laid) {
                    let b = (l.by * p.clone()).bounding_box();
                    prop_assert!(b.x0 > -1e-9 && b.y0 > -1e-9 && b.x1 < ground.width + CELL && b.y1 < ground.height + CELL);
                }
            }
        }
    }
}
