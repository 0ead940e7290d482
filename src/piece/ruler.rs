//! A ruler laid on a piece that has a top: lengths between corners, across, downward and along edges, each with its bound.

use super::centre::{Centre, centre};
use super::layer::{Layer, alike, mm, point};
use super::measures::{Measure, Taken};
use super::pairs::Pairs;
use super::walk::Walk;
use crate::length::Mm;
use kurbo::{BezPath, ParamCurve, Vec2};
use nalgebra::Vector2;

/// Distance of the cuts that look for a waist, mm.
const STEP: f64 = 2.0;
/// Chords of curves lie within this of them, mm, and places within it of a level lie level.
const FLAT: f64 = 0.05;
/// Edges that come within this of a place meet there, mm.
const MEET: f64 = 0.01;
/// A waist is narrower than what lies above and below it by this, mm.
const WAISTED: f64 = 3.0;

/// Measures lengths on a piece that has a top.
pub(super) struct Ruler<'a> {
    layer: &'a Layer,
    pub outline: BezPath,
    /// Down the piece.
    pub line: Centre,
    scale: f64,
}

impl<'a> Ruler<'a> {
    /// For the lines of a piece whose corners' names tell top and bottom; `scale` is the share of a length that the sheet may be out by.
    pub fn of(layer: &'a Layer, scale: f64) -> Option<Self> {
        let corner = |name: &str| lowest(layer, name).map(|k| layer.corners[k].at);
        let between = |a: &str, b: &str| corner(a).zip(corner(b)).map(|(a, b)| a.lerp(b, 0.5));
        // From a place at the top to one at the bottom, however the piece lies.
        let ways = [
            (between("neck left", "neck right"), between("hem left", "hem right")),
            (corner("neck centre"), corner("hem centre")),
            (between("yoke left", "yoke right"), between("hem left", "hem right")),
            (between("underarm left", "underarm right"), between("end left", "end right")),
            (between("underarm front", "underarm back"), between("end front", "end back")),
            (corner("cap top"), corner("end fold")),
            (corner("waist side"), corner("hem side")),
            (between("waist left", "waist right"), between("hem left", "hem right")),
            (between("top left", "top right"), between("bottom left", "bottom right")),
            (between("neck left", "neck right"), between("armhole left", "armhole right")),
        ];
        let (top, bottom) = ways.into_iter().find_map(|(a, b)| a.zip(b))?;
        let rough = Centre { at: top, along: (bottom - top).try_normalize(1e-9)?, levels: Vec::new() };
        let pairs = Pairs::by_name(layer);
        let line = match centre(layer, &pairs).filter(|c| pairs.corners.len() >= 2 && c.along.dot(&rough.along).abs() > 0.9) {
            Some(c) if c.along.dot(&rough.along) < 0.0 => Centre { along: -c.along, ..c },
            Some(c) => c,
            None => rough,
        };
        Some(Self::with(layer, line, scale))
    }

    /// Down a line that is known.
    pub fn with(layer: &'a Layer, line: Centre, scale: f64) -> Self {
        Self { layer, outline: layer.outline(), line, scale }
    }

    /// Whether it ends in an edge that is called the waist.
    pub fn ends_at_waist(&self) -> bool {
        self.layer.edge("waist").is_some()
    }

    pub fn corner(&self, name: &str) -> Option<Mm> {
        lowest(self.layer, name).map(|k| self.layer.corners[k].at)
    }

    /// The one of that name, or the mean of those on either side, left and right or a sleeve's front and back: how far down it lies.
    pub fn down(&self, name: &str) -> Option<f64> {
        let sides = ["left", "right", "front", "back"].map(|side| format!("{name} {side}"));
        let own = std::iter::once(name.to_owned()).chain(sides).filter_map(|n| self.corner(&n)).collect::<Vec<_>>();
        (!own.is_empty()).then(|| own.iter().map(|p| self.line.station(*p)).sum::<f64>() / own.len() as f64)
    }

    /// How far the outline may be out at a place: of the edges that meet there the worse.
    fn bound_at(&self, p: Mm) -> Option<f64> {
        let far: Vec<f64> = self.layer.edges.iter().map(|e| Walk::of(&e.path).nearest(point(p)).1).collect();
        let nearest = far.iter().copied().fold(f64::INFINITY, f64::min);
        let there = self.layer.edges.iter().zip(&far).filter(|(_, far)| **far <= nearest + MEET);
        there.map(|(edge, _)| edge.bound).try_fold(0.0, |worst: f64, bound| Some(worst.max(bound?)))
    }

    pub fn straight(&self, name: &'static str, ends: [Mm; 2], half_round: bool) -> Measure {
        let length = ends[0].distance(ends[1]);
        // Both ends may be out the same way, so they add up.
        let bound = self.bound_at(ends[0]).zip(self.bound_at(ends[1])).map(|(a, b)| a + b + self.scale * length);
        Measure { name, side: None, length, bound, taken: Taken::Straight(ends), half_round, laid: None, closed: 0.0 }
    }

    /// Between two corners.
    pub fn corners(&self, name: &'static str, a: &str, b: &str, half_round: bool) -> Option<Measure> {
        Some(self.straight(name, [self.corner(a)?, self.corner(b)?], half_round))
    }

    /// Where a line meets the outline, sorted along it.
    fn hits(&self, at: Mm, way: Vector2<f64>) -> Vec<Mm> {
        let (at, way) = (point(at), Vec2::new(way.x, way.y));
        let cut = kurbo::Line::new(at - way * 1e4, at + way * 1e4);
        let segments = self.outline.segments();
        let mut found: Vec<Mm> =
            segments.flat_map(|s| s.intersect_line(cut).into_iter().map(move |h| s.eval(h.segment_t))).map(mm).collect();
        found.sort_by(|a, b| (point(*a) - at).dot(way).total_cmp(&(point(*b) - at).dot(way)));
        found
    }

    /// Straight across, so far down, from the first to the last place that the line meets.
    pub fn across(&self, name: &'static str, down: f64, half_round: bool) -> Option<Measure> {
        let hits = self.hits(self.line.at + self.line.along * down, Vector2::new(self.line.along.y, -self.line.along.x));
        let ends = [*hits.first()?, *hits.last()?];
        (ends[0].distance(ends[1]) > 1.0).then(|| self.straight(name, ends, half_round))
    }

    /// Straight down through a place, from the first to the last place that the line meets.
    pub fn downward(&self, name: &'static str, through: Mm) -> Option<Measure> {
        let hits = self.hits(through, self.line.along);
        let ends = [*hits.first()?, *hits.last()?];
        (ends[0].distance(ends[1]) > 1.0).then(|| self.straight(name, ends, false))
    }

    /// The highest place of the outline, the middle of it where that lies level.
    pub fn highest(&self) -> Option<Mm> {
        let all = super::crossing::flattened(&self.outline.segments().collect::<Vec<_>>(), FLAT);
        let all: Vec<Mm> = all.into_iter().map(|p| mm(p.1)).collect();
        let top = all.iter().map(|p| self.line.station(*p)).reduce(f64::min)?;
        let level = || all.iter().filter(|p| self.line.station(**p) < top + FLAT).map(|p| self.line.distance(*p));
        let (left, right) = (level().reduce(f64::min)?, level().reduce(f64::max)?);
        let across = Vector2::new(self.line.along.y, -self.line.along.x);
        let at = self.line.at + self.line.along * top;
        let off = self.line.distance(at + across);
        Some(at + across * (off * 0.5 * (left + right)))
    }

    /// The lowest place of the outline straight below another.
    pub fn lowest_below(&self, top: Mm) -> Option<Mm> {
        let last = self.hits(top, self.line.along).into_iter().next_back()?;
        (self.line.station(last) - self.line.station(top) > 1.0).then_some(last)
    }

    /// Down the line from its own place on, from the first to the last place that it meets there.
    pub fn onward(&self, name: &'static str) -> Option<Measure> {
        let hits: Vec<Mm> = self.hits(self.line.at, self.line.along).into_iter().filter(|p| self.line.station(*p) > 0.0).collect();
        let ends = [*hits.first()?, *hits.last()?];
        (ends[0].distance(ends[1]) > 1.0).then(|| self.straight(name, ends, false))
    }

    /// The narrowest place between two levels, if the piece is wider above and below it.
    pub fn waist(&self, name: &'static str, from: f64, to: f64) -> Option<Measure> {
        let n = ((to - from) / STEP).floor().max(0.0) as usize;
        let cuts: Vec<Measure> = (0..=n).filter_map(|k| self.across(name, from + k as f64 * STEP, true)).collect();
        let least = cuts.iter().min_by(|a, b| a.length.total_cmp(&b.length))?;
        let ends = cuts.first()?.length.min(cuts.last()?.length);
        (least.length < ends - WAISTED).then(|| least.clone())
    }

    /// The length of an edge, of either side where there are two.
    pub fn along(&self, name: &'static str, edge: &str, out: &mut Vec<Measure>) {
        for (side, own) in [(None, edge.to_owned()), (Some("left"), format!("{edge} left")), (Some("right"), format!("{edge} right"))] {
            let Some(k) = self.layer.edge(&own) else { continue };
            // With its stretches, where corners that nobody named part it.
            let (n, stretch) = (self.layer.edges.len(), |j: usize| format!("{own} {}", j + 1));
            let more = (1..n).map(|j| (j, (k + j) % n)).take_while(|(j, at)| alike(&self.layer.edges[*at].name, &stretch(*j)));
            out.push(Measure { side, ..self.edges(name, std::iter::once(k).chain(more.map(|m| m.1)).collect()) });
        }
    }

    /// The length of edges that follow one another.
    pub fn edges(&self, name: &'static str, edges: Vec<usize>) -> Measure {
        let all = || edges.iter().map(|&k| &self.layer.edges[k]);
        let length = all().map(|e| e.length()).sum();
        // A line shifted as a whole keeps its length; its two ends, each set by a neighbour, don't.
        let bound = all().try_fold(0.0, |worst: f64, e| Some(worst.max(e.bound?))).map(|b| 2.0 * b + self.scale * length);
        Measure { name, side: None, length, bound, taken: Taken::Along(edges), half_round: false, laid: None, closed: 0.0 }
    }

    /// Between two corners of one side, of either where there are two.
    pub fn both_sides(&self, name: &'static str, a: &str, b: &str, out: &mut Vec<Measure>) {
        out.extend(self.corners(name, a, b, false));
        for side in ["left", "right"] {
            let own = self.corners(name, &format!("{a} {side}"), &format!("{b} {side}"), false);
            out.extend(own.map(|m| Measure { side: Some(side), ..m }));
        }
    }
}

/// A corner by its name; the lower corners of a body that ends at its waist are the waist's.
fn lowest(layer: &Layer, name: &str) -> Option<usize> {
    let at_waist = || name.strip_prefix("hem ").and_then(|side| layer.corner(&format!("waist {side}")));
    layer.corner(name).or_else(at_waist)
}
