//! A sheet that is longer one way than the other, or another lens than was believed: either explains a plane whose squares look oblong.
//!
//! Seen at a small tilt, squares one share wider than high look like squares seen from elsewhere through another lens (a plane gives two
//! equations for lens and sheet; Zhang 2000, section 3.1). So where the sheet contradicts what is believed of the lens, the fit is made
//! again with the belief kept and the ratio of the sheet's two pitches open, and the two are weighed: by what they leave of the nodes,
//! by how far such sheets are out (Student's t with three degrees of freedom, for prints have long tails), and by how seldom tags lie.

use super::camera::{CAMERA, Camera, CameraProblem, Pair};
use super::prior::{FocalFrom, Prior};
use crate::length::Mm;
use crate::solve::{Loss, Normal, Problem, minimise};
use nalgebra::{DMatrix, DVector, Vector3};

/// -2 ln of the odds that a focal length in the tags is not that of the picture: one uncropped picture in four hundred, one cropped
/// picture in twenty; where none was written, one in five (common practice, no source).
const TAG_LIES: f64 = 12.0;
const TAG_LIES_CROPPED: f64 = 6.0;
const OTHER_LENS: f64 = 3.0;

/// Degrees of freedom of Student's t for how far a sheet's two pitches are from each other.
const FREEDOM: f64 = 3.0;

/// Beyond these odds (−2 ln) the other explanation is out of the question: one in a thousand.
pub(super) const CLEAR: f64 = 14.0;

/// Rounds in which the t is made of normal distributions.
const ROUNDS: usize = 4;

/// What the belief kept makes of the sheet.
#[derive(Clone, Debug)]
pub(super) struct Stretched {
    /// The camera, and its covariance with the sheet's ratio open.
    pub camera: Camera,
    pub covariance: DMatrix<f64>,
    /// Share by which the sheet is longer along x than along y.
    pub share: f64,
    /// −2 ln of what speaks for it: misses, pulls of the belief, and how unusual the sheet would be.
    cost: f64,
}

/// Where nodes lie on a sheet that is longer along x than along y by a share.
pub(super) fn stretched(pairs: &[Pair], share: f64) -> Vec<Pair> {
    pairs.iter().map(|p| Pair { mm: laid(share, p.mm), ..*p }).collect()
}

fn laid(share: f64, mm: Mm) -> Mm {
    Mm::new(mm.x * (1.0 + share / 2.0), mm.y * (1.0 - share / 2.0))
}

impl Stretched {
    /// The fit with the lens believed and the sheet's ratio open, known to `usual` (standard error) before; nodes' errors grow by `scale`.
    pub fn fit(pairs: &[Pair], prior: &Prior, usual: f64, scale: f64) -> Option<Self> {
        let (mut at, mut loose) = ((Camera::start(pairs, prior.lens)?, 0.0), usual);
        let mut found = None;
        for _ in 0..ROUNDS {
            let problem = StretchProblem { inner: CameraProblem { pairs, prior, loss: Loss::Gauss, scale }, loose };
            let best = minimise(&problem, at, 40, 1e-9)?;
            at = best.state;
            let cost = best.normal.cost - (at.1 / loose).powi(2);
            loose = usual * (FREEDOM / (FREEDOM + 1.0) * (1.0 + (at.1 / usual).powi(2) / FREEDOM)).sqrt().max(1.0);
            found = Some((best, cost));
        }
        let (best, cost) = found?;
        let unusual = (FREEDOM + 1.0) * ((at.1 / usual).powi(2) / FREEDOM).ln_1p();
        let covariance = best.normal.covariance()?.view((0, 0), (CAMERA, CAMERA)).into_owned();
        Some(Self { camera: at.0, covariance, share: at.1, cost: cost + unusual })
    }

    /// How much more speaks for the sheet being stretched than for the lens being another than believed, which leaves `cost`: −2 ln of odds.
    pub fn lead(&self, believed: FocalFrom, cropped: bool, cost: f64) -> f64 {
        let lies = match believed {
            FocalFrom::Assumed => OTHER_LENS,
            _ if cropped => TAG_LIES_CROPPED,
            _ => TAG_LIES,
        };
        cost + lies - self.cost
    }

    /// What a view's covariance gains where the other explanation may be true as well: what they differ by is two standard errors.
    pub fn either(&self, pairs: &[Pair], prior: &Prior, scale: f64, camera: Camera) -> Option<DMatrix<f64>> {
        let problem = StretchProblem { inner: CameraProblem { pairs, prior, loss: Loss::Gauss, scale }, loose: self.share.abs() };
        let whole = problem.normal(&(camera, 0.0)).covariance()?;
        // How the camera's numbers move with the share, the nodes seen staying where they are.
        let along = DVector::from_fn(CAMERA, |k, _| whole[(k, CAMERA)] / whole[(CAMERA, CAMERA)]);
        Some(&along * along.transpose() * (self.share / 2.0).powi(2))
    }
}

/// A camera over a sheet whose two pitches are not known to be alike.
struct StretchProblem<'a> {
    inner: CameraProblem<'a>,
    /// Standard error of the share before.
    loose: f64,
}

impl Problem for StretchProblem<'_> {
    type State = (Camera, f64);

    fn normal(&self, (camera, share): &Self::State) -> Normal {
        let mut n = Normal::zero(CAMERA + 1);
        for pair in self.inner.pairs {
            let (px, rows) = camera.slopes(laid(*share, pair.mm), 0.0);
            let sharp = 1.0 / (pair.error * self.inner.scale).powi(2);
            let miss = px - pair.px;
            let (cost, weight) = self.inner.loss.at(miss.norm_squared() * sharp);
            n.cost += cost;
            let moved = camera.rotation * Vector3::new(pair.mm.x / 2.0, -pair.mm.y / 2.0, 0.0);
            for (k, own) in rows.iter().enumerate() {
                let mut row = [0.0; CAMERA + 1];
                row[..CAMERA].copy_from_slice(own);
                row[CAMERA] = own[10] * moved.x + own[11] * moved.y + own[12] * moved.z;
                n.add(&row, miss[k], weight * sharp);
            }
        }
        self.inner.prior.add_to(&mut n, &camera.lens);
        n.cost += (share / self.loose).powi(2);
        n.add_at(&[CAMERA], &[1.0 / self.loose], share / self.loose, 1.0);
        n
    }

    fn cost(&self, (camera, share): &Self::State) -> f64 {
        let seen = |p: &Pair| {
            let miss = camera.see(laid(*share, p.mm), 0.0) - p.px;
            self.inner.loss.at(miss.norm_squared() / (p.error * self.inner.scale).powi(2)).0
        };
        let pulls: f64 = self.inner.prior.pulls(&camera.lens).iter().map(|p| p.size * p.size).sum();
        self.inner.pairs.iter().map(seen).sum::<f64>() + pulls + (share / self.loose).powi(2)
    }

    fn moved(&self, (camera, share): &Self::State, step: &DVector<f64>) -> Self::State {
        (camera.moved(&step.as_slice()[..CAMERA]), share + step[CAMERA])
    }
}
