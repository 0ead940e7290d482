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

use super::factor::{Factor, Normal, TERMS, Terms};
use super::shapes::{Shape, Table};
use crate::solve::median;
use nalgebra::{Matrix3, Vector3};

/// Strengths per channel: cloth, roll, slope of cloth, ruling, sheet, shadow, slope of sheet. Those that the channels share come last, so
/// that they are eliminated last and cost least.
const ROLL: usize = 1;
const INK: usize = 3;
const SHEET: usize = 4;

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
                    [cloth, roll, slope, 0.0, 1.0 - cloth, shadow, x - slope, 0.0]
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

    /// Light, share of ink and weight of each row.
    pub fn rows(&self) -> impl Iterator<Item = ([f64; 3], f64, f64)> + '_ {
        self.light.iter().zip(&self.cover).zip(&self.weight).map(|((light, cover), weight)| (*light, *cover, *weight))
    }

    /// The median light of rows that pass, per channel.
    pub fn middle(&self, keep: impl Fn(usize) -> bool) -> Option<[f64; 3]> {
        let rows: Vec<usize> = (0..self.light.len()).filter(|i| self.weight[*i] > 0.0 && keep(*i)).collect();
        (!rows.is_empty())
            .then(|| std::array::from_fn(|c| median(&mut rows.iter().map(|i| self.light[*i][c]).collect::<Vec<_>>()).unwrap_or(0.0)))
    }
}

/// What is known of a place before it is fitted.
#[derive(Clone, Copy, Debug)]
pub(super) struct Prior {
    /// Light of the cloth a little inside.
    pub cloth: [f64; 3],
    /// Light of the bare paper near here.
    pub paper: [f64; 3],
    /// Light of ink over that of paper.
    pub ink: [f64; 3],
    /// Variance of a row's light, per channel.
    pub noise: [f64; 3],
    /// Light the rolled rim gains, of the cloth's, and its standard deviation.
    pub roll: (f64, f64),
    /// Light the contact shadow gains (less than nothing), of the paper's, and its standard deviation.
    pub shadow: (f64, f64),
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

/// Terms whose strengths the channels share in the paper's proportions: sheet, shadow, slope of the sheet.
const SHARED: [usize; 3] = [SHEET, 5, 6];
/// Beliefs about the sheet beside the cloth: its level is nearly the paper's; it brightens away from the cloth by some
/// hundredths a millimetre.
const LEVEL: (f64, f64) = (0.9, 0.3);
const SLOPE: (f64, f64) = (0.02, 0.06);
/// How far a channel may depart from the shared strengths, of paper: cloth throws some of its own colour on the sheet.
const APART: [f64; 3] = [0.03, 0.03, 0.008];
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
    pub fn fit(&self, plan: &Plan, prior: &Prior, at: usize, robust: bool) -> Fit {
        let plain = self.plain(plan, prior, at).fit(prior);
        if !robust {
            return plain;
        }
        let calm = self.robust(plan, prior, at);
        if calm.misfit < plain.misfit { calm } else { plain }
    }

    /// What that model leaves, without its strengths.
    pub fn misfit(&self, plan: &Plan, prior: &Prior, at: usize, robust: bool) -> f64 {
        let plain = self.plain(plan, prior, at).misfit;
        if robust { self.robust(plan, prior, at).misfit.min(plain) } else { plain }
    }

    /// Whether a misfit is so large that it is worth asking which rows stand out.
    pub fn poor(&self, misfit: f64) -> bool {
        misfit > 3.0 * POOR * self.weight.iter().sum::<f64>()
    }

    /// The best model when every row counts as it is.
    #[inline(always)]
    fn plain(&self, plan: &Plan, prior: &Prior, at: usize) -> Settled {
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
                (0..INK).for_each(|c| normal[INK][c] += w * b[c]);
                normal[INK][INK] += w * ink;
                (INK + 1..TERMS).for_each(|r| normal[r][INK] += w * b[r]);
                (0..3).for_each(|k| right[k][INK] += ink * self.heavy[i][k]);
            }
        }
        settle(&normal, &right, &self.squares, prior)
    }

    /// The best model when rows that stand out count less, their cost bounded.
    fn robust(&self, plan: &Plan, prior: &Prior, at: usize) -> Fit {
        let terms = self.terms(plan, at);
        // Ask the rows next to the edge first, then discount what does not go with them.
        let inner = |i: usize| plan.offset[i] < node(at) - NEAR;
        let weight: Vec<f64> = (0..terms.len()).map(|i| self.weight[i] * if inner(i) { 0.05 } else { 1.0 }).collect();
        let mut fit = self.weighted(&terms, &weight, prior);
        for _ in 0..2 {
            let (mut weight, mut bounded) = (self.weight.clone(), 0.0);
            for (i, w) in weight.iter_mut().enumerate() {
                let size = self.stands_out(&terms[i], i, &fit, prior);
                if inner(i) {
                    let keep = 1.0 / (1.0 + (size / OUT_CLOTH).powi(2));
                    bounded += 3.0 * *w * size * size * keep * (1.0 - keep);
                    *w *= keep * keep;
                } else if size > OUT_SHEET {
                    bounded += 3.0 * *w * OUT_SHEET * (size - OUT_SHEET);
                    *w *= OUT_SHEET / size;
                }
            }
            fit = self.weighted(&terms, &weight, prior);
            fit.misfit += bounded;
        }
        fit
    }

    /// All terms of every row, ruling included.
    fn terms(&self, plan: &Plan, at: usize) -> Vec<Terms> {
        let ruled = |(b, c): (&Terms, &f64)| [b[0], b[1], b[2], b[SHEET] * c, b[4], b[5], b[6], 0.0];
        plan.nodes[at].terms.iter().zip(&self.cover).map(ruled).collect()
    }

    fn weighted(&self, terms: &[Terms], weight: &[f64], prior: &Prior) -> Fit {
        let (mut normal, mut right, mut squares) = ([[0.0; TERMS]; TERMS], [[0.0; TERMS + 1]; 3], [0.0; 3]);
        for ((b, w), y) in terms.iter().zip(weight).zip(&self.light) {
            add(&mut normal, b, *w);
            for k in 0..3 {
                (0..TERMS).for_each(|r| right[k][r] += b[r] * w * y[k]);
                squares[k] += w * y[k] * y[k];
            }
        }
        settle(&normal, &right, &squares, prior).fit(prior)
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

/// What is left over, and how to come by the strengths.
struct Settled {
    misfit: f64,
    shared: Vector3<f64>,
    /// Of each channel: its equations, its own part, and what each shared strength adds to that.
    parts: [(Factor, Terms, [Terms; 3]); 3],
}

impl Settled {
    fn fit(self, prior: &Prior) -> Fit {
        let strengths = self.parts.map(|(factor, mut form, by)| {
            (0..3).for_each(|j| (SHARED[j]..TERMS).for_each(|r| form[r] += by[j][r] * self.shared[j]));
            factor.backward(form)
        });
        let roll = strengths[1][ROLL] / prior.cloth[1].max(1e-3);
        Fit { misfit: self.misfit, roll, shadow: self.shared[1], strengths }
    }
}

/// Weighted least squares, the shared strengths eliminated last. Most who ask want to know the misfit alone: inlined, so that the rest is not
/// made for them.
#[inline(always)]
fn settle(normal: &Normal, right: &[Terms; 3], squares: &[f64; 3], prior: &Prior) -> Settled {
    // With the shared strengths u: p = p0 + P u, misfit = uᵀ Q u - 2 qᵀ u + const, summed over the channels.
    let belief = [LEVEL, prior.shadow, SLOPE].map(|(mean, sd)| (mean, 1.0 / (sd * sd)));
    let mut q2 = Matrix3::from_diagonal(&Vector3::from(belief.map(|b| b.1)));
    let mut q1 = Vector3::from(belief.map(|b| b.0 * b.1));
    let mut total: f64 = belief.iter().map(|b| b.0 * b.0 * b.1).sum();
    let parts: [(Factor, Terms, [Terms; 3]); 3] = std::array::from_fn(|k| {
        let (mean, tie) = expect(prior, k);
        let (mut ridge, mut rhs, mut fixed) = ([0.0; TERMS + 1], right[k], squares[k]);
        for r in 0..TERMS {
            ridge[r] = prior.noise[k] * tie[r];
            rhs[r] += ridge[r] * mean[r];
            fixed += ridge[r] * mean[r] * mean[r];
        }
        // With A = L D Lᵀ all that the misfit needs are products of the forms L⁻¹ x: half the way to a solution.
        let factor = Factor::of(normal, &ridge);
        let own = factor.forward(rhs, 0);
        let pull: [f64; 3] = std::array::from_fn(|j| prior.noise[k] * tie[SHARED[j]] * prior.paper[k].max(1e-3));
        let by_shared: [Terms; 3] = std::array::from_fn(|j| {
            let mut unit = [0.0; TERMS + 1];
            unit[SHARED[j]] = pull[j];
            factor.forward(unit, SHARED[j])
        });
        let scale = 1.0 / prior.noise[k];
        for j in 0..3 {
            q2[(j, j)] += scale * pull[j] * prior.paper[k].max(1e-3);
            q1[j] += scale * factor.product(&by_shared[j], &own, SHARED[j]);
            (0..3).for_each(|i| q2[(i, j)] -= scale * factor.product(&by_shared[i], &by_shared[j], SHARED[i.max(j)]));
        }
        total += scale * (fixed - factor.product(&own, &own, 0));
        (factor, own, by_shared)
    });
    let shared = q2.try_inverse().map_or(Vector3::from(belief.map(|b| b.0)), |inverse| inverse * q1);
    Settled { misfit: (total - q1.dot(&shared)).max(0.0), shared, parts }
}

/// Means and inverse variances of a channel's own strengths, the shared ones apart (their means are added later).
///
/// Cloth changes by some hundredths a millimetre; ink is known from elsewhere to a quarter.
fn expect(prior: &Prior, k: usize) -> (Terms, Terms) {
    let (c, s) = (prior.cloth[k].max(1e-3), prior.paper[k].max(1e-3));
    let ink = s * (prior.ink[k] - 1.0);
    let tie = |sd: f64| 1.0 / (sd * sd);
    let apart = APART.map(|a| tie(a * s));
    (
        [c, prior.roll.0 * c, 0.0, ink, 0.0, 0.0, 0.0, 0.0],
        [0.0, tie(prior.roll.1 * c + 0.003), tie(0.05 * c + 0.001), tie(0.25 * ink.abs() + 0.02 * s), apart[0], apart[1], apart[2], 0.0],
    )
}
