//! What came of a picture that was traced, and its files.

use super::{Terms, WorkError, noted};
use crate::length::Mm;
use crate::shot::Shot;
use crate::straight::{Frame, mosaic};
use crate::trace::Tracing;
use crate::wardrobe::{FailedRecord, Job, Rests, replace};
use crate::write::{Evidence, GarmentPiece, Record, evidence, pieces, points, svg, write_together};
use serde_json::{Map, Value};
use std::path::Path;

/// Sheet shown round the pieces in the evidence picture, mm.
const EVIDENCE_MARGIN: f64 = 25.0;
/// Finest scale of the evidence picture, px per mm: more shows nothing new on a small piece.
const EVIDENCE_FINEST: f64 = 8.0;
/// Its longest side, px.
const EVIDENCE_LONGEST: usize = 1600;

/// A picture traced, now or before.
#[derive(Clone, Debug)]
pub struct Outcome {
    /// Its record.
    pub record: Record,
    /// Its pieces named and measured, none where there are no notes; or why that can't be.
    pub pieces: Result<Vec<GarmentPiece>, String>,
    /// Whether it took the place of another picture's tracing, which was kept.
    pub replaced: bool,
}

impl Outcome {
    /// The record of a tracing made with these settings, and what it rests on.
    ///
    /// # Errors
    /// The notes can't be read any more.
    pub fn of(tracing: &Tracing, settings: Map<String, Value>, rests: &Rests, (terms, job): (&Terms, &Job)) -> Result<Self, WorkError> {
        let mut record = Record::of(tracing, settings, tracing.profiles.clone());
        record.made_by.rests_on = Some(rests.on(record.sheet.number));
        Self::again(record, terms.notes.as_deref(), job)
    }

    /// Names and measures the pieces of a record by the notes that go with its picture.
    ///
    /// # Errors
    /// The notes can't be read any more.
    pub fn again(record: Record, notes: Option<&Path>, job: &Job) -> Result<Self, WorkError> {
        let pieces = match noted::file(notes, job) {
            Some(file) => {
                let (notes, _) = noted::whole(&file)?;
                pieces(&record, &noted::of(&notes, job), &notes).map_err(|e| format!("traced, but: {e}"))
            }
            None => Ok(Vec::new()),
        };
        Ok(Self { record, pieces, replaced: false })
    }

    /// Outline, drawing, points and evidence picture, each whole, the record last: where it is, the others are.
    ///
    /// # Errors
    /// A file can't be written.
    pub fn write(&mut self, tracing: &Tracing, shots: &[&Shot], folder: &Path) -> Result<(), WorkError> {
        let corners = tracing.extents().into_iter().flat_map(|b| [Mm::new(b.x0, b.y0), Mm::new(b.x1, b.y1)]);
        let frame = Frame::around(corners, EVIDENCE_MARGIN, EVIDENCE_FINEST, EVIDENCE_LONGEST).ok_or(WorkError::NoExtent)?;
        let views = std::iter::once(&tracing.view).chain(tracing.more.iter().map(|m| &m.view));
        let pictures: Vec<_> = shots.iter().copied().zip(views).collect();
        let straightened = mosaic(&pictures, &frame, tracing.thickness);
        let Evidence { picture, thumbnail } = evidence(straightened, frame, tracing, self.pieces.as_deref().unwrap_or_default())?;
        std::fs::create_dir_all(folder).map_err(|source| WorkError::Folder { folder: folder.into(), source })?;
        let kept = replace(folder, &mut self.record);
        self.replaced = kept.map_err(|source| WorkError::Earlier { folder: folder.into(), source })?;
        let at = |name: &str| folder.join(name);
        let (drawing, table, record) = (svg(tracing), points(tracing), self.record.to_text());
        write_together(&[
            (&at("evidence.jpg"), &picture),
            (&at("thumbnail.jpg"), &thumbnail),
            (&at("outline.svg"), drawing.as_bytes()),
            (&at("points.csv"), table.as_bytes()),
            (&at("outline.json"), record.as_bytes()),
        ])?;
        FailedRecord::forget(folder);
        Ok(())
    }
}
