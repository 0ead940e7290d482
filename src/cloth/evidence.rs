//! What speaks, pixel by pixel, for cloth or for bare sheet: colour and brightness against the sheet's light, and
//! whether the ruled marks are still to be seen.
//!
//! Everything is a ratio of light: shadow dims the sheet but keeps its colour and its marks' contrast.

use super::ground::{Ground, is_even};
use super::light::{Sample, SheetLight, median};
use crate::sheet::SheetKind;
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
const PLAIN: f32 = 2.0;
/// Brightness (natural logarithm) below which no ordinary shadow dims paper: a third of its light.
const DEEP: f32 = -1.1;

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
        let (x, y) = (x.round() as usize, y.round() as usize);
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
    /// Usual contrast of the marks, when they are clear enough to count on.
    pub marks: Option<[f32; 3]>,
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
        let (mut s, mut c) = (Vec::new(), Vec::new());
        for at in samples {
            let n = (at.y as usize).min(ground.level.height - 1) * ground.level.width + (at.x as usize).min(ground.level.width - 1);
            let l = light.at_level(at.x as f32, at.y as f32);
            let r = ratio(ground.level.rgb[n], std::array::from_fn(|k| l[k] * dim[k]));
            s.push(f64::from(shade(r).abs()));
            c.push(f64::from(colour(r)));
        }
        // A Rayleigh distribution's median is 1.18 standard deviations.
        Self { shade: (1.4826 * median(&mut s)) as f32, colour: (median(&mut c) / 1.1774) as f32 }
    }
}

impl Bare<'_> {
    /// Logarithm of seen light against bare sheet's, and how much that scatters.
    #[inline]
    fn compare(&self, seen: [f32; 3], mut light: [f32; 3], [a, b, ..]: [f32; 4], on_mark: bool) -> ([f32; 3], Noise) {
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
fn judge(r: [f32; 3], noise: Noise) -> f32 {
    // Light from the side and from the room differ in colour, so shadow may turn a little: 0.06 is allowed it.
    let c = colour(r) / (0.06 + 3.5 * noise.colour);
    let s = shade(r);
    let (bright, dark) = ((s - 0.08 - 4.0 * noise.shade) / 0.08, (DEEP - s) / 0.15);
    (c * c - 1.0).max(bright).max(dark).clamp(0.0, CLEAR)
}

/// Greatest strength of a mark in units of the usual contrast over three pixels across it, which a mark's core and heavy
/// lines reach; and by how much the strength that fits best is varied, since blur and JPEG treat the channels differently.
const STRONGEST: f32 = 4.0;
const VARIED: [f32; 3] = [1.0, 0.8, 1.25];
/// Small and faint marks are known too roughly for a fit, which would explain dark cloth as ink: they are tried in these steps.
const STEP: f32 = 0.4;
/// Usual contrast (logarithm) of marks from which strength is fitted.
const STRONG: f32 = 0.7;
/// The strength whose colour stains: near the usual contrast.
const STAIN: f32 = 1.2;

/// What a mark of full usual contrast does to the ground's light.
struct Ink {
    /// Ink less ground, as a share of the ground, by channel.
    change: [f32; 3],
    /// How much the usual mark turns a pixel's colour.
    stain: f32,
    /// Whether the marks are strong lines, whose steps are too coarse and whose ink is known well enough for a fit.
    is_fitted: bool,
}

impl Ink {
    fn new(typical: [f32; 3], kind: SheetKind) -> Self {
        let strong = typical.iter().any(|t| t.abs() > STRONG);
        let is_fitted = strong && matches!(kind, SheetKind::Lines | SheetKind::Mat);
        let plain = Self { change: typical.map(|t| t.exp() - 1.0), stain: 0.0, is_fitted };
        Self { stain: colour(plain.at(STAIN)), ..plain }
    }

    /// Logarithm of what a mark of this strength makes of the ground: ground and ink mix in linear light.
    #[inline]
    fn at(&self, strength: f32) -> [f32; 3] {
        self.change.map(|c| ln((1.0 + strength * c).max(0.05)))
    }

    /// The strength that explains a pixel best (least squares over the channels).
    #[inline]
    fn strength(&self, r: [f32; 3]) -> f32 {
        let (mut top, mut bottom) = (0.0, 1e-9);
        for (r, change) in r.iter().zip(self.change) {
            top += (r.exp() - 1.0) * change;
            bottom += change * change;
        }
        (top / bottom).clamp(0.0, STRONGEST)
    }
}

/// What colour and brightness say where a mark may be: as little as any strength of it leaves to say.
#[inline]
fn judge_marked(r: [f32; 3], noise: Noise, ink: &Ink) -> f32 {
    // JPEG keeps colour at half the resolution, so a coloured mark stains its neighbours: a seventh of its colour.
    let noise = Noise { colour: noise.colour + 0.04 * ink.stain, ..noise };
    let tried = |strength: f32| {
        let mark = ink.at(strength);
        judge(std::array::from_fn(|k| r[k] - mark[k]), noise)
    };
    let mut least = judge(r, noise);
    let mut attempt = 0;
    while least > 0.0 {
        attempt += 1;
        least = least.min(match ink.is_fitted {
            true if attempt <= VARIED.len() => tried((VARIED[attempt - 1] * ink.strength(r)).min(STRONGEST)),
            false if attempt as f32 * STEP <= STRONGEST => tried(attempt as f32 * STEP),
            _ => break,
        });
    }
    least
}

/// How much of a pixel on a checker's edge is filled, by its brightness.
#[inline]
fn mixed(seen: [f32; 3], plain: [f32; 3], dim: [f32; 3]) -> f32 {
    let bright = |v: [f32; 3]| v[0] + v[1] + v[2];
    let (top, bottom) = (bright(plain), bright(std::array::from_fn(|k| plain[k] * dim[k])));
    ((top - bright(seen)) / (top - bottom).max(1e-4)).clamp(0.0, 1.0)
}

/// Looks at every pixel of the level.
pub(super) fn look(ground: &Ground, bare: &Bare) -> Evidence {
    let (width, height) = (ground.level.width, ground.level.height);
    let n = width * height;
    let mut out = Evidence { width, height, lean: vec![0.0; n], shade: vec![0.0; n], tell: vec![Tell::Open; n], present: vec![false; n] };
    // Unclear lines on paper are taken for pale grey ones; on a mat for nobody knows what.
    let typical = bare.marks.or((ground.kind != SheetKind::Mat).then_some([-0.3; 3]));
    let ink = typical.map(|typical| Ink::new(typical, ground.kind));
    let rows = out.lean.par_chunks_mut(width).zip(out.shade.par_chunks_mut(width)).zip(out.tell.par_chunks_mut(width));
    rows.enumerate().for_each_init(<(Vec<[f32; 4]>, Vec<[f32; 3]>)>::default, |(coords, lights), (y, ((lean, shades), tells))| {
        ground.row(y, coords);
        bare.light.row(y, width, lights);
        let seen = &ground.level.rgb[y * width..][..width];
        for x in 0..width {
            let at = coords[x];
            let on_mark = ground.on_mark(at) && ground.within(at[0], at[1], 1.0);
            let (r, noise) = bare.compare(seen[x], lights[x], at, on_mark);
            // In units of the plain ground's scatter, so that a checker's noisy black makes no edges.
            shades[x] = shade(r) * (bare.noise.shade / noise.shade.max(1e-4)).min(1.0);
            let said = match (&ink, on_mark && bare.filled.is_none()) {
                (_, false) => judge(r, noise),
                (Some(ink), true) => judge_marked(r, noise, ink),
                // What the ink looks like is not known, so nothing under a mark speaks.
                (None, true) => 0.0,
            };
            tells[x] = match said {
                s if s >= PLAIN => Tell::Other,
                _ if on_mark => Tell::Mark,
                _ => Tell::Open,
            };
            lean[x] = match said {
                s if s > 0.0 => s,
                _ if bare.marks.is_some() => rest(at[2].min(at[3])),
                _ => REST,
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

/// Thin marks that are no part of the lattice say nothing.
fn demote_thin(evidence: &mut Evidence) {
    let (w, h) = (evidence.width, evidence.height);
    let other: Vec<bool> = evidence.tell.iter().map(|&t| t == Tell::Other).collect();
    let core = spread(&other.iter().map(|o| !o).collect::<Vec<_>>(), w, h, THIN);
    let kept = spread(&core.iter().map(|c| !c).collect::<Vec<_>>(), w, h, THIN + ROUND);
    for n in 0..w * h {
        if other[n] && !kept[n] {
            evidence.tell[n] = Tell::Mark;
            evidence.lean[n] = 0.0;
        }
    }
}

/// True wherever a true pixel lies within `reach` along both axes.
fn spread(mask: &[bool], w: usize, h: usize, reach: usize) -> Vec<bool> {
    let mut across = vec![false; w * h];
    across.par_chunks_mut(w).zip(mask.par_chunks(w)).for_each(|(out, row)| {
        let mut until = 0;
        for x in 0..w + reach {
            if x < w && row[x] {
                until = x + 2 * reach + 1;
            }
            if x >= reach && x < until {
                out[x - reach] = true;
            }
        }
    });
    let mut out = vec![false; w * h];
    let mut until = vec![0usize; w];
    for y in 0..h + reach {
        for x in 0..w {
            if y < h && across[y * w + x] {
                until[x] = y + 2 * reach + 1;
            }
            if y >= reach && y < until[x] {
                out[(y - reach) * w + x] = true;
            }
        }
    }
    out
}
