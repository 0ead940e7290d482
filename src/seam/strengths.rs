//! How strong each part of the edge model is: weighted least squares with weak priors, the strengths that the channels share eliminated last.

use super::factor::{Factor, Forms, Lanes, Normal, TERMS, Terms};
use nalgebra::{Matrix3, Vector3};
use std::array::from_fn;

/// Strengths per channel: ruling, cloth, roll, slope of cloth, sheet, shadow, slope of sheet. Ruling comes first, so that where there is none
/// nothing is reckoned of it; those that the channels share come last, so that they are eliminated last and cost least.
pub(super) const INK: usize = 0;
const CLOTH: usize = 1;
const ROLL: usize = 2;
const BENT: usize = 3;
pub(super) const SHEET: usize = 4;
/// Those whose strengths the channels share in the paper's proportions: sheet, shadow, slope of the sheet.
const SHARED: [usize; 3] = [SHEET, 5, 6];

/// Beliefs about the sheet beside the cloth: its level is nearly the paper's; it brightens away from the cloth by some
/// hundredths a millimetre.
const LEVEL: (f64, f64) = (0.9, 0.3);
const SLOPE: (f64, f64) = (0.02, 0.06);
/// How far a channel may depart from the shared strengths, of paper: cloth throws some of its own colour on the sheet.
const APART: [f64; 3] = [0.03, 0.03, 0.008];

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

/// The same as equations, made once for all offsets at which the edge is tried.
pub(super) struct Belief {
    pub prior: Prior,
    /// One over the noise; nothing of the fourth.
    scale: Lanes,
    /// What the priors add to the diagonal of each channel's own equations, to their right sides, and to the sum of squares.
    ridge: Forms,
    right: Forms,
    fixed: Lanes,
    /// What each shared strength adds to the right side of its own unknown, and to the squares.
    pull: [Lanes; 3],
    /// Shared strengths believed, and the equations with which they are.
    level: Vector3<f64>,
    square: Matrix3<f64>,
    side: Vector3<f64>,
    rest: f64,
}

impl Belief {
    /// Of a prior.
    ///
    /// Cloth changes by some hundredths a millimetre; ink is known from elsewhere to a quarter.
    pub fn of(prior: Prior) -> Self {
        let tie = |sd: f64| 1.0 / (sd * sd);
        // The fourth channel has nothing but a ridge, which keeps it definite.
        let (mut ridge, mut right, mut fixed, mut scale) = ([[1.0; 4]; TERMS], [[0.0; 4]; TERMS], [0.0; 4], [0.0; 4]);
        let belief = [LEVEL, prior.shadow, SLOPE].map(|(mean, sd)| (mean, tie(sd)));
        let mut square = Matrix3::from_diagonal(&Vector3::from(belief.map(|b| b.1)));
        let mut pull = [[0.0; 4]; 3];
        for k in 0..3 {
            let (c, s, noise) = (prior.cloth[k].max(1e-3), prior.paper[k].max(1e-3), prior.noise[k]);
            let ink = s * (prior.ink[k] - 1.0);
            let (mut mean, mut ties) = ([0.0; TERMS], [0.0; TERMS]);
            (mean[INK], mean[CLOTH], mean[ROLL]) = (ink, c, prior.roll.0 * c);
            (ties[INK], ties[ROLL], ties[BENT]) = (tie(0.25 * ink.abs() + 0.02 * s), tie(prior.roll.1 * c + 0.003), tie(0.05 * c + 0.001));
            (0..3).for_each(|j| ties[SHARED[j]] = tie(APART[j] * s));
            scale[k] = 1.0 / noise;
            for r in 0..TERMS {
                ridge[r][k] = noise * ties[r];
                right[r][k] = ridge[r][k] * mean[r];
                // What ruling alone adds, its own equation takes away again where there is none.
                fixed[k] += right[r][k] * mean[r];
            }
            for j in 0..3 {
                pull[j][k] = ridge[SHARED[j]][k] * s;
                square[(j, j)] += scale[k] * pull[j][k] * s;
            }
        }
        Self {
            prior,
            scale,
            ridge,
            right,
            fixed,
            pull,
            level: Vector3::from(belief.map(|b| b.0)),
            square,
            side: Vector3::from(belief.map(|b| b.0 * b.1)),
            rest: belief.iter().map(|b| b.0 * b.0 * b.1).sum(),
        }
    }
}

/// What is left over, and how to come by the strengths.
pub(super) struct Settled {
    pub misfit: f64,
    /// Of the sheet's level, shadow and slope, in the paper's proportions.
    pub shared: Vector3<f64>,
    /// Of each channel: its equations, its own part, and what each shared strength adds to that.
    factor: Factor,
    own: Forms,
    by: [Forms; 3],
}

/// The strengths that leave least, from the rows' products (`normal`), their light (`right`, by channel) and its `squares`. Most who ask want
/// to know the misfit alone: inlined, so that the rest is not made for them.
#[inline(always)]
pub(super) fn settle(normal: &Normal, right: &[Terms; 3], squares: &[f64; 3], belief: &Belief, ruled: bool) -> Settled {
    if ruled { from::<INK>(normal, right, squares, belief) } else { from::<CLOTH>(normal, right, squares, belief) }
}

/// The same of the strengths from the `FIRST` on.
#[inline(always)]
fn from<const FIRST: usize>(normal: &Normal, right: &[Terms; 3], squares: &[f64; 3], belief: &Belief) -> Settled {
    // With the shared strengths u: p = p0 + P u, misfit = uᵀ Q u - 2 qᵀ u + const, summed over the channels.
    let mut own = belief.right;
    (FIRST..TERMS).for_each(|r| (0..3).for_each(|k| own[r][k] += right[k][r]));
    // With A = L D Lᵀ all that the misfit needs are products of the forms L⁻¹ x: half the way to a solution.
    let factor = Factor::of::<FIRST>(normal, &belief.ridge);
    let own = factor.forward(own, FIRST);
    let by: [Forms; 3] = from_fn(|j| {
        let mut unit = [[0.0; 4]; TERMS];
        unit[SHARED[j]] = belief.pull[j];
        factor.forward(unit, SHARED[j])
    });
    let sum = |v: Lanes| v[0] * belief.scale[0] + v[1] * belief.scale[1] + v[2] * belief.scale[2];
    let (mut square, mut side) = (belief.square, belief.side);
    for j in 0..3 {
        side[j] += sum(factor.product(&by[j], &own, SHARED[j]));
        for i in 0..=j {
            let part = sum(factor.product(&by[i], &by[j], SHARED[j]));
            square[(i, j)] -= part;
            if i < j {
                square[(j, i)] -= part;
            }
        }
    }
    let taken = factor.product(&own, &own, FIRST);
    // Where nothing is ruled, the ink is as strong as it is believed to be, and costs nothing.
    let unasked: Lanes =
        if FIRST > INK { from_fn(|k| belief.right[INK][k] * belief.right[INK][k] / belief.ridge[INK][k]) } else { [0.0; 4] };
    let fixed: Lanes = from_fn(|k| if k < 3 { squares[k] + belief.fixed[k] - unasked[k] - taken[k] } else { 0.0 });
    let total = belief.rest + sum(fixed);
    let shared = square.try_inverse().map_or(belief.level, |inverse| inverse * side);
    Settled { misfit: (total - side.dot(&shared)).max(0.0), shared, factor, own, by }
}

impl Settled {
    /// Strengths of each channel; that of ink is nothing where none was asked for.
    pub fn strengths(&self) -> [Terms; 3] {
        let mut form = self.own;
        for ((first, by), shared) in SHARED.into_iter().zip(&self.by).zip(self.shared.iter()) {
            form.iter_mut().zip(by).skip(first).for_each(|(form, by)| (0..3).for_each(|k| form[k] += by[k] * shared));
        }
        let found = self.factor.backward(form);
        from_fn(|k| from_fn(|r| if r < TERMS { found[r][k] } else { 0.0 }))
    }

    /// Light the rolled rim gains, of the cloth's: of the channel that leads.
    pub fn roll(strengths: &[Terms; 3], prior: &Prior) -> f64 {
        strengths[1][ROLL] / prior.cloth[1].max(1e-3)
    }
}
