//! Pieces from records: what was traced once is drafted from the file, without its picture.

use super::json::{BuckleRecord, PictureRecord, PieceRecord, Record, ViewRecord};
use super::path_text::path_from_text;
use crate::length::{Mm, Px};
use crate::notes::Spot;
use crate::outline::signed_area;
use crate::piece::{Corner, Edge, How, Inner, Layer, LayerError, Line, alike};
use crate::solve::Surface;
use crate::view::{Buckle, Lens, Model, View};
use kurbo::BezPath;
use nalgebra::Matrix3;

/// Why a record's piece can't be drafted from.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum FoundError {
    /// A path is no path data.
    #[error("the path of {what} of {piece} can't be read: {why}")]
    Path {
        /// The piece.
        piece: String,
        /// The edge, seam or hole.
        what: String,
        /// What was met.
        why: kurbo::SvgParseError,
    },
    /// The edges make no closed piece.
    #[error("{piece}: {why}")]
    Layer {
        /// The piece.
        piece: String,
        /// Why.
        why: LayerError,
    },
    /// It runs the other way round.
    #[error("the outline of {piece} runs anticlockwise; outlines run clockwise as seen, so the file was changed or mirrored by hand")]
    Backwards {
        /// The piece.
        piece: String,
    },
}

/// The lines of a record's piece as they were found.
///
/// # Errors
/// Paths that are no path data, edges that do not join, an outline that runs anticlockwise.
pub fn as_found(piece: &PieceRecord) -> Result<Layer, FoundError> {
    let path = |what: &str, text: &str| -> Result<BezPath, FoundError> {
        path_from_text(text).map_err(|why| FoundError::Path { piece: piece.name.clone(), what: what.into(), why })
    };
    let corner = |c: &super::json::CornerRecord| Corner { name: c.name.clone(), at: Mm::from(c.at), error: Some(c.error_mm) };
    let edges = piece.edges.iter().map(|e| {
        let line = match e.line.as_str() {
            "seam" => Line::Seam,
            "fold" => Line::Fold,
            "cut" => Line::Cut,
            _ => Line::Rim,
        };
        // An edge that was moved in by a width that a person told was not seen there; along the frame there was nothing to see.
        let how = match (e.found.as_str(), line) {
            (_, Line::Cut) => How::Assumed,
            ("offset" | "hand", _) => How::Noted,
            // Somebody asked for it to be made of several tracings.
            ("derived", _) => How::Chosen,
            _ => How::Seen,
        };
        Ok(Edge { name: e.name.clone(), path: path(&e.name, &e.path)?, line, how, bound: e.bound_mm })
    });
    let inner = piece.inner.iter().map(|i| Ok(Inner { name: i.name.clone(), path: path(&i.name, &i.path)?, bound: Some(i.bound_mm) }));
    let layer = Layer {
        corners: piece.corners.iter().map(corner).collect(),
        edges: edges.collect::<Result<_, FoundError>>()?,
        inner: inner.collect::<Result<_, FoundError>>()?,
        holes: piece.holes.iter().map(|h| path("a hole", h)).collect::<Result<_, _>>()?,
    };
    layer.check().map_err(|why| FoundError::Layer { piece: piece.name.clone(), why })?;
    if signed_area(&layer.outline()) < 0.0 {
        return Err(FoundError::Backwards { piece: piece.name.clone() });
    }
    Ok(layer)
}

/// Where a place of the notes is on the sheet that only the picture knows: at a mark, or in its pixels.
pub fn spot_at(record: &Record, spot: &Spot) -> Option<Mm> {
    match spot {
        Spot::Named(name) => record.marks.iter().find(|m| m.name.as_deref().is_some_and(|n| alike(n, name))).map(|m| Mm::from(m.at)),
        Spot::Px(px) => views(record)?.first()?.to_mm(*px, record.views.first()?.thickness_mm),
        Spot::Mm(_) | Spot::OnEdge(_) => None,
    }
}

/// The maps between pictures and sheet that a record tells of, without what they are not known to; `None` where one lacks a figure.
pub fn views(record: &Record) -> Option<Vec<View>> {
    let view = |(told, picture): (&ViewRecord, &PictureRecord)| {
        let model = match told.matrix {
            Some(matrix) => Model::Scan { matrix },
            None => {
                let (centre, d) = (told.centre_px?, told.distortion.as_ref()?);
                let lens = Lens { focal: told.focal_px?, centre: Px::new(centre[0], centre[1]), k1: d.k1, k2: d.k2, p1: d.p1, p2: d.p2 };
                Model::Pinhole { lens, rotation: Matrix3::from_row_slice(&told.rotation?), translation: told.translation_mm?.into() }
            }
        };
        let buckle = match &told.buckle {
            Some(b) => Some(buckle_of(b)?),
            None => None,
        };
        Some(View { buckle, ..View::known(model, picture.width_px, picture.height_px) })
    };
    record.views.iter().zip(&record.pictures).map(view).collect()
}

fn buckle_of(told: &BuckleRecord) -> Option<Buckle> {
    let coefficients = told.out_mm.iter().map(|&c| c.into()).collect();
    Buckle::of(Surface { origin: told.origin_mm.into(), step: told.step_mm, spans: told.spans, coefficients })
}

#[cfg(test)]
mod tests {
    use super::super::Record;
    use super::*;

    fn golden() -> Record {
        let text = include_str!("../../tests/golden/outline.json");
        Record::from_text(text).expect("the golden record")
    }

    #[test]
    fn a_record_gives_back_its_pieces() {
        let record = golden();
        for piece in &record.pieces {
            let layer = as_found(piece).unwrap_or_else(|e| panic!("{e}"));
            assert_eq!((layer.corners.len(), layer.edges.len()), (piece.corners.len(), piece.edges.len()));
            for (e, told) in layer.edges.iter().zip(&piece.edges) {
                // Paths are kept to 0.0001 mm.
                assert!((e.length() - told.length_mm).abs() < 0.002, "{}", e.name);
            }
            assert!(piece.area_mm2.is_none_or(|a| (layer.area() / a - 1.0).abs() < 1e-5));
            assert!(piece.perimeter_mm.is_none_or(|p| (layer.perimeter() / p - 1.0).abs() < 1e-5));
        }
    }

    #[test]
    fn a_buckled_sheet_is_read_back_or_refused() {
        let mut record = golden();
        let out_mm = (0..20).map(|k| [0.1 * f64::from(k % 4), -0.05]).collect();
        record.views[0].buckle = Some(BuckleRecord { origin_mm: [-100.0, -80.0], step_mm: 150.0, spans: [1, 2], out_mm });
        let view = &views(&record).expect("views")[0];
        let at = Mm::new(-30.0, 40.0);
        let back = view.to_mm(view.to_px(at, 1.0), 1.0).expect("on the sheet");
        assert!(back.distance(at) < 1e-6 && view.buckle.is_some());
        for spoil in
            [|b: &mut BuckleRecord| b.spans = [0, 2], |b: &mut BuckleRecord| b.step_mm = 0.0, |b: &mut BuckleRecord| b.out_mm.truncate(7)]
        {
            let mut spoilt = record.clone();
            spoilt.views[0].buckle.as_mut().into_iter().for_each(spoil);
            assert!(views(&spoilt).is_none());
        }
    }

    #[test]
    fn spoilt_records_are_refused() {
        let mut piece = golden().pieces.remove(0);
        piece.edges[0].path.push_str(" X");
        assert!(matches!(as_found(&piece), Err(FoundError::Path { .. })));
        let mut piece = golden().pieces.remove(0);
        let _ = piece.edges.pop();
        assert!(matches!(as_found(&piece), Err(FoundError::Layer { .. })));
    }
}
