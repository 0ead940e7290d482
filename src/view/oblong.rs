//! Whether a sheet that contradicts what was believed of the lens is itself longer one way than the other, and what either costs.

use super::camera::{self, Camera, Pair};
use super::prior::{FocalFrom, Prior};
use super::solve::{Fit, Settings};
use super::stretch::{CLEAR, Stretched};
use super::{Lens, View};
use crate::proof::Doubt;
use crate::shot::Tags;
use nalgebra::DMatrix;

/// A sheet whose two pitches differ by more than this many usual errors is out by more than is told apart from the bound.
const OUT_OF_USUAL: f64 = 2.0;

/// A share below this is none: a tenth of a millimetre on a metre.
const SEEN: f64 = 1e-4;

/// Focal lengths further apart than this (logarithm) are of two lenses: focusing near lengthens one by a percent or two.
const OTHER: f64 = 0.05;

/// What comes of weighing an oblong sheet against another lens.
pub(super) struct Oblong {
    pub fit: Fit,
    /// Share by which the sheet is longer along x, where that is believed.
    pub share: Option<f64>,
    pub doubt: Doubt,
}

/// A sheet that contradicts what is believed of the lens may itself be longer one way than the other: the two are weighed, and what they
/// differ by goes into the view's covariance unless one of them is out of the question. `None` where the lens is believed, or clearly another.
pub(super) fn oblong(
    fit: &Fit,
    pairs: &[Pair],
    believed: &Prior,
    (size, tags): ((usize, usize), &Tags),
    settings: &Settings,
) -> Option<Oblong> {
    let usual = settings.pitch_error[0].hypot(settings.pitch_error[1]);
    let prior = fit.prior.as_ref().filter(|p| *p != believed && usual > 0.0 && pairs.len() >= camera::FEW)?;
    let camera = fit.camera()?;
    let inliers: Vec<Pair> = pairs.iter().zip(&fit.used).filter(|p| *p.1).map(|p| *p.0).collect();
    let other = Stretched::fit(&inliers, believed, usual, fit.scale)?;
    if other.share.abs() < SEEN {
        return None;
    }
    let lead = other.lead(believed.from, tags.cropped, fit.cost);
    let out_of_usual = other.share.abs() > OUT_OF_USUAL * usual;
    let film = |lens: &Lens| Prior::film_mm(lens, size.0, size.1);
    // A centre that is pulled alone is a cut picture, or a sheet that does not lie flat.
    let other_lens = (film(&camera.lens) / film(&believed.lens)).ln().abs() > OTHER;
    if lead < -CLEAR || !(out_of_usual || (other_lens && believed.from != FocalFrom::Assumed)) {
        return None;
    }
    let told = (believed.from != FocalFrom::Assumed).then(|| film(&believed.lens));
    let sheet = lead > 0.0;
    let doubt = Doubt::LensOrSheet { told, seen: film(&camera.lens), share: other.share, sheet, cost: 0.0 };
    let widened = |own: &DMatrix<f64>, prior: &Prior, camera: Camera| {
        let more = other.either(&inliers, prior, fit.scale, camera).filter(|_| lead < CLEAR && out_of_usual);
        more.map_or_else(|| own.clone(), |m| own + m)
    };
    let own = fit.view.clone();
    let view = if sheet {
        View { model: other.camera.model(), covariance: widened(&other.covariance, believed, other.camera), ..own }
    } else {
        View { covariance: widened(&fit.view.covariance, prior, camera), ..own }
    };
    let prior = Some(if sheet { *believed } else { *prior });
    Some(Oblong {
        fit: Fit { view, prior, used: fit.used.clone(), scale: fit.scale, cost: fit.cost, followed: None },
        share: sheet.then_some(other.share),
        doubt,
    })
}
