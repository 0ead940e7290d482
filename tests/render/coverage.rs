//! How much of each pixel polygons cover, exactly: signed areas are laid down edge by edge and summed along rows,
//! as glyph rasterisers do. The edge of a drawn shape is where it should be to rounding.

use super::curve::Point;

/// Closed polygons in px with the rows they span.
#[derive(Clone, Debug, Default)]
pub struct Shapes {
    rings: Vec<Ring>,
}

#[derive(Clone, Debug)]
struct Ring {
    points: Vec<Point>,
    rows: [f64; 2],
    strength: f64,
}

impl Shapes {
    /// Adds a polygon; one that runs anticlockwise takes away (a hole).
    pub fn push(&mut self, points: Vec<Point>, strength: f64) {
        let rows = points.iter().fold([f64::MAX, f64::MIN], |r, p| [r[0].min(p[1]), r[1].max(p[1])]);
        if points.len() > 2 && points.iter().all(|p| p[0].is_finite() && p[1].is_finite()) {
            self.rings.push(Ring { points, rows, strength });
        }
    }

    pub fn is_empty(&self) -> bool {
        self.rings.is_empty()
    }

    /// Whether any polygon reaches into the picture's rows from `top` to `end`.
    pub fn meet(&self, top: f64, end: f64) -> bool {
        self.rings.iter().any(|r| r.rows[1] > top && r.rows[0] < end)
    }

    /// Share of each cell that is covered, `parts` cells to the pixel along each side, for `height` rows of cells of which the
    /// first belongs to the picture's row `top` (which may lie outside it), `width` cells each.
    pub fn cover(&self, parts: usize, width: usize, top: isize, height: usize) -> Vec<f32> {
        let fine = parts as f64;
        let stride = width + 2;
        let mut sums = vec![0f64; stride * height];
        for ring in &self.rings {
            // Pixel 0 spans -0.5 to 0.5.
            let (low, high) = (top as f64 - 0.5, top as f64 - 0.5 + height as f64 / fine);
            if ring.rows[1] <= low || ring.rows[0] >= high {
                continue;
            }
            for k in 0..ring.points.len() {
                let (a, b) = (ring.points[k], ring.points[(k + 1) % ring.points.len()]);
                let place = |p: Point| [(p[0] + 0.5) * fine, (p[1] - low) * fine];
                clip(place(a), place(b), width as f64, &mut |a, b| lay(&mut sums, stride, height, a, b, ring.strength));
            }
        }
        let mut out = Vec::with_capacity(width * height);
        for row in sums.chunks_exact(stride) {
            let mut sum = 0.0;
            out.extend(row[..width].iter().map(|v| {
                sum += v;
                sum.clamp(0.0, 1.0) as f32
            }));
        }
        out
    }
}

/// Hands on the parts of an edge inside the columns; what lies left of them counts along their left border.
fn clip(a: Point, b: Point, width: f64, to: &mut impl FnMut(Point, Point)) {
    if a[0].min(b[0]) >= 0.0 && a[0].max(b[0]) <= width {
        return to(a, b);
    }
    let at = |x: f64| [x, a[1] + (b[1] - a[1]) * (x - a[0]) / (b[0] - a[0])];
    let mut cuts = vec![a];
    let mut borders = [0.0, width];
    if b[0] < a[0] {
        borders.reverse();
    }
    cuts.extend(borders.into_iter().filter(|x| (a[0] - x) * (b[0] - x) < 0.0).map(at));
    cuts.push(b);
    for w in cuts.windows(2) {
        let mid = 0.5 * (w[0][0] + w[1][0]);
        if mid <= 0.0 {
            to([0.0, w[0][1]], [0.0, w[1][1]]);
        } else if mid < width {
            to([w[0][0].clamp(0.0, width), w[0][1]], [w[1][0].clamp(0.0, width), w[1][1]]);
        }
    }
}

/// Lays down the area between an edge and the right border of the rows it crosses, as differences along each row.
fn lay(sums: &mut [f64], stride: usize, height: usize, a: Point, b: Point, strength: f64) {
    if a[1] == b[1] {
        return;
    }
    // Edges that run upwards open a clockwise shape on its left.
    let (sign, a, b) = if a[1] < b[1] { (-strength, a, b) } else { (strength, b, a) };
    let slope = (b[0] - a[0]) / (b[1] - a[1]);
    let first = a[1].max(0.0);
    let last = b[1].min(height as f64);
    if first >= last {
        return;
    }
    let mut x = a[0] + (first - a[1]) * slope;
    for row in first as usize..(last.ceil() as usize).min(height) {
        let down = last.min(row as f64 + 1.0) - first.max(row as f64);
        let next = x + slope * down;
        lay_row(&mut sums[row * stride..][..stride], x.min(next), x.max(next), sign * down);
        x = next;
    }
}

/// One row's share: an edge from `x0` to `x1` over a height (signed) of `d`.
fn lay_row(row: &mut [f64], x0: f64, x1: f64, d: f64) {
    let (i, end) = (x0.floor() as usize, x1.ceil() as usize);
    if end <= i + 1 {
        let share = 0.5 * (x0 + x1) - i as f64;
        row[i] += d * (1.0 - share);
        row[i + 1] += d * share;
        return;
    }
    // Area right of the edge within each column, by the primitive of the trapezoid; then differences.
    let per = d / (x1 - x0);
    let mut before = 0.0;
    for (c, cell) in row.iter_mut().enumerate().take(end + 1).skip(i) {
        let (l, r) = (x0.max(c as f64), x1.min(c as f64 + 1.0));
        let crossed = if r > l { per * ((r - l) * (c as f64 + 1.0 - 0.5 * (l + r))) } else { 0.0 };
        let passed = per * (l.min(x1) - x0).max(0.0);
        let area = crossed + passed;
        *cell += area - before;
        before = area;
    }
}
