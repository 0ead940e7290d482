//! Crossings of ruled lines: strokes of one polarity, cut with one another.

use super::Candidate;
use super::ridge::Relief;
use super::stroke::Stroke;
use crate::shot::to_picture;
use nalgebra::Vector2;

/// Points of a stroke per straight piece.
const PIECE: usize = 6;
/// A stroke's end is lengthened by this much, px of the level: ridges fade just before a crossing.
const BEYOND: f32 = 4.0;
/// Sine of the least angle at which lines of a sheet still cross in a picture (35°).
const LEAST_SINE: f32 = 0.57;
/// How far along both arms the ground between them is looked at, px of the level: clear of lines three pixels wide.
const BETWEEN: f32 = 4.0;
/// Most the ground may differ, as a share of the square root of light: a hard shadow's edge is left to the smooth map.
const UNEVEN: f32 = 0.15;
/// Side of a cell in which pieces look for each other, px of the level.
const CELL: f32 = 16.0;

struct Piece {
    a: Vector2<f32>,
    b: Vector2<f32>,
    stroke: u32,
}

/// Places where two lines cross, strongest first. The strokes are those of `relief`.
pub fn candidates(relief: &Relief, all: &[Stroke]) -> Vec<Candidate> {
    let pieces = pieces(all);
    let (columns, rows) = ((relief.width as f32 / CELL) as usize + 1, (relief.height as f32 / CELL) as usize + 1);
    let mut cells: Vec<Vec<u32>> = vec![Vec::new(); columns * rows];
    let cell = |v: f32, n: usize| ((v / CELL).max(0.0) as usize).min(n - 1);
    for (k, p) in pieces.iter().enumerate() {
        for y in cell(p.a.y.min(p.b.y), rows)..=cell(p.a.y.max(p.b.y), rows) {
            for x in cell(p.a.x.min(p.b.x), columns)..=cell(p.a.x.max(p.b.x), columns) {
                cells[y * columns + x].push(k as u32);
            }
        }
    }
    let mut found: Vec<Candidate> = Vec::new();
    for list in &cells {
        for (n, &k) in list.iter().enumerate() {
            for &m in &list[n + 1..] {
                let (p, q) = (&pieces[k as usize], &pieces[m as usize]);
                if p.stroke != q.stroke
                    && let Some(at) = cross(p, q)
                {
                    let axes = [p, q].map(|s| (s.b - s.a).normalize());
                    if !plain(relief, at, axes) {
                        continue;
                    }
                    let strength = all[p.stroke as usize].strength.min(all[q.stroke as usize].strength);
                    let at = to_picture(relief.factor, f64::from(at.x), f64::from(at.y));
                    found.push(Candidate { at, strength, axes: Some(axes.map(|a| a.map(f64::from))), state: 0 });
                }
            }
        }
    }
    thin(found, 3.0 * relief.factor as f64)
}

/// Whether the ground between the arms is alike on all four sides: at the corners of a woven check it is not.
fn plain(relief: &Relief, at: Vector2<f32>, axes: [Vector2<f32>; 2]) -> bool {
    let ground = [(1.0, 1.0), (1.0, -1.0), (-1.0, 1.0), (-1.0, -1.0)]
        .map(|(s, t): (f32, f32)| relief.at(at + (axes[0] * s + axes[1] * t) * BETWEEN));
    let (low, high) = ground.iter().fold((f32::MAX, f32::MIN), |r, g| (r.0.min(*g), r.1.max(*g)));
    high - low < UNEVEN * high
}

/// Straight pieces of every stroke, neighbouring ones sharing their ends, the outermost lengthened.
fn pieces(all: &[Stroke]) -> Vec<Piece> {
    let mut out = Vec::new();
    for (stroke, s) in all.iter().enumerate() {
        let n = s.points.len();
        let parts = (n / PIECE).max(1);
        let knot = |k: usize| s.points[(k * (n - 1)) / parts];
        for k in 0..parts {
            let (mut a, mut b) = (knot(k), knot(k + 1));
            let way = (b - a).normalize();
            if k == 0 {
                a -= way * BEYOND;
            }
            if k + 1 == parts {
                b += way * BEYOND;
            }
            out.push(Piece { a, b, stroke: stroke as u32 });
        }
    }
    out
}

fn cross(p: &Piece, q: &Piece) -> Option<Vector2<f32>> {
    let (u, v, d) = (p.b - p.a, q.b - q.a, q.a - p.a);
    let det = u.x * v.y - u.y * v.x;
    if det.abs() < LEAST_SINE * u.norm() * v.norm() {
        return None;
    }
    let (s, t) = ((d.x * v.y - d.y * v.x) / det, (d.x * u.y - d.y * u.x) / det);
    // A hair beyond the ends, so that a crossing at a knot is not lost to rounding.
    ((-0.02..=1.02).contains(&s) && (-0.02..=1.02).contains(&t)).then(|| p.a + u * s)
}

/// Keeps the strongest of candidates closer together than `apart`.
fn thin(mut found: Vec<Candidate>, apart: f64) -> Vec<Candidate> {
    found.sort_by(|a, b| b.strength.total_cmp(&a.strength).then(a.at.y.total_cmp(&b.at.y)).then(a.at.x.total_cmp(&b.at.x)));
    let mut cells = std::collections::BTreeMap::<(i32, i32), Vec<usize>>::new();
    let mut kept: Vec<Candidate> = Vec::new();
    for c in found {
        let (x, y) = ((c.at.x / apart) as i32, (c.at.y / apart) as i32);
        let close = (-1..=1).any(|dy| {
            (-1..=1).any(|dx| cells.get(&(x + dx, y + dy)).is_some_and(|l| l.iter().any(|&k| kept[k].at.distance(c.at) < apart)))
        });
        if !close {
            cells.entry((x, y)).or_default().push(kept.len());
            kept.push(c);
        }
    }
    kept
}
