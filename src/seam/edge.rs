//! The model of a cloth's blurred edge on a sheet, and its fit to a profile of light across it.
//!
//! Across the edge at offset d (inside is negative) the light of a channel is
//!
//! > cloth · (1 − roll) up to d, sheet · (1 − shadow − ruling) beyond it, blurred by the lens.
//!
//! Cloth bends down to the sheet within a length of about its thickness and turns darker or lighter there (*roll*); the
//! sheet is dimmed next to it where the cloth keeps light off it (*shadow*, an exponential). A Gaussian blur makes the step an
//! error function; phones sharpen, which adds a narrow minus a wide blur. For a given d all strengths are linear, so
//! they are solved in closed form with weak priors (variable projection: Golub & Pereyra 1973) and only d is searched.
//!
//! The two sides are not treated alike. The sheet is known: its level, shadow and slope are shared by the channels in the
//! paper's own proportions, so that a stripe of cloth can't pass for shadowed sheet. The cloth may be anything: its rows
//! count less the farther they are inside, and rows that stand out are discounted.

use nalgebra::{Matrix3, SMatrix, SVector, Vector3};

/// Strengths per channel: cloth, sheet, roll, shadow, slope of cloth, slope of sheet, ruling.
const TERMS: usize = 7;
type Terms = SVector<f64, TERMS>;
type Normal = SMatrix<f64, TERMS, TERMS>;

/// What all places of a picture share.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Shape {
    /// Blur, mm.
    pub sigma: f64,
    /// Length over which the cloth rolls down, mm.
    pub roll: f64,
    /// Strength of sharpening.
    pub sharpen: f64,
}

/// Length over which the contact shadow fades, mm; its slope is free besides.
const SHADOW: f64 = 2.0;
/// Tables reach this far from the edge, mm, in steps of `TABLE_STEP`; the finest blur met is ten steps wide.
const TABLE_REACH: f64 = 8.0;
const TABLE_STEP: f64 = 0.01;
/// A sharpening filter's wide part is about this much wider than the picture's blur.
const HALO: f64 = 3.0;

/// The model's shapes as functions of the distance from the edge.
pub(super) struct Table {
    /// Blurred cloth, roll, cloth's slope, shadow; per distance.
    rows: Vec<[f32; 4]>,
    sigma: f64,
}

impl Table {
    pub fn new(shape: Shape) -> Self {
        let n = (2.0 * TABLE_REACH / TABLE_STEP) as usize + 1;
        let x = |k: usize| k as f64 * TABLE_STEP - TABLE_REACH;
        let raw: Vec<[f64; 4]> = (0..n)
            .map(|k| {
                let x = x(k);
                let inside = if x.abs() < 0.5 * TABLE_STEP { 0.5 } else { f64::from(x < 0.0) };
                [inside, inside * (1.0 + x / shape.roll).clamp(0.0, 1.0).powi(2), inside * x, (1.0 - inside) * (-x.max(0.0) / SHADOW).exp()]
            })
            .collect();
        let (narrow, wide) = (blurred(&raw, shape.sigma), blurred(&raw, HALO * shape.sigma));
        let b = shape.sharpen;
        let mix = |n: &[f64; 4], w: &[f64; 4]| std::array::from_fn(|c| ((1.0 + b) * n[c] - b * w[c]) as f32);
        Self { rows: narrow.iter().zip(&wide).map(|(n, w)| mix(n, w)).collect(), sigma: shape.sigma }
    }

    /// Its blur, mm.
    pub fn sigma(&self) -> f64 {
        self.sigma
    }

    #[inline]
    fn at(&self, x: f64) -> [f64; 4] {
        let u = ((x + TABLE_REACH) / TABLE_STEP).clamp(0.0, (self.rows.len() - 2) as f64);
        let (k, t) = (u as usize, (u - u.floor()) as f32);
        let (a, b) = (&self.rows[k], &self.rows[k + 1]);
        std::array::from_fn(|c| f64::from(a[c] + (b[c] - a[c]) * t))
    }
}

/// Gaussian blur of tabulated functions by three box passes (their variances add up; Wells 1986), ends held.
fn blurred(raw: &[[f64; 4]], sigma: f64) -> Vec<[f64; 4]> {
    let s = sigma / TABLE_STEP;
    // A box of 2r + 1 cells has variance r (r + 1) / 3; the three radii share what is asked for.
    let r = ((1.0 + 4.0 * s * s).sqrt() - 1.0) / 2.0;
    let low = r.floor() as usize;
    let of = |r: usize| (r * (r + 1)) as f64 / 3.0;
    let many = ((s * s - 3.0 * of(low)) / (of(low + 1) - of(low))).round().clamp(0.0, 3.0) as usize;
    let mut out = raw.to_vec();
    for pass in 0..3 {
        out = boxed(&out, if pass < many { low + 1 } else { low });
    }
    out
}

fn boxed(raw: &[[f64; 4]], r: usize) -> Vec<[f64; 4]> {
    let n = raw.len() as isize;
    let at = |k: isize| raw[k.clamp(0, n - 1) as usize];
    let mut sum = (-(r as isize)..=r as isize).map(at).fold([0.0; 4], |s, v| std::array::from_fn(|c| s[c] + v[c]));
    let scale = 1.0 / (2 * r + 1) as f64;
    (0..n)
        .map(|k| {
            let out = sum.map(|v| v * scale);
            let (gone, new) = (at(k - r as isize), at(k + r as isize + 1));
            sum = std::array::from_fn(|c| sum[c] + new[c] - gone[c]);
            out
        })
        .collect()
}

/// Light across the edge, averaged over a stretch of it.
#[derive(Clone, Debug, Default)]
pub(super) struct Profile {
    /// Offsets of the rows that were seen, mm.
    pub offset: Vec<f64>,
    /// Light of each row.
    pub light: Vec<[f64; 3]>,
    /// Share of ink on the sheet at each row.
    pub cover: Vec<f64>,
    /// Weight of each row, 1 when fully seen.
    pub weight: Vec<f64>,
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
const SHARED: [usize; 3] = [1, 3, 5];
/// Beliefs about the sheet beside the cloth: its level is nearly the paper's; it brightens away from the cloth by some
/// hundredths a millimetre.
const LEVEL: (f64, f64) = (0.9, 0.3);
const SLOPE: (f64, f64) = (0.02, 0.06);
/// How far a channel may depart from the shared strengths, of paper: cloth throws some of its own colour on the sheet.
const APART: [f64; 3] = [0.03, 0.03, 0.008];
/// Misfit per row from which on it is worth asking which rows stand out.
const POOR: f64 = 3.0;
/// Rows farther inside than this are cloth of any colour, mm.
const NEAR: f64 = 0.7;
/// Rows stand out beyond this many standard deviations: on the cloth, where they are soon ignored (Geman & McClure 1987),
/// and on the sheet, which is known better (Huber 1964).
const OUT_CLOTH: f64 = 5.0;
const OUT_SHEET: f64 = 5.0;

impl Profile {
    /// The best model with its edge at `d`.
    pub fn fit(&self, table: &Table, prior: &Prior, d: f64) -> Fit {
        let terms: Vec<[f64; TERMS]> = (0..self.offset.len()).map(|i| self.terms(table, i, d)).collect();
        let plain = self.solve(&terms, &self.weight, prior);
        let rows: f64 = self.weight.iter().sum();
        if plain.misfit < 3.0 * POOR * rows {
            return plain;
        }
        // Ask the rows next to the edge first, then discount what does not go with them.
        let near = |i: usize| if self.offset[i] < d - NEAR { 0.05 } else { 1.0 };
        let weight: Vec<f64> = self.weight.iter().enumerate().map(|(i, w)| w * near(i)).collect();
        let mut fit = self.solve(&terms, &weight, prior);
        for _ in 0..2 {
            let (mut weight, mut bounded) = (self.weight.clone(), 0.0);
            for (i, w) in weight.iter_mut().enumerate() {
                let size = self.stands_out(&terms[i], i, &fit, prior);
                if self.offset[i] < d - NEAR {
                    let keep = 1.0 / (1.0 + (size / OUT_CLOTH).powi(2));
                    bounded += 3.0 * *w * size * size * keep * (1.0 - keep);
                    *w *= keep * keep;
                } else if size > OUT_SHEET {
                    bounded += 3.0 * *w * OUT_SHEET * (size - OUT_SHEET);
                    *w *= OUT_SHEET / size;
                }
            }
            fit = self.solve(&terms, &weight, prior);
            fit.misfit += bounded;
        }
        if fit.misfit < plain.misfit { fit } else { plain }
    }

    /// Size of a row's residual, in standard deviations.
    fn stands_out(&self, terms: &[f64; TERMS], i: usize, fit: &Fit, prior: &Prior) -> f64 {
        let b = SVector::from(*terms);
        let sum: f64 = (0..3).map(|k| (self.light[i][k] - b.dot(&fit.strengths[k])).powi(2) / prior.noise[k]).sum();
        (sum / 3.0).sqrt()
    }

    /// Mean square of what a fit leaves over, per channel.
    pub fn left_over(&self, table: &Table, fit: &Fit, d: f64) -> [f64; 3] {
        let (mut sum, mut total) = ([0.0; 3], 0.0);
        for i in 0..self.offset.len() {
            let b = SVector::from(self.terms(table, i, d));
            total += self.weight[i];
            (0..3).for_each(|k| sum[k] += self.weight[i] * (self.light[i][k] - b.dot(&fit.strengths[k])).powi(2));
        }
        sum.map(|s| s / total.max(1e-9))
    }

    #[inline]
    fn terms(&self, table: &Table, i: usize, d: f64) -> [f64; TERMS] {
        let x = self.offset[i] - d;
        let [cloth, roll, slope, shadow] = table.at(x);
        [cloth, 1.0 - cloth, roll, shadow, slope, x - slope, (1.0 - cloth) * self.cover[i]]
    }

    /// Strengths by weighted least squares, the shared ones eliminated last.
    fn solve(&self, terms: &[[f64; TERMS]], weight: &[f64], prior: &Prior) -> Fit {
        let mut normal = Normal::zeros();
        let mut right = [Terms::zeros(); 3];
        let mut squares = [0.0; 3];
        for (i, b) in terms.iter().enumerate() {
            let (w, y) = (weight[i], self.light[i]);
            for r in 0..TERMS {
                let v = w * b[r];
                for c in 0..=r {
                    normal[(r, c)] += v * b[c];
                }
                (0..3).for_each(|k| right[k][r] += v * y[k]);
            }
            (0..3).for_each(|k| squares[k] += w * y[k] * y[k]);
        }
        // With the shared strengths u: p = p0 + P u, misfit = uᵀ Q u - 2 qᵀ u + const, summed over the channels.
        let belief = [LEVEL, prior.shadow, SLOPE].map(|(mean, sd)| (mean, 1.0 / (sd * sd)));
        let mut q2 = Matrix3::from_diagonal(&Vector3::from(belief.map(|b| b.1)));
        let mut q1 = Vector3::from(belief.map(|b| b.0 * b.1));
        let mut total: f64 = belief.iter().map(|b| b.0 * b.0 * b.1).sum();
        let mut parts = [(Terms::zeros(), SMatrix::<f64, TERMS, 3>::zeros()); 3];
        for k in 0..3 {
            let (mean, tie) = expect(prior, k);
            let (mut n, mut rhs, mut fixed) = (normal, right[k], squares[k]);
            for r in 0..TERMS {
                let ridge = prior.noise[k] * tie[r];
                n[(r, r)] += ridge;
                rhs[r] += ridge * mean[r];
                fixed += ridge * mean[r] * mean[r];
            }
            let factor = Factor::of(n);
            let p0 = factor.solve(rhs);
            let mut by_shared = SMatrix::<f64, TERMS, 3>::zeros();
            let pull: [f64; 3] = std::array::from_fn(|j| prior.noise[k] * tie[SHARED[j]] * prior.paper[k].max(1e-3));
            for j in 0..3 {
                let mut unit = Terms::zeros();
                unit[SHARED[j]] = pull[j];
                by_shared.set_column(j, &factor.solve(unit));
            }
            let scale = 1.0 / prior.noise[k];
            for j in 0..3 {
                q2[(j, j)] += scale * pull[j] * prior.paper[k].max(1e-3);
                q1[j] += scale * pull[j] * p0[SHARED[j]];
                (0..3).for_each(|i| q2[(i, j)] -= scale * pull[i] * by_shared[(SHARED[i], j)]);
            }
            total += scale * (fixed - rhs.dot(&p0));
            parts[k] = (p0, by_shared);
        }
        let shared = q2.try_inverse().map_or(Vector3::from(belief.map(|b| b.0)), |inverse| inverse * q1);
        let strengths = parts.map(|(p0, by)| p0 + by * shared);
        let roll = strengths[1][2] / prior.cloth[1].max(1e-3);
        Fit { misfit: (total - q1.dot(&shared)).max(0.0), roll, shadow: shared[1], strengths }
    }
}

/// Means and inverse variances of a channel's own strengths, the shared ones apart (their means are added later).
///
/// Cloth changes by some hundredths a millimetre; ink is known from elsewhere to a quarter.
fn expect(prior: &Prior, k: usize) -> ([f64; TERMS], [f64; TERMS]) {
    let (c, s) = (prior.cloth[k].max(1e-3), prior.paper[k].max(1e-3));
    let ink = s * (prior.ink[k] - 1.0);
    let tie = |sd: f64| 1.0 / (sd * sd);
    let apart = APART.map(|a| tie(a * s));
    (
        [c, 0.0, prior.roll.0 * c, 0.0, 0.0, 0.0, ink],
        [0.0, apart[0], tie(prior.roll.1 * c + 0.003), apart[1], tie(0.05 * c + 0.001), apart[2], tie(0.25 * ink.abs() + 0.02 * s)],
    )
}

/// A symmetric matrix as L D Lᵀ (no pivoting; the ridge keeps it definite).
struct Factor {
    l: Normal,
    d: Terms,
}

impl Factor {
    /// From the lower half of `a`.
    fn of(a: Normal) -> Self {
        let (mut l, mut d) = (Normal::zeros(), Terms::zeros());
        for j in 0..TERMS {
            let mut v = a[(j, j)];
            for k in 0..j {
                v -= l[(j, k)] * l[(j, k)] * d[k];
            }
            d[j] = v.max(1e-12);
            for i in j + 1..TERMS {
                let mut v = a[(i, j)];
                for k in 0..j {
                    v -= l[(i, k)] * l[(j, k)] * d[k];
                }
                l[(i, j)] = v / d[j];
            }
        }
        Self { l, d }
    }

    fn solve(&self, mut x: Terms) -> Terms {
        for i in 0..TERMS {
            for k in 0..i {
                x[i] -= self.l[(i, k)] * x[k];
            }
        }
        for i in 0..TERMS {
            x[i] /= self.d[i];
        }
        for i in (0..TERMS).rev() {
            for k in i + 1..TERMS {
                x[i] -= self.l[(k, i)] * x[k];
            }
        }
        x
    }
}
