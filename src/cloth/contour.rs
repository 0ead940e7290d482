//! From labelled pixels to connected parts and their smooth outlines.
//!
//! Outlines by marching squares (Lorensen and Cline 1987, in the plane) on the softened labels.

use std::collections::BTreeMap;

/// One connected part of the labelled pixels (neighbours left, right, above, below).
#[derive(Clone, Debug)]
pub(super) struct Part {
    /// Columns from..to and rows from..to.
    pub x: [usize; 2],
    pub y: [usize; 2],
    /// Number of pixels.
    pub count: usize,
    /// Its number in the map of parts.
    pub id: u32,
}

/// Numbers the connected parts; 0 stands for pixels that are not labelled.
pub(super) fn parts(labels: &[bool], width: usize) -> (Vec<u32>, Vec<Part>) {
    let mut ids = vec![0u32; labels.len()];
    let mut found = Vec::new();
    let mut stack = Vec::new();
    let height = labels.len() / width.max(1);
    for start in 0..labels.len() {
        if !labels[start] || ids[start] != 0 {
            continue;
        }
        let id = found.len() as u32 + 1;
        let mut part = Part { x: [width, 0], y: [height, 0], count: 0, id };
        stack.push(start);
        // Run by run: a run is filled whole, and each run of open pixels above and below is entered once.
        while let Some(n) = stack.pop() {
            if ids[n] != 0 {
                continue;
            }
            let y = n / width;
            let row = y * width..(y + 1) * width;
            let open = |m: &usize| labels[*m] && ids[*m] == 0;
            let first = (row.start..n).rev().take_while(open).last().unwrap_or(n);
            let end = (n..row.end).take_while(open).last().map_or(n, |m| m + 1);
            ids[first..end].fill(id);
            part.count += end - first;
            part.x = [part.x[0].min(first - row.start), part.x[1].max(end - row.start)];
            part.y = [part.y[0].min(y), part.y[1].max(y + 1)];
            let above = (y > 0).then(|| first - width..end - width);
            let below = (y + 1 < height).then(|| first + width..end + width);
            for beside in above.into_iter().chain(below) {
                let mut before = false;
                for m in beside {
                    let open = labels[m] && ids[m] == 0;
                    if open && !before {
                        stack.push(m);
                    }
                    before = open;
                }
            }
        }
        found.push(part);
    }
    (ids, found)
}

/// Closed outlines of one part in level px: outer ones clockwise as seen, holes the other way.
pub(super) fn outlines(ids: &[u32], width: usize, part: &Part) -> Vec<Vec<[f64; 2]>> {
    // Two pixels of margin: one for the softening, one so that every outline closes.
    let (w, h) = (part.x[1] - part.x[0] + 6, part.y[1] - part.y[0] + 6);
    let mut soft = vec![0f32; w * h];
    for y in part.y[0]..part.y[1] {
        for x in part.x[0]..part.x[1] {
            if ids[y * width + x] == part.id {
                soft[(y - part.y[0] + 3) * w + x - part.x[0] + 3] = 1.0;
            }
        }
    }
    let soft = soften(&soft, w, h);
    let (dx, dy) = (part.x[0] as f64 - 3.0, part.y[0] as f64 - 3.0);
    march(&soft, w, h).into_iter().map(|l| l.into_iter().map(|[x, y]| [x + dx, y + dy]).collect()).collect()
}

/// Binomial 1-2-1 both ways: takes the stairs out and moves a corner by a third of a pixel.
fn soften(from: &[f32], w: usize, h: usize) -> Vec<f32> {
    let mut across = vec![0f32; w * h];
    for y in 0..h {
        for x in 1..w - 1 {
            let n = y * w + x;
            across[n] = 0.25 * (from[n - 1] + 2.0 * from[n] + from[n + 1]);
        }
    }
    let mut out = vec![0f32; w * h];
    for y in 1..h - 1 {
        for x in 0..w {
            let n = y * w + x;
            out[n] = 0.25 * (across[n - w] + 2.0 * across[n] + across[n + w]);
        }
    }
    out
}

/// Marching squares at one half; inside lies to the right of the direction of travel (clockwise as seen, y down).
pub(super) fn march(field: &[f32], w: usize, h: usize) -> Vec<Vec<[f64; 2]>> {
    // An edge of the pixel grid is named by its first pixel and its way: 2n to the right, 2n + 1 down.
    let mut next: BTreeMap<usize, usize> = BTreeMap::new();
    for y in 0..h - 1 {
        for x in 0..w - 1 {
            let n = y * w + x;
            let inside = [n, n + 1, n + w + 1, n + w].map(|m| field[m] > 0.5);
            if inside == [inside[0]; 4] {
                continue;
            }
            let edges = [2 * n, 2 * (n + 1) + 1, 2 * (n + w), 2 * n + 1];
            // Travel keeps the inside on the right: in where the square's corners, taken clockwise, turn outside, and out
            // by the edge before it where they turned inside.
            for k in (0..4).filter(|&k| inside[k] && !inside[(k + 1) % 4]) {
                let out = (1..4).map(|s| (k + 4 - s) % 4).find(|&e| !inside[e] && inside[(e + 1) % 4]).unwrap_or(k);
                next.insert(edges[k], edges[out]);
            }
        }
    }
    let mut loops = Vec::new();
    while let Some((&first, _)) = next.first_key_value() {
        let mut line = Vec::new();
        let mut edge = first;
        while let Some(to) = next.remove(&edge) {
            line.push(crossing(field, w, edge));
            edge = to;
        }
        if line.len() >= 3 {
            loops.push(line);
        }
    }
    loops
}

fn crossing(field: &[f32], w: usize, edge: usize) -> [f64; 2] {
    let n = edge / 2;
    let m = if edge.is_multiple_of(2) { n + 1 } else { n + w };
    let t = f64::from((0.5 - field[n]) / (field[m] - field[n]));
    let (x, y) = ((n % w) as f64, (n / w) as f64);
    if edge.is_multiple_of(2) { [x + t, y] } else { [x, y + t] }
}

/// Twice-signed area halved: positive for clockwise as seen (y down).
pub(super) fn area(line: &[[f64; 2]]) -> f64 {
    (0..line.len()).map(|k| (line[k], line[(k + 1) % line.len()])).map(|(p, q)| p[0] * q[1] - q[0] * p[1]).sum::<f64>() / 2.0
}

/// Visits the numbers of the pixels whose centres lie inside a closed line (even-odd).
pub(super) fn fill(line: &[[f64; 2]], width: usize, height: usize, mut visit: impl FnMut(usize)) {
    let (top, bottom) = line.iter().fold((f64::MAX, f64::MIN), |(t, b), p| (t.min(p[1]), b.max(p[1])));
    for y in top.ceil().max(0.0) as usize..=(bottom.floor().max(0.0) as usize).min(height - 1) {
        let v = y as f64;
        let mut cuts: Vec<f64> = (0..line.len())
            .map(|k| (line[k], line[(k + 1) % line.len()]))
            .filter(|(p, q)| (p[1] > v) != (q[1] > v))
            .map(|(p, q)| p[0] + (v - p[1]) / (q[1] - p[1]) * (q[0] - p[0]))
            .collect();
        cuts.sort_by(f64::total_cmp);
        for pair in cuts.chunks_exact(2) {
            for x in pair[0].ceil().max(0.0) as usize..=(pair[1].floor().max(0.0) as usize).min(width - 1) {
                visit(y * width + x);
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_ring_has_a_clockwise_rim_and_a_hole_the_other_way() {
        let (w, h) = (60usize, 50usize);
        let inside = |n: usize| {
            let r = ((n % w) as f64 - 30.0).hypot((n / w) as f64 - 25.0);
            (8.0..20.0).contains(&r)
        };
        let labels: Vec<bool> = (0..w * h).map(inside).collect();
        let (ids, found) = parts(&labels, w);
        assert_eq!(found.len(), 1);
        let lines = outlines(&ids, w, &found[0]);
        let mut areas: Vec<f64> = lines.iter().map(|l| area(l)).collect();
        areas.sort_by(f64::total_cmp);
        assert_eq!(areas.len(), 2);
        let pixels = |r: f64| (0..w * h).filter(|n| ((n % w) as f64 - 30.0).hypot((n / w) as f64 - 25.0) < r).count() as f64;
        assert!((areas[1] / pixels(20.0) - 1.0).abs() < 0.015, "{areas:?}");
        assert!((areas[0] / -pixels(8.0) - 1.0).abs() < 0.015, "{areas:?}");
        for p in lines.iter().flatten() {
            let r = (p[0] - 30.0).hypot(p[1] - 25.0);
            assert!((r - 20.0).abs() < 1.0 || (r - 8.0).abs() < 1.0);
        }
    }

    /// Against filling pixel by pixel.
    #[test]
    fn parts_are_those_of_pixels_that_touch() {
        let (w, h) = (37usize, 29usize);
        for seed in 0..40usize {
            let labels: Vec<bool> = (0..w * h).map(|n| (n * 7919 + seed * 104_729).wrapping_mul(2_654_435_761) >> 13 & 7 > 2).collect();
            let (ids, found) = parts(&labels, w);
            let mut own: Vec<usize> = (0..w * h).collect();
            // Numbers spread from neighbour to neighbour until nothing changes.
            while {
                let before = own.clone();
                for n in (0..w * h).filter(|n| labels[*n]) {
                    let sides =
                        [(n % w > 0).then(|| n - 1), (n % w + 1 < w).then_some(n + 1), n.checked_sub(w), (n + w < w * h).then_some(n + w)];
                    let least = sides.into_iter().flatten().filter(|m| labels[*m]).map(|m| own[m]).min();
                    own[n] = own[n].min(least.unwrap_or(n));
                }
                own != before
            } {}
            assert!((0..w * h).all(|n| (ids[n] == 0) != labels[n]));
            assert!((0..w * h).filter(|n| labels[*n]).all(|n| ids[n] == ids[own[n]]));
            let firsts = (0..w * h).filter(|n| labels[*n] && own[*n] == *n).count();
            assert_eq!(found.len(), firsts);
            for part in &found {
                let pixels: Vec<usize> = (0..w * h).filter(|n| ids[*n] == part.id).collect();
                let span = |all: &dyn Fn(usize) -> usize| {
                    let all = || pixels.iter().map(|n| all(*n));
                    [all().min().unwrap_or(0), all().max().unwrap_or(0) + 1]
                };
                assert_eq!((part.count, part.x, part.y), (pixels.len(), span(&|n| n % w), span(&|n| n / w)));
            }
        }
    }

    #[test]
    fn parts_that_touch_only_at_a_corner_are_two() {
        let labels = [true, false, false, true];
        assert_eq!(parts(&labels, 2).1.len(), 2);
    }
}
