//! Are the sheet's marks still there? The contrast of each stretch of ruled line, each dot, cross or checker side,
//! against the contrast the same marks have where the sheet is bare.

use super::evidence::{Evidence, Tell};
use super::ground::Ground;
use super::light::median;
use crate::sheet::SheetKind;

/// Length of line judged together, level px: long enough to stand above the noise, short enough to place the rim.
const STRETCH: usize = 9;
/// What one pixel of a stretch may say; a whole missing line must outweigh the cost of cutting round it.
const SAY: f32 = 4.0;
/// What a node may say at each of its pixels; a node stands alone where a line has neighbours.
const SAY_NODE: f32 = 8.0;

/// One place on a mark: level px and the mark's logarithmic contrast there, the lesser of its two sides.
#[derive(Clone, Copy)]
struct Spot {
    x: f32,
    y: f32,
    contrast: [f32; 3],
}

/// Adds to `evidence` what the marks say. Returns the contrast of the marks on bare sheet over its scatter, or `None`
/// when the marks are too faint to say anything.
pub(super) fn look(ground: &Ground, evidence: &mut Evidence) -> Option<f32> {
    let stretches = gather(ground);
    let seen = |s: &Stretch| s.bare;
    let typical: [f32; 3] = std::array::from_fn(|k| {
        median(&mut stretches.iter().filter(|s| seen(s)).map(|s| f64::from(s.mean()[k])).collect::<Vec<_>>()) as f32
    });
    let strength = typical.iter().map(|v| v * v).sum::<f32>();
    let share = |c: [f32; 3]| (0..3).map(|k| c[k] * typical[k]).sum::<f32>() / strength.max(1e-9);
    let mut off: Vec<f64> = stretches.iter().filter(|s| seen(s)).map(|s| f64::from((share(s.mean()) - 1.0).abs())).collect();
    let scatter = (1.4826 * median(&mut off)).max(0.05) as f32;
    // Below this the marks drown in the noise of the level and say nothing.
    if strength.sqrt() < 0.03 || scatter > 0.4 {
        return None;
    }
    for s in &stretches {
        // Half the usual contrast is the watershed; heavier marks than usual say no more than usual ones.
        let t = share(s.mean());
        let said = ((0.5 - t) / 0.25).clamp(-1.0, 1.0) * if s.node { SAY_NODE } else { SAY };
        for spot in &s.spots {
            deposit(evidence, spot.x, spot.y, said, s.node);
        }
    }
    Some(1.0 / scatter)
}

fn deposit(evidence: &mut Evidence, x: f32, y: f32, said: f32, node: bool) {
    let r = isize::from(node);
    for dy in -r..=r {
        for dx in -r..=r {
            let (u, v) = (x.round() as isize + dx, y.round() as isize + dy);
            if u < 0 || v < 0 || u as usize >= evidence.width || v as usize >= evidence.height {
                continue;
            }
            let n = v as usize * evidence.width + u as usize;
            if evidence.tell[n] != Tell::Other {
                evidence.lean[n] = said;
            }
        }
    }
}

/// A stretch of line, or one node.
struct Stretch {
    spots: Vec<Spot>,
    /// Between nodes that were seen.
    bare: bool,
    node: bool,
}

impl Stretch {
    fn mean(&self) -> [f32; 3] {
        let n = self.spots.len().max(1) as f32;
        std::array::from_fn(|k| self.spots.iter().map(|s| s.contrast[k]).sum::<f32>() / n)
    }
}

/// All stretches of marks in view, over the range of seen nodes widened by one square.
fn gather(ground: &Ground) -> Vec<Stretch> {
    let [i0, i1, j0, j1] = [ground.range[0] - 1, ground.range[1] + 1, ground.range[2] - 1, ground.range[3] + 1];
    let wide = (i1 - i0 + 1) as usize;
    let place: Vec<[f32; 2]> = (j0..=j1).flat_map(|j| (i0..=i1).map(move |i| (i, j))).map(|(i, j)| ground.place(i.into(), j.into())).collect();
    let mut seen = vec![false; place.len()];
    let id = |i: i32, j: i32| (j - j0) as usize * wide + (i - i0) as usize;
    ground.seen.iter().for_each(|&(i, j, ..)| seen[id(i, j)] = true);
    let mut out = Vec::new();
    for j in j0..=j1 {
        for i in i0..=i1 {
            let n = id(i, j);
            match ground.kind {
                SheetKind::Dots | SheetKind::Crosses => out.extend(node(ground, place[n], seen[n])),
                kind => {
                    for (more, m) in [(i < i1, n + 1), (j < j1, n + wide)] {
                        if more {
                            side(ground, place[n], place[m], seen[n] && seen[m], kind, &mut out);
                        }
                    }
                }
            }
        }
    }
    out
}

/// The side of a square from one node to the next, in stretches.
fn side(ground: &Ground, p: [f32; 2], q: [f32; 2], bare: bool, kind: SheetKind, out: &mut Vec<Stretch>) {
    let (dx, dy) = (q[0] - p[0], q[1] - p[1]);
    let length = dx.hypot(dy);
    // Marks closer than this are not told apart at this level.
    if !(length >= 5.0) {
        return;
    }
    let (tx, ty) = (dx / length, dy / length);
    let away = (ground.mark + 2.2).min(length * 0.4);
    // Near the nodes the crossing line disturbs both the line and its surroundings.
    let ends = (away + 0.5).min(length * 0.3);
    let count = (((length - 2.0 * ends) / 1.0).floor() as usize).max(1);
    let parts = count.div_ceil(STRETCH);
    for part in 0..parts {
        let (from, to) = (part * count / parts, (part + 1) * count / parts);
        let mut best: Option<(f32, Vec<Spot>)> = None;
        for shift in [0.0, -0.8, 0.8] {
            let spots: Vec<Spot> = (from..to)
                .filter_map(|k| {
                    let s = ends + (k as f32 + 0.5) * (length - 2.0 * ends) / count as f32;
                    let (x, y) = (p[0] + tx * s - ty * shift, p[1] + ty * s + tx * shift);
                    contrast_across(ground, x, y, -ty * away, tx * away, kind)
                })
                .collect();
            let total: f32 = spots.iter().map(|s| s.contrast.iter().sum::<f32>()).sum::<f32>();
            if !spots.is_empty() && best.as_ref().is_none_or(|b| total.abs() > b.0) {
                best = Some((total.abs(), spots));
            }
            if kind == SheetKind::Checker {
                break;
            }
        }
        if let Some((_, spots)) = best {
            out.push(Stretch { spots, bare, node: false });
        }
    }
}

/// Contrast of a line (or of a checker's two sides) at one place.
fn contrast_across(ground: &Ground, x: f32, y: f32, nx: f32, ny: f32, kind: SheetKind) -> Option<Spot> {
    let (one, other) = (ground.sample(x + nx, y + ny)?, ground.sample(x - nx, y - ny)?);
    let log = |v: f32| (v + 0.002).ln();
    let contrast = if kind == SheetKind::Checker {
        std::array::from_fn(|k| (log(one[k]) - log(other[k])).abs())
    } else {
        let mid = ground.sample(x, y)?;
        std::array::from_fn(|k| lesser(log(mid[k]) - log(one[k]), log(mid[k]) - log(other[k])))
    };
    Some(Spot { x, y, contrast })
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

/// The mark at a node against its four diagonal neighbours (which the arms of a cross do not touch).
fn node(ground: &Ground, p: [f32; 2], bare: bool) -> Option<Stretch> {
    let away = ground.mark + 2.2;
    let log = |v: f32| (v + 0.002).ln();
    let mut best: Option<Spot> = None;
    for (sx, sy) in [(0.0, 0.0), (0.8, 0.0), (-0.8, 0.0), (0.0, 0.8), (0.0, -0.8)] {
        let (x, y) = (p[0] + sx, p[1] + sy);
        let mid = ground.sample(x, y)?;
        let mut contrast = [f32::MAX; 3];
        for (u, v) in [(away, away), (-away, away), (away, -away), (-away, -away)] {
            let ring = ground.sample(x + u * 0.8, y + v * 0.8)?;
            for k in 0..3 {
                let c = log(mid[k]) - log(ring[k]);
                contrast[k] = if contrast[k] == f32::MAX { c } else { lesser(contrast[k], c) };
            }
        }
        let size = |c: &[f32; 3]| c.iter().sum::<f32>().abs();
        if best.is_none_or(|b| size(&contrast) > size(&b.contrast)) {
            best = Some(Spot { x, y, contrast });
        }
    }
    best.map(|spot| Stretch { spots: vec![spot], bare, node: true })
}
