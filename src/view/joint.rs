//! One lens from several pictures of one sheet: all poses and the lens solved together.
//!
//! Zhang, "A flexible new technique for camera calibration" (2000): each picture is solved by itself first, then everything
//! by least squares with analytic derivatives (dense normal equations: some ten pictures are a hundred unknowns); robust
//! first (Cauchy's loss), then Gaussian on the nodes that fit. Pictures kept out of the fit in turn speak for the lens.

use super::buckle;
use super::bundle::{JointProblem, State, misses};
use super::camera::{self, Camera, Pair};
use super::prior::Prior;
use super::sensor::{POSE, Pose, SENSOR, Sensor};
use super::solve::{INLIER, pair};
use super::{Model, View};
use crate::grid::{Lattice, Node};
use crate::proof::Proof;
use crate::shot::Tags;
use crate::solve::{Loss, median, minimise};
use nalgebra::{DMatrix, SMatrix};
use std::time::Instant;

/// Fewest pictures: two fix a lens with square pixels, a third checks it.
const FEWEST: usize = 3;
/// Fewest nodes that say anything of a lens beyond their own picture's pose, which three of them take up.
const FEWEST_NODES: usize = 8;
/// Pictures are kept out in this many turns, or singly when there are fewer.
const TURNS: usize = 5;
/// A focal length known worse than this share was not told by the pictures.
const UNKNOWN: f64 = 0.03;
/// Loose beliefs that keep a lens in bounds where the pictures say nothing: relative focal length, skew over focal length,
/// centre in diagonals, k1, k2, p1, p2. Each is at least 50 times what five ordinary pictures know.
const LOOSE: [f64; 7] = [1.0, 0.01, 0.1, 2.0, 4.0, 0.1, 0.1];
/// Steps of one minimisation at most, and the share of the cost that ends it.
const ROUNDS: usize = 60;
const EXACT: f64 = 1e-10;

/// What is left open of a lens.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Freedom {
    /// Whether pixels are square and rows upright, as on every sensor since tubes (default). If not, fx, fy and skew are
    /// three numbers, which costs accuracy and is for comparisons.
    pub square: bool,
    /// Whether skew is sought too when pixels are not square (default no).
    pub skew: bool,
    /// Whether the decentring terms p1, p2 are sought (default), or are 0.
    pub tangential: bool,
    /// Nodes further out than this many standard errors are left out of the last fit (default 4; infinite keeps all).
    pub keep: f64,
}

impl Default for Freedom {
    fn default() -> Self {
        Self { square: true, skew: false, tangential: true, keep: INLIER }
    }
}

impl Freedom {
    /// How the sensor's numbers follow from the unknowns, a column an unknown.
    fn columns(self) -> DMatrix<f64> {
        let mut columns: Vec<[f64; SENSOR]> = Vec::new();
        let mut put = |which: &[usize]| columns.push(std::array::from_fn(|k| f64::from(u8::from(which.contains(&k)))));
        if self.square {
            put(&[0, 1]);
        } else {
            put(&[0]);
            put(&[1]);
        }
        if self.skew && !self.square {
            put(&[2]);
        }
        (3..if self.tangential { SENSOR } else { 7 }).for_each(|k| put(&[k]));
        DMatrix::from_fn(SENSOR, columns.len(), |r, c| columns[c][r])
    }
}

/// One picture of a lens's sheet.
#[derive(Clone, Debug)]
pub struct LensView {
    /// The map by the common lens.
    pub view: View,
    /// Nodes used.
    pub nodes: usize,
    /// Nodes that did not fit and were left out.
    pub outliers: usize,
    /// Root mean square distance of the nodes used, px.
    pub rms_px: f64,
    /// How far the sheet is out of flat at most, mm, where what the lens leaves is smooth and nodes kept out confirm it.
    pub bent_mm: Option<f64>,
}

/// What pictures say that had no part in the lens: their poses are fitted by the lens of the others.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct KeptOutPictures {
    /// How many pictures.
    pub pictures: usize,
    /// Root mean square distance of their nodes, px, with the pose's own share made good.
    pub rms_px: f64,
}

/// A lens solved from several pictures.
#[derive(Clone, Debug)]
pub struct SolvedLens {
    /// The lens.
    pub sensor: Sensor,
    /// Covariance of its numbers (order of [`Sensor::numbers`]); zero for those that were not sought.
    pub covariance: DMatrix<f64>,
    /// Root mean square distance of the nodes used, px.
    pub rms_px: f64,
    /// Nodes used.
    pub nodes: usize,
    /// Each picture, in the order given.
    pub views: Vec<LensView>,
    /// Pictures kept out in turn; `None` when there are too few to spare any.
    pub kept_out: Option<KeptOutPictures>,
}

impl SolvedLens {
    /// Standard errors of the sensor's numbers.
    pub fn errors(&self) -> [f64; SENSOR] {
        std::array::from_fn(|k| self.covariance[(k, k)].max(0.0).sqrt())
    }
}

/// Why there is no lens.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum LensError {
    /// Too few pictures.
    #[error(
        "pictures in which the sheet was found: {found}, too few to solve a lens from; take at least {FEWEST}, better 10, of one sheet from different sides"
    )]
    TooFew {
        /// How many there are.
        found: usize,
    },
    /// A picture fixes no pose.
    #[error("picture {} of those given shows too little of the sheet to have a part in the lens; leave it out or show more of the sheet", .number + 1)]
    NoPose {
        /// Which, from 0.
        number: usize,
    },
    /// The pictures are too alike.
    #[error(
        "the pictures leave the focal length open by {:.0} %: they were taken too much from straight above; tilt the camera by 20 to 40 degrees, to a different side in each",
        .share * 100.0
    )]
    TooAlike {
        /// Relative standard error of the focal length.
        share: f64,
    },
    /// Nothing settles.
    #[error("no one lens fits the pictures together; see that all were taken by one camera with the same zoom, of one flat sheet")]
    NoLens,
}

/// The lens that took pictures of `size` px (all alike), each with its lattice; `tags` are those of one of them.
///
/// # Errors
/// Too few pictures, one that fixes no pose, pictures that leave the focal length open or contradict each other.
pub fn solve_lens(
    lattices: &[&Lattice],
    size: (usize, usize),
    tags: &Tags,
    freedom: Freedom,
    proof: &mut Proof,
) -> Result<SolvedLens, LensError> {
    let begun = Instant::now();
    if lattices.len() < FEWEST {
        return Err(LensError::TooFew { found: lattices.len() });
    }
    let views: Vec<Vec<Pair>> =
        lattices.iter().map(|l| l.nodes.iter().filter(|n| n.at.is_finite()).map(|n| pair(n, l)).collect()).collect();
    if let Some(number) = views.iter().position(|v: &Vec<Pair>| v.len() < FEWEST_NODES) {
        return Err(LensError::NoPose { number });
    }
    let start = start(&views, size, tags)?;
    let fit = Fit::run(&views, start.clone(), size, freedom).ok_or(LensError::NoLens)?;
    let share = fit.covariance[(0, 0)].max(0.0).sqrt() / fit.state.sensor.focal[0];
    if share.is_nan() || share > UNKNOWN {
        return Err(LensError::TooAlike { share });
    }
    let kept_out = kept_out(&views, &start, size, freedom);
    let mut solved = fit.report(&views, size, kept_out);
    for ((view, lattice), pairs) in solved.views.iter_mut().zip(lattices).zip(&views) {
        let nodes: Vec<Node> = lattice.nodes.iter().filter(|n| n.at.is_finite()).copied().collect();
        let followed = buckle::follow(&view.view, &nodes, pairs, lattice.pitch[0].max(lattice.pitch[1]));
        view.bent_mm = followed.map(|f| f.field.most_mm);
    }
    proof.figure("lens", "rms_px", solved.rms_px);
    proof.figure("lens", "nodes", solved.nodes as f64);
    if let Some(k) = solved.kept_out {
        proof.figure("lens", "kept_out_rms_px", k.rms_px);
    }
    proof.time("lens", begun.elapsed());
    Ok(solved)
}

/// Each picture solved by itself; the lens of the one that knows its focal length best.
fn start(views: &[Vec<Pair>], size: (usize, usize), tags: &Tags) -> Result<State, LensError> {
    let prior = Prior::new(size.0, size.1, tags);
    let free = prior.freed(size.0, size.1).unwrap_or(prior);
    let known =
        |fit: &camera::CameraFit| fit.best.normal.covariance().map_or(f64::INFINITY, |c| c[(0, 0)].sqrt() / fit.best.state.lens.focal);
    let mut best: Option<(f64, Camera)> = None;
    let mut poses = Vec::new();
    for (number, pairs) in views.iter().enumerate() {
        let fit = camera::fit(pairs, &free, None).ok_or(LensError::NoPose { number })?;
        let camera = fit.best.state;
        let share = known(&fit);
        if best.as_ref().is_none_or(|b| share < b.0) {
            best = Some((share, camera));
        }
        poses.push(camera);
    }
    let lens = best.ok_or(LensError::TooFew { found: 0 })?.1.lens;
    // Each pose again under the one lens: a pose belongs to its focal length.
    let poses = views
        .iter()
        .zip(poses)
        .map(|(pairs, own)| {
            let camera = Camera::start(pairs, lens).unwrap_or(own);
            Pose { rotation: camera.rotation, translation: camera.translation }
        })
        .collect();
    Ok(State { sensor: lens.into(), poses })
}

struct Fit {
    state: State,
    covariance: SMatrix<f64, SENSOR, SENSOR>,
    used: Vec<Vec<bool>>,
}

impl Fit {
    fn run(views: &[Vec<Pair>], start: State, size: (usize, usize), freedom: Freedom) -> Option<Self> {
        let mut start = start;
        if !freedom.tangential {
            start.sensor.tangential = [0.0; 2];
        }
        Self::with(views, start, size, &freedom.columns(), freedom.keep)
    }

    /// A robust fit, then a Gaussian one on what fits.
    fn with(views: &[Vec<Pair>], start: State, size: (usize, usize), columns: &DMatrix<f64>, keep: f64) -> Option<Self> {
        let about = start.sensor.numbers();
        let (f, diagonal) = (about[0], (size.0 as f64).hypot(size.1 as f64));
        let [focal, skew, centre, k1, k2, p1, p2] = LOOSE;
        let middle = [(size.0 as f64 - 1.0) / 2.0, (size.1 as f64 - 1.0) / 2.0];
        let about = [about[0], about[1], 0.0, middle[0], middle[1], 0.0, 0.0, 0.0, 0.0];
        let loose = [focal * f, focal * f, skew * f, centre * diagonal, centre * diagonal, k1, k2, p1, p2];
        let problem = |views, loss, scale| JointProblem { views, columns, about, loose, loss, scale };
        let mut state = start;
        let mut scale = f64::INFINITY;
        // The first scale is that of poses without distortion; each round takes it nearer to the nodes' own.
        for _ in 0..6 {
            let mut all: Vec<f64> = misses(views, &state).concat();
            let now = median(&mut all)? / 1.1774;
            if !now.is_finite() || now > 0.9 * scale {
                break;
            }
            scale = now.max(1e-3);
            state = minimise(&problem(views, Loss::Cauchy(2.5), scale), state, ROUNDS, 1e-4)?.state;
        }
        let scale = median(&mut misses(views, &state).concat())? / 1.1774;
        let used: Vec<Vec<bool>> = misses(views, &state).iter().map(|v| v.iter().map(|m| *m <= keep * scale.max(1e-3)).collect()).collect();
        let inliers: Vec<Vec<Pair>> =
            views.iter().zip(&used).map(|(v, u)| v.iter().zip(u).filter(|p| *p.1).map(|p| *p.0).collect()).collect();
        let unknowns = columns.ncols() + POSE * views.len();
        let best = minimise(&problem(&inliers, Loss::Gauss, 1.0), state, ROUNDS, EXACT)?;
        let squares: f64 = misses(&inliers, &best.state).concat().iter().map(|m| m * m).sum();
        let free = (2 * inliers.iter().map(Vec::len).sum::<usize>()).saturating_sub(unknowns).max(1);
        let lens = columns.ncols();
        let covariance = if lens == 0 {
            SMatrix::zeros()
        } else {
            let own = best.normal.covariance()?.view((0, 0), (lens, lens)) * (squares / free as f64);
            let all = columns * own * columns.transpose();
            SMatrix::from_fn(|r, c| all[(r, c)])
        };
        Some(Self { state: best.state, covariance, used })
    }

    fn report(self, views: &[Vec<Pair>], size: (usize, usize), kept_out: Option<KeptOutPictures>) -> SolvedLens {
        let Self { state, covariance, used } = self;
        let lens = state.sensor.lens();
        let (mut squares, mut count) = (0.0, 0);
        let views = views
            .iter()
            .zip(&used)
            .zip(&state.poses)
            .map(|((pairs, used), pose)| {
                let model = Model::Pinhole { lens, rotation: pose.rotation, translation: pose.translation };
                let off = |p: &Pair| (pose.see(&state.sensor, p.mm) - p.px).norm_squared();
                let own: Vec<f64> = pairs.iter().zip(used).filter(|p| *p.1).map(|p| off(p.0)).collect();
                let sum: f64 = own.iter().sum();
                squares += sum;
                count += own.len();
                let rms_px = (sum / own.len().max(1) as f64).sqrt();
                LensView {
                    view: View::known(model, size.0, size.1),
                    nodes: own.len(),
                    outliers: pairs.len() - own.len(),
                    rms_px,
                    bent_mm: None,
                }
            })
            .collect();
        SolvedLens {
            sensor: state.sensor,
            covariance: DMatrix::from_fn(SENSOR, SENSOR, |r, c| covariance[(r, c)]),
            rms_px: (squares / count.max(1) as f64).sqrt(),
            nodes: count,
            views,
            kept_out,
        }
    }
}

/// Keeps pictures out in turn: the others give the lens, each one kept out only its pose.
fn kept_out(views: &[Vec<Pair>], start: &State, size: (usize, usize), freedom: Freedom) -> Option<KeptOutPictures> {
    let turns = views.len().min(TURNS);
    if views.len() <= FEWEST {
        return None;
    }
    let (mut pictures, mut squares, mut count) = (0, 0.0, 0.0);
    for turn in 0..turns {
        let chosen = |out: bool| (0..views.len()).filter(move |k| (k % turns == turn) == out);
        let take = |out: bool| -> (Vec<Vec<Pair>>, Vec<Pose>) {
            (chosen(out).map(|k| views[k].clone()).collect(), chosen(out).map(|k| start.poses[k]).collect())
        };
        let (others, poses) = take(false);
        let lens = Fit::run(&others, State { sensor: start.sensor, poses }, size, freedom)?.state.sensor;
        for (own, pose) in take(true).0.into_iter().zip(take(true).1) {
            let one = [own];
            let fit = Fit::with(&one, State { sensor: lens, poses: vec![pose] }, size, &DMatrix::zeros(SENSOR, 0), freedom.keep)?;
            let inliers = one[0].iter().zip(&fit.used[0]).filter(|p| *p.1);
            let off: Vec<f64> = inliers.map(|(p, _)| (fit.state.poses[0].see(&lens, p.mm) - p.px).norm_squared()).collect();
            pictures += 1;
            squares += off.iter().sum::<f64>();
            // The pose takes up three nodes' worth of what it was fitted to.
            count += off.len() as f64 - POSE as f64 / 2.0;
        }
    }
    Some(KeptOutPictures { pictures, rms_px: (squares / count).sqrt() })
}
