//! The line in the middle of several outlines of a piece, and the motions that lay them on it.

use super::answering::answer;
use super::laid_line::LaidLine;
use super::layer::{Layer, mm};
use super::layings::{EdgeSpread, LaidOut, LayingError, Layings, Numbers, Spread};
use super::walk::Walk;
use crate::solve::Similarity;
use kurbo::{Affine, Point};
use nalgebra::{Matrix3, Vector2, Vector3};

/// Places of the line in the middle are at most so far apart, mm.
const STEP: f64 = 1.0;
/// Differences are told at every so many of them: 5 mm or closer, also along an edge that is longer than the middle one.
const TOLD: usize = 4;
/// Outlines that lie further apart than this (95 %), mm, and this share of the piece's size show different things. Knits laid anew
/// are out by one or two percent (common practice, no source).
const ALIKE: (f64, f64) = (10.0, 0.04);
/// What 95 % of places keep.
const SHARE: f64 = 0.95;

/// One outline on its way onto the others.
pub(super) struct Outlined {
    laying: usize,
    /// Its edges in the order of the first outline's.
    lines: Vec<LaidLine>,
    corners: Vec<Vector2<f64>>,
    numbers: Numbers,
    motion: Similarity,
    /// How much it counts: each laying as one, however many pictures it has.
    pub weight: f64,
}

impl Outlined {
    pub fn new(first: &Layer, taken: &LaidOut) -> Result<Self, LayingError> {
        let image = taken.mirrored.then(|| taken.layer.mapped(Affine::FLIP_X));
        let layer = image.as_ref().unwrap_or(taken.layer);
        let answer = answer(first, layer)?;
        let n = layer.edges.len();
        let closed = layer.corners.is_empty();
        let lines: Vec<LaidLine> =
            (0..n).map(|k| LaidLine::of(&layer.edges[(k + if closed { 0 } else { answer.by }) % n].path, closed)).collect();
        if lines.iter().any(LaidLine::is_empty) {
            return Err(LayingError::Empty);
        }
        let m = layer.corners.len();
        let corners = (0..m).map(|k| layer.corners[(k + answer.by) % m].at.vector()).collect();
        // Edges of a closed piece are one, wherever it begins.
        let numbers = Numbers { by: if closed { 0 } else { answer.by }, mirrored: taken.mirrored, count: n };
        Ok(Self { laying: taken.laying, lines, corners, numbers, motion: answer.motion, weight: 1.0 })
    }
}

/// One place of the line in the middle.
#[derive(Clone, Copy)]
struct Place {
    at: Vector2<f64>,
    normal: Vector2<f64>,
}

/// Where one outline passes a place: along its edge, and how far out, mm.
type Off = Option<(f64, f64)>;

/// The line in the middle of all.
pub(super) struct Middle {
    edges: Vec<Vec<Place>>,
    corners: Vec<Vector2<f64>>,
    closed: bool,
}

impl Middle {
    pub fn new(first: &Layer, outlines: &[Outlined]) -> Self {
        let edges = first.edges.iter().map(|e| {
            let walk = Walk::of(&e.path);
            let place = |s: f64| {
                let d = walk.along(s);
                Place { at: mm(walk.at(s)).vector(), normal: Vector2::new(d.y, -d.x) }
            };
            walk.steps(STEP).into_iter().map(place).collect()
        });
        let mut middle = Self { edges: edges.collect(), corners: Vec::new(), closed: first.corners.is_empty() };
        middle.redraw(outlines);
        middle
    }

    /// Where every outline passes every place, edge by edge.
    pub fn offs(&self, outlines: &[Outlined]) -> Vec<Vec<Vec<Off>>> {
        let of = |o: &Outlined| -> Vec<Vec<Off>> {
            self.edges.iter().zip(&o.lines).map(|(places, line)| line.passes(places.iter().map(|p| (p.at, p.normal)), &o.motion)).collect()
        };
        outlines.iter().map(of).collect()
    }

    /// Turns and moves each outline towards the middle of all.
    pub fn settle(&self, offs: &[Vec<Vec<Off>>], outlines: &mut [Outlined]) {
        let total: f64 = outlines.iter().map(|o| o.weight).sum();
        let weights: Vec<f64> = outlines.iter().map(|o| o.weight / total).collect();
        let centre =
            self.edges.iter().flatten().map(|p| p.at).sum::<Vector2<f64>>() / self.edges.iter().map(Vec::len).sum::<usize>() as f64;
        for (i, outline) in outlines.iter_mut().enumerate() {
            let (mut normal, mut right) = (Matrix3::zeros(), Vector3::zeros());
            for (k, places) in self.edges.iter().enumerate() {
                for (j, place) in places.iter().enumerate() {
                    let Some(mean) = mean(offs, &weights, k, j) else { continue };
                    let Some((_, off)) = offs[i][k][j] else { continue };
                    let arm = place.at - centre;
                    let row = Vector3::new(place.normal.x, place.normal.y, place.normal.dot(&Vector2::new(-arm.y, arm.x)));
                    normal += row * row.transpose();
                    right += row * (mean - off);
                }
            }
            // A round piece may turn freely: nothing along the normals holds it.
            let loose = normal.trace() * 1e-9;
            let Some(step) = (normal + Matrix3::identity() * loose).try_inverse().map(|inverse| inverse * right) else { continue };
            outline.motion = moved(&outline.motion, centre, step);
        }
    }

    /// Draws the line anew: corners in the middle of the corners, edges through the middle of the edges.
    pub fn redraw(&mut self, outlines: &[Outlined]) {
        let total: f64 = outlines.iter().map(|o| o.weight).sum();
        let weights: Vec<f64> = outlines.iter().map(|o| o.weight / total).collect();
        let n = outlines.first().map_or(0, |o| o.corners.len());
        let corner = |k: usize| outlines.iter().zip(&weights).map(|(o, w)| o.motion.apply(o.corners[k]) * *w).sum();
        self.corners = (0..n).map(corner).collect();
        for k in 0..self.edges.len() {
            if let (Some(&a), Some(&b)) = (self.corners.get(k), self.corners.get((k + 1) % n.max(1))) {
                stretched(&mut self.edges[k], a, b);
            }
        }
        let offs = self.offs(outlines);
        for (k, places) in self.edges.iter_mut().enumerate() {
            for (j, place) in places.iter_mut().enumerate() {
                place.at += place.normal * mean(&offs, &weights, k, j).unwrap_or(0.0);
            }
            turned_again(places, self.closed);
        }
    }

    /// What is told of it, on the first outline's own page.
    pub fn told(&self, outlines: &[Outlined]) -> Result<Layings, LayingError> {
        let offs = self.offs(outlines);
        let count = groups(outlines).len();
        let spreads: Vec<Spread> = (0..outlines.len()).map(|i| self.spread(i, &offs, outlines)).collect();
        let size = extent(&self.edges);
        let off = spreads.iter().filter_map(|s| s.laid.into_iter().chain(s.repeat).reduce(f64::max)).fold(0.0, f64::max);
        if off > ALIKE.0.max(ALIKE.1 * size) {
            return Err(LayingError::NotAlike { off });
        }
        let back = affine(&outlines[0].motion).inverse();
        let image = |o: &Outlined| if o.numbers.mirrored { Affine::FLIP_X } else { Affine::IDENTITY };
        let motions = outlines.iter().map(|o| back * affine(&o.motion) * image(o)).collect();
        let home = |p: Vector2<f64>| mm(back * Point::new(p.x, p.y));
        let turn = |v: Vector2<f64>| {
            let d = back * Point::new(v.x, v.y) - back * Point::ZERO;
            Vector2::new(d.x, d.y)
        };
        Ok(Layings {
            count,
            motions,
            answers: outlines.iter().map(|o| o.numbers).collect(),
            spreads,
            corners: self.corners.iter().map(|c| home(*c)).collect(),
            edges: self.edges.iter().map(|e| e.iter().map(|p| (home(p.at), turn(p.normal))).collect()).collect(),
        })
    }

    /// How the others differ from one outline, along its own edges.
    fn spread(&self, i: usize, offs: &[Vec<Vec<Off>>], outlines: &[Outlined]) -> Spread {
        let groups = groups(outlines);
        let (mut all, mut again) = (Vec::new(), Vec::new());
        let n = self.edges.len();
        let mut edges = vec![EdgeSpread::default(); n];
        for k in 0..n {
            let mut own = Vec::new();
            let last = self.edges[k].len() - 1;
            for j in (0..=last).filter(|j| j % TOLD == 0 || *j == last) {
                let Some((along, _)) = offs[i][k][j] else { continue };
                let along = if outlines[i].numbers.mirrored { outlines[i].lines[k].length - along } else { along };
                let means: Vec<f64> = groups.iter().filter_map(|g| between(offs, g, k, j).map(|b| b.0)).collect();
                let apart = means.iter().copied().fold(f64::NEG_INFINITY, f64::max) - means.iter().copied().fold(f64::INFINITY, f64::min);
                again.extend(groups.iter().filter(|g| g.len() > 1).filter_map(|g| between(offs, g, k, j)).map(|b| b.1));
                if groups.len() > 1 && means.len() > 1 {
                    own.push([along, apart]);
                }
            }
            own.sort_by(|a, b| a[0].total_cmp(&b[0]));
            own.dedup_by(|b, a| b[0] <= a[0]);
            all.extend(own.iter().map(|o| o[1]));
            edges[outlines[i].numbers.edge(k)] = EdgeSpread { laid: most(own.iter().map(|o| o[1]).collect()), along: own };
        }
        let m = self.corners.len();
        let mut corners = vec![0.0; m];
        for k in 0..m {
            corners[outlines[i].numbers.corner(k)] = corner_apart(outlines, &groups, k);
        }
        Spread { layings: groups.len(), laid: most(all), repeat: most(again), edges, corners }
    }
}

/// Numbers of the outlines of each laying.
pub(super) fn groups(outlines: &[Outlined]) -> Vec<Vec<usize>> {
    let mut out: Vec<(usize, Vec<usize>)> = Vec::new();
    for (k, o) in outlines.iter().enumerate() {
        match out.iter_mut().find(|g| g.0 == o.laying) {
            Some(group) => group.1.push(k),
            None => out.push((o.laying, vec![k])),
        }
    }
    out.into_iter().map(|g| g.1).collect()
}

/// The mean of one laying's outlines at a place, and how far they lie apart there.
fn between(offs: &[Vec<Vec<Off>>], group: &[usize], k: usize, j: usize) -> Option<(f64, f64)> {
    let own: Option<Vec<f64>> = group.iter().map(|&i| offs[i][k][j].map(|o| o.1)).collect();
    let own = own?;
    let (low, high) = own.iter().fold((f64::INFINITY, f64::NEG_INFINITY), |(l, h), v| (l.min(*v), h.max(*v)));
    Some((own.iter().sum::<f64>() / own.len() as f64, high - low))
}

/// The distance of the two layings that differ most at a corner.
fn corner_apart(outlines: &[Outlined], groups: &[Vec<usize>], k: usize) -> f64 {
    let at = |i: &usize| outlines[*i].motion.apply(outlines[*i].corners[k]);
    let means: Vec<Vector2<f64>> = groups.iter().map(|g| g.iter().map(at).sum::<Vector2<f64>>() / g.len() as f64).collect();
    means.iter().enumerate().flat_map(|(a, p)| means[a + 1..].iter().map(move |q| (p - q).norm())).fold(0.0, f64::max)
}

/// The weighted mean of all outlines at a place; `None` where one does not pass it.
fn mean(offs: &[Vec<Vec<Off>>], weights: &[f64], k: usize, j: usize) -> Option<f64> {
    offs.iter().zip(weights).map(|(o, w)| o[k][j].map(|(_, off)| off * w)).sum()
}

fn most(mut all: Vec<f64>) -> Option<f64> {
    all.sort_by(f64::total_cmp);
    all.get(((all.len() as f64 * SHARE).ceil() as usize).clamp(1, all.len().max(1)) - 1).copied()
}

fn extent(edges: &[Vec<Place>]) -> f64 {
    let all = || edges.iter().flatten().map(|p| p.at);
    let low = all().fold(Vector2::repeat(f64::INFINITY), |a, b| a.inf(&b));
    let high = all().fold(Vector2::repeat(f64::NEG_INFINITY), |a, b| a.sup(&b));
    (high - low).norm()
}

/// Turned and moved by a small step about a centre.
fn moved(motion: &Similarity, centre: Vector2<f64>, step: Vector3<f64>) -> Similarity {
    let turn = Similarity { scale: 1.0, angle: step.z, shift: Vector2::zeros() };
    let shift = turn.apply(motion.shift - centre) + centre + Vector2::new(step.x, step.y);
    Similarity { scale: 1.0, angle: motion.angle + step.z, shift }
}

fn affine(motion: &Similarity) -> Affine {
    let (s, c) = motion.angle.sin_cos();
    Affine::new([c, s, -s, c, motion.shift.x, motion.shift.y])
}

/// Brings the ends of an edge to two places, the rest along with them.
fn stretched(places: &mut [Place], a: Vector2<f64>, b: Vector2<f64>) {
    let (Some(first), Some(last)) = (places.first().map(|p| p.at), places.last().map(|p| p.at)) else { return };
    let Some(by) = Similarity::fit(&[first, last], &[a, b]) else { return };
    let turn = Similarity { scale: 1.0, shift: Vector2::zeros(), ..by };
    places.iter_mut().for_each(|p| *p = Place { at: by.apply(p.at), normal: turn.apply(p.normal) });
}

/// Normals from the places on either side.
fn turned_again(places: &mut [Place], closed: bool) {
    let n = places.len();
    let at: Vec<Vector2<f64>> = places.iter().map(|p| p.at).collect();
    for k in 0..n {
        // Of a closed line the last place is the first again.
        let before = if k == 0 && closed { at[n - 2] } else { at[k.saturating_sub(1)] };
        let after = if k + 1 == n && closed { at[1] } else { at[(k + 1).min(n - 1)] };
        if let Some(d) = (after - before).try_normalize(1e-9) {
            places[k].normal = Vector2::new(d.y, -d.x);
        }
    }
}
