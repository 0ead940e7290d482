//! How well a joined outline is known: at each place the errors of the pictures it is from, by the share each has.
//!
//! Views of several pictures err apart from one another, so that only the whole outline may be laid anew, not a picture's part of it: a view's
//! own error counts in full. The height is one for all: what it moves is gathered over all pictures before rigid motion is taken out.

use super::super::budget;
use super::super::places::{Place, places};
use super::super::print::Unknown;
use super::super::session::Stages;
use super::super::tracing::{Budget, Traced};
use super::super::wanted::height_of_each;
use super::merge::Merged;
use crate::length::Mm;
use crate::outline::Outline;
use crate::solve::{TWO_SIDED, mixture_bound};
use nalgebra::Vector2;

/// The claim of every bound: this share of points lies within it.
const SHARE: f64 = 0.95;
/// A picture whose share of an edge is less than this is not named for it.
const NAMED: f64 = 0.02;

/// What is known of one piece, all in mm.
pub(super) struct Known {
    /// Per edge: its bound and the bound along it.
    pub edges: Vec<(f64, Vec<[f64; 2]>)>,
    /// Over all edges that are not cut.
    pub whole: f64,
    /// Per edge: the pictures it is from.
    pub pictures: Vec<Vec<usize>>,
    places: Vec<Place>,
    /// Of each place: the picture it is mostly from.
    mostly: Vec<usize>,
}

impl Known {
    /// By the merged line and the views of the pictures (with the number of pieces on the sheet), and by what the pictures disagree besides, one
    /// standard error, mm: cloth that was moved between them is out all along, also where one picture alone sees it.
    pub fn of(outline: &Outline, own: &Merged, (stages, pieces): (&[Stages], usize), apart: f64) -> Self {
        let places = places(outline);
        let shares: Vec<&[(usize, f64)]> = shares(&places, own);
        let (height, height_error) = (stages[0].height, height_of_each(stages[0].height_error, pieces));
        let view: Vec<f64> = places.iter().zip(&shares).map(|(p, s)| across(p, s, stages, height)).collect();
        let leans: Vec<Vector2<f64>> = places
            .iter()
            .zip(&shares)
            .map(|(p, s)| s.iter().map(|(k, w)| stages[*k].solved.view.lean(p.at, height) * (w * height_error)).sum())
            .collect();
        let leans = without_rigid(&places, &leans);
        let total: Vec<f64> = places
            .iter()
            .zip(&view)
            .zip(&leans)
            .map(|((p, view), lean)| (p.edge_error.powi(2) + view.powi(2) + lean.dot(&p.normal).powi(2) + apart.powi(2)).sqrt())
            .collect();
        let of_edge = |k: usize| (0..places.len()).filter(|&i| places[i].edge == k).collect::<Vec<_>>();
        let edges = (0..outline.edges.len())
            .map(|k| {
                let of = of_edge(k);
                let errors: Vec<f64> = of.iter().map(|&i| total[i]).collect();
                (mixture_bound(&errors, SHARE), of.iter().map(|&i| [places[i].along, TWO_SIDED * total[i]]).collect())
            })
            .collect();
        let pictures = (0..outline.edges.len())
            .map(|k| {
                let of = of_edge(k);
                let share = |p: usize| {
                    let own = of.iter().flat_map(|&i| shares[i].iter()).filter(|s| s.0 == p).map(|s| s.1);
                    own.sum::<f64>() / of.len().max(1) as f64
                };
                (0..stages.len()).filter(|&p| share(p) >= NAMED).collect()
            })
            .collect();
        let seen: Vec<f64> = (0..places.len()).filter(|&i| !outline.edges[places[i].edge].cut).map(|i| total[i]).collect();
        let most = |s: &[(usize, f64)]| s.iter().max_by(|a, b| a.1.total_cmp(&b.1)).map_or(0, |s| s.0);
        let mostly = shares.iter().map(|s| most(s)).collect();
        Self { edges, whole: mixture_bound(&seen, SHARE), pictures, places, mostly }
    }
}

/// The shares of the merged point nearest to each place.
fn shares<'a>(places: &[Place], own: &'a Merged) -> Vec<&'a [(usize, f64)]> {
    let nearest = |at: Mm| {
        let points = own.path.points.iter().enumerate();
        points.min_by(|a, b| a.1.at.distance(at).total_cmp(&b.1.at.distance(at))).map(|p| p.0)
    };
    places.iter().map(|p| nearest(p.at).and_then(|k| own.shares.get(k)).map_or(&[][..], Vec::as_slice)).collect()
}

/// Standard error along the normal from the views that a place is from, mm.
fn across(place: &Place, shares: &[(usize, f64)], stages: &[Stages], height: f64) -> f64 {
    let one = |(k, w): &(usize, f64)| {
        let c = stages[*k].solved.view.error_at(place.at, height);
        w * w * c.map_or(0.0, |c| (place.normal.transpose() * c * place.normal)[(0, 0)].max(0.0))
    };
    shares.iter().map(one).sum::<f64>().sqrt()
}

/// Moves with the best shift and turn taken out.
fn without_rigid(places: &[Place], moves: &[Vector2<f64>]) -> Vec<Vector2<f64>> {
    let n = places.len().max(1) as f64;
    let middle = places.iter().map(|p| p.at.vector()).sum::<Vector2<f64>>() / n;
    let mean = moves.iter().sum::<Vector2<f64>>() / n;
    let arms: Vec<Vector2<f64>> = places.iter().map(|p| p.at.vector() - middle).collect();
    let size: f64 = arms.iter().map(|a| a.norm_squared()).sum();
    let turn = arms.iter().zip(moves).map(|(a, m)| a.perp(m)).sum::<f64>() / size.max(1e-12);
    arms.iter().zip(moves).map(|(a, m)| m - mean - Vector2::new(-a.y, a.x) * turn).collect()
}

/// Errors by source: each picture's part of an outline by its own view.
pub(super) fn budget(pieces: &[Traced], known: &[Known], stages: &[Stages], sheet: Unknown) -> Budget {
    let mut groups = Vec::new();
    for (piece, own) in pieces.iter().zip(known) {
        for (k, s) in stages.iter().enumerate() {
            let part: Vec<&Place> =
                own.places.iter().zip(&own.mostly).filter(|(p, m)| **m == k && !piece.outline.edges[p.edge].cut).map(|p| p.0).collect();
            if part.len() > 2 {
                groups.push(budget::Group { places: part, middle: piece.middle(), view: &s.solved.view });
            }
        }
    }
    budget::of(&groups, (stages[0].height, height_of_each(stages[0].height_error, pieces.len())), sheet)
}
