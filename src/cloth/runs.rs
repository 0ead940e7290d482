//! Where the sheet's marks are looked at: the sides of its squares, place by place, or its nodes.

use super::ground::Ground;
use crate::sheet::SheetKind;
use crate::sheet::code::MARK_RADIUS;

/// Where a mark should be and all channels are above this the sheet is burnt out to white, and that no mark is seen tells nothing.
const BURNT: f32 = 0.985;
/// Lines nearer than this are not told apart, level px.
const CROWDED: f32 = 5.0;
/// Squares narrower than this, level px, hold no place that is clear of their lines but the middle.
const SMALL: f32 = 9.0;
/// Keeps logarithms of black finite.
const FLOOR: f32 = 0.002;

/// One place on a mark: level px, the two places beside it, and the mark's logarithmic contrast to the nearer in light.
#[derive(Clone, Copy)]
pub(super) struct Spot {
    pub at: [f32; 2],
    pub beside: [f32; 2],
    pub contrast: [f32; 3],
}

/// A side of a square, or one node.
pub(super) struct Run {
    pub spots: Vec<Spot>,
    /// Between nodes that were seen.
    pub bare: bool,
    /// Address of the node it starts at, and whether it goes down from there (not right).
    pub from: (i32, i32, bool),
    /// Contrast of its line against the usual one.
    pub factor: f32,
}

impl Run {
    /// Axis and number of the line it is part of.
    pub fn line(&self) -> (usize, i32) {
        let (i, j, down) = self.from;
        if down { (0, i) } else { (1, j) }
    }
}

/// Least and greatest addresses looked at: those of seen nodes and one square more.
pub(super) fn widened(ground: &Ground) -> [i32; 4] {
    let r = ground.range;
    [r[0] - 1, r[1] + 1, r[2] - 1, r[3] + 1]
}

/// Every run in the range, and which nodes of it were seen.
pub(super) fn gather(ground: &Ground) -> (Vec<Run>, Vec<bool>) {
    let [i0, i1, j0, j1] = widened(ground);
    let columns = (i1 - i0 + 1) as usize;
    let place: Vec<[f32; 2]> =
        (j0..=j1).flat_map(|j| (i0..=i1).map(move |i| (i, j))).map(|(i, j)| ground.place(i.into(), j.into())).collect();
    let mut seen = vec![false; place.len()];
    let id = |i: i32, j: i32| (j - j0) as usize * columns + (i - i0) as usize;
    ground.seen.iter().for_each(|&(i, j, ..)| seen[id(i, j)] = true);
    let mut out = Vec::new();
    for j in j0..=j1 {
        for i in i0..=i1 {
            let n = id(i, j);
            if matches!(ground.kind, SheetKind::Dots | SheetKind::Crosses) {
                out.extend(node(ground, place[n]).map(|spot| Run { spots: vec![spot], bare: seen[n], from: (i, j, false), factor: 1.0 }));
                continue;
            }
            for (more, m, down) in [(i < i1, n + 1, false), (j < j1, n + columns, true)] {
                if more {
                    let wide = if down { ground.heavy.width(0, i) } else { ground.heavy.width(1, j) };
                    let next = |more: bool, by: usize| if more { place[n + by] } else { place[n - by] };
                    let crossing = if down { next(i < i1, 1) } else { next(j < j1, columns) };
                    let spots = side(ground, [place[n], place[m]], crossing, wide);
                    out.extend(spots.map(|spots| Run { spots, bare: seen[n] && seen[m], from: (i, j, down), factor: 1.0 }));
                }
            }
        }
    }
    (out, seen)
}

/// The side of a square from one node to the next, a spot each level pixel; its line is so many times as `wide` as usual. `crossing` is
/// the next node along the line that crosses it at the first.
fn side(ground: &Ground, [p, q]: [[f32; 2]; 2], crossing: [f32; 2], wide: f32) -> Option<Vec<Spot>> {
    let (dx, dy) = (q[0] - p[0], q[1] - p[1]);
    let length = dx.hypot(dy);
    let (tx, ty) = (dx / length, dy / length);
    let (cx, cy) = (crossing[0] - p[0], crossing[1] - p[1]);
    let apart = (cy * tx - cx * ty).abs();
    if length.is_nan() || apart.is_nan() || length.min(apart) < CROWDED {
        return None;
    }
    // In small squares seen aslant what lies square to a side is near its crossing lines: there one looks along those.
    let normal = if length.min(apart) < SMALL { [cx / apart, cy / apart] } else { [-ty, tx] };
    let away = (ground.mark * wide.max(1.0) + 2.7).min(length * 0.4);
    // Near the nodes the crossing line disturbs both the line and its surroundings.
    let ends = (away + 0.5).min(length * 0.3);
    let count = ((length - 2.0 * ends).floor() as usize).max(1);
    let checker = ground.kind == SheetKind::Checker;
    // Half way along there may be a mark of the position code.
    let coded = if ground.coded() { MARK_RADIUS as f32 * length + 1.3 } else { 0.0 };
    let spots: Vec<Spot> = (0..count)
        .map(|k| ends + (k as f32 + 0.5) * (length - 2.0 * ends) / count as f32)
        .filter(|s| (s - 0.5 * length).abs() >= coded)
        .filter_map(|s| {
            let at = [p[0] + tx * s, p[1] + ty * s];
            across(ground, at, normal, away.min(0.5 * apart), checker)
        })
        .collect();
    (!spots.is_empty()).then_some(spots)
}

/// Contrast of a line against its two sides, or of the two sides of a checker's edge against each other.
fn across(ground: &Ground, at: [f32; 2], normal: [f32; 2], away: f32, checker: bool) -> Option<Spot> {
    let read = |t: f32| ground.sample(at[0] + t * normal[0], at[1] + t * normal[1]);
    let (one, other) = (read(away)?, read(-away)?);
    let contrast = if checker {
        std::array::from_fn(|k| log_of(one[k], other[k]).abs())
    } else {
        // Three places a pixel apart take in all the light the line swallowed, wherever it falls between pixels, and
        // a line a little off its place as well (buckled paper, what the lens model leaves).
        let (a, b, c) = (read(-1.0)?, read(0.0)?, read(1.0)?);
        let mid: [f32; 3] = std::array::from_fn(|k| (a[k] + b[k] + c[k]) / 3.0);
        if mid.iter().all(|v| *v > BURNT) {
            return None;
        }
        let sides = [one, other].map(|side| std::array::from_fn(|k| log_of(mid[k], side[k])));
        // Against the side where it stands out more: beside cloth one side is shaded, the other still plain sheet.
        stronger(sides, ground.kind)
    };
    Some(Spot { at, beside: [at[0] + away * normal[0], at[1] + away * normal[1]], contrast })
}

#[inline]
fn log_of(a: f32, b: f32) -> f32 {
    super::evidence::ln((a + FLOOR) / (b + FLOOR))
}

/// The smaller of two contrasts when they agree in sign, nothing when not: an edge is not a line.
#[inline]
fn lesser(a: f32, b: f32) -> f32 {
    if a * b <= 0.0 {
        0.0
    } else if a.abs() < b.abs() {
        a
    } else {
        b
    }
}

/// The contrast that is more like a mark's: darker than the sheet, or lighter on a mat.
#[inline]
fn stronger([a, b]: [[f32; 3]; 2], kind: SheetKind) -> [f32; 3] {
    let sum = |c: [f32; 3]| c[0] + c[1] + c[2];
    if (sum(a) > sum(b)) == (kind == SheetKind::Mat) { a } else { b }
}

/// The mark at a node against its four diagonal neighbours (which the arms of a cross do not touch).
fn node(ground: &Ground, p: [f32; 2]) -> Option<Spot> {
    let away = 0.8 * (ground.mark + 2.2);
    let mut best: Option<(f32, Spot)> = None;
    for (sx, sy) in [(0.0, 0.0), (0.8, 0.0), (-0.8, 0.0), (0.0, 0.8), (0.0, -0.8)] {
        let at = [p[0] + sx, p[1] + sy];
        let mid = ground.sample(at[0], at[1])?;
        let mut contrast = [f32::MAX; 3];
        for (u, v) in [(away, away), (-away, away), (away, -away), (-away, -away)] {
            let ring = ground.sample(at[0] + u, at[1] + v)?;
            for k in 0..3 {
                let c = log_of(mid[k], ring[k]);
                contrast[k] = if contrast[k] == f32::MAX { c } else { lesser(contrast[k], c) };
            }
        }
        let size = contrast.iter().sum::<f32>().abs();
        if best.is_none_or(|b| size > b.0) {
            best = Some((size, Spot { at, beside: [at[0] + away, at[1] + away], contrast }));
        }
    }
    let burnt = |at: [f32; 2]| ground.sample(at[0], at[1]).is_some_and(|v| v.iter().all(|v| *v > BURNT));
    best.map(|(_, spot)| spot).filter(|spot| !burnt(spot.at))
}
