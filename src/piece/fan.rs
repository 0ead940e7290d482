//! Fullness along one edge that runs out to nothing at the edge across from it: the piece is slashed from the one to the other and each slash
//! spread like a fan, about where it ends (slash and spread; common practice, no source).
//!
//! Pleats are as many slashes. Gathers are ever more of them: the slash that starts at a share `s` of the way carries what lies on it by T(s),
//! and T changes from one to the next by a turn about that slash's end. So the edge across keeps its length and bends, what lies to both
//! sides keeps its shape, and the edge itself grows evenly and as smoothly as it ran. Where the edge across is as full each slash opens as wide at both
//! its ends, and T only moves.

use super::fullness::FullnessError;
use super::layer::{Corner, Edge, Layer, Line, ends, mm, point};
use super::slashing::{Foot, Slashes};
use super::through::through;
use super::walk::Walk;
use kurbo::{Affine, BezPath, ParamCurve, Point, Vec2};

/// Slashes that gathers are reckoned with; between them T is interpolated by its value and its derivative.
const SLASHES: usize = 256;
/// The most that what lies beyond may turn, radians.
const MOST: f64 = 1.6;
/// So far before its end, mm, a line runs as it does to its end.
const WITHIN: f64 = 1e-6;
/// A place this near to an edge, mm, moves as it does.
const ON_EDGE: f64 = 0.01;

/// A piece spread like a fan.
#[derive(Clone, Debug)]
pub(super) struct Spread {
    pub layer: Layer,
    /// Both sides of each slash on the edge, and where the slash ends; nothing for gathers.
    pub slits: Vec<([Point; 2], Point)>,
    motion: Motion,
}

impl Spread {
    /// Where a place of the piece lies now.
    pub fn carried(&self, p: Point) -> Point {
        self.motion.at(p) * p
    }
}

#[derive(Clone, Debug)]
struct Motion {
    slashes: Vec<Slash>,
    /// Whether what lies between two slashes goes from the one's motion to the other's, or moves as it is.
    evenly: bool,
    /// Edges that move as they are.
    rigid: Vec<(BezPath, Affine)>,
    back: Affine,
}

/// A slash, how far what lies before and beyond it turns about the origin and is moved, and how fast that changes by the share of the way.
#[derive(Clone, Copy, Debug)]
struct Slash {
    share: f64,
    from: Point,
    to: Point,
    before: Turn,
    after: Turn,
    rate: f64,
    /// Where it opens as wide at both its ends, how far what lies beyond moves off by the share of the way; it turns nothing.
    drift: Option<Vec2>,
}

#[derive(Clone, Copy, Debug)]
struct Turn {
    angle: f64,
    by: Vec2,
}

impl Turn {
    const NONE: Self = Self { angle: 0.0, by: Vec2::ZERO };

    fn affine(self) -> Affine {
        Affine::translate(self.by) * Affine::rotate(self.angle)
    }

    /// After a move off.
    fn moved(self, by: Vec2) -> Self {
        Self { by: self.by + by, ..self }
    }

    /// After a turn about a place.
    fn about(self, angle: f64, at: Point) -> Self {
        let turned = self.affine() * Affine::rotate_about(angle, at);
        Self { angle: self.angle + angle, by: turned.translation() }
    }
}

/// Gathers: the edge grows by `more` mm, evenly between the first slash and the last.
pub(super) fn gathered(layer: &Layer, at: &Slashes, more: f64) -> Result<Spread, FullnessError> {
    let feet: Vec<Foot> = (0..=SLASHES).map(|k| at.foot(layer, k as f64 / SLASHES as f64)).collect::<Result<_, _>>()?;
    let long = |spread: &Spread| {
        let own = &layer.edges[at.own];
        spread.layer.edges.iter().find(|e| e.name == own.name).map_or(0.0, Edge::length) - own.length()
    };
    let mut grow = more;
    for _ in 0..30 {
        let out = assembled(
            layer,
            at,
            Motion {
                slashes: at.away.map_or_else(|| evenly(&feet, grow), |away| moving_off(&feet, away * grow)),
                evenly: true,
                rigid: Vec::new(),
                back: Affine::IDENTITY,
            },
        )?;
        let off = long(&out) - more;
        if off.abs() < 1e-6 {
            return Ok(out);
        }
        grow -= off;
    }
    Err(FullnessError::Shallow { x: feet[0].from.x, y: feet[0].from.y })
}

/// The slashes of gathers: what each turns by is the growth of the edge there over how far the slash reaches off it; both its turn and its place
/// are summed up by Simpson's rule.
fn evenly(feet: &[Foot], grow: f64) -> Vec<Slash> {
    let n = feet.len() - 1;
    let step = 1.0 / n as f64;
    let rate = |k: usize| grow / feet[k].deep;
    let mut out: Vec<Slash> = Vec::with_capacity(n + 1);
    let mut turn = Turn::NONE;
    for k in 0..=n {
        if k > 0 {
            // Simpson over one step, the middle taken as the mean of both: they are smooth.
            let middle = 0.5 * (rate(k - 1) + rate(k));
            let half = turn.angle + 0.5 * step * (0.75 * rate(k - 1) + 0.25 * rate(k));
            let angle = turn.angle + step * middle;
            let moved = |angle: f64, rate: f64, q: Point| -(Affine::rotate(angle) * q).to_vec2().turn_90() * rate;
            let q = feet[k - 1].to.midpoint(feet[k].to);
            let sum = moved(turn.angle, rate(k - 1), feet[k - 1].to) + moved(half, middle, q) * 4.0 + moved(angle, rate(k), feet[k].to);
            turn = Turn { angle, by: turn.by + sum * (step / 6.0) };
        }
        out.push(Slash {
            share: k as f64 * step,
            from: feet[k].from,
            to: feet[k].to,
            before: turn,
            after: turn,
            rate: rate(k),
            drift: None,
        });
    }
    out
}

/// The slashes of gathers where the edge across is as full.
fn moving_off(feet: &[Foot], by: Vec2) -> Vec<Slash> {
    let last = (feet.len() - 1) as f64;
    let slash = |(k, foot): (usize, &Foot)| {
        let share = k as f64 / last;
        let turn = Turn::NONE.moved(by * share);
        Slash { share, from: foot.from, to: foot.to, before: turn, after: turn, rate: 0.0, drift: Some(by) }
    };
    feet.iter().enumerate().map(slash).collect()
}

/// Pleats: the edge opens by `each` mm at every share of the way.
pub(super) fn pleated(layer: &Layer, at: &Slashes, shares: &[f64], each: f64) -> Result<Spread, FullnessError> {
    let mut slashes = Vec::new();
    let mut turn = Turn::NONE;
    for &share in shares {
        let Foot { from, to, .. } = at.foot(layer, share)?;
        if let Some(away) = at.away {
            let after = turn.moved(away * each);
            slashes.push(Slash { share, from, to, before: turn, after, rate: 0.0, drift: Some(away * each) });
            turn = after;
            continue;
        }
        let half = each / 2.0 / from.distance(to);
        if half >= 0.7 {
            return Err(FullnessError::Shallow { x: from.x, y: from.y });
        }
        let after = turn.about(2.0 * half.asin(), to);
        slashes.push(Slash { share, from, to, before: turn, after, rate: 0.0, drift: None });
        turn = after;
    }
    assembled(layer, at, Motion { slashes, evenly: false, rigid: Vec::new(), back: Affine::IDENTITY })
}

/// The piece put together from its edges as they move.
fn assembled(layer: &Layer, at: &Slashes, mut motion: Motion) -> Result<Spread, FullnessError> {
    let n = layer.edges.len();
    let all = motion.slashes.last().map_or(Turn::NONE, |s| s.after);
    if all.angle > MOST {
        return Err(FullnessError::Turned { degrees: all.angle.to_degrees() });
    }
    let beyond = |k: usize| k != at.own && (k + n - at.own) % n < (at.across + n - at.own) % n;
    let whole = |k: usize| if beyond(k) { all.affine() } else { Affine::IDENTITY };
    motion.rigid = (0..n).filter(|k| *k != at.own && *k != at.across).map(|k| (layer.edges[k].path.clone(), whole(k))).collect();
    motion.back = kept(layer, at.still, &motion, &beyond);
    let back = motion.back;
    let mut out = Layer::default();
    for (k, edge) in layer.edges.iter().enumerate() {
        let path = match k {
            k if k == at.own => motion.own(&Walk::of(&edge.path), at.on),
            k if k == at.across => motion.across(&Walk::of(&edge.path), at.to, all, &at.corners()),
            k => whole(k) * edge.path.clone(),
        };
        let drafted = k == at.own || k == at.across;
        let how = if drafted { edge.how.drafted() } else { edge.how };
        let corner = layer.corners[k].clone();
        let by = if beyond(k) || k == at.across { all.affine() } else { Affine::IDENTITY };
        out.corners.push(Corner { at: mm(back * by * point(corner.at)), ..corner });
        out.edges.push(Edge { path: back * path, how, ..edge.clone() });
    }
    out.inner = layer.inner.iter().map(|i| super::Inner { path: motion.path(&i.path), ..i.clone() }).collect();
    out.holes = layer.holes.iter().map(|h| motion.path(h)).collect();
    out.check()?;
    let slits = if motion.evenly {
        Vec::new()
    } else {
        motion.slashes.iter().map(|s| ([s.before, s.after].map(|t| back * t.affine() * s.from), back * s.before.affine() * s.to)).collect()
    };
    Ok(Spread { layer: out, slits, motion })
}

/// What lays the piece back after it was spread: the edge that stays as it lay, else the slash in the middle, or what lies left where nothing turns.
fn kept(layer: &Layer, still: Option<usize>, motion: &Motion, beyond: &dyn Fn(usize) -> bool) -> Affine {
    let all = motion.slashes.last().map_or(Turn::NONE, |s| s.after);
    let turn = match still.or_else(|| layer.edges.iter().position(|e| e.line == Line::Fold)) {
        Some(fold) => {
            if beyond(fold) {
                all.affine()
            } else {
                Affine::IDENTITY
            }
        }
        None => {
            // What moves off without turning does so to the right, or down; else half of all that is turned lies back.
            if motion.slashes.iter().any(|s| s.drift.is_some()) {
                let back = all.by.x < -1e-9 || (all.by.x.abs() <= 1e-9 && all.by.y < 0.0);
                return if back { all.affine().inverse() } else { Affine::IDENTITY };
            }
            let half = motion
                .slashes
                .iter()
                .find(|s| s.after.angle >= 0.5 * all.angle - 1e-12)
                .map_or(Turn::NONE, |s| Turn { angle: 0.5 * (s.before.angle + s.after.angle), by: (s.before.by + s.after.by) / 2.0 });
            half.affine()
        }
    };
    turn.inverse()
}

impl Motion {
    /// What carries a place on the slash at a share, by what that turns and moves off by the share.
    fn slash(&self, share: f64) -> (Turn, f64, Vec2) {
        let k = self.slashes.partition_point(|s| s.share <= share).clamp(1, self.slashes.len() - 1);
        let (a, b) = (self.slashes[k - 1], self.slashes[k]);
        let wide = b.share - a.share;
        let t = ((share - a.share) / wide).clamp(0.0, 1.0);
        let moved = |s: &Slash| s.drift.unwrap_or_else(|| -(Affine::rotate(s.after.angle) * s.to).to_vec2().turn_90() * s.rate) * wide;
        let hermite = |p: f64, dp: f64, q: f64, dq: f64| {
            let u = 1.0 - t;
            p * u * u * (1.0 + 2.0 * t) + q * t * t * (3.0 - 2.0 * t) + dp * t * u * u - dq * t * t * u
        };
        let (da, db) = (moved(&a), moved(&b));
        let by = Vec2::new(hermite(a.after.by.x, da.x, b.after.by.x, db.x), hermite(a.after.by.y, da.y, b.after.by.y, db.y));
        let angle = hermite(a.after.angle, a.rate * wide, b.after.angle, b.rate * wide);
        let rate = a.rate + (b.rate - a.rate) * t;
        let about = || -(Affine::rotate(angle) * a.to.lerp(b.to, t)).to_vec2().turn_90() * rate;
        let drift = a.drift.zip(b.drift).map_or_else(about, |(p, q)| p.lerp(q, t));
        (Turn { angle, by }, rate, drift)
    }

    /// The edge that is spread.
    fn own(&self, walk: &Walk, [a, b]: [f64; 2]) -> BezPath {
        let all = self.slashes.last().map_or(Turn::NONE, |s| s.after);
        let mut parts = Vec::new();
        if self.evenly {
            parts.push(walk.part(0.0, a));
            parts.push(through(|s| {
                let (turn, rate, drift) = self.slash(s);
                let p = walk.at(a + (b - a) * s);
                let along = walk.along(a + (b - a) * s) * (b - a) + p.to_vec2().turn_90() * rate;
                (turn.affine() * p, (Affine::rotate(turn.angle) * along.to_point()).to_vec2() + drift)
            }));
        } else {
            let mut far = 0.0;
            for slash in &self.slashes {
                let on = a + (b - a) * slash.share;
                parts.push(slash.before.affine() * walk.part(far, on));
                parts.push(straight(slash.before.affine() * slash.from, slash.after.affine() * slash.from));
                far = on;
            }
            parts.push(all.affine() * walk.part(far, walk.length()));
            return joined(parts);
        }
        parts.push(all.affine() * walk.part(b, walk.length()));
        joined(parts)
    }

    /// The edge across, which bends, or opens as wide.
    fn across(&self, walk: &Walk, [a, b]: [f64; 2], all: Turn, corners: &[f64]) -> BezPath {
        let mut parts = Vec::new();
        if self.evenly {
            parts.push(all.affine() * walk.part(0.0, b));
            // A corner within stays one.
            let corners = corners.iter().filter(|c| **c > b && **c < a).map(|c| (c - b) / (a - b));
            let stops: Vec<f64> = std::iter::once(0.0).chain(corners).chain([1.0]).collect();
            for (from, to) in stops.iter().zip(&stops[1..]).map(|(from, to)| (*from, *to)) {
                let last = if to < 1.0 { b + (a - b) * to - WITHIN } else { walk.length() };
                parts.push(through(|t| {
                    let u = from + (to - from) * t;
                    let far = b + (a - b) * u;
                    let (turn, rate, drift) = self.slash(1.0 - u);
                    // A slash turns about its own end, which that does not move.
                    let drift = if rate == 0.0 { drift } else { Vec2::ZERO };
                    let along = (Affine::rotate(turn.angle) * (walk.along(far.min(last)) * (a - b)).to_point()).to_vec2() - drift;
                    (turn.affine() * walk.at(far), along * (to - from))
                }));
            }
        } else {
            let mut far = 0.0;
            for slash in self.slashes.iter().rev() {
                let on = a + (b - a) * slash.share;
                parts.push(slash.after.affine() * walk.part(far, on));
                if slash.drift.is_some() {
                    parts.push(straight(slash.after.affine() * slash.to, slash.before.affine() * slash.to));
                }
                far = on;
            }
            parts.push(walk.part(far, walk.length()));
            return joined(parts);
        }
        parts.push(walk.part(a, walk.length()));
        joined(parts)
    }

    /// What carries a place.
    fn at(&self, p: Point) -> Affine {
        if let Some((_, by)) = self.rigid.iter().find(|(path, _)| Walk::of(path).nearest(p).1 < ON_EDGE) {
            return self.back * *by;
        }
        // A place lies beyond a slash where it is clockwise of it.
        let off = |s: &Slash| (s.to - s.from).cross(p - s.from);
        let beyond = self.slashes.partition_point(|s| off(s) < 0.0);
        let turn = match beyond {
            0 => Turn::NONE,
            k if k == self.slashes.len() => self.slashes[k - 1].after,
            k if !self.evenly => self.slashes[k - 1].after,
            k => {
                let (a, b) = (self.slashes[k - 1], self.slashes[k]);
                let t = off(&a) / (off(&a) - off(&b));
                self.slash(a.share + (b.share - a.share) * t).0
            }
        };
        self.back * turn.affine()
    }

    fn path(&self, path: &BezPath) -> BezPath {
        let moved = |p: Point| self.at(p) * p;
        let parts = path.segments().map(|s| {
            let rate = |t: f64| {
                (moved(s.eval((t + 1e-4).min(1.0))) - moved(s.eval((t - 1e-4).max(0.0)))) / ((t + 1e-4).min(1.0) - (t - 1e-4).max(0.0))
            };
            through(|t| (moved(s.eval(t)), rate(t)))
        });
        let closed = matches!(path.elements().last(), Some(kurbo::PathEl::ClosePath));
        let mut out = joined(parts.collect());
        if closed {
            out.close_path();
        }
        out
    }
}

fn straight(a: Point, b: Point) -> BezPath {
    BezPath::from_vec(vec![kurbo::PathEl::MoveTo(a), kurbo::PathEl::LineTo(b)])
}

/// Paths that follow one another, as one.
fn joined(parts: Vec<BezPath>) -> BezPath {
    let mut out = BezPath::new();
    for part in parts.into_iter().filter(|p| ends(p).is_some()) {
        if out.is_empty() { out = part } else { out.extend(part.elements().iter().skip(1).copied()) }
    }
    out
}
