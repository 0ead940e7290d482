//! Every line that is followed in the picture: rims, holes, stitch lines, seams within the pieces.

use super::composite::{self, Composite, Kinds, Within};
use super::error::TraceError;
use super::laid::{NotesError, Places};
use super::order::in_order;
use super::tracing::Line;
use super::wanted::Wanted;
use crate::cloth::Cloth;
use crate::grid::Lattice;
use crate::length::{Mm, Px};
use crate::path::SeamPath;
use crate::proof::Proof;
use crate::seam::{self, Marks};
use crate::sheet::SheetKind;
use kurbo::Shape as _;

/// Reach on a plain ground, mm: a millimetre more than the light of either side is read at.
const PLAIN_REACH: f64 = 3.5;

/// A seam within lies on a piece when more than this part of it does.
const ON_CLOTH: f64 = 0.5;

/// The lines found for each piece.
pub(super) struct Lines {
    /// Pieces in the order of the cloth's regions.
    pub pieces: Vec<PieceLines>,
    /// Through-points, and how far off the nearest rim is, mm.
    pub through: Vec<(Mm, f64)>,
    /// Seams within that lie on no piece, by name, and about where: they are left out.
    pub off_cloth: Vec<(String, Mm)>,
    /// How far inside the rim a stitch line is seen, where hardly any is about the allowance told, mm.
    pub stitched_at: Vec<f64>,
}

impl Lines {
    /// The outlines of all pieces in the picture, each with its holes.
    pub fn rims(&self) -> Vec<(Vec<Px>, Vec<Vec<Px>>)> {
        let px = |path: &SeamPath| path.points.iter().map(|p| p.px).collect::<Vec<_>>();
        self.pieces.iter().map(|p| (px(&p.outer), p.holes.iter().map(px).collect())).collect()
    }
}

/// The lines of one piece.
pub(super) struct PieceLines {
    /// The outline wanted: the rim, or the stitch line inside it, with seams and folds within in place of parts of it.
    pub outer: SeamPath,
    /// Which line each of its points is of; empty when all are of one.
    pub kinds: Kinds,
    /// Where those lines meet, by the names of the corners there.
    pub joints: Vec<(String, Mm)>,
    /// Rims of holes.
    pub holes: Vec<SeamPath>,
    /// Seams within, each with its name.
    pub inner: Vec<(String, SeamPath)>,
}

/// The rims of a piece and of the holes in it, as they are found before anybody leads them through a place.
pub(super) struct Rims {
    outer: SeamPath,
    holes: Vec<SeamPath>,
}

/// Follows the rims of all pieces.
pub(super) fn rims(lattice: &Lattice, cloth: &Cloth, places: &Places, wanted: &Wanted, proof: &mut Proof) -> Result<Vec<Rims>, TraceError> {
    let marks = Marks::of(lattice);
    let settings = settings(lattice, places, wanted)?;
    let mut follow = |rough: &[_]| seam::rim(places.shot, places.view, &marks, rough, places.height, &settings, proof);
    let mut all = Vec::new();
    for region in &cloth.regions {
        let outer = follow(&region.rim)?;
        let holes = region.holes.iter().map(|h| follow(h)).collect::<Result<Vec<_>, _>>()?;
        all.push(Rims { outer, holes });
    }
    Ok(all)
}

/// Follows all lines that are wanted of every piece, from its rims on.
pub(super) fn find(lattice: &Lattice, rims: &[Rims], places: &Places, wanted: &Wanted, proof: &mut Proof) -> Result<Lines, TraceError> {
    let marks = Marks::of(lattice);
    let (shot, view, height) = (places.shot, places.view, places.height);
    let settings = settings(lattice, places, wanted)?;
    let mut led = |rim: &SeamPath| seam::through(shot, view, &marks, rim.clone(), height, &settings, proof);
    let piece = |r: &Rims| PieceLines {
        outer: led(&r.outer),
        kinds: Vec::new(),
        joints: Vec::new(),
        holes: r.holes.iter().map(&mut led).collect(),
        inner: Vec::new(),
    };
    let mut pieces: Vec<PieceLines> = rims.iter().map(piece).collect();
    let through = through(&settings, places, &pieces);
    let mut stitched_at = Vec::new();
    if let (Line::Seam, Some(allowance)) = (wanted.line, wanted.allowance) {
        for piece in &mut pieces {
            let line = seam::stitch_line(shot, view, &piece.outer, allowance, height, &settings, proof)?;
            stitched_at.extend(seam::elsewhere(shot, view, &piece.outer, &line, height, &settings, proof));
            piece.outer = line;
        }
    }
    put_together(&mut pieces, places, wanted, &settings, proof)?;
    let rims: Vec<SeamPath> = pieces.iter().flat_map(|p| std::iter::once(&p.outer).chain(&p.holes)).cloned().collect();
    let mut off_cloth = Vec::new();
    for (k, (name, ends)) in inner(places, wanted)?.into_iter().enumerate() {
        let found = seam::between(shot, view, &ends, height, &rims, &settings, proof)?;
        let name = name.unwrap_or_else(|| format!("seam {}", k + 1));
        let on = |p: &PieceLines| on_piece(&p.outer, &found);
        match pieces.iter_mut().map(|p| (on(p), p)).max_by(|a, b| a.0.total_cmp(&b.0)) {
            Some((on, piece)) if on > ON_CLOTH => piece.inner.push((name, found)),
            _ => off_cloth.extend(found.points.get(found.points.len() / 2).map(|p| (name, p.at))),
        }
    }
    Ok(Lines { pieces, through, off_cloth, stitched_at })
}

/// Lays the edges that the notes call seams or folds across the pieces that they run in.
fn put_together(
    pieces: &mut [PieceLines],
    places: &Places,
    wanted: &Wanted,
    settings: &seam::Settings,
    proof: &mut Proof,
) -> Result<(), TraceError> {
    let asked = composite::asked(places, wanted)?;
    if asked.is_empty() {
        return Ok(());
    }
    let mut others = Vec::new();
    for corner in &wanted.notes.corners {
        others.extend(places.view.to_mm(places.px("a corner", &corner.at)?, places.height).map(|at| (corner.name.clone(), at)));
    }
    let far = |p: &PieceLines, at: Mm| p.outer.points.iter().map(|q| q.at.distance(at)).fold(f64::INFINITY, f64::min);
    let both = |p: &PieceLines, a: &Within| a.at.first().map_or(0.0, |at| far(p, *at)) + a.at.last().map_or(0.0, |at| far(p, *at));
    let owner = |a: &Within| (0..pieces.len()).min_by(|k, j| both(&pieces[*k], a).total_cmp(&both(&pieces[*j], a)));
    let owners: Vec<Option<usize>> = asked.iter().map(owner).collect();
    for (k, piece) in pieces.iter_mut().enumerate() {
        let own: Vec<&Within> = asked.iter().zip(&owners).filter(|(_, o)| **o == Some(k)).map(|(a, _)| a).collect();
        let whole = Composite { outer: piece.outer.clone(), kinds: vec![wanted.line; piece.outer.points.len()], joints: Vec::new() };
        let found = composite::put_together(whole, &own, &others, places, settings, proof)?;
        if found.joints.is_empty() {
            continue;
        }
        let kept = composite::polygon(&found.outer);
        piece.holes.retain(|h| h.points.first().is_some_and(|p| kept.contains((p.at.x, p.at.y).into())));
        (piece.outer, piece.kinds, piece.joints) = (found.outer, found.kinds, found.joints);
    }
    Ok(())
}

/// Name, when it has one, and places of a seam within.
type Asked = (Option<String>, Vec<Px>);

/// Names and places of the seams within: those of the call first, then those of the notes.
fn inner(places: &Places, wanted: &Wanted) -> Result<Vec<Asked>, NotesError> {
    let mut all: Vec<Asked> = wanted.inner.iter().map(|ends| (None, ends.clone())).collect();
    for seam in &wanted.notes.inner {
        let ends: Vec<Px> = seam.through.iter().map(|p| places.px("a seam within", p)).collect::<Result<_, _>>()?;
        all.push((seam.name.clone(), ends));
    }
    for (_, px) in &mut all {
        let at: Vec<Mm> = px.iter().filter_map(|p| places.view.to_mm(*p, places.height)).collect();
        // Places off the sheet are refused where the line is sought.
        if at.len() == px.len() {
            *px = in_order(&at).into_iter().map(|k| px[k]).collect();
        }
    }
    Ok(all)
}

/// How lines are sought, with all that the notes settle beforehand.
fn settings(lattice: &Lattice, places: &Places, wanted: &Wanted) -> Result<seam::Settings, NotesError> {
    let through = wanted.notes.through.iter().map(|p| places.px("a through-point", p)).collect::<Result<_, _>>()?;
    let borders = places.regions(wanted)?.concat();
    let hidden = places.laid.iter().map(|l| l.mark.cover.clone()).collect();
    Ok(seam::Settings { hidden, through, borders, ..reach(lattice) })
}

/// Through-points, and how far off the nearest rim is, mm.
fn through(settings: &seam::Settings, places: &Places, pieces: &[PieceLines]) -> Vec<(Mm, f64)> {
    let rims = || pieces.iter().flat_map(|p| std::iter::once(&p.outer).chain(&p.holes));
    let off = |at: Mm| rims().flat_map(|r| &r.points).map(|p| p.at.distance(at)).fold(f64::INFINITY, f64::min);
    let points = settings.through.iter().filter_map(|p| places.view.to_mm(*p, places.height));
    points.map(|at| (at, off(at))).collect()
}

/// How far the rim is sought: on a plain ground the rough rim is right to a pixel or two, and no ruling leads it astray, so
/// that narrow gaps are followed rather than jumped.
fn reach(lattice: &Lattice) -> seam::Settings {
    let usual = seam::Settings::default();
    if lattice.kind == SheetKind::Plain { seam::Settings { reach_mm: PLAIN_REACH, ..usual } } else { usual }
}

/// Share of a seam that lies inside a rim.
fn on_piece(rim: &SeamPath, seam: &SeamPath) -> f64 {
    let polygon = composite::polygon(rim);
    let inside = seam.points.iter().filter(|p| polygon.contains((p.at.x, p.at.y).into())).count();
    inside as f64 / seam.points.len().max(1) as f64
}
