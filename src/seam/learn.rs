//! What the places of one edge learn from each other: blur, sharpening and noise of the picture, and how light falls on
//! rolled rims and beside them.

use super::cast;
use super::edge::{ANY_ROLL, ANY_SHADOW, Fit, Plan};
use super::fine::{Alike, COARSE, Place, SCALE_STEP, TRY_EVERY};
use super::guide::Guide;
use super::shapes::{Shadow, Shape};
use crate::solve::median;
use nalgebra::{Matrix3, Vector3};
use rayon::prelude::*;
use std::collections::{BTreeMap, BTreeSet};

/// The rows of the band that are fitted: offset and how much each counts.
pub(super) struct Rows {
    pub offset: Vec<f64>,
    pub trust: Vec<f64>,
}

impl Rows {
    /// The plans shared by places, one for all that are alike, for a blur in pixels; every `every`-th node of them.
    pub fn plans(&self, alike: impl Iterator<Item = Alike>, shape: Shape, every: usize) -> BTreeMap<Alike, Plan> {
        let alike: BTreeSet<Alike> = alike.collect();
        let alike: Vec<Alike> = alike.into_iter().collect();
        let made: Vec<Plan> = alike
            .par_iter()
            .map(|a| {
                let sized = Shape { sigma: shape.sigma * (f64::from(a.scale) * SCALE_STEP).exp(), ..shape };
                Plan::new(sized, f64::from(a.cast) * cast::STEP, &self.offset, &self.trust, every)
            })
            .collect();
        alike.into_iter().zip(made).collect()
    }
}

/// Blur from which a picture is out of focus, and the most that is looked for, px.
const SHARP: f64 = 1.4;
const MOST_BLURRED: f64 = 10.0;

/// Measures what all places share, on some of them: blur (in pixels), roll, sharpening, and the noise per channel; `shadow` is given.
pub(super) fn measure_shape(places: &[Place], rows: &Rows, shadow: Shadow) -> (Shape, [f64; 3]) {
    const PROBES: usize = 48;
    let seen: Vec<&Place> = places.iter().filter(|p| p.seen && !p.cut).collect();
    let probes: Vec<&Place> = seen.iter().copied().step_by(seen.len().div_ceil(PROBES).max(1)).collect();
    let mut best = Shape { sigma: 0.7, roll: 1.2, sharpen: 0.15, shadow };
    let judge = |shape: Shape| -> f64 {
        let plans = rows.plans(probes.iter().map(|p| p.alike), shape, TRY_EVERY);
        let fits: Vec<f64> = probes
            .par_iter()
            .map(|p| (p.tries(&plans[&p.alike]).misfit.iter().fold(f64::INFINITY, |a, b| a.min(*b)) + 1e-6).ln())
            .collect();
        fits.iter().sum()
    };
    if !probes.is_empty() {
        // One at a time, twice: they hardly depend on each other.
        for round in 0..2 {
            let step = if round == 0 { 1.3 } else { 1.12 };
            best = least([1.0 / step / step, 1.0 / step, 1.0, step, step * step].map(|f| Shape { sigma: best.sigma * f, ..best }), &judge);
            if round == 0 {
                best = least([0.8, 1.2, 1.7, 2.4].map(|roll| Shape { roll, ..best }), &judge);
                best = least([0.0, 0.15, 0.3, 0.45].map(|sharpen| Shape { sharpen, ..best }), &judge);
            }
        }
    }
    if !probes.is_empty() && best.sigma > SHARP {
        best = softest(best, &judge);
    }
    let plans = rows.plans(probes.iter().map(|p| p.alike), best, 1);
    let left: Vec<[f64; 3]> = probes.par_iter().map(|p| p.left_over(&plans[&p.alike])).collect();
    let noise = std::array::from_fn(|c| {
        let mut v: Vec<f64> = left.iter().map(|l| l[c]).collect();
        median(&mut v).map_or(1e-4, |m| COARSE[c] * m.max(1e-7))
    });
    (best, noise)
}

/// Learns from every few places how light falls on the rolled rim and how deep the contact shadow is, and tells all.
///
/// A rim rolls towards its normal, so by Lambert's law its light is a constant and a part that goes with the normal's
/// direction; the shadow, cast by the cloth's thickness, likewise. Where cloth and sheet are alike this is what tells a
/// dark rim from a shadowed sheet. Where a lamp casts a strip of shade, what that and the contact shadow take is known. Gives the part of
/// the light that the contact shadow takes in the mean.
pub(super) fn light_rims(places: &mut [Place], guide: &Guide, plans: &BTreeMap<Alike, Plan>, shadow: Shadow) -> f64 {
    const EVERY: usize = 4;
    let probes: Vec<&Place> = places.iter().step_by(EVERY).filter(|p| p.seen && !p.cut).collect();
    let fits: Vec<(bool, Vector3<f64>, Fit)> = probes
        .par_iter()
        .map(|p| {
            let n = guide.normal[p.column];
            (p.alike.cast == 0, Vector3::new(1.0, n.x, n.y), p.best(&plans[&p.alike]).1)
        })
        .collect();
    let roll = harmonic(&fits.iter().map(|(_, n, f)| (*n, f.roll)).collect::<Vec<_>>());
    let contact = harmonic(&fits.iter().filter(|f| f.0).map(|(_, n, f)| (*n, f.shadow)).collect::<Vec<_>>());
    for p in places {
        let n = guide.normal[p.column];
        let n = Vector3::new(1.0, n.x, n.y);
        p.prior.roll = roll.map_or(ANY_ROLL, |(k, sd)| (k.dot(&n), sd.min(ANY_ROLL.1)));
        p.prior.shadow = if p.alike.cast > 0 {
            (-shadow.both(), STRIP_SPREAD)
        } else {
            contact.map_or(ANY_SHADOW, |(k, sd)| (k.dot(&n), sd.min(ANY_SHADOW.1)))
        };
    }
    contact.map_or(shadow.contact, |(k, _)| (-k.x).clamp(0.0, 0.6))
}

/// How much the depth of a lamp's shade varies along an edge, of the paper's light.
const STRIP_SPREAD: f64 = 0.12;

/// Robust linear fit of values on (1, nx, ny), and the spread about it; `None` from too few.
fn harmonic(values: &[(Vector3<f64>, f64)]) -> Option<(Vector3<f64>, f64)> {
    if values.len() < 24 {
        return None;
    }
    let mut weights = vec![1.0; values.len()];
    let mut found = (Vector3::zeros(), 1.0);
    for _ in 0..6 {
        // A little ridge: all normals may point the same way.
        let mut a = Matrix3::from_diagonal(&Vector3::new(1e-6, 0.5, 0.5));
        let mut b = Vector3::zeros();
        for ((n, v), w) in values.iter().zip(&weights) {
            a += n * n.transpose() * *w;
            b += n * (*v * w);
        }
        let k = a.try_inverse()? * b;
        let mut away: Vec<f64> = values.iter().map(|(n, v)| (v - k.dot(n)).abs()).collect();
        weights = away.clone();
        // Median deviation to standard deviation of a normal law.
        let sd = (1.4826 * median(&mut away)?).max(0.04);
        weights.iter_mut().for_each(|w| *w = 1.0 / (1.0 + (*w / (1.5 * sd)).powi(2)));
        found = (k, sd);
    }
    Some(found)
}

/// A wider blur as long as that explains more, then what lies between.
fn softest(start: Shape, judge: &dyn Fn(Shape) -> f64) -> Shape {
    let mut best = start;
    while best.sigma < MOST_BLURRED {
        let wider = least([1.0, 1.25].map(|f| Shape { sigma: best.sigma * f, ..best }), judge);
        if wider.sigma == best.sigma {
            break;
        }
        best = wider;
    }
    least([0.9, 1.0, 1.1].map(|f| Shape { sigma: best.sigma * f, ..best }), judge)
}

fn least<const N: usize>(shapes: [Shape; N], judge: &dyn Fn(Shape) -> f64) -> Shape {
    let mut best = (f64::INFINITY, shapes[0]);
    for s in shapes {
        let j = judge(s);
        if j < best.0 {
            best = (j, s);
        }
    }
    best.1
}
