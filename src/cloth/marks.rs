//! Are the sheet's marks still there? The contrast of each bit of ruled line, each dot, cross or checker side, against
//! the contrast the same marks have where the sheet is bare.

use super::evidence::{Evidence, Tell};
use super::ground::{Ground, off_line, whole};
use super::ink::HEAVIEST;
use super::runs::{Run, Spot, gather, widened};
use crate::sheet::SheetKind;
use crate::solve::median;
use std::collections::BTreeMap;

/// Half the length of line judged together, level px: long enough to stand above the noise, short enough to place the rim.
const HALF: usize = 3;
/// What one pixel of line may say. Less than the two borders along it cost, so that a stretch of line alone turns
/// nothing, but a square of lines does.
const SAY: f32 = 1.5;
/// What a node may say at each of its pixels; a node stands alone where a line has neighbours.
const SAY_NODE: f32 = 8.0;
/// How much a contrast of another colour than the marks' (a stitch line, a fold) takes from its share.
const ODD: f32 = 1.5;
/// Cells along each side of the picture in which the usual contrast is learned; blur and distance change it slowly.
const CELLS: usize = 7;
/// Fewest bare runs that tell how strong a line is.
const FEW: usize = 3;

/// What a missing node counts at each of the four squares round it, in pixels of missing mark.
const NODE: u32 = 5;

/// How many pixels of missing mark there are round each square of the sheet.
pub(super) struct Gone {
    node: bool,
    range: [i32; 4],
    wide: usize,
    px: Vec<u32>,
}

impl Gone {
    /// Whether marks are missing on the sides of the square that holds these lattice coordinates.
    pub fn at(&self, a: f32, b: f32) -> bool {
        // Fewer than this are the rim itself, seen half.
        const FEW: u32 = 5;
        self.count(a, b) >= FEW
    }

    /// Whether the sheet has marks at its nodes only.
    pub fn by_nodes(&self) -> bool {
        self.node
    }

    /// Whether all four nodes round that square are missing.
    pub fn all_round(&self, a: f32, b: f32) -> bool {
        self.count(a, b) >= 4 * NODE
    }

    fn count(&self, a: f32, b: f32) -> u32 {
        let (i, j) = (whole(a) - self.range[0], whole(b) - self.range[2]);
        let inside = i >= 0 && j >= 0 && (i as usize) < self.wide && whole(b) <= self.range[3];
        if inside { self.px[j as usize * self.wide + i as usize] } else { 0 }
    }

    fn add(&mut self, i: i32, j: i32, count: u32) {
        if (self.range[0]..=self.range[1]).contains(&i) && (self.range[2]..=self.range[3]).contains(&j) {
            self.px[(j - self.range[2]) as usize * self.wide + (i - self.range[0]) as usize] += count;
        }
    }
}

/// The marks in view and what they look like on bare sheet.
pub(super) struct Marks {
    runs: Vec<Run>,
    node: bool,
    /// Usual logarithmic contrast, per channel, of the light over three pixels across a line.
    pub typical: [f32; 3],
    /// Share of the usual contrast, cell by cell.
    local: Vec<f32>,
    /// Scatter of the share over one judged length.
    pub scatter: f32,
    cell: [f32; 2],
    /// Share of the marks that are strong enough to speak.
    pub speaking: f32,
    /// Half-width of the strip a mark may darken, level px.
    reach: usize,
    /// Addresses looked at.
    pub range: [i32; 4],
    /// Which nodes of the range were seen.
    seen: Vec<bool>,
}

impl Marks {
    /// Measures every mark over the range of seen nodes widened by one square.
    pub fn measure(ground: &Ground) -> Self {
        let (runs, seen) = gather(ground);
        let node = matches!(ground.kind, SheetKind::Dots | SheetKind::Crosses);
        let usual = |r: &&Run| r.bare && (node || ground.heavy.usual(r.line().0, r.line().1));
        let typical = std::array::from_fn(|k| {
            let mut all: Vec<f64> = runs.iter().filter(usual).map(|r| f64::from(mean(&r.spots)[k])).collect();
            median(&mut all).unwrap_or_default() as f32
        });
        let cell = [ground.level.width as f32 / CELLS as f32, ground.level.height as f32 / CELLS as f32];
        let reach = (ground.mark + 1.3).ceil() as usize;
        let mut marks = Self {
            runs,
            node,
            typical,
            local: vec![1.0; CELLS * CELLS],
            scatter: 1.0,
            speaking: 0.0,
            cell,
            reach,
            range: widened(ground),
            seen,
        };
        if !node {
            marks.weigh(ground);
        }
        marks.learn();
        let speak = marks.runs.iter().filter(|r| marks.clear_at(r.factor)).count();
        marks.speaking = speak as f32 / marks.runs.len().max(1) as f32;
        marks
    }

    /// How strong each line is that is not of the usual weight: by its bare runs, or by what the lattice says.
    fn weigh(&mut self, ground: &Ground) {
        let mut shares: BTreeMap<(usize, i32), Vec<f64>> = BTreeMap::new();
        for run in self.runs.iter().filter(|r| r.bare && !ground.heavy.usual(r.line().0, r.line().1)) {
            shares.entry(run.line()).or_default().push(f64::from(self.share(mean(&run.spots))));
        }
        let measured: BTreeMap<(usize, i32), f32> =
            shares.iter_mut().filter(|s| s.1.len() >= FEW).filter_map(|(&line, s)| Some((line, median(s)? as f32))).collect();
        for run in &mut self.runs {
            let line = run.line();
            run.factor = measured.get(&line).copied().unwrap_or_else(|| ground.heavy.contrast(line.0, line.1)).clamp(0.2, HEAVIEST);
        }
    }

    /// Contrast in each cell of the picture (with its neighbours), then how much single lengths scatter about that.
    fn learn(&mut self) {
        let mut pools = vec![Vec::new(); CELLS * CELLS];
        for run in self.runs.iter().filter(|r| r.bare && !r.spots.is_empty()) {
            let at = run.spots[run.spots.len() / 2].at;
            pools[self.cell_of(at)].push(f64::from(self.share(mean(&run.spots)) / run.factor));
        }
        for j in 0..CELLS {
            for i in 0..CELLS {
                let mut near: Vec<f64> = (j.saturating_sub(1)..(j + 2).min(CELLS))
                    .flat_map(|v| (i.saturating_sub(1)..(i + 2).min(CELLS)).map(move |u| v * CELLS + u))
                    .flat_map(|n| pools[n].iter().copied())
                    .collect();
                if near.len() >= 12 {
                    self.local[j * CELLS + i] = (median(&mut near).unwrap_or_default() as f32).clamp(0.3, 2.0);
                }
            }
        }
        let mut off: Vec<f64> = self
            .runs
            .iter()
            .filter(|r| r.bare && !r.spots.is_empty())
            .map(|r| {
                let mid = r.spots.len() / 2;
                let part = &r.spots[mid.saturating_sub(HALF)..(mid + HALF + 1).min(r.spots.len())];
                f64::from((self.share(mean(part)) / self.local[self.cell_of(r.spots[mid].at)] - r.factor).abs())
            })
            .collect();
        self.scatter = (1.4826 * median(&mut off).unwrap_or_default()).max(0.05) as f32;
    }

    /// Whether the marks stand out enough to say anything.
    pub fn clear(&self) -> bool {
        self.speaking > 0.0
    }

    /// Whether marks so many times as strong as usual do.
    fn clear_at(&self, factor: f32) -> bool {
        factor * self.strength().sqrt() > 0.03 && self.scatter / factor < 0.45
    }

    /// Squared length of the usual contrast.
    pub fn strength(&self) -> f32 {
        self.typical.iter().map(|v| v * v).sum()
    }

    #[inline]
    fn share(&self, c: [f32; 3]) -> f32 {
        (0..3).map(|k| c[k] * self.typical[k]).sum::<f32>() / self.strength().max(1e-9)
    }

    /// What is left of a contrast when its share of the usual one is taken out, against the usual one.
    #[inline]
    fn odd(&self, c: [f32; 3], share: f32) -> f32 {
        let left = (0..3).map(|k| (c[k] - share * self.typical[k]).powi(2)).sum::<f32>();
        (left / self.strength().max(1e-9)).sqrt()
    }

    /// Share of the usual contrast that marks have about a level pixel.
    #[inline]
    pub fn share_at(&self, x: f32, y: f32) -> f32 {
        self.local[self.cell_of([x, y])]
    }

    /// The line that a pixel of these lattice coordinates and spacings is nearest to, when that runs bare between two seen
    /// nodes and no crossing line is near: axis, number of the line from the range's first, distance in bins.
    #[inline]
    pub fn bare_line(&self, ground: &Ground, [a, b, ga, gb]: [f32; 4]) -> Option<(usize, usize, usize)> {
        let (da, db) = (off_line(a) * ga, off_line(b) * gb);
        let axis = usize::from(db < da);
        let wide = [ground.heavy.width_at(0, a), ground.heavy.width_at(1, b)];
        let reach = (self.reach as f32).max(ground.mark * wide[1 - axis] + 1.3);
        if da.max(db) < reach || ground.on_disc([a, b, ga, gb]) || !(a.is_finite() && b.is_finite()) {
            return None;
        }
        let [i0, i1, j0, j1] = self.range;
        let columns = i1 - i0 + 1;
        let id = |i: i32, j: i32| ((i0..=i1).contains(&i) && (j0..=j1).contains(&j)).then(|| ((j - j0) * columns + i - i0) as usize);
        let (line, ends) = if axis == 0 {
            let (i, j) = (whole(a + 0.5), whole(b));
            (i - i0, [id(i, j)?, id(i, j + 1)?])
        } else {
            let (i, j) = (whole(a), whole(b + 0.5));
            (j - j0, [id(i, j)?, id(i + 1, j)?])
        };
        ends.iter().all(|&n| self.seen[n]).then(|| (axis, line as usize, super::ink::bin(da.min(db) / wide[axis])))
    }

    #[inline]
    fn cell_of(&self, at: [f32; 2]) -> usize {
        let u = ((at[0] / self.cell[0]).max(0.0) as usize).min(CELLS - 1);
        let v = ((at[1] / self.cell[1]).max(0.0) as usize).min(CELLS - 1);
        v * CELLS + u
    }

    /// Writes into `evidence` what the marks say: there, or gone. Returns where they are gone.
    pub fn vote(&self, evidence: &mut Evidence) -> Gone {
        let r = usize::from(self.node);
        let [i0, i1, j0, j1] = self.range;
        let wide = (i1 - i0 + 1) as usize;
        let mut gone = Gone { node: self.node, range: self.range, wide, px: vec![0; wide * (j1 - j0 + 1) as usize] };
        let mut votes: Vec<([f32; 2], f32)> = Vec::new();
        for run in self.runs.iter().filter(|r| self.clear_at(r.factor)) {
            let before = votes.len();
            votes.extend(self.judge(run, evidence));
            let missing = votes[before..].iter().filter(|v| v.1 > 0.0).count() as u32;
            let (i, j, down) = run.from;
            if self.node {
                [(0, 0), (1, 0), (0, 1), (1, 1)].iter().for_each(|(u, v)| gone.add(i - u, j - v, NODE * missing));
            } else {
                gone.add(i, j, missing);
                gone.add(i - i32::from(down), j - i32::from(!down), missing);
            }
        }
        for (at, said) in votes {
            let (x, y) = (at[0].round() as usize, at[1].round() as usize);
            for v in y.saturating_sub(r)..(y + r + 1).min(evidence.height) {
                for u in x.saturating_sub(r)..(x + r + 1).min(evidence.width) {
                    let n = v * evidence.width + u;
                    if evidence.tell[n] != Tell::Other {
                        evidence.lean[n] = said;
                        evidence.present[n] = said < 0.0;
                    }
                }
            }
            // No mark there: what is dark or light round its place is an edge like any other.
            if said > 0.0 {
                let reach = self.reach;
                for v in y.saturating_sub(reach)..(y + reach + 1).min(evidence.height) {
                    for u in x.saturating_sub(reach)..(x + reach + 1).min(evidence.width) {
                        let n = v * evidence.width + u;
                        if evidence.tell[n] == Tell::Mark {
                            evidence.tell[n] = Tell::Open;
                        }
                    }
                }
            }
        }
        gone
    }

    /// What each place of a run says. Places beside clear cloth are left out: there it is the cloth that spoils the mark.
    fn judge(&self, run: &Run, evidence: &Evidence) -> Vec<([f32; 2], f32)> {
        let spoilt = |s: &Spot| {
            let away = [s.beside[0] - s.at[0], s.beside[1] - s.at[1]];
            [-2.2, -1.6, -1.0, -0.5, 0.0, 0.5, 1.0, 1.6, 2.2]
                .iter()
                .any(|t| evidence.other_at(s.at[0] + t * away[0], s.at[1] + t * away[1]))
        };
        let good: Vec<&Spot> = run.spots.iter().filter(|s| !spoilt(s)).collect();
        let say = if self.node { SAY_NODE } else { SAY };
        (0..good.len())
            .filter_map(|k| {
                let part = &good[k.saturating_sub(HALF)..(k + HALF + 1).min(good.len())];
                // Where lines are close, most of what is left between the nodes must do.
                if !self.node && part.len() <= HALF.min(run.spots.len() / 2) {
                    return None;
                }
                let c: [f32; 3] = std::array::from_fn(|q| part.iter().map(|s| s.contrast[q]).sum::<f32>() / part.len() as f32);
                // Half the line's usual contrast is the watershed.
                let local = run.factor * self.local[self.cell_of(good[k].at)];
                let t = self.share(c) / local;
                let t = t - ODD * (self.odd(c, t * local) / local - 0.1).max(0.0);
                Some((good[k].at, ((0.5 - t) / 0.25).clamp(-1.0, 1.0) * say))
            })
            .collect()
    }
}

fn mean(spots: &[Spot]) -> [f32; 3] {
    let n = spots.len().max(1) as f32;
    std::array::from_fn(|k| spots.iter().map(|s| s.contrast[k]).sum::<f32>() / n)
}
