//! What the sheet's marks do to the light of its ground, and how much of it is to be expected at each place.
//!
//! Ground and ink mix in linear light, so one number, the strength, says how much of the usual mark a pixel holds. Across
//! the lines of the bare sheet strength is measured by distance, line by line (heavy lines hold more): a pixel of bare sheet
//! lies within that range, which cloth of the ink's own colour seldom does.

use super::evidence::{ln, share_of};
use super::ground::{Ground, off_line, whole};
use super::heavy::Heavy;
use super::light::SheetLight;
use super::marks::Marks;
use crate::sheet::SheetKind;
use crate::solve::median;

/// Greatest strength of a mark in units of the usual contrast over three pixels across it, which a mark's core and heavy
/// lines reach.
const STRONGEST: f32 = 4.0;
/// By how much the strength that fits best is varied, since blur and JPEG treat the channels differently.
const VARIED: [f32; 3] = [1.0, 0.8, 1.25];
/// Marks whose strength is not measured by distance are tried in these steps: a fit would explain dark cloth as ink.
const STEP: f32 = 0.4;
/// The strength whose colour stains: near the usual contrast.
const STAIN: f32 = 1.2;
/// Steps of distance from a line in level px, and how many.
const BIN: f32 = 0.5;
const BINS: usize = 16;
/// Share of the bare pixels at each end of a range that lie outside it, and what is added to the range at either end, as a
/// share of the strength at the line's core.
const OUTSIDE: f64 = 0.02;
const SLACK: f32 = 0.12;
/// Most that a line may hold against the usual: among faint fine lines of a mat heavy ones hold ten times as much.
pub(super) const HEAVIEST: f32 = 20.0;
/// Weight of a line of which too little is seen.
const UNKNOWN: [f32; 2] = [0.5, 3.0];
/// The same against what the lattice says of it, where that says it is heavier or fainter than usual.
const UNSEEN: [f32; 2] = [0.5, 1.6];
/// Fewest pixels that make a range, or a line's own strength.
const FEW: usize = 40;

/// Share of the core's strength below which a place is rather ground than mark.
const GROUND: f32 = 0.35;

/// Strength by distance from the lines.
struct Across<'a> {
    heavy: &'a Heavy,
    /// Usual strength at a line's core.
    usual: f32,
    /// Least and greatest strength by distance from a line of usual weight.
    range: [[f32; 2]; BINS],
    /// Least and greatest weight of each line against the usual one, of the lines across each axis from its first address.
    weight: [Vec<[f32; 2]>; 2],
    first: [i32; 2],
}

/// What a mark does to the ground's light.
pub(super) struct Ink<'a> {
    /// Ink less ground at full usual contrast, as a share of the ground, by channel.
    change: [f32; 3],
    /// How much the usual mark turns a pixel's colour.
    pub stain: f32,
    across: Option<Across<'a>>,
}

impl<'a> Ink<'a> {
    /// Marks of the usual contrast `typical` (logarithms), of which no more is known.
    pub fn guessed(typical: [f32; 3]) -> Self {
        let plain = Self { change: typical.map(|t| t.exp() - 1.0), stain: 0.0, across: None };
        let [r, g, b] = plain.at(STAIN);
        Self { stain: (r - g).hypot(b - g), ..plain }
    }

    /// Marks as measured on the bare sheet.
    pub fn measured(ground: &'a Ground, light: &SheetLight, marks: &Marks) -> Self {
        let mut ink = Self::guessed(marks.typical);
        if matches!(ground.kind, SheetKind::Lines | SheetKind::Mat | SheetKind::Coded) {
            ink.across = Across::measure(ground, light, marks, &ink);
        }
        ink
    }

    /// Logarithm of what a mark of this strength makes of the ground.
    #[inline]
    fn at(&self, strength: f32) -> [f32; 3] {
        self.change.map(|c| ln((1.0 + strength * c).max(0.05)))
    }

    /// The strength that explains best how a pixel's light stands to the ground's (least squares over the channels).
    #[inline]
    fn strength(&self, share: [f32; 3]) -> f32 {
        let (mut top, mut bottom) = (0.0, 1e-9);
        for (share, change) in share.iter().zip(self.change) {
            top += (share - 1.0) * change;
            bottom += change * change;
        }
        top / bottom
    }

    /// The least that `judge` has to say of a pixel when any mark that may be there is taken out. `share` is the share of
    /// the usual contrast that marks have hereabouts; `light` is the pixel's light against the ground's and `r` its logarithm.
    #[inline]
    pub fn least(&self, light: [f32; 3], r: [f32; 3], coords: [f32; 4], share: f32, judge: impl Fn([f32; 3]) -> f32) -> f32 {
        let tried = |strength: f32| {
            let mark = self.at(strength);
            judge(std::array::from_fn(|k| r[k] - mark[k]))
        };
        let Some(across) = &self.across else {
            let mut least = judge(r);
            let mut strength = STEP;
            while least > 0.0 && strength <= STRONGEST {
                least = least.min(tried(strength));
                strength += STEP;
            }
            return least;
        };
        let [lo, hi] = across.expected(coords).map(|s| s * share);
        let fits = self.strength(light);
        let mut least = tried(fits.clamp(lo, hi));
        for by in VARIED.iter().skip(1) {
            if least <= 0.0 {
                break;
            }
            least = least.min(tried((by * fits).clamp(lo, hi)));
        }
        least
    }
}

impl Ink<'_> {
    /// Whether so much of a mark may lie on a pixel with these lattice coordinates and spacings that it hides the ground.
    #[inline]
    pub fn hides(&self, coords: [f32; 4]) -> bool {
        self.across.as_ref().is_none_or(|a| a.expected(coords)[1] > GROUND * a.usual)
    }
}

impl<'a> Across<'a> {
    /// From the pixels along sides of squares whose two nodes are both seen. `None` when too few are.
    fn measure(ground: &'a Ground, light: &SheetLight, marks: &Marks, ink: &Ink) -> Option<Self> {
        let [i0, i1, j0, j1] = marks.range;
        let counts = [(i1 - i0 + 1) as usize, (j1 - j0 + 1) as usize];
        // Strengths and lines by axis and distance.
        let mut all: [[Vec<(f32, usize)>; BINS]; 2] = Default::default();
        let (mut coords, mut lights) = (Vec::new(), Vec::new());
        let width = ground.level.width;
        for y in (0..ground.level.height).step_by(2) {
            ground.row(y, &mut coords);
            light.row(y, width, &mut lights);
            for (x, &at) in coords.iter().enumerate() {
                let Some((axis, line, bin)) = marks.bare_line(ground, at) else { continue };
                let share = share_of(ground.level.rgb[y * width + x], lights[x]);
                all[axis][bin].push((ink.strength(share) / marks.share_at(x as f32, y as f32), line));
            }
        }
        let middle = |mut near: Vec<f64>| (near.len() >= FEW).then(|| median(&mut near).unwrap_or_default() as f32);
        let near = |axis: usize| all[axis][..2].iter().flatten();
        let core = |axis: usize| middle(near(axis).map(|s| f64::from(s.0)).collect());
        let usual = 0.5 * (core(0)? + core(1)?);
        if usual <= 0.0 {
            return None;
        }
        let weight = [0, 1].map(|axis| {
            let mut lines = vec![Vec::new(); counts[axis]];
            near(axis).for_each(|s| lines[s.1].push(f64::from(s.0)));
            let unseen = |n: usize| {
                let number = n as i32 + [i0, j0][axis];
                if ground.heavy.usual(axis, number) { UNKNOWN } else { UNSEEN.map(|w| w * ground.heavy.depth(axis, number)) }
            };
            let weight = |(n, l)| middle(l).map_or_else(|| unseen(n), |s| [(s / usual).clamp(0.2, HEAVIEST); 2]);
            lines.into_iter().enumerate().map(weight).collect::<Vec<_>>()
        });
        let mut range = [[0.0; 2]; BINS];
        let mut last = None;
        for (bin, range) in range.iter_mut().enumerate() {
            let of = |axis: usize| all[axis][bin].iter().zip(std::iter::repeat(&weight[axis])).map(|(s, w)| s.0 / w[s.1][0]);
            let mut of: Vec<f32> = of(0).chain(of(1)).collect();
            if of.len() >= FEW {
                let at = |v: &mut Vec<f32>, share: f64| {
                    let k = ((v.len() - 1) as f64 * share) as usize;
                    *v.select_nth_unstable_by(k, f32::total_cmp).1
                };
                last = Some([at(&mut of, OUTSIDE) - SLACK * usual, at(&mut of, 1.0 - OUTSIDE) + SLACK * usual]);
            }
            *range = last?;
        }
        Some(Self { heavy: &ground.heavy, usual, range, weight, first: [i0, j0] })
    }

    /// Least and greatest strength at a pixel with these lattice coordinates and spacings.
    #[inline]
    fn expected(&self, [a, b, ga, gb]: [f32; 4]) -> [f32; 2] {
        let one = |axis: usize, at: f32, gap: f32| {
            // A line twice as wide holds at twice the distance what the usual one holds.
            let bin = bin(off_line(at) * gap / self.heavy.width_at(axis, at));
            let line = whole(at + 0.5) - self.first[axis];
            let weight = usize::try_from(line).ok().and_then(|l| self.weight[axis].get(l)).copied().unwrap_or(UNKNOWN);
            let [lo, hi] = self.range[bin];
            [lo * weight[0], hi * weight[1]]
        };
        let (p, q) = (one(0, a, ga), one(1, b, gb));
        // Where two lines cross, the ink counts once; but heavy lines narrower than the blur cover a part of each pixel, and add up.
        let both = if self.heavy.usual_at(a, b) { p[1].max(q[1]) } else { p[1].max(0.0) + q[1].max(0.0) };
        [p[0].max(q[0]), both]
    }
}

/// Bin of a distance from a line, level px.
#[inline]
pub(super) fn bin(distance: f32) -> usize {
    ((distance / BIN) as usize).min(BINS - 1)
}
