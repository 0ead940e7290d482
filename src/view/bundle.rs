//! All pictures of a lens in one least-squares problem: the lens's open numbers first, then six of a pose for each picture.

use super::camera::Pair;
use super::sensor::{POSE, Pose, SENSOR, Sensor};
use crate::solve::{Loss, Normal, Problem};
use nalgebra::{DMatrix, DVector};

/// Lens and poses together.
#[derive(Clone, Debug)]
pub(super) struct State {
    pub sensor: Sensor,
    pub poses: Vec<Pose>,
}

/// Everything in one problem; unknowns are those of the lens first, then six a picture.
pub(super) struct JointProblem<'a> {
    pub views: &'a [Vec<Pair>],
    /// How the sensor's numbers follow from the open ones, a column an open one.
    pub columns: &'a DMatrix<f64>,
    /// Where loose beliefs are centred, and how loose they are.
    pub about: [f64; SENSOR],
    pub loose: [f64; SENSOR],
    pub loss: Loss,
    /// Every node's error is multiplied by this.
    pub scale: f64,
}

impl JointProblem<'_> {
    /// Misses of the sensor's numbers from loose beliefs, in standard errors.
    fn pulls(&self, sensor: &Sensor) -> [f64; SENSOR] {
        let n = sensor.numbers();
        std::array::from_fn(|k| (n[k] - self.about[k]) / self.loose[k])
    }
}

impl Problem for JointProblem<'_> {
    type State = State;

    fn normal(&self, at: &State) -> Normal {
        let lens = self.columns.ncols();
        let mut n = Normal::zero(lens + POSE * self.views.len());
        let mut places = vec![0; lens + POSE];
        let mut slope = vec![0.0; lens + POSE];
        for (v, (pairs, pose)) in self.views.iter().zip(&at.poses).enumerate() {
            places.iter_mut().enumerate().for_each(|(k, p)| *p = if k < lens { k } else { k + POSE * v });
            for pair in pairs {
                let (px, by_sensor, by_pose) = pose.slopes(&at.sensor, pair.mm);
                let sharp = 1.0 / (pair.error * self.scale).powi(2);
                let miss = px - pair.px;
                let (cost, weight) = self.loss.at(miss.norm_squared() * sharp);
                n.cost += cost;
                for row in 0..2 {
                    let (own, rest) = slope.split_at_mut(lens);
                    let by = |c: usize| (0..SENSOR).map(|k| by_sensor[(row, k)] * self.columns[(k, c)]).sum();
                    own.iter_mut().enumerate().for_each(|(c, s)| *s = by(c));
                    rest.iter_mut().enumerate().for_each(|(k, s)| *s = by_pose[(row, k)]);
                    n.add_at(&places, &slope, miss[row], weight * sharp);
                }
            }
        }
        for (k, size) in self.pulls(&at.sensor).into_iter().enumerate() {
            let by: Vec<f64> = (0..lens).map(|c| self.columns[(k, c)] / self.loose[k]).collect();
            n.cost += size * size;
            n.add_at(&places[..lens], &by, size, 1.0);
        }
        n
    }

    fn cost(&self, at: &State) -> f64 {
        let seen =
            |pose: &Pose, p: &Pair| self.loss.at((pose.see(&at.sensor, p.mm) - p.px).norm_squared() / (p.error * self.scale).powi(2)).0;
        let nodes: f64 = self.views.iter().zip(&at.poses).flat_map(|(v, pose)| v.iter().map(move |p| seen(pose, p))).sum();
        nodes + self.pulls(&at.sensor).iter().map(|p| p * p).sum::<f64>()
    }

    fn moved(&self, from: &State, step: &DVector<f64>) -> State {
        let lens = self.columns.ncols();
        let by = self.columns * step.rows(0, lens);
        let numbers = from.sensor.numbers();
        let poses = from.poses.iter().zip(step.as_slice()[lens..].chunks_exact(POSE)).map(|(p, s)| p.moved(s)).collect();
        State { sensor: Sensor::of_numbers(std::array::from_fn(|k| numbers[k] + by[k])), poses }
    }
}

/// Residuals in units of the nodes' errors, view by view.
pub(super) fn misses(views: &[Vec<Pair>], at: &State) -> Vec<Vec<f64>> {
    let one = |(v, pose): (&Vec<Pair>, &Pose)| v.iter().map(|p| (pose.see(&at.sensor, p.mm) - p.px).norm() / p.error).collect();
    views.iter().zip(&at.poses).map(one).collect()
}
