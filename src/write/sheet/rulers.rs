//! Along the upper and the left edge a ruler over the whole length, millimetres and inches; at the foot, which sheet it is.

use super::inks::{END, INK, TICK};
use crate::sheet::SheetPlan;
use crate::sheet::code::MARK_RADIUS;
use crate::sheet::paper::short;
use crate::write::page::{Drawing, Item, Letters, Words};
use kurbo::{BezPath, Point, Rect, Vec2};
use std::f64::consts::FRAC_PI_2;

/// From the marks on the outermost line to the ticks of the ruler, mm.
const CLEAR: f64 = 1.5;
/// Where things stand in a ruler, mm from its inner edge: numbers of millimetres and inches, and the ends of inch ticks.
const NUMBERS: [f64; 2] = [4.7, 7.0];
const DEEP: f64 = 11.7;
/// Size of numbers and words, mm.
const SIZE: f64 = 2.1;
/// Size of the line that says which sheet it is, mm.
const TITLE: f64 = 3.0;

/// Both rulers, as much of them as reaches into a part.
pub(super) fn rulers(plan: &SheetPlan, letters: &Letters, part: Rect) -> Drawing {
    let mut out = Drawing::default();
    for down in [false, true] {
        Ruler::of(plan, down).draw(&mut out, letters, part);
    }
    out
}

/// A ruler from the first line to the last.
struct Ruler {
    zero: Point,
    along: Vec2,
    /// Away from the squares.
    out: Vec2,
    turn: f64,
    long: f64,
}

impl Ruler {
    fn of(plan: &SheetPlan, down: bool) -> Self {
        let off = MARK_RADIUS * plan.pitch() + CLEAR;
        let [w, h] = plan.size();
        if down {
            Self { zero: Point::new(-off, 0.0), along: Vec2::new(0.0, 1.0), out: Vec2::new(-1.0, 0.0), turn: -FRAC_PI_2, long: h }
        } else {
            Self { zero: Point::new(0.0, -off), along: Vec2::new(1.0, 0.0), out: Vec2::new(0.0, -1.0), turn: 0.0, long: w }
        }
    }

    /// Where `at` along and `far` out lies.
    fn place(&self, at: f64, far: f64) -> Point {
        self.zero + self.along * at + self.out * far
    }

    fn draw(&self, out: &mut Drawing, letters: &Letters, part: Rect) {
        let first = "0, tape from this mark".to_owned();
        let last = format!("to this mark {} mm, {:.2} in", short(self.long), self.long / 25.4);
        let wide = |text: &str| letters.width(text, SIZE);
        let seen = |at: f64| part.inflate(6.0, 6.0).contains(self.place(at, NUMBERS[0]));
        let free = |at: f64| at > wide(&first) + 6.0 && at < self.long - wide(&last) - 6.0;
        let mut ticks = BezPath::new();
        let mut tick = |at: f64, from: f64, to: f64| {
            ticks.move_to(self.place(at, from));
            ticks.line_to(self.place(at, to));
        };
        for mm in (1..self.long.ceil() as u32).filter(|mm| seen(f64::from(*mm))) {
            let deep = if mm % 10 == 0 {
                3.2
            } else if mm % 5 == 0 {
                2.3
            } else {
                1.4
            };
            tick(f64::from(mm), 0.0, deep);
            if mm % 50 == 0 && free(f64::from(mm)) {
                self.words(out, letters, f64::from(mm), NUMBERS[0], &format!("{mm} mm"));
            }
        }
        for k in (1..(self.long / 25.4 * 8.0).ceil() as u32).filter(|k| seen(f64::from(*k) * 25.4 / 8.0)) {
            let at = f64::from(k) * 25.4 / 8.0;
            let deep = if k % 8 == 0 {
                3.2
            } else if k % 4 == 0 {
                2.3
            } else {
                1.4
            };
            tick(at, DEEP, DEEP - deep);
            if k % 8 == 0 && free(at) {
                self.words(out, letters, at, NUMBERS[1], &format!("{} in", k / 8));
            }
        }
        if !ticks.is_empty() {
            out.stroke(ticks, TICK);
        }
        for at in [0.0, self.long] {
            if seen(at) {
                out.line(self.place(at, 0.0), self.place(at, DEEP), END);
            }
        }
        let between = f64::midpoint(NUMBERS[0], NUMBERS[1]);
        for (text, middle) in [(&first, 1.5 + wide(&first) / 2.0), (&last, self.long - 1.5 - wide(&last) / 2.0)] {
            if seen(middle - wide(text) / 2.0) || seen(middle + wide(text) / 2.0) || seen(middle) {
                self.words(out, letters, middle, between, text);
            }
        }
    }

    fn words(&self, out: &mut Drawing, letters: &Letters, at: f64, far: f64, text: &str) {
        words(out, letters, self.place(at, far), SIZE, self.turn, text);
    }
}

/// Words in the sheet's ink, about their middle.
pub(super) fn words(out: &mut Drawing, letters: &Letters, middle: Point, size: f64, turn: f64, text: &str) {
    out.words_about(letters, middle, size, turn, text);
    if let Some(Item::Words(w)) = out.items.last_mut() {
        w.ink = INK;
    }
}

/// Which sheet it is and which way up, below the squares.
pub(super) fn title(plan: &SheetPlan, letters: &Letters) -> Drawing {
    let mut out = Drawing::default();
    let text = format!("ruboff {}  ↑ this way up", plan.words());
    let [w, h] = plan.size();
    let size = (TITLE * w / letters.width(&text, TITLE)).min(TITLE);
    let at = Point::new(0.0, h + MARK_RADIUS * plan.pitch() + 2.0 + size);
    out.items.push(Item::Words(Words { at, size, turn: 0.0, text, ink: INK }));
    out
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::length::Length;
    use kurbo::Shape;

    /// The end marks stand in line with the outermost lines, and nothing of a ruler touches a line or a mark, or leaves the sheet.
    #[test]
    fn rulers_run_from_line_to_line_and_keep_clear() {
        let letters = Letters::new();
        for pitch in crate::sheet::SheetCode::pitches() {
            let plan = SheetPlan::of_squares(1, pitch, [9, 12]).expect("a sheet");
            let all = super::super::ruling::extent(&plan);
            let drawn = rulers(&plan, &letters, all);
            let radius = MARK_RADIUS * plan.pitch();
            for item in &drawn.items {
                let e = item.extent(&letters);
                assert!(e.x1 <= -radius - 1.0 || e.y1 <= -radius - 1.0, "{e:?} is near the squares");
                assert!(e.x0 >= all.x0 && e.y0 >= all.y0, "{e:?} leaves the sheet");
            }
            let ends: Vec<Rect> = drawn
                .items
                .iter()
                .filter_map(|i| match i {
                    Item::Stroke { path, pen } if *pen == END => Some(path.bounding_box()),
                    _ => None,
                })
                .collect();
            let [w, h] = plan.size();
            assert_eq!([ends[0].x0, ends[1].x0, ends[2].y0, ends[3].y0], [0.0, w, 0.0, h]);
        }
    }

    #[test]
    fn the_title_stays_below_the_squares() {
        let letters = Letters::new();
        let plan = SheetPlan::of_squares(400, Length::from_mm(10.0), [6, 6]).expect("a sheet");
        let e = title(&plan, &letters).items[0].extent(&letters);
        assert!(e.x1 <= 60.0 + 1e-6 && e.y0 >= 60.5 && e.y1 < super::super::ruling::extent(&plan).y1);
    }
}
