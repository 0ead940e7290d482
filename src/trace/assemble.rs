//! From found lines to the finished tracing: outlines, names, bounds, doubts and the budget.

use super::bound::{self, Bounds};
use super::budget::budget;
use super::lines::{Lines, PieceLines};
use super::names;
use super::places::places;
use super::session::{TraceError, Wanted};
use super::tracing::{EdgeFound, InnerSeam, Line, Picture, SheetFound, Traced, Tracing};
use crate::cloth::Cloth;
use crate::grid::Lattice;
use crate::length::Mm;
use crate::outline::{self, Hints, Outline};
use crate::path::SeamPath;
use crate::proof::Doubt;
use crate::sheet::SheetKind;
use crate::shot::Shot;
use crate::view::{FocalFrom, Model, Solved};
use kurbo::{ParamCurveNearest, PathSeg};

/// Below this many pixels per mm the aim of 0.2 mm is out of reach.
const COARSE: f64 = 2.0;
/// Lower than this, mm, a height shifts nothing by a hundredth of a millimetre.
const FLAT: f64 = 0.05;
/// A scan's resolution and the sheet's ruling may differ by this share before it is worth a word: twice what printed sheets are
/// out by, and cheap scanners with them.
const DPI_MISMATCH: f64 = 0.005;
/// An edge that may be out by more than this besides, mm, is told: the trade's sixteenth of an inch.
const UNSURE: f64 = 1.6;
/// And so is one that at some place may be out by this much more, mm: next to a corner a millimetre or two is no rarity.
const PLACE_UNSURE: f64 = 2.0;
/// How many of them.
const WORST: usize = 3;
/// An edge counts as offset, not measured, when more than this share of it could not be seen.
const MOSTLY: f64 = 0.5;
/// Every how many points are asked for that share.
const UNSEEN_STEP: usize = 4;

/// What all outlines of a picture share.
struct Scene<'a> {
    lattice: &'a Lattice,
    solved: &'a Solved,
    wanted: &'a Wanted,
}

/// Draws the outlines and gathers everything that is told about them.
pub(super) fn tracing(
    shot: &Shot,
    lattice: &Lattice,
    solved: &Solved,
    cloth: &Cloth,
    lines: &Lines,
    wanted: &Wanted,
) -> Result<Tracing, TraceError> {
    let scene = Scene { lattice, solved, wanted };
    let outer: Vec<&SeamPath> = lines.pieces.iter().map(|p| &p.outer).collect();
    let named = names::placed(&wanted.notes.corners, &solved.view, wanted.height().0, &outer);
    let mut pieces = Vec::new();
    for (k, piece) in lines.pieces.iter().enumerate() {
        let own: Vec<(String, Mm)> = named.iter().filter(|n| n.0 == k).map(|n| (n.1.clone(), n.2)).collect();
        pieces.push(scene.piece(k, lines.pieces.len(), piece, &own)?);
    }
    let outlines: Vec<&Outline> = pieces.iter().map(|p: &Traced| &p.outline).collect();
    let budget = budget(&outlines, &solved.view, wanted.height_of_each(lines.pieces.len()), &wanted.sheet);
    let lens = wanted.lens.as_ref().filter(|_| solved.focal_from == Some(FocalFrom::LensProfile)).map(|l| &l.profile);
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
        lens_profile: lens.map(|l| l.name.clone()),
        px_per_mm: solved.px_per_mm,
        thickness: wanted.height().0,
        pieces,
        doubts: Vec::new(),
        budget,
        profiles: std::iter::once(wanted.sheet.blake3()).chain(lens.map(|l| l.blake3())).map(|b| format!("blake3 {b}")).collect(),
    };
    tracing.doubts = scene.doubts(shot, &tracing, cloth);
    Ok(tracing)
}

impl Scene<'_> {
    fn piece(&self, k: usize, of: usize, lines: &PieceLines, named: &[(String, Mm)]) -> Result<Traced, TraceError> {
        let hints = Hints { corners: named.iter().map(|n| n.1).collect() };
        let outline = draw(&lines.outer, &hints)?;
        let holes = lines.holes.iter().map(|h| draw(h, &Hints::default())).collect::<Result<Vec<_>, _>>()?;
        let (height, height_error) = self.wanted.height_of_each(of);
        let Bounds { edges, whole } = bound::bounds(&outline, &self.solved.view, height, height_error);
        let corner_names = names::corners(&outline, named);
        let unseen = unseen(&lines.outer, &outline);
        let edges = names::edges(&outline, &corner_names, &self.wanted.notes.edges, named)
            .into_iter()
            .zip(edges)
            .zip(outline.edges.iter().zip(unseen))
            .map(|((name, (bound, along)), (edge, unseen))| EdgeFound {
                name,
                line: if edge.cut { Line::Cut } else { self.wanted.line },
                bound: (!edge.cut).then_some(bound),
                along: if edge.cut { Vec::new() } else { along },
                offset: self.wanted.line == Line::Seam && unseen > MOSTLY,
            })
            .collect();
        let inner = lines.inner.iter().map(|(n, seam)| self.inner(*n, seam, of)).collect::<Result<Vec<_>, _>>()?;
        let whole = outline.edges.iter().all(|e| !e.cut).then_some(whole);
        let name = self.wanted.notes.piece.clone().filter(|_| of == 1).unwrap_or_else(|| format!("piece {}", k + 1));
        Ok(Traced { name, outline, corner_names, edges, holes, inner, bound: whole })
    }

    fn inner(&self, number: usize, seam: &SeamPath, of: usize) -> Result<InnerSeam, TraceError> {
        let drawn = draw(seam, &Hints::default())?;
        let (height, height_error) = self.wanted.height_of_each(of);
        let bound = bound::bounds(&drawn, &self.solved.view, height, height_error).whole;
        Ok(InnerSeam { name: format!("seam {}", number + 1), path: drawn.path, bound })
    }

    fn doubts(&self, shot: &Shot, tracing: &Tracing, cloth: &Cloth) -> Vec<Doubt> {
        let mut doubts: Vec<Doubt> = self.lattice.doubts.iter().chain(&self.solved.doubts).chain(&cloth.doubts).cloned().collect();
        doubts.splice(0..0, unsure_edges(tracing));
        if self.wanted.height().0 < FLAT {
            // The focal length only enters where something stands above the sheet.
            doubts.retain(|d| !matches!(d, Doubt::FocalAssumed { .. }));
        }
        if self.wanted.thickness.is_none() && tracing.picture.photo {
            doubts.push(Doubt::ThicknessAssumed { height: self.wanted.height().0, cost: tracing.budget.worst.thickness });
        }
        if let Model::Scan { matrix: [a, b, c, d, ..] } = tracing.view.model
            && let Some(told) = shot.tags.px_per_mm.filter(|_| self.lattice.kind != SheetKind::Plain)
        {
            // Rows of the map belong to the picture's own axes, however the sheet was turned.
            let off = [(a.hypot(b), told[0]), (c.hypot(d), told[1])].map(|(seen, told)| (seen / told - 1.0, told, seen));
            let worst = if off[0].0.abs() > off[1].0.abs() { off[0] } else { off[1] };
            if worst.0.abs() > DPI_MISMATCH {
                doubts.push(Doubt::DpiMismatch { told: 25.4 * worst.1, seen: 25.4 * worst.2 });
            }
        }
        if self.wanted.sheet.measured.is_none() && self.lattice.kind != SheetKind::Plain {
            let share = self.wanted.sheet.pitch_error.iter().fold(0.0, |a: f64, &b| a.max(b));
            doubts.push(Doubt::PitchNotMeasured { share, cost: tracing.budget.worst.sheet });
        }
        let places = tracing.pieces.iter().flat_map(|p| p.outline.corners.iter().map(|c| c.at).chain([p.middle()]));
        let coarsest = places.map(|at| (self.solved.view.px_per_mm(at), at)).min_by(|a, b| a.0.total_cmp(&b.0));
        if let Some((px_per_mm, at)) = coarsest.filter(|c| c.0 < COARSE) {
            doubts.push(Doubt::LowResolution { px_per_mm, at });
        }
        doubts
    }
}

/// For each edge the share of its points that could not be seen and were carried over from what lies beside them.
fn unseen(line: &SeamPath, outline: &Outline) -> Vec<f64> {
    let mut counts = vec![(0usize, 0usize); outline.edges.len()];
    let segments: Vec<(usize, PathSeg)> =
        outline.edges.iter().enumerate().flat_map(|(k, e)| e.path.segments().map(move |s| (k, s))).collect();
    for p in line.points.iter().step_by(UNSEEN_STEP) {
        let far = |s: &PathSeg| s.nearest((p.at.x, p.at.y).into(), 0.1).distance_sq;
        if let Some((k, _)) = segments.iter().min_by(|a, b| far(&a.1).total_cmp(&far(&b.1))) {
            counts[*k].0 += usize::from(p.flags.unseen);
            counts[*k].1 += 1;
        }
    }
    counts.iter().map(|&(unseen, all)| unseen as f64 / all.max(1) as f64).collect()
}

/// Edges that were not seen, or not well: the worst of them.
fn unsure_edges(tracing: &Tracing) -> Vec<Doubt> {
    let mut unsure = Vec::new();
    let mut unseen: Option<(Vec<String>, Mm)> = None;
    // What the height may cost is a doubt of its own.
    let limit = UNSURE + tracing.budget.worst.thickness;
    for piece in &tracing.pieces {
        let places = places(&piece.outline);
        for (k, (edge, drawn)) in piece.edges.iter().zip(&piece.outline.edges).enumerate() {
            let name = if tracing.pieces.len() > 1 { format!("{} of {}", edge.name, piece.name) } else { edge.name.clone() };
            if edge.offset {
                unseen.get_or_insert((Vec::new(), drawn.middle())).0.push(name);
                continue;
            }
            let own = places.iter().filter(|p| p.edge == k).zip(&edge.along);
            let Some((worst, [_, here])) = own.max_by(|a, b| a.1[1].total_cmp(&b.1[1])) else { continue };
            if edge.bound.is_some_and(|bound| bound > limit) || *here > PLACE_UNSURE + limit {
                unsure.push((edge.bound.unwrap_or(0.0).max(*here), name, worst.at));
            }
        }
    }
    unsure.sort_by(|a, b| b.0.total_cmp(&a.0));
    let unsure = unsure.into_iter().take(WORST).map(|(bound, edge, at)| Doubt::EdgeUnsure { edge, bound, at });
    unsure.chain(unseen.map(|(edges, at)| Doubt::StitchLineNotSeen { edges, at })).collect()
}

fn draw(line: &SeamPath, hints: &Hints) -> Result<Outline, TraceError> {
    let corners = outline::corners(line, hints);
    Ok(outline::assemble(line, &corners, &outline::Settings::default())?)
}
