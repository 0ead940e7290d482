//! The ground, the ruled lines and the marks of the code, within a part of the sheet.

use super::inks::{Ground, INK, LINE};
use crate::sheet::code::MARK_RADIUS;
use crate::sheet::{SheetPlan, pages};
use crate::write::page::{Drawing, Ink};
use kurbo::{BezPath, Circle, Line, Point, Rect, Shape};

/// How far a mark's curve may leave the circle, mm.
const ROUND: f64 = 0.001;

/// All of the sheet that is tinted: ruled squares, rulers and words.
pub(super) fn extent(plan: &SheetPlan) -> Rect {
    let ([w, h], pitch) = (plan.size(), plan.pitch());
    let (before, after) = (pages::before(pitch), pages::after(pitch));
    Rect::new(-before, -before, w + after, h + after)
}

/// The ground within a part.
pub(super) fn ground(plan: &SheetPlan, ground: Ground, part: Rect) -> Drawing {
    let mut out = Drawing::default();
    if ground.ink() != Ink::Grey(1.0) {
        out.fill(extent(plan).intersect(part).to_path(0.1), ground.ink());
    }
    out
}

/// The lines within a part, each whole from end to end of it.
pub(super) fn lines(plan: &SheetPlan, part: Rect) -> Drawing {
    let ([w, h], pitch) = (plan.size(), plan.pitch());
    let half = LINE.width / 2.0;
    // The outermost lines make whole corners.
    let r = Rect::new(-half, -half, w + half, h + half).intersect(part);
    let mut out = Drawing::default();
    for i in 0..=plan.squares[0] {
        let x = i as f64 * pitch;
        if (r.x0 - half..=r.x1 + half).contains(&x) {
            out.stroke(Line::new((x, r.y0), (x, r.y1)).to_path(0.1), LINE);
        }
    }
    for j in 0..=plan.squares[1] {
        let y = j as f64 * pitch;
        if (r.y0 - half..=r.y1 + half).contains(&y) {
            out.stroke(Line::new((r.x0, y), (r.x1, y)).to_path(0.1), LINE);
        }
    }
    out
}

/// The marks that reach into a part.
pub(super) fn marks(plan: &SheetPlan, part: Rect) -> Drawing {
    let (pitch, [wide, high]) = (plan.pitch(), plan.squares.map(|n| n as i32));
    let radius = MARK_RADIUS * pitch;
    let seen = part.inflate(radius, radius);
    let mut all = BezPath::new();
    let mut put = |x: f64, y: f64| {
        let at = Point::new(x * pitch, y * pitch);
        if seen.contains(at) {
            all.extend(Circle::new(at, radius).path_elements(ROUND));
        }
    };
    for j in 0..=high {
        for i in 0..=wide {
            if i < wide && plan.code.across(i, j) {
                put(f64::from(i) + 0.5, f64::from(j));
            }
            if j < high && plan.code.down(i, j) {
                put(f64::from(i), f64::from(j) + 0.5);
            }
        }
    }
    let mut out = Drawing::default();
    if !all.is_empty() {
        out.fill(all, INK);
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::length::Length;
    use crate::write::page::Item;

    fn plan() -> SheetPlan {
        SheetPlan::of_squares(3, Length::from_mm(20.0), [8, 6]).expect("a sheet")
    }

    #[test]
    fn every_marked_side_has_its_disc_and_no_other() {
        let plan = plan();
        let drawn = marks(&plan, extent(&plan));
        let [Item::Fill { path, .. }] = drawn.items.as_slice() else { panic!("one fill") };
        let marked = |x: f64, y: f64| path.contains(Point::new(x * 20.0, y * 20.0));
        let mut count = 0u32;
        for j in 0..=6 {
            for i in 0..=8 {
                let (x, y) = (f64::from(i), f64::from(j));
                assert!(!marked(x, y));
                if i < 8 {
                    assert_eq!(marked(x + 0.5, y), plan.code.across(i, j), "across {i}, {j}");
                    count += u32::from(plan.code.across(i, j));
                }
                if j < 6 {
                    assert_eq!(marked(x, y + 0.5), plan.code.down(i, j), "down {i}, {j}");
                    count += u32::from(plan.code.down(i, j));
                }
            }
        }
        let area = path.area().abs();
        assert!((area / (f64::from(count) * std::f64::consts::PI) - 1.0).abs() < 2e-3, "{count} discs of 1 mm: {area}");
    }

    #[test]
    fn lines_end_with_the_part() {
        let drawn = lines(&plan(), Rect::new(30.0, -50.0, 68.8, 28.8));
        let ends: Vec<Rect> =
            drawn.items.iter().map(|i| if let Item::Stroke { path, .. } = i { path.bounding_box() } else { Rect::ZERO }).collect();
        assert_eq!(
            ends,
            [
                Rect::new(40.0, -0.2, 40.0, 28.8),
                Rect::new(60.0, -0.2, 60.0, 28.8),
                Rect::new(30.0, 0.0, 68.8, 0.0),
                Rect::new(30.0, 20.0, 68.8, 20.0)
            ]
        );
    }
}
