//! The order in which a person counts marks in the picture.

use super::Mark;
use crate::notes::Counted;

/// Marks no farther apart in height are in one row, and the left one of two as high as that is the topmost, mm.
const ROW: f64 = 15.0;

/// The marks in order; `per_mm` are pixels per mm.
pub(super) fn counted(mut marks: Vec<Mark>, counted: Counted, per_mm: f64) -> Vec<Mark> {
    let row = ROW * per_mm;
    // Top to bottom first, in any case the same for the same marks.
    marks.sort_by(|a, b| a.px.y.total_cmp(&b.px.y).then(a.px.x.total_cmp(&b.px.x)));
    match counted {
        Counted::Clockwise => clockwise(&mut marks, row),
        Counted::Rows => {
            let mut from = 0;
            while from < marks.len() {
                let end = (from..marks.len()).find(|&k| marks[k].px.y - marks[from].px.y > row).unwrap_or(marks.len());
                marks[from..end].sort_by(|a, b| a.px.x.total_cmp(&b.px.x));
                from = end;
            }
        }
    }
    marks
}

fn clockwise(marks: &mut [Mark], row: f64) {
    let Some(top) = marks.first().map(|m| m.px.y) else { return };
    let n = marks.len() as f64;
    let (cx, cy) = marks.iter().fold((0.0, 0.0), |s, m| (s.0 + m.px.x / n, s.1 + m.px.y / n));
    let angle = |m: &Mark| (m.px.y - cy).atan2(m.px.x - cx);
    let left = marks.iter().filter(|m| m.px.y - top <= row).min_by(|a, b| a.px.x.total_cmp(&b.px.x));
    let start = left.map_or(0.0, angle);
    // With y down, angles grow clockwise as seen.
    let from_start = |m: &Mark| (angle(m) - start).rem_euclid(std::f64::consts::TAU);
    marks.sort_by(|a, b| from_start(a).total_cmp(&from_start(b)));
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::length::{Mm, Px};
    use crate::notes::MarkKind;
    use crate::shot::Area;

    fn mark(x: f64, y: f64) -> Mark {
        let cover = Area::new([[0.0, 0.0], [1.0, 0.0], [0.0, 1.0]].map(Px::from).to_vec()).expect("an area");
        let (px, at) = (Px::new(x, y), Mm::new(x, y));
        Mark { kind: MarkKind::Stickers, px, at, across: 8.0, ahead: None, colour: [255, 0, 0], error: 0.02, cover }
    }

    fn order(places: &[[f64; 2]], how: Counted) -> Vec<[f64; 2]> {
        counted(places.iter().map(|p| mark(p[0], p[1])).collect(), how, 1.0).iter().map(|m| [m.px.x, m.px.y]).collect()
    }

    #[test]
    fn clockwise_from_the_left_one_of_the_topmost() {
        let want = [[20.0, 12.0], [80.0, 10.0], [95.0, 60.0], [50.0, 100.0], [5.0, 60.0]];
        for turn in 0..want.len() {
            let mut mixed = want;
            mixed.rotate_left(turn);
            assert_eq!(order(&mixed, Counted::Clockwise), want);
        }
    }

    #[test]
    fn rows_run_down_and_each_from_left_to_right() {
        let want = [[10.0, 20.0], [50.0, 12.0], [90.0, 22.0], [30.0, 60.0], [70.0, 55.0]];
        let mut mixed = want;
        mixed.reverse();
        assert_eq!(order(&mixed, Counted::Rows), want);
        assert!(order(&[], Counted::Clockwise).is_empty());
    }
}
