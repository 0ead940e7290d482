//! The worst places of a piece: where its line may be out by most.

use crate::piece::Walk;
use crate::write::{PieceRecord, Record, path_from_text};
use kurbo::Point;
use serde::Serialize;

/// How many are told of a piece.
const TOLD: usize = 3;
/// Places nearer to each other than this are one, mm.
const ONE: f64 = 40.0;
/// A doubt this near a place tells why, mm.
const WHY: f64 = 25.0;

/// A place.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Worst {
    /// Where it is on the sheet, mm.
    pub at: [f64; 2],
    /// Numbers of its piece and edge.
    pub piece: usize,
    /// The edge.
    pub edge: usize,
    /// By how much the line may be out there, mm.
    pub out_mm: f64,
    /// The same in words, and why where that is known.
    pub say: String,
}

/// The worst places of every piece, worst first.
pub fn worst(record: &Record) -> Vec<Worst> {
    record.pieces.iter().enumerate().flat_map(|(k, piece)| of_piece(record, k, piece)).collect()
}

fn of_piece(record: &Record, number: usize, piece: &PieceRecord) -> Vec<Worst> {
    let mut spots: Vec<(f64, usize, f64)> = Vec::new();
    for (k, edge) in piece.edges.iter().enumerate() {
        spots.extend(edge.along.iter().map(|[along, out]| (*out, k, *along)));
    }
    // Alike ones stay in the order of the outline, so that the same record gives the same places.
    spots.sort_by(|a, b| b.0.total_cmp(&a.0));
    let walks: Vec<Option<Walk>> = piece.edges.iter().map(|e| path_from_text(&e.path).ok().map(|p| Walk::of(&p))).collect();
    let mut told: Vec<Worst> = Vec::new();
    for (out, edge, along) in spots {
        let Some(at) = walks[edge].as_ref().filter(|w| w.length() > 0.0).map(|w| w.at(along)) else { continue };
        if told.iter().any(|w| Point::from((w.at[0], w.at[1])).distance(at) < ONE) {
            continue;
        }
        let say = say(record, &piece.edges[edge].name, out, at);
        told.push(Worst { at: [at.x, at.y].map(|v| (v * 1e4).round() / 1e4), piece: number, edge, out_mm: out, say });
        if told.len() == TOLD {
            break;
        }
    }
    told
}

/// The point of an edge so far along its path, mm; none where that is no path.
pub fn point_along(path: &str, along: f64) -> Option<Point> {
    path_from_text(path).ok().map(|p| Walk::of(&p)).filter(|w| w.length() > 0.0).map(|w| w.at(along))
}

fn say(record: &Record, edge: &str, out: f64, at: Point) -> String {
    let near = |d: &&crate::write::DoubtRecord| d.place.is_some_and(|p| Point::from((p[0], p[1])).distance(at) < WHY);
    let told = record.doubts.iter().filter(near).min_by(|a, b| {
        let far = |d: &crate::write::DoubtRecord| d.place.map_or(f64::INFINITY, |p| Point::from((p[0], p[1])).distance(at));
        far(a).total_cmp(&far(b))
    });
    match told {
        Some(doubt) => doubt.say.clone(),
        None => format!("{edge} may be out by {out:.1} mm"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_worst_places_lie_apart_and_on_their_edges() {
        let mut record = Record::from_text(include_str!("../../tests/golden/outline.json")).expect("the golden record");
        let edge = record.pieces[0].edges.iter().position(|e| e.length_mm > 100.0).expect("a long edge");
        record.pieces[0].edges[edge].along = vec![[0.0, 0.2], [10.0, 0.9], [15.0, 0.8], [70.0, 0.5]];
        let found = worst(&record);
        let own: Vec<&Worst> = found.iter().filter(|w| w.edge == edge && w.piece == 0).collect();
        assert_eq!(own[0].out_mm, 0.9);
        assert!(own.iter().all(|w| w.out_mm != 0.8), "too near the worst");
        let start = point_along(&record.pieces[0].edges[edge].path, 0.0).expect("a start");
        assert!((start.distance(Point::from((own[0].at[0], own[0].at[1]))) - 10.0).abs() < 0.5);
        assert!(found.iter().filter(|w| w.piece == 0).count() <= TOLD);
    }
}
