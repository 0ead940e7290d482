//! The sheet as it lies in a reduced level of the picture: lattice coordinates of every pixel, where its marks must be,
//! and samples of its bare ground.

use super::heavy::Heavy;
use super::light::Sample;
use crate::grid::Lattice;
use crate::length::Mm;
use crate::sheet::code::MARK_RADIUS;
use crate::sheet::{SheetCode, SheetKind, SheetLay};
use crate::shot::{Level, to_level, to_picture};
use crate::solve::median;
use crate::view::View;

/// Distance of the points where the view is asked; between them lattice coordinates are interpolated. Lenses bend a
/// line by less than 0.02 px over this many level px.
const STEP: usize = 16;

/// Distance, level px, of the places where large squares are sampled, and most of them along half a side.
const EVERY: f64 = 24.0;
const MOST_FINE: usize = 8;
/// Whole squares added before cutting off, so that cutting off rounds down for negative addresses as well.
const FAR: f32 = 4096.0;

/// Rounded down.
#[inline]
pub(super) fn whole(a: f32) -> i32 {
    (a + FAR) as i32 - FAR as i32
}

/// Distance to the nearest whole number.
#[inline]
pub(super) fn off_line(a: f32) -> f32 {
    let a = a + FAR;
    let part = a - (a as i32) as f32;
    part.min(1.0 - part)
}

/// Whether the square that holds these lattice coordinates has an even address sum.
#[inline]
pub(super) fn is_even(a: f32, b: f32) -> bool {
    (whole(a) + whole(b)) & 1 == 0
}

/// A level of the picture together with the lattice that lies in it.
pub(super) struct Ground {
    /// The reduced picture.
    pub level: Level,
    /// How the sheet is marked.
    pub kind: SheetKind,
    /// Which coded sheet it is.
    code: Option<SheetCode>,
    /// Least and greatest addresses of nodes that were seen: i, i, j, j.
    pub range: [i32; 4],
    /// Half-width of a mark, in level px, and which lines are wider or deeper.
    pub mark: f32,
    pub heavy: Heavy,
    /// Seen nodes in level px, with addresses.
    pub seen: Vec<(i32, i32, f64, f64)>,
    cols: usize,
    coords: Vec<[f32; 4]>,
    pitch: [f64; 2],
    lay: SheetLay,
    view: View,
}

impl Ground {
    /// Lays the lattice into the level. `None` when nothing of it is in view.
    pub fn new(level: Level, lattice: &Lattice, view: &View) -> Option<Self> {
        let f = level.factor;
        let first = lattice.nodes.first()?;
        let range = lattice
            .nodes
            .iter()
            .fold([first.i, first.i, first.j, first.j], |r, n| [r[0].min(n.i), r[1].max(n.i), r[2].min(n.j), r[3].max(n.j)]);
        let seen: Vec<_> = lattice
            .nodes
            .iter()
            .map(|n| {
                let (x, y) = to_level(f, n.at);
                (n.i, n.j, x, y)
            })
            .collect();
        let middle = seen.len() / 2;
        let px_per_mm = view.px_per_mm(lattice.place(f64::from(seen[middle].0), f64::from(seen[middle].1)));
        let mark = (lattice.mark_half_width * px_per_mm / f as f64) as f32;
        let (cols, rows) = (level.width / STEP + 2, level.height / STEP + 2);
        let mut coords = vec![[f32::NAN; 4]; cols * rows];
        for (n, out) in coords.iter_mut().enumerate() {
            let p = to_picture(f, (n % cols * STEP) as f64, (n / cols * STEP) as f64);
            let Some(at) = view.to_mm(p, 0.0) else { continue };
            // Spacing of the lines seen across them: 1 / |gradient of the lattice coordinate|, in level px.
            let Some(back) = view.local(at, 0.0).px_by_mm.try_inverse() else { continue };
            let gap = |k: usize| lattice.pitch[k] / (back.row(k).norm() * f as f64);
            let ruled = lattice.lay.ruled(at);
            *out = [(ruled.x / lattice.pitch[0]) as f32, (ruled.y / lattice.pitch[1]) as f32, gap(0) as f32, gap(1) as f32];
        }
        let heavy = Heavy::new(lattice);
        Some(Self {
            level,
            kind: lattice.kind,
            code: lattice.code,
            range,
            mark,
            heavy,
            seen,
            cols,
            coords,
            pitch: lattice.pitch,
            lay: lattice.lay.clone(),
            view: view.clone(),
        })
    }

    /// A ground without marks. Coordinates are centimetres, and all of the picture is within.
    pub fn plain(level: Level, view: &View) -> Option<Self> {
        /// Addresses no picture reaches.
        const FARTHEST: i32 = 1 << 20;
        let node = crate::grid::Node { at: crate::length::Px::new(0.0, 0.0), i: 0, j: 0, error: 1.0 };
        let marks = Lattice { kind: SheetKind::Plain, pitch: [10.0; 2], nodes: vec![node], ..Lattice::default() };
        let ground = Self::new(level, &marks, view)?;
        Some(Self { range: [-FARTHEST, FARTHEST, -FARTHEST, FARTHEST], seen: Vec::new(), ..ground })
    }

    /// Lattice coordinates at a level pixel and the spacing of the lines there in level px: a, b, gap a, gap b.
    #[inline]
    pub fn coords(&self, x: usize, y: usize) -> [f32; 4] {
        let (i, j) = (x / STEP, y / STEP);
        let (u, v) = ((x % STEP) as f32 / STEP as f32, (y % STEP) as f32 / STEP as f32);
        let n = j * self.cols + i;
        let (a, b, c, d) = (self.coords[n], self.coords[n + 1], self.coords[n + self.cols], self.coords[n + self.cols + 1]);
        std::array::from_fn(|k| {
            let top = a[k] + (b[k] - a[k]) * u;
            top + (c[k] + (d[k] - c[k]) * u - top) * v
        })
    }

    /// [`Ground::coords`] of a whole row.
    pub fn row(&self, y: usize, out: &mut Vec<[f32; 4]>) {
        out.clear();
        let v = (y % STEP) as f32 / STEP as f32;
        let from = y / STEP * self.cols;
        let at = |i: usize| -> [f32; 4] {
            let (p, q) = (self.coords[from + i], self.coords[from + self.cols + i]);
            std::array::from_fn(|k| p[k] + (q[k] - p[k]) * v)
        };
        let mut left = at(0);
        for i in 0..self.level.width.div_ceil(STEP) {
            let right = at(i + 1);
            let step: [f32; 4] = std::array::from_fn(|k| (right[k] - left[k]) / STEP as f32);
            for x in 0..STEP.min(self.level.width - i * STEP) {
                out.push(std::array::from_fn(|k| left[k] + step[k] * x as f32));
            }
            left = right;
        }
    }

    /// Where the lattice point (i, j) lies in the level; not finite when it is not in view.
    #[inline]
    pub fn place(&self, i: f64, j: f64) -> [f32; 2] {
        let p = self.view.to_px(self.lay.lying(Mm::new(i * self.pitch[0], j * self.pitch[1])), 0.0);
        let (x, y) = to_level(self.level.factor, p);
        [x as f32, y as f32]
    }

    /// Linear light at a point of the level (bilinear); `None` outside.
    #[inline]
    pub fn sample(&self, x: f32, y: f32) -> Option<[f32; 3]> {
        self.level.sample(x, y)
    }

    /// Where the sheet lies in the picture.
    pub fn view(&self) -> &View {
        &self.view
    }

    /// Whether a lattice coordinate pair lies in the range of seen nodes, widened by `margin` squares.
    #[inline]
    pub fn within(&self, a: f32, b: f32, margin: f32) -> bool {
        a >= self.range[0] as f32 - margin
            && a <= self.range[1] as f32 + margin
            && b >= self.range[2] as f32 - margin
            && b <= self.range[3] as f32 + margin
    }

    /// Whether a ruled mark may reach a pixel with these lattice coordinates and spacings.
    #[inline]
    pub fn on_mark(&self, [a, b, ga, gb]: [f32; 4]) -> bool {
        // The blur of lens and reduction carries a mark's light beyond its own width.
        let reach = self.mark + 1.3;
        let (da, db) = (off_line(a) * ga, off_line(b) * gb);
        match self.kind {
            SheetKind::Lines | SheetKind::Mat | SheetKind::Coded => {
                let reach = |axis: usize, at: f32| self.mark * self.heavy.width_at(axis, at).max(1.0) + 1.3;
                da < reach(0, a) || db < reach(1, b) || self.on_disc([a, b, ga, gb])
            }
            SheetKind::Dots => da * da + db * db < reach * reach,
            // Arms are a few millimetres long: a sixth of the square is taken.
            SheetKind::Crosses => da.min(db) < reach && da.max(db) < ga.max(gb) / 6.0,
            SheetKind::Checker => da.min(db) < 1.5,
            SheetKind::Plain => false,
        }
    }

    /// Whether a mark of the position code, half way between two nodes, may reach a pixel with these lattice coordinates and spacings.
    #[inline]
    pub fn on_disc(&self, [a, b, ga, gb]: [f32; 4]) -> bool {
        let Some(code) = self.code else { return false };
        let radius = MARK_RADIUS as f32 * ga.max(gb) + 1.3;
        // Off the nearest line, and off half way along the other.
        let near = |off: f32, along: f32, gaps: [f32; 2]| (off * gaps[0]).hypot((0.5 - along) * gaps[1]) < radius;
        let (da, db) = (off_line(a), off_line(b));
        (near(db, da, [gb, ga]) && code.across(whole(a), whole(b + 0.5))) || (near(da, db, [ga, gb]) && code.down(whole(a + 0.5), whole(b)))
    }

    /// Whether there may be a mark of the position code half way between a node and the next.
    pub fn coded(&self) -> bool {
        self.code.is_some()
    }

    /// Whether a ruled mark may reach a place in the level.
    pub fn near_mark(&self, x: f32, y: f32) -> bool {
        let (w, h) = (self.level.width - 1, self.level.height - 1);
        self.on_mark(self.coords((x.max(0.0).round() as usize).min(w), (y.max(0.0).round() as usize).min(h)))
    }

    /// Samples of bare ground in the squares round seen nodes: the plain ground, and on a checker the filled squares.
    pub fn bare(&self, most: usize) -> (Vec<Sample>, Vec<Sample>) {
        let every = (self.seen.len() * 4).div_ceil(most).max(1);
        let (mut plain, mut filled) = (Vec::new(), Vec::new());
        let fine = self.fine();
        for &(i, j, ..) in self.seen.iter().step_by(every) {
            if fine > 1 && self.kind != SheetKind::Checker {
                plain.extend(self.round(f64::from(i), f64::from(j), fine));
                continue;
            }
            let corners = [(-0.5, -0.5), (0.5, -0.5), (0.5, 0.5), (-0.5, 0.5)];
            let four: Vec<Option<Sample>> =
                corners.iter().map(|(u, v)| self.mean_at(f64::from(i) + u * 0.7, f64::from(j) + v * 0.7)).collect();
            if self.kind != SheetKind::Checker {
                plain.extend(four.into_iter().flatten());
                continue;
            }
            let [Some(p), Some(q), Some(r), Some(s)] = four[..] else { continue };
            let bright = |s: &Sample| s.rgb[0] + s.rgb[1] + s.rgb[2];
            let (even, odd) = (bright(&p).min(bright(&r)), bright(&q).min(bright(&s)));
            let (light, dark) = if even > odd { ([p, r], [q, s]) } else { ([q, s], [p, r]) };
            // A node half under the cloth does not alternate any more.
            if dark.iter().all(|d| bright(d) < 0.7 * even.max(odd)) {
                plain.extend(light);
                filled.extend(dark);
            }
        }
        (plain, filled)
    }

    /// Samples along each half side of a square, so that large ones (tiles of a floor) show more of their light than four places.
    fn fine(&self) -> usize {
        let gaps = self.seen.iter().map(|&(i, j, ..)| {
            let ([x, y], [u, v]) = (self.place(f64::from(i), f64::from(j)), self.place(f64::from(i) + 1.0, f64::from(j)));
            f64::from((u - x).hypot(v - y))
        });
        let gap = median(&mut gaps.collect::<Vec<_>>()).unwrap_or_default();
        ((0.5 * gap / EVERY).round() as usize).clamp(1, MOST_FINE)
    }

    /// Samples all over the four quarter squares round a node.
    fn round(&self, i: f64, j: f64, fine: usize) -> impl Iterator<Item = Sample> + '_ {
        // As far from the marks, in its own share of the quarter, as a lone sample is.
        let steps = move || (0..fine).flat_map(move |k| [-1.0, 1.0].map(|side| side * 0.5 * (k as f64 + 0.7) / fine as f64));
        steps().flat_map(move |u| steps().map(move |v| (u, v))).filter_map(move |(u, v)| self.mean_at(i + u, j + v))
    }

    /// Whether the filled squares of a checker are those whose addresses add up to an even number.
    pub fn filled_even(&self, filled: &[Sample]) -> bool {
        let even = |s: &&Sample| {
            let [a, b, ..] = self.coords((s.x as usize).min(self.level.width - 1), (s.y as usize).min(self.level.height - 1));
            (a.floor() as i32 + b.floor() as i32) & 1 == 0
        };
        filled.iter().filter(even).count() * 2 > filled.len()
    }

    /// Mean light about a lattice point; `None` out of view.
    pub fn mean_at(&self, i: f64, j: f64) -> Option<Sample> {
        let [x, y] = self.place(i, j);
        let mut rgb = [0f32; 3];
        for (dx, dy) in [(0.0, 0.0), (-0.8, 0.0), (0.8, 0.0), (0.0, -0.8), (0.0, 0.8)] {
            let v = self.sample(x + dx, y + dy)?;
            (0..3).for_each(|k| rgb[k] += v[k] / 5.0);
        }
        Some(Sample { x: f64::from(x), y: f64::from(y), rgb })
    }
}
