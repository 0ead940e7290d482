//! Lines of the sheet that are heavier or fainter than the usual ones, to be looked up for every pixel.

use super::ground::whole;
use crate::grid::{Lattice, LineWeight};
use std::collections::BTreeMap;

/// Width and depth of lines against the usual one.
pub(super) struct Heavy {
    /// Of the lines across each axis (at whole a, at whole b), from a first number on.
    lines: [(i32, Vec<[f32; 2]>); 2],
    /// How much darker the usual line is than its ground, as a share; negative for light ones.
    usual: f32,
}

impl Heavy {
    /// From what the lattice says.
    pub fn new(lattice: &Lattice) -> Self {
        let weights = &lattice.line_weights;
        let family = |lines: &BTreeMap<i32, LineWeight>| {
            let (first, last) = (lines.keys().next().copied().unwrap_or(0), lines.keys().next_back().copied().unwrap_or(-1));
            let of = |n: i32| lines.get(&n).map_or([1.0; 2], |w| [w.width as f32, w.depth as f32]);
            (first, (first..=last).map(of).collect())
        };
        Self { lines: [family(&weights.down), family(&weights.across)], usual: lattice.mark_contrast }
    }

    #[inline]
    fn of(&self, axis: usize, number: i32) -> [f32; 2] {
        let (first, lines) = &self.lines[axis];
        usize::try_from(number - first).ok().and_then(|n| lines.get(n)).copied().unwrap_or([1.0; 2])
    }

    /// How many times as wide as usual the line is that lies nearest to a lattice coordinate.
    #[inline]
    pub fn width_at(&self, axis: usize, at: f32) -> f32 {
        self.of(axis, nearest(at))[0]
    }

    /// Whether the lines nearest to a pair of lattice coordinates are of the usual weight.
    #[inline]
    pub fn usual_at(&self, a: f32, b: f32) -> bool {
        self.usual(0, nearest(a)) && self.usual(1, nearest(b))
    }

    /// How many times as wide as usual a line is.
    pub fn width(&self, axis: usize, number: i32) -> f32 {
        self.of(axis, number)[0]
    }

    /// How many times as deep as usual a line is.
    pub fn depth(&self, axis: usize, number: i32) -> f32 {
        self.of(axis, number)[1]
    }

    /// How many times the usual line's logarithmic contrast this one's is, by its depth.
    pub fn contrast(&self, axis: usize, number: i32) -> f32 {
        let ln = |depth: f32| (1.0 - depth).max(0.05).ln();
        let usual = ln(self.usual);
        if usual.abs() < 1e-3 { self.depth(axis, number) } else { ln(self.usual * self.depth(axis, number)) / usual }
    }

    /// Whether a line is of the usual weight.
    #[inline]
    pub fn usual(&self, axis: usize, number: i32) -> bool {
        self.of(axis, number) == [1.0; 2]
    }
}

/// Number of the line nearest to a lattice coordinate.
#[inline]
fn nearest(at: f32) -> i32 {
    whole(at + 0.5)
}
