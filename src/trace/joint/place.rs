//! How one picture's lattice lies on another's: whole squares and quarter turns, and the mirror that should not be.

use crate::grid::Lattice;
use crate::length::Mm;
use crate::path::{SeamPath, SeamPoint};
use nalgebra::Vector2;

/// Takes addresses of one lattice to those of another: mirrored or not, turned by quarters, then moved by whole squares.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(in super::super) struct Placement {
    pub mirrored: bool,
    /// Quarter turns, x towards y.
    pub quarters: u8,
    pub by: [i32; 2],
}

impl Placement {
    /// All ways round, none moved; the mirrored ones come last.
    pub fn ways() -> impl Iterator<Item = Self> {
        [false, true].into_iter().flat_map(|mirrored| (0..4).map(move |quarters| Self { mirrored, quarters, by: [0; 2] }))
    }

    /// Where an address comes to lie.
    pub fn address(self, [i, j]: [i32; 2]) -> [i32; 2] {
        let (mut x, mut y) = (if self.mirrored { -i } else { i }, j);
        for _ in 0..self.quarters {
            (x, y) = (-y, x);
        }
        [x + self.by[0], y + self.by[1]]
    }

    /// The same for a place in squares.
    pub fn place(self, p: Vector2<f64>) -> Vector2<f64> {
        self.direction(p) + Vector2::new(f64::from(self.by[0]), f64::from(self.by[1]))
    }

    /// The same for a direction.
    pub fn direction(self, p: Vector2<f64>) -> Vector2<f64> {
        let mut v = Vector2::new(if self.mirrored { -p.x } else { p.x }, p.y);
        for _ in 0..self.quarters {
            v = Vector2::new(-v.y, v.x);
        }
        v
    }

    /// Where a place of the other lattice, in squares, lies in this one's.
    pub fn back(self, p: Vector2<f64>) -> Vector2<f64> {
        let mut v = p - Vector2::new(f64::from(self.by[0]), f64::from(self.by[1]));
        for _ in 0..self.quarters {
            v = Vector2::new(v.y, -v.x);
        }
        Vector2::new(if self.mirrored { -v.x } else { v.x }, v.y)
    }

    /// First this, then another.
    pub fn then(self, next: Self) -> Self {
        let by = next.address(self.by);
        let quarters = if next.mirrored { 4 - self.quarters % 4 } else { self.quarters } + next.quarters;
        Self { mirrored: self.mirrored != next.mirrored, quarters: quarters % 4, by }
    }

    /// Gives the nodes of a lattice their new addresses.
    pub(in super::super) fn readdress(self, lattice: &mut Lattice) {
        for n in &mut lattice.nodes {
            [n.i, n.j] = self.address([n.i, n.j]);
        }
        lattice.nodes.sort_by_key(|n| (n.j, n.i));
        let w = std::mem::take(&mut lattice.line_weights);
        let odd = self.quarters % 2 == 1;
        let (down, across) = if odd { (w.across, w.down) } else { (w.down, w.across) };
        // A line at address k of one axis: any address on it tells where it comes to lie.
        let on = |k: i32, of_x: bool| if of_x { self.address([k, 0]) } else { self.address([0, k]) };
        lattice.line_weights.down = down.into_iter().map(|(k, w)| (on(k, !odd)[0], w)).collect();
        lattice.line_weights.across = across.into_iter().map(|(k, w)| (on(k, odd)[1], w)).collect();
        if odd {
            lattice.pitch.swap(0, 1);
        }
    }

    /// The same line on the other sheet's axes; `pitch` is that of both.
    pub(in super::super) fn path(self, path: &SeamPath, pitch: [f64; 2]) -> SeamPath {
        let squares = |v: Vector2<f64>| Vector2::new(v.x / pitch[0], v.y / pitch[1]);
        let mm = |v: Vector2<f64>| Vector2::new(v.x * pitch[0], v.y * pitch[1]);
        let point =
            |p: &SeamPoint| SeamPoint { at: Mm::from(mm(self.place(squares(p.at.vector())))), normal: self.direction(p.normal), ..*p };
        SeamPath { points: path.points.iter().map(point).collect(), ..path.clone() }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    proptest! {
        #[test]
        fn back_and_then_belong_together(m in any::<bool>(), q in 0u8..4, x in -90i32..90, y in -90i32..90, n in any::<bool>(), r in 0u8..4, i in -40i32..40, j in -40i32..40) {
            let first = Placement { mirrored: m, quarters: q, by: [x, y] };
            let next = Placement { mirrored: n, quarters: r, by: [j, i] };
            prop_assert_eq!(first.then(next).address([i, j]), next.address(first.address([i, j])));
            let p = Vector2::new(f64::from(i) + 0.25, f64::from(j));
            prop_assert!((first.back(first.place(p)) - p).norm() < 1e-9);
        }
    }

    /// Turned by a quarter, what was the line at i = 3 runs across at j = 3.
    #[test]
    fn heavy_lines_turn_with_the_sheet() {
        let mut lattice = Lattice { pitch: [10.0, 11.0], ..Lattice::default() };
        lattice.line_weights.down.insert(3, crate::grid::LineWeight { width: 2.0, depth: 1.0 });
        Placement { quarters: 1, by: [5, 7], ..Placement::default() }.readdress(&mut lattice);
        assert_eq!(lattice.line_weights.across.keys().copied().collect::<Vec<_>>(), [10]);
        assert!(lattice.line_weights.down.is_empty() && lattice.pitch == [11.0, 10.0]);
    }
}
