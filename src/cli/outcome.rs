//! What came of a picture that was traced, and its files.

use super::jobs::Job;
use super::noted;
use crate::length::Mm;
use crate::shot::Shot;
use crate::straight::{Frame, mosaic};
use crate::trace::{GarmentPiece, Tracing, pieces};
use crate::write::{Record, evidence, svg, write_whole};
use anyhow::{Context, anyhow};
use serde_json::{Map, Value};
use std::path::Path;

/// Sheet shown round the pieces in the evidence picture, mm.
const EVIDENCE_MARGIN: f64 = 25.0;
/// Finest scale of the evidence picture, px per mm: more shows nothing new on a small piece.
const EVIDENCE_FINEST: f64 = 8.0;
/// Its longest side, px.
const EVIDENCE_LONGEST: usize = 1600;

/// A picture traced.
pub(super) struct Outcome {
    pub tracing: Tracing,
    /// What was asked for.
    pub settings: Map<String, Value>,
    /// Its pieces named and measured, none where there are no notes; or why that can't be.
    pub pieces: Result<Vec<GarmentPiece>, String>,
}

impl Outcome {
    /// Names and measures the pieces of a tracing by the notes that go with its picture.
    ///
    /// # Errors
    /// The notes can't be read any more.
    pub fn of(tracing: Tracing, settings: Map<String, Value>, notes: Option<&Path>, job: &Job) -> anyhow::Result<Self> {
        let pieces = match noted::file(notes, job) {
            Some(file) => {
                let (notes, _) = noted::whole(&file)?;
                pieces(&tracing, &noted::of(&notes, job), &notes).map_err(|e| format!("traced, but: {e}"))
            }
            None => Ok(Vec::new()),
        };
        Ok(Self { tracing, settings, pieces })
    }

    /// Outline, drawing and evidence picture, each whole, the record last: where it is, the others are.
    ///
    /// # Errors
    /// A file can't be written.
    pub fn write(&self, shots: &[&Shot], folder: &Path) -> anyhow::Result<()> {
        let tracing = &self.tracing;
        let corners = tracing.extents().into_iter().flat_map(|b| [Mm::new(b.x0, b.y0), Mm::new(b.x1, b.y1)]);
        let frame = Frame::around(corners, EVIDENCE_MARGIN, EVIDENCE_FINEST, EVIDENCE_LONGEST)
            .ok_or_else(|| anyhow!("the outlines have no extent to draw; please report it with the picture"))?;
        let views = std::iter::once(&tracing.view).chain(tracing.more.iter().map(|m| &m.view));
        let pictures: Vec<_> = shots.iter().copied().zip(views).collect();
        let straightened = mosaic(&pictures, &frame, tracing.thickness);
        let picture = evidence(straightened, frame, tracing, self.pieces.as_deref().unwrap_or_default())?;
        let record = Record::of(tracing, self.settings.clone(), tracing.profiles.clone());
        std::fs::create_dir_all(folder)
            .with_context(|| format!("cannot make the folder {}; choose another with --out", folder.display()))?;
        write_whole(&folder.join("evidence.jpg"), &picture)?;
        write_whole(&folder.join("outline.svg"), svg(tracing).as_bytes())?;
        write_whole(&folder.join("outline.json"), record.to_text().as_bytes())?;
        Ok(())
    }
}
