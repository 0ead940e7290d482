//! Lattices of few, long, partly hidden lines: the joints of a floor of tiles, or a wide ruling with a garment over most of it.
//!
//! Where no whole square is in view, lattices can't be grown from crossings. But the lines of a plane's lattice form two pencils in the
//! picture: any two neighbouring lines of either fix the homography of the unit square (Heckbert 1989), which must be that of a square
//! seen by a camera, and then says where all other lines run. Lines in view decide among all such fours; a crossing under the garment is
//! known from where its two lines run beside it.

use super::arms::{self, LineLook};
use super::long::{Long, Part, longs, parts};
use super::looks::Looks;
use super::map::{Placed, SheetMap};
use super::ridge::Polarity;
use super::seek::{Found, Seen, polarity};
use super::settle;
use super::stroke::Stroke;
use crate::length::Px;
use crate::sheet::SheetKind;
use crate::shot::Shot;
use nalgebra::{Matrix3, Vector2, Vector3};
use std::collections::BTreeMap;

/// Lines tried four by four, those most in view first: their fours grow with the fourth power.
const TRIED: usize = 24;
/// Fewest lines in all, and in each of the two families: with fewer nothing is left to check by.
const FEWEST: usize = 6;
const FEWEST_EACH: usize = 2;
/// Focal lengths tried, over the picture's long side: from an ultra-wide to a portrait lens. A view from nearly above tells no
/// focal length and fits any.
const FOCAL: [f64; 4] = [0.55, 0.75, 1.0, 1.5];
/// How far the sides of a tile may seem unequal (logarithm) or out of square (cosine) for the best of them.
const SQUARE: f64 = 0.1;
/// A line runs on the lattice when it lies within this share of a square of a whole number: while four lines speak, then with all.
const NEAR: f64 = 0.07;
const NEARER: f64 = 0.035;
/// Share of the lines that must be there, of those that would run through the picture for a good stretch …
const THERE: f64 = 0.6;
/// … which is this share of its diagonal.
const STRETCH: f64 = 0.25;
/// Most the crossings may stray from a smooth map (robust spread), px of the level: joints are straight.
const ROUGH: f64 = 0.7;
/// Smallest square, in diagonals of the picture: finer lattices have whole squares in view and are grown.
const SMALLEST: f64 = 0.05;

/// What lines must show.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Wanted {
    /// Shortest line of use, diagonals of the picture.
    shortest: f64,
    /// Share of the lattice's lines, by length, that must be in view.
    in_view: f64,
}

impl Wanted {
    /// Of a lattice that is believed for its lines alone.
    pub const BY_LINES: Self = Self { shortest: 0.12, in_view: 0.25 };
    /// Of a lattice that is believed only when it carries a code: what a narrow border leaves of lines.
    pub const BY_CODE: Self = Self { shortest: 0.06, in_view: 0.08 };
}

/// Lines by their number, for both families.
type Numbered = [BTreeMap<i32, usize>; 2];

/// The lattice that the longest strokes form, if they form one; `factor` is their level's.
pub(super) fn seek(shot: &Shot, strokes: &[Stroke], factor: usize, (kind, wanted): (SheetKind, Wanted)) -> Option<Found> {
    let (size, polarity) = ([shot.width, shot.height], polarity(kind)?);
    let parts = parts(strokes, factor, size);
    let lines = longs(&parts, factor, size, wanted.shortest);
    let first = best_four(&lines, size, wanted)?;
    let (lines, numbered, map) = number(&parts, lines, first, size, factor)?;
    let place = |a: [f64; 2]| map.at(a[0], a[1]).map(Px::vector);
    let (there, could, seen, length) = completeness(&lines, &numbered, size, place)?;
    if there < THERE * could || seen < wanted.in_view * length {
        return None;
    }
    let looks = Looks::alike(look(shot, &numbered, &map, polarity).unwrap_or_else(|| beside(shot, &lines, &numbered, factor)));
    let mut nodes: Vec<Seen> = Vec::new();
    for (&i, &a) in &numbered[0] {
        for (&j, &b) in &numbered[1] {
            let Some((at, error)) = lines[a].crossing(&lines[b]) else { continue };
            if !(at.x >= 0.0 && at.y >= 0.0 && at.x < size[0] as f64 - 1.0 && at.y < size[1] as f64 - 1.0) {
                continue;
            }
            // Where both lines are in view at the crossing, it is measured as any other.
            let seen =
                arms::measure(shot, &map, (i, j), polarity, Some(&looks)).filter(|m| (m.at - at).norm() < 3.0 * error + factor as f64);
            nodes.push(seen.map_or(((i, j), at, error), |m| ((i, j), m.at, m.error)));
        }
    }
    let score = settle::score(nodes.iter().map(|n| (n.0, n.1)), &map, size);
    Some(Found { kind, nodes, map, looks: Some(looks), score, coded: None, preferred: false })
}

/// The homography (lattice to picture) of the four lines that most of the others agree with.
fn best_four(lines: &[Long], size: [usize; 2], wanted: Wanted) -> Option<Matrix3<f64>> {
    let tried = &lines[..lines.len().min(TRIED)];
    let pairs: Vec<(usize, usize)> =
        (0..tried.len()).flat_map(|a| (0..a).map(move |b| (b, a))).filter(|&(a, b)| tried[a].way.dot(&tried[b].way).abs() > 0.64).collect();
    let mut best: Option<(f64, Matrix3<f64>)> = None;
    for (n, &(a, b)) in pairs.iter().enumerate() {
        for &(c, d) in &pairs[n + 1..] {
            let all = [a, b, c, d].map(|k| &tried[k]);
            let across = all[..2].iter().all(|p| all[2..].iter().all(|q| p.way.dot(&q.way).abs() < 0.82));
            let Some(h) = across.then(|| square(all)).flatten().filter(|h| sane(h, size)) else { continue };
            let score = agreement(tried, &h, size, wanted);
            if best.as_ref().is_none_or(|b| score > b.0) {
                best = Some((score, h));
            }
        }
    }
    best.filter(|b| b.0 > 0.0).map(|b| b.1)
}

/// Unit square to the quadrilateral between lines x = 0, x = 1, y = 0, y = 1 (Heckbert 1989).
fn square([a, b, c, d]: [&Long; 4]) -> Option<Matrix3<f64>> {
    let (p, q, r, s) = (a.cross(c)?, b.cross(c)?, b.cross(d)?, a.cross(d)?);
    // Right-handed, as a sheet seen from above is.
    if (q - p).perp(&(s - p)) < 0.0 {
        return square_of([p, s, r, q]);
    }
    square_of([p, q, r, s])
}

fn square_of([p, q, r, s]: [Vector2<f64>; 4]) -> Option<Matrix3<f64>> {
    let corners = [p, q, r, s];
    let convex = (0..4).all(|k| (corners[(k + 1) % 4] - corners[k]).perp(&(corners[(k + 2) % 4] - corners[(k + 1) % 4])) > 0.0);
    let (u, v, sum) = (q - r, s - r, p - q + r - s);
    let det = u.perp(&v);
    if !convex || det.abs() < 1e-9 {
        return None;
    }
    let (g, h) = (sum.perp(&v) / det, u.perp(&sum) / det);
    let (x, y) = (q - p + q * g, s - p + s * h);
    Some(Matrix3::new(x.x, y.x, p.x, x.y, y.y, p.y, g, h, 1.0))
}

/// Whether the unit square is large enough and can be a square before a camera.
fn sane(h: &Matrix3<f64>, size: [usize; 2]) -> bool {
    let long = size[0].max(size[1]) as f64;
    let centre = [(size[0] as f64 - 1.0) / 2.0, (size[1] as f64 - 1.0) / 2.0];
    let step = (h.m11 * h.m22 - h.m12 * h.m21).abs().sqrt();
    if step < SMALLEST * long {
        return false;
    }
    let column = |k: usize, f: f64| {
        let z = h[(2, k)];
        Vector3::new((h[(0, k)] - centre[0] * z) / f, (h[(1, k)] - centre[1] * z) / f, z)
    };
    FOCAL.iter().any(|f| {
        let (a, b) = (column(0, f * long), column(1, f * long));
        a.normalize().dot(&b.normalize()).abs() < SQUARE && (a.norm() / b.norm()).ln().abs() < SQUARE
    })
}

/// How much of the lines runs on the lattice, by length, times the share of the lattice's lines that is there; 0 when too few.
fn agreement(lines: &[Long], h: &Matrix3<f64>, size: [usize; 2], wanted: Wanted) -> f64 {
    let Some(back) = h.try_inverse() else { return 0.0 };
    let address = |p: Vector2<f64>| {
        let v = back * Vector3::new(p.x, p.y, 1.0);
        (v.z > 0.0).then(|| [v.x / v.z, v.y / v.z])
    };
    let numbered = match_lines(lines, NEAR, address);
    let place = |a: [f64; 2]| {
        let v = h * Vector3::new(a[0], a[1], 1.0);
        (v.z > 0.0).then(|| Vector2::new(v.x, v.y) / v.z)
    };
    let Some((there, could, seen, length)) = completeness(lines, &numbered, size, place) else { return 0.0 };
    if there < THERE * could || seen < wanted.in_view * length { 0.0 } else { seen * there / could }
}

/// Which lines run on the lattice, by number; of two with the same number the one more in view.
fn match_lines(lines: &[Long], near: f64, address: impl Fn(Vector2<f64>) -> Option<[f64; 2]>) -> Numbered {
    let mut numbered = [BTreeMap::new(), BTreeMap::new()];
    for (k, line) in lines.iter().enumerate() {
        let ends = line.ends().map(&address);
        let [Some(a), Some(b)] = ends else { continue };
        for axis in 0..2 {
            let n = (0.5 * (a[axis] + b[axis])).round();
            if (a[axis] - n).abs() < near && (b[axis] - n).abs() < near && n.abs() < 100.0 {
                numbered[axis].entry(n as i32).or_insert(k);
            }
        }
    }
    numbered
}

/// Lines of a lattice that are there, that could be (all within the range of those that are, or running through the picture for a good
/// stretch), length in view of those that are there, and of the others too; `None` when too few are there.
fn completeness(
    lines: &[Long],
    numbered: &Numbered,
    size: [usize; 2],
    place: impl Fn([f64; 2]) -> Option<Vector2<f64>>,
) -> Option<(f64, f64, f64, f64)> {
    let there = numbered[0].len() + numbered[1].len();
    if there < FEWEST || numbered.iter().any(|f| f.len() < FEWEST_EACH) {
        return None;
    }
    let stretch = STRETCH * (size[0] as f64).hypot(size[1] as f64);
    let range = |axis: usize| Some((*numbered[axis].keys().next()?, *numbered[axis].keys().next_back()?));
    let (mut could, mut length) = (0, 0.0);
    for axis in 0..2 {
        let ((from, to), (start, end)) = (range(axis)?, range(1 - axis)?);
        for n in from - 1..=to + 1 {
            let at = |k: i32| {
                let (along, n) = (f64::from(start) - 2.0 + 0.25 * f64::from(k), f64::from(n));
                place(if axis == 0 { [n, along] } else { [along, n] }).filter(|p| within(*p, size))
            };
            let steps = 4 * (end - start + 4);
            let run: f64 = (0..steps).filter_map(|k| Some((at(k)? - at(k + 1)?).norm())).sum();
            if (from..=to).contains(&n) || run > stretch {
                could += 1;
                length += run;
            }
        }
    }
    let seen = numbered.iter().flat_map(|f| f.values()).map(|&k| lines[k].length).sum();
    Some((there as f64, f64::from(could), seen, length))
}

fn within(p: Vector2<f64>, size: [usize; 2]) -> bool {
    p.x >= 0.0 && p.y >= 0.0 && p.x <= size[0] as f64 && p.y <= size[1] as f64
}

/// The lines that run on the lattice, from all strokes that do, and the smooth map through their crossings.
fn number(
    parts: &[Part],
    lines: Vec<Long>,
    first: Matrix3<f64>,
    size: [usize; 2],
    factor: usize,
) -> Option<(Vec<Long>, Numbered, SheetMap)> {
    let back = first.try_inverse()?;
    let address = |p: Vector2<f64>| {
        let v = back * Vector3::new(p.x, p.y, 1.0);
        (v.z > 0.0).then(|| [v.x / v.z, v.y / v.z])
    };
    let mut lines = lines;
    let mut numbered = match_lines(&lines, NEAR, address);
    let mut map = fit(&lines, &numbered, size, factor)?;
    for _ in 0..3 {
        (lines, numbered) = joined(parts, &numbered, &map, size, factor);
        map = fit(&lines, &numbered, size, factor)?;
    }
    (map.rms < ROUGH * factor as f64).then_some((lines, numbered, map))
}

/// The lattice's lines made anew of all strokes that lie on the map's, and of one more line to each side.
fn joined(parts: &[Part], numbered: &Numbered, map: &SheetMap, size: [usize; 2], factor: usize) -> (Vec<Long>, Numbered) {
    let mut on: [BTreeMap<i32, Vec<usize>>; 2] = [BTreeMap::new(), BTreeMap::new()];
    for (k, part) in parts.iter().enumerate() {
        let ends = [0, part.len() / 2, part.len() - 1].map(|k| map.address(Px::from(part[k])));
        let [Some(a), Some(b), Some(c)] = ends else { continue };
        for axis in 0..2 {
            let n = b[axis].round();
            if [a, b, c].iter().all(|p| (p[axis] - n).abs() < NEARER) {
                on[axis].entry(n as i32).or_default().push(k);
            }
        }
    }
    let (mut lines, mut found) = (Vec::new(), [BTreeMap::new(), BTreeMap::new()]);
    for axis in 0..2 {
        let (from, to) = (numbered[axis].keys().next().unwrap_or(&0), numbered[axis].keys().next_back().unwrap_or(&0));
        for (n, parts_on) in on[axis].range(from - 1..=to + 1) {
            if let Some(line) = Long::joined(parts_on.iter().map(|&k| &parts[k]), factor, size) {
                found[axis].insert(*n, lines.len());
                lines.push(line);
            }
        }
    }
    (lines, found)
}

fn fit(lines: &[Long], numbered: &Numbered, size: [usize; 2], factor: usize) -> Option<SheetMap> {
    let mut placed: Vec<Placed> = Vec::new();
    for (&i, &a) in &numbered[0] {
        for (&j, &b) in &numbered[1] {
            // Crossings far out of the picture are known badly.
            let (at, error) = lines[a].crossing(&lines[b])?;
            if error < 4.0 * factor as f64 {
                placed.push(([f64::from(i), f64::from(j)], at));
            }
        }
    }
    SheetMap::fit(&placed, size, 0.25 * factor as f64)
}

/// What the lines look like where they are seen at crossings.
fn look(shot: &Shot, numbered: &Numbered, map: &SheetMap, polarity: Polarity) -> Option<LineLook> {
    let all = numbered[0].keys().flat_map(|&i| numbered[1].keys().map(move |&j| (i, j)));
    let seen: Vec<LineLook> = all.filter_map(|a| arms::measure(shot, map, a, polarity, None)).map(|m| m.look).collect();
    LineLook::usual(&seen)
}

/// The same from the light on the lines and beside them.
fn beside(shot: &Shot, lines: &[Long], numbered: &Numbered, factor: usize) -> LineLook {
    let mut depths: Vec<f64> = Vec::new();
    let width = 1.2 * factor as f64;
    for line in numbered.iter().flat_map(|f| f.values()).map(|&k| &lines[k]) {
        let aside = Vector2::new(-line.way.y, line.way.x) * (3.5 * width);
        for &p in line.points.iter().step_by(5) {
            let light = |p: Vector2<f64>| arms::light(shot, p);
            if let (Some(on), Some(a), Some(b)) = (light(p), light(p + aside), light(p - aside)) {
                depths.push(1.0 - 2.0 * on / (a + b).max(1e-3));
            }
        }
    }
    depths.sort_by(f64::total_cmp);
    LineLook { width, depth: depths.get(depths.len() / 2).copied().unwrap_or(0.3) }
}
