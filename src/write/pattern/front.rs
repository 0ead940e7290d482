//! Page one: what to cut, the squares and rulers to check a print by, cautions.

use super::joining::Joining;
use super::pens;
use super::piece::{Pattern, PatternError};
use crate::write::page::{
    Drawing, FOUR_INCHES, LEADING, Letters, NEEDED, Pen, RULER, SMALL, TEXT, TITLE, column, fitting, rulers, squares,
};
use kurbo::{Point, Rect};

/// Least width of the column of cautions, mm.
const COLUMN: f64 = 50.0;
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
    squares(&mut first, letters, corner, "the page, and measure before you cut.");
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
    rows: Vec<[Vec<String>; 5]>,
    columns: [f64; 5],
    wide: f64,
}

impl List {
    fn of(pattern: &Pattern, told: &Told, letters: &Letters, wide: f64) -> Self {
        let shares = [0.0, 0.06, 0.3, 0.58, 0.8, 1.0];
        let columns = [0, 1, 2, 3, 4].map(|k| shares[k] * wide);
        let row = |k: usize| {
            let p = &pattern.pieces[k];
            let grain = if p.grain.is_some() { "" } else { "; grain not recorded" };
            let cloth = p.cloth.clone().unwrap_or_else(|| "not recorded".into());
            let larger = p.larger.as_ref().map_or(String::new(), |words| format!("; {words}"));
            let cells = [format!("{}", k + 1), p.name.clone(), format!("{}{grain}{larger}", p.count_words()), cloth, told.found[k].clone()];
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
        for (k, head) in ["", "piece", "cut", "cloth", "where"].iter().enumerate() {
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
