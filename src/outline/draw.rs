//! One edge drawn: a ruler line where it is straight, else the fewest cubics that stay inside the guard.

use super::cubics::{Chain, Ends, Fitted, Knot, Target, fit};
use super::noise::Noise;
use super::smooth::{Stretch, smooth};
use super::straight::is_straight;
use super::sure::{along_chain, along_line, along_spline};
use super::{Settings, Shape};
use crate::solve::Spline;
use nalgebra::Vector2;

/// What one edge became.
#[derive(Clone, Debug)]
pub(super) struct Drawn {
    /// Control points of its cubics; a straight one has none.
    pub cubics: Vec<[Vector2<f64>; 4]>,
    /// Start and end.
    pub ends: [Vector2<f64>; 2],
    /// Straight or curved.
    pub shape: Shape,
    /// Distance along and standard error, mm.
    pub along: Vec<[f64; 2]>,
}

/// Numbers of cubics tried, in order. Past the last the spline itself is drawn.
const COUNTS: [usize; 14] = [1, 2, 3, 4, 5, 6, 7, 8, 10, 12, 14, 17, 20, 24];

/// Places at which the smooth curve is held against the cubics: this far apart, mm, but no fewer or more than these.
const TARGETS: (f64, usize, usize) = (4.0, 24, 110);

/// Share of the targets that may lie further off: a short bump is left out rather than drawn.
const LOCAL_FAULTS: f64 = 0.04;

/// When all but that share has kept the tolerance for so many further counts, the rest is a bump.
const PATIENCE: usize = 3;

/// When no number of cubics keeps the tolerance, the best is taken up to this many times as far off.
const ROUGH: f64 = 30.0;

/// Parallel to the tolerance, a deviation within so many standard errors of a point may be noise.
const WITHIN_NOISE: f64 = 2.5;

/// A further cubic has so many unknowns: gains below them and three of their standard deviations prove nothing.
const UNKNOWNS: f64 = 5.0;

/// A number of cubics is held against so many further ones before it is taken.
const AHEAD: usize = 2;

/// Draws a stretch; `None` when it holds too little to draw.
pub(super) fn draw(stretch: &Stretch, noise: &Noise, settings: &Settings) -> Option<Drawn> {
    if is_straight(stretch, noise, settings.straight_mm) {
        return ruled(stretch, noise);
    }
    let Some(spline) = smooth(stretch, noise) else { return ruled(stretch, noise) };
    let sites = &stretch.sites;
    let range = if stretch.round { (0.0, stretch.length) } else { (sites[0].s.max(0.0), sites[sites.len() - 1].s.min(stretch.length)) };
    let plan = Plan::new(stretch, &spline, range, noise);
    match plan.fewest(noise, settings) {
        Some(fitted) => Some(Drawn {
            ends: [fitted.chain.control(0)[0], fitted.chain.control(fitted.chain.len() - 1)[3]],
            shape: Shape::Curve,
            along: along_chain(&fitted, &plan.targets, stretch, noise),
            cubics: (0..fitted.chain.len()).map(|k| fitted.chain.control(k)).collect(),
        }),
        None => Some(as_spline(stretch, &spline, noise)),
    }
}

/// Draws a stretch with a ruler from end to end.
pub(super) fn ruled(stretch: &Stretch, noise: &Noise) -> Option<Drawn> {
    let ends = match stretch.ends {
        [Some((a, _)), Some((b, _))] => [a, b],
        _ => [stretch.sites.first()?.at, stretch.sites.last()?.at],
    };
    let along = along_line(ends, stretch, noise);
    Some(Drawn { cubics: Vec::new(), ends, shape: Shape::Straight, along })
}

/// The spline itself as cubics: always possible.
fn as_spline(stretch: &Stretch, spline: &Spline, noise: &Noise) -> Drawn {
    let mut cubics = spline.beziers();
    if let (Some((a, _)), Some(first)) = (stretch.ends[0], cubics.first_mut()) {
        first[0] = a;
    }
    if let (Some((b, _)), Some(last)) = (stretch.ends[1], cubics.last_mut()) {
        last[3] = b;
    }
    let along = along_spline(stretch, noise);
    Drawn { ends: [cubics[0][0], cubics[cubics.len() - 1][3]], cubics, shape: Shape::Curve, along }
}

/// The smooth curve with what is needed to lay cubics along it.
struct Plan<'a> {
    spline: &'a Spline,
    targets: Vec<Target>,
    places: Vec<f64>,
    /// How many sites a target stands for.
    stands_for: f64,
    start: f64,
    round: bool,
    ends: Ends,
    anchors: [Option<Vector2<f64>>; 2],
    /// Cumulative need of cubics at evenly spaced parameters.
    need: Vec<f64>,
}

impl<'a> Plan<'a> {
    fn new(stretch: &Stretch, spline: &'a Spline, range: (f64, f64), noise: &Noise) -> Self {
        let start = if stretch.round { topmost(spline) } else { 0.0 };
        let count = ((range.1 - range.0) / TARGETS.0).clamp(TARGETS.1 as f64, TARGETS.2 as f64) as usize;
        let gap = (range.1 - range.0) / count as f64;
        let places: Vec<f64> = (0..count + usize::from(!stretch.round)).map(|k| range.0 + start + gap * k as f64).collect();
        // Each target stands for the sites within its gap.
        let share = gap / stretch.step;
        let mut j = 0;
        let targets = places
            .iter()
            .map(|&u| {
                let here = if stretch.round { u.rem_euclid(stretch.length) } else { u };
                if j > 0 && here < stretch.sites[j - 1].s {
                    j = 0;
                }
                while j + 1 < stretch.sites.len() && stretch.sites[j].s < here {
                    j += 1;
                }
                Target { at: spline.at(here), weight: noise.weight(stretch.sites[j].error) * share, share: 0.0 }
            })
            .collect();
        let ends = match (stretch.round, stretch.ends) {
            (true, _) => Ends::Round,
            (_, [Some(_), Some(_)]) => Ends::Tied,
            _ => Ends::Free,
        };
        let anchors = [stretch.ends[0].map(|e| e.0), stretch.ends[1].map(|e| e.0)];
        Self { spline, targets, places, stands_for: share, start, round: stretch.round, ends, anchors, need: need(spline, start) }
    }

    /// The fewest cubics that stay inside the guard.
    fn fewest(&self, noise: &Noise, settings: &Settings) -> Option<Fitted> {
        let least = if self.round { 2 } else { 1 };
        let mut tried: Vec<Fitted> = Vec::new();
        let mut least_off: Option<Fitted> = None;
        let mut calm_for = 0;
        for count in COUNTS.into_iter().filter(|&c| c >= least) {
            let Some(now) = self.with(count) else { continue };
            tried.push(now.clone());
            let inside = self.deviation(&now) <= settings.tolerance_mm && self.is_beside(&now, settings.tolerance_mm);
            // Those that others have been held against, once there are others enough or no need of more.
            let judged = if inside { tried.len() - 1 } else { tried.len().saturating_sub(AHEAD) };
            if let Some(k) = (judged.saturating_sub(AHEAD)..judged).find(|&k| self.suffices(k, &tried, noise, settings)) {
                return Some(tried.swap_remove(k));
            }
            if inside {
                return Some(now);
            }
            let better = least_off.as_ref().is_none_or(|b| self.mostly(&now) < 0.8 * self.mostly(b));
            if better && self.is_beside(&now, settings.tolerance_mm) {
                least_off = Some(now);
            }
            if least_off.as_ref().is_some_and(|b| self.mostly(b) <= settings.tolerance_mm) {
                calm_for += 1;
                if calm_for > PATIENCE {
                    break;
                }
            }
        }
        // Points too rough for the tolerance: few cubics that stay near beat many that follow every wrinkle.
        least_off.filter(|f| self.deviation(f) <= ROUGH * settings.tolerance_mm)
    }

    /// Whether the `k`-th fit tried lies near enough and none of those with more cubics gains more than chance would. The next
    /// one alone is no judge: where two cubics meet at an awkward place, three may be no better and four be right.
    fn suffices(&self, k: usize, tried: &[Fitted], noise: &Noise, settings: &Settings) -> bool {
        let gains = |f: &Fitted| {
            let more = (f.chain.len() - tried[k].chain.len()) as f64;
            (tried[k].square - f.square) / noise.alike >= UNKNOWNS * more + 3.0 * (2.0 * UNKNOWNS * more).sqrt()
        };
        !tried[k + 1..].iter().any(gains) && self.is_near(&tried[k], settings)
    }

    fn is_near(&self, fitted: &Fitted, settings: &Settings) -> bool {
        let mean = self.targets.iter().map(|t| t.weight).sum::<f64>() / self.targets.len() as f64;
        let sigma = (self.stands_for / mean).sqrt();
        let limit = settings.tolerance_mm.max(WITHIN_NOISE * sigma);
        self.deviation(fitted) <= limit && self.is_beside(fitted, limit)
    }

    /// Distance of the smooth curve from the cubics that all but a few targets keep.
    fn mostly(&self, fitted: &Fitted) -> f64 {
        let mut off: Vec<f64> = self.targets.iter().zip(&fitted.feet).map(|(t, f)| (t.at - fitted.chain.point(*f)).norm()).collect();
        off.sort_by(f64::total_cmp);
        off[off.len() - 1 - (off.len() as f64 * LOCAL_FAULTS) as usize]
    }

    /// Largest distance of the smooth curve from the cubics.
    fn deviation(&self, fitted: &Fitted) -> f64 {
        self.targets.iter().zip(&fitted.feet).map(|(t, f)| (t.at - fitted.chain.point(*f)).norm()).fold(0.0, f64::max)
    }

    /// The other way round: no part of the cubics lies off the smooth curve; a loop between two targets would.
    fn is_beside(&self, fitted: &Fitted, limit: f64) -> bool {
        let limit = limit.max(self.deviation(fitted)) * 2.0;
        let dense: Vec<Vector2<f64>> = (0..=4 * self.targets.len())
            .map(|k| self.spline.at(self.start + self.spline.length() * k as f64 / (4 * self.targets.len()) as f64))
            .collect();
        let gap = self.spline.length() / (4 * self.targets.len()) as f64;
        let mut near = 0usize;
        for k in 0..fitted.chain.len() {
            for j in 0..=16 {
                let p = fitted.chain.point((k, f64::from(j) / 16.0));
                // The curve is followed forward; a jump back would be a loop.
                let window = near.saturating_sub(8)..(near + dense.len() / (8 * fitted.chain.len()).max(1) + 40).min(dense.len());
                let Some(best) = window.min_by(|&a, &b| (dense[a] - p).norm().total_cmp(&(dense[b] - p).norm())) else { return false };
                near = best;
                if (dense[best] - p).norm() > limit + gap {
                    return false;
                }
            }
        }
        true
    }

    /// The best chain of `count` cubics from splits that share the need evenly; two are begun from other splits too.
    fn with(&self, count: usize) -> Option<Fitted> {
        let mut starts = vec![self.even_splits(count)];
        if count == 2 && !self.round {
            let l = self.spline.length();
            starts = [0.33, 0.5, 0.67].map(|s| vec![0.0, s * l, l]).to_vec();
        }
        starts
            .into_iter()
            .filter_map(|splits| {
                let mut targets = self.targets.clone();
                for (t, u) in targets.iter_mut().zip(&self.places) {
                    t.share = share_of(u - self.start, &splits);
                }
                fit(self.chain(&splits), &targets, self.ends)
            })
            .min_by(|a, b| a.square.total_cmp(&b.square))
    }

    fn even_splits(&self, count: usize) -> Vec<f64> {
        let total = self.need[self.need.len() - 1];
        let l = self.spline.length();
        (0..=count)
            .map(|k| {
                let want = total * k as f64 / count as f64;
                let j = self.need.partition_point(|v| *v < want).clamp(1, self.need.len() - 1);
                let (a, b) = (self.need[j - 1], self.need[j]);
                let t = if b > a { (want - a) / (b - a) } else { 0.0 };
                (j as f64 - 1.0 + t) / (self.need.len() - 1) as f64 * l
            })
            .collect()
    }

    fn chain(&self, splits: &[f64]) -> Chain {
        let n = splits.len() - 1;
        let count = if self.round { n } else { n + 1 };
        let gap = |k: usize| ((splits[(k + 1).min(n)] - splits[k.min(n - 1)]) / 3.0).max(1e-3).ln();
        let knots = (0..count)
            .map(|k| {
                let u = self.start + splits[k];
                let d = self.spline.derivative(u);
                let mut at = self.spline.at(u);
                if k == 0
                    && let Some(a) = self.anchors[0]
                {
                    at = a;
                }
                if k == n
                    && let Some(b) = self.anchors[1]
                {
                    at = b;
                }
                let mut angle = d.y.atan2(d.x);
                if self.round && k == 0 {
                    angle = if d.x >= 0.0 { 0.0 } else { std::f64::consts::PI };
                }
                Knot { at, angle, back: gap(if k == 0 { n - 1 } else { k - 1 }), ahead: gap(k) }
            })
            .collect();
        Chain::new(knots, self.round)
    }
}

/// Position among the splits as a share of their number.
fn share_of(u: f64, splits: &[f64]) -> f64 {
    let n = splits.len() - 1;
    let k = splits.partition_point(|s| *s <= u).clamp(1, n) - 1;
    let t = ((u - splits[k]) / (splits[k + 1] - splits[k]).max(1e-9)).clamp(0.0, 1.0);
    (k as f64 + t) / n as f64
}

/// How much drawing each part needs: length, and more where it bends.
fn need(spline: &Spline, start: f64) -> Vec<f64> {
    let n = 200;
    let l = spline.length();
    let mut sum = 0.0;
    let mut out = vec![0.0];
    for k in 0..n {
        let (a, b) = (spline.derivative(start + l * k as f64 / n as f64), spline.derivative(start + l * (k as f64 + 1.0) / n as f64));
        let turn = a.perp(&b).atan2(a.dot(&b)).abs();
        // A cubic serves about a right angle, or the whole length when straight.
        sum += 1.0 / n as f64 + turn / std::f64::consts::FRAC_PI_2;
        out.push(sum);
    }
    out
}

fn topmost(spline: &Spline) -> f64 {
    let n = 4000;
    let l = spline.length();
    let mut best = (f64::INFINITY, 0.0);
    for k in 0..n {
        let u = l * f64::from(k) / f64::from(n);
        let y = spline.at(u).y;
        if y < best.0 {
            best = (y, u);
        }
    }
    best.1
}
