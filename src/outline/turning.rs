//! Where the line may have a corner: places at which lines laid through the points before and after differ in
//! direction, at three scales.

use super::trail::Trail;
use nalgebra::Vector2;

/// A place that may be a corner.
#[derive(Clone, Copy, Debug)]
pub(super) struct Candidate {
    /// Distance along the line, mm.
    pub s: f64,
    /// Turn found there, radians, positive to the right as seen.
    pub turn: f64,
}

/// Nearest and farthest point used on each side, mm, and the least turn that counts, degrees. Near windows see short
/// edges but noise turns them by ten degrees; far windows see gentle corners, but a neckline turns in them too.
const SCALES: [(f64, f64, f64); 3] = [(0.3, 2.6, 40.0), (1.5, 6.5, 15.0), (2.5, 14.0, 11.0)];

/// Two candidates nearer than this are one, mm.
const APART: f64 = 2.6;

/// Sums for laying a line through any stretch of sites in constant time.
struct Sums {
    rows: Vec<[f64; 6]>,
    first: f64,
    s: Vec<f64>,
}

/// All candidates, strongest first.
pub(super) fn candidates(trail: &Trail) -> Vec<Candidate> {
    let margin = SCALES[2].1 + 1.0;
    let sums = Sums::new(trail, margin);
    let mut kept: Vec<Candidate> = Vec::new();
    // The far windows alone would call every tight curve a corner; the near ones must turn too.
    let wide: Vec<f64> = turns(trail, &sums, SCALES[2]);
    for scale in [0, 1] {
        let near = turns(trail, &sums, SCALES[scale]);
        let least = SCALES[scale].2.to_radians();
        let mut found: Vec<Candidate> = Vec::new();
        for (k, site) in trail.sites.iter().enumerate() {
            let strong = near[k].abs() >= least && (scale == 0 || wide[k].abs() >= SCALES[2].2.to_radians() || near[k].abs() > 2.0 * least);
            if strong && is_peak(trail, &near, k) {
                found.push(Candidate { s: site.s, turn: near[k] });
            }
        }
        found.sort_by(|a, b| b.turn.abs().total_cmp(&a.turn.abs()).then(a.s.total_cmp(&b.s)));
        // Between two sharp corners a few millimetres apart the wider windows see one of twice the turn.
        let sharp = kept.len();
        for c in found {
            let apart = |k: &Candidate| trail.forward(k.s, c.s).abs().min(trail.forward(c.s, k.s).abs());
            let clear = kept[..sharp].iter().all(|k| apart(k) >= SCALES[scale].1) && kept.iter().all(|k| apart(k) >= APART);
            if clear {
                kept.push(c);
            }
        }
    }
    kept.sort_by(|a, b| b.turn.abs().total_cmp(&a.turn.abs()).then(a.s.total_cmp(&b.s)));
    kept
}

fn turns(trail: &Trail, sums: &Sums, (near, far, _): (f64, f64, f64)) -> Vec<f64> {
    trail
        .sites
        .iter()
        .map(|site| {
            let before = sums.direction(site.s - far, site.s - near);
            let after = sums.direction(site.s + near, site.s + far);
            match (before, after) {
                (Some(a), Some(b)) => a.perp(&b).atan2(a.dot(&b)),
                _ => 0.0,
            }
        })
        .collect()
}

fn is_peak(trail: &Trail, turn: &[f64], k: usize) -> bool {
    let n = turn.len() as i64;
    let here = turn[k].abs();
    let s = trail.sites[k].s;
    for way in [-1i64, 1] {
        for d in 1..n {
            let j = k as i64 + way * d;
            if !trail.closed && !(0..n).contains(&j) {
                break;
            }
            let j = j.rem_euclid(n) as usize;
            let apart = if way > 0 { trail.forward(s, trail.sites[j].s) } else { trail.forward(trail.sites[j].s, s) };
            if apart > APART {
                break;
            }
            // Of equals the first along the line wins.
            if turn[j].abs() > here || (turn[j].abs() == here && way < 0) {
                return false;
            }
        }
    }
    true
}

impl Sums {
    fn new(trail: &Trail, margin: f64) -> Self {
        let (low, high) = if trail.closed { (-margin, trail.length + margin) } else { (0.0, trail.length) };
        let mut rows = vec![[0.0; 6]];
        let mut s = Vec::new();
        let reach = margin.min(trail.length * 0.49);
        let sites: Vec<_> = if trail.closed {
            let before = trail.between(trail.length - reach, trail.length - 1e-9).map(|t| (t.s - trail.length, t.at));
            let own = trail.sites.iter().map(|t| (t.s, t.at));
            let after = trail.between(0.0, reach).map(|t| (t.s + trail.length, t.at));
            before.chain(own).chain(after).collect()
        } else {
            trail.sites.iter().map(|t| (t.s, t.at)).collect()
        };
        let origin = trail.sites[0].at;
        for (at_s, at) in sites {
            if at_s < low || at_s > high {
                continue;
            }
            let p = at - origin;
            let mut next = rows[rows.len() - 1];
            for (sum, v) in next.iter_mut().zip([1.0, p.x, p.y, p.x * p.x, p.x * p.y, p.y * p.y]) {
                *sum += v;
            }
            rows.push(next);
            s.push(at_s);
        }
        Self { rows, first: low, s }
    }

    /// Direction of travel of the line laid through the sites from `low` to `high`.
    fn direction(&self, low: f64, high: f64) -> Option<Vector2<f64>> {
        let (a, b) = (self.s.partition_point(|&t| t < low.max(self.first)), self.s.partition_point(|&t| t <= high));
        if b < a + 2 {
            return None;
        }
        let d: [f64; 6] = std::array::from_fn(|k| self.rows[b][k] - self.rows[a][k]);
        let (xx, xy, yy) = (d[3] - d[1] * d[1] / d[0], d[4] - d[1] * d[2] / d[0], d[5] - d[2] * d[2] / d[0]);
        let angle = 0.5 * (2.0 * xy).atan2(xx - yy);
        let axis = Vector2::new(angle.cos(), angle.sin());
        let point = |k: usize| Vector2::new(self.rows[k + 1][1] - self.rows[k][1], self.rows[k + 1][2] - self.rows[k][2]);
        Some(if axis.dot(&(point(b - 1) - point(a))) < 0.0 { -axis } else { axis })
    }
}
