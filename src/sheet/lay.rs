//! How a sheet lies: its lines where they are, not where they were drawn.
//!
//! *Ruled* is a place told by the lines, as if all of them were even: address times pitch. *Lying* is where that place is in truth, on a print that leans or
//! on pages that were joined out of place. Everything that asks which line is where goes through here.

use super::SheetPages;
use crate::length::Mm;
use nalgebra::Vector2;

/// A page as joined: moved, and turned about its own middle.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PageLaid {
    /// Column and row.
    pub page: [usize; 2],
    /// What it is turned about, ruled, mm.
    pub middle: Mm,
    /// By how much it is moved, mm.
    pub moved: Vector2<f64>,
    /// By how much it is turned, radians; from x to y.
    pub turned: f64,
}

impl PageLaid {
    fn lying(&self, ruled: Mm, [x, y]: [f64; 2]) -> Mm {
        let d = ruled - self.middle;
        // A page is turned by some hundredths of a radian at most; its squares stay square to second order.
        ruled + self.moved + Vector2::new(-d.y, d.x) * self.turned + Vector2::new(x * d.x, y * d.y)
    }

    /// The same undone, to first order.
    fn ruled(&self, lying: Mm, [x, y]: [f64; 2]) -> Mm {
        let d = lying - self.middle - self.moved;
        lying - self.moved - Vector2::new(-d.y, d.x) * self.turned - Vector2::new(x * d.x, y * d.y)
    }
}

/// Pages joined out of place.
#[derive(Clone, Debug, PartialEq)]
pub struct PagesLaid {
    /// Which line stands on which page.
    pub pages: SheetPages,
    /// Distance of neighbouring lines, mm.
    pub pitch: [f64; 2],
    /// By which share lines on one page are farther apart than that, along x and y: where the pitch was measured over joins that gape, it holds the gaps.
    pub stretched: [f64; 2],
    /// Pages that were seen; others count as laid right.
    pub laid: Vec<PageLaid>,
}

impl PagesLaid {
    fn lying(&self, ruled: Mm) -> Mm {
        self.of(ruled).map_or(ruled, |l| l.lying(ruled, self.stretched))
    }

    /// The page that a ruled place stands on, when it was seen.
    fn of(&self, ruled: Mm) -> Option<&PageLaid> {
        let address = [ruled.x / self.pitch[0], ruled.y / self.pitch[1]];
        let page = [0, 1].map(|k| self.pages.axes[k].holds(address[k]));
        self.laid.iter().find(|l| l.page == page)
    }
}

/// How a sheet lies; evenly unless something is known.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct SheetLay {
    /// By how much lines that run down lean to the right, radians.
    pub lean: f64,
    /// Pages out of place.
    pub pages: Option<PagesLaid>,
}

impl SheetLay {
    /// Whether lying and ruled places are the same.
    pub fn is_even(&self) -> bool {
        self.lean == 0.0 && self.pages.is_none()
    }

    /// Where a ruled place lies.
    pub fn lying(&self, ruled: Mm) -> Mm {
        if self.is_even() {
            return ruled;
        }
        let on_page = self.pages.as_ref().map_or(ruled, |p| p.lying(ruled));
        // Lengths down are measured along the leaning lines.
        Mm::new(on_page.x + on_page.y * self.lean.sin(), on_page.y * self.lean.cos())
    }

    /// The ruled place that lies here: where pages overlap or gape, one of them within a step.
    pub fn ruled(&self, lying: Mm) -> Mm {
        if self.is_even() {
            return lying;
        }
        let y = lying.y / self.lean.cos();
        let upright = Mm::new(lying.x - y * self.lean.sin(), y);
        let Some(pages) = &self.pages else { return upright };
        // Steps are far smaller than what a page shows, so the page found from here is the right one but within a step of its border.
        pages.of(upright).map_or(upright, |l| l.ruled(upright, pages.stretched))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn lay(lean: f64) -> SheetLay {
        let pages = SheetPages::on([210.0, 297.0], 25.0).expect("pages");
        let one = |page: [usize; 2], x: f64, y: f64, turned: f64| PageLaid {
            page,
            middle: Mm::new(260.0, 100.0),
            moved: Vector2::new(x, y),
            turned,
        };
        let laid = vec![one([1, 0], 1.0, -0.5, 0.004), one([0, 1], 0.0, 0.7, -0.002)];
        SheetLay { lean, pages: Some(PagesLaid { pages, pitch: [25.0; 2], stretched: [0.001, -0.0005], laid }) }
    }

    #[test]
    fn nothing_known_is_even() {
        let at = Mm::new(123.4, -56.7);
        assert!(SheetLay::default().is_even());
        assert_eq!((SheetLay::default().lying(at), SheetLay::default().ruled(at)), (at, at));
    }

    /// Node (7, 3) is the first of page A2; node (6, 3), before the cut, stays where it is.
    #[test]
    fn nodes_move_with_their_page() {
        let lay = lay(0.0);
        assert_eq!(lay.lying(Mm::new(150.0, 75.0)), Mm::new(150.0, 75.0));
        let at = lay.lying(Mm::new(175.0, 75.0));
        // Turned about (260, 100): 85 mm to the left, 25 above.
        assert!(
            (at.x - (176.0 + 25.0 * 0.004 - 85.0 * 0.001)).abs() < 1e-9 && (at.y - (74.5 - 85.0 * 0.004 + 25.0 * 0.0005)).abs() < 1e-9,
            "{at:?}"
        );
    }

    /// A lean of 0.1 degrees on 1200 mm is 2.09 mm (arithmetic).
    #[test]
    fn a_lean_moves_the_foot() {
        let lay = SheetLay { lean: 0.1f64.to_radians(), pages: None };
        let foot = lay.lying(Mm::new(0.0, 1200.0));
        assert!((foot.x - 2.0944).abs() < 1e-3 && (foot.y - 1199.998).abs() < 1e-3);
    }

    proptest! {
        #[test]
        fn lying_and_ruled_undo_each_other(i in 0.0..20.0f64, j in 0.0..20.0f64, lean in -0.01..0.01f64) {
            // Away from the cuts, where a place may lie on two pages or on none.
            let clear = |v: f64| ((v + 0.06) % 1.0 - 0.5).abs() > 0.12;
            prop_assume!(clear(i) && clear(j));
            let lay = lay(lean);
            let at = Mm::new(25.0 * i, 25.0 * j);
            prop_assert!(lay.ruled(lay.lying(at)).distance(at) < 0.01, "{:?}", lay.ruled(lay.lying(at)));
        }
    }
}
