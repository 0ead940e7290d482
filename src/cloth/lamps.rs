//! Shadow that a lamp casts beside the cloth, so deep, hard or coloured that the first answer took it for cloth: told by its form.
//!
//! In: the first answer. Out: which of its pixels are such shadow, or none. A lamp throws the outline aside by one vector, so a strip
//! of shadow lies along every border that faces that way, as wide as the vector reaches across it, and none along the others; its
//! colour is found nowhere in the depths of the cloth. A binding or a hem is as wide whichever way it faces. Goes wrong: cloth
//! narrower than a few centimetres, which has no depths; a shadow of the cloth's own look.

use super::evidence::{Bare, Evidence, ratio, shade};
use super::ground::Ground;
use super::learn::{Counts, cell};
use super::squares::spread;
use crate::solve::median;
use nalgebra::{Matrix2, Vector2};

/// Distance from the border, level px, from which on are the cloth's depths; fewest pixels that tell their look.
const DEPTHS: usize = 32;
const FEW: usize = 500;
/// A colour this rare in the depths, against their commonest, is none of theirs.
const RARE: f32 = 0.01;
/// Farthest a strip of shadow is followed, level px, and the blurred pixels of a border, which have no colour of their own.
const WIDEST: usize = 30;
const BLURRED: usize = 2;
/// Shade between which shadow lies, natural logarithm of light.
const SHADES: std::ops::Range<f32> = -2.8..-0.15;
/// Half the square in which the border's direction is seen.
const ABOUT: i64 = 4;
/// Fewest places of the border that have a strip, and what share of all of them at least and at most.
const FEW_PLACES: usize = 60;
const SHARE: std::ops::Range<f64> = 0.08..0.95;
/// The shortest vector of a lamp, level px: less is the border's own blur.
const SHORTEST: f64 = 4.0;
/// A strip is as wide as a lamp would have it within this, or this part of it.
const WITHIN: f64 = 2.5;
const PART: f64 = 0.35;
/// What share of the strips are so, and of the places where the lamp would have one that have it.
const SO: f64 = 0.7;
/// What two lamps leave of the strips' widths is at most this part of what one width for all leaves; misses count up to so much, level px.
const LEAVES: f64 = 0.7;
const MISS: f64 = 4.0;
/// Rounds in which the vectors of lamps settle.
const ROUNDS: usize = 8;

/// A place of the border.
struct Place {
    at: [f64; 2],
    /// Out of the cloth.
    normal: Vector2<f64>,
    /// How far inwards a colour goes that is none of the cloth's depths, level px.
    wide: f64,
}

/// The pixels of the first answer that are cast shadow; `None` where none are.
pub(super) fn cast(ground: &Ground, bare: &Bare, evidence: &Evidence, labels: &[bool], not: &[bool]) -> Option<Vec<bool>> {
    let (w, h) = (evidence.width, evidence.height);
    let near = spread(not, w, h, DEPTHS);
    // Of nine pixels, for threads scatter more than shadow and cloth of one hue may be apart.
    let mean = |n: usize| {
        let all = [n - w, n, n + w].map(|m| [m - 1, m, m + 1]);
        std::array::from_fn(|c| all.as_flattened().iter().map(|m| ground.level.rgb[*m][c]).sum::<f32>() / 9.0)
    };
    let look = |n: usize| ratio(mean(n), bare.light.at_level((n % w) as f32, (n / w) as f32));
    let deep: Vec<usize> = within(w, h).filter(|n| !near[*n]).map(|n| cell(look(n))).collect();
    if deep.len() < FEW {
        return None;
    }
    let deep = Counts::of(deep);
    let rare = RARE * deep.0.iter().copied().fold(0.0, f32::max);
    let other = |n: usize| {
        let r = look(n);
        SHADES.contains(&shade(r)) && deep.0[cell(r)] < rare
    };
    let places = places(labels, w, h, other);
    let strips = places.iter().filter(|p| p.wide > SHORTEST / 2.0).count();
    if strips < FEW_PLACES || !SHARE.contains(&(strips as f64 / places.len() as f64)) {
        return None;
    }
    let lamps = lamps(&places)?;
    let mut out = vec![false; w * h];
    for p in places.iter().filter(|p| as_cast(p, &lamps)) {
        // The last of it is blurred into the cloth.
        for k in 0..p.wide as usize {
            let (x, y) = (p.at[0] - p.normal.x * k as f64, p.at[1] - p.normal.y * k as f64);
            out[(y.round() as usize).min(h - 1) * w + (x.round() as usize).min(w - 1)] = true;
        }
    }
    Some(spread(&out, w, h, 1).into_iter().zip(labels).map(|(out, label)| out & label).collect())
}

/// Every third pixel of every third row that has eight neighbours: a look needs no more.
fn within(w: usize, h: usize) -> impl Iterator<Item = usize> {
    (3..h.saturating_sub(1)).step_by(3).flat_map(move |y| (y * w + 1..((y + 1) * w).saturating_sub(1)).step_by(3))
}

/// The border's places, each with its strip.
fn places(labels: &[bool], w: usize, h: usize, other: impl Fn(usize) -> bool) -> Vec<Place> {
    let margin = ABOUT as usize + 1;
    let mut out = Vec::new();
    for y in margin..h.saturating_sub(margin) {
        let [above, row, below] = [y - 1, y, y + 1].map(|y| &labels[y * w..][..w]);
        let beside = row.windows(3).zip(&above[1..]).zip(&below[1..]);
        let border = beside.enumerate().filter(|(_, ((row, above), below))| row[1] && !(row[0] && row[2] && **above && **below));
        for x in border.map(|(x, _)| x + 1).filter(|x| (margin..w - margin).contains(x)) {
            let mut inwards = Vector2::zeros();
            for v in -ABOUT..=ABOUT {
                for u in -ABOUT..=ABOUT {
                    if labels[(y as i64 + v) as usize * w + (x as i64 + u) as usize] {
                        inwards += Vector2::new(u as f64, v as f64);
                    }
                }
            }
            let Some(normal) = (-inwards).try_normalize(1.0) else { continue };
            let at = [x as f64, y as f64];
            let place = |k: usize| {
                let (u, v) = (at[0] - normal.x * k as f64, at[1] - normal.y * k as f64);
                let inside = u >= 1.0 && v >= 1.0 && u < (w - 2) as f64 && v < (h - 2) as f64;
                inside.then(|| v.round() as usize * w + u.round() as usize)
            };
            let mut wide = 0;
            for k in BLURRED..=WIDEST {
                // One pixel of noise is gone over.
                match place(k) {
                    Some(m) if labels[m] && other(m) => wide = k,
                    Some(m) if labels[m] && k < wide + 2 && wide > 0 => {}
                    _ => break,
                }
            }
            out.push(Place { at, normal, wide: wide as f64 });
        }
    }
    out
}

/// How far the shadow of these lamps reaches across a place.
fn reach(normal: Vector2<f64>, lamps: &[Vector2<f64>]) -> f64 {
    lamps.iter().map(|v| v.dot(&normal)).fold(0.0, f64::max)
}

fn as_cast(p: &Place, lamps: &[Vector2<f64>]) -> bool {
    let want = reach(p.normal, lamps);
    p.wide > 0.0 && (p.wide - want).abs() < WITHIN.max(PART * want)
}

/// The vectors by which one lamp or two throw the outline aside; `None` where strips are no shadows.
fn lamps(places: &[Place]) -> Option<Vec<Vector2<f64>>> {
    let strips: Vec<&Place> = places.iter().filter(|p| p.wide > SHORTEST / 2.0).collect();
    let one = solve(strips.iter().copied()).map(|v| vec![v]);
    // Two lamps shine from two sides: which, is tried.
    let two = [0.0f64, 45.0, 90.0, 135.0].into_iter().filter_map(|degrees| {
        let way = Vector2::new(degrees.to_radians().cos(), degrees.to_radians().sin());
        let half = |side: f64| solve(strips.iter().copied().filter(|p| side * way.dot(&p.normal) > 0.0));
        Some(vec![half(1.0)?, half(-1.0)?])
    });
    one.into_iter().chain(two).filter_map(|start| settled(places, start)).find(|lamps| are_lamps(places, &strips, lamps))
}

/// Vectors that each explain the places they reach farthest across.
fn settled(places: &[Place], mut lamps: Vec<Vector2<f64>>) -> Option<Vec<Vector2<f64>>> {
    for _ in 0..ROUNDS {
        let of = |v: &Vector2<f64>| solve(places.iter().filter(|p| v.dot(&p.normal) > 0.0 && v.dot(&p.normal) >= reach(p.normal, &lamps)));
        lamps = lamps.iter().map(of).collect::<Option<_>>()?;
    }
    Some(lamps)
}

/// Whether strips are where and as wide as these lamps would have them.
fn are_lamps(places: &[Place], strips: &[&Place], lamps: &[Vector2<f64>]) -> bool {
    let so = strips.iter().filter(|p| as_cast(p, lamps)).count() as f64;
    let wanted = || places.iter().filter(|p| reach(p.normal, lamps) > SHORTEST);
    let there = wanted().filter(|p| p.wide > 0.5 * reach(p.normal, lamps)).count() as f64;
    let left = |want: &dyn Fn(&Place) -> f64| strips.iter().map(|p| (p.wide - want(p)).abs().min(MISS).powi(2)).sum::<f64>();
    let usual = median(&mut strips.iter().map(|p| p.wide).collect::<Vec<_>>()).unwrap_or_default();
    // A binding is as wide whichever way it faces, and two lamps together face nearly all ways.
    let varies = lamps.len() == 1 || left(&|p| reach(p.normal, lamps)) < LEAVES * left(&|_| usual);
    varies && lamps.iter().all(|v| v.norm() > SHORTEST) && so > SO * strips.len() as f64 && there > SO * wanted().count() as f64
}

/// The vector whose reach across these places is nearest to the widths of their strips.
fn solve<'a>(places: impl Iterator<Item = &'a Place>) -> Option<Vector2<f64>> {
    let (mut normal, mut side) = (Matrix2::zeros(), Vector2::zeros());
    for p in places {
        normal += p.normal * p.normal.transpose();
        side += p.normal * p.wide;
    }
    // Borders that all face one way tell no vector: nor do they tell shadow from a hem.
    let spread = normal.symmetric_eigenvalues().min();
    (spread > 0.02 * normal.trace()).then(|| normal.try_inverse().map(|m| m * side))?
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A round piece with a strip as wide as `wide` has it for each direction.
    fn ring(wide: impl Fn(Vector2<f64>) -> f64) -> Vec<Place> {
        let all = (0..360).map(|k| (k as f64).to_radians().sin_cos()).map(|(s, c)| Vector2::new(c, s));
        all.map(|normal| Place { at: [0.0; 2], normal, wide: wide(normal).max(0.0).round() }).collect()
    }

    /// Cloth may reach into the picture's last corner.
    #[test]
    fn pixels_looked_at_have_neighbours() {
        for (w, h) in [(0, 0), (1, 9), (2, 7), (5, 5), (7, 8), (9, 11)] {
            let all: Vec<usize> = within(w, h).collect();
            assert!(all.iter().all(|n| *n > w && n + w + 1 < w * h), "{w} {h}: {all:?}");
        }
    }

    #[test]
    fn one_lamp_or_two_are_found_and_a_binding_or_a_hem_is_none() {
        let (a, b) = (Vector2::new(9.0, 6.0), Vector2::new(-8.0, 5.0));
        let one = lamps(&ring(|n| n.dot(&a))).expect("a lamp");
        assert!(one.len() == 1 && (one[0] - a).norm() < 0.5, "{one:?}");
        let two = lamps(&ring(|n| n.dot(&a).max(n.dot(&b)))).expect("two lamps");
        assert!(two.len() == 2 && [a, b].iter().all(|v| two.iter().any(|t| (t - v).norm() < 1.0)), "{two:?}");
        assert!(lamps(&ring(|_| 8.0)).is_none(), "a binding all round");
        assert!(lamps(&ring(|n| if n.y.abs() > 0.5 { 8.0 } else { 0.0 })).is_none(), "bindings at both ends");
        assert!(lamps(&ring(|n| if n.y > 0.95 { 10.0 } else { 0.0 })).is_none(), "a hem");
    }
}
