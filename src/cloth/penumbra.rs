//! Shadow beside the cloth, told from cloth by its colour and by how softly it ends.
//!
//! Where a lamp and the room differ in colour, or the cloth throws its own colour on the sheet beside it, shadow is not
//! grey; but whatever colour it has grows with its depth, so one direction for a picture describes it.

use super::evidence::{Evidence, Noise, shade};
use crate::solve::median;

/// Deepest shadow, natural logarithm of light; and how much shadow may turn the sheet's colour beyond what is known of this
/// picture's shadows, for each unit of depth.
const DEEPEST: f32 = -2.0;
const TURN: f32 = 0.06;
/// Shade from which on the colour of shadows is read: fainter, noise would turn it; deeper, cloth is blurred into it.
const READ: std::ops::Range<f32> = -0.6..-0.1;
/// Most that shadow turns the sheet's colour for each unit of depth: a faint one beside bright cloth takes all its colour from it. What
/// turns more is coloured cloth.
const MOST_TURN: f32 = 1.0;
/// Shadow of about the cloth's own hue is told from it by its depth: it is at most twice as deep as what was seen (all but a fiftieth), or so
/// much brighter than the cloth.
const SEEN_DEPTH: f64 = 0.02;
const DEEPER: f32 = 2.0;
const BRIGHTER: f32 = 0.25;
/// Cast shadow that was seen whole is so much deeper in places.
const DEEPER_CAST: f32 = 1.2;
/// Fewest pixels in shadow that tell its colour.
const FEW: usize = 75;
/// Shadows grow rarer with depth, by a factor of e over so much (natural logarithm of light).
const FADES: f32 = 0.4;
/// Standard deviations within which shadow explains a colour.
const WITHIN: f32 = 2.5;
/// Shade below which a pixel lies in shadow at all.
const DIM: f32 = -0.05;
/// Steps outwards from a pixel over which its border is looked for, level px.
const OUT: usize = 40;
/// Share of the way to full light that one step of two pixels takes where shadow fades; a blurred edge takes more.
const SOFT: f32 = 0.55;

/// How shadow turns the sheet's colour in this picture: red and blue against green, for each unit of depth.
#[derive(Clone, Copy, Debug)]
pub(super) struct Turn {
    by: [f32; 2],
    /// Deepest shade there was.
    seen: f32,
    /// Deepest shade it can be.
    deepest: f32,
}

impl Default for Turn {
    fn default() -> Self {
        Self { by: [0.0; 2], seen: DEEPEST, deepest: DEEPEST }
    }
}

impl Turn {
    /// From ratios of light in shadow, and some that are not; `None` where too few are or where they turn too far.
    pub fn of(ratios: &[[f32; 3]]) -> Option<Self> {
        let dim: Vec<[f32; 3]> = ratios.iter().copied().filter(|&r| READ.contains(&shade(r))).collect();
        let middle = |from: usize| {
            let mut all: Vec<f64> = dim.iter().map(|r| f64::from((r[from] - r[1]) / shade(*r))).collect();
            median(&mut all).unwrap_or_default() as f32
        };
        let by = [middle(0), middle(2)];
        let mut depths: Vec<f32> = dim.iter().map(|r| shade(*r)).collect();
        depths.sort_by(f32::total_cmp);
        let seen = depths.get((SEEN_DEPTH * depths.len() as f64) as usize).copied()?;
        (dim.len() >= FEW && by[0].hypot(by[1]) < MOST_TURN).then_some(Self { by, seen, deepest: DEEPEST })
    }

    /// From ratios of light in shadow that is known to be some, whatever its depth and colour; `None` where there are few.
    pub fn cast(ratios: &[[f32; 3]]) -> Option<Self> {
        let deep: Vec<[f32; 3]> = ratios.iter().copied().filter(|&r| shade(r) < READ.end).collect();
        let middle = |from: usize| {
            let mut all: Vec<f64> = deep.iter().map(|r| f64::from((r[from] - r[1]) / shade(*r))).collect();
            median(&mut all).unwrap_or_default() as f32
        };
        let mut depths: Vec<f32> = deep.iter().map(|r| shade(*r)).collect();
        depths.sort_by(f32::total_cmp);
        let seen = depths.get(depths.len() / 10).copied()?;
        (deep.len() >= FEW).then(|| Self { by: [middle(0), middle(2)], seen, deepest: DEEPER_CAST * seen })
    }

    /// The same of shadow that is little deeper than what was seen, or brighter than cloth of which hardly any has less shade than `cloth`.
    pub fn shallow(self, cloth: f32) -> Self {
        Self { deepest: (DEEPER * self.seen).min(cloth + BRIGHTER).max(DEEPEST), ..self }
    }

    /// Squared distance in colour from what shadow of this depth would be, and its standard deviation; `None` where no shadow
    /// is as deep or as bright.
    #[inline]
    fn off(self, r: [f32; 3], noise: Noise) -> Option<(f32, f32)> {
        let s = shade(r);
        let off = (r[0] - r[1] - self.by[0] * s).powi(2) + (r[2] - r[1] - self.by[1] * s).powi(2);
        (self.deepest..0.1).contains(&s).then_some((off, 0.03 + noise.colour + TURN * s.abs()))
    }

    /// Likelihood of this ratio of light in shadow, for each unit of shade and of either colour.
    #[inline]
    pub fn likelihood(self, r: [f32; 3], noise: Noise, cell: f32) -> f32 {
        let Some((off, sd)) = self.off(r, noise) else { return 0.0 };
        let along = (-shade(r).abs() / FADES).exp() / FADES;
        along * (1.0 / (std::f32::consts::TAU * sd * sd)).min(1.0 / cell) * (-0.5 * off / (sd * sd)).exp()
    }

    /// Whether bare sheet in shadow may look so.
    pub fn explains(self, r: [f32; 3], noise: Noise) -> bool {
        shade(r) < DIM && self.off(r, noise).is_some_and(|(off, sd)| off < (WITHIN * sd).powi(2))
    }
}

/// Whether from this labelled pixel the picture brightens softly up to where the sheet is bare, as beside cloth that throws
/// a shadow, and not in one step, as at the edge of a hem or a binding.
pub(super) fn fades(evidence: &Evidence, labels: &[bool], n: usize) -> bool {
    let (w, h) = (evidence.width, evidence.height);
    let (x, y) = ((n % w) as i64, (n / w) as i64);
    let at = |dx: i64, dy: i64, t: usize| {
        let (u, v) = (x + dx * t as i64, y + dy * t as i64);
        (u >= 0 && v >= 0 && u < w as i64 && v < h as i64).then(|| v as usize * w + u as usize)
    };
    let ways = [(1, 0), (-1, 0), (0, 1), (0, -1), (1, 1), (-1, 1), (1, -1), (-1, -1)];
    let border = |way: (i64, i64)| {
        let bare = (1..=OUT).map_while(|t| at(way.0, way.1, t)).position(|m| !labels[m])?;
        Some((bare + 1, way))
    };
    let Some((far, (dx, dy))) = ways.into_iter().filter_map(border).min_by_key(|&(t, _)| t) else { return false };
    let line: Vec<f32> = (0..=far + 4).map_while(|t| at(dx, dy, t)).map(|m| evidence.shade[m]).collect();
    let Some(&last) = line.last() else { return false };
    let rise = last - line[0];
    let steepest = line.windows(3).map(|v| v[2] - v[0]).fold(0.0, f32::max);
    rise > -DIM && steepest < SOFT * rise
}
