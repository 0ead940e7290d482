//! Perimeters as programs that count pixels have them: round the pixels' own sides, the corner of every step cut off.

use kurbo::{BezPath, Shape};
use ruboff::length::Px;
use ruboff::shot::Shot;
use ruboff::view::View;

/// Pixels that belong to something.
pub struct Mask {
    width: usize,
    height: usize,
    on: Vec<bool>,
}

impl Mask {
    fn at(&self, x: i64, y: i64) -> bool {
        x >= 0 && y >= 0 && x < self.width as i64 && y < self.height as i64 && self.on[y as usize * self.width + x as usize]
    }

    /// The uppermost pixel, leftmost of its row.
    pub fn first(&self) -> [i64; 2] {
        let k = self.on.iter().position(|on| *on).expect("something");
        [(k % self.width) as i64, (k / self.width) as i64]
    }

    /// The uppermost pixel of what of `other` hangs together with a pixel in the midst of this one.
    pub fn within(&self, other: &Mask) -> [i64; 2] {
        let both: Vec<usize> = (0..self.on.len()).filter(|&k| self.on[k] && other.on[k]).collect();
        let (mut stack, mut seen) = (vec![both[both.len() / 2]], vec![false; self.on.len()]);
        let mut first = usize::MAX;
        while let Some(k) = stack.pop() {
            if std::mem::replace(&mut seen[k], true) {
                continue;
            }
            first = first.min(k);
            let (x, y) = ((k % self.width) as i64, (k / self.width) as i64);
            for (u, v) in [(x + 1, y), (x - 1, y), (x, y + 1), (x, y - 1)] {
                if other.at(u, v) {
                    stack.push(v as usize * self.width + u as usize);
                }
            }
        }
        [(first % self.width) as i64, (first / self.width) as i64]
    }
}

/// Pixels darker than Otsu's threshold (1979).
pub fn dark(shot: &Shot) -> Mask {
    let gray: Vec<usize> =
        shot.rgb.chunks_exact(3).map(|p| (299 * usize::from(p[0]) + 587 * usize::from(p[1]) + 114 * usize::from(p[2])) / 1000).collect();
    let mut counts = [0f64; 256];
    gray.iter().for_each(|&g| counts[g] += 1.0);
    let (all, sum) = (gray.len() as f64, (0..256).map(|g| g as f64 * counts[g]).sum::<f64>());
    let (mut below, mut sum_below, mut best) = (0.0, 0.0, (0.0, 0));
    for (g, count) in counts.iter().enumerate() {
        below += count;
        sum_below += g as f64 * count;
        if below > 0.0 && below < all {
            let apart = sum_below / below - (sum - sum_below) / (all - below);
            best = if below * (all - below) * apart * apart > best.0 { (below * (all - below) * apart * apart, g) } else { best };
        }
    }
    Mask { width: shot.width, height: shot.height, on: gray.iter().map(|&g| g <= best.1).collect() }
}

/// Pixels whose middle lies within a path on the sheet.
pub fn inside(view: &View, path: &BezPath) -> Mask {
    let within = |k: usize| {
        let at = view.to_mm(Px::new((k % view.width) as f64, (k / view.width) as f64), 0.0);
        at.is_some_and(|at| path.bounding_box().contains(kurbo::Point::new(at.x, at.y)) && path.contains(kurbo::Point::new(at.x, at.y)))
    };
    Mask { width: view.width, height: view.height, on: (0..view.width * view.height).map(within).collect() }
}

/// Length of the outer boundary of what begins at its uppermost pixel, px: walked along the pixels' sides with the inside to the right, each
/// corner that ends a side longer than one, or does not follow on a cut one, cut off.
pub fn perimeter(mask: &Mask, [x0, y0]: [i64; 2]) -> f64 {
    // Ways are right, down, left, up; the pixel ahead to the right, and to the left, of a corner at (x, y).
    let ahead = |x: i64, y: i64, way: usize| match way {
        0 => [(x, y), (x, y - 1)],
        1 => [(x - 1, y), (x, y)],
        2 => [(x - 1, y - 1), (x - 1, y)],
        _ => [(x, y - 1), (x - 1, y - 1)],
    };
    let (mut x, mut y, mut way) = (x0, y0, 0);
    let mut sides: Vec<u32> = Vec::new();
    let mut side = 0;
    loop {
        let (dx, dy) = [(1, 0), (0, 1), (-1, 0), (0, -1)][way];
        (x, y, side) = (x + dx, y + dy, side + 1);
        let [right, left] = ahead(x, y, way).map(|(u, v)| mask.at(u, v));
        let turn = if !right {
            1
        } else if left {
            3
        } else {
            0
        };
        if turn != 0 {
            sides.push(side);
            (side, way) = (0, (way + turn) % 4);
        }
        if (x, y) == (x0, y0) && way == 0 {
            break;
        }
    }
    let (mut corners, mut cut) = (0, false);
    for side in &sides {
        cut = *side > 1 || !cut;
        corners += u32::from(cut);
    }
    f64::from(sides.iter().sum::<u32>()) - f64::from(corners) * (2.0 - std::f64::consts::SQRT_2)
}
