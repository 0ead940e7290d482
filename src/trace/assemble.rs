//! From found lines to the finished tracing: rims, outlines, names, bounds, doubts and the budget.

use super::bound::{self, Bounds};
use super::names;
use super::session::{TraceError, Wanted};
use super::tracing::{Budget, EdgeFound, InnerSeam, Line, Picture, SheetFound, Traced, Tracing};
use crate::cloth::Cloth;
use crate::grid::Lattice;
use crate::length::Mm;
use crate::outline::{self, Hints, Outline};
use crate::path::SeamPath;
use crate::proof::{Doubt, Proof};
use crate::seam::{self, Marks};
use crate::shot::Shot;
use crate::view::{Model, Solved};

/// Below this many pixels per mm the aim of 0.2 mm is out of reach.
const COARSE: f64 = 2.0;

/// The lines found for each piece.
pub(super) struct Rims {
    pieces: Vec<PieceRims>,
}

/// The lines of one piece.
struct PieceRims {
    outer: SeamPath,
    holes: Vec<SeamPath>,
}

/// What all outlines of a picture share.
struct Scene<'a> {
    lattice: &'a Lattice,
    solved: &'a Solved,
    wanted: &'a Wanted,
}

/// Follows the rim of every piece and of its holes.
pub(super) fn rims(
    shot: &Shot,
    lattice: &Lattice,
    solved: &Solved,
    cloth: &Cloth,
    wanted: &Wanted,
    proof: &mut Proof,
) -> Result<Rims, TraceError> {
    let marks = Marks::of(lattice);
    let (height, _) = wanted.height();
    let settings = seam::Settings::default();
    let mut follow = |rough: &[_]| seam::rim(shot, &solved.view, &marks, rough, height, &settings, proof);
    let mut pieces = Vec::new();
    for region in &cloth.regions {
        let outer = follow(&region.rim)?;
        let holes = region.holes.iter().map(|h| follow(h)).collect::<Result<Vec<_>, _>>()?;
        pieces.push(PieceRims { outer, holes });
    }
    Ok(Rims { pieces })
}

/// Draws the outlines and gathers everything that is told about them.
pub(super) fn tracing(
    shot: &Shot,
    lattice: &Lattice,
    solved: &Solved,
    cloth: &Cloth,
    rims: &Rims,
    wanted: &Wanted,
) -> Result<Tracing, TraceError> {
    let scene = Scene { lattice, solved, wanted };
    let outer: Vec<&SeamPath> = rims.pieces.iter().map(|p| &p.outer).collect();
    let named = names::placed(&wanted.notes.corners, &solved.view, wanted.height().0, &outer);
    let mut pieces = Vec::new();
    let mut parts = Vec::new();
    for (k, piece) in rims.pieces.iter().enumerate() {
        let own: Vec<(String, Mm)> = named.iter().filter(|n| n.0 == k).map(|n| (n.1.clone(), n.2)).collect();
        let (traced, of) = scene.piece(k, rims.pieces.len(), piece, &own)?;
        pieces.push(traced);
        parts.extend(of);
    }
    let budget = scene.budget(&pieces, &parts);
    let mut tracing = Tracing {
        picture: Picture {
            file: shot.file.file_name().unwrap_or_default().to_string_lossy().into_owned(),
            blake3: shot.blake3.clone(),
            width: shot.width,
            height: shot.height,
            photo: matches!(solved.view.model, Model::Pinhole { .. }),
        },
        sheet: SheetFound {
            kind: lattice.kind,
            pitch: lattice.pitch,
            nodes: solved.nodes,
            rms_px: solved.rms_px,
            coverage: solved.coverage,
            held_out: solved.held_out,
        },
        view: solved.view.clone(),
        focal_from: solved.focal_from,
        px_per_mm: solved.px_per_mm,
        thickness: wanted.height().0,
        pieces,
        doubts: Vec::new(),
        budget,
        profiles: vec![format!("blake3 {}", wanted.sheet.blake3())],
    };
    tracing.doubts = scene.doubts(&tracing, cloth);
    Ok(tracing)
}

impl Scene<'_> {
    fn piece(&self, k: usize, of: usize, rims: &PieceRims, named: &[(String, Mm)]) -> Result<(Traced, Vec<[f64; 3]>), TraceError> {
        let hints = Hints { corners: named.iter().map(|n| n.1).collect() };
        let outline = draw(&rims.outer, &hints)?;
        let holes = rims.holes.iter().map(|h| draw(h, &Hints::default())).collect::<Result<Vec<_>, _>>()?;
        let (height, height_error) = self.wanted.height();
        let Bounds { edges, whole, parts } = bound::bounds(&outline, &self.solved.view, height, height_error);
        let corner_names = names::corners(&outline, named);
        let edges = names::edges(&outline, &corner_names, &self.wanted.notes.edges, named)
            .into_iter()
            .zip(edges)
            .zip(&outline.edges)
            .map(|((name, (bound, along)), edge)| EdgeFound {
                name,
                line: if edge.cut { Line::Cut } else { Line::Rim },
                bound: (!edge.cut).then_some(bound),
                along: if edge.cut { Vec::new() } else { along },
                offset: false,
            })
            .collect();
        let whole = outline.edges.iter().all(|e| !e.cut).then_some(whole);
        let name = self.wanted.notes.piece.clone().filter(|_| of == 1).unwrap_or_else(|| format!("piece {}", k + 1));
        Ok((Traced { name, outline, corner_names, edges, holes, inner: Vec::<InnerSeam>::new(), bound: whole }, parts))
    }

    /// 95 % figures by source: medians for what is found point by point, the worst place for what the view shares.
    fn budget(&self, pieces: &[Traced], parts: &[[f64; 3]]) -> Budget {
        let sorted = |k: usize| {
            let mut v: Vec<f64> = parts.iter().map(|p| 1.96 * p[k]).collect();
            v.sort_by(f64::total_cmp);
            v
        };
        let middle = |v: &[f64]| v.get(v.len() / 2).copied().unwrap_or(0.0);
        let worst = |v: &[f64]| v.last().copied().unwrap_or(0.0);
        let (edge, view, height) = (sorted(0), sorted(1), sorted(2));
        let length = pieces.iter().map(|p| kurbo::Shape::bounding_box(&p.outline.path)).map(|b| b.width().max(b.height()));
        let pitch_error = self.wanted.sheet.pitch_error.iter().fold(0.0, |a: f64, &b| a.max(b));
        Budget {
            sheet: pitch_error * length.fold(0.0, f64::max),
            grid: middle(&view),
            lens: worst(&view),
            edge: middle(&edge),
            thickness: worst(&height),
        }
    }

    fn doubts(&self, tracing: &Tracing, cloth: &Cloth) -> Vec<Doubt> {
        let mut doubts: Vec<Doubt> = self.lattice.doubts.iter().chain(&self.solved.doubts).chain(&cloth.doubts).cloned().collect();
        if self.wanted.thickness.is_none() && tracing.picture.photo {
            doubts.push(Doubt::ThicknessAssumed { height: self.wanted.height().0, cost: tracing.budget.thickness });
        }
        let places = tracing.pieces.iter().flat_map(|p| p.outline.corners.iter().map(|c| c.at).chain([p.middle()]));
        let coarsest = places.map(|at| (self.solved.view.px_per_mm(at), at)).min_by(|a, b| a.0.total_cmp(&b.0));
        if let Some((px_per_mm, at)) = coarsest.filter(|c| c.0 < COARSE) {
            doubts.push(Doubt::LowResolution { px_per_mm, at });
        }
        doubts
    }
}

fn draw(line: &SeamPath, hints: &Hints) -> Result<Outline, TraceError> {
    let corners = outline::corners(line, hints);
    Ok(outline::assemble(line, &corners, &outline::Settings::default())?)
}
