//! What speaks, pixel by pixel, for cloth or for bare sheet: colour and brightness against the sheet's light, and
//! whether the ruled marks are still to be seen.
//!
//! Everything is a ratio of light: shadow dims the sheet but keeps its colour and its marks' contrast.

use super::ground::{Ground, is_even};
use super::ink::Ink;
use super::light::{Sample, SheetLight};
use super::marks::Marks;
use super::squares::{boxed, spread};
use super::stains::Stains;
use crate::sheet::SheetKind;
use crate::solve::median;
use rayon::prelude::*;

/// Leaning towards bare sheet of a pixel that tells nothing, where the marks are too faint to speak.
const REST: f32 = -0.1;
/// The same where they do, times the distance of the marks in px: a fifth of what a square's marks say together.
const REST_SQUARE: f32 = -0.6;
/// Distance of marks (level px) from which they are sparse, like the joints of tiles, and what a pixel leans then.
const SPARSE: f32 = 45.0;
const REST_SPARSE: f32 = -0.03;
/// Leaning towards bare sheet of smooth shade where no mark is missing.
const SHADOW: f32 = -0.3;
/// Most that one pixel's colour may say. Above the cost of cutting it off from all eight neighbours, so that a clear
/// pixel decides for itself.
pub(super) const CLEAR: f32 = 4.0;
/// From here on a pixel's colour counts as clearly not the sheet's.
pub(super) const PLAIN: f32 = 2.0;
/// Standard deviation of what bytes and JPEG do to a dark channel, bytes.
const STEPS: f64 = 0.3;
/// From this encoded value up, such steps are lost in the scatter that is measured.
const PALE: f64 = 100.0;
/// Brightness (natural logarithm) below which no ordinary shadow dims paper: to less than a third of its light.
const DEEP: f32 = -1.25;

/// Evidence of one level.
pub(super) struct Evidence {
    pub width: usize,
    pub height: usize,
    /// Positive for cloth, negative for bare sheet.
    pub lean: Vec<f32>,
    /// Logarithm of brightness against the bare sheet.
    pub shade: Vec<f32>,
    /// What each pixel is.
    pub tell: Vec<Tell>,
    /// Pixels where a mark of the sheet is seen.
    pub present: Vec<bool>,
}

impl Evidence {
    /// Whether the pixel nearest to a level point is clearly not the sheet.
    #[inline]
    pub fn other_at(&self, x: f32, y: f32) -> bool {
        let (x, y) = ((x + 0.5) as usize, (y + 0.5) as usize);
        x < self.width && y < self.height && self.tell[y * self.width + x] == Tell::Other
    }
}

/// What is to be expected on the sheet.
pub(super) struct Bare<'a> {
    /// Light of the plain ground.
    pub light: &'a SheetLight,
    /// Scatter of the plain ground.
    pub noise: Noise,
    /// A checker's filled squares: light against the plain ones, scatter, and whether they are the even ones.
    pub filled: Option<([f32; 3], Noise, bool)>,
    /// The marks, when they are clear enough to count on.
    pub marks: Option<&'a Marks>,
}

/// Sort of a pixel.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Tell {
    /// Looks like sheet, lit or in shadow; so may cloth.
    Open,
    /// Under a ruled mark: brightness there says nothing.
    Mark,
    /// Clearly not the sheet.
    Other,
}

/// How much the bare ground scatters: brightness and colour, natural logarithms, one standard deviation.
#[derive(Clone, Copy, Debug)]
pub(super) struct Noise {
    pub shade: f32,
    pub colour: f32,
}

impl Noise {
    /// From samples of bare ground, cloth among them counting as outliers.
    pub fn of(samples: &[Sample], ground: &Ground, light: &SheetLight, dim: [f32; 3]) -> Self {
        let noise = Self::between(samples.iter().map(|at| {
            let n = (at.y as usize).min(ground.level.height - 1) * ground.level.width + (at.x as usize).min(ground.level.width - 1);
            let l = light.at_level(at.x as f32, at.y as f32);
            ratio(ground.level.rgb[n], std::array::from_fn(|k| l[k] * dim[k]))
        }));
        Self { colour: noise.colour + coarse(samples, dim), ..noise }
    }

    /// From logarithms of seen against expected light, most of them of bare ground.
    pub fn between(ratios: impl Iterator<Item = [f32; 3]>) -> Self {
        let (mut s, mut c): (Vec<f64>, Vec<f64>) = ratios.map(|r| (f64::from(shade(r).abs()), f64::from(colour(r)))).unzip();
        // A Rayleigh distribution's median is 1.18 standard deviations.
        let colour = (median(&mut c).unwrap_or_default() / 1.1774) as f32;
        Self { shade: (1.4826 * median(&mut s).unwrap_or_default()) as f32, colour }
    }
}

/// Scatter of colour that steps of a byte make in the darkest channel of the bare ground: on a dark green mat red is a few
/// bytes, JPEG leaves whole blocks out by one or two of them, and half of the ground may show none of it.
fn coarse(samples: &[Sample], dim: [f32; 3]) -> f32 {
    let darkest = (0..3).map(|k| {
        let mut all: Vec<f64> = samples.iter().map(|s| f64::from(s.rgb[k] * dim[k])).collect();
        median(&mut all).unwrap_or_default()
    });
    let darkest = darkest.fold(f64::INFINITY, f64::min).max(0.0);
    // Encoded values run as the 2.2nd root of light, so a byte in v is a share of 2.2 / v of the light.
    let byte = 255.0 * darkest.powf(1.0 / 2.2);
    (STEPS * 2.2 * (1.0 / byte.max(4.0) - 1.0 / PALE).max(0.0)) as f32
}

impl Bare<'_> {
    /// Logarithm of seen light against bare sheet's, and how much that scatters.
    #[inline]
    pub fn compare(&self, seen: [f32; 3], mut light: [f32; 3], [a, b, ..]: [f32; 4], on_mark: bool) -> ([f32; 3], Noise) {
        let mut noise = self.noise;
        if let Some((dim, dark, even)) = self.filled {
            let is_filled = is_even(a, b) == even;
            let share = if on_mark { mixed(seen, light, dim) } else { f32::from(u8::from(is_filled)) };
            (0..3).for_each(|k| light[k] *= 1.0 + share * (dim[k] - 1.0));
            if is_filled || on_mark {
                noise = dark;
            }
        }
        (ratio(seen, light), noise)
    }
}

/// Fast natural logarithm, true to 1e-3, which is far below the noise of any pixel.
#[inline]
pub(super) fn ln(v: f32) -> f32 {
    let bits = v.to_bits();
    let exponent = (bits >> 23) as i32 - 127;
    let m = f32::from_bits(bits & 0x007f_ffff | 0x3f80_0000);
    // Cubic through the mantissa's logarithm to base 2, error below 7e-4.
    let log2 = exponent as f32 + (-2.153_620_7 + m * (3.047_884_2 + m * (-1.051_875 + m * 0.158_248_7)));
    log2 * std::f32::consts::LN_2
}

/// Logarithm of seen light against expected light. The floor keeps black from running to infinity.
#[inline]
pub(super) fn ratio(seen: [f32; 3], expected: [f32; 3]) -> [f32; 3] {
    std::array::from_fn(|k| ln((seen[k] + 0.002) / (expected[k] + 0.002)))
}

/// [`ratio`] of a row: channel by channel, so that many are taken at once.
fn ratios(seen: &[[f32; 3]], expected: &[[f32; 3]], out: &mut Vec<[f32; 3]>) {
    out.resize(seen.len(), [0.0; 3]);
    let both = seen.as_flattened().iter().zip(expected.as_flattened());
    out.as_flattened_mut().iter_mut().zip(both).for_each(|(out, (seen, expected))| *out = ln((seen + 0.002) / (expected + 0.002)));
}

/// Seen light as a share of expected light, with the same floor.
#[inline]
pub(super) fn share_of(seen: [f32; 3], expected: [f32; 3]) -> [f32; 3] {
    std::array::from_fn(|k| (seen[k] + 0.002) / (expected[k] + 0.002))
}

/// How far apart two ratios are, all channels together.
#[inline]
pub(super) fn apart(a: [f32; 3], b: [f32; 3]) -> f32 {
    (0..3).map(|k| (a[k] - b[k]).powi(2)).sum::<f32>().sqrt()
}

#[inline]
pub(super) fn shade(r: [f32; 3]) -> f32 {
    0.3 * r[0] + 0.5 * r[1] + 0.2 * r[2]
}

#[inline]
pub(super) fn colour(r: [f32; 3]) -> f32 {
    let (u, v) = (r[0] - r[1], r[2] - r[1]);
    (u * u + v * v).sqrt()
}

/// Leaning of a pixel that tells nothing where marks `gap` px apart speak.
#[inline]
fn rest(gap: f32) -> f32 {
    if gap > SPARSE { REST_SPARSE } else { REST_SQUARE / gap.max(10.0) }
}

/// What colour and brightness say.
#[inline]
pub(super) fn judge(r: [f32; 3], noise: Noise) -> f32 {
    // Light from the side and from the room differ in colour, so shadow may turn a little: 0.06 is allowed it.
    let (u, v, most) = (r[0] - r[1], r[2] - r[1], 0.06 + 3.5 * noise.colour);
    let s = shade(r);
    let (bright, dark) = ((s - 0.08 - 4.0 * noise.shade) * (1.0 / 0.08), (DEEP - s) * (1.0 / 0.15));
    // Spelt out, for of two numbers that are some the greater is one comparison.
    let greater = |a: f32, b: f32| if a > b { a } else { b };
    greater(greater((u * u + v * v) / (most * most) - 1.0, bright), dark).clamp(0.0, CLEAR)
}

/// How much of a pixel on a checker's edge is filled, by its brightness.
#[inline]
fn mixed(seen: [f32; 3], plain: [f32; 3], dim: [f32; 3]) -> f32 {
    let bright = |v: [f32; 3]| v[0] + v[1] + v[2];
    let (top, bottom) = (bright(plain), bright(std::array::from_fn(|k| plain[k] * dim[k])));
    ((top - bright(seen)) / (top - bottom).max(1e-4)).clamp(0.0, 1.0)
}

/// Looks at every pixel of the level. `coarse` is how coarsely the picture was saved, 0 to 1.
pub(super) fn look(ground: &Ground, bare: &Bare, coarse: f32) -> Evidence {
    let (width, height) = (ground.level.width, ground.level.height);
    let n = width * height;
    let mut out = Evidence { width, height, lean: vec![0.0; n], shade: vec![0.0; n], tell: vec![Tell::Open; n], present: vec![false; n] };
    // Unclear lines on paper are taken for pale grey ones; on a mat for nobody knows what.
    let guessed = (ground.kind != SheetKind::Mat).then(|| Ink::guessed([-0.3; 3]));
    let ink = bare.marks.map(|marks| Ink::measured(ground, bare.light, marks)).or(guessed);
    let stains = (coarse > 0.0).then(|| Stains::of(ground, bare.light, coarse));
    let rows = out.lean.par_chunks_mut(width).zip(out.shade.par_chunks_mut(width)).zip(out.tell.par_chunks_mut(width));
    let empty = <(Vec<[f32; 4]>, Vec<[f32; 3]>, Vec<[f32; 3]>)>::default;
    rows.enumerate().for_each_init(empty, |(coords, lights, logs), (y, ((lean, shades), tells))| {
        ground.row(y, coords);
        bare.light.row(y, width, lights);
        let seen = &ground.level.rgb[y * width..][..width];
        ratios(seen, lights, logs);
        for x in 0..width {
            let at = coords[x];
            let on_mark = ground.on_mark(at) && ground.within(at[0], at[1], 1.0);
            let (r, mut noise) = if bare.filled.is_some() { bare.compare(seen[x], lights[x], at, on_mark) } else { (logs[x], bare.noise) };
            noise.colour += stains.as_ref().map_or(0.0, |s| s.at(x, y));
            // In units of the plain ground's scatter, so that a checker's noisy black makes no edges.
            shades[x] = shade(r) * (bare.noise.shade / noise.shade.max(1e-4)).min(1.0);
            let said = match (&ink, on_mark && bare.filled.is_none()) {
                (_, false) => judge(r, noise),
                (Some(ink), true) => {
                    // JPEG keeps colour at half the resolution, so a coloured mark stains its neighbours: a seventh of its colour.
                    let noise = Noise { colour: noise.colour + 0.04 * ink.stain, ..noise };
                    let share = bare.marks.map_or(1.0, |m| m.share_at(x as f32, y as f32));
                    ink.least(share_of(seen[x], lights[x]), r, at, share, |r| judge(r, noise))
                }
                // What the ink looks like is not known, so nothing under a mark speaks.
                (None, true) => 0.0,
            };
            tells[x] = match said {
                s if s >= PLAIN => Tell::Other,
                _ if on_mark && ink.as_ref().is_none_or(|ink| ink.hides(at)) => Tell::Mark,
                _ => Tell::Open,
            };
            lean[x] = match said {
                s if s > 0.0 => s,
                _ => bare.marks.map_or(REST, |m| rest(at[2].min(at[3]) / m.speaking.max(0.05))),
            };
        }
    });
    demote_thin(&mut out);
    out
}

impl Evidence {
    /// How rough the picture is at a pixel: mean departure from the four neighbours' mean over three by three pixels.
    fn rough(&self, x: usize, y: usize) -> f32 {
        if x < 2 || y < 2 || x + 2 >= self.width || y + 2 >= self.height {
            return 0.0;
        }
        let mut sum = 0.0;
        for v in y - 1..=y + 1 {
            for u in x - 1..=x + 1 {
                let n = v * self.width + u;
                let s = &self.shade;
                sum += (s[n] - (s[n - 1] + s[n + 1] + s[n - self.width] + s[n + self.width]) / 4.0).abs();
            }
        }
        sum / 9.0
    }

    /// Between nodes that are all missing a pixel that tells nothing does not lean to the sheet: the few pixels of nodes could be
    /// cut out of it more cheaply than the cloth that hides them.
    pub fn settle_covered(&mut self, covered: impl Fn(usize, usize) -> bool + Sync) {
        let (width, tells) = (self.width, &self.tell);
        self.lean
            .par_iter_mut()
            .enumerate()
            .filter(|(n, lean)| **lean < 0.0 && tells[*n] == Tell::Open && covered(n % width, n / width))
            .for_each(|(_, lean)| *lean = 0.0);
    }

    /// Where the picture is darker, smooth, and `gone` knows of no missing mark, shadow on bare sheet is likelier than
    /// grey cloth: such pixels lean towards sheet.
    pub fn settle_shadow(&mut self, noise: Noise, gone: impl Fn(usize, usize) -> bool + Sync) {
        let limit = 3.0 * noise.shade + 0.02;
        let shadows: Vec<(usize, f32)> = (0..self.lean.len())
            .into_par_iter()
            .filter(|&n| self.tell[n] == Tell::Open && self.lean[n] <= 0.0 && self.shade[n] < -0.08 - 2.0 * noise.shade)
            .filter(|&n| self.rough(n % self.width, n / self.width) < limit && !gone(n % self.width, n / self.width))
            .map(|n| (n, SHADOW * ((-self.shade[n] - 0.08) / 0.15).clamp(0.0, 1.0)))
            .collect();
        shadows.into_iter().for_each(|(n, lean)| self.lean[n] = self.lean[n].min(lean));
    }
}

/// Half-width of the square that must fit into what counts as clearly not the sheet, and how far round it the rest still
/// counts. Diagonals and circles of a mat, print, pencil lines are thinner (four or five level px, about 4 mm).
const THIN: usize = 2;
const ROUND: usize = 2;
/// Pixels of that square that must be so, when the rest lies under marks: marks run through cloth of their own colour.
const MOST: u8 = 13;

/// Thin marks that are no part of the lattice say nothing.
fn demote_thin(evidence: &mut Evidence) {
    let (w, h) = (evidence.width, evidence.height);
    let count = |kind: Tell| boxed(&evidence.tell.iter().map(|&t| u8::from(t == kind)).collect::<Vec<_>>(), w, h, THIN);
    let (other, open) = (count(Tell::Other), count(Tell::Open));
    let core: Vec<bool> = other.iter().zip(&open).map(|(&other, &open)| (open == 0) & (other >= MOST)).collect();
    let kept = spread(&core, w, h, THIN + ROUND);
    for ((tell, lean), kept) in evidence.tell.iter_mut().zip(&mut evidence.lean).zip(kept) {
        if *tell == Tell::Other && !kept {
            (*tell, *lean) = (Tell::Mark, 0.0);
        }
    }
}
