//! What a print is measured by: squares and rulers; and text that stands beside them.

use super::drawing::{Drawing, Pen};
use super::letters::Letters;
use kurbo::{Point, Rect, Vec2};
use std::f64::consts::FRAC_PI_2;

/// Lines that are measured by.
const FINE: Pen = Pen::new(0.25, &[]);
/// Width kept for the ruler at the left, and height for the one at the foot, mm.
pub(in crate::write) const RULER: f64 = 15.0;
/// Height of the title, mm.
pub(in crate::write) const TITLE: f64 = 25.0;
/// The larger square, mm: 4 in.
pub(in crate::write) const FOUR_INCHES: f64 = 101.6;
/// Size of text, of small print, and from line to line, mm.
pub(in crate::write) const TEXT: f64 = 3.3;
pub(in crate::write) const SMALL: f64 = 2.7;
pub(in crate::write) const LEADING: f64 = 1.4;

/// Least room page one needs, mm.
pub(in crate::write) const NEEDED: [f64; 2] = [RULER + FOUR_INCHES + 4.0, TITLE + FOUR_INCHES + RULER + 24.0];

/// A text cut to a width.
pub(in crate::write) fn fitting(letters: &Letters, text: &str, size: f64, wide: f64) -> String {
    letters.wrapped(text, size, wide).into_iter().next().unwrap_or_default()
}

/// Both squares on one corner, the lower right one,, 1.6 mm apart at the other.
pub(in crate::write) fn squares(out: &mut Drawing, letters: &Letters, corner: Point, last: &str) {
    for side in [100.0, FOUR_INCHES] {
        out.rect(Rect::new(corner.x, corner.y - side, corner.x + side, corner.y), FINE);
    }
    let middle = corner + Vec2::new(50.0, -50.0);
    let lines = [
        ("inner square: 100 mm each way", 3.6),
        ("outer square: 4 in each way", 3.6),
        ("Both start at the lower left corner.", SMALL),
        ("Print at 100 %, actual size, no fitting to", SMALL),
        (last, SMALL),
    ];
    for (k, (text, size)) in lines.iter().enumerate() {
        out.words_about(letters, middle + Vec2::new(0.0, (k as f64 - 2.0) * 6.0), *size, 0.0, text);
    }
}

/// Rulers down the left and along the foot: millimetres on one side of the line, inches on the other.
pub(in crate::write) fn rulers(out: &mut Drawing, letters: &Letters, wide: f64, high: f64) {
    let at = RULER / 2.0;
    let down = ((high - RULER - 6.0) / 10.0).floor() * 10.0;
    let across = ((wide - RULER - 6.0) / 10.0).floor() * 10.0;
    ruler(out, letters, Point::new(at, 3.0), Vec2::new(0.0, 1.0), down);
    ruler(out, letters, Point::new(RULER + 4.0, high - at), Vec2::new(1.0, 0.0), across);
}

/// One ruler: centimetres towards the page's inside, inches towards its border.
fn ruler(out: &mut Drawing, letters: &Letters, zero: Point, along: Vec2, long: f64) {
    let inside = if along.y > 0.5 { Vec2::new(1.0, 0.0) } else { Vec2::new(0.0, -1.0) };
    let turn = if along.y > 0.5 { -FRAC_PI_2 } else { 0.0 };
    out.line(zero, zero + along * long, FINE);
    let thin = Pen::new(0.15, &[]);
    for mm in 0..=long as u32 {
        let tick = if mm % 10 == 0 {
            3.6
        } else if mm % 5 == 0 {
            2.6
        } else {
            1.6
        };
        let p = zero + along * f64::from(mm);
        out.line(p, p + inside * tick, thin);
        if mm % 50 == 0 && mm > 0 {
            out.words_about(letters, p + inside * 5.4, 2.4, turn, &format!("{mm} mm"));
        }
    }
    let eighths = (long / 25.4 * 8.0).floor() as u32;
    for k in 0..=eighths {
        let tick = if k % 8 == 0 {
            3.6
        } else if k % 4 == 0 {
            2.6
        } else {
            1.6
        };
        let p = zero + along * (f64::from(k) * 25.4 / 8.0);
        out.line(p, p - inside * tick, thin);
        if k % 8 == 0 && k > 0 {
            out.words_about(letters, p - inside * 5.4, 2.4, turn, &format!("{} in", k / 8));
        }
    }
}

/// Paragraphs one below the other; those that found no room.
pub(in crate::write) fn column(out: &mut Drawing, letters: &Letters, texts: Vec<String>, r: Rect) -> Vec<String> {
    let mut down = r.y0;
    let mut left = texts.into_iter().peekable();
    while let Some(text) = left.peek() {
        let lines = letters.wrapped(text, SMALL, r.width());
        let high = lines.len() as f64 * SMALL * LEADING;
        if down + high > r.y1 {
            break;
        }
        for line in lines {
            down += SMALL * LEADING;
            out.words((r.x0, down - SMALL * 0.3), SMALL, line);
        }
        down += SMALL * 0.7;
        left.next();
    }
    left.collect()
}
