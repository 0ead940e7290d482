//! What the notes say of the edges of a piece: how they are seen, what they are, where the seam lies.

use super::How;
use super::layer::{Layer, Line};
use crate::notes::{self, EdgeNotes};

/// What the notes say of each edge, by the names of its corners; the lines are marked as those say.
pub(super) fn noted_edges(layer: &mut Layer, noted: &[EdgeNotes]) -> Vec<Option<EdgeNotes>> {
    let n = layer.corners.len();
    let mut out = Vec::new();
    for k in 0..layer.edges.len() {
        let ends = (n > 0).then(|| (layer.corners[k].name.clone(), layer.corners[(k + 1) % n].name.clone()));
        let own = ends.and_then(|(a, b)| noted.iter().find(|e| e.joins(&a, &b)));
        if let Some(own) = own {
            if own.line == Some(notes::Line::Fold) {
                layer.edges[k].line = Line::Fold;
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
