//! The cheapest cut of a grid of pixels into two kinds.
//!
//! Augmenting paths with two search trees that are kept and repaired (Boykov and Kolmogorov 2004), written for pixels
//! with eight neighbours: an arc and its opposite share a direction's number but for the last bit. Capacities are whole numbers,
//! so the answer does not depend on rounding.

use std::collections::VecDeque;

/// The eight directions; `d ^ 1` is the opposite of `d`.
pub(super) const DIRECTIONS: [(isize, isize); 8] = [(1, 0), (-1, 0), (0, 1), (0, -1), (1, 1), (-1, -1), (-1, 1), (1, -1)];

const FREE: u8 = 0;
const SOURCE: u8 = 1;
const SINK: u8 = 2;
/// Parent marks beyond the eight directions.
const TERMINAL: u8 = 8;
const ORPHAN: u8 = 9;
const NONE: u8 = 10;

/// A graph of those pixels of a grid that are still open. Node 0 stands for every neighbour that is not.
pub(super) struct Cut {
    /// The node of each pixel of the grid, 0 where it is not open.
    number: Vec<u32>,
    /// The pixel of each node.
    pixel: Vec<u32>,
    /// Distance of the neighbouring pixels. Across the grid's side that is a pixel of another row, to which no capacity leads.
    away: [isize; 8],
    /// Capacity left from a pixel towards each direction; both ways of a join together hold twice what it costs.
    cap: Vec<[u16; 8]>,
    /// Capacity left from the source (positive) or to the sink (negative).
    terminal: Vec<i32>,
    tree: Vec<u8>,
    parent: Vec<u8>,
    dist: Vec<u32>,
    stamp: Vec<u32>,
    clock: u32,
    active: VecDeque<u32>,
    queued: Vec<bool>,
    orphans: VecDeque<u32>,
}

impl Cut {
    /// A graph of the open pixels of a grid of rows of `width`, in their order and numbered from 1, without joins.
    pub fn new(open: &[usize], pixels: usize, width: usize) -> Self {
        let n = open.len() + 1;
        let (mut number, mut pixel) = (vec![0u32; pixels], vec![0u32; n]);
        for (k, &p) in open.iter().enumerate() {
            (number[p], pixel[k + 1]) = (k as u32 + 1, p as u32);
        }
        Self {
            number,
            pixel,
            away: DIRECTIONS.map(|(x, y)| y * width as isize + x),
            cap: vec![[0; 8]; n],
            terminal: vec![0; n],
            tree: vec![FREE; n],
            parent: vec![NONE; n],
            dist: vec![0; n],
            stamp: vec![0; n],
            clock: 0,
            active: VecDeque::new(),
            queued: vec![false; n],
            orphans: VecDeque::new(),
        }
    }

    /// Adds to what speaks for the first kind (positive) or the second (negative) at a pixel.
    #[inline]
    pub fn lean(&mut self, n: usize, by: i32) {
        self.terminal[n] += by;
    }

    /// Sets what it costs to part an open pixel from its open neighbour in direction `d`, both ways.
    #[inline]
    pub fn join(&mut self, n: usize, d: usize, cost: u16) {
        let m = self.at(n, d);
        self.cap[n][d] = cost;
        self.cap[m][d ^ 1] = cost;
    }

    /// The neighbour of a node. A table of them would take as much memory as all the rest.
    #[inline]
    fn at(&self, n: usize, d: usize) -> usize {
        let pixel = (self.pixel[n] as usize).wrapping_add_signed(self.away[d]);
        self.number.get(pixel).map_or(0, |m| *m as usize)
    }

    /// Whether an open pixel of the grid came out as the first kind, after [`Cut::run`].
    #[inline]
    pub fn first(&self, pixel: usize) -> bool {
        self.tree[self.number[pixel] as usize] == SOURCE
    }

    /// Finds the cheapest cut.
    pub fn run(&mut self) {
        for n in 0..self.terminal.len() {
            if self.terminal[n] != 0 {
                self.tree[n] = if self.terminal[n] > 0 { SOURCE } else { SINK };
                self.parent[n] = TERMINAL;
                self.dist[n] = 1;
                self.wake(n);
            }
        }
        let mut current = None;
        loop {
            let n = match current.take() {
                Some(n) => n,
                None => match self.next_active() {
                    Some(n) => n,
                    None => return,
                },
            };
            if let Some((from, d)) = self.grow(n) {
                self.augment(from, d);
                self.clock += 1;
                self.adopt();
                if self.parent[n] != NONE {
                    current = Some(n);
                }
            }
        }
    }

    #[inline]
    fn wake(&mut self, n: usize) {
        if !self.queued[n] {
            self.queued[n] = true;
            self.active.push_back(n as u32);
        }
    }

    fn next_active(&mut self) -> Option<usize> {
        while let Some(n) = self.active.pop_front() {
            let n = n as usize;
            self.queued[n] = false;
            if self.parent[n] != NONE {
                return Some(n);
            }
        }
        None
    }

    /// Grows the tree round `n`; gives the arc (from the source's side) where the two trees meet.
    fn grow(&mut self, n: usize) -> Option<(usize, usize)> {
        let source = self.tree[n] == SOURCE;
        for d in 0..8 {
            let m = self.at(n, d);
            let open = if source { self.cap[n][d] } else { self.cap[m][d ^ 1] };
            if open == 0 {
                continue;
            }
            if self.parent[m] == NONE {
                self.tree[m] = self.tree[n];
                self.parent[m] = (d ^ 1) as u8;
                self.dist[m] = self.dist[n] + 1;
                self.stamp[m] = self.stamp[n];
                self.wake(m);
            } else if self.tree[m] != self.tree[n] {
                return Some(if source { (n, d) } else { (m, d ^ 1) });
            } else if self.stamp[m] <= self.stamp[n] && self.dist[m] > self.dist[n] {
                self.parent[m] = (d ^ 1) as u8;
                self.dist[m] = self.dist[n] + 1;
                self.stamp[m] = self.stamp[n];
            }
        }
        None
    }

    fn augment(&mut self, from: usize, d: usize) {
        let to = self.at(from, d);
        let mut flow = self.cap[from][d];
        let mut n = from;
        while self.parent[n] != TERMINAL {
            let p = self.parent[n] as usize;
            let up = self.at(n, p);
            flow = flow.min(self.cap[up][p ^ 1]);
            n = up;
        }
        let mut most = self.terminal[n];
        n = to;
        while self.parent[n] != TERMINAL {
            let p = self.parent[n] as usize;
            flow = flow.min(self.cap[n][p]);
            n = self.at(n, p);
        }
        most = most.min(-self.terminal[n]);
        // A capacity is less than what 16 bits hold, so that more than they hold is no bound.
        let flow = flow.min(u16::try_from(most).unwrap_or(u16::MAX));
        self.cap[from][d] -= flow;
        self.cap[to][d ^ 1] += flow;
        n = from;
        while self.parent[n] != TERMINAL {
            let p = self.parent[n] as usize;
            let up = self.at(n, p);
            self.cap[n][p] += flow;
            self.cap[up][p ^ 1] -= flow;
            if self.cap[up][p ^ 1] == 0 {
                self.orphan(n);
            }
            n = up;
        }
        self.terminal[n] -= i32::from(flow);
        if self.terminal[n] == 0 {
            self.orphan(n);
        }
        n = to;
        while self.parent[n] != TERMINAL {
            let p = self.parent[n] as usize;
            let up = self.at(n, p);
            self.cap[up][p ^ 1] += flow;
            self.cap[n][p] -= flow;
            if self.cap[n][p] == 0 {
                self.orphan(n);
            }
            n = up;
        }
        self.terminal[n] += i32::from(flow);
        if self.terminal[n] == 0 {
            self.orphan(n);
        }
    }

    #[inline]
    fn orphan(&mut self, n: usize) {
        self.parent[n] = ORPHAN;
        self.orphans.push_back(n as u32);
    }

    fn adopt(&mut self) {
        while let Some(n) = self.orphans.pop_front() {
            let n = n as usize;
            let source = self.tree[n] == SOURCE;
            let mut best = (u32::MAX, NONE);
            for d in 0..8 {
                let m = self.at(n, d);
                let open = if source { self.cap[m][d ^ 1] } else { self.cap[n][d] };
                if open == 0 || self.tree[m] != self.tree[n] || self.parent[m] == NONE {
                    continue;
                }
                if let Some(far) = self.root(m)
                    && far < best.0
                {
                    best = (far, d as u8);
                }
            }
            if best.1 == NONE {
                self.set_free(n, source);
            } else {
                self.parent[n] = best.1;
                self.stamp[n] = self.clock;
                self.dist[n] = best.0 + 1;
            }
        }
    }

    /// Distance of `m` from its terminal when it still hangs on one; marks the way so that it is walked once a round.
    fn root(&mut self, m: usize) -> Option<u32> {
        let (mut at, mut far) = (m, 0);
        let far = loop {
            if self.stamp[at] == self.clock {
                break far + self.dist[at];
            }
            match self.parent[at] {
                TERMINAL => {
                    self.stamp[at] = self.clock;
                    self.dist[at] = 1;
                    break far + 1;
                }
                ORPHAN | NONE => return None,
                p => at = self.at(at, p as usize),
            }
            far += 1;
        };
        let (mut at, mut left) = (m, far);
        while self.stamp[at] != self.clock {
            self.stamp[at] = self.clock;
            self.dist[at] = left;
            left -= 1;
            at = self.at(at, self.parent[at] as usize);
        }
        Some(far)
    }

    fn set_free(&mut self, n: usize, source: bool) {
        for d in 0..8 {
            let m = self.at(n, d);
            if self.tree[m] != self.tree[n] || self.parent[m] == NONE {
                continue;
            }
            let open = if source { self.cap[m][d ^ 1] } else { self.cap[n][d] };
            if open > 0 {
                self.wake(m);
            }
            if self.parent[m] < TERMINAL && self.at(m, self.parent[m] as usize) == n {
                self.orphan(m);
            }
        }
        self.parent[n] = NONE;
        self.tree[n] = FREE;
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn energy(w: usize, lean: &[i32], joins: &[(usize, usize, i32)], labels: u32) -> i32 {
        let first = |n: usize| labels >> n & 1 == 1;
        let _ = w;
        lean.iter().enumerate().map(|(n, &l)| if first(n) { (-l).max(0) } else { l.max(0) }).sum::<i32>()
            + joins.iter().map(|&(a, b, c)| if first(a) != first(b) { c } else { 0 }).sum::<i32>()
    }

    proptest! {
        /// Against all 4096 labellings of a small grid.
        #[test]
        fn no_labelling_is_cheaper(lean in prop::collection::vec(-9i32..10, 12), costs in prop::collection::vec(0u16..7, 48)) {
            let (w, h) = (4usize, 3usize);
            let all: Vec<usize> = (0..w * h).collect();
            let mut cut = Cut::new(&all, w * h, w);
            let mut joins = Vec::new();
            let mut next = costs.iter().copied();
            for y in 0..h {
                for x in 0..w {
                    cut.lean(y * w + x + 1, lean[y * w + x]);
                    for d in [0, 2, 4, 6] {
                        let (u, v) = (x as isize + DIRECTIONS[d].0, y as isize + DIRECTIONS[d].1);
                        if u >= 0 && v >= 0 && (u as usize) < w && (v as usize) < h {
                            let c = next.next().unwrap_or(1);
                            cut.join(y * w + x + 1, d, c);
                            joins.push((y * w + x, v as usize * w + u as usize, i32::from(c)));
                        }
                    }
                }
            }
            cut.run();
            let got = (0..w * h).fold(0u32, |l, n| l | u32::from(cut.first(n)) << n);
            let best = (0..1u32 << (w * h)).map(|l| energy(w, &lean, &joins, l)).min();
            prop_assert_eq!(Some(energy(w, &lean, &joins, got)), best);
        }
    }
}
