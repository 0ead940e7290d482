//! What the cloth of this picture looks like, learned from a first answer, to settle where its border runs.
//!
//! Well inside the first answer colours are counted, and well outside it those of the bare sheet, to which shadow of any
//! depth belongs; where both share colours, so is roughness, since cloth is seldom as smooth as paper. What either makes of
//! a pixel is added up as logarithms of likelihood (as in Rother, Kolmogorov and Blake 2004, with counts for mixtures).

use super::evidence::{Bare, Evidence, Noise, Tell, ln, ratio, shade};
use super::ground::Ground;
use super::lamps;
use super::penumbra::{Turn, fades};
use super::roughness::by_roughness;
use super::squares::spread;
use rayon::prelude::*;

/// Distance from the first answer's border, level px, from which on pixels are counted.
const CORE: usize = 4;
/// And up to which they lie near it.
const STRIP: usize = 9;
/// A colour of the cloth this common against its commonest never speaks for sheet: a white stripe is cloth as well.
const COMMON: f32 = 0.04;
/// Share of the cloth's depths that shadow would explain, from which on its border says nothing of shadow.
const LIKE_SHADOW: f32 = 0.1;
/// And from which on shadow is taken for no deeper than what was seen.
const SOME_LIKE_SHADOW: f32 = 0.05;
/// Share of the first answer that is worth another look as shadow, however far from its border.
const TAKEN_IN: f32 = 0.01;
/// Fewest pixels that are worth counting.
const FEW: usize = 300;
/// Cells of brightness (natural logarithm, from the least) and of each of the two colours, and their widths.
const SHADES: usize = 104;
const SHADE: f32 = 0.06;
const LEAST: f32 = -4.5;
const COLOURS: usize = 32;
const COLOUR: f32 = 0.08;
/// Weights of what is seen on bare sheet: as counted, in shadow, anything else; and on cloth, as counted and anything else. What
/// is seen on both alike speaks for neither.
const SHEET: [f32; 3] = [0.95, 0.35, 0.05];
const CLOTH: [f32; 2] = [0.95, 0.05];
/// Anything else is spread over so many cells.
const ANY: f32 = 2e4;
/// Most that a pixel's colour says: neighbours say nearly the same, so each says less than it knows.
const SAY: f32 = 1.2;
/// Share of the likelihood that is believed, for the same reason.
pub(super) const BELIEF: f32 = 0.5;
/// Below this, what was taken for cloth by its colour is none.
const DISOWNED: f32 = -0.5;
/// From this overlap of the colours of cloth and sheet (0 to 1, Bhattacharyya 1943) roughness is asked as well.
const ALIKE: f32 = 0.05;
/// How near the picture's frame, level px, it is not asked whether the border is clear.
const DEEP: usize = 5;
/// Distance from a border that is clear for the most part, level px, within which it may still be wrong: in its corners and
/// where a fold or an edging meets it. Looking again only at its unclear places lost a corner of an armhole.
const BAND: usize = 16;

/// Counts over brightness and colour.
pub(super) struct Counts(pub Vec<f32>);

/// Cell of a logarithmic ratio of light.
#[inline]
pub(super) fn cell(r: [f32; 3]) -> usize {
    let s = (((shade(r) - LEAST) / SHADE).max(0.0) as usize).min(SHADES - 1);
    let of = |v: f32| ((v / COLOUR + COLOURS as f32 / 2.0).max(0.0) as usize).min(COLOURS - 1);
    (s * COLOURS + of(r[0] - r[1])) * COLOURS + of(r[2] - r[1])
}

impl Counts {
    /// Shares of all, softened by one cell along each axis.
    pub fn of(cells: Vec<usize>) -> Self {
        let mut share = vec![0f32; SHADES * COLOURS * COLOURS];
        let one = 1.0 / cells.len().max(1) as f32;
        cells.iter().for_each(|&c| share[c] += 1.0);
        share.iter_mut().for_each(|v| *v *= one);
        for step in [1, COLOURS, COLOURS * COLOURS] {
            let from = share.clone();
            let sides = from.iter().zip(&from[2 * step..]);
            let middle = share[step..].iter_mut().zip(&from[step..]);
            middle.zip(sides).for_each(|((out, b), (a, c))| *out = 0.25 * (a + 2.0 * b + c));
        }
        Self(share)
    }

    /// The same colours in other light: of each as many as there are in any, fewer by a factor of e for each `fades` of brightness (natural
    /// logarithm).
    pub fn in_any_light(&self, fades: f32) -> Self {
        let mut any = vec![0f32; COLOURS * COLOURS];
        self.0.chunks_exact(COLOURS * COLOURS).for_each(|of| any.iter_mut().zip(of).for_each(|(any, v)| *any += v));
        let share = |s: usize| 0.5 * SHADE / fades * (-(LEAST + (s as f32 + 0.5) * SHADE).abs() / fades).exp();
        Self((0..SHADES).flat_map(|s| any.iter().map(move |v| v * share(s))).collect())
    }

    /// With `share` of another.
    pub fn and(self, other: &Self, share: f32) -> Self {
        Self(self.0.iter().zip(&other.0).map(|(a, b)| (1.0 - share) * a + share * b).collect())
    }

    fn overlap(&self, other: &Self) -> f32 {
        self.0.iter().zip(&other.0).map(|(a, b)| (a * b).sqrt()).sum()
    }
}

/// Logarithm of a pixel's light against the sheet's plain ground, and against what bare sheet would be there.
#[inline]
fn ratios(ground: &Ground, bare: &Bare, n: usize) -> [[f32; 3]; 2] {
    let (x, y) = (n % ground.level.width, n / ground.level.width);
    let (seen, light) = (ground.level.rgb[n], bare.light.at_level(x as f32, y as f32));
    let plain = ratio(seen, light);
    if bare.filled.is_none() {
        return [plain; 2];
    }
    let at = ground.coords(x, y);
    [plain, bare.compare(seen, light, at, ground.on_mark(at)).0]
}

/// Whether along most of the first answer's border cloth that cannot be sheet meets what may be sheet.
fn is_clear(evidence: &Evidence, labels: &[bool]) -> bool {
    let (w, h) = (evidence.width, evidence.height);
    let (mut clear, mut all) = (0usize, 0usize);
    for y in DEEP..h.saturating_sub(DEEP) {
        for step in [1, w] {
            let rows = [0, step].map(|by| &labels[y * w + DEEP + by..][..w.saturating_sub(2 * DEEP)]);
            for (x, _) in rows[0].iter().zip(rows[1]).enumerate().filter(|(_, (a, b))| a != b) {
                let n = y * w + DEEP + x;
                let (inside, outside) = if labels[n] { (n - 3 * step, n + 4 * step) } else { (n + 4 * step, n - 3 * step) };
                all += 1;
                clear += usize::from(evidence.tell[inside] == Tell::Other && evidence.tell[outside] != Tell::Other);
            }
        }
    }
    2 * clear > all
}

/// Colours well inside and well outside the first answer.
struct Looks {
    cloth: Counts,
    /// From this count on a colour is common on the cloth.
    common: f32,
    /// Against bare sheet as it would be there.
    sheet: Counts,
    /// The shadows' colour.
    turn: Turn,
    /// Whether roughness must be asked, too.
    alike: bool,
}

impl Looks {
    /// From the light of pixels well inside, of those of them near the border, and of those well outside.
    fn of(cells: Cells) -> Self {
        // Half of it from near the border, where an edging or a shown allowance may be all there is.
        let cloth = Counts::of(cells.inside).and(&Counts::of(cells.strip), 0.5);
        let common = COMMON * cloth.0.iter().copied().fold(0.0, f32::max);
        let plain = Counts::of(cells.plain);
        let alike = cloth.overlap(&plain) > ALIKE;
        let sheet = cells.bare.map_or(plain, Counts::of);
        Self { cloth, common, sheet, turn: cells.turn, alike }
    }

    /// What a pixel's colour says for cloth.
    #[inline]
    fn say(&self, [plain, bare]: [[f32; 3]; 2], noise: Noise) -> f32 {
        let seen = self.cloth.0[cell(plain)];
        let cloth = CLOTH[0] * seen + CLOTH[1] / ANY;
        let sheet = SHEET[0] * self.sheet.0[cell(bare)]
            + SHEET[1] * self.turn.likelihood(bare, noise, COLOUR * COLOUR) * SHADE * COLOUR * COLOUR
            + SHEET[2] / ANY;
        let said = BELIEF * ln(cloth / sheet);
        if seen > self.common { said.max(0.0) } else { said }
    }
}

/// Cells of colour that are counted, and the pixels.
#[derive(Default)]
struct Cells {
    inside: Vec<usize>,
    strip: Vec<usize>,
    /// Outside, against plain ground, and on a checker against what bare sheet would be there.
    plain: Vec<usize>,
    bare: Option<Vec<usize>>,
    /// The pixels inside and outside.
    pixels: [Vec<usize>; 2],
    /// How shadow turns the sheet's colour.
    turn: Turn,
    /// Whether the first answer took shadow for cloth.
    shaded: bool,
}

impl Cells {
    /// Of the pixels well inside and well outside the first answer; every third row is plenty.
    ///
    /// What is `cast` shadow of them belongs to neither.
    fn of(ground: &Ground, bare: &Bare, evidence: &Evidence, labels: &[bool], not: &[bool], cast: Option<&[bool]>) -> Self {
        let (w, h) = (evidence.width, evidence.height);
        let [far, near, strip] = [(not, CORE), (labels, CORE), (not, STRIP)].map(|(from, reach)| spread(from, w, h, reach));
        let mut out = Self { bare: bare.filled.map(|_| Vec::new()), ..Self::default() };
        let (mut coords, mut lights) = (Vec::new(), Vec::new());
        let (mut inside, mut outside, mut faded, mut shadow) = (Vec::new(), Vec::new(), Vec::new(), Vec::new());
        for y in (0..h).step_by(3) {
            ground.row(y, &mut coords);
            bare.light.row(y, w, &mut lights);
            for (x, n) in (y * w..(y + 1) * w).enumerate() {
                let is_inside = !far[n];
                if labels[n] && cast.is_some_and(|cast| cast[n]) {
                    shadow.push(ratio(ground.level.rgb[n], lights[x]));
                    continue;
                }
                if !is_inside && labels[n] && fades(evidence, labels, n) {
                    faded.push(ratio(ground.level.rgb[n], lights[x]));
                }
                if !is_inside && (near[n] || evidence.tell[n] != Tell::Open || !ground.within(coords[x][0], coords[x][1], 0.0)) {
                    continue;
                }
                let seen = ground.level.rgb[n];
                let plain = ratio(seen, lights[x]);
                if is_inside {
                    inside.push((n, plain));
                    continue;
                }
                out.pixels[1].push(n);
                out.plain.push(cell(plain));
                outside.push(plain);
                let at = coords[x];
                let expected = || cell(bare.compare(seen, lights[x], at, ground.on_mark(at)).0);
                out.bare.iter_mut().for_each(|b| b.push(expected()));
            }
        }
        if let Some(turn) = cast.and_then(|_| Turn::cast(&shadow)) {
            (out.shaded, out.turn) = (true, turn);
            out.counted(inside, |n| strip[n]);
            return out;
        }
        out.shaded = faded.len() as f32 > TAKEN_IN * inside.len() as f32;
        if out.shaded {
            out.turn = Turn::of(&faded).or_else(|| Turn::of(&outside)).unwrap_or_default();
            let share = out.like_shadow(&inside, |n| !strip[n], bare.noise);
            if share > SOME_LIKE_SHADOW {
                out.turn = out.turn.shallow(brightest(&inside, |n| !strip[n]));
            }
            out.leave_out_shadow(&mut inside, |n| !strip[n], bare.noise, |n| fades(evidence, labels, n));
        }
        out.counted(inside, |n| strip[n]);
        out
    }

    /// Takes in what lies inside, some of it in the strip near the border.
    fn counted(&mut self, inside: Vec<(usize, [f32; 3])>, strip: impl Fn(usize) -> bool) {
        self.inside = inside.iter().map(|(_, r)| cell(*r)).collect();
        self.strip = inside.iter().filter(|(n, _)| strip(*n)).map(|(_, r)| cell(*r)).collect();
        self.pixels[0] = inside.into_iter().map(|(n, _)| n).collect();
    }

    /// Share of the cloth's depths that look like shadow.
    fn like_shadow(&self, inside: &[(usize, [f32; 3])], deep: impl Fn(usize) -> bool, noise: Noise) -> f32 {
        let depths = inside.iter().filter(|(n, _)| deep(*n));
        let (dim, all) = depths.fold((0usize, 0usize), |(dim, all), (_, r)| (dim + usize::from(self.turn.explains(*r, noise)), all + 1));
        dim as f32 / all.max(1) as f32
    }

    /// Leaves shadow out of what lies inside: where the depths of the cloth look like no shadow, what fades out softly near its
    /// border is some that was taken in; and if most of what looks like shadow fades, so does the rest, whose end is not in view.
    fn leave_out_shadow(
        &self,
        inside: &mut Vec<(usize, [f32; 3])>,
        deep: impl Fn(usize) -> bool,
        noise: Noise,
        fades: impl Fn(usize) -> bool,
    ) {
        let explained = |r: [f32; 3]| self.turn.explains(r, noise);
        let dim: Vec<usize> = inside.iter().filter(|(_, r)| explained(*r)).map(|(n, _)| *n).collect();
        if self.like_shadow(inside, deep, noise) < LIKE_SHADOW {
            let most = 2 * dim.iter().filter(|n| fades(**n)).count() > dim.len();
            inside.retain(|&(n, r)| !(explained(r) && (most || fades(n))));
        }
    }
}

/// Shade of the brightest of the cloth's depths, but for a twentieth, which may be shadow itself.
fn brightest(inside: &[(usize, [f32; 3])], deep: impl Fn(usize) -> bool) -> f32 {
    let mut all: Vec<f32> = inside.iter().filter(|(n, _)| deep(*n)).map(|(_, r)| shade(*r)).collect();
    let few = all.len() / 20;
    if all.is_empty() { 0.0 } else { *all.select_nth_unstable_by(few, |a, b| b.total_cmp(a)).1 }
}

/// What is to be done after a second look.
pub(super) enum Learned {
    /// Nothing, as there is too little to learn from.
    Nothing,
    /// These pixels should be settled anew: those near the border, which is clear for the most part.
    Some(Vec<bool>),
    /// All should be.
    All,
}

/// Adds to the evidence what the first answer's inside and outside look like: near the border where most of that is clear,
/// otherwise everywhere.
pub(super) fn learn(ground: &Ground, bare: &Bare, evidence: &mut Evidence, labels: &[bool]) -> Learned {
    let (w, h) = (evidence.width, evidence.height);
    let not: Vec<bool> = labels.iter().map(|l| !l).collect();
    let cast = lamps::cast(ground, bare, evidence, labels, &not);
    let mut cells = Cells::of(ground, bare, evidence, labels, &not, cast.as_deref());
    let pixels = std::mem::take(&mut cells.pixels);
    if pixels.iter().any(|p| p.len() < FEW) {
        return Learned::Nothing;
    }
    let shaded = cells.shaded;
    let looks = Looks::of(cells);
    let open = is_clear(evidence, labels).then(|| {
        let (near, far) = (spread(labels, w, h, BAND), spread(&not, w, h, BAND));
        let mut open: Vec<bool> = near.into_iter().zip(far).map(|(a, b)| a & b).collect();
        if let Some(cast) = &cast {
            open.iter_mut().zip(cast).for_each(|(open, cast)| *open |= cast);
        } else if shaded {
            let explained = |n: usize| looks.turn.explains(ratios(ground, bare, n)[0], bare.noise);
            open.par_iter_mut().enumerate().filter(|(n, open)| !**open && labels[*n]).for_each(|(n, open)| *open = explained(n));
        }
        open
    });
    let rough = looks.alike.then(|| by_roughness(evidence, &pixels[0], &pixels[1]));
    let (lean, tell) = (&mut evidence.lean, &mut evidence.tell);
    lean.par_chunks_mut(w).zip(tell.par_chunks_mut(w)).enumerate().for_each(|(y, (leans, tells))| {
        let open = open.as_ref().map(|open| &open[y * w..(y + 1) * w]);
        if open.is_some_and(|open| !open.contains(&true)) {
            return;
        }
        for (x, (lean, tell)) in leans.iter_mut().zip(tells).enumerate() {
            let n = y * w + x;
            if open.is_some_and(|open| !open[x]) || *tell == Tell::Mark {
                continue;
            }
            if cast.as_ref().is_some_and(|cast| cast[n]) {
                (*tell, *lean) = (Tell::Open, -SAY);
                continue;
            }
            let said = looks.say(ratios(ground, bare, n), bare.noise);
            let sum = said.clamp(-SAY, SAY) + rough.as_ref().map_or(0.0, |r| r[n]);
            match tell {
                // A colour that the shadows have speaks for cloth no longer.
                Tell::Open if shaded && said < DISOWNED => *lean = lean.min(0.0) + sum,
                Tell::Open => *lean += sum,
                // Too dark for an ordinary shadow, or of another colour, but not the cloth's.
                Tell::Other if said < DISOWNED => (*tell, *lean) = (Tell::Open, sum),
                _ => {}
            }
        }
    });
    open.map_or(Learned::All, Learned::Some)
}
