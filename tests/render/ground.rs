//! What lies under the cloth, seen from near: the table's wood, the paper's grain, and where each pixel looks.

use super::camera::Camera;
use super::curve::{Point, lerp};
use super::random::cloudiness;

/// Pixels between the exact nodes of a backward map; between them it is bilinear, good to 0.01 px and used for texture only.
const CELL: usize = 16;

/// Where the pixels of a strip look, at one height.
pub struct Back {
    nodes: Vec<Point>,
    across: usize,
}

impl Back {
    pub fn new(camera: &Camera, height: f64, top: isize, count: usize) -> Self {
        let (across, down) = (camera.size[0] / CELL + 2, count / CELL + 2);
        let at = |i: usize, j: usize| camera.sheet([(i * CELL) as f64, (top + (j * CELL) as isize) as f64], height);
        let nodes = (0..down).flat_map(|j| (0..across).map(move |i| (i, j))).map(|(i, j)| at(i, j)).collect();
        Self { nodes, across }
    }

    /// The sheet point seen at column `x` of the strip's row `y`.
    #[inline]
    pub fn at(&self, x: usize, y: usize) -> Point {
        let k = (y / CELL) * self.across + x / CELL;
        let (s, t) = ((x % CELL) as f64 / CELL as f64, (y % CELL) as f64 / CELL as f64);
        let n = &self.nodes;
        lerp(lerp(n[k], n[k + 1], s), lerp(n[k + self.across], n[k + self.across + 1], s), t)
    }
}

/// Light a wooden table gives back, as a share of its colour.
#[inline]
pub fn wood(seed: u64, [u, v]: Point) -> f32 {
    1.0 + 0.16 * cloudiness(seed, u * 0.06, v, 3.0) + 0.1 * cloudiness(seed ^ 3, u * 0.1, v, 17.0)
}

/// Unevenness of paper: fine grain and slow clouds, about one per cent.
#[inline]
pub fn paper(seed: u64, at: Point) -> f32 {
    0.007 * cloudiness(seed, at[0], at[1], 0.9) + 0.012 * cloudiness(seed ^ 5, at[0], at[1], 60.0)
}
