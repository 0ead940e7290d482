//! The pieces that the parts seen in several pictures make up together: a rough line round each, to order the points by.

use crate::length::Mm;
use nalgebra::Vector2;

/// Size of a cell, mm.
const CELL: f64 = 1.0;
/// Corners of the cells' outline are smoothed over so many of them either way.
const SMOOTH: usize = 3;
/// A part smaller than this share of the largest is no piece but a sliver between pictures.
const SLIVER: f64 = 0.01;
/// Most cells, so that a wild outline can't fill the memory.
const MOST: f64 = 60e6;

/// A closed rough line round a piece, clockwise as seen, points a cell apart.
#[derive(Clone, Debug)]
pub(super) struct Round {
    pub points: Vec<Mm>,
    /// Area inside, mm².
    pub area: f64,
}

/// What polygons cover together, largest first; parts that only touch in corners are two.
pub(super) fn union(polygons: &[Vec<Mm>]) -> Vec<Round> {
    let all = || polygons.iter().flatten().filter(|p| p.is_finite());
    let low = all().fold(Vector2::repeat(f64::INFINITY), |a, p| a.inf(&p.vector()));
    let high = all().fold(Vector2::repeat(f64::NEG_INFINITY), |a, p| a.sup(&p.vector()));
    let size = (high - low) / CELL;
    if !(size.x.is_finite() && size.y.is_finite()) || (size.x + 4.0) * (size.y + 4.0) > MOST {
        return Vec::new();
    }
    let (w, h) = (size.x.ceil() as usize + 4, size.y.ceil() as usize + 4);
    let origin = low - Vector2::repeat(2.0 * CELL);
    let mut filled = vec![false; w * h];
    for polygon in polygons {
        fill(&mut filled, (w, h), &polygon.iter().map(|p| (p.vector() - origin) / CELL).collect::<Vec<_>>());
    }
    let mut out = Vec::new();
    while let Some(start) = filled.iter().position(|f| *f) {
        let points = trace(&filled, w, start);
        let area = clear(&mut filled, w, start) as f64 * CELL * CELL;
        let points = smooth(&points).into_iter().map(|p| Mm::from(origin + p * CELL)).collect();
        out.push(Round { points, area });
    }
    out.sort_by(|a: &Round, b| b.area.total_cmp(&a.area));
    let most = out.first().map_or(0.0, |r| r.area);
    out.retain(|r| r.area >= SLIVER * most);
    out
}

/// Fills the cells whose middles lie inside.
fn fill(filled: &mut [bool], (w, h): (usize, usize), polygon: &[Vector2<f64>]) {
    for row in 0..h {
        let y = row as f64 + 0.5;
        let mut crossings: Vec<f64> = Vec::new();
        for k in 0..polygon.len() {
            let (a, b) = (polygon[k], polygon[(k + 1) % polygon.len()]);
            if (a.y <= y) != (b.y <= y) {
                crossings.push(a.x + (b.x - a.x) * (y - a.y) / (b.y - a.y));
            }
        }
        crossings.sort_by(f64::total_cmp);
        for pair in crossings.chunks_exact(2) {
            let (from, to) = ((pair[0] - 0.5).ceil().max(0.0) as usize, ((pair[1] - 0.5).floor() + 1.0).clamp(0.0, w as f64) as usize);
            if from < to {
                filled[row * w + from..row * w + to].fill(true);
            }
        }
    }
}

/// Walks round the cells from the first one of the topmost row, filled ones on the right hand; corners of cells.
fn trace(filled: &[bool], w: usize, start: usize) -> Vec<Vector2<f64>> {
    let is = |x: isize, y: isize| x >= 0 && y >= 0 && (x as usize) < w && filled.get(y as usize * w + x as usize).copied().unwrap_or(false);
    let begin = ((start % w) as isize, (start / w) as isize);
    let (mut at, mut way) = (begin, (1isize, 0isize));
    let mut out = Vec::new();
    loop {
        out.push(Vector2::new(at.0 as f64, at.1 as f64));
        at = (at.0 + way.0, at.1 + way.1);
        // The cells ahead on the left and on the right of a corner of cells.
        let (left, right) = match way {
            (1, 0) => ((at.0, at.1 - 1), (at.0, at.1)),
            (-1, 0) => ((at.0 - 1, at.1), (at.0 - 1, at.1 - 1)),
            (0, 1) => ((at.0, at.1), (at.0 - 1, at.1)),
            _ => ((at.0 - 1, at.1 - 1), (at.0, at.1 - 1)),
        };
        way = match (is(left.0, left.1), is(right.0, right.1)) {
            // Right first, so that cells which touch in a corner are two parts.
            (_, false) => (-way.1, way.0),
            (false, true) => way,
            (true, true) => (way.1, -way.0),
        };
        if at == begin && way == (1, 0) || out.len() > 4 * filled.len() {
            return out;
        }
    }
}

/// Empties a part; how many cells it had.
fn clear(filled: &mut [bool], w: usize, start: usize) -> usize {
    let (mut open, mut count) = (vec![start], 0);
    filled[start] = false;
    while let Some(k) = open.pop() {
        count += 1;
        let x = k % w;
        let beside = [k.checked_sub(w), Some(k + w), (x > 0).then(|| k - 1), (x + 1 < w).then_some(k + 1)];
        for next in beside.into_iter().flatten() {
            if filled.get(next).copied().unwrap_or(false) {
                filled[next] = false;
                open.push(next);
            }
        }
    }
    count
}

fn smooth(points: &[Vector2<f64>]) -> Vec<Vector2<f64>> {
    let n = points.len();
    if n < 4 * SMOOTH {
        return points.to_vec();
    }
    let mean = |k: usize| (0..=2 * SMOOTH).map(|d| points[(k + n + d - SMOOTH) % n]).sum::<Vector2<f64>>() / (2 * SMOOTH + 1) as f64;
    (0..n).map(mean).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn square(x: f64, y: f64, side: f64) -> Vec<Mm> {
        vec![Mm::new(x, y), Mm::new(x + side, y), Mm::new(x + side, y + side), Mm::new(x, y + side)]
    }

    /// Area of a polygon, positive clockwise as seen.
    fn area(points: &[Mm]) -> f64 {
        let n = points.len();
        0.5 * (0..n).map(|k| points[k].x * points[(k + 1) % n].y - points[(k + 1) % n].x * points[k].y).sum::<f64>()
    }

    #[test]
    fn two_that_overlap_are_one_and_a_third_is_another() {
        let found = union(&[square(0.0, 0.0, 60.0), square(40.0, 20.0, 60.0), square(200.0, 0.0, 30.0)]);
        assert_eq!(found.len(), 2);
        // 2 · 60² less the 20 · 40 shared.
        assert!((found[0].area - 6400.0).abs() < 250.0 && (area(&found[0].points) - 6400.0).abs() < 250.0, "{}", found[0].area);
        assert!((found[1].area - 900.0).abs() < 100.0);
        assert!(union(&[]).is_empty());
    }
}
