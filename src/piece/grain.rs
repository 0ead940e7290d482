//! How the threads of a piece run: not recorded until a person says so.

use super::centre::{Centre, centre, turned_down};
use super::layer::{Layer, alike, mm};
use super::pairs::Pairs;
use super::walk::Walk;
use crate::length::Mm;
use crate::notes::{Grain, GrainAlong, GrainRuns, PieceNotes, Spot};
use kurbo::Affine;
use nalgebra::{Rotation2, Vector2};
use std::f64::consts::{FRAC_PI_2, FRAC_PI_4};

/// A place of the notes on the lines of a piece; `None` where it can't be told without the picture, or names nothing here.
pub fn place(layer: &Layer, spot: &Spot) -> Option<Mm> {
    match spot {
        Spot::Named(name) => layer.corner(name).map(|c| layer.corners[c].at),
        Spot::Px(_) => None,
        Spot::Mm(at) => Some(Mm::new(at[0].mm(), at[1].mm())),
        Spot::OnEdge(on) => {
            let k = layer.edge(&on.edge)?;
            let walk = Walk::of(&layer.edges[k].path);
            let corner = |c: usize| layer.corners.get(c % layer.corners.len().max(1)).map(|c| c.name.as_str());
            let is = |end: Option<&str>| on.from.as_deref().zip(end).is_some_and(|(from, end)| alike(from, end));
            let back = is(corner(k + 1));
            // From a corner that the edge has not it can't be told.
            (on.from.is_none() || back || is(corner(k))).then(|| mm(walk.at(if back { walk.length() - on.at.mm() } else { on.at.mm() })))
        }
    }
}

/// The direction of the lengthwise threads, of length 1 and down the page; `None` while nobody recorded it, or where what is
/// recorded can't be found on the piece.
pub fn grain(layer: &Layer, noted: Option<&Grain>) -> Option<Vector2<f64>> {
    let middle = || centre(layer, &Pairs::of(layer)).map(|c| c.along);
    let along = runs(layer, noted?, middle, &|spot| place(layer, spot))?;
    Some(if along.y < -1e-12 || (along.y.abs() <= 1e-12 && along.x < 0.0) { -along } else { along })
}

/// The same with either end first, from the direction of the centre line, and from where places of the notes lie.
pub(super) fn runs(
    layer: &Layer,
    noted: &Grain,
    centre: impl FnOnce() -> Option<Vector2<f64>>,
    at: &dyn Fn(&Spot) -> Option<Mm>,
) -> Option<Vector2<f64>> {
    let line = match &noted.along {
        GrainAlong::Centre => centre()?,
        GrainAlong::Edge(name) => {
            let walk = Walk::of(&layer.edges[layer.edge(name)?].path);
            mm(walk.at(walk.length())) - mm(walk.at(0.0))
        }
        GrainAlong::Spots([a, b]) => at(b)? - at(a)?,
    };
    let turn = match noted.runs {
        GrainRuns::Lengthwise => 0.0,
        GrainRuns::Crosswise => FRAC_PI_2,
        GrainRuns::Bias => FRAC_PI_4,
    };
    (Rotation2::new(turn) * line).try_normalize(1e-9)
}

/// The centre a person marked: a placket, a centre-back seam, two stickers.
pub fn marked_centre(layer: &Layer, noted: &PieceNotes) -> Option<Centre> {
    let [a, b] = noted.centre.as_ref()?;
    Centre::marked(place(layer, a)?, place(layer, b)?)
}

/// Turns the piece so that its grain runs down the page.
pub fn grain_down(layer: &Layer, along: Vector2<f64>) -> Layer {
    layer.mapped(turned_down(along))
}

/// Sizes a piece so that a copy in unwashed cloth ends at the garment's size: each direction divided by what is left of it,
/// `lengthwise` and `crosswise` being the shares that are lost in washing, along and across the grain.
pub fn for_shrinkage(layer: &Layer, along: Vector2<f64>, lengthwise: f64, crosswise: f64) -> Layer {
    let down = turned_down(along);
    layer.mapped(down.inverse() * Affine::scale_non_uniform(1.0 / (1.0 - crosswise), 1.0 / (1.0 - lengthwise)) * down)
}
