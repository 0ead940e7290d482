//! Every line that is followed in the picture: rims, holes, stitch lines, seams within the pieces.

use super::session::{TraceError, Wanted};
use super::tracing::Line;
use crate::cloth::Cloth;
use crate::grid::Lattice;
use crate::path::SeamPath;
use crate::proof::Proof;
use crate::seam::{self, Marks};
use crate::sheet::SheetKind;
use crate::shot::Shot;
use crate::view::Solved;
use kurbo::{BezPath, Shape as _};

/// Reach on a plain ground, mm: a millimetre more than the light of either side is read at.
const PLAIN_REACH: f64 = 3.5;

/// The lines found for each piece.
pub(super) struct Lines {
    /// Pieces in the order of the cloth's regions.
    pub pieces: Vec<PieceLines>,
}

/// The lines of one piece.
pub(super) struct PieceLines {
    /// The outline wanted: the rim, or the stitch line inside it.
    pub outer: SeamPath,
    /// Rims of holes.
    pub holes: Vec<SeamPath>,
    /// Seams within, with the number the person gave each in.
    pub inner: Vec<(usize, SeamPath)>,
}

/// Follows all lines that are wanted of every piece.
pub(super) fn find(
    shot: &Shot,
    lattice: &Lattice,
    solved: &Solved,
    cloth: &Cloth,
    wanted: &Wanted,
    proof: &mut Proof,
) -> Result<Lines, TraceError> {
    let marks = Marks::of(lattice);
    let (height, _) = wanted.height();
    let (view, settings) = (&solved.view, reach(lattice));
    let mut follow = |rough: &[_]| seam::rim(shot, view, &marks, rough, height, &settings, proof);
    let mut pieces = Vec::new();
    for region in &cloth.regions {
        let outer = follow(&region.rim)?;
        let holes = region.holes.iter().map(|h| follow(h)).collect::<Result<Vec<_>, _>>()?;
        pieces.push(PieceLines { outer, holes, inner: Vec::new() });
    }
    if let (Line::Seam, Some(allowance)) = (wanted.line, wanted.allowance) {
        for piece in &mut pieces {
            piece.outer = seam::stitch_line(shot, view, &piece.outer, allowance, height, &settings, proof)?;
        }
    }
    let rims: Vec<SeamPath> = pieces.iter().flat_map(|p| std::iter::once(&p.outer).chain(&p.holes)).cloned().collect();
    for (k, ends) in wanted.inner.iter().enumerate() {
        let found = seam::between(shot, view, ends, height, &rims, &settings, proof)?;
        let owner = (0..pieces.len()).find(|&p| holds(&pieces[p].outer, &found)).unwrap_or(0);
        if let Some(piece) = pieces.get_mut(owner) {
            piece.inner.push((k, found));
        }
    }
    Ok(Lines { pieces })
}

/// How far the rim is sought: on a plain ground the rough rim is right to a pixel or two, and no ruling leads it astray, so
/// that narrow gaps are followed rather than jumped.
fn reach(lattice: &Lattice) -> seam::Settings {
    let usual = seam::Settings::default();
    if lattice.kind == SheetKind::Plain { seam::Settings { reach_mm: PLAIN_REACH, ..usual } } else { usual }
}

/// Whether the middle of a seam lies inside a rim.
fn holds(rim: &SeamPath, seam: &SeamPath) -> bool {
    let mut polygon = BezPath::new();
    for (k, p) in rim.points.iter().enumerate() {
        if k == 0 { polygon.move_to((p.at.x, p.at.y)) } else { polygon.line_to((p.at.x, p.at.y)) }
    }
    polygon.close_path();
    seam.points.get(seam.points.len() / 2).is_some_and(|m| polygon.contains((m.at.x, m.at.y).into()))
}
