//! Page one and the page map: how to print, measure and join a sheet, with the squares that tell whether a print is right.

use super::inks::Ground;
use crate::sheet::SheetPlan;
use crate::sheet::pages::SheetPages;
use crate::sheet::pages::address;
use crate::write::page::{Drawing, FOUR_INCHES, Ink, LEADING, Letters, NEEDED, Pen, RULER, SMALL, TITLE, column, fitting, rulers, squares};
use kurbo::{Point, Rect, Shape};

/// Title of a page, mm.
const HEAD: f64 = 6.0;
/// Least width of a column of words, mm.
const COLUMN: f64 = 50.0;
/// Highest the map is drawn, as a share of the page.
const TALLEST: f64 = 0.5;
/// The last words in the squares.
const BEFORE: &str = "the page, and measure before you join.";

/// Page one, the map, and what finds no room on them; `None` where the paper has no room for page one.
pub(super) fn pages(
    plan: &SheetPlan,
    pages: &SheetPages,
    ground: Ground,
    paper: &str,
    letters: &Letters,
    room: [f64; 2],
) -> Option<Vec<Drawing>> {
    let [wide, high] = room;
    if wide < NEEDED[0] || high < NEEDED[1] {
        return None;
    }
    let [columns, rows] = pages.size(plan.squares);
    let mut first = Drawing::default();
    rulers(&mut first, letters, wide, high);
    let left = RULER + 4.0;
    head(&mut first, plan, letters, [left, wide], &format!("{} pages of {paper} to be joined, and two like this one", columns * rows));
    let foot = high - RULER - 3.0;
    let corner = Point::new(wide - FOUR_INCHES - 0.5, foot);
    squares(&mut first, letters, corner, BEFORE);
    let top = foot - FOUR_INCHES;
    let mut texts = printing(plan, ground);
    texts = column(&mut first, letters, texts, Rect::new(left, TITLE, wide, top - 4.0));
    if corner.x - left - 5.0 >= COLUMN {
        texts = column(&mut first, letters, texts, Rect::new(left, top, corner.x - 5.0, foot));
    }
    let mut second = Drawing::default();
    second.words((0.0, HEAD), 5.0, "Page map: what to lay on what");
    let down = map(&mut second, plan, pages, letters, Rect::new(0.0, 10.0, wide, 10.0 + high * TALLEST));
    texts.extend(joining());
    texts.extend(measuring(plan));
    texts = column(&mut second, letters, texts, Rect::new(0.0, down + 5.0, wide, high));
    let mut out = vec![first, second];
    while !texts.is_empty() {
        let mut more = Drawing::default();
        more.words((0.0, HEAD), 5.0, "How to join and measure, continued");
        let before = texts.len();
        texts = column(&mut more, letters, texts, Rect::new(0.0, 12.0, wide, high));
        if texts.len() == before {
            // Longer than a page: nothing of it would ever fit.
            return None;
        }
        out.push(more);
    }
    Some(out)
}

/// The squares and all that is to be done with a sheet printed in one, within a width; how high it is.
pub(super) fn strip(plan: &SheetPlan, ground: Ground, letters: &Letters, wide: f64) -> (Drawing, f64) {
    let mut out = Drawing::default();
    squares(&mut out, letters, Point::new(1.0, FOUR_INCHES + 1.0), BEFORE);
    let left = FOUR_INCHES + 10.0;
    let mut texts = printing(plan, ground);
    texts.extend(measuring(plan));
    let beside = wide - left >= COLUMN;
    let area = if beside { Rect::new(left, 0.0, wide.min(left + 260.0), 1e4) } else { Rect::new(0.0, FOUR_INCHES + 4.0, wide, 1e4) };
    let high = texts.iter().map(|t| letters.wrapped(t, SMALL, area.width()).len() as f64 * SMALL * LEADING + SMALL * 0.7).sum::<f64>();
    column(&mut out, letters, texts, area);
    (out, (area.y0 + high + 2.0).max(FOUR_INCHES + 3.0))
}

fn head(out: &mut Drawing, plan: &SheetPlan, letters: &Letters, [left, wide]: [f64; 2], pages: &str) {
    let words = plan.words();
    let (name, rest) = words.split_once(": ").unwrap_or((&words, ""));
    out.words((left, 6.5), 7.0, format!("Ruled {name}"));
    out.words((left, 12.5), 3.3, fitting(letters, rest, 3.3, wide - left));
    out.words((left, 17.5), SMALL, fitting(letters, pages, SMALL, wide - left));
}

/// How it is printed.
fn printing(plan: &SheetPlan, ground: Ground) -> Vec<String> {
    let mut out = vec![
        "1. Print at actual size, 100 %: no fitting or shrinking to the page, no enlarging to be without a margin. On matt paper; glossy paper \
         mirrors lamps. Black and white will do."
            .to_owned(),
        "2. Measure the squares: where they are 100 mm and 4 in each way, to half a millimetre, the settings were right. 97.3 or 94.1 mm instead of \
         100 mm say that the page was fitted to other paper: print again. Paper itself is only cut to 2 mm (ISO 216), so never measure from its edge."
            .to_owned(),
    ];
    if ground == Ground::White {
        out.push(
            "The ground was left white to save ink. White cloth hardly stands out from it: its edge is then told by the vanishing of the lines alone, \
             and is less sure. Print the tinted one for white and pale garments."
                .to_owned(),
        );
    }
    out.push(format!(
        "The marks between the lines say which sheet it is ({}), its squares, and where on it a picture was taken. Print every further \
         sheet with a number of its own (--number), so that each can be measured for itself.",
        plan.code.number
    ));
    out
}

/// How pages are joined.
fn joining() -> Vec<String> {
    vec![
        "3. Rows run down (A, B, C …), columns across (1, 2, 3 …). On a flat table, row by row and from left to right: cut the strip with words off at \
         a page's left and top, and lay the page on the one before it and the one above it, its edges to the dashes, so that the ruled lines run on \
         and the crosses come together. The page further right or further down lies on top; glue or tape goes on the strip beneath. Tape on the face, if any, is matt."
            .to_owned(),
        "4. Each page holds whole squares and is cut between two lines: a page that lies out of place moves whole squares with it. Keep steps below \
         half a millimetre; look along the long lines."
            .to_owned(),
    ]
}

/// How a print is measured, and what cloth on it must not suffer.
fn measuring(plan: &SheetPlan) -> Vec<String> {
    let [w, h] = plan.size().map(crate::sheet::paper::short);
    vec![
        format!(
            "5. Let the paper lie flat for a day where pictures are taken: it moves by 0.1 to 0.4 % with the damp of the air. Then tape both long rulers \
             ({w} and {h} mm between their end marks) and both diagonals between the outermost corners of the squares, and keep what you read: \
             ruboff sheet --measured {} --across \"… mm\" --down \"… mm\" --diagonals \"… mm, … mm\". Not measured, lengths may be out by 0.2 %, 1 mm on 500.",
            plan.call()
        ),
        "Ink and toner may rub off: let the print dry for a day and rub it with a white rag before cloth lies on it; never lay damp cloth on it. Under old or \
         fragile cloth lies clean acid-free tissue, or a conservator decides."
            .to_owned(),
    ]
}

/// Pages as they lie, with their addresses; how far down the map reaches.
fn map(out: &mut Drawing, plan: &SheetPlan, pages: &SheetPages, letters: &Letters, room: Rect) -> f64 {
    let all = super::ruling::extent(plan);
    let scale = (room.width() / all.width()).min(room.height() / all.height());
    let [columns, rows] = pages.size(plan.squares);
    let edge = |axis: usize, page: usize, [low, high]: [f64; 2]| {
        let count = [columns, rows][axis];
        let at = if page == count { high } else { pages.axes[axis].cut(page).map_or(low, |c| c * plan.pitch()) };
        (at - low) * scale
    };
    for row in 0..rows {
        for column in 0..columns {
            let [x0, x1] = [column, column + 1].map(|c| room.x0 + edge(0, c, [all.x0, all.x1]));
            let [y0, y1] = [row, row + 1].map(|r| room.y0 + edge(1, r, [all.y0, all.y1]));
            let r = Rect::new(x0, y0, x1, y1);
            out.fill(r.to_path(0.1), Ink::Grey(0.94));
            out.rect(r, Pen::new(0.25, &[]));
            let size = (r.height() * 0.35).min(r.width() * 0.3).clamp(1.6, 5.0);
            out.words_about(letters, r.center(), size, 0.0, &address(row, column));
        }
    }
    room.y0 + all.height() * scale
}
