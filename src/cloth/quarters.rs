//! The quarters of the sheet's squares, one by one: the light of the ground in each, and how strong the marks along it are.

use super::ground::Ground;
use super::light::Sample;
use crate::sheet::SheetKind;
use crate::solve::median;
use std::collections::{BTreeSet, VecDeque};

/// How far from the node the ground of a quarter is looked at, in squares.
const OFF: f64 = 0.3;
/// Places along half a side where its mark is looked at, in squares from the node. Half way there may be a mark of a code.
const ALONG: [f64; 4] = [0.2, 0.27, 0.34, 0.41];

/// One quarter of a square.
#[derive(Clone, Copy, Debug)]
pub(super) struct Quarter {
    /// Its plain ground.
    pub at: Sample,
    /// How much light the marks along it take from the ground (on a mat, add), all channels together.
    pub marks: f32,
    /// Whether its node was seen.
    pub seen: bool,
}

impl Quarter {
    /// Strength of the marks against the quarter's own ground.
    pub fn contrast(&self) -> f32 {
        self.marks / bright(self.at.rgb).max(1e-4)
    }
}

/// All quarters round the nodes of the range looked at, row by row; those out of view are `None`.
pub(super) struct Quarters {
    pub all: Vec<Option<Quarter>>,
    first: [i32; 2],
    wide: usize,
    high: usize,
}

impl Quarters {
    /// Looks at every one.
    pub fn measure(ground: &Ground) -> Self {
        let [i0, i1, j0, j1] = super::runs::widened(ground);
        let (wide, high) = (2 * (i1 - i0 + 1) as usize, 2 * (j1 - j0 + 1) as usize);
        let seen: BTreeSet<(i32, i32)> = ground.seen.iter().map(|s| (s.0, s.1)).collect();
        let lights: Vec<Option<Sample>> = (0..wide * high)
            .map(|n| {
                let ([i, j], [u, v]) = address([i0, j0], n % wide, n / wide);
                ground.mean_at(f64::from(i) + OFF * u, f64::from(j) + OFF * v)
            })
            .collect();
        let all = (0..wide * high).map(|n| {
            let (x, y) = (n % wide, n / wide);
            let ([i, j], way) = address([i0, j0], x, y);
            let mut at = lights[n]?;
            let marks = match ground.kind {
                SheetKind::Checker => {
                    // Across the two half sides that meet at the node.
                    let across = [x ^ 1, y ^ 1];
                    let beside = [lights[y * wide + across[0]]?, lights[across[1] * wide + x]?];
                    let bright = |s: &Sample| s.rgb[0] + s.rgb[1] + s.rgb[2];
                    let other = 0.5 * (bright(&beside[0]) + bright(&beside[1]));
                    let own = bright(&at);
                    if other > own {
                        at.rgb = std::array::from_fn(|k| 0.5 * (beside[0].rgb[k] + beside[1].rgb[k]));
                    }
                    (own - other).abs()
                }
                SheetKind::Dots | SheetKind::Crosses => at_node(ground, i, j, &at)?,
                _ => {
                    // The middle one, for an edge may cross them.
                    let mut all = [half_side(ground, [i, j], 0, way[0])?, half_side(ground, [i, j], 1, way[1])?].concat();
                    median(&mut all)? as f32
                }
            };
            Some(Quarter { at, marks, seen: seen.contains(&(i, j)) })
        });
        Self { all: all.collect(), first: [2 * i0 - 1, 2 * j0 - 1], wide, high }
    }

    /// The quarter at these halves of lattice coordinates, or the nearest that is looked at.
    pub fn nearest(&self, a: i32, b: i32) -> usize {
        let x = (a - self.first[0]).clamp(0, self.wide as i32 - 1) as usize;
        let y = (b - self.first[1]).clamp(0, self.high as i32 - 1) as usize;
        y * self.wide + x
    }

    /// The up to eight neighbours of one.
    pub fn around(&self, n: usize) -> impl Iterator<Item = usize> + '_ {
        let (x, y) = (n % self.wide, n / self.wide);
        let columns = x.saturating_sub(1)..(x + 2).min(self.wide);
        let rows = y.saturating_sub(1)..(y + 2).min(self.high);
        rows.flat_map(move |v| columns.clone().map(move |u| v * self.wide + u)).filter(move |m| *m != n)
    }

    /// Which of them are so; none that is out of view.
    pub fn which(&self, is: impl Fn(usize, &Quarter) -> bool) -> Vec<bool> {
        self.all.iter().enumerate().map(|(n, q)| q.as_ref().is_some_and(|q| is(n, q))).collect()
    }

    /// Column and row of one, as shares of the number of columns.
    pub fn place(&self, n: usize) -> [f64; 2] {
        [n % self.wide, n / self.wide].map(|k| k as f64 / self.wide as f64)
    }

    /// Of these quarters, those that lie together with at least a share `most` of all of them.
    pub fn together(&self, of: &[bool], most: f32) -> Vec<bool> {
        let all = of.iter().filter(|o| **o).count() as f32;
        let (mut left, mut out) = (of.to_vec(), vec![false; of.len()]);
        while let Some(first) = left.iter().position(|l| *l) {
            left[first] = false;
            let mut part = vec![first];
            let mut next = 0;
            while next < part.len() {
                let n = part[next];
                next += 1;
                let more: Vec<usize> = self.around(n).filter(|m| left[*m]).collect();
                more.iter().for_each(|m| left[*m] = false);
                part.extend(more);
            }
            if part.len() as f32 >= most * all {
                part.iter().for_each(|n| out[*n] = true);
            }
        }
        out
    }

    /// How many quarters lie between each and the nearest of `from`, 0 for those.
    pub fn steps_from(&self, from: &[bool]) -> Vec<usize> {
        let mut steps: Vec<usize> = from.iter().map(|f| if *f { 0 } else { usize::MAX }).collect();
        let mut queue: VecDeque<usize> = (0..from.len()).filter(|n| from[*n]).collect();
        while let Some(n) = queue.pop_front() {
            for m in self.around(n) {
                if steps[m] == usize::MAX {
                    steps[m] = steps[n] + 1;
                    queue.push_back(m);
                }
            }
        }
        steps
    }
}

/// Node of a quarter, and the way from there to it along both axes.
fn address(first: [i32; 2], x: usize, y: usize) -> ([i32; 2], [f64; 2]) {
    let way = [x, y].map(|k| if k % 2 == 0 { -1.0 } else { 1.0 });
    ([first[0] + (x / 2) as i32, first[1] + (y / 2) as i32], way)
}

/// All channels together.
pub(super) fn bright(rgb: [f32; 3]) -> f32 {
    rgb[0] + rgb[1] + rgb[2]
}

/// Strength of a node's mark against the ground of a quarter beside it.
fn at_node(ground: &Ground, i: i32, j: i32, beside: &Sample) -> Option<f32> {
    let mark = bright(ground.mean_at(i.into(), j.into())?.rgb);
    Some(bright(beside.rgb) - mark)
}

/// Strength of the line at places along half a side, from a node along `axis`, that way.
fn half_side(ground: &Ground, [i, j]: [i32; 2], axis: usize, way: f64) -> Option<Vec<f64>> {
    let node = [f64::from(i), f64::from(j)];
    let line = if axis == 0 { (1, j) } else { (0, i) };
    let weight = (ground.heavy.depth(line.0, line.1) * ground.heavy.width(line.0, line.1)).max(0.2);
    let sign = if ground.kind == SheetKind::Mat { -1.0 } else { 1.0 };
    let at = |along: f64| {
        let mut place = node;
        place[axis] += way * along;
        let mut next = place;
        next[axis] += way * 0.05;
        let ([x, y], [u, v]) = (ground.place(place[0], place[1]), ground.place(next[0], next[1]));
        let length = (u - x).hypot(v - y);
        let across = [-(v - y) / length, (u - x) / length];
        let away = ground.mark * ground.heavy.width(line.0, line.1).max(1.0) + 2.7;
        let read = |t: f32| ground.sample(x + t * across[0], y + t * across[1]).map(bright);
        let sides = 0.5 * (read(away)? + read(-away)?);
        Some(f64::from(sign * (sides - (read(-1.0)? + read(0.0)? + read(1.0)?) / 3.0) / weight))
    };
    ALONG.into_iter().map(at).collect()
}
