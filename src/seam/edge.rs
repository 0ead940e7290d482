//! The model of a cloth's blurred edge on a sheet, and its fit to a profile of light across it.
//!
//! Across the edge at offset d (inside is negative) the light of a channel is
//!
//! > cloth · (1 − roll) up to d, sheet · (1 − shadow − ruling) beyond it, blurred by the lens.
//!
//! Cloth bends down to the sheet within a length of about its thickness and turns darker or lighter there (*roll*); the
//! sheet is dimmed next to it where the cloth keeps light off it (*shadow*, an exponential, or a strip of even shade where a lamp casts one). A Gaussian blur makes the step an
//! error function; phones sharpen, which adds a narrow minus a wide blur. For a given d all strengths are linear, so
//! they are solved in closed form with weak priors (variable projection: Golub & Pereyra 1973) and only d is searched.
//!
//! The two sides are not treated alike. The sheet is known: its level, shadow and slope are shared by the channels in the
//! paper's own proportions, so that a stripe of cloth can't pass for shadowed sheet. The cloth may be anything: its rows
//! count less the farther they are inside, and rows that stand out are discounted.

use super::factor::{Normal, TERMS, Terms};
use super::shapes::{Shape, Table};
use super::strengths::{Belief, INK, Prior, SHEET, Settled, settle};
use crate::solve::median;

/// Offsets at which the edge is tried, mm: from minus to plus this, in steps a parabola bridges.
const NODE_MOST: f64 = 1.2;
const NODE_STEP: f64 = 0.05;
pub(super) const NODES: usize = 49;

/// Offset of the edge at a node, mm.
pub(super) fn node(k: usize) -> f64 {
    k as f64 * NODE_STEP - NODE_MOST
}

/// The model laid out on the rows of a band for every node: what all places of one scale share.
pub(super) struct Plan {
    offset: Vec<f64>,
    nodes: Vec<Node>,
    sigma: f64,
}

struct Node {
    terms: Vec<Terms>,
    /// Products of terms summed over rows by trust, lower half; ruling left out.
    normal: Normal,
}

impl Plan {
    /// For rows at `offset` mm that count `trust` each and a cast shadow `cast` mm wide; every `every`-th node only.
    pub fn new(shape: Shape, cast: f64, offset: &[f64], trust: &[f64], every: usize) -> Self {
        let table = Table::new(shape, cast);
        let lay = |k: usize| {
            if !k.is_multiple_of(every) {
                return Node { terms: Vec::new(), normal: [[0.0; TERMS]; TERMS] };
            }
            let terms: Vec<Terms> = offset
                .iter()
                .map(|o| {
                    let x = o - node(k);
                    let [cloth, roll, slope, shadow] = table.at(x);
                    [0.0, cloth, roll, slope, 1.0 - cloth, shadow, x - slope, 0.0]
                })
                .collect();
            let mut normal = [[0.0; TERMS]; TERMS];
            terms.iter().zip(trust).for_each(|(b, w)| add(&mut normal, b, *w));
            Node { terms, normal }
        };
        Self { offset: offset.to_vec(), nodes: (0..NODES).map(lay).collect(), sigma: shape.sigma }
    }

    /// The blur it was made for, mm.
    pub fn sigma(&self) -> f64 {
        self.sigma
    }
}

/// Adds a row's products to the lower half.
#[inline]
fn add(normal: &mut Normal, b: &Terms, w: f64) {
    for r in 0..TERMS {
        let v = w * b[r];
        for c in 0..=r {
            normal[r][c] += v * b[c];
        }
    }
}

/// Light across the edge on the rows of a plan, averaged over a stretch of it.
#[derive(Clone, Debug)]
pub(super) struct Profile {
    light: Vec<[f64; 3]>,
    cover: Vec<f64>,
    weight: Vec<f64>,
    /// Light times weight.
    heavy: Vec<[f64; 3]>,
    /// Weighted squares of light.
    squares: [f64; 3],
    /// Whether every row was fully seen, and whether any is ruled.
    whole: bool,
    ruled: bool,
}

impl Profile {
    /// From each row's light, share of ink and weight, which is its trust where it was fully seen.
    pub fn new(light: Vec<[f64; 3]>, cover: Vec<f64>, weight: Vec<f64>, whole: bool) -> Self {
        let heavy: Vec<[f64; 3]> = light.iter().zip(&weight).map(|(v, w)| v.map(|x| x * w)).collect();
        let squares = std::array::from_fn(|k| heavy.iter().zip(&light).map(|(h, v)| h[k] * v[k]).sum());
        let ruled = cover.iter().any(|c| *c > 0.01);
        Self { light, cover, weight, heavy, squares, whole, ruled }
    }

    /// The median light of rows that pass, per channel.
    pub fn middle(&self, keep: impl Fn(usize) -> bool) -> Option<[f64; 3]> {
        let rows: Vec<usize> = (0..self.light.len()).filter(|i| self.weight[*i] > 0.0 && keep(*i)).collect();
        (!rows.is_empty())
            .then(|| std::array::from_fn(|c| median(&mut rows.iter().map(|i| self.light[*i][c]).collect::<Vec<_>>()).unwrap_or(0.0)))
    }
}

/// What is believed of any rim: most are darker than the cloth by some tenths, never by more than all of it.
pub(super) const ANY_ROLL: (f64, f64) = (-0.25, 0.3);
/// What is believed of any contact shadow: it takes a sixth, give or take a quarter.
pub(super) const ANY_SHADOW: (f64, f64) = (-0.15, 0.25);

/// The best model with its edge at a given place.
#[derive(Clone, Debug)]
pub(super) struct Fit {
    /// Residual squares over noise, priors included, rows that stand out bounded.
    pub misfit: f64,
    /// Light the rolled rim gains, of the cloth's.
    pub roll: f64,
    /// Light the contact shadow gains, of the paper's.
    pub shadow: f64,
    strengths: [Terms; 3],
}

impl Fit {
    fn of(settled: Settled, prior: &Prior) -> Self {
        let strengths = settled.strengths();
        Self { misfit: settled.misfit, roll: Settled::roll(&strengths, prior), shadow: settled.shared[1], strengths }
    }
}

/// Misfit per row and channel, of noise, from which on it is worth asking which rows stand out.
const POOR: f64 = 3.0;
/// Rows farther inside than this are cloth of any colour, mm.
const NEAR: f64 = 0.7;
/// Rows stand out beyond this many standard deviations: on the cloth, where they are soon ignored (Geman & McClure 1987),
/// and on the sheet, which is known better (Huber 1964).
const OUT_CLOTH: f64 = 5.0;
const OUT_SHEET: f64 = 5.0;

impl Profile {
    /// The best model with its edge at a node of the plan; `robust` when rows may stand out.
    pub fn fit(&self, plan: &Plan, belief: &Belief, at: usize, robust: bool) -> Fit {
        let plain = Fit::of(self.plain(plan, belief, at), &belief.prior);
        if !robust {
            return plain;
        }
        let calm = self.robust(plan, belief, at);
        if calm.misfit < plain.misfit { calm } else { plain }
    }

    /// What that model leaves, without its strengths.
    pub fn misfit(&self, plan: &Plan, belief: &Belief, at: usize, robust: bool) -> f64 {
        let plain = self.plain(plan, belief, at).misfit;
        if robust { self.robust(plan, belief, at).misfit.min(plain) } else { plain }
    }

    /// Whether a misfit is so large that it is worth asking which rows stand out.
    pub fn poor(&self, misfit: f64) -> bool {
        misfit > 3.0 * POOR * self.weight.iter().sum::<f64>()
    }

    /// The best model when every row counts as it is.
    #[inline(always)]
    fn plain(&self, plan: &Plan, belief: &Belief, at: usize) -> Settled {
        let spot = &plan.nodes[at];
        let mut right = [[0.0; TERMS + 1]; 3];
        for (b, y) in spot.terms.iter().zip(&self.heavy) {
            for (right, y) in right.iter_mut().zip(y) {
                for r in 0..TERMS + 1 {
                    right[r] += b[r] * y;
                }
            }
        }
        let mut normal = spot.normal;
        if !self.whole {
            normal = [[0.0; TERMS]; TERMS];
            spot.terms.iter().zip(&self.weight).for_each(|(b, w)| add(&mut normal, b, *w));
        }
        if self.ruled {
            for (i, b) in spot.terms.iter().enumerate() {
                let ink = b[SHEET] * self.cover[i];
                let w = self.weight[i] * ink;
                normal[INK][INK] += w * ink;
                (INK + 1..TERMS).for_each(|r| normal[r][INK] += w * b[r]);
                (0..3).for_each(|k| right[k][INK] += ink * self.heavy[i][k]);
            }
        }
        settle(&normal, &right, &self.squares, belief, self.ruled)
    }

    /// The best model when rows that stand out count less, their cost bounded.
    fn robust(&self, plan: &Plan, belief: &Belief, at: usize) -> Fit {
        let terms = self.terms(plan, at);
        // Ask the rows next to the edge first, then discount what does not go with them.
        let inner = |i: usize| plan.offset[i] < node(at) - NEAR;
        let weight: Vec<f64> = (0..terms.len()).map(|i| self.weight[i] * if inner(i) { 0.05 } else { 1.0 }).collect();
        let mut fit = self.weighted(&terms, &weight, belief);
        for _ in 0..2 {
            let (mut weight, mut bounded) = (self.weight.clone(), 0.0);
            for (i, w) in weight.iter_mut().enumerate() {
                let size = self.stands_out(&terms[i], i, &fit, &belief.prior);
                if inner(i) {
                    let keep = 1.0 / (1.0 + (size / OUT_CLOTH).powi(2));
                    bounded += 3.0 * *w * size * size * keep * (1.0 - keep);
                    *w *= keep * keep;
                } else if size > OUT_SHEET {
                    bounded += 3.0 * *w * OUT_SHEET * (size - OUT_SHEET);
                    *w *= OUT_SHEET / size;
                }
            }
            fit = self.weighted(&terms, &weight, belief);
            fit.misfit += bounded;
        }
        fit
    }

    /// All terms of every row, ruling included.
    fn terms(&self, plan: &Plan, at: usize) -> Vec<Terms> {
        let ruled = |(b, c): (&Terms, &f64)| [b[SHEET] * c, b[1], b[2], b[3], b[4], b[5], b[6], 0.0];
        plan.nodes[at].terms.iter().zip(&self.cover).map(ruled).collect()
    }

    fn weighted(&self, terms: &[Terms], weight: &[f64], belief: &Belief) -> Fit {
        let (mut normal, mut right, mut squares) = ([[0.0; TERMS]; TERMS], [[0.0; TERMS + 1]; 3], [0.0; 3]);
        for ((b, w), y) in terms.iter().zip(weight).zip(&self.light) {
            add(&mut normal, b, *w);
            for k in 0..3 {
                (0..TERMS).for_each(|r| right[k][r] += b[r] * w * y[k]);
                squares[k] += w * y[k] * y[k];
            }
        }
        Fit::of(settle(&normal, &right, &squares, belief, true), &belief.prior)
    }

    /// Size of a row's residual, in standard deviations.
    fn stands_out(&self, terms: &Terms, i: usize, fit: &Fit, prior: &Prior) -> f64 {
        let away = |k: usize| self.light[i][k] - dot(terms, &fit.strengths[k]);
        let sum: f64 = (0..3).map(|k| away(k).powi(2) / prior.noise[k]).sum();
        (sum / 3.0).sqrt()
    }

    /// Mean square of what a fit leaves over, per channel.
    pub fn left_over(&self, plan: &Plan, fit: &Fit, at: usize) -> [f64; 3] {
        let (mut sum, mut total) = ([0.0; 3], 0.0);
        for (i, b) in self.terms(plan, at).iter().enumerate() {
            total += self.weight[i];
            (0..3).for_each(|k| sum[k] += self.weight[i] * (self.light[i][k] - dot(b, &fit.strengths[k])).powi(2));
        }
        sum.map(|s| s / total.max(1e-9))
    }
}

fn dot(a: &Terms, b: &Terms) -> f64 {
    a.iter().zip(b).map(|(x, y)| x * y).sum()
}
