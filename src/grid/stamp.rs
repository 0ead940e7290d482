//! How large the separate marks of a sheet are: a dot's radius, half the width of a cross's arms and how far they reach.

use super::map::SheetMap;
use super::{Node, crosses, dots};
use crate::sheet::SheetKind;
use crate::shot::Shot;
use crate::solve::median;

/// Marks looked at, spread over the lattice: a median needs no more.
const PROBES: usize = 40;

/// Whether most of a lattice's dots are filled squares.
pub(super) fn squares(shot: &Shot, nodes: &[Node], map: &SheetMap) -> bool {
    let one = |n: &Node| dots::measure(shot, n.at, map.frame(f64::from(n.i), f64::from(n.j))?).map(|d| d.square);
    let seen: Vec<bool> = nodes.iter().step_by(nodes.len().div_ceil(PROBES).max(1)).filter_map(one).collect();
    2 * seen.iter().filter(|s| **s).count() > seen.len()
}

/// The usual half width and reach of dots and crosses, px; `None` for other kinds, or when none shows it.
pub(super) fn usual(shot: &Shot, kind: SheetKind, nodes: &[Node], map: &SheetMap) -> Option<[f64; 2]> {
    if !matches!(kind, SheetKind::Dots | SheetKind::Crosses) {
        return None;
    }
    let one = |n: &Node| {
        let frame = map.frame(f64::from(n.i), f64::from(n.j))?;
        match kind {
            SheetKind::Dots => dots::measure(shot, n.at, frame).map(|d| [d.radius; 2]),
            _ => crosses::size(shot, n.at, frame),
        }
    };
    let sizes: Vec<[f64; 2]> = nodes.iter().step_by(nodes.len().div_ceil(PROBES).max(1)).filter_map(one).collect();
    let middle = |k: usize| median(&mut sizes.iter().map(|s| s[k]).collect::<Vec<_>>());
    Some([middle(0)?, middle(1)?])
}
