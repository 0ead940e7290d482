//! Lays a traced outline on the true one by a rigid motion and says how far they differ.

use super::curve::{Curve, Point, Stretch, add, area, dot, even, length, scaled, sub};

/// A turn (cosine, sine), a scale and a shift.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Motion {
    turn: Point,
    shift: Point,
}

impl Motion {
    pub fn apply(&self, p: Point) -> Point {
        let [c, s] = self.turn;
        add([c * p[0] - s * p[1], s * p[0] + c * p[1]], self.shift)
    }

    /// Enlargement, 1 for a rigid motion.
    pub fn scale(&self) -> f64 {
        length(self.turn)
    }

    /// This motion followed by a turn of `x[0]`, a shift of `x[1], x[2]` and a growth of `x[3]` about `centre`.
    fn then(&self, centre: Point, x: [f64; 4]) -> Self {
        let (s, c) = x[0].sin_cos();
        let step = scaled([c, s], 1.0 + x[3]);
        let by = |p: Point| [step[0] * p[0] - step[1] * p[1], step[1] * p[0] + step[0] * p[1]];
        Self { turn: by(self.turn), shift: add(add(by(sub(self.shift, centre)), centre), [x[1], x[2]]) }
    }
}

/// A closed polyline with feet of other points on it.
pub struct Track {
    points: Vec<Point>,
}

impl Track {
    pub fn new(points: Vec<Point>) -> Self {
        Self { points }
    }

    /// Nearest point of the track and the outward normal there (for a clockwise track).
    pub fn foot(&self, p: Point) -> (Point, Point) {
        let n = self.points.len();
        let k = super::curve::nearest(&self.points, p);
        let mut best = (f64::MAX, p, [0.0; 2]);
        for (a, b) in [(self.points[(k + n - 1) % n], self.points[k]), (self.points[k], self.points[(k + 1) % n])] {
            let along = sub(b, a);
            let t = (dot(sub(p, a), along) / dot(along, along).max(1e-300)).clamp(0.0, 1.0);
            let f = add(a, scaled(along, t));
            let far = length(sub(p, f));
            if far < best.0 {
                best = (far, f, scaled([along[1], -along[0]], 1.0 / length(along).max(1e-300)));
            }
        }
        (best.1, best.2)
    }

    pub fn distance(&self, p: Point) -> f64 {
        length(sub(p, self.foot(p).0))
    }
}

/// How a traced outline lies on the true one, mm.
#[derive(Clone, Debug)]
pub struct Laid {
    pub motion: Motion,
    /// Distances both ways, sorted.
    pub distances: Vec<f64>,
    /// Mean signed distance; positive when traced too large.
    pub bias: f64,
    /// Error of the size left after the rigid motion, parts in a million; positive when traced too large.
    pub scale_ppm: f64,
}

impl Laid {
    pub fn share(&self, p: f64) -> f64 {
        self.distances[((self.distances.len() - 1) as f64 * p) as usize]
    }

    pub fn p95(&self) -> f64 {
        self.share(0.95)
    }

    pub fn max(&self) -> f64 {
        self.share(1.0)
    }
}

/// Lays `traced` on `truth`: 24 starting turns on coarse points, the best refined with feet both ways.
pub fn lay(traced: &Curve, truth: &Curve) -> Laid {
    let (traced, truth) = (traced.clockwise(true), truth.clockwise(true));
    let (fine, coarse) = (traced.even_points(1.0), traced.even_points(12.0));
    let rough = Track::new(truth.even_points(4.0));
    let (from, to) = (centroid(&fine), centroid(&rough.points));
    let mut best = (f64::MAX, Motion { turn: [1.0, 0.0], shift: [0.0; 2] });
    for k in 0..24 {
        let (s, c) = (k as f64 * 15f64.to_radians()).sin_cos();
        let turned = Motion { turn: [c, s], shift: [0.0; 2] };
        let mut motion = Motion { shift: sub(to, turned.apply(from)), ..turned };
        for _ in 0..12 {
            motion = improve(&coarse, &rough, motion, false, &[]);
        }
        let miss = coarse.iter().map(|p| rough.distance(motion.apply(*p)).powi(2)).sum();
        if miss < best.0 {
            best = (miss, motion);
        }
    }
    let (track, probes) = (Track::new(truth.points(0.5)), truth.even_points(2.0));
    let some = even(&fine, 2.0, true);
    let mut motion = best.1;
    for _ in 0..12 {
        motion = improve(&some, &track, motion, false, &probes);
    }
    let mut grown = motion;
    for _ in 0..8 {
        grown = improve(&some, &track, grown, true, &probes);
    }
    let laid: Vec<Point> = fine.iter().map(|p| motion.apply(*p)).collect();
    let mut bias = 0.0;
    let mut distances: Vec<f64> = Vec::new();
    for p in &laid {
        let (foot, out) = track.foot(*p);
        bias += dot(sub(*p, foot), out) / laid.len() as f64;
        distances.push(length(sub(*p, foot)));
    }
    let back = Track::new(traced.points(0.5).iter().map(|p| motion.apply(*p)).collect());
    distances.extend(truth.even_points(1.0).iter().map(|p| back.distance(*p)));
    distances.sort_by(f64::total_cmp);
    Laid { motion, distances, bias, scale_ppm: (1.0 / grown.scale() - 1.0) * 1e6 }
}

/// One Gauss-Newton step of laying points on a track; `probes` are points of the track whose feet on the result pull too.
fn improve(points: &[Point], track: &Track, motion: Motion, grow: bool, probes: &[Point]) -> Motion {
    let moved: Vec<Point> = points.iter().map(|p| motion.apply(*p)).collect();
    let centre = centroid(&moved);
    let mut rows: Vec<([f64; 4], f64)> = Vec::with_capacity(points.len() + probes.len());
    let mut push = |p: Point, foot: Point, n: Point| {
        let q = sub(p, centre);
        rows.push(([q[0] * n[1] - q[1] * n[0], n[0], n[1], dot(q, n)], dot(sub(foot, p), n)));
    };
    for p in &moved {
        let (foot, normal) = track.foot(*p);
        push(*p, foot, normal);
    }
    if !probes.is_empty() {
        let back = Track::new(moved.clone());
        for q in probes {
            let (foot, normal) = back.foot(*q);
            push(foot, *q, normal);
        }
    }
    let n = if grow { 4 } else { 3 };
    let mut m = [[0.0; 5]; 4];
    for (j, r) in &rows {
        for a in 0..n {
            (0..n).for_each(|b| m[a][b] += j[a] * j[b]);
            m[a][4] += j[a] * r;
        }
    }
    let mut x = solve(m, n);
    x[0] = x[0].clamp(-0.3, 0.3);
    motion.then(centre, x)
}

/// Solves the first `n` equations of a symmetric system (right side in column 4) by elimination.
fn solve(mut m: [[f64; 5]; 4], n: usize) -> [f64; 4] {
    for k in 0..n {
        let pivot = (k..n).max_by(|a, b| m[*a][k].abs().total_cmp(&m[*b][k].abs())).unwrap_or(k);
        m.swap(k, pivot);
        let row = m[k];
        for other in m.iter_mut().take(n).skip(k + 1) {
            let f = if row[k] == 0.0 { 0.0 } else { other[k] / row[k] };
            (k..5).for_each(|c| other[c] -= f * row[c]);
        }
    }
    let mut x = [0.0; 4];
    for k in (0..n).rev() {
        let rest: f64 = (k + 1..n).map(|c| m[k][c] * x[c]).sum();
        x[k] = if m[k][k] == 0.0 { 0.0 } else { (m[k][4] - rest) / m[k][k] };
    }
    x
}

/// Centre of a polygon's area.
fn centroid(p: &[Point]) -> Point {
    let mut sum = [0.0; 2];
    for (k, a) in p.iter().enumerate() {
        let b = p[(k + 1) % p.len()];
        let c = super::curve::cross(*a, b);
        sum = add(sum, scaled(add(*a, b), c));
    }
    scaled(sum, 1.0 / (6.0 * area(p)))
}

/// Reads SVG path data of absolute M, L, H, V, C and Z commands with one subpath; `None` for anything else.
pub fn path(data: &str) -> Option<Curve> {
    let spaced: String = data.chars().flat_map(|c| if c.is_ascii_alphabetic() && c != 'e' { vec![' ', c, ' '] } else { vec![c] }).collect();
    let mut words = spaced.split([' ', ',', '\n']).filter(|w| !w.is_empty()).peekable();
    let mut curve: Option<Curve> = None;
    let mut command = 'M';
    while let Some(word) = words.peek() {
        if let Some(c) = word.chars().next().filter(char::is_ascii_alphabetic) {
            command = c;
            words.next();
        }
        let mut number = || words.next()?.parse::<f64>().ok();
        let at = curve.as_ref().map(|c| c.stretches.last().map_or(c.start, Stretch::end));
        curve = match (command, curve) {
            ('M', None) => {
                command = 'L';
                Some(Curve::from([number()?, number()?]))
            }
            ('L', Some(c)) => Some(c.line([number()?, number()?])),
            ('H', Some(c)) => Some(c.line([number()?, at?[1]])),
            ('V', Some(c)) => Some(c.line([at?[0], number()?])),
            ('C', Some(c)) => Some(c.cubic([number()?, number()?], [number()?, number()?], [number()?, number()?])),
            ('Z', Some(c)) => return Some(c.close()),
            _ => return None,
        };
    }
    curve
}
