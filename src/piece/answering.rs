//! Which corner of one laying of a piece answers which of another, and the motion that lays one roughly on the other.
//!
//! Both run clockwise, so that the one thing open is where round the second the first begins. Names settle it where there are any;
//! else the turn is taken that lays corners and edges on each other best (rigid least squares; Umeyama 1991).

use super::LayingError;
use super::layer::{Layer, alike, mm};
use super::walk::Walk;
use crate::solve::Similarity;
use nalgebra::Vector2;

/// Places along each edge that are laid on each other.
const PLACES: usize = 12;
/// Places round a piece without corners; the turn is sought in steps of as many.
const ROUND: usize = 72;
/// Turns whose mean square is within this factor, and this much, mm², of the best are as good: of them the page's own is taken.
const AS_GOOD: (f64, f64) = (1.5, 1.0);

/// How a second laying answers a first.
#[derive(Clone, Copy, Debug)]
pub(super) struct Answer {
    /// Corner and edge k of the first is k plus so many of the second. Of a piece without corners, the share of its length.
    pub by: usize,
    /// Lays the second on the first.
    pub motion: Similarity,
}

/// Lays `second` on `first`.
///
/// # Errors
/// Other numbers of corners, or named ones in another order.
pub(super) fn answer(first: &Layer, second: &Layer) -> Result<Answer, LayingError> {
    let n = first.corners.len();
    if n != second.corners.len() {
        return Err(unanswered(first, second));
    }
    let turns = if n == 0 { (0..ROUND).collect() } else { turns(first, second)? };
    let [a, b] = [first, second].map(places);
    let per = if n == 0 { 1 } else { PLACES };
    let mut tried: Vec<(f64, Answer)> = Vec::new();
    for by in turns {
        let mut from = b.clone();
        from.rotate_left(by * per % b.len().max(1));
        let Some(motion) = Similarity::rigid(&from, &a) else { continue };
        let square = from.iter().zip(&a).map(|(p, q)| (motion.apply(*p) - q).norm_squared()).sum::<f64>() / a.len() as f64;
        tried.push((square, Answer { by, motion }));
    }
    let best = tried.iter().map(|t| t.0).fold(f64::INFINITY, f64::min);
    let good = tried.into_iter().filter(|t| t.0 <= best * AS_GOOD.0 + AS_GOOD.1);
    good.map(|t| t.1).min_by(|a, b| a.motion.angle.abs().total_cmp(&b.motion.angle.abs())).ok_or(LayingError::Empty)
}

/// Which corner has none to answer it: that of the outline with more corners which lies farthest from all of the other's, both laid on each other by places
/// at equal shares of their lengths.
fn unanswered(first: &Layer, second: &Layer) -> LayingError {
    let counts = [first, second].map(|l| l.corners.len());
    let (more, fewer) = if counts[0] > counts[1] { (first, second) } else { (second, first) };
    let round = |l: &Layer| {
        let walk = Walk::of(&l.outline());
        (0..ROUND).map(|k| mm(walk.at(walk.length() * k as f64 / ROUND as f64)).vector()).collect::<Vec<_>>()
    };
    let (to, from) = (round(more), round(fewer));
    let tried = (0..ROUND).filter_map(|by| {
        let mut from = from.clone();
        from.rotate_left(by);
        let motion = Similarity::rigid(&from, &to)?;
        Some((from.iter().zip(&to).map(|(p, q)| (motion.apply(*p) - q).norm_squared()).sum::<f64>(), motion))
    });
    let motion = tried.min_by(|a, b| a.0.total_cmp(&b.0)).map(|t| t.1);
    let there: Vec<Vector2<f64>> = fewer.corners.iter().filter_map(|c| Some(motion.as_ref()?.apply(c.at.vector()))).collect();
    let away = |at: Vector2<f64>| there.iter().map(|p| (p - at).norm()).fold(f64::INFINITY, f64::min);
    let lost = more.corners.iter().max_by(|a, b| away(a.at.vector()).total_cmp(&away(b.at.vector())));
    let (corner, at) = lost.map_or_else(Default::default, |c| (c.name.clone(), [c.at.x, c.at.y]));
    LayingError::Corners { first: counts[0], second: counts[1], corner, at }
}

/// Where the second may begin: where a name says, else anywhere.
fn turns(first: &Layer, second: &Layer) -> Result<Vec<usize>, LayingError> {
    let n = first.corners.len();
    let mut named: Option<(usize, &str)> = None;
    for (k, corner) in first.corners.iter().enumerate().filter(|(_, c)| !numbered(&c.name)) {
        let Some(other) = second.corners.iter().position(|c| alike(&c.name, &corner.name)) else { continue };
        let by = (other + n - k) % n;
        match named {
            Some((told, name)) if told != by => {
                return Err(LayingError::Order { one: name.to_owned(), other: corner.name.clone() });
            }
            _ => named = Some((by, &corner.name)),
        }
    }
    Ok(named.map_or_else(|| (0..n).collect(), |(by, _)| vec![by]))
}

/// Whether a corner's name is only the number it was given.
pub(super) fn numbered(name: &str) -> bool {
    name.strip_prefix("corner ").is_some_and(|n| n.parse::<u32>().is_ok())
}

/// Places at equal shares of each edge, its start among them.
fn places(layer: &Layer) -> Vec<Vector2<f64>> {
    let per = if layer.corners.is_empty() { ROUND } else { PLACES };
    let along = |e: &super::Edge| {
        let walk = Walk::of(&e.path);
        (0..per).map(|k| mm(walk.at(walk.length() * k as f64 / per as f64)).vector()).collect::<Vec<_>>()
    };
    layer.edges.iter().flat_map(along).collect()
}
