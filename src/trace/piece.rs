//! From a tracing and the notes to named, measured pieces: as found, and as drafted.
//!
//! As found: the lines where they were seen, with the names of the notes and, marked as such, those proposed by shape. As drafted:
//! the same mirrored once when the cloth was seen from its wrong side, and turned so that the grain runs down the page.

use super::tracing::{Found, Line, Traced, Tracing};
use crate::length::Mm;
use crate::notes::{EdgeNotes, GrainAlong, GrainRuns, Notes, PieceKind, PieceNotes, ShotNotes, Spot};
use crate::piece::{self, AsSeen, ByShape, How, Inner, Known, Layer, LayerError, Measure, Measured, Walk, alike, turned_down};
use kurbo::{Affine, Point, Shape};
use nalgebra::Vector2;

/// A piece with all that pictures and notes say of it.
#[derive(Clone, Debug)]
pub struct GarmentPiece {
    /// What it is called.
    pub name: String,
    /// What kind of piece it is, when that is known or its shape says it.
    pub kind: Option<Known<PieceKind>>,
    /// The lines as they were seen.
    pub found: Layer,
    /// Which names were proposed by shape.
    pub by_shape: ByShape,
    /// What the notes say of each edge.
    pub edges: Vec<Option<EdgeNotes>>,
    /// The lines as a pattern has them.
    pub drafted: Layer,
    /// What was done to them.
    pub steps: Steps,
    /// Flat measures, taken on the lines as drafted.
    pub measures: Vec<Measure>,
    /// What the notes say of the piece.
    pub notes: Option<PieceNotes>,
    /// What carries the lines as found to those as drafted.
    pub laid: Affine,
}

/// How the drafted layer came from what was found.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Steps {
    /// Whether it was mirrored: the cloth was seen from its wrong side.
    pub mirrored: bool,
    /// How far it was turned, degrees, clockwise as seen.
    pub turned_deg: f64,
    /// What runs down the page.
    pub down: Down,
}

/// What runs down the page of a drafted piece.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Down {
    /// The grain, as a person saw it.
    Grain,
    /// The centre line, which is a proposal.
    Centre,
    /// Nothing that is known: it lies as it was laid.
    AsLaid,
}

/// The pieces of one picture.
///
/// # Errors
/// The lines of a piece do not close; one cut off by the frame has none that could be drafted.
pub fn pieces(tracing: &Tracing, shot: &ShotNotes, notes: &Notes) -> Result<Vec<GarmentPiece>, LayerError> {
    tracing.pieces.iter().map(|traced| one(tracing, traced, shot, notes)).collect()
}

fn one(tracing: &Tracing, traced: &Traced, shot: &ShotNotes, notes: &Notes) -> Result<GarmentPiece, LayerError> {
    let own = notes.pieces.iter().find(|(name, _)| alike(name, &traced.name)).map(|(_, piece)| piece);
    let mut found = layer(traced)?;
    let edges = noted_edges(&mut found, &shot.edges);
    let mirrored = shot.wrong_side_up().unwrap_or(false);
    let told = own.and_then(|p| p.kind);
    let seen = AsSeen { name: &traced.name, kind: told, up: shot.up, wrong_side_up: mirrored };
    let proposal = piece::proposed(&found, &seen);
    let by_shape = proposal.as_ref().map_or_else(ByShape::default, |p| p.apply(&mut found));
    let kind = told.map(|k| Known::new(k, How::Noted)).or_else(|| proposal.map(|p| Known::new(p.kind, How::Assumed)));
    let (steps, laid) = draft(tracing, &found, kind.map(|k| k.value), own, mirrored);
    let drafted = found.mapped(laid);
    let scale = scale_error(tracing);
    let measures = kind.map_or_else(Vec::new, |k| Measured { layer: &drafted, kind: k.value, scale }.all());
    Ok(GarmentPiece { name: traced.name.clone(), kind, found, by_shape, edges, drafted, steps, measures, notes: own.cloned(), laid })
}

/// Share of a length that the sheet's scale may be out by (95 %): the budget says what it moves at its worst place, from the middle of
/// a piece.
fn scale_error(tracing: &Tracing) -> f64 {
    let reach = |p: &Traced| {
        let b = p.outline.path.bounding_box();
        0.5 * b.width().hypot(b.height())
    };
    let furthest = tracing.pieces.iter().map(reach).fold(0.0, f64::max);
    if furthest > 0.0 { tracing.budget.worst.sheet / furthest } else { 0.0 }
}

/// The lines of a traced piece with how each came to be known.
fn layer(traced: &Traced) -> Result<Layer, LayerError> {
    let names: Vec<String> = traced.edges.iter().map(|e| e.name.clone()).collect();
    let mut layer = Layer::of(&traced.outline, &traced.corner_names, &names)?;
    for (edge, found) in layer.edges.iter_mut().zip(&traced.edges) {
        edge.bound = found.bound;
        (edge.line, edge.how) = match (found.line, found.found) {
            (Line::Cut, _) => (piece::Line::Cut, How::Assumed),
            // Moved in by a width that a person told.
            (Line::Seam, Found::Offset) => (piece::Line::Seam, How::Noted),
            (Line::Seam, Found::Hand) => (piece::Line::Seam, How::Noted),
            (Line::Seam, Found::Picture) => (piece::Line::Seam, How::Seen),
            (Line::Rim, Found::Hand) => (piece::Line::Rim, How::Noted),
            (Line::Rim, _) => (piece::Line::Rim, How::Seen),
            (Line::Fold, Found::Hand) => (piece::Line::Fold, How::Noted),
            (Line::Fold, _) => (piece::Line::Fold, How::Seen),
        };
    }
    layer.inner = traced.inner.iter().map(|s| Inner { name: s.name.clone(), path: s.path.clone(), bound: Some(s.bound) }).collect();
    layer.holes = traced.holes.iter().map(|h| h.path.clone()).collect();
    Ok(layer)
}

/// What the notes say of each edge, by the names of its corners.
fn noted_edges(layer: &mut Layer, noted: &[EdgeNotes]) -> Vec<Option<EdgeNotes>> {
    let n = layer.corners.len();
    let mut out = Vec::new();
    for k in 0..layer.edges.len() {
        let ends = (n > 0).then(|| (layer.corners[k].name.clone(), layer.corners[(k + 1) % n].name.clone()));
        let own = ends.and_then(|(a, b)| noted.iter().find(|e| e.joins(&a, &b)));
        if let Some(own) = own {
            if own.line == Some(crate::notes::Line::Fold) {
                layer.edges[k].line = piece::Line::Fold;
            }
            if own.assumed {
                layer.edges[k].how = How::Assumed;
                layer.edges[k].bound = None;
            }
        }
        out.push(own.cloned());
    }
    out
}

/// How a piece is laid on the page of the pattern.
fn draft(tracing: &Tracing, found: &Layer, kind: Option<PieceKind>, notes: Option<&PieceNotes>, mirrored: bool) -> (Steps, Affine) {
    let centre = kind.and_then(|kind| Measured { layer: found, kind, scale: 0.0 }.down());
    let grain = notes.and_then(|n| n.grain.as_ref()).and_then(|g| {
        let line = match &g.along {
            GrainAlong::Centre => centre?,
            GrainAlong::Edge(name) => chord(found, name)?,
            GrainAlong::Spots([a, b]) => spot_at(tracing, found, b)? - spot_at(tracing, found, a)?,
        };
        let turn = match g.runs {
            GrainRuns::Lengthwise => 0.0,
            GrainRuns::Crosswise => std::f64::consts::FRAC_PI_2,
            GrainRuns::Bias => std::f64::consts::FRAC_PI_4,
        };
        let way = nalgebra::Rotation2::new(turn) * line.try_normalize(1e-9)?;
        // Which end of the grain is up, the piece itself says, else how it was laid.
        let down = centre.unwrap_or(Vector2::new(0.0, 1.0));
        Some(if way.dot(&down) < 0.0 { -way } else { way })
    });
    let (down, way) = match (grain, centre) {
        (Some(way), _) => (Down::Grain, way),
        (None, Some(way)) => (Down::Centre, way),
        (None, None) => (Down::AsLaid, Vector2::new(0.0, 1.0)),
    };
    let turn = turned_down(way);
    let [a, b, ..] = turn.as_coeffs();
    let mirror = if mirrored { Affine::scale_non_uniform(-1.0, 1.0) } else { Affine::IDENTITY };
    let turned = mirror * turn;
    // Its box starts at nothing, so that numbers on the page stay small and equal pieces have equal numbers.
    let corner = (turned * found.outline()).bounding_box().origin();
    let laid = Affine::translate(-corner.to_vec2()) * turned;
    (Steps { mirrored, turned_deg: b.atan2(a).to_degrees(), down }, laid)
}

/// Direction of an edge from end to end.
fn chord(layer: &Layer, name: &str) -> Option<Vector2<f64>> {
    let walk = Walk::of(&layer.edges[layer.edge(name)?].path);
    let (a, b) = (walk.at(0.0), walk.at(walk.length()));
    Some(Vector2::new(b.x - a.x, b.y - a.y))
}

/// Where a place of the notes is on the sheet.
fn spot_at(tracing: &Tracing, layer: &Layer, spot: &Spot) -> Option<Mm> {
    match spot {
        Spot::Named(name) => {
            let mark = || tracing.marks.iter().find(|m| m.name.as_deref().is_some_and(|n| alike(n, name))).map(|m| m.at);
            layer.corner(name).map(|k| layer.corners[k].at).or_else(mark)
        }
        Spot::Px(px) => tracing.view.to_mm(*px, tracing.thickness),
        Spot::Mm([x, y]) => Some(Mm::new(x.mm(), y.mm())),
        Spot::OnEdge(on) => {
            let k = layer.edge(&on.edge)?;
            let walk = Walk::of(&layer.edges[k].path);
            // From the corner it ends at, it is measured backwards.
            let backwards = on.from.as_ref().is_some_and(|from| {
                let end = layer.corners.get((k + 1) % layer.corners.len().max(1));
                end.is_some_and(|c| alike(&c.name, from))
            });
            let Point { x, y } = walk.at(if backwards { walk.length() - on.at.mm() } else { on.at.mm() });
            Some(Mm::new(x, y))
        }
    }
}
