//! Damped least squares for the few numbers of one mark (Levenberg 1944; Marquardt 1963).

use nalgebra::{SMatrix, SVector};

/// Normal matrix, right side and sum of squared misses at some parameters.
pub(super) type Normal<const N: usize> = (SMatrix<f64, N, N>, SVector<f64, N>, f64);

/// Where a fit came to rest.
pub(super) struct Rest<const N: usize> {
    pub at: SVector<f64, N>,
    pub normal: SMatrix<f64, N, N>,
    pub cost: f64,
}

/// Moves `start` down hill; parameters 0 and 1 are a place in px, and it ends when they move by less than a thousandth.
///
/// `bound` draws single parameters back into what is possible. `normal` gives `None` where the parameters make no sense; such steps
/// are shortened. `None` when the start makes none.
pub(super) fn least<const N: usize>(
    start: SVector<f64, N>,
    bound: impl Fn(&mut SVector<f64, N>),
    normal: impl Fn(&SVector<f64, N>) -> Option<Normal<N>>,
) -> Option<Rest<N>> {
    const ROUNDS: usize = 20;
    let mut at = start;
    let (mut n, mut r, mut cost) = normal(&at)?;
    let mut damping = 1e-2;
    for _ in 0..ROUNDS {
        let mut damped = n;
        (0..N).for_each(|k| damped[(k, k)] *= 1.0 + damping);
        let step = damped.cholesky()?.solve(&r);
        let mut next = at + step;
        bound(&mut next);
        match normal(&next) {
            Some(better) if better.2 <= cost => {
                at = next;
                (n, r, cost) = better;
                // A small step under strong damping only says that the way is steep.
                let settled = step[0].hypot(step[1]) < 1e-3 && damping < 0.1;
                damping *= 0.1;
                if settled {
                    break;
                }
            }
            _ => damping *= 10.0,
        }
        if damping > 1e6 {
            break;
        }
    }
    Some(Rest { at, normal: n, cost })
}

/// The hyperbolic tangent, which stands for a blurred edge, by one exponential (the library's takes three times as long).
#[inline]
pub(super) fn step(x: f64) -> f64 {
    1.0 - 2.0 / (1.0 + (2.0 * x).exp())
}

/// Adds one observation to the lower half of a normal matrix and to the right side.
#[inline]
pub(super) fn add<const N: usize>(n: &mut SMatrix<f64, N, N>, r: &mut SVector<f64, N>, row: &SVector<f64, N>, miss: f64) {
    for j in 0..N {
        let x = row[j];
        r[j] += x * miss;
        for i in j..N {
            n[(i, j)] += x * row[i];
        }
    }
}

/// Fills the upper half of a normal matrix from the lower.
pub(super) fn mirror<const N: usize>(n: &mut SMatrix<f64, N, N>) {
    n.fill_upper_triangle_with_lower_triangle();
}
