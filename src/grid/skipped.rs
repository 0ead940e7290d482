//! Tells a lattice that skips most of the sheet's marks from one that has them all.
//!
//! Every lattice holds coarser ones that are as regular (each fourth mark along, one up). Taken for the sheet's they give a wrong scale and
//! nothing else looks wrong; but between their nodes lie marks as strong as the nodes.

use super::Candidate;
use super::complete::Whole;
use super::field::Field;
use crate::solve::median;
use nalgebra::Matrix2;

/// How far round a node others are looked for, in its longer step: past the middle of its squares.
const ROUND: f64 = 0.75;
/// A mark this far off every address, in steps, is none of the lattice's.
const OFF: f64 = 0.2;
/// A mark counts from this share of the nodes' own strength (median): print, weave and wood are mostly weaker.
const AS_STRONG: f32 = 0.6;
/// So many strangers round a node are no chance: of each second mark left out, four to six lie there.
const STRANGERS: usize = 3;

/// Whether round more than half of the lattice's nodes several of `marks` lie that are as strong as the nodes and have no address in it.
/// (Round a garment's print they lie at its rim only.)
pub(super) fn skips(marks: &[Candidate], whole: &Whole, size: [usize; 2]) -> bool {
    let field = Field::new(marks, size, None);
    let nodes: Vec<_> = whole
        .patch
        .cells
        .keys()
        .filter_map(|&(i, j)| {
            let (i, j) = (f64::from(i), f64::from(j));
            Some((whole.map.at(i, j)?, whole.map.frame(i, j)?))
        })
        .collect();
    let mut own: Vec<f32> = nodes
        .iter()
        .filter_map(|(p, [u, v])| field.nearest(*p, OFF * u.norm().min(v.norm()), |_| true))
        .map(|n| marks[n].strength)
        .collect();
    if 2 * own.len() < nodes.len() || own.is_empty() {
        return false;
    }
    let strong = AS_STRONG * median(&mut own).unwrap_or_default();
    let crowded = nodes.iter().filter(|(p, [u, v])| {
        let Some(back) = Matrix2::from_columns(&[*u, *v]).try_inverse() else { return false };
        let stranger = |n: &usize| {
            let d = back * (marks[*n].at - *p);
            marks[*n].strength >= strong && (d.x - d.x.round()).abs().max((d.y - d.y.round()).abs()) > OFF
        };
        field.near(*p, ROUND * u.norm().max(v.norm())).filter(stranger).count() >= STRANGERS
    });
    2 * crowded.count() > nodes.len()
}
