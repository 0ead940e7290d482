//! Ridge points linked into strokes: runs of a line that keep their direction and pass straight through crossings.

use super::ridge::Ridges;
use nalgebra::Vector2;

/// A run of ridge points in order, pixels of the level.
pub struct Stroke {
    /// Points along it, about one to the pixel, with gaps where other lines cross.
    pub points: Vec<Vector2<f32>>,
    /// Mean strength of its points.
    pub strength: f32,
}

/// A stroke starts at a point this many times above the noise floor, so that grain starts none.
const START: f32 = 1.3;
/// Cosine of the turn allowed from one point to the next (25°): blur and noise turn single points.
const TURN: f32 = 0.906;
/// Longest gap jumped, px: a crossing blots out ridges over about its own width and the smoothing's.
const GAP: i32 = 7;
/// Points a run must have before it jumps: weave would jump from thread to thread.
const PROVEN: usize = 6;
/// Shortest stroke kept, px: shorter ones are weave and grain.
const SHORTEST: f32 = 9.0;
/// The direction is taken over this many points back.
const BACK: usize = 10;

/// Links all ridge points, strongest first.
pub fn strokes(ridges: &Ridges) -> Vec<Stroke> {
    let points = &ridges.points;
    // As one number each: strengths are positive, and so in the order of their bits; of equals the first comes first.
    let key = |(k, strength): (usize, f32)| (u64::from(!strength.to_bits()) << 32) | k as u64;
    let strong = points.iter().map(|p| p.strength).enumerate().filter(|(_, s)| *s >= START * ridges.floor);
    let mut order: Vec<u64> = strong.map(key).collect();
    order.sort_unstable();
    let mut taken = vec![false; points.len()];
    let mut all = Vec::new();
    for k in order {
        let k = k as u32 as usize;
        if taken[k] {
            continue;
        }
        let mut run = vec![k];
        take(ridges, k, &mut taken);
        follow(ridges, &mut run, points[k].along, &mut taken);
        run.reverse();
        follow(ridges, &mut run, -points[k].along, &mut taken);
        let (a, b) = (points[run[0]].at, points[run[run.len() - 1]].at);
        let length = (a - b).norm();
        if length >= SHORTEST && run.len() as f32 > 0.55 * length {
            let strength = run.iter().map(|&k| points[k].strength).sum::<f32>() / run.len() as f32;
            all.push(Stroke { points: run.iter().map(|&k| points[k].at).collect(), strength });
        }
    }
    all
}

/// Marks a point and those beside it on the same line.
fn take(ridges: &Ridges, k: usize, taken: &mut [bool]) {
    let p = &ridges.points[k];
    taken[k] = true;
    let (x, y) = (p.at.x.round() as i32, p.at.y.round() as i32);
    for (dx, dy) in [(0, 0), (-1, -1), (0, -1), (1, -1), (-1, 0), (1, 0), (-1, 1), (0, 1), (1, 1)] {
        let Some(n) = ridges.at(x + dx, y + dy) else { continue };
        let q = &ridges.points[n];
        let d = q.at - p.at;
        let beside = (d - p.along * d.dot(&p.along)).norm() > d.dot(&p.along).abs();
        if (d.norm() < 0.3 || beside) && q.along.dot(&p.along).abs() > TURN {
            taken[n] = true;
        }
    }
}

fn follow(ridges: &Ridges, run: &mut Vec<usize>, start: Vector2<f32>, taken: &mut [bool]) {
    let points = &ridges.points;
    let mut heading = start;
    loop {
        let gap = if run.len() < PROVEN { 2 } else { GAP };
        let Some(n) = (1..=gap).find_map(|reach| next(ridges, points[run[run.len() - 1]].at, heading, reach, taken)) else { return };
        take(ridges, n, taken);
        run.push(n);
        let back = points[run[run.len().saturating_sub(BACK)]].at;
        let chord = points[n].at - back;
        if chord.norm() > 3.0 {
            heading = chord.normalize();
        }
    }
}

/// The best free point about `reach` pixels on.
fn next(ridges: &Ridges, from: Vector2<f32>, heading: Vector2<f32>, reach: i32, taken: &[bool]) -> Option<usize> {
    let aim = from + heading * reach as f32;
    let (x, y) = (aim.x.round() as i32, aim.y.round() as i32);
    let mut best: Option<(f32, usize)> = None;
    for (dx, dy) in [(0, 0), (-1, 0), (1, 0), (0, -1), (0, 1), (-1, -1), (1, -1), (-1, 1), (1, 1)] {
        let Some(n) = ridges.at(x + dx, y + dy) else { continue };
        if taken[n] {
            continue;
        }
        let q = &ridges.points[n];
        let d = q.at - from;
        let ahead = d.dot(&heading);
        let aside = (d.x * heading.y - d.y * heading.x).abs();
        let turn = q.along.dot(&heading).abs();
        if ahead < 0.3 || aside > 0.5 + 0.12 * ahead || turn < TURN {
            continue;
        }
        let cost = aside + (1.0 - turn) * 4.0 + (ahead - reach as f32).abs() * 0.3;
        if best.is_none_or(|(c, _)| cost < c) {
            best = Some((cost, n));
        }
    }
    best.map(|(_, n)| n)
}
