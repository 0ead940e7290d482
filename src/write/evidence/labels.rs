//! Words beside what they name, none of them on another.
//!
//! One after the other, what matters most first, takes the place it would like, else the nearest free one round what it names; words that had to go
//! far get a thin line to it. Greedy placing of labels (Christensen, Marks & Shieber 1995), without moving any again.

use super::canvas::{Canvas, LETTERS};
use image::Rgb;
use kurbo::{Point, Rect, Size, Vec2};

/// Rows kept free for the caption and for the scale bar, px.
const STRIP: f64 = 40.0;
/// From the picture's border, px.
const BORDER: f64 = 3.0;
/// Between words, px.
const APART: f64 = 2.0;
/// Steps outwards from what is named, px: half a letter's height.
const STEP: f64 = LETTERS as f64 / 2.0;
/// Ways out that are tried at each step.
const WAYS: usize = 16;
/// So far, px, words look for a place that covers no ring either.
const REACH: f64 = 150.0;
/// Words further off than this, px, have a line to what they name.
const FAR: f64 = 26.0;

/// What words belong to, in the order in which they find their places.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Rank {
    Doubt,
    Corner,
    Mark,
    Edge,
    Piece,
    Measure,
}

struct Label {
    rank: Rank,
    at: Point,
    /// From there to where it would like its upper left corner.
    shift: Vec2,
    text: String,
    colour: Rgb<u8>,
}

/// All words of a picture.
#[derive(Default)]
pub(super) struct Labels {
    waiting: Vec<Label>,
    /// Rings, which words had better not cover.
    rings: Vec<Rect>,
}

impl Labels {
    /// Words at a place of the picture, px; `shift` is where their upper left corner would best lie from it.
    pub fn say(&mut self, rank: Rank, at: Point, shift: (f64, f64), text: &str, colour: Rgb<u8>) {
        self.waiting.push(Label { rank, at, shift: shift.into(), text: text.to_owned(), colour });
    }

    /// A ring that is drawn.
    pub fn ring(&mut self, at: Point, radius: f64) {
        self.rings.push(Rect::from_center_size(at, (2.0 * radius, 2.0 * radius)));
    }

    /// Draws all of them; gives how many found no room.
    pub fn draw(mut self, sheet: &mut Canvas) -> usize {
        self.waiting.sort_by_key(|l| l.rank);
        let (w, h) = (f64::from(sheet.image.width()), f64::from(sheet.image.height()));
        let page = Rect::new(BORDER, STRIP, (w - BORDER).max(BORDER), (h - STRIP).max(STRIP));
        let mut placing = Placing { page, rings: self.rings, taken: Vec::new() };
        let mut lost = 0;
        for label in &self.waiting {
            let size = sheet.size(&label.text);
            let Some(place) = placing.next(label.at, label.shift, size.into()) else {
                lost += 1;
                continue;
            };
            let near = Point::new(label.at.x.clamp(place.x0, place.x1), label.at.y.clamp(place.y0, place.y1));
            let inside = page.inflate(0.0, STRIP).contains(label.at);
            if near.distance(label.at) > FAR && inside {
                sheet.leader(label.at, near, label.colour);
            }
            sheet.words(place.x0 + 1.0, place.y0 + 1.0, &label.text, label.colour);
        }
        lost
    }
}

/// Where words may still go.
struct Placing {
    page: Rect,
    rings: Vec<Rect>,
    taken: Vec<Rect>,
}

impl Placing {
    /// Takes the nearest free place for words of a size; nothing where the picture is full.
    fn next(&mut self, at: Point, shift: Vec2, size: Size) -> Option<Rect> {
        let wished = self.within(Rect::from_origin_size(at + shift, size));
        let far = self.page.width().hypot(self.page.height());
        let found = std::iter::once(wished)
            .chain(self.round(at, shift, size, REACH))
            .find(|r| self.free(r) && !self.rings.iter().any(|ring| meet(ring, r)))
            .or_else(|| std::iter::once(wished).chain(self.round(at, shift, size, far)).find(|r| self.free(r)))?;
        self.taken.push(found);
        Some(found)
    }

    fn free(&self, r: &Rect) -> bool {
        let clear = r.inflate(APART, APART);
        self.page.contains_rect(*r) && !self.taken.iter().any(|t| meet(t, &clear))
    }

    /// Moved into the picture: a place outside it is told at its nearest border.
    fn within(&self, r: Rect) -> Rect {
        let shift = |low: f64, high: f64, from: f64, to: f64| (from - low).max(0.0) - (high - to).max(0.0);
        r + Vec2::new(shift(r.x0, r.x1, self.page.x0, self.page.x1), shift(r.y0, r.y1, self.page.y0, self.page.y1))
    }

    /// Places further and further from what is named, on the wished side first.
    fn round(&self, at: Point, shift: Vec2, size: Size, far: f64) -> impl Iterator<Item = Rect> {
        let wished = (shift + size.to_vec2() / 2.0).atan2();
        let turn = move |k: usize| {
            // To either side in turn.
            let steps = k.div_ceil(2) as f64 * if k.is_multiple_of(2) { 1.0 } else { -1.0 };
            Vec2::from_angle(wished + steps * std::f64::consts::TAU / WAYS as f64)
        };
        let rings = (1..=(far / STEP).ceil() as usize).map(|k| k as f64 * STEP);
        rings.flat_map(move |off| {
            (0..WAYS).map(move |k| {
                let way = turn(k);
                let reach = off + 0.5 * (way.x.abs() * size.width + way.y.abs() * size.height);
                self.within(Rect::from_center_size(at + way * reach, size))
            })
        })
    }
}

fn meet(a: &Rect, b: &Rect) -> bool {
    a.x0 < b.x1 && b.x0 < a.x1 && a.y0 < b.y1 && b.y0 < a.y1
}

#[cfg(test)]
mod tests {
    use super::*;

    fn placing() -> Placing {
        Placing { page: Rect::new(3.0, 40.0, 797.0, 560.0), rings: Vec::new(), taken: Vec::new() }
    }

    /// Forty words at one place and at the picture's corners: each within the picture, none on another, and the first where it likes.
    #[test]
    fn words_never_lie_on_one_another() {
        let mut placing = placing();
        let first = placing.next(Point::new(400.0, 300.0), Vec2::new(6.0, 4.0), Size::new(90.0, 20.0)).expect("room");
        assert_eq!(first.origin(), Point::new(406.0, 304.0));
        for k in 0..39 {
            let at = [(400.0, 300.0), (0.0, 0.0), (800.0, 600.0), (-50.0, 300.0)][k % 4];
            placing.next(at.into(), Vec2::new(6.0, 4.0), Size::new(60.0 + 3.0 * k as f64, 20.0)).expect("room");
        }
        for (k, a) in placing.taken.iter().enumerate() {
            assert!(placing.page.contains_rect(*a), "{a:?}");
            assert!(placing.taken[..k].iter().all(|b| !meet(a, b)), "{k}: {a:?}");
        }
    }

    #[test]
    fn rings_are_kept_clear_while_there_is_room_near() {
        let mut placing = placing();
        placing.rings.push(Rect::from_center_size((410.0, 310.0), (30.0, 30.0)));
        let place = placing.next(Point::new(400.0, 300.0), Vec2::new(6.0, 4.0), Size::new(90.0, 20.0)).expect("room");
        assert!(!meet(&placing.rings[0], &place), "{place:?}");
        // A full picture has no room, and says so.
        placing.taken.push(placing.page);
        assert!(placing.next(Point::new(400.0, 300.0), Vec2::ZERO, Size::new(90.0, 20.0)).is_none());
    }
}
