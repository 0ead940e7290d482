//! The mean of several layings, drawn: corners in the middle, edges fitted anew through the line between them.
//!
//! Outlines are never averaged by their control points: the line in the middle is a row of places, and cubics are fitted to it as to
//! any other that was found.

use super::answering::numbered;
use super::layer::{Corner, Edge, Layer, LayerError};
use super::layings::{LaidOut, Layings};
use super::{How, Line};
use crate::length::Px;
use crate::outline::{self, OutlineError, Settings, assemble};
use crate::path::{Flags, SeamPath, SeamPoint};

/// How exactly the places in the middle are followed, mm: they lie on smooth lines already.
const FOLLOWED: f64 = 0.03;
/// Places this near to a corner are left to the crossing of its edges, mm.
const ROUNDED: f64 = 3.0;

/// Why no mean can be drawn.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum MeanError {
    /// The curves.
    #[error(transparent)]
    Outline(#[from] OutlineError),
    /// They do not close.
    #[error(transparent)]
    Layer(#[from] LayerError),
}

/// The lines of the mean of layings, on the first one's page. Edges bear what the layings' own edges may be out by, all together:
/// errors that are alike in all of them are not made smaller by a mean. Holes and seams within are not averaged.
///
/// # Errors
/// No outline can be drawn through the middle.
pub fn mean(layings: &Layings, taken: &[LaidOut]) -> Result<Layer, MeanError> {
    let points = layings.edges.iter().flatten().map(|(at, normal)| SeamPoint {
        at: *at,
        normal: *normal,
        error: FOLLOWED,
        px: Px::default(),
        flags: Flags::default(),
    });
    let path = SeamPath { points: points.collect(), closed: true, correlation_mm: 1.0 };
    let first = taken[0].layer;
    let corner = |k: usize| taken.iter().enumerate().filter_map(move |(i, t)| t.layer.corners.get(layings.corner(i, k)));
    let errors = |k: usize| rms(corner(k).filter_map(|c| c.error));
    let corners: Vec<outline::Corner> = layings
        .corners
        .iter()
        .enumerate()
        .map(|(k, at)| outline::Corner { at: *at, error: errors(k).unwrap_or(FOLLOWED), turn_deg: 90.0, rounded: ROUNDED, given: true })
        .collect();
    let drawn = assemble(&path, &corners, &Settings::default())?;
    let names = |k: usize| {
        let named = corner(k).find(|c| !numbered(&c.name)).or_else(|| corner(k).next());
        named.map_or_else(|| format!("corner {}", k + 1), |c| c.name.clone())
    };
    let edge = |(k, e): (usize, &outline::Edge)| {
        let numbers = taken.iter().enumerate().map(|(i, t)| (t, layings.edge(i, k)));
        let own: Vec<&Edge> = numbers.filter_map(|(t, k)| t.layer.edges.get(k)).collect();
        let named = own.iter().map(|e| &e.name).find(|n| n.strip_prefix("edge ").is_none_or(|r| r.parse::<u32>().is_err()));
        Edge {
            name: named.or(own.first().map(|e| &e.name)).cloned().unwrap_or_default(),
            path: e.path.clone(),
            line: own.first().map_or(Line::Rim, |e| e.line),
            how: How::Chosen,
            bound: rms(own.iter().filter_map(|e| e.bound)),
        }
    };
    let layer = Layer {
        corners: drawn.corners.iter().enumerate().map(|(k, c)| Corner { name: names(k), at: c.at, error: Some(c.error) }).collect(),
        edges: drawn.edges.iter().enumerate().map(edge).collect(),
        ..Layer::default()
    };
    layer.check()?;
    if layer.edges.len() != first.edges.len() {
        return Err(LayerError::Counts { edges: layer.edges.len(), corners: first.corners.len() }.into());
    }
    Ok(layer)
}

fn rms(values: impl Iterator<Item = f64>) -> Option<f64> {
    let all: Vec<f64> = values.collect();
    (!all.is_empty()).then(|| (all.iter().map(|v| v * v).sum::<f64>() / all.len() as f64).sqrt())
}
