//! What the notes say of the edges of a piece: how they are seen, what they are, where the seam lies.

use super::How;
use super::bench::Bench;
use super::layer::{Layer, Line};
use crate::notes::{self, EdgeNotes};

/// What the notes say of each edge, by the names of its corners; the lines are marked as those say.
pub(super) fn noted_edges(layer: &mut Layer, noted: &[EdgeNotes]) -> Vec<Option<EdgeNotes>> {
    let told = told(layer, noted);
    for (edge, own) in layer.edges.iter_mut().zip(&told) {
        let Some((own, _)) = own else { continue };
        if own.line == Some(notes::Line::Fold) {
            edge.line = Line::Fold;
        }
        if own.assumed {
            edge.how = How::Assumed;
            edge.bound = None;
        }
    }
    told.into_iter().map(|own| own.map(|(e, _)| e.clone())).collect()
}

fn told<'a>(layer: &Layer, noted: &'a [EdgeNotes]) -> Vec<Option<(&'a EdgeNotes, usize)>> {
    let corners: Vec<&str> = layer.corners.iter().map(|c| c.name.as_str()).collect();
    let mut told = EdgeNotes::told(noted, &corners);
    told.resize(layer.edges.len(), None);
    told
}

/// Sews as one what is one edge to the notes and was found in several stretches.
pub(super) fn sewn_as_one(bench: &mut Bench, noted: &[EdgeNotes]) {
    let found = bench.piece.found().clone();
    for (k, own) in told(&found, noted).into_iter().enumerate() {
        let Some((EdgeNotes { name: Some(name), .. }, stretch)) = own.filter(|(_, stretch)| *stretch > 0) else { continue };
        let before = (k + found.edges.len() - 1) % found.edges.len();
        let [before, this] = [before, k].map(|k| found.edges[k].name.clone());
        if stretch == 1 {
            bench.rename(name, &before);
        }
        bench.rename(name, &this);
        bench.piece.sew(name, 0.0, Some((&before, &this)));
    }
}
