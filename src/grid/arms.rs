//! Measures a crossing of two ruled lines at full resolution from the profiles across its four arms.
//!
//! Each arm, from just outside the crossing to a little under half the pitch, is averaged along the smooth map's curve into one profile across
//! the line; a Gaussian valley on a sloping ground is fitted to it (Gauss–Newton). The two arms of a line give its offset from
//! the map at the node, two lines give the node. Windows never reach the next node (Geiger et al. 2012). Arms that are hidden or
//! shadowed fail on depth, width or what the fit leaves.

use super::looks::Looks;
use super::map::SheetMap;
use super::profile::{Profile, Valley};
use super::ridge::Polarity;
use crate::length::Px;
use crate::shot::Shot;
use crate::solve::median;
use nalgebra::{Matrix2, Vector2};

/// What the sheet's lines look like, learnt from a first pass.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct LineLook {
    /// Standard deviation of the profile, px.
    pub width: f64,
    /// Depth of the valley over the ground beside it (negative for light lines).
    pub depth: f64,
}

impl LineLook {
    /// Logarithm of the ink a line holds.
    pub fn ink(&self) -> f64 {
        (self.width * self.depth.abs()).max(1e-6).ln()
    }

    /// The medians of several; `None` of none.
    pub fn usual(seen: &[Self]) -> Option<Self> {
        let middle = |of: fn(&Self) -> f64| median(&mut seen.iter().map(of).collect::<Vec<_>>());
        Some(Self { width: middle(|l| l.width)?, depth: middle(|l| l.depth)? })
    }
}

/// One node as measured.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Measured {
    /// Where it is.
    pub at: Px,
    /// Standard error of each coordinate, px.
    pub error: f64,
    /// Which of the arms +i, -i, +j, -j were seen.
    pub arms: [bool; 4],
    /// What the lines looked like, mean over the arms.
    pub look: LineLook,
}

/// Arms end here, in pitches: never at the next node, and short of its own arms.
const FAR: f64 = 0.44;
/// Arms begin here at the least, pitches.
const CLOSE: f64 = 0.08;
/// They need not begin farther out than this.
const DENSE: f64 = 0.28;
/// Width (standard deviation of the profile) of lines of which nothing is known, px; in dense rulings a twelfth of their distance.
const UNKNOWN: f64 = 1.5;
/// Most stations averaged along an arm: more add time, hardly precision.
const STATIONS: f64 = 24.0;
/// How far a line may turn against the map within one pitch, px: the map is smooth, paper is nearly so.
const TURN: f64 = 0.7;
/// A depth of this share of the usual is still the line (shadow and blur lower it).
const SHALLOW: f64 = 0.4;
/// Least depth of the outer half of an arm over that of all of it: below, the arm ends and the mark is a cross.
const LASTING: f64 = 0.5;

/// Measures the node at an address; `None` when fewer than one good arm a line is seen.
///
/// `looks` is what the lines are known to look like; without it any clean valley counts.
pub(super) fn measure(shot: &Shot, map: &SheetMap, a: (i32, i32), polarity: Polarity, looks: Option<&Looks>) -> Option<Measured> {
    measure_aside(shot, map, Vector2::zeros(), a, polarity, looks)
}

/// The same about a place that lies `aside` of the map's, px.
pub(super) fn measure_aside(
    shot: &Shot,
    map: &SheetMap,
    aside: Vector2<f64>,
    a: (i32, i32),
    polarity: Polarity,
    looks: Option<&Looks>,
) -> Option<Measured> {
    let (i, j) = (f64::from(a.0), f64::from(a.1));
    let at = map.at(i, j)? + aside;
    let mut sides = [None, None];
    let mut arms = [false; 4];
    let (mut width, mut depth, mut count) = (0.0, 0.0, 0.0);
    for axis in 0..2 {
        let curve = Curve::new(map, aside, i, j, axis)?;
        let mut seen = [None, None];
        // Line j runs along i and is crossed by line i.
        let numbers = [a.1, a.0];
        let [look, crossing] = [axis, 1 - axis].map(|k| looks.map(|l| l.of(k, numbers[k])));
        for (side, sign) in [1.0, -1.0].into_iter().enumerate() {
            let Some((t, v)) = curve.arm(shot, sign, polarity, look, crossing) else { continue };
            arms[2 * axis + side] = true;
            width += v.width;
            depth += v.depth;
            count += 1.0;
            seen[side] = Some((t, v));
        }
        sides[axis] = Some((curve.normal(0.0), offset(seen, curve.pitch)?));
    }
    let ((n0, (a0, e0)), (n1, (a1, e1))) = (sides[0]?, sides[1]?);
    let inverse = Matrix2::new(n0.x, n0.y, n1.x, n1.y).try_inverse()?;
    let shift = inverse * Vector2::new(a0, a1);
    let variance = 0.5 * (inverse.column(0).norm_squared() * e0 * e0 + inverse.column(1).norm_squared() * e1 * e1);
    let look = LineLook { width: width / count, depth: depth / count };
    Some(Measured { at: at + shift, error: variance.sqrt(), arms, look })
}

/// What the line along one axis looks like beside a node, however heavy it is; `None` where neither arm is seen.
pub fn along(shot: &Shot, map: &SheetMap, (i, j): (i32, i32), axis: usize, polarity: Polarity) -> Option<LineLook> {
    let curve = Curve::new(map, Vector2::zeros(), f64::from(i), f64::from(j), axis)?;
    [None, Some(WIDE)].into_iter().find_map(|look| {
        let arms = [1.0, -1.0].into_iter().filter_map(|sign| curve.arm(shot, sign, polarity, look.as_ref(), None));
        LineLook::usual(&arms.map(|(_, v)| LineLook { width: v.width, depth: v.depth }).collect::<Vec<_>>())
    })
}

/// Lines too wide to be found at sight: standard deviation of the profile, px; any depth.
const WIDE: LineLook = LineLook { width: 3.5, depth: 0.025 };

/// The line's offset from the map at the node and its standard error, from one or two arms.
fn offset(seen: [Option<(f64, Valley)>; 2], pitch: f64) -> Option<(f64, f64)> {
    // Offset plus slope along the line; the slope is held by how little a line can turn against the map.
    let (mut s0, mut s1, mut s2, mut y0, mut y1) = (0.0, 0.0, 0.0, 0.0, 0.0);
    for (t, v) in seen.iter().flatten() {
        let w = 1.0 / v.error.powi(2);
        s0 += w;
        s1 += w * t;
        s2 += w * t * t;
        y0 += w * v.middle;
        y1 += w * t * v.middle;
    }
    if s0 == 0.0 {
        return None;
    }
    if let [Some((_, a)), Some((_, b))] = seen {
        // Arms that disagree by more than a line can turn are not one line.
        if (a.middle - b.middle).abs() > 1.0 + 0.04 * pitch + 4.0 * (a.error + b.error) {
            return None;
        }
    }
    s2 += 1.0 / TURN.powi(2);
    let det = s0 * s2 - s1 * s1;
    Some(((s2 * y0 - s1 * y1) / det, (s2 / det).sqrt()))
}

/// The map's curve along one axis through a node, as a parabola in the share of the pitch.
struct Curve {
    c: [Vector2<f64>; 3],
    pitch: f64,
    /// Distance to the neighbouring parallel lines, px.
    apart: f64,
}

impl Curve {
    fn new(map: &SheetMap, aside: Vector2<f64>, i: f64, j: f64, axis: usize) -> Option<Self> {
        let (di, dj) = if axis == 0 { (0.5, 0.0) } else { (0.0, 0.5) };
        let (a, b, c) = (map.at(i - di, j - dj)?.vector(), map.at(i, j)?.vector(), map.at(i + di, j + dj)?.vector());
        let (first, second) = (c - a, (a + c - b * 2.0) * 2.0);
        let pitch = first.norm();
        let [u, v] = map.frame(i, j)?;
        let apart = (u.x * v.y - u.y * v.x).abs() / pitch;
        Some(Self { c: [b + aside, first, second], pitch, apart })
    }

    fn at(&self, t: f64) -> Vector2<f64> {
        self.c[0] + (self.c[1] + self.c[2] * t) * t
    }

    fn normal(&self, t: f64) -> Vector2<f64> {
        let d = (self.c[1] + self.c[2] * (2.0 * t)).normalize();
        Vector2::new(-d.y, d.x)
    }

    /// The valley across one arm and the place along it (signed share of the pitch) it stands for.
    fn arm(
        &self,
        shot: &Shot,
        sign: f64,
        polarity: Polarity,
        look: Option<&LineLook>,
        crossing: Option<&LineLook>,
    ) -> Option<(f64, Valley)> {
        let width = look.map_or_else(|| UNKNOWN.min(self.apart / 12.0), |l| l.width);
        let clear = crossing.map_or(width, |l| l.width);
        let reach = (3.2 * width + 2.0).clamp(4.0, 14.0).min(0.42 * self.apart);
        // A crossing line darkens the whole of a profile beside it alike, so in dense rulings it may come nearer.
        let from = CLOSE.max(((2.5 * clear + 1.0) / self.pitch).min(DENSE)).max(1.2 * clear / self.pitch);
        if from > 0.75 * FAR {
            return None;
        }
        let stations = ((FAR - from) * self.pitch).clamp(4.0, STATIONS).round();
        let mut profile = Profile::new(reach);
        let light = |from: Vector2<f64>, step: Vector2<f64>, count| shot.luminances(Px::from(from), step.into(), count);
        let mut inside = 0.0;
        for k in 0..stations as usize {
            let t = sign * (from + (FAR - from) * (k as f64 + 0.5) / stations);
            if profile.add(self.at(t), self.normal(t), 2 * k >= stations as usize, light) {
                inside += 1.0;
            }
        }
        if inside < stations {
            return None;
        }
        let valley = profile.fit(polarity, width)?;
        let plain = match look {
            Some(l) => valley.depth.abs() > SHALLOW * l.depth.abs() && (0.5..1.8).contains(&(valley.width / l.width)),
            None => valley.depth.abs() > 0.01,
        };
        let t = sign * 0.5 * (from + FAR);
        (plain && valley.lasting > LASTING && valley.left < 0.35 * valley.depth.abs() && valley.middle.abs() < 0.6 * reach)
            .then_some((t, valley))
    }
}

/// Luminance at a place, linear light.
pub fn light(shot: &Shot, p: Vector2<f64>) -> Option<f64> {
    shot.luminance(Px::from(p)).map(f64::from)
}
