//! Places near to lines that are known already, by squares of a millimetre.

use crate::length::Mm;
use crate::path::SeamPath;

/// The squares that lie near to some lines.
pub(super) struct Near {
    first: [i32; 2],
    size: [usize; 2],
    near: Vec<bool>,
}

impl Near {
    /// What lies within `reach` mm of a line.
    pub fn of(lines: &[SeamPath], reach: f64) -> Self {
        let all = || lines.iter().flat_map(|l| &l.points).map(|p| [p.at.x.floor() as i32, p.at.y.floor() as i32]);
        let r = reach.ceil() as i32;
        let span = |k: usize| (all().map(|p| p[k]).min().unwrap_or(0) - r, all().map(|p| p[k]).max().unwrap_or(0) + r);
        let (x, y) = (span(0), span(1));
        let size = [(x.1 - x.0 + 1) as usize, (y.1 - y.0 + 1) as usize];
        let mut near = vec![false; size[0] * size[1]];
        for [px, py] in all() {
            for (dx, dy) in (-r..=r).flat_map(|dy| (-r..=r).map(move |dx| (dx, dy))).filter(|(dx, dy)| dx * dx + dy * dy <= r * r) {
                near[(py + dy - y.0) as usize * size[0] + (px + dx - x.0) as usize] = true;
            }
        }
        Self { first: [x.0, y.0], size, near }
    }

    /// Whether a place lies in one of the squares.
    pub fn holds(&self, at: Mm) -> bool {
        let [x, y] = [at.x.floor() as i32 - self.first[0], at.y.floor() as i32 - self.first[1]];
        let inside = |v: i32, n: usize| usize::try_from(v).is_ok_and(|v| v < n);
        inside(x, self.size[0]) && inside(y, self.size[1]) && self.near[y as usize * self.size[0] + x as usize]
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::path::{Flags, SeamPoint};

    #[test]
    fn places_within_reach_are_near() {
        let point = |x: f64| SeamPoint {
            at: Mm::new(x, 5.0),
            normal: nalgebra::Vector2::new(0.0, 1.0),
            error: 0.1,
            px: crate::length::Px::new(0.0, 0.0),
            flags: Flags::default(),
        };
        let line = SeamPath { points: (-20..20).map(|k| point(f64::from(k))).collect(), closed: false, correlation_mm: 4.0 };
        let near = Near::of(&[line], 3.0);
        assert!(near.holds(Mm::new(0.0, 2.5)) && near.holds(Mm::new(-3.3, 7.4)));
        assert!(!near.holds(Mm::new(0.0, 0.5)) && !near.holds(Mm::new(25.0, 5.0)) && !near.holds(Mm::new(0.0, 1e9)));
        assert!(!Near::of(&[], 3.0).holds(Mm::new(0.0, 0.0)));
    }
}
