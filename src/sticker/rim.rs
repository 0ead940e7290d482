//! Where a mark of one colour ends along a line of samples: half way between its light and what lies beside it.

use nalgebra::{Matrix3, Vector3};

/// Light as three numbers.
pub(super) type Light = [f64; 3];

/// Scatter of light that grain and coding leave on plain ground (linear light).
const GRAIN: f64 = 0.02;
/// How much shadow beside a mark may take of what lies there.
const SHADE: f64 = 0.2;
/// A step smaller than so many times the scatter along the axis shows no edge.
const FAINT: f64 = 3.0;

/// The mean of samples; `None` when there is none.
pub(super) fn mean(samples: &[Light]) -> Option<Light> {
    let n = samples.len() as f64;
    (n > 0.0).then(|| std::array::from_fn(|c| samples.iter().map(|s| s[c]).sum::<f64>() / n))
}

/// The mixture of channels that tells a mark best from all that lies round it: Fisher's linear discriminant (1936) of the mark's
/// light against that of its surroundings, which may be of two cloths, checked, and in shadow.
#[derive(Clone, Copy, Debug)]
pub(super) struct Axis {
    weights: Vector3<f64>,
    inside: Vector3<f64>,
    scatter: f64,
}

impl Axis {
    /// Between a mark's own light and samples from round it.
    pub fn new(inside: Light, round: &[Light]) -> Option<Self> {
        let middle = Vector3::from(mean(round)?);
        let n = round.len() as f64;
        let scatter = round.iter().map(|s| Vector3::from(*s) - middle).map(|d| d * d.transpose()).sum::<Matrix3<f64>>() / n;
        let shadow = middle * middle.transpose() * (SHADE * SHADE);
        let all = scatter + shadow + Matrix3::identity() * (GRAIN * GRAIN);
        let inside = Vector3::from(inside);
        let weights = all.try_inverse()? * (middle - inside);
        Some(Self { weights, inside, scatter: (weights.transpose() * all * weights)[(0, 0)].max(0.0).sqrt() })
    }

    fn of(&self, light: &Light) -> f64 {
        self.weights.dot(&(Vector3::from(*light) - self.inside))
    }

    /// Where, in steps of `samples`, the light passes from the mark's half way to `outside`: the passage nearest to `near`.
    pub fn edge(&self, samples: &[Light], outside: Light, near: f64) -> Option<f64> {
        let step = self.of(&outside);
        if step < FAINT * self.scatter {
            return None;
        }
        let shares: Vec<f64> = samples.iter().map(|s| self.of(s) / step).collect();
        let passages = shares.windows(2).enumerate().filter(|(_, w)| w[0] < 0.5 && w[1] >= 0.5);
        let places = passages.map(|(k, w)| k as f64 + (0.5 - w[0]) / (w[1] - w[0]));
        places.min_by(|a, b| (a - near).abs().total_cmp(&(b - near).abs()))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const MARK: Light = [0.5, 0.05, 0.05];

    fn mixed(v: f64, beside: Light) -> Light {
        std::array::from_fn(|c| MARK[c] + v * (beside[c] - MARK[c]))
    }

    #[test]
    fn the_passage_nearest_the_guess_counts() {
        let paper = [0.8, 0.8, 0.75];
        let axis = Axis::new(MARK, &[paper]).expect("an axis");
        let samples: Vec<Light> = [0.0, 0.0, 0.25, 0.75, 1.0, 1.0, 0.0, 1.0].map(|v| mixed(v, paper)).to_vec();
        assert!((axis.edge(&samples, paper, 3.0).expect("an edge") - 2.5).abs() < 1e-9);
        assert!((axis.edge(&samples, paper, 7.0).expect("an edge") - 6.5).abs() < 1e-9);
        assert!(axis.edge(&samples, mixed(0.1, paper), 3.0).is_none());
        assert_eq!(mean(&[]), None);
    }

    /// Beside the mark the paper lies in a shadow that ends a little further out: the edge stays where the mark ends.
    #[test]
    fn shadow_beside_a_mark_does_not_move_its_edge() {
        let paper = [0.8, 0.8, 0.75];
        let axis = Axis::new(MARK, &[paper]).expect("an axis");
        let shares = [0.0, 0.0, 0.25, 0.75, 1.0, 1.0, 1.0];
        let samples: Vec<Light> = shares.iter().map(|v| mixed(*v, paper.map(|p| 0.75 * p))).chain([paper]).collect();
        let edge = axis.edge(&samples, paper, 3.0).expect("an edge");
        assert!((edge - 2.5).abs() < 0.12, "{edge}");
    }
}
