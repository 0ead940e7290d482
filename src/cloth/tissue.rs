//! What tissue or clear film looks like on this sheet: beside bare sheet lies tissue, and the garment on that, so what many quarters of
//! squares near bare ones have in common is its look.

use super::evidence::apart;
use super::light::SheetLight;
use super::quarters::{Quarter, Quarters, bright};
use crate::solve::{linear, median};

/// Of the usual strength of marks at least this share is seen on bare sheet, and at most so many times that: an edge may look like a
/// stronger mark.
pub(super) const BARE: std::ops::Range<f32> = 0.8..1.5;
/// Quarters this far from bare ones, at least and at most, show tissue where there is any: nearer, its edge is in them.
const RING: std::ops::RangeInclusive<usize> = 2..=4;
/// Fewest of them that say what it looks like, and what share of them must agree.
const FEW: usize = 12;
const AGREE: f32 = 0.2;
/// How near quarters of tissue are to one another in light (natural logarithm, all channels together), at most; and what a difference in
/// the strength of marks, as a share of the usual, counts against one in light.
const ALIKE: f32 = 0.15;
const MARKS: f32 = 0.5;
/// Marks that are so many times as strong as they scatter are seen, and not guessed.
const CLEAR: f32 = 2.0;
/// Share of the marks' strength that is left below tissue. Less is no tissue that could be told from cloth.
const LEFT: std::ops::Range<f32> = 0.12..0.88;
/// Light (natural logarithm) that differs by so much tells tissue from bare sheet by itself.
const TINTED: f32 = 0.4;
/// Rounds in which the strength of marks on bare sheet is fitted.
const ROUNDS: usize = 4;

/// How strong marks are on bare sheet, over the sheet: their natural logarithm is a plane, as they get smaller with distance and
/// fainter with blur.
pub(super) struct Usual([f64; 3]);

impl Usual {
    /// From quarters whose nodes are seen; begins where marks are strongest.
    pub fn of(quarters: &Quarters) -> Option<Self> {
        let seen: Vec<([f64; 2], f64)> = (0..quarters.all.len())
            .filter_map(|n| Some((n, quarters.all[n].filter(|q| q.seen)?)))
            .map(|(n, q)| (quarters.place(n), f64::from(q.contrast())))
            .filter(|(_, v)| *v > 0.0)
            .collect();
        let mut all: Vec<f64> = seen.iter().map(|s| s.1).collect();
        if all.len() < FEW {
            return None;
        }
        all.sort_by(f64::total_cmp);
        let strong = all[all.len() - all.len().div_ceil(20)];
        let mut usual = Self([strong.ln(), 0.0, 0.0]);
        for _ in 0..ROUNDS {
            let near: Vec<_> = seen.iter().filter(|(at, v)| BARE.contains(&((v / usual.at(*at)) as f32))).collect();
            let rows: Vec<Vec<f64>> = near.iter().map(|(at, _)| vec![1.0, at[0], at[1]]).collect();
            let right: Vec<f64> = near.iter().map(|s| s.1.ln()).collect();
            usual.0 = linear(&rows, &right, &vec![1.0; rows.len()])?.values.as_slice().try_into().ok()?;
        }
        Some(usual)
    }

    fn at(&self, [x, y]: [f64; 2]) -> f64 {
        (self.0[0] + self.0[1] * x + self.0[2] * y).exp()
    }

    /// Strength of a quarter's marks against its own ground, as a share of what is usual there on bare sheet.
    pub fn share(&self, quarters: &Quarters, n: usize, q: &Quarter) -> f32 {
        q.contrast() / self.at(quarters.place(n)) as f32
    }
}

/// How a quarter looks against the bare sheet: natural logarithm of its ground's light, and share of the marks that is seen.
#[derive(Clone, Copy, Debug)]
pub(super) struct Look {
    pub light: [f32; 3],
    pub marks: f32,
    /// By how much light and marks scatter, where it is the look of several.
    scatter: [f32; 2],
}

impl Look {
    /// Of one quarter.
    pub fn of(quarters: &Quarters, n: usize, q: &Quarter, light: &SheetLight, usual: &Usual) -> Self {
        let bare = light.at_level(q.at.x as f32, q.at.y as f32);
        let ratio = std::array::from_fn(|k| (q.at.rgb[k].max(1e-4) / bare[k].max(1e-4)).ln());
        Self { light: ratio, marks: usual.share(quarters, n, q) * bright(q.at.rgb) / bright(bare).max(1e-4), scatter: [0.0; 2] }
    }

    /// Of tissue, by the quarters in the ring round bare ones. Of several looks that are common there one of another light than bare
    /// sheet's goes first: on a mat some lines are of another weight than is known of them.
    pub fn of_tissue(quarters: &Quarters, bare: &[bool], light: &SheetLight, usual: &Usual) -> Option<Self> {
        let far = quarters.steps_from(bare);
        let ring = (0..far.len()).filter(|n| RING.contains(&far[*n]));
        let mut ring: Vec<Self> = ring.filter_map(|n| Some(Self::of(quarters, n, quarters.all[n].as_ref()?, light, usual))).collect();
        let few = FEW.max((AGREE * ring.len() as f32) as usize);
        let mut faint = None;
        while let Some((look, others)) = commonest(&ring, few) {
            let seen = look.marks > CLEAR * look.scatter[1] && LEFT.contains(&look.marks);
            if seen && look.tinted() {
                return Some(look);
            }
            faint = faint.or(seen.then_some(look));
            ring = others;
        }
        faint
    }

    /// Whether the light alone tells it from bare sheet.
    pub fn tinted(&self) -> bool {
        apart(self.light, [0.0; 3]) > TINTED
    }

    /// Whether a quarter that looks so is one of tissue that looks like `self`.
    pub fn holds(&self, seen: &Self) -> bool {
        let faint = self.tinted() || seen.marks < BARE.start;
        faint && seen.marks > 0.5 * self.marks && apart(seen.light, self.light) < self.within()
    }

    /// Whether a quarter that looks so has the light of bare sheet.
    pub fn bare(&self, seen: &Self) -> bool {
        apart(seen.light, [0.0; 3]) < self.within()
    }

    /// How far in light one quarter may be from the others.
    fn within(&self) -> f32 {
        (3.0 * self.scatter[0] + 0.05).clamp(0.08, 0.25)
    }

    fn alike(&self, other: &Self) -> bool {
        apart(self.light, other.light).hypot(MARKS * (self.marks - other.marks)) < ALIKE
    }
}

/// The commonest look, and what looks otherwise. `None` where fewer than `few` look alike.
fn commonest(ring: &[Look], few: usize) -> Option<(Look, Vec<Look>)> {
    let near = |look: &Look| ring.iter().filter(|q| q.alike(look)).collect::<Vec<_>>();
    let middle =
        |of: &[&Look], f: &dyn Fn(&Look) -> f32| median(&mut of.iter().map(|q| f64::from(f(q))).collect::<Vec<_>>()).map(|v| v as f32);
    // Some hundred are tried as the middle: the one with most others near it.
    let step = ring.len().div_ceil(200).max(1);
    let mut look = ring.iter().step_by(step).max_by_key(|look| near(look).len()).copied()?;
    for _ in 0..ROUNDS {
        let members = near(&look);
        look.light = [middle(&members, &|q| q.light[0])?, middle(&members, &|q| q.light[1])?, middle(&members, &|q| q.light[2])?];
        look.marks = middle(&members, &|q| q.marks)?;
    }
    let members = near(&look);
    if members.len() < few {
        return None;
    }
    let light = middle(&members, &|q| apart(q.light, look.light))?;
    look.scatter = [light, 1.4826 * middle(&members, &|q| (q.marks - look.marks).abs())?];
    Some((look, ring.iter().filter(|q| !q.alike(&look)).copied().collect()))
}
