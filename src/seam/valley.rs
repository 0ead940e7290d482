//! Lines within the cloth: a narrow dark valley, the shade between two cloths or along a row of stitches.
//!
//! For an offset d across a line the light (as square roots, in which shading is even) is taken for a smooth ground, with
//! whatever else belongs there (a step from one cloth to the other, a bright thread beside), plus a Gaussian valley at d. The
//! valley's part that the ground can't imitate is one kernel; its answer against what neither explains is the evidence for
//! a line at d, so that neither a bright thread beside nor a strong stripe passes for one (matched filter with nuisance
//! terms; ridges by second derivatives: Steger 1998).

use super::band::Band;
use super::guide::Guide;
use super::tones::luma;
use rayon::prelude::*;

/// A seam's valley is so many times as evident as most of what lies beside it, and as the faintest there is. (Rendered seams 36 times and more along nine
/// tenths of their length; the best line over bare cloth one to three times along a quarter of it.)
pub(super) const DISTINCT: f32 = 3.0;
pub(super) const FAINTEST: f32 = 0.2;

/// Sizes of a valley and of the window it is judged in, mm.
#[derive(Clone, Copy, Debug)]
pub(super) struct Form {
    /// Standard deviation of the valley.
    pub width: f64,
    /// How far the window reaches inwards and outwards of the line.
    pub window: [f64; 2],
    /// Whether the two sides may differ by a step.
    pub step: bool,
    /// Where a bright thread may run beside the line (offset and width), and stitches on it.
    pub thread: Option<[f64; 2]>,
    /// Whether a bright ridge counts as well as a dark valley.
    pub bright: bool,
}

impl Form {
    /// Rows of the window before the line's own, and where all of them lie across it, mm.
    fn rows(self, across: f64) -> (usize, Vec<f64>) {
        let [before, after] = self.window.map(|reach| (reach / across).round() as usize);
        (before, (0..=before + after).map(|i| (i as f64 - before as f64) * across).collect())
    }

    /// A step from one side to the other, as blurred as the valley is wide.
    fn stepped(self, x: &[f64]) -> Vec<f64> {
        x.iter().map(|v| 1.0 / (1.0 + (-v / (0.6 * self.width)).exp())).collect()
    }
}

/// The kernels of a form on rows `across` mm apart.
pub(super) struct Kernel {
    /// Rows of the window before the line's row.
    before: usize,
    ground: Vec<Vec<f32>>,
    valley: Vec<f32>,
    bright: bool,
}

impl Kernel {
    pub fn new(form: Form, across: f64) -> Self {
        let (before, x) = form.rows(across);
        let bell = |c: f64, s: f64| -> Vec<f64> { x.iter().map(|v| (-0.5 * ((v - c) / s).powi(2)).exp()).collect() };
        let mut parts = vec![vec![1.0; x.len()], x.clone()];
        if form.step {
            parts.push(form.stepped(&x));
        }
        if let Some([beside, width]) = form.thread {
            parts.push(bell(beside, width));
            parts.push(bell(0.0, 0.36 * form.width));
        }
        parts.push(bell(0.0, form.width));
        let mut ground = orthonormal(&parts);
        let valley = ground.pop().unwrap_or_default();
        Self { before, ground, valley, bright: form.bright }
    }

    /// For an edge between two cloths without a valley, on rows `across` mm apart: a step down outwards on an even slope.
    pub fn edge(form: Form, across: f64) -> Self {
        let (before, x) = form.rows(across);
        let step = form.stepped(&x);
        let mut ground = orthonormal(&[vec![1.0; x.len()], x, step]);
        let valley = ground.pop().unwrap_or_default();
        Self { before, ground, valley, bright: false }
    }

    /// Evidence for a dark line, or a bright one too where the form allows it, at each row of `tone`: squares explained over squares left, 0 where nothing can be said.
    pub fn answer(&self, tone: &[f32], noise: f32) -> Vec<f32> {
        let n = self.valley.len();
        let mut out = vec![0.0; tone.len()];
        let room = n.saturating_sub(self.ground.len() + 1).max(1) as f32;
        for (y, out) in tone.windows(n).zip(out[self.before.min(tone.len())..].iter_mut()) {
            if !y.iter().all(|v| v.is_finite()) {
                continue;
            }
            let mean = y.iter().sum::<f32>() / n as f32;
            let dot = |q: &[f32]| q.iter().zip(y).map(|(a, b)| a * (b - mean)).sum::<f32>();
            let depth = dot(&self.valley);
            if depth < 0.0 || self.bright {
                let total: f32 = y.iter().map(|v| (v - mean) * (v - mean)).sum();
                let held: f32 = self.ground.iter().map(|q| dot(q).powi(2)).sum();
                let rest = (total - held - depth * depth).max(0.0) / room + noise * noise;
                *out = depth * depth / rest;
            }
        }
        out
    }
}

/// Square roots of luminance at places `step` columns apart, each averaged over `reach` columns either way (triangle).
pub(super) fn tones(band: &Band, guide: &Guide, step: usize, reach: usize) -> Vec<Vec<f32>> {
    let (n, rows) = (guide.len() as isize, band.rows());
    (0..guide.len().div_ceil(step))
        .into_par_iter()
        .map(|p| {
            let (mut sum, mut total, mut full) = (vec![0f32; rows], vec![0f32; rows], 0.0);
            for d in -(reach as isize)..=reach as isize {
                let k = (p * step) as isize + d;
                if !guide.closed && (k < 0 || k >= n) {
                    continue;
                }
                let w = 1.0 - d.unsigned_abs() as f32 / (reach + 1) as f32;
                full += w;
                for (r, v) in band.column(k.rem_euclid(n) as usize).iter().enumerate().filter(|(_, v)| v[0].is_finite()) {
                    sum[r] += w * luma(*v).max(0.0).sqrt();
                    total[r] += w;
                }
            }
            (0..rows).map(|r| if total[r] > 0.5 * full { sum[r] / total[r] } else { f32::NAN }).collect()
        })
        .collect()
}

/// A line's place near row `row`: the top of the parabola through the evidence there, in rows, and how sharp it is.
pub(super) fn top(evidence: &[f32], row: usize) -> (f64, f64) {
    let climb = |r: usize| {
        let (a, b) = (r.saturating_sub(1), (r + 1).min(evidence.len() - 1));
        [a, r, b].into_iter().max_by(|x, y| evidence[*x].total_cmp(&evidence[*y])).unwrap_or(r)
    };
    let mut r = row;
    for _ in 0..2 {
        r = climb(r);
    }
    if r == 0 || r + 1 >= evidence.len() {
        return (row as f64, 0.0);
    }
    let [a, b, c] = [r - 1, r, r + 1].map(|k| f64::from(evidence[k]));
    let bend = 2.0 * b - a - c;
    if bend <= 0.0 {
        return (row as f64, 0.0);
    }
    (r as f64 + (0.5 * (c - a) / bend).clamp(-0.5, 0.5), bend)
}

/// What nine tenths of all stay below.
pub(super) fn high(mut all: Vec<f32>) -> f32 {
    all.sort_by(f32::total_cmp);
    all.get(all.len() * 9 / 10).copied().unwrap_or_default()
}

/// The vectors made orthonormal one after the other (Gram and Schmidt).
pub(super) fn orthonormal(vectors: &[Vec<f64>]) -> Vec<Vec<f32>> {
    let mut out: Vec<Vec<f64>> = Vec::new();
    for v in vectors {
        let mut v = v.clone();
        for q in &out {
            let d: f64 = q.iter().zip(&v).map(|(a, b)| a * b).sum();
            v.iter_mut().zip(q).for_each(|(a, b)| *a -= d * b);
        }
        let norm = v.iter().map(|a| a * a).sum::<f64>().sqrt();
        if norm > 1e-6 {
            out.push(v.iter().map(|a| a / norm).collect());
        }
    }
    out.iter().map(|v| v.iter().map(|a| *a as f32).collect()).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    const FORM: Form = Form { width: 0.5, window: [2.5, 2.5], step: true, thread: None, bright: false };

    fn scene(line: f64, other: impl Fn(f64) -> f64) -> Vec<f32> {
        (0..120).map(|k| k as f64 * 0.1 - 6.0).map(|x| (0.5 - 0.08 * (-2.0 * (x - line).powi(2)).exp() + other(x)) as f32).collect()
    }

    fn found(tone: &[f32]) -> (f64, f32) {
        let answer = Kernel::new(FORM, 0.1).answer(tone, 0.003);
        let row = (0..answer.len()).max_by(|a, b| answer[*a].total_cmp(&answer[*b])).expect("rows");
        (top(&answer, row).0 * 0.1 - 6.0, answer[row])
    }

    #[test]
    fn a_valley_is_placed_between_rows() {
        for line in [-0.53, 0.0, 0.27, 1.04] {
            let at = found(&scene(line, |x| 0.01 * x)).0;
            assert!((at - line).abs() < 0.02, "{at} {line}");
            // A step from one cloth to the other, blurred as a picture blurs it, drags the valley a little.
            let at = found(&scene(line, |x| 0.05 / (1.0 + (-(x - line) / 0.3).exp()))).0;
            assert!((at - line).abs() < 0.05, "{at} {line}");
        }
    }

    #[test]
    fn a_ridge_is_found_where_the_form_allows_it() {
        let ridge = scene(50.0, |x| 0.06 * (-1.4 * (x - 0.4).powi(2)).exp());
        let best = |form: Form| {
            let answer = Kernel::new(form, 0.1).answer(&ridge, 0.003);
            (0..answer.len()).max_by(|a, b| answer[*a].total_cmp(&answer[*b])).map(|r| (r as f64 * 0.1 - 6.0, answer[r])).expect("rows")
        };
        let (at, strength) = best(Form { bright: true, ..FORM });
        assert!((at - 0.4).abs() < 0.06 && strength > 10.0, "{at} {strength}");
        assert!(best(FORM).1 < 0.2 * strength);
    }

    #[test]
    fn bright_threads_are_no_valleys_and_bare_steps_weak_ones() {
        let kernel = Kernel::new(FORM, 0.1);
        let thread: Vec<f32> = scene(50.0, |x| 0.1 * (-2.0 * x * x).exp());
        assert!(kernel.answer(&thread, 0.003)[60] == 0.0);
        let step = |x: f64| 0.2 / (1.0 + (-x / 0.3).exp());
        let (bare, lined) = (found(&scene(50.0, step)).1, found(&scene(0.0, step)).1);
        assert!(bare < 0.25 * lined, "{bare} {lined}");
    }
}
