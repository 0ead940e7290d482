//! A camera over a sheet that does not lie flat.
//!
//! What waves leave is alike over a hand's breadth, so that nodes near each other say one thing between them: taken one by one they
//! outvote every belief of the lens, which then bends to the waves. Here each counts for its share of a hand's breadth.

use super::View;
use super::buckle::{self, Followed};
use super::camera::{Camera, CameraProblem, Pair, spread};
use super::check::{self, HeldOut};
use super::prior::{FocalFrom, Prior};
use super::solve::{CLEARLY_BETTER, Fit, limit, photo};
use crate::grid::Node;
use crate::solve::{Loss, minimise};

/// Waves are alike over this distance, mm (common practice, no source: paper on a table buckles over a hand's breadth and more).
const ALIKE_OVER: f64 = 100.0;

/// The fit of a sheet that is followed where it does not lie flat, with what nodes kept out say of it. `None` for a flat sheet, for one
/// that nodes kept out do not confirm, and where a lens profile is to blame.
pub(super) fn on_waves(fit: &Fit, nodes: &[Node], pairs: &[Pair], pitch: f64, believed: &Prior) -> Option<(Fit, Option<HeldOut>)> {
    let first = buckle::follow(&fit.view, nodes, pairs, pitch)?;
    let size = (fit.view.width, fit.view.height);
    if believed.from == FocalFrom::LensProfile && fit.camera().is_some() {
        let free = photo(pairs, &Prior::free(size.0, size.1), size, fit.camera())?;
        if free.scale < CLEARLY_BETTER * fit.scale {
            return None;
        }
    }
    let tame: Vec<Pair> = pairs.iter().zip(&first.wild).filter(|p| !*p.1).map(|p| *p.0).collect();
    let again = fit.camera().and_then(|near| over(&tame, (believed, size), (ALIKE_OVER / pitch).max(1.0), near));
    let (flat, prior, followed) = match again {
        Some((flat, prior)) => {
            let followed = buckle::follow(&flat, nodes, pairs, pitch)?;
            (flat, Some(prior), followed)
        }
        None => (fit.view.clone(), fit.prior, first),
    };
    let held_out = kept_out(&flat, &followed, nodes, pairs);
    let used = followed.wild.iter().map(|w| !w).collect();
    let view = View { buckle: Some(followed.buckle.clone()), ..flat };
    Some((Fit { view, used, prior, scale: fit.scale, cost: fit.cost, followed: Some(followed) }, held_out))
}

/// The view of a flat sheet by nodes of which so many, along either axis, say one thing.
fn over(pairs: &[Pair], (believed, size): (&Prior, (usize, usize)), alike: f64, near: Camera) -> Option<(View, Prior)> {
    let mut prior = *believed;
    let mut start = Camera::start(pairs, prior.lens).unwrap_or(near);
    loop {
        let scale = alike * spread(pairs, &near, None).max(1.0);
        let best = minimise(&CameraProblem { pairs, prior: &prior, loss: Loss::Cauchy(2.5), scale }, start, 60, 1e-6)?;
        start = best.state;
        match prior.doubted(&best.state.lens, size.0, size.1) {
            Some(next) => prior = next,
            None => {
                let covariance = best.normal.covariance()?;
                let flat = View { covariance, ..View::known(best.state.model(), size.0, size.1) };
                return Some((flat, prior));
            }
        }
    }
}

/// What nodes say of a surface that never saw them.
fn kept_out(flat: &View, followed: &Followed, nodes: &[Node], pairs: &[Pair]) -> Option<HeldOut> {
    let (kept, out): (Vec<_>, Vec<_>) = nodes.iter().zip(pairs).partition(|(n, _)| !check::kept_out(n));
    let [kept, out] = [kept, out].map(|part: Vec<(&Node, &Pair)>| part.into_iter().map(|p| *p.1).collect::<Vec<_>>());
    let view = View { buckle: Some(followed.by_kept.clone()), ..flat.clone() };
    (!out.is_empty()).then(|| check::held_out(&view, &out, limit(&view, &kept)))
}
