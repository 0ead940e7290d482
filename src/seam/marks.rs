//! How much of a sheet point is ruled: what the bare sheet would show under and beside the cloth.

use crate::grid::{Lattice, LineWeight, LineWeights};
use crate::length::Mm;
use crate::sheet::code::MARK_RADIUS;
use crate::sheet::{SheetCode, SheetKind, SheetLay};
use std::collections::BTreeMap;

/// The sheet's marks as a function of place.
#[derive(Clone, Debug, PartialEq)]
pub struct Marks {
    /// How the sheet is marked.
    pub kind: SheetKind,
    /// Which coded sheet it is.
    pub code: Option<SheetCode>,
    /// Distance of neighbouring nodes along x and y, mm.
    pub pitch: [f64; 2],
    /// How the sheet lies.
    pub lay: SheetLay,
    /// Where a node lies; (0, 0) when the view was solved from the lattice's own addresses.
    pub origin: Mm,
    /// Half the width of a line or of a cross's arm, or a dot's radius, mm.
    pub half_width: f64,
    /// How far the arms of a cross reach from its node, mm.
    pub arm: f64,
    /// Lines heavier or lighter than usual.
    pub weights: LineWeights,
}

impl Marks {
    /// The marks of a lattice, for a view in which node (i, j) lies at (i, j) times the pitch.
    pub fn of(lattice: &Lattice) -> Self {
        Self {
            kind: lattice.kind,
            code: lattice.code,
            pitch: lattice.pitch,
            lay: lattice.lay.clone(),
            origin: Mm::new(0.0, 0.0),
            half_width: lattice.mark_half_width,
            arm: lattice.mark_reach,
            weights: lattice.line_weights.clone(),
        }
    }

    /// The share of ink at `at`, seen through a blur of `sigma` mm: 0 to 1, and more on a line deeper than usual.
    ///
    /// Of a checker it is the share of the cell at the origin's lower right and its likes: which of the two colours
    /// that is, the picture has to tell.
    pub fn cover(&self, at: Mm, sigma: f64) -> f64 {
        let at = self.lay.ruled(at);
        let (x, y) = (at.x - self.origin.x, at.y - self.origin.y);
        let [down, across] = [(x, self.pitch[0]), (y, self.pitch[1])].map(|(x, pitch)| nearest(x, pitch));
        let (u, v) = (down.1, across.1);
        let wide = |d: f64, half: f64| if d.abs() > half + FAR * sigma { 0.0 } else { soft(d + half, sigma) - soft(d - half, sigma) };
        let bar = |d: f64| wide(d, self.half_width);
        match self.kind {
            SheetKind::Lines | SheetKind::Mat | SheetKind::Coded => {
                let line = |(number, off): (i32, f64), weights: &BTreeMap<i32, LineWeight>| {
                    weights.get(&number).map_or_else(|| bar(off), |w| w.depth * wide(off, self.half_width * w.width))
                };
                let (down, across) = (line(down, &self.weights.down), line(across, &self.weights.across));
                // Where lines cross, the ink of the heavier one counts, once.
                let lines = if down.max(across) > 1.0 { down.max(across) } else { 1.0 - (1.0 - down) * (1.0 - across) };
                self.code.map_or(lines, |code| lines.max(self.disc(code, Mm::new(x, y), sigma)))
            }
            SheetKind::Dots => soft(self.half_width - u.hypot(v), sigma),
            SheetKind::Crosses => {
                let arm = |d: f64| soft(self.arm - d.abs(), sigma);
                1.0 - (1.0 - bar(u) * arm(v)) * (1.0 - bar(v) * arm(u))
            }
            SheetKind::Checker => {
                let (x, y) = (turn(down, sigma), turn(across, sigma));
                x * y + (1.0 - x) * (1.0 - y)
            }
            SheetKind::Plain => 0.0,
        }
    }

    /// The share of a code's marks, which lie half way between nodes; `at` is told from node (0, 0).
    fn disc(&self, code: SheetCode, at: Mm, sigma: f64) -> f64 {
        let [px, py] = self.pitch;
        let [(i, u), (j, v)] = [nearest(at.x, px), nearest(at.y, py)];
        // How far half way to the next node is, on the side the place lies on.
        let half = |d: f64, pitch: f64| (d.abs() - 0.5 * pitch, if d < 0.0 { -1 } else { 0 });
        let ((along, left), (down, up)) = (half(u, px), half(v, py));
        let radius = [px, py].map(|p| MARK_RADIUS * p);
        let round = |marked: bool, d: [f64; 2], r: f64| {
            let off = d[0].hypot(d[1]);
            if !marked || off > r + FAR * sigma { 0.0 } else { soft(r - off, sigma) }
        };
        round(code.across(i + left, j), [along, v], radius[0]).max(round(code.down(i, j + up), [u, down], radius[1]))
    }
}

/// So many times the blur beside a line nothing of it is seen: a billionth.
const FAR: f64 = 12.0;

/// The nearest multiple of `pitch`, and the signed distance from it.
fn nearest(x: f64, pitch: f64) -> (i32, f64) {
    // Rounded down by hand: this is asked a million times, and a rounding instruction is not to be had everywhere. Where nothing
    // is ruled there is no pitch, and the number means nothing.
    let raised = x / pitch + 0.5;
    let number = (raised as i32).saturating_sub(i32::from(raised < 0.0));
    (number, x - f64::from(number) * pitch)
}

/// 1 in even squares, 0 in odd ones, blurred at their borders; by the nearest border.
fn turn((number, off): (i32, f64), sigma: f64) -> f64 {
    let side = soft(off, sigma);
    if number.rem_euclid(2) == 0 { side } else { 1.0 - side }
}

/// A blurred step: 0 well below zero, 1 well above.
fn soft(x: f64, sigma: f64) -> f64 {
    // Logistic curve of the same slope as the error function's; differs by under 0.02.
    1.0 / (1.0 + (-1.702 * x / sigma.max(1e-6)).clamp(-50.0, 50.0).exp())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::length::Length;

    fn marks(kind: SheetKind) -> Marks {
        Marks {
            kind,
            code: None,
            pitch: [10.0, 20.0],
            lay: SheetLay::default(),
            origin: Mm::new(3.0, 4.0),
            half_width: 0.5,
            arm: 3.0,
            weights: LineWeights::default(),
        }
    }

    #[test]
    fn ink_lies_where_the_sheet_is_marked() {
        let lines = marks(SheetKind::Lines);
        assert!(lines.cover(Mm::new(13.0, 11.0), 0.1) > 0.99 && lines.cover(Mm::new(8.0, 24.2), 0.1) > 0.95);
        assert!(lines.cover(Mm::new(8.0, 11.0), 0.1) < 0.01);
        // Line 1 of those that run down lies at 13 mm; four times as wide it is 2 mm to either side.
        let weight = LineWeight { width: 4.0, depth: 1.5 };
        let heavy = Marks { weights: LineWeights { down: [(1, weight)].into(), ..LineWeights::default() }, ..lines.clone() };
        assert!((heavy.cover(Mm::new(14.5, 11.0), 0.1) - 1.5).abs() < 0.01 && lines.cover(Mm::new(14.5, 11.0), 0.1) < 0.01);
        assert!(heavy.cover(Mm::new(4.5, 11.0), 0.1) < 0.01);
        let plain = Marks { pitch: [0.0; 2], ..marks(SheetKind::Plain) };
        assert_eq!(plain.cover(Mm::new(-5.0, 3.0), 0.1), 0.0);
        // One mark of a code half way between nodes (k, 2) and (k + 1, 2), and none where the code has none.
        let code = SheetCode::new(3, Length::from_mm(10.0)).expect("a sheet");
        let coded = Marks { code: Some(code), pitch: [10.0; 2], ..marks(SheetKind::Coded) };
        for k in 0..40 {
            let beside = Mm::new(3.0 + 10.0 * f64::from(k) + 5.0, 4.0 + 20.0 + 0.3);
            let sharp = Marks { half_width: 0.1, ..coded.clone() }.cover(beside, 0.01);
            assert_eq!(sharp > 0.5, code.across(k, 2), "{k}");
            let below = Mm::new(3.0 + 10.0 * f64::from(k) - 0.3, 4.0 + 25.0);
            let sharp = Marks { half_width: 0.1, ..coded.clone() }.cover(below, 0.01);
            assert_eq!(sharp > 0.5, code.down(k, 2), "{k}");
        }
        let dots = marks(SheetKind::Dots);
        assert!(dots.cover(Mm::new(13.0, 24.0), 0.1) > 0.99 && dots.cover(Mm::new(13.0, 26.0), 0.1) < 0.01);
        let crosses = marks(SheetKind::Crosses);
        assert!(crosses.cover(Mm::new(13.0, 26.0), 0.1) > 0.99 && crosses.cover(Mm::new(13.0, 30.0), 0.1) < 0.01);
        let checker = marks(SheetKind::Checker);
        for (x, y, ink) in [(5.0, 9.0, true), (15.0, 9.0, false), (15.0, 29.0, true), (-1.0, 9.0, false), (-1.0, -1.0, true)] {
            assert_eq!(checker.cover(Mm::new(x, y), 0.1) > 0.5, ink, "{x} {y}");
        }
    }
}
