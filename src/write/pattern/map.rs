//! The page map: what to tape to what; and what each kind of line means.

use super::grid::Grid;
use super::pens;
use super::piece::{LineKind, Pattern};
use crate::sheet::pages::address;
use crate::write::page::{Drawing, Ink, LEADING, Letters, Pen, SMALL, column};
use kurbo::{Affine, BezPath, Point, Rect, Shape};

/// Where the steps and the lines have room side by side, mm.
const BOTH: f64 = 160.0;
/// Length of a sample of a line, mm.
const SAMPLE: f64 = 34.0;
/// Size of the pieces' numbers, mm.
const NUMBER: f64 = 3.0;
/// Highest the map is drawn, as a share of the page.
const TALLEST: f64 = 0.52;

/// How pages are put together, in the order of work.
fn steps(overlap: f64) -> Vec<String> {
    let lay = if overlap > 0.0 {
        "Cut a page along the fine line at its left and at its top, where it has one, and lay it on the dashed line of the page before it and \
         above it, so that the diamonds and the lines of the pattern come together. The strip beneath takes the glue or tape."
    } else {
        "Cut every page along the fine lines at its left and top and butt it against the page before it and above it, so that the halves of \
         the diamonds make whole ones. Tape from behind."
    };
    vec![
        "Rows run down (A, B, C …), columns across (1, 2, 3 …). Pages that are dashed on the map hold nothing and are not printed.".into(),
        lay.into(),
        "Work in reading order: each row from left to right, then row below row.".into(),
        "Then tape the grain arrow, or the check line, of every piece: its length is written on it. A millimetre too many or too few on half a \
         metre is drift; take the pages apart and join them again."
            .into(),
        "Cut the paper along the outermost line of each piece.".into(),
    ]
}

/// The page with the map, what is to be said `beside` the pieces, and further pages where that finds no room on it.
pub(super) fn pages(
    pattern: &Pattern,
    grid: &Grid,
    outlines: &[BezPath],
    letters: &Letters,
    room: [f64; 2],
    beside: &[String],
) -> Vec<Drawing> {
    let [wide, high] = room;
    let mut first = Drawing::default();
    first.words((0.0, 6.0), 5.0, "Page map: what to tape to what");
    let full = grid.tile(grid.rows - 1, grid.columns - 1);
    let scale = (wide / full.x1).min(high * TALLEST / full.y1);
    map(&mut first, grid, outlines, letters, Affine::translate((0.0, 10.0)) * Affine::scale(scale));
    let down = 10.0 + full.y1 * scale + 8.0;
    let overlap = grid.shown[0] - grid.step[0];
    let mut texts = steps(overlap);
    let mut lines = Some(());
    if wide >= BOTH {
        let half = wide * 0.5;
        texts = column(&mut first, letters, texts, Rect::new(0.0, down, half, high));
        let foot = legend(&mut first, pattern, letters, [half + 8.0, down, wide]);
        lines = None;
        let (empty, below) = (texts.is_empty(), Rect::new(half + 8.0, foot + 4.0, wide, high));
        texts.extend_from_slice(beside);
        texts = if empty { column(&mut first, letters, texts, below) } else { texts };
    } else {
        texts = column(&mut first, letters, texts, Rect::new(0.0, down, wide, high));
        texts.extend_from_slice(beside);
    }
    let mut out = vec![first];
    while lines.is_some() || !texts.is_empty() {
        let mut more = Drawing::default();
        more.words((0.0, 6.0), 5.0, "Page map, continued");
        let top = lines.take().map_or(12.0, |()| legend(&mut more, pattern, letters, [0.0, 12.0, wide]) + 6.0);
        let before = texts.len();
        texts = column(&mut more, letters, texts, Rect::new(0.0, top, wide.min(150.0), high));
        if texts.len() == before && top <= 12.0 {
            // Longer than a page: nothing of it would ever fit.
            texts.clear();
        }
        out.push(more);
    }
    out
}

/// What found no room on a piece.
pub(super) fn unsaid(piece: &str, words: &[String]) -> Option<String> {
    (!words.is_empty()).then(|| format!("No room on {piece} for: {}.", words.join("; ")))
}

/// What the record says and the pattern does not show.
pub(super) fn left_out(pattern: &Pattern) -> Vec<String> {
    let head = (!pattern.left_out.is_empty()).then(|| "The record says more than is drawn:".to_owned());
    head.into_iter().chain(pattern.left_out.iter().cloned()).collect()
}

/// The pieces on their pages, reduced.
fn map(out: &mut Drawing, grid: &Grid, outlines: &[BezPath], letters: &Letters, place: Affine) {
    for outline in outlines {
        out.fill(place * outline.clone(), Ink::Grey(0.9));
        out.stroke(place * outline.clone(), Pen::new(0.2, &[]).grey(0.3));
    }
    let mut cells: Vec<[Rect; 2]> = Vec::new();
    for row in 0..grid.rows {
        for column in 0..grid.columns {
            let t = grid.tile(row, column);
            let own = Rect::new(t.x0, t.y0, t.x0 + grid.step[0], t.y0 + grid.step[1]);
            let b = (place * own.to_path(0.1)).bounding_box();
            if grid.has(row, column) {
                out.rect(b, Pen::new(0.25, &[]));
                let size = (b.height() * 0.3).min(b.width() * 0.3).clamp(1.6, 5.0);
                let name = address(row, column);
                let wide = letters.width(&name, size) + size * 0.5;
                cells.push([b, Rect::new(b.x0, b.y0, b.x0 + wide, b.y0 + size * 1.3)]);
                out.words((b.x0 + size * 0.25, b.y0 + size), size, name);
            } else {
                out.rect(b, Pen::new(0.1, &[1.0, 1.0]).grey(0.6));
            }
        }
    }
    for (k, outline) in outlines.iter().enumerate() {
        let number = format!("{}", k + 1);
        let at = free(&(place * outline.clone()), [letters.width(&number, NUMBER) + 0.8, NUMBER + 0.6], &cells);
        out.words_about(letters, at, NUMBER, 0.0, &number);
    }
}

/// Where a piece's number stands on the map: as near to its middle as it lies within the piece and on one page, clear of that page's name; in the
/// middle where there is no such place. Each cell is a page with the box of its name.
fn free(outline: &BezPath, [wide, high]: [f64; 2], cells: &[[Rect; 2]]) -> Point {
    let b = outline.bounding_box();
    let clear = |p: &Point| {
        let own = Rect::from_center_size(*p, (wide, high));
        let on = cells.iter().find(|[page, _]| page.contains(*p));
        on.is_some_and(|[page, name]| page.contains_rect(own) && !name.overlaps(own)) && corners(own).iter().all(|c| outline.contains(*c))
    };
    let steps = |far: f64| -(far / 2.0).floor() as i32..=(far / 2.0).floor() as i32;
    let mut all: Vec<Point> = steps(b.height())
        .flat_map(|y| steps(b.width()).map(move |x| (x, y)))
        .map(|(x, y)| b.center() + kurbo::Vec2::new(f64::from(x), f64::from(y)))
        .collect();
    all.sort_by(|p, q| p.distance_squared(b.center()).total_cmp(&q.distance_squared(b.center())));
    all.into_iter().find(clear).unwrap_or(b.center())
}

fn corners(r: Rect) -> [Point; 4] {
    [(r.x0, r.y0), (r.x1, r.y0), (r.x1, r.y1), (r.x0, r.y1)].map(Point::from)
}

/// A sample of each kind of line that occurs; how far down they reach.
pub(super) fn legend(out: &mut Drawing, pattern: &Pattern, letters: &Letters, [left, top, right]: [f64; 3]) -> f64 {
    let added = pattern.pieces.iter().any(|p| p.lines.iter().any(|l| l.kind == LineKind::Stitch));
    let cut = if added { "cut line" } else { "finished edge, no allowance" };
    let cut_assumed = if added { "cut line, assumed: nobody measured it" } else { "edge, assumed: nobody measured it" };
    let kinds = [
        (LineKind::Cut, false, pens::CUT, cut),
        (LineKind::Cut, true, pens::CUT_ASSUMED, cut_assumed),
        (LineKind::Stitch, false, pens::STITCH, "stitch line"),
        (LineKind::Stitch, true, pens::STITCH_ASSUMED, "stitch line, assumed"),
        (LineKind::Fold, false, pens::FOLD, "place on the fold of the cloth"),
        (LineKind::Inner, false, pens::INNER, "seam or line within the piece"),
        (LineKind::Dart, false, pens::DART, "leg of a dart, to its point"),
        (LineKind::Pleat, false, pens::PLEAT, "pleat: the arrow leads from the fold to where it comes to lie"),
        (LineKind::CutOut, false, pens::CUT, "hole, cut out"),
    ];
    let mut down = top;
    for (kind, assumed, pen, words) in kinds {
        let own =
            |p: &super::piece::PatternPiece| p.lines.iter().any(|l| l.kind == kind && (l.assumed == assumed || kind == LineKind::Fold));
        if !pattern.pieces.iter().any(own) {
            continue;
        }
        out.line((left, down + SMALL * 0.6), (left + SAMPLE, down + SMALL * 0.6), pen);
        for line in letters.wrapped(words, SMALL, right - left - SAMPLE - 4.0) {
            down += SMALL * LEADING;
            out.words((left + SAMPLE + 4.0, down - SMALL * 0.4), SMALL, line);
        }
        down += SMALL * 0.6;
    }
    let notched = |assumed: bool| pattern.pieces.iter().any(|p| p.notches.iter().any(|n| n.assumed == assumed));
    let marks = [
        (notched(false), "notch", "short line across the edge"),
        (notched(true), "notch, dashed", "assumed: proposed where the seam meets its other side"),
        (pattern.pieces.iter().any(|p| !p.marks.is_empty()), "mark", "cross in a ring: placement"),
    ];
    for (_, what, words) in marks.iter().filter(|m| m.0) {
        out.words((left, down + SMALL * (LEADING - 0.4)), SMALL, *what);
        for line in letters.wrapped(words, SMALL, right - left - SAMPLE - 4.0) {
            down += SMALL * LEADING;
            out.words((left + SAMPLE + 4.0, down - SMALL * 0.4), SMALL, line);
        }
        down += SMALL * 0.6;
    }
    down
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A piece whose middle lies under a page's name, and one on the line between two pages: their numbers stand beside those.
    #[test]
    fn a_pieces_number_keeps_clear_of_names_and_lines() {
        let cells = [0.0, 40.0].map(|x| [Rect::new(x, 0.0, x + 40.0, 60.0), Rect::new(x, 0.0, x + 12.0, 8.0)]);
        let size = [3.0, 3.6];
        for outline in [Rect::new(1.0, 1.0, 11.0, 14.0), Rect::new(20.0, 20.0, 60.0, 40.0)] {
            let at = free(&outline.to_path(0.1), size, &cells);
            let own = Rect::from_center_size(at, (size[0], size[1]));
            assert!(cells.iter().any(|[page, name]| page.contains_rect(own) && !name.overlaps(own)), "{at}");
            assert!(outline.contains_rect(own), "{at}");
        }
        // No room at all: the middle.
        let narrow = Rect::new(39.0, 10.0, 41.0, 50.0);
        assert_eq!(free(&narrow.to_path(0.1), size, &cells), narrow.center());
    }
}
