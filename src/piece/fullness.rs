//! What a flat outline can't tell, opened on request: pleats and gathers; and pieces that were traced folded.

use super::layer::{Corner, Edge, Inner, Layer, LayerError, ends, mm, point};
use super::share::displaced;
use super::walk::Walk;
use crate::length::Mm;
use kurbo::{Affine, BezPath, ParamCurve, Point, Vec2};

/// Why fullness could not be opened.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum FullnessError {
    /// The dart's measures are none a dart can have.
    #[error("the dart \"{dart}\" takes in {intake:.1} mm on legs of {leg:.1} mm, which no dart can; check its places")]
    Dart {
        /// Its name.
        dart: String,
        /// What it takes in, mm.
        intake: f64,
        /// Length of its legs, mm.
        leg: f64,
    },
    /// The line from the dart's mouth to its point does not lie within the piece.
    #[error("the dart \"{dart}\" does not run within the piece from its mouth to its point; check its places")]
    Hinge {
        /// Its name.
        dart: String,
    },
    /// Edges can't go round the dart open with the length they have.
    #[error("the dart \"{dart}\" can't be opened with every edge as long as it is: {why}; say in its notes which edge gives = \"…\"")]
    Stuck {
        /// Its name.
        dart: String,
        /// What hinders it.
        why: String,
    },
    /// A dart with two points leaves the piece.
    #[error("the dart \"{dart}\" does not lie within the piece from point to point; check its places")]
    Within {
        /// Its name.
        dart: String,
    },
    /// A slash is too short, or runs along the edge, so that it can't be spread.
    #[error(
        "at {x:.0}, {y:.0} mm the piece is too shallow to be spread to nothing at the edge across; say across = \"…\", the edge that is as full"
    )]
    Shallow {
        /// Where, mm.
        x: f64,
        /// Where, mm.
        y: f64,
    },
    /// Spread so much, the piece would turn round on itself.
    #[error("spread to nothing at the edge across, its ends would turn by {degrees:.0}°; say across = \"…\", the edge that is as full")]
    Turned {
        /// How far.
        degrees: f64,
    },
    /// A line along which the piece is spread does not cross it twice.
    #[error("a line at {x:.0}, {y:.0} mm crosses the outline {found} times, not twice, so the piece can't be spread along it")]
    Spread {
        /// Where, mm.
        x: f64,
        /// Where, mm.
        y: f64,
        /// Crossings.
        found: usize,
    },
    /// The folded edge is not there, or the piece has no other.
    #[error("there is no folded edge number {edge} to unfold the piece about")]
    Fold {
        /// Its number.
        edge: usize,
    },
    /// What came out is no piece.
    #[error(transparent)]
    Layer(#[from] LayerError),
}

/// Spreads a piece by `by` mm along a line across it: the side to the right of the line's direction stays, the other moves off.
/// Pleats spread by twice their depth each; gathers by equal shares at several lines.
///
/// # Errors
/// The line does not cross the outline twice.
pub fn spread(layer: &Layer, at: Mm, along: Vec2, by: f64) -> Result<Layer, FullnessError> {
    let line = kurbo::Line::new(point(at) - along * 1e4, point(at) + along * 1e4);
    let away = -along.normalize().turn_90() * by;
    let left = |p: Point| along.cross(p - point(at)) < -1e-9;
    let mut out = layer.clone();
    let mut found = 0;
    for e in &mut out.edges {
        let walk = Walk::of(&e.path);
        let mut cuts: Vec<f64> = e
            .path
            .segments()
            .flat_map(|s| s.intersect_line(line).into_iter().map(move |h| s.eval(h.segment_t)))
            .map(|p| walk.nearest(p).0)
            .collect();
        cuts.retain(|s| *s > 1e-6 && *s < walk.length() - 1e-6);
        cuts.sort_by(f64::total_cmp);
        cuts.dedup_by(|a, b| (*a - *b).abs() < 1e-6);
        found += cuts.len();
        let stops: Vec<f64> = std::iter::once(0.0).chain(cuts).chain([walk.length()]).collect();
        let mut path = BezPath::new();
        for w in stops.windows(2) {
            let stretch = walk.part(w[0], w[1]);
            let moved = if left(walk.at(0.5 * (w[0] + w[1]))) { Affine::translate(away) * stretch } else { stretch };
            match (path.current_position(), ends(&moved)) {
                (None, _) => path = moved,
                (Some(_), Some((start, _))) => {
                    path.line_to(start);
                    path.extend(moved.elements().iter().skip(1).copied());
                }
                (Some(_), None) => {}
            }
        }
        if stops.len() > 2 {
            e.how = e.how.drafted();
        }
        e.path = path;
    }
    if found != 2 {
        return Err(FullnessError::Spread { x: at.x, y: at.y, found });
    }
    for c in out.corners.iter_mut().filter(|c| left(point(c.at))) {
        c.at = mm(point(c.at) + away);
    }
    for i in out.inner.iter_mut().filter(|i| ends(&i.path).is_some_and(|(a, b)| left(a.midpoint(b)))) {
        i.path = Affine::translate(away) * i.path.clone();
    }
    out.check()?;
    Ok(out)
}

/// A strip across a piece that is stretched by `by` mm between two lines straight through two places, at right angles to `away`, which is of length 1
/// and points from the first to the second: what spreading it at ever more lines between them comes to, with edges as smooth as they were. What lies
/// before the first line stays, what lies beyond the second moves off, and what lies between two places of `rigid` keeps its width.
#[derive(Clone, Debug)]
pub(super) struct Stretch {
    from: Point,
    away: Vec2,
    wide: f64,
    by: f64,
    /// From where to where across it nothing is stretched, mm, one after the other.
    rigid: Vec<[f64; 2]>,
}

impl Stretch {
    /// Nothing where the places do not lie one beyond the other, or all between them is rigid.
    pub fn of([from, to]: [Mm; 2], away: Vec2, by: f64, rigid: &[[Mm; 2]]) -> Option<Self> {
        let across = |p: Mm| away.dot(point(p) - point(from));
        let wide = across(to);
        let mut parts: Vec<[f64; 2]> = Vec::new();
        let mut told: Vec<[f64; 2]> = rigid.iter().map(|r| r.map(|p| across(p).clamp(0.0, wide.max(0.0)))).collect();
        told.iter_mut().for_each(|r| r.sort_by(f64::total_cmp));
        told.sort_by(|a, b| a[0].total_cmp(&b[0]));
        for [a, b] in told {
            match parts.last_mut() {
                Some(last) if a <= last[1] => last[1] = last[1].max(b),
                _ => parts.push([a, b]),
            }
        }
        let out = Self { from: point(from), away, wide, by, rigid: parts };
        (out.free(wide) > 1e-6).then_some(out)
    }

    /// How much of it is stretched before a place so far across, mm.
    fn free(&self, across: f64) -> f64 {
        let across = across.clamp(0.0, self.wide.max(0.0));
        across - self.rigid.iter().map(|[a, b]| (across.min(*b) - a).max(0.0)).sum::<f64>()
    }

    /// Where a place comes to lie.
    pub fn moved(&self, p: Point) -> Point {
        p + self.away * (self.by * self.free(self.away.dot(p - self.from)) / self.free(self.wide))
    }

    /// A piece stretched with it.
    pub fn layer(&self, layer: &Layer) -> Result<Layer, LayerError> {
        let mut out = layer.clone();
        for e in &mut out.edges {
            let (path, within) = self.path(&e.path);
            if within {
                e.how = e.how.drafted();
            }
            e.path = path;
        }
        out.corners.iter_mut().for_each(|c| c.at = mm(self.moved(point(c.at))));
        out.inner.iter_mut().for_each(|i| i.path = self.path(&i.path).0);
        out.holes.iter_mut().for_each(|h| *h = self.path(h).0);
        out.check()?;
        Ok(out)
    }

    /// A line stretched with it, and whether any of it lies where it is stretched.
    fn path(&self, path: &BezPath) -> (BezPath, bool) {
        let across = |s: f64| {
            let at = self.from + self.away * s;
            kurbo::Line::new(at - self.away.turn_90() * 1e4, at + self.away.turn_90() * 1e4)
        };
        let stops = || self.rigid.iter().flatten().copied().chain([0.0, self.wide]);
        let mut out: Vec<kurbo::PathSeg> = Vec::new();
        let mut within = false;
        for segment in path.segments() {
            let mut cuts: Vec<f64> = stops().flat_map(|s| segment.intersect_line(across(s))).map(|hit| hit.segment_t).collect();
            cuts.retain(|t| *t > 1e-9 && *t < 1.0 - 1e-9);
            cuts.extend([0.0, 1.0]);
            cuts.sort_by(f64::total_cmp);
            for w in cuts.windows(2).filter(|w| w[1] - w[0] > 1e-9) {
                let part = segment.subsegment(w[0]..w[1]);
                let (motion, stretches) = self.motion(self.away.dot(part.eval(0.5) - self.from));
                within |= stretches;
                out.push(motion * part);
            }
        }
        let mut joined = BezPath::from_path_segments(out.into_iter());
        if matches!(path.elements().last(), Some(kurbo::PathEl::ClosePath)) {
            joined.close_path();
        }
        (joined, within)
    }

    /// What moves places of which one lies so far across the strip, mm, and whether they are stretched.
    fn motion(&self, across: f64) -> (Affine, bool) {
        let (a, k) = (self.away, self.by / self.free(self.wide));
        let rigid = across <= 0.0 || across >= self.wide || self.rigid.iter().any(|[p, q]| (*p..=*q).contains(&across));
        if rigid {
            return (Affine::translate(a * (k * self.free(across))), false);
        }
        let back = a * (k * (self.free(across) - across - a.dot(self.from.to_vec2())));
        (Affine::new([1.0 + k * a.x * a.x, k * a.x * a.y, k * a.x * a.y, 1.0 + k * a.y * a.y, back.x, back.y]), true)
    }
}

/// A piece that was traced folded, laid open about its folded edge: with its own mirror image, or with the other face when that
/// was traced too and differs. Also by how much the two folded edges differ in length, mm; the other face gives evenly.
///
/// # Errors
/// There is no such edge, or the result is no piece.
pub fn unfolded(layer: &Layer, fold: usize, other: Option<(&Layer, usize)>) -> Result<(Layer, f64), FullnessError> {
    let n = layer.edges.len();
    let own = layer.edges.get(fold).filter(|_| n > 1).ok_or(FullnessError::Fold { edge: fold })?;
    let (p, q) = ends(&own.path).ok_or(FullnessError::Fold { edge: fold })?;
    let (face, at) = match other {
        Some((face, at)) => (face.clone(), at),
        None => {
            let mirrored = layer.mapped(Affine::reflect(p, q - p));
            // Mirrored, edges stand in the opposite order.
            (mirrored, n - 1 - fold)
        }
    };
    let m = face.edges.len();
    let (r, s) = face.edges.get(at).filter(|_| m > 1).and_then(|e| ends(&e.path)).ok_or(FullnessError::Fold { edge: at })?;
    // The other face's fold runs against this one: its end on this one's start.
    let turn = (q - p).atan2() - (r - s).atan2();
    let laid = face.mapped(Affine::translate(p.midpoint(q) - r.midpoint(s)) * Affine::rotate_about(turn, r.midpoint(s)));
    let apart = (q - p).hypot() - (r - s).hypot();
    let slack = (q - p).normalize() * (apart / 2.0);
    let mut edges: Vec<Edge> = (1..n).map(|k| layer.edges[(fold + k) % n].clone()).collect();
    let mut corners: Vec<Corner> = (1..n).map(|k| layer.corners[(fold + k) % n].clone()).collect();
    for k in 1..m {
        let j = (at + k) % m;
        let mut edge = laid.edges[j].clone();
        let mut corner = laid.corners[j].clone();
        // The neighbours of its fold give, so that both faces meet at the fold's ends.
        if k == 1 {
            edge.path = displaced(&edge.path, -slack, Vec2::ZERO);
            corner.at = mm(p);
        }
        if k == m - 1 {
            edge.path = displaced(&edge.path, Vec2::ZERO, slack);
        }
        edges.push(edge);
        corners.push(corner);
    }
    let mut inner: Vec<Inner> = layer.inner.iter().chain(&laid.inner).cloned().collect();
    inner.push(Inner { name: own.name.clone(), path: own.path.clone(), bound: own.bound });
    let holes = layer.holes.iter().chain(&laid.holes).cloned().collect();
    let out = Layer { corners, edges, inner, holes };
    out.check()?;
    Ok((out, apart))
}
