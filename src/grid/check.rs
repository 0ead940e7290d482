//! The independent check: nodes kept out of a smooth fit, compared with it.

use super::map::SheetMap;
use super::{KeptOut, Lattice, Node};

/// Fits the smooth map to nine nodes in ten and measures it on the tenth.
pub fn kept_out(nodes: &[Node], size: [usize; 2]) -> KeptOut {
    let place = |n: &Node| ([f64::from(n.i), f64::from(n.j)], n.at);
    let (out, fitted): (Vec<&Node>, Vec<&Node>) = nodes.iter().partition(|n| Lattice::kept_out(n.i, n.j));
    let fitted: Vec<_> = fitted.into_iter().map(place).collect();
    let Some(map) = SheetMap::fit(&fitted, size, 0.05) else { return KeptOut::default() };
    let off: Vec<f64> = out.into_iter().filter_map(|n| map.off(&place(n))).map(|d| d.norm_squared()).collect();
    let rms_px = (off.iter().sum::<f64>() / (2 * off.len().max(1)) as f64).sqrt();
    KeptOut { nodes: off.len(), rms_px }
}
