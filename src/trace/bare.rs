//! The picture of the bare sheet that goes with a garment's, brought to the same axes.
//!
//! In: both pictures. Out: the bare one with its view in the axes of the garment's, or a doubt. Goes wrong: on a sheet without a code
//! nothing but the place it was taken from tells which square is which, so both must be taken from about the same place.

use super::error::TraceError;
use super::joint::Placement;
use super::session::Session;
use super::wanted::Wanted;
use crate::cloth::BareSheet;
use crate::grid::Lattice;
use crate::notes::ShotNotes;
use crate::proof::Proof;
use crate::shot::Shot;
use crate::solve::median;
use crate::view::View;
use nalgebra::Vector2;
use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

/// Part of a square by which most nodes may be off whole squares, or the camera stood elsewhere.
const OFF: f64 = 0.3;

/// Of the nodes that the garment hides more than this part is hidden in the bare picture as well where something lies in it; so many must be hidden to tell.
const COVERED: f64 = 0.5;
const ENOUGH: usize = 12;

/// The bare sheet as the garment's picture has it. `None` where the two don't go together.
///
/// # Errors
/// No sheet is found in the bare picture, or without tissue on it something else lies where the garment does.
pub(super) fn sheet(
    bare: &Arc<Shot>,
    (shot, lattice, view): (&Shot, &Lattice, &View),
    wanted: &Wanted,
    proof: &mut Proof,
) -> Result<Option<BareSheet>, TraceError> {
    let mut sheet = wanted.sheet.clone();
    if sheet.pitch[0] == sheet.pitch[1] && lattice.pitch[0] != lattice.pitch[1] {
        // It is one sheet, as long one way as the garment's picture found it.
        let oblong = (lattice.pitch[0] / lattice.pitch[1]).sqrt();
        sheet.pitch = [sheet.pitch[0] * oblong, sheet.pitch[1] / oblong];
    }
    let alone = Wanted { sheet, as_ruled: true, at: Vec::new(), inner: Vec::new(), notes: ShotNotes::default(), ..wanted.clone() };
    let mut session = Session::new(bare.clone(), alone);
    let mut found = || -> Result<Option<View>, TraceError> {
        let (own, _) = session.views(proof)?;
        let by = match (own.code, lattice.code) {
            (None, None) => placement(own, [bare.width, bare.height], (lattice, view, [shot.width, shot.height])),
            (own, code) => (own == code).then(Placement::default),
        };
        let Some(by) = by else { return Ok(None) };
        if by != Placement::default() {
            session.placed(by, proof)?;
        }
        let (own, solved) = session.views(proof)?;
        // Tissue hides nodes too.
        if wanted.notes.under.is_none() && covered(own, lattice) {
            return Err(TraceError::Covered);
        }
        Ok(Some(solved.view.clone()))
    };
    match found() {
        Ok(view) => Ok(view.map(|view| BareSheet { shot: bare.clone(), view })),
        Err(e) => Err(TraceError::Bare(Box::new(e))),
    }
}

/// Whether what the garment hides of the lattice is hidden in the bare picture too.
fn covered(own: &Lattice, lattice: &Lattice) -> bool {
    let [own, seen] = [own, lattice].map(Rows::of);
    let hidden: Vec<[i32; 2]> = seen.between().into_iter().filter(|at| own.reach(*at)).collect();
    let there = hidden.iter().filter(|at| own.rows.get(&at[1]).is_some_and(|row| row.contains(&at[0]))).count();
    hidden.len() >= ENOUGH && (there as f64) < (1.0 - COVERED) * hidden.len() as f64
}

/// The nodes of a lattice, row by row.
struct Rows {
    rows: BTreeMap<i32, BTreeSet<i32>>,
}

impl Rows {
    fn of(lattice: &Lattice) -> Self {
        let mut rows: BTreeMap<i32, BTreeSet<i32>> = BTreeMap::new();
        for n in &lattice.nodes {
            rows.entry(n.j).or_default().insert(n.i);
        }
        Self { rows }
    }

    /// Whether an address has nodes of its row to both sides, or is one.
    fn reach(&self, [i, j]: [i32; 2]) -> bool {
        self.rows.get(&j).is_some_and(|row| row.first().is_some_and(|a| *a <= i) && row.last().is_some_and(|b| *b >= i))
    }

    /// Addresses that lie between nodes of their row and are none.
    fn between(&self) -> Vec<[i32; 2]> {
        let ends = |row: &BTreeSet<i32>| Some(*row.first()?..=*row.last()?);
        let gaps = self.rows.iter().flat_map(|(j, row)| ends(row).into_iter().flatten().filter(|i| !row.contains(i)).map(|i| [i, *j]));
        gaps.collect()
    }
}

/// How the lattice of one picture lies on another's, both taken from about the same place: the quarter turn and the whole squares that
/// leave its nodes least out of place. `None` where that is no whole number of squares.
fn placement(own: &Lattice, size: [usize; 2], (lattice, view, other): (&Lattice, &View, [usize; 2])) -> Option<Placement> {
    let scale = [0, 1].map(|k| other[k] as f64 / size[k] as f64);
    let ways = Placement::ways().filter(|w| !w.mirrored).filter_map(|way| {
        let off = own.nodes.iter().filter_map(|n| {
            let at = crate::length::Px::new(n.at.x * scale[0], n.at.y * scale[1]);
            let ruled = lattice.lay.ruled(view.to_mm(at, 0.0)?);
            let here = Vector2::new(ruled.x / lattice.pitch[0], ruled.y / lattice.pitch[1]);
            let [i, j] = way.address([n.i, n.j]);
            Some(here - Vector2::new(f64::from(i), f64::from(j)))
        });
        let off: Vec<Vector2<f64>> = off.filter(|v| v.x.is_finite() && v.y.is_finite()).collect();
        let middle = |k: usize| median(&mut off.iter().map(|v| v[k]).collect::<Vec<_>>());
        let by = [middle(0)?, middle(1)?];
        let spread = median(&mut off.iter().map(|v| (v.x - by[0]).hypot(v.y - by[1])).collect::<Vec<_>>())?;
        Some((spread, by, way))
    });
    let (_, by, way) = ways.min_by(|a, b| a.0.total_cmp(&b.0))?;
    let near = by.iter().all(|v| (v - v.round()).abs() < OFF);
    near.then(|| Placement { by: by.map(|v| v.round() as i32), ..way })
}
