//! The centre line of a piece, as the trade finds it: widths halved at several levels, a line laid through the middles.
//!
//! Levels are those of paired corners, and the narrowest and widest places between them. The line is robust (see
//! [`crate::solve::Line`]), so one level that lies badly does not turn it; each level's deviation is told. That this line is the
//! grain is a proposal and no more: common practice, no source.

use super::layer::{Layer, mm, point};
use super::pairs::Pairs;
use super::walk::Walk;
use crate::length::Mm;
use crate::solve;
use kurbo::{Affine, BezPath, ParamCurve, Point, Vec2};
use nalgebra::Vector2;

/// One level at which the width was halved.
#[derive(Clone, Debug, PartialEq)]
pub struct Level {
    /// What lies there: the corner's name without its side, or narrowest, widest.
    pub name: String,
    /// The two places, left and right on the page.
    pub ends: [Mm; 2],
    /// How far the middle lies from the centre line, mm, positive to the right on the page.
    pub off: f64,
}

/// The centre line of a piece.
#[derive(Clone, Debug, PartialEq)]
pub struct Centre {
    /// A place on it.
    pub at: Mm,
    /// Its direction down the piece, of length 1.
    pub along: Vector2<f64>,
    /// The levels it rests on, from the top down.
    pub levels: Vec<Level>,
}

/// Distance of the cuts across, mm: finer than any waist is narrow.
const STEP: f64 = 2.0;
/// A place between two levels counts as narrowest or widest when it differs from both by this, mm.
const MARKED: f64 = 1.0;

impl Centre {
    /// The line through two marked places: a placket, a centre-back seam, two stickers. `None` when they are one.
    pub fn marked(a: Mm, b: Mm) -> Option<Self> {
        let along = downward((b - a).try_normalize(1e-9)?);
        Some(Self { at: a, along, levels: Vec::new() })
    }

    /// Signed distance of a place from it, mm, positive to the right on the page when the line runs down it.
    pub fn distance(&self, p: Mm) -> f64 {
        (p - self.at).perp(&self.along)
    }

    /// How far along it a place lies, mm.
    pub fn station(&self, p: Mm) -> f64 {
        (p - self.at).dot(&self.along)
    }

    /// How far another line deviates from this one: at the middle of this one's levels, mm, and in direction, degrees.
    pub fn against(&self, other: &Self) -> (f64, f64) {
        let n = self.levels.len().max(1) as f64;
        let middle = self.at + self.along * (self.levels.iter().map(|l| self.station(l.ends[0].lerp(l.ends[1], 0.5))).sum::<f64>() / n);
        let sine = self.along.perp(&other.along).clamp(-1.0, 1.0);
        (other.distance(middle), sine.asin().to_degrees())
    }

    /// The mirror about it.
    pub fn mirror(&self) -> Affine {
        Affine::reflect(point(self.at), Vec2::new(self.along.x, self.along.y))
    }

    /// Turns and moves the piece so that this line runs down the page along x = 0.
    pub fn upright(&self) -> Affine {
        turned_down(self.along) * Affine::translate(-point(self.at).to_vec2())
    }
}

/// The turn that lays a direction down the page. Grain in the notes may be any direction: straight, cross or bias.
pub fn turned_down(along: Vector2<f64>) -> Affine {
    Affine::rotate(std::f64::consts::FRAC_PI_2 - along.y.atan2(along.x))
}

/// Down the page; a level line to the right.
fn downward(v: Vector2<f64>) -> Vector2<f64> {
    if v.y < -1e-12 || (v.y.abs() <= 1e-12 && v.x < 0.0) { -v } else { v }
}

/// The centre line of a piece that has two like sides; `None` when it has none that levels would show.
pub fn centre(layer: &Layer, pairs: &Pairs) -> Option<Centre> {
    let outline = layer.outline();
    let mut line = pairs.axis(layer)?;
    for _ in 0..3 {
        let levels = levels(layer, pairs, &outline, &line);
        let middles: Vec<Vector2<f64>> = levels.iter().map(|l| l.ends[0].lerp(l.ends[1], 0.5).vector()).collect();
        let fitted = solve::Line::robust(&middles, &vec![1.0; middles.len()])?;
        let along = if fitted.along.dot(&line.along) < 0.0 { -fitted.along } else { fitted.along };
        line = Centre { at: Mm::from(fitted.at), along, levels };
    }
    let mut levels = levels(layer, pairs, &outline, &line);
    levels.iter_mut().for_each(|l| l.off = line.distance(l.ends[0].lerp(l.ends[1], 0.5)));
    levels.sort_by(|a, b| line.station(a.ends[0]).total_cmp(&line.station(b.ends[0])));
    Some(Centre { levels, ..line })
}

fn levels(layer: &Layer, pairs: &Pairs, outline: &BezPath, line: &Centre) -> Vec<Level> {
    let mut out: Vec<Level> = pairs
        .corners
        .iter()
        .map(|p| {
            let mut ends = [layer.corners[p[0]].at, layer.corners[p[1]].at];
            ends.sort_by(|a, b| line.distance(*a).total_cmp(&line.distance(*b)));
            Level { name: super::pairs::sideless(&layer.corners[p[0]].name), ends, off: 0.0 }
        })
        .collect();
    let mut stations: Vec<f64> = out.iter().map(|l| line.station(l.ends[0].lerp(l.ends[1], 0.5))).collect();
    let all = super::crossing::flattened(&outline.segments().collect::<Vec<_>>(), 0.5);
    let reach = all.iter().map(|p| line.station(mm(p.1)));
    let (low, high) = reach.fold((f64::INFINITY, f64::NEG_INFINITY), |(a, b), s| (a.min(s), b.max(s)));
    if stations.is_empty() {
        // A round piece has no corners: only its widest places tell.
        stations.extend([low, high]);
    }
    stations.sort_by(f64::total_cmp);
    for pair in stations.windows(2) {
        out.extend(between(outline, line, pair[0], pair[1]));
    }
    out
}

/// The narrowest and the widest place between two levels, where they differ from what lies at the levels themselves.
fn between(outline: &BezPath, line: &Centre, a: f64, b: f64) -> Vec<Level> {
    let n = ((b - a) / STEP).floor() as usize;
    let cuts: Vec<[Mm; 2]> = (1..n).filter_map(|k| across(outline, line, a + (b - a) * k as f64 / n as f64)).collect();
    let wide = |c: &[Mm; 2]| c[0].distance(c[1]);
    let (Some(first), Some(last)) = (cuts.first().map(wide), cuts.last().map(wide)) else { return Vec::new() };
    let mut out = Vec::new();
    for (name, sign) in [("narrowest", -1.0), ("widest", 1.0)] {
        let Some(most) = cuts.iter().max_by(|p, q| (sign * wide(p)).total_cmp(&(sign * wide(q)))) else { continue };
        if sign * (wide(most) - first) > MARKED && sign * (wide(most) - last) > MARKED {
            out.push(Level { name: name.into(), ends: *most, off: 0.0 });
        }
    }
    out
}

/// Where a line straight across the centre line, `station` mm along it, meets the outline furthest out on either side.
pub(super) fn across(outline: &BezPath, line: &Centre, station: f64) -> Option<[Mm; 2]> {
    let at = point(line.at + line.along * station);
    let side = Vec2::new(line.along.y, -line.along.x);
    let cut = kurbo::Line::new(at - side * 1e4, at + side * 1e4);
    let mut found: Vec<Point> =
        outline.segments().flat_map(|s| s.intersect_line(cut).into_iter().map(move |hit| s.eval(hit.segment_t))).collect();
    found.sort_by(|a, b| line.distance(mm(*a)).total_cmp(&line.distance(mm(*b))));
    let (first, last) = (mm(*found.first()?), mm(*found.last()?));
    (first.distance(last) > 1.0).then_some([first, last])
}

/// How far each place of one half lies from the mirror image of the other.
#[derive(Clone, Debug, PartialEq)]
pub struct Difference {
    /// Places every 5 mm of the outline on the left of the page, with how far the other half's mirror image lies outside
    /// (positive) or inside there, mm.
    pub map: Vec<(Mm, f64)>,
    /// The greatest of them, mm, without sign.
    pub most: f64,
    /// Their mean without sign, mm.
    pub mean: f64,
}

/// The difference of left and right about a centre line. A laid garment is never symmetrical; this is told, not mended.
pub fn difference(layer: &Layer, centre: &Centre) -> Difference {
    let mirrored = Walk::of(&layer.mapped(centre.mirror()).outline());
    let walk = Walk::of(&layer.outline());
    let map: Vec<(Mm, f64)> = walk
        .steps(5.0)
        .into_iter()
        .map(|s| (walk.at(s), walk.along(s)))
        .filter(|(p, _)| centre.distance(mm(*p)) < 0.0)
        .map(|(p, along)| {
            let (s, off) = mirrored.nearest(p);
            let outside = (mirrored.at(s) - p).dot(super::allowance::outward(along));
            (mm(p), off.copysign(outside))
        })
        .collect();
    let n = map.len().max(1) as f64;
    Difference { most: map.iter().map(|m| m.1.abs()).fold(0.0, f64::max), mean: map.iter().map(|m| m.1.abs()).sum::<f64>() / n, map }
}
