//! Which corners are the left and right of one another: by their names, or by the shape alone.

use super::centre::Centre;
use super::layer::{Layer, alike, mm, point};
use super::walk::Walk;
use crate::length::Mm;
use kurbo::Point;
use nalgebra::Vector2;

/// Corners that answer one another across the centre.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Pairs {
    /// Numbers of two corners, the one called left first where names tell.
    pub corners: Vec<[usize; 2]>,
}

/// Points along the outline that a mirror is sought with.
const POINTS: usize = 240;
/// A corner and its mirror image belong together within this share of the outline's length: 2 %, 40 mm round a bodice.
const NEAR: f64 = 0.02;

/// A name without the words left and right.
pub(super) fn sideless(name: &str) -> String {
    name.split_whitespace().filter(|w| !w.eq_ignore_ascii_case("left") && !w.eq_ignore_ascii_case("right")).collect::<Vec<_>>().join(" ")
}

/// A name without left, right and side: the waist's corner at the side is `waist right` by the shape and `waist side` by hand.
pub(super) fn place(name: &str) -> String {
    sideless(name).split_whitespace().filter(|w| !w.eq_ignore_ascii_case("side")).collect::<Vec<_>>().join(" ")
}

fn side(name: &str) -> Option<&'static str> {
    name.split_whitespace().find_map(|w| ["left", "right"].into_iter().find(|s| w.eq_ignore_ascii_case(s)))
}

impl Pairs {
    /// Corners whose names differ by left and right alone.
    pub fn by_name(layer: &Layer) -> Self {
        let mut corners = Vec::new();
        for (k, c) in layer.corners.iter().enumerate().filter(|(_, c)| side(&c.name) == Some("left")) {
            let other = layer.corners.iter().position(|o| side(&o.name) == Some("right") && alike(&sideless(&o.name), &sideless(&c.name)));
            corners.extend(other.map(|o| [k, o]));
        }
        Self { corners }
    }

    /// Corners that the best mirror of the outline lays on one another. Of mirrors about as good the one nearest to the
    /// page's own vertical is taken, for so garments are laid.
    pub fn by_shape(layer: &Layer) -> Self {
        let Some(axis) = mirror(layer) else { return Self::default() };
        let image = |k: usize| mm(axis.mirror() * point(layer.corners[k].at));
        let all = 0..layer.corners.len();
        let nearest = |k: usize| {
            all.clone().min_by(|&a, &b| image(k).distance(layer.corners[a].at).total_cmp(&image(k).distance(layer.corners[b].at)))
        };
        let reach = NEAR * layer.perimeter();
        let corners = all
            .clone()
            .filter_map(|k| nearest(k).map(|o| [k, o]))
            .filter(|&[k, o]| k < o && nearest(o) == Some(k) && image(k).distance(layer.corners[o].at) < reach)
            .collect();
        Self { corners }
    }

    /// By name where two pairs or more are named, else by shape.
    pub fn of(layer: &Layer) -> Self {
        let named = Self::by_name(layer);
        if named.corners.len() >= 2 { named } else { Self::by_shape(layer) }
    }

    /// A first centre line: through the middles of the pairs, or the best mirror where there are fewer than two.
    pub(super) fn axis(&self, layer: &Layer) -> Option<Centre> {
        let middles: Vec<Mm> = self.corners.iter().map(|&[a, b]| layer.corners[a].at.lerp(layer.corners[b].at, 0.5)).collect();
        let apart = |a: Mm| middles.iter().copied().max_by(|p, q| p.distance(a).total_cmp(&q.distance(a)));
        match middles.first().and_then(|&a| apart(a).map(|b| (a, b))) {
            // Middles that lie close together say little of a direction.
            Some((a, b)) if a.distance(b) > NEAR * layer.perimeter() => Centre::marked(a, b),
            _ => mirror(layer),
        }
    }
}

/// The mirror that lays the outline on itself best: of points evenly along it, point i on point m - i, for every m
/// (least squares over rigid mirrors, in closed form as for turns; Umeyama 1991).
fn mirror(layer: &Layer) -> Option<Centre> {
    let walk = Walk::of(&layer.outline());
    let step = walk.length() / POINTS as f64;
    let points: Vec<Point> = (0..POINTS).map(|k| walk.at(k as f64 * step)).collect();
    let middle = points.iter().fold(Point::ZERO, |s, p| s + p.to_vec2() / POINTS as f64);
    let z: Vec<[f64; 2]> = points.iter().map(|p| [p.x - middle.x, p.y - middle.y]).collect();
    let spread: f64 = z.iter().map(|p| p[0] * p[0] + p[1] * p[1]).sum();
    let mut found: Vec<(f64, f64)> = (0..POINTS)
        .map(|m| {
            // Twice the axis's angle is that of the sum of the products of both points as complex numbers.
            let (re, im) = (0..POINTS).fold((0.0, 0.0), |(re, im), i| {
                let (a, b) = (z[i], z[(m + POINTS - i) % POINTS]);
                (re + a[0] * b[0] - a[1] * b[1], im + a[0] * b[1] + a[1] * b[0])
            });
            (2.0 * (spread - re.hypot(im)), 0.5 * im.atan2(re))
        })
        .collect();
    let upright = |angle: f64| angle.sin().abs();
    found.sort_by(|a, b| a.0.total_cmp(&b.0));
    let best = *found.first()?;
    // Squares and circles have several mirrors; what is within a thousandth of the size (squared) is as good.
    let rest = best.0 + 1e-6 * spread + 0.2 * best.0;
    let (_, angle) = found.into_iter().filter(|f| f.0 <= rest).max_by(|a, b| upright(a.1).total_cmp(&upright(b.1)))?;
    let along = Vector2::new(angle.cos(), angle.sin());
    let at = mm(middle);
    Centre::marked(at, at + along)
}
