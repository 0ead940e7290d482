//! Colours along a band: what the bare sheet looks like beside each column, how its ink takes light away, and the
//! colours the cloth is made of.
//!
//! Everything is compared as square roots of light, in which the noise of a sensor is about even from dark to bright.

use super::band::Band;
use super::guide::Guide;
use super::lamp::Lamp;
use super::marks::Marks;
use super::shade::lifted;
use crate::length::Mm;
use crate::sheet::SheetKind;
use crate::shot::LUMA;
use crate::solve::median;
use crate::view::View;

pub(super) type Light = [f32; 3];

/// What a band is made of.
#[derive(Clone, Debug)]
pub(super) struct Tones {
    /// Light of bare, unruled sheet beside each column.
    pub paper: Vec<Light>,
    /// The same as it would be out of the cloth's shadow.
    lit: Vec<Light>,
    /// Light of full ink over that of paper.
    pub ink: Light,
    /// Colours of the cloth, as square roots of light over the brightness of lit paper beside it: the lamp falls off
    /// over both alike.
    cloth: Vec<Tone>,
    /// Spread of the paper's own colour about `paper`, square roots of light.
    grain: f32,
    /// A lamp's shadow beside the cloth, once the first answer tells it.
    pub lamp: Option<Lamp>,
}

/// One colour of the cloth.
#[derive(Clone, Copy, Debug)]
struct Tone {
    at: Light,
    /// One over its square.
    share: f32,
    /// One over twice the variance of a channel about it.
    weight: f32,
}

impl Tone {
    /// At a colour, about which a channel has this variance.
    fn new(at: Light, spread: f32) -> Self {
        Self { at, share: 1.0 / dot(at, at).max(1e-6), weight: 0.5 / spread }
    }

    /// Negative log likelihood of `y`; folds and wrinkles shade any cloth by a tenth.
    #[inline]
    fn misfit(&self, y: Light) -> f32 {
        let shade = (dot(y, self.at) * self.share).clamp(0.95, 1.05);
        distance(y, self.at.map(|v| v * shade)) * self.weight
    }
}

/// Share of ink for each sample of a band.
pub(super) struct Cover<'a> {
    marks: &'a Marks,
    /// Foot of the camera on the sheet, and by how much a point at the cloth's height moves away from it on the sheet.
    foot: Mm,
    scale: f64,
    sigma: f64,
}

impl<'a> Cover<'a> {
    /// For samples placed at `height` mm over a sheet with these marks; `sigma` is the blur in mm.
    pub fn new(marks: &'a Marks, view: &View, height: f64, sigma: f64) -> Self {
        let (foot, scale) = match view.camera() {
            Some(c) => (Mm::new(c.x, c.y), c.z / (c.z + height)),
            None => (Mm::default(), 1.0),
        };
        Self { marks, foot, scale, sigma }
    }

    /// Share of ink seen on the ray through `at`, a place at the cloth's height.
    pub fn at(&self, at: Mm) -> f32 {
        self.marks.cover(self.foot + (at - self.foot) * self.scale, self.sigma) as f32
    }
}

/// Nearer to the rough rim than this the outside may still be cloth or deep shadow, mm.
const CLEAR_OUT: f64 = 2.5;
/// Nearer to the rough rim than this the inside may be sheet, mm.
const CLEAR_IN: f64 = 2.25;
/// Distance of the places where the paper is measured, mm, and how far to either side each gathers.
const PAPER_STEP: f64 = 6.0;
const PAPER_REACH: f64 = 10.0;
/// The most colours a cloth is given.
const CLOTH_TONES: usize = 8;

impl Tones {
    /// Measures the colours along a band unrolled at a rough guide. `ink` of a checker is the darker or the lighter
    /// square, whichever the picture shows at the marks' cover.
    pub fn measure(band: &Band, guide: &Guide, cover: &Cover<'_>) -> Self {
        let checker = cover.marks.kind == SheetKind::Checker;
        let outside = gather(band, guide, |d| d >= CLEAR_OUT, 0.5);
        let covers: Vec<f32> = outside.iter().map(|s| cover.at(s.at)).collect();
        let paper = paper_along(guide, &outside, &covers, if checker { 0.02 } else { 0.06 });
        let ink = ink_ratio(&outside, &covers, &paper);
        let mut away: Vec<f32> = outside
            .iter()
            .zip(&covers)
            .filter(|(_, m)| **m < 0.05)
            .map(|(s, _)| distance(root(s.light), root(paper[s.column])).sqrt())
            .collect();
        let grain = (median(&mut away).unwrap_or_default() / 1.5).clamp(0.008, 0.05);
        let lit = lifted(&paper, &guide.at, guide.step);
        let inside: Vec<Light> =
            gather(band, guide, |d| d <= -CLEAR_IN, 1.0).iter().map(|s| beside(root(s.light), lit[s.column])).collect();
        let bare = lit.get(lit.len() / 2).map_or([1.0; 3], |p| beside(root(*p), *p));
        Self { paper, lit, ink, cloth: palette(&inside, bare), grain, lamp: None }
    }

    /// What is seen beside column `k` is held against these.
    pub fn beside(&self, k: usize) -> Beside<'_> {
        let (paper, inked) = (root(self.paper[k]), root(self.inked(self.paper[k])));
        let gap = minus(inked, paper);
        let (pp, pg, gg) = (dot(paper, paper), dot(paper, gap), dot(gap, gap).max(1e-6));
        let lit = self.lit[k];
        Beside {
            tones: self,
            lit,
            level: 1.0 / brightness(lit),
            ink_gap: distance(root(lit), root(self.inked(lit))).sqrt(),
            paper,
            gap,
            products: [pp, pg, gg],
            det: pp * gg - pg * pg,
        }
    }

    /// Light of full ink on paper of this light.
    fn inked(&self, paper: Light) -> Light {
        std::array::from_fn(|c| paper[c] * self.ink[c])
    }

    /// Light of bare paper beside column `k` of another band of `columns` columns along nearly the same path.
    pub fn paper_at(&self, k: usize, columns: usize) -> Light {
        self.paper[(k * self.paper.len() / columns.max(1)).min(self.paper.len() - 1)]
    }

    /// The same as it would be out of the cloth's shadow.
    pub fn lit_at(&self, k: usize, columns: usize) -> Light {
        self.lit[(k * self.lit.len() / columns.max(1)).min(self.lit.len() - 1)]
    }
}

/// The tones beside one column, made ready to hold many places against.
pub(super) struct Beside<'a> {
    tones: &'a Tones,
    lit: Light,
    /// One over the brightness of the lit paper, square root of light.
    level: f32,
    /// How far ink stands out from it.
    ink_gap: f32,
    /// Paper and what ink changes of it, square roots of light; the plane of both.
    paper: Light,
    gap: Light,
    products: [f32; 3],
    det: f32,
}

/// What a place looks like.
pub(super) struct Looks {
    /// Square roots of light.
    y: Light,
    /// Negative log likelihood of paper with any share of ink, dimmed by shadow or not, and that share.
    printed: (f32, f32),
    /// Negative log likelihood of the likeliest of the cloth's colours.
    cloth: f32,
}

impl Beside<'_> {
    /// Holds the light of a place against paper, print and cloth.
    pub fn looks(&self, light: Light) -> Looks {
        let y = root(light);
        let shown = y.map(|v| v * self.level);
        let lesser = |a: f32, b: f32| if b < a { b } else { a };
        let cloth = self.tones.cloth.iter().map(|t| t.misfit(shown)).fold(f32::INFINITY, lesser);
        Looks { y, printed: self.printed(y), cloth }
    }

    fn printed(&self, y: Light) -> (f32, f32) {
        // Least squares on the plane of paper and ink, kept to shares that can be.
        let [pp, pg, gg] = self.products;
        if self.det < SAME_HUE * pp * gg {
            return (f32::INFINITY, 0.0);
        }
        let (yp, yg) = (dot(y, self.paper), dot(y, self.gap));
        let dim = ((yp * gg - yg * pg) / self.det).clamp(0.7, 1.06);
        let share = ((yg - dim * pg) / gg / dim).clamp(0.0, 1.0);
        let off = distance(y, std::array::from_fn(|c| dim * (self.paper[c] + share * self.gap[c])));
        (off / (2.0 * self.tones.grain * self.tones.grain), share)
    }

    /// Log likelihood of a place being cloth over being sheet with a share `cover` of ink.
    ///
    /// Shadow dims the sheet but keeps its colour and the contrast of its ruling, so any dimming down to a fifth counts
    /// as sheet; the answer is bounded, for the cloth's edge, a stitch or a speck fits neither.
    pub fn cloth_over_sheet(&self, looks: &Looks, cover: f32) -> f32 {
        let (y, grain) = (looks.y, self.tones.grain);
        let u = root(std::array::from_fn(|c| self.lit[c] * (1.0 + (self.tones.ink[c] - 1.0) * cover).max(0.0)));
        let dim = (dot(y, u) / dot(u, u).max(1e-6)).clamp(0.45, 1.06);
        let off = distance(y, u.map(|v| v * dim));
        // A place half ruled may be ruled a little more or less than told.
        let unsure = 0.35 * self.ink_gap * (cover * (1.0 - cover)).abs().sqrt() + 0.1 * self.ink_gap * cover;
        let s2 = grain * grain + unsure * unsure;
        let deep = DEEP_PRICE * (DEEP - dim).max(0.0);
        let sheet = (off / (2.0 * s2) + deep).min(looks.printed.0 + PRINT_PRICE).min(MOST);
        let lead = sheet - looks.cloth.min(MOST);
        lead.signum() * (lead.abs() - DEAF).max(0.0)
    }
}

impl Looks {
    /// Share of ink at a place that looks more like print on the sheet than like any of the cloth.
    pub fn print(&self) -> f32 {
        let (misfit, share) = self.printed;
        if misfit + PRINT_PRICE < self.cloth { share } else { 0.0 }
    }
}

/// A colour this near to a mixture of two others is that mixture, square roots of light.
const BLUR_NEAR: f32 = 0.06;
/// A colour this near to another is no mixture of it: stripes may be nearly the sheet's colour, and white cloth is.
const BLUR_CLEAR: f32 = 0.12;
/// What it costs to say that the sheet is printed where no ruling is known: a title, a heavier or a diagonal line.
const PRINT_PRICE: f32 = 2.5;
/// Ink whose hue lies within this of the paper's (squared sine) can't be told from shadow.
const SAME_HUE: f32 = 0.003;
/// Shadow that leaves less than this of the sheet's light (as square roots) is rare; what it costs from there on.
const DEEP: f32 = 0.7;
const DEEP_PRICE: f32 = 8.0;
/// No single cell speaks louder than this for cloth or sheet.
const MOST: f32 = 4.0;
/// Leads smaller than this say nothing: the two models are not that good.
const DEAF: f32 = 0.8;

struct Sample {
    column: usize,
    at: Mm,
    light: Light,
}

/// Samples of the band whose offset passes `keep`, about one every `gap` mm either way.
fn gather(band: &Band, guide: &Guide, keep: impl Fn(f64) -> bool, gap: f64) -> Vec<Sample> {
    let (along, across) = (((gap / guide.step) as usize).max(1), ((0.5 * gap / band.across) as usize).max(1));
    let rows: Vec<usize> = (0..band.rows()).step_by(across).filter(|r| keep(band.offset(*r))).collect();
    (0..band.columns())
        .step_by(along)
        .flat_map(|k| rows.iter().map(move |r| (k, *r)))
        .map(|(k, r)| Sample { column: k, at: guide.at[k] + guide.normal[k] * band.offset(r), light: band.column(k)[r] })
        .filter(|s| s.light[0].is_finite())
        .collect()
}

/// Median light of unruled samples near each column, from places every few millimetres.
fn paper_along(guide: &Guide, samples: &[Sample], covers: &[f32], bare: f32) -> Vec<Light> {
    let n = guide.len();
    let places = ((n as f64 * guide.step / PAPER_STEP) as usize).max(1);
    let column_of = |p: usize| p * n / places;
    let reach = (PAPER_REACH / guide.step) as usize;
    let clear: Vec<&Sample> = samples.iter().zip(covers).filter(|(_, m)| **m < bare).map(|(s, _)| s).collect();
    let middle = |part: &[&Sample]| -> Option<Light> {
        (part.len() >= 12)
            .then(|| std::array::from_fn(|c| median(&mut part.iter().map(|s| s.light[c]).collect::<Vec<_>>()).unwrap_or_default()))
    };
    let all = middle(&clear).unwrap_or([0.5; 3]);
    let found: Vec<Option<Light>> = (0..places)
        .map(|p| {
            let (from, to) = (column_of(p).saturating_sub(reach), column_of(p) + reach);
            let (a, b) = (clear.partition_point(|s| s.column < from), clear.partition_point(|s| s.column <= to));
            middle(&clear[a..b])
        })
        .collect();
    // A place where nothing bare is seen takes the nearest place's light.
    let filled: Vec<Light> = (0..places)
        .map(|p| (0..places).find_map(|d| found[(p + d) % places].or(found[(p + places - d) % places])).unwrap_or(all))
        .collect();
    (0..n)
        .map(|k| {
            let x = k as f64 * places as f64 / n as f64;
            let (p, t) = (x as usize % places, (x - x.floor()) as f32);
            std::array::from_fn(|c| filled[p][c] * (1.0 - t) + filled[(p + 1) % places][c] * t)
        })
        .collect()
}

/// Light of full ink over that of paper, by least squares over samples that are at least partly ruled.
fn ink_ratio(samples: &[Sample], covers: &[f32], paper: &[Light]) -> Light {
    std::array::from_fn(|c| {
        let (mut top, mut low) = (0.0, 1e-3);
        for (s, m) in samples.iter().zip(covers).filter(|(_, m)| **m > 0.25) {
            top += m * (s.light[c] / paper[s.column][c].max(0.003) - 1.0);
            low += m * m;
        }
        (1.0 + top / low).max(0.0)
    })
}

/// Up to eight colours by k-means (Lloyd 1982), started from the points farthest from each other; without those that are
/// but the blur between two others or between one and `bare` paper.
fn palette(samples: &[Light], bare: Light) -> Vec<Tone> {
    let stride = samples.len().div_ceil(4000).max(1);
    let some: Vec<Light> = samples.iter().copied().step_by(stride).collect();
    let Some(first) = some.first() else { return Vec::new() };
    let mut at = vec![*first];
    while at.len() < CLOTH_TONES {
        let near = |p: &Light| at.iter().map(|q| distance(*p, *q)).fold(f32::INFINITY, f32::min);
        let Some(far) = some.iter().max_by(|a, b| near(a).total_cmp(&near(b))) else { break };
        at.push(*far);
    }
    let nearest = |at: &[Light], p: Light| (0..at.len()).min_by(|a, b| distance(p, at[*a]).total_cmp(&distance(p, at[*b]))).unwrap_or(0);
    let mut sums = vec![([0f32; 3], 0f32, 0f32); at.len()];
    for _ in 0..8 {
        sums.iter_mut().for_each(|s| *s = ([0.0; 3], 0.0, 0.0));
        for p in &some {
            let k = nearest(&at, *p);
            (0..3).for_each(|c| sums[k].0[c] += p[c]);
            sums[k].1 += 1.0;
            sums[k].2 += distance(*p, at[k]);
        }
        for (a, s) in at.iter_mut().zip(&sums).filter(|(_, s)| s.1 > 0.0) {
            *a = s.0.map(|v| v / s.1);
        }
    }
    // Colours seen on under three in a hundred samples are specks, or sheet seen past a wrong rough path.
    let few = 0.03 * some.len() as f32;
    let seen: Vec<(Light, f32)> = at.iter().zip(&sums).map(|(a, s)| (*a, s.1)).filter(|(_, n)| *n >= few.max(2.0)).collect();
    // One colour may have been given to several centres: they count together.
    let count = |a: Light| seen.iter().filter(|(b, _)| distance(a, *b) < BLUR_CLEAR * BLUR_CLEAR).map(|(_, n)| n).sum::<f32>();
    let full: Vec<(Light, f32)> = seen.iter().map(|(a, _)| (*a, count(*a))).collect();
    let tones = at.iter().zip(&sums).filter(|(a, s)| s.1 >= few.max(2.0) && !is_blur(**a, count(**a), &full, bare));
    tones.map(|(a, s)| Tone::new(*a, (s.2 / s.1 / 3.0).max(0.012 * 0.012))).collect()
}

/// Whether a colour seen on `count` samples is a mixture of two that are seen more than twice as often, or of one and `bare`
/// paper, as the blur of every edge within or beside the cloth makes it.
fn is_blur(tone: Light, count: f32, tones: &[(Light, f32)], bare: Light) -> bool {
    let often: Vec<Light> = tones.iter().filter(|(_, n)| *n > 2.0 * count).map(|(a, _)| *a).chain([bare]).collect();
    let mixed = |a: Light, b: Light, t: f32| -> Light { std::array::from_fn(|c| (a[c] * a[c] * (1.0 - t) + b[c] * b[c] * t).sqrt()) };
    let clear = |a: Light| distance(tone, a) > BLUR_CLEAR * BLUR_CLEAR;
    (0..often.len()).filter(|i| clear(often[*i])).any(|i| {
        (0..i)
            .filter(|j| clear(often[*j]))
            .any(|j| (3..=7).any(|k| distance(tone, mixed(often[i], often[j], k as f32 / 10.0)) < BLUR_NEAR * BLUR_NEAR))
    })
}

/// A colour, as square roots of light, over the brightness of paper.
fn beside(y: Light, paper: Light) -> Light {
    let level = brightness(paper);
    y.map(|v| v / level)
}

/// Brightness of paper, square root of light.
fn brightness(paper: Light) -> f32 {
    (dot(root(paper), root(paper)) / 3.0).max(1e-4).sqrt()
}

/// Luminance.
pub(super) fn luma(v: Light) -> f32 {
    LUMA[0] * v[0] + LUMA[1] * v[1] + LUMA[2] * v[2]
}

fn root(v: Light) -> Light {
    v.map(|x| if x > 0.0 { x.sqrt() } else { 0.0 })
}

fn dot(a: Light, b: Light) -> f32 {
    a[0] * b[0] + a[1] * b[1] + a[2] * b[2]
}

fn minus(a: Light, b: Light) -> Light {
    std::array::from_fn(|c| a[c] - b[c])
}

fn distance(a: Light, b: Light) -> f32 {
    let d = minus(a, b);
    dot(d, d)
}
