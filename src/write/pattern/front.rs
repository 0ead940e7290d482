//! Page one: what to cut, the squares and rulers to check a print by, cautions.

use super::drawing::{Drawing, Pen};
use super::letters::Letters;
use super::paper::Joining;
use super::pens;
use super::piece::{Pattern, PatternError};
use kurbo::{Point, Rect, Vec2};
use std::f64::consts::FRAC_PI_2;

/// Width kept for the ruler at the left, and height for the one at the foot, mm.
const RULER: f64 = 15.0;
/// Height of the title, mm.
const TITLE: f64 = 25.0;
/// The larger square, mm: 4 in.
const FOUR_INCHES: f64 = 101.6;
/// Least width of the column of cautions, mm.
const COLUMN: f64 = 50.0;
/// Size of text, of small print, and from line to line, mm.
pub(super) const TEXT: f64 = 3.3;
pub(super) const SMALL: f64 = 2.7;
pub(super) const LEADING: f64 = 1.4;

/// What the front pages say of how the pattern is printed.
pub(super) struct Told<'a> {
    /// Room on a page, mm of the drawing.
    pub room: [f64; 2],
    pub joining: &'a Joining,
    /// Where each piece is found: its pages, or its sheet of the roll.
    pub found: Vec<String>,
    /// Paper and number of pages, in words.
    pub paper: String,
}

/// Least room page one needs, mm.
pub(super) const NEEDED: [f64; 2] = [RULER + FOUR_INCHES + 4.0, TITLE + FOUR_INCHES + RULER + 24.0];

/// Page one, and what the cutting list needs beyond it.
///
/// # Errors
/// The paper is too small for the squares.
pub(super) fn pages(pattern: &Pattern, told: &Told, letters: &Letters) -> Result<Vec<Drawing>, PatternError> {
    let [wide, high] = told.room;
    if wide < NEEDED[0] || high < NEEDED[1] {
        let [needs_wide, needs_high] = NEEDED;
        return Err(PatternError::SmallPaper { paper: told.paper.clone(), wide, high, needs_wide, needs_high });
    }
    let mut first = Drawing::default();
    rulers(&mut first, letters, wide, high);
    let left = RULER + 4.0;
    title(&mut first, pattern, told, letters, [left, wide]);
    let foot = high - RULER - 3.0;
    let corner = Point::new(wide - FOUR_INCHES - 0.5, foot);
    squares(&mut first, letters, corner);
    let beside = corner.x - left - 5.0;
    let mut notes = cautions(pattern, told);
    let top = foot - FOUR_INCHES;
    if beside >= COLUMN {
        notes = column(&mut first, letters, notes, Rect::new(left, top, left + beside, foot));
    }
    let mut list = List::of(pattern, told, letters, wide - left);
    let mut out = vec![first];
    list.draw(&mut out[0], left, TITLE, top - 5.0);
    while !list.rows.is_empty() || !notes.is_empty() {
        let mut more = Drawing::default();
        more.words((0.0, 6.0), 5.0, "Cutting list, continued");
        let down = if list.rows.is_empty() { 14.0 } else { list.draw(&mut more, 0.0, 14.0, high) };
        if list.rows.is_empty() {
            let before = notes.len();
            notes = column(&mut more, letters, notes, Rect::new(0.0, down + 6.0, wide.min(150.0), high));
            if notes.len() == before && before > 0 && down <= 14.0 {
                // A caution longer than a page: nothing of it would ever fit.
                notes.clear();
            }
        }
        out.push(more);
    }
    Ok(out)
}

fn title(out: &mut Drawing, pattern: &Pattern, told: &Told, letters: &Letters, [left, wide]: [f64; 2]) {
    let room = wide - left;
    let mut size = 7.0;
    while letters.width(&pattern.garment, size) > room && size > 3.0 {
        size -= 0.25;
    }
    let name = letters.wrapped(&pattern.garment, size, room).into_iter().next().unwrap_or_default();
    out.words((left, 6.5), size, name);
    let about: Vec<&str> = pattern.number.as_deref().into_iter().chain([pattern.date.as_str()]).filter(|t| !t.is_empty()).collect();
    out.words((left, 12.0), TEXT, fitting(letters, &about.join(", "), TEXT, room));
    let count = if pattern.pieces.len() == 1 { "1 piece".to_owned() } else { format!("{} pieces", pattern.pieces.len()) };
    out.words((left, 17.0), SMALL, fitting(letters, &format!("Cutting list: {count}; {}", told.paper), SMALL, room));
}

/// A text cut to a width.
pub(super) fn fitting(letters: &Letters, text: &str, size: f64, wide: f64) -> String {
    letters.wrapped(text, size, wide).into_iter().next().unwrap_or_default()
}

/// Both squares on one corner, 1.6 mm apart at the other.
fn squares(out: &mut Drawing, letters: &Letters, corner: Point) {
    for side in [100.0, FOUR_INCHES] {
        out.rect(Rect::new(corner.x, corner.y - side, corner.x + side, corner.y), pens::FINE);
    }
    let middle = corner + Vec2::new(50.0, -50.0);
    let lines = [
        ("inner square: 100 mm each way", 3.6),
        ("outer square: 4 in each way", 3.6),
        ("Both start at the lower left corner.", SMALL),
        ("Print at 100 %, actual size, no fitting to", SMALL),
        ("the page, and measure before you cut.", SMALL),
    ];
    for (k, (text, size)) in lines.iter().enumerate() {
        out.words_about(letters, middle + Vec2::new(0.0, (k as f64 - 2.0) * 6.0), *size, 0.0, text);
    }
}

/// Rulers down the left and along the foot: millimetres on one side of the line, inches on the other.
fn rulers(out: &mut Drawing, letters: &Letters, wide: f64, high: f64) {
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
    out.line(zero, zero + along * long, pens::FINE);
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
pub(super) fn column(out: &mut Drawing, letters: &Letters, texts: Vec<String>, r: Rect) -> Vec<String> {
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

/// What to mind, with what was done to the print.
fn cautions(pattern: &Pattern, told: &Told) -> Vec<String> {
    let mut out = vec![
        told.joining.correction_words().map_or_else(|| "No printer correction is applied.".to_owned(), |w| format!("With {w}.")),
        allowance(pattern),
    ];
    out.extend(pattern.cautions.iter().cloned());
    out.extend(
        [
            "Taken from a garment as it lay: walk the seams and sew a test in cheap cloth before good cloth is cut.",
            "Blades and pins: cut on a mat away from the hand, count pins in and out.",
            "An outline keeps nothing of the safety of the original. Cords on children's clothes, sleepwear and protective clothing have rules \
             of their own; local rules and licensed judgement come first. With historic cloth a conservator decides.",
        ]
        .map(str::to_owned),
    );
    out
}

/// The allowance in one sentence, where all pieces have the same.
fn allowance(pattern: &Pattern) -> String {
    let first = pattern.pieces.first().map_or("", |p| p.allowance.as_str());
    if pattern.pieces.iter().all(|p| p.allowance == first) {
        let mut text = first.to_owned();
        if let Some(head) = text.get_mut(..1) {
            head.make_ascii_uppercase();
        }
        format!("{text}.")
    } else {
        "The allowance differs: each piece says on its label what is included.".into()
    }
}

/// The cutting list, row by row.
struct List {
    rows: Vec<[Vec<String>; 4]>,
    columns: [f64; 4],
    wide: f64,
}

impl List {
    fn of(pattern: &Pattern, told: &Told, letters: &Letters, wide: f64) -> Self {
        let shares = [0.0, 0.07, 0.38, 0.74, 1.0];
        let columns = [0, 1, 2, 3].map(|k| shares[k] * wide);
        let row = |k: usize| {
            let p = &pattern.pieces[k];
            let grain = if p.grain.is_some() { "" } else { "; grain not recorded" };
            let cells = [format!("{}", k + 1), p.name.clone(), format!("{}{grain}", p.cut_words()), told.found[k].clone()];
            let mut c = 0;
            cells.map(|text| {
                let room = (shares[c + 1] - shares[c]) * wide - 3.0;
                c += 1;
                letters.wrapped(&text, TEXT, room)
            })
        };
        Self { rows: (0..pattern.pieces.len()).map(row).collect(), columns, wide }
    }

    /// Draws as many rows as fit between two heights; how far down they reach.
    fn draw(&mut self, out: &mut Drawing, left: f64, top: f64, foot: f64) -> f64 {
        let mut down = top + TEXT * LEADING;
        for (k, head) in ["", "piece", "cut", "where"].iter().enumerate() {
            out.words((left + self.columns[k], down - 1.6), SMALL, *head);
        }
        out.line((left, down), (left + self.wide, down), pens::FINE);
        let mut taken = 0;
        for row in &self.rows {
            let high = row.iter().map(Vec::len).max().unwrap_or(1) as f64 * TEXT * LEADING + 1.4;
            if down + high > foot {
                break;
            }
            for (k, cell) in row.iter().enumerate() {
                for (n, line) in cell.iter().enumerate() {
                    out.words((left + self.columns[k], down + (n as f64 + 1.0) * TEXT * LEADING - 0.6), TEXT, line.clone());
                }
            }
            down += high;
            out.line((left, down), (left + self.wide, down), Pen::new(0.1, &[]).grey(0.5));
            taken += 1;
        }
        self.rows.drain(..taken);
        down
    }
}
