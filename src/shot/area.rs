//! A part of a picture: a closed polygon in pixels.

use crate::length::Px;

/// A closed polygon of the picture, with the box round it.
#[derive(Clone, Debug, PartialEq)]
pub struct Area {
    border: Vec<Px>,
    low: Px,
    high: Px,
}

impl Area {
    /// The area within `border`, the last point joined to the first; `None` for fewer than three points or one that is not finite.
    pub fn new(border: Vec<Px>) -> Option<Self> {
        if border.len() < 3 || border.iter().any(|p| !p.is_finite()) {
            return None;
        }
        let fold = |f: fn(f64, f64) -> f64, of: fn(&Px) -> f64| border.iter().map(of).reduce(f).unwrap_or_default();
        let low = Px::new(fold(f64::min, |p| p.x), fold(f64::min, |p| p.y));
        let high = Px::new(fold(f64::max, |p| p.x), fold(f64::max, |p| p.y));
        Some(Self { border, low, high })
    }

    /// Its border.
    pub fn border(&self) -> &[Px] {
        &self.border
    }

    /// Upper left and lower right corner of the box round it.
    pub fn extent(&self) -> [Px; 2] {
        [self.low, self.high]
    }

    /// Whether its box and the box of `low` and `high` share anything.
    #[inline]
    pub fn near(&self, low: Px, high: Px) -> bool {
        self.low.x <= high.x && low.x <= self.high.x && self.low.y <= high.y && low.y <= self.high.y
    }

    /// Whether a point lies within (even-odd rule).
    #[inline]
    pub fn holds(&self, p: Px) -> bool {
        if !self.near(p, p) {
            return false;
        }
        let n = self.border.len();
        (0..n).fold(false, |inside, k| {
            let (a, b) = (self.border[k], self.border[(k + 1) % n]);
            inside ^ ((a.y > p.y) != (b.y > p.y) && p.x < a.x + (b.x - a.x) * (p.y - a.y) / (b.y - a.y))
        })
    }

    /// The point of the border nearest to `p`.
    pub fn nearest(&self, p: Px) -> Px {
        let n = self.border.len();
        let feet = (0..n).map(|k| {
            let (a, b) = (self.border[k], self.border[(k + 1) % n]);
            let leg = b - a;
            a + leg * ((p - a).dot(&leg) / leg.norm_squared().max(1e-12)).clamp(0.0, 1.0)
        });
        feet.min_by(|a, b| a.distance(p).total_cmp(&b.distance(p))).unwrap_or(p)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_area_holds_what_lies_within() {
        let l =
            Area::new([[0.0, 0.0], [10.0, 0.0], [10.0, 4.0], [4.0, 4.0], [4.0, 10.0], [0.0, 10.0]].map(Px::from).to_vec()).expect("an L");
        assert!(l.holds(Px::new(2.0, 8.0)) && l.holds(Px::new(8.0, 2.0)));
        assert!(!l.holds(Px::new(7.0, 7.0)) && !l.holds(Px::new(-1.0, 2.0)));
        assert!(l.near(Px::new(7.0, 7.0), Px::new(8.0, 8.0)) && !l.near(Px::new(11.0, 0.0), Px::new(12.0, 9.0)));
        assert!(l.nearest(Px::new(7.0, 6.0)).distance(Px::new(7.0, 4.0)) < 1e-12);
        assert!(Area::new(vec![Px::new(0.0, 0.0); 2]).is_none());
    }
}
