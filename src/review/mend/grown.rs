//! Regions drawn by themselves: round a piece, and along a line.

use crate::notes::{crosses_itself, sides_meet};
use kurbo::{BezPath, PathEl, Point, Vec2};

/// How far a region reaches beyond its piece, mm: as far as nothing else comes into it.
const BEYOND: [f64; 4] = [3.0, 2.0, 1.0, 0.5];
/// By how much places of the outline may be left out, mm, the finest first.
const COARSER: [f64; 5] = [0.2, 0.4, 0.7, 1.1, 1.6];
/// Places of a region: what a person could still read and change by hand.
const MOST: usize = 60;
/// How near a curve its polygon runs, mm.
const FLAT: f64 = 0.1;
/// Longest spike at a pointed corner, in widths.
const SPIKE: f64 = 2.0;

/// A region round a piece: its outline with few places, grown as far as it spares the other outlines. Places in mm, in order; none when
/// no such region was found.
pub(super) fn around(outline: &BezPath, others: &[BezPath]) -> Option<Vec<Point>> {
    let whole = polygon(outline);
    let beside: Vec<Vec<Point>> = others.iter().map(polygon).collect();
    let few = |tolerance: f64| thinned(&whole, tolerance);
    for beyond in BEYOND {
        for tolerance in COARSER.iter().filter(|t| **t < beyond) {
            let rough = few(*tolerance);
            if rough.len() < 3 || rough.len() > MOST {
                continue;
            }
            let grown = offset_closed(&rough, beyond);
            if !crosses(&grown) && !beside.iter().any(|other| meet(&grown, other)) {
                return Some(grown);
            }
        }
    }
    None
}

/// A region `width` mm wide along a line whose ends are led on by `further` mm; none where the line has no length or the region would
/// cross itself.
pub(super) fn along(line: &[Point], width: f64, further: f64) -> Option<Vec<Point>> {
    let mut line: Vec<Point> = line.to_vec();
    line.dedup_by(|a, b| a.distance(*b) < 1e-6);
    let n = line.len();
    if n < 2 {
        return None;
    }
    let ahead = |from: Point, to: Point| (to - from).normalize() * further;
    let (first, last) = (line[0] - ahead(line[0], line[1]), line[n - 1] + ahead(line[n - 2], line[n - 1]));
    (line[0], line[n - 1]) = (first, last);
    let side = |way: f64| -> Vec<Point> {
        let moved = |k: usize| {
            let before = (k > 0).then(|| normal(line[k - 1], line[k]));
            let after = (k + 1 < n).then(|| normal(line[k], line[k + 1]));
            line[k] + way * joint(before.or(after), after.or(before)) * (width / 2.0)
        };
        (0..n).map(moved).collect()
    };
    let region: Vec<Point> = side(1.0).into_iter().chain(side(-1.0).into_iter().rev()).collect();
    (!crosses(&region)).then_some(region)
}

/// The corners of a flattened path, the last not the first again.
fn polygon(path: &BezPath) -> Vec<Point> {
    let mut out: Vec<Point> = Vec::new();
    kurbo::flatten(path.iter(), FLAT, |el| {
        if let PathEl::MoveTo(p) | PathEl::LineTo(p) = el {
            out.push(p);
        }
    });
    out.dedup_by(|a, b| a.distance(*b) < 1e-9);
    if out.len() > 1 && out[0].distance(out[out.len() - 1]) < 1e-9 {
        out.pop();
    }
    out
}

/// The polygon with places left out that lie within `tolerance` of what is left (Douglas & Peucker 1973), from two far ends.
fn thinned(whole: &[Point], tolerance: f64) -> Vec<Point> {
    if whole.len() < 4 {
        return whole.to_vec();
    }
    let far = (0..whole.len()).max_by(|&a, &b| whole[a].distance(whole[0]).total_cmp(&whole[b].distance(whole[0]))).unwrap_or(0);
    let mut out = Vec::new();
    thin(&whole[..=far], tolerance, &mut out);
    let back: Vec<Point> = whole[far..].iter().chain(&whole[..1]).copied().collect();
    thin(&back, tolerance, &mut out);
    out
}

/// Keeps what is needed of a stretch, its last place left to the next one. The stretches wait in a list, not in calls within calls.
fn thin(stretch: &[Point], tolerance: f64, out: &mut Vec<Point>) {
    let mut waiting = vec![(0, stretch.len() - 1)];
    while let Some((a, b)) = waiting.pop() {
        let (from, to) = (stretch[a], stretch[b]);
        let off = |p: Point| {
            let leg = to - from;
            let t = if leg.hypot2() > 0.0 { ((p - from).dot(leg) / leg.hypot2()).clamp(0.0, 1.0) } else { 0.0 };
            (p - (from + leg * t)).hypot()
        };
        match (a + 1..b).max_by(|&i, &j| off(stretch[i]).total_cmp(&off(stretch[j]))).filter(|&k| off(stretch[k]) > tolerance) {
            Some(k) => waiting.extend([(k, b), (a, k)]),
            None => out.push(from),
        }
    }
}

/// Right angle to a leg, to the outside of an outline that runs clockwise as seen (y down).
fn normal(from: Point, to: Point) -> Vec2 {
    let leg = (to - from).normalize();
    Vec2::new(leg.y, -leg.x)
}

/// By how much a corner moves, in widths, so that both its legs move by one; less at sharp ones.
fn joint(before: Option<Vec2>, after: Option<Vec2>) -> Vec2 {
    let (Some(a), Some(b)) = (before, after) else { return Vec2::ZERO };
    let middle = a + b;
    if middle.hypot() < 1e-6 {
        return a;
    }
    let middle = middle.normalize();
    middle * (1.0 / middle.dot(a).max(1.0 / SPIKE))
}

fn offset_closed(polygon: &[Point], by: f64) -> Vec<Point> {
    let n = polygon.len();
    let clockwise = area(polygon) >= 0.0;
    let moved = |k: usize| {
        let (before, here, after) = (polygon[(k + n - 1) % n], polygon[k], polygon[(k + 1) % n]);
        let out = joint(Some(normal(before, here)), Some(normal(here, after)));
        here + if clockwise { out } else { -out } * by
    };
    (0..n).map(moved).collect()
}

/// Twice the area, more than nothing when it runs clockwise as seen (y down).
fn area(polygon: &[Point]) -> f64 {
    let n = polygon.len();
    (0..n).map(|k| polygon[k].to_vec2().cross(polygon[(k + 1) % n].to_vec2())).sum()
}

/// Whether a place lies within (even-odd rule).
fn holds(polygon: &[Point], p: Point) -> bool {
    let n = polygon.len();
    (0..n).fold(false, |inside, k| {
        let (a, b) = (polygon[k], polygon[(k + 1) % n]);
        inside ^ ((a.y > p.y) != (b.y > p.y) && p.x < a.x + (b.x - a.x) * (p.y - a.y) / (b.y - a.y))
    })
}

/// Whether the notes would refuse such a border.
fn crosses(points: &[Point]) -> bool {
    crosses_itself(&points.iter().map(|p| [p.x, p.y]).collect::<Vec<_>>())
}

/// Whether two polygons have a place in common.
fn meet(a: &[Point], b: &[Point]) -> bool {
    let side = |of: &[Point], k: usize| [of[k], of[(k + 1) % of.len()]].map(|p| [p.x, p.y]);
    let within = |of: &[Point], by: &[Point]| of.first().is_some_and(|p| holds(by, *p));
    within(a, b) || within(b, a) || (0..a.len()).any(|i| (0..b.len()).any(|k| sides_meet(side(a, i), side(b, k))))
}

#[cfg(test)]
mod tests {
    use super::*;
    use kurbo::{Circle, Rect, Shape};
    use proptest::prelude::*;

    fn all_within(region: &[Point], path: &BezPath) -> bool {
        polygon(path).iter().all(|p| holds(region, *p))
    }

    #[test]
    fn a_region_holds_its_piece_and_spares_its_neighbours() {
        let disc = Circle::new((100.0, 100.0), 80.0).to_path(1e-4);
        let alone = around(&disc, &[]).expect("a region");
        assert!(alone.len() <= MOST && all_within(&alone, &disc), "{}", alone.len());
        assert!(alone.iter().all(|p| (2.0..4.5).contains(&(p.distance(Point::new(100.0, 100.0)) - 80.0))));
        for gap in [4.0, 2.5, 1.4, 0.8] {
            let beside = Rect::new(180.0 + gap, 0.0, 300.0, 200.0).to_path(1e-4);
            let spared = around(&disc, std::slice::from_ref(&beside)).expect("a region");
            assert!(all_within(&spared, &disc) && spared.iter().all(|p| p.x <= 180.0 + gap), "{gap}");
        }
        // Nothing fits between two that touch.
        assert!(
            around(&disc, &[Rect::new(180.0, 0.0, 300.0, 200.0).to_path(1e-4), Circle::new((100.0, 100.0), 80.2).to_path(1e-4)]).is_none()
        );
    }

    #[test]
    fn a_bay_narrower_than_the_region_is_wide_makes_it_narrower() {
        let u = BezPath::from_svg("M 0 0 L 10 0 L 10 50 L 12 50 L 12 0 L 22 0 L 22 60 L 0 60 Z").expect("a path");
        let region = around(&u, &[]).expect("a region");
        assert!(all_within(&region, &u) && !crosses(&region));
    }

    #[test]
    fn a_line_gets_a_narrow_region_led_on_at_its_ends() {
        let region = along(&[Point::new(0.0, 0.0), Point::new(100.0, 0.0)], 2.0, 3.0).expect("a region");
        let (low, high) = region.iter().fold((Point::new(1e9, 1e9), Point::new(-1e9, -1e9)), |(l, h), p| {
            (Point::new(l.x.min(p.x), l.y.min(p.y)), Point::new(h.x.max(p.x), h.y.max(p.y)))
        });
        assert_eq!((low, high), (Point::new(-3.0, -1.0), Point::new(103.0, 1.0)));
        let bent = along(&[Point::new(0.0, 0.0), Point::new(50.0, 0.0), Point::new(50.0, 80.0)], 2.0, 3.0).expect("a region");
        assert!((area(&bent).abs() / 2.0 - 2.0 * 136.0).abs() < 1.0);
        assert!(along(&[Point::new(1.0, 1.0); 3], 2.0, 3.0).is_none());
        let crossing = [(0.0, 0.0), (50.0, 0.0), (25.0, 40.0), (25.0, -40.0)].map(Point::from);
        assert!(along(&crossing, 2.0, 3.0).is_none());
    }

    proptest! {
        /// Stars of any shape: whatever comes out holds the whole piece, has few places and does not cross itself.
        #[test]
        fn regions_of_stars_hold_them(radii in prop::collection::vec(20.0..120.0f64, 5..40)) {
            let n = radii.len() as f64;
            let at = |(k, r): (usize, &f64)| Point::new(200.0, 200.0) + Vec2::from_angle(k as f64 / n * std::f64::consts::TAU) * *r;
            let points: Vec<Point> = radii.iter().enumerate().map(at).collect();
            let mut star = BezPath::new();
            star.move_to(points[0]);
            points[1..].iter().for_each(|p| star.line_to(*p));
            star.close_path();
            if let Some(region) = around(&star, &[]) {
                prop_assert!(region.len() <= MOST && !crosses(&region));
                prop_assert!(all_within(&region, &star));
            }
        }
    }
}
