//! Lines and cubic curves in millimetres: the shapes that are drawn, and the truth about them.

/// A point or a direction, x right and y down.
pub type Point = [f64; 2];

pub fn add(a: Point, b: Point) -> Point {
    [a[0] + b[0], a[1] + b[1]]
}

pub fn sub(a: Point, b: Point) -> Point {
    [a[0] - b[0], a[1] - b[1]]
}

pub fn scaled(a: Point, k: f64) -> Point {
    [a[0] * k, a[1] * k]
}

pub fn lerp(a: Point, b: Point, t: f64) -> Point {
    add(a, scaled(sub(b, a), t))
}

pub fn length(a: Point) -> f64 {
    a[0].hypot(a[1])
}

pub fn cross(a: Point, b: Point) -> f64 {
    a[0] * b[1] - a[1] * b[0]
}

pub fn dot(a: Point, b: Point) -> f64 {
    a[0] * b[0] + a[1] * b[1]
}

/// The next stretch of a path.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Stretch {
    Line(Point),
    Cubic(Point, Point, Point),
}

impl Stretch {
    pub fn end(&self) -> Point {
        match *self {
            Self::Line(p) | Self::Cubic(_, _, p) => p,
        }
    }
}

/// A path of lines and cubics; a closed one ends where it starts.
#[derive(Clone, Debug, PartialEq)]
pub struct Curve {
    pub start: Point,
    pub stretches: Vec<Stretch>,
    pub closed: bool,
}

impl Curve {
    pub fn from(start: Point) -> Self {
        Self { start, stretches: Vec::new(), closed: false }
    }

    pub fn line(mut self, to: Point) -> Self {
        self.stretches.push(Stretch::Line(to));
        self
    }

    pub fn cubic(mut self, a: Point, b: Point, to: Point) -> Self {
        self.stretches.push(Stretch::Cubic(a, b, to));
        self
    }

    /// Closes the path, with a line where the end is not yet the start.
    pub fn close(mut self) -> Self {
        let end = self.stretches.last().map_or(self.start, Stretch::end);
        if length(sub(end, self.start)) > 1e-9 {
            self.stretches.push(Stretch::Line(self.start));
        }
        self.closed = true;
        self
    }

    pub fn map(&self, f: impl Fn(Point) -> Point) -> Self {
        let stretches = self.stretches.iter().map(|s| match *s {
            Stretch::Line(p) => Stretch::Line(f(p)),
            Stretch::Cubic(a, b, p) => Stretch::Cubic(f(a), f(b), f(p)),
        });
        Self { start: f(self.start), stretches: stretches.collect(), closed: self.closed }
    }

    /// Turned by `degrees` (clockwise as seen) about the origin, then moved.
    pub fn laid(&self, degrees: f64, by: Point) -> Self {
        let (s, c) = degrees.to_radians().sin_cos();
        self.map(|p| add([c * p[0] - s * p[1], s * p[0] + c * p[1]], by))
    }

    pub fn reversed(&self) -> Self {
        let mut ends = vec![self.start];
        ends.extend(self.stretches.iter().map(Stretch::end));
        let mut back = Self { start: ends[ends.len() - 1], stretches: Vec::new(), closed: self.closed };
        for (k, s) in self.stretches.iter().enumerate().rev() {
            back.stretches.push(match *s {
                Stretch::Line(_) => Stretch::Line(ends[k]),
                Stretch::Cubic(a, b, _) => Stretch::Cubic(b, a, ends[k]),
            });
        }
        back
    }

    /// The same path, running clockwise as seen (y down) or the other way.
    pub fn clockwise(&self, wanted: bool) -> Self {
        if (area(&self.points(1.0)) > 0.0) == wanted { self.clone() } else { self.reversed() }
    }

    /// Points along the path no more than `step` mm apart; a closed path's last point is not its first again.
    pub fn points(&self, step: f64) -> Vec<Point> {
        let mut all = vec![self.start];
        let mut from = self.start;
        for s in &self.stretches {
            match *s {
                Stretch::Line(p) => {
                    let n = (length(sub(p, from)) / step).ceil().max(1.0) as usize;
                    all.extend((1..=n).map(|k| lerp(from, p, k as f64 / n as f64)));
                }
                Stretch::Cubic(a, b, p) => {
                    let hull = length(sub(a, from)) + length(sub(b, a)) + length(sub(p, b));
                    // Parameter steps are uneven in length, at most about 1.5 times their mean for the shapes here.
                    let n = (1.5 * hull / step).ceil().max(2.0) as usize;
                    all.extend((1..=n).map(|k| cubic_at([from, a, b, p], k as f64 / n as f64)));
                }
            }
            from = s.end();
        }
        if self.closed {
            all.pop();
        }
        all
    }

    /// Points of the path `step` mm apart along it (a little less, so that they come out even).
    pub fn even_points(&self, step: f64) -> Vec<Point> {
        even(&self.points(step.min(0.25)), step, self.closed)
    }

    pub fn length(&self) -> f64 {
        let p = self.points(0.05);
        let open: f64 = p.windows(2).map(|w| length(sub(w[1], w[0]))).sum();
        open + if self.closed { length(sub(p[0], p[p.len() - 1])) } else { 0.0 }
    }

    /// Ends of stretches where the outline turns 20° or more within 3 mm either side.
    pub fn corners(&self) -> Vec<Point> {
        let fine = self.even_points(0.1);
        let n = fine.len();
        let reach = (3.0 / (self.length() / n as f64)).round() as usize;
        let mut found = Vec::new();
        for s in &self.stretches {
            let at = s.end();
            let k = nearest(&fine, at);
            let (a, b) = (sub(fine[k], fine[(k + n - reach) % n]), sub(fine[(k + reach) % n], fine[k]));
            if cross(a, b).atan2(dot(a, b)).abs() >= 20f64.to_radians() {
                found.push(at);
            }
        }
        found
    }

    /// SVG path data (SVG 2, 9.3).
    pub fn svg(&self) -> String {
        let mut text = format!("M {:.4} {:.4}", self.start[0], self.start[1]);
        for s in &self.stretches {
            text += &match *s {
                Stretch::Line(p) => format!(" L {:.4} {:.4}", p[0], p[1]),
                Stretch::Cubic(a, b, p) => {
                    format!(" C {:.4} {:.4} {:.4} {:.4} {:.4} {:.4}", a[0], a[1], b[0], b[1], p[0], p[1])
                }
            };
        }
        if self.closed {
            text += " Z";
        }
        text
    }
}

/// A point of a cubic by Bernstein's polynomials.
pub fn cubic_at(p: [Point; 4], t: f64) -> Point {
    let u = 1.0 - t;
    let w = [u * u * u, 3.0 * u * u * t, 3.0 * u * t * t, t * t * t];
    [0, 1].map(|k| w[0] * p[0][k] + w[1] * p[1][k] + w[2] * p[2][k] + w[3] * p[3][k])
}

/// Signed area of a closed polygon; positive when it runs clockwise as seen with y down.
pub fn area(p: &[Point]) -> f64 {
    0.5 * (0..p.len()).map(|k| cross(p[k], p[(k + 1) % p.len()])).sum::<f64>()
}

/// Index of the point nearest `to`.
pub fn nearest(points: &[Point], to: Point) -> usize {
    let far = |k: &usize| length(sub(points[*k], to));
    (0..points.len()).min_by(|a, b| far(a).total_cmp(&far(b))).unwrap_or(0)
}

/// A polyline again with vertices even distances apart, about `step`.
pub fn even(points: &[Point], step: f64, closed: bool) -> Vec<Point> {
    let count = points.len() + usize::from(closed);
    let vertex = |k: usize| points[k % points.len()];
    let total: f64 = (1..count).map(|k| length(sub(vertex(k), vertex(k - 1)))).sum();
    let n = (total / step).ceil().max(1.0) as usize;
    let (mut out, mut run, mut k) = (Vec::with_capacity(n + 1), 0.0, 1);
    for m in 0..n + usize::from(!closed) {
        let want = total * m as f64 / n as f64;
        while k + 1 < count && run + length(sub(vertex(k), vertex(k - 1))) < want {
            run += length(sub(vertex(k), vertex(k - 1)));
            k += 1;
        }
        let long = length(sub(vertex(k), vertex(k - 1))).max(1e-300);
        out.push(lerp(vertex(k - 1), vertex(k), ((want - run) / long).clamp(0.0, 1.0)));
    }
    out
}
