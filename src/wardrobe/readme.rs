//! How an archive is laid out, for whoever opens it in twenty years without this program.

use crate::write::{WriteError, write_whole};
use std::path::Path;

/// The page that stands in an archive's root.
pub const README: &str = "\
Outlines of garments, taken from pictures by ruboff
===================================================

Everything here is in plain files that need no program of ours. Lengths are in millimetres; text is UTF-8.

A picture has a folder named after it:

  outline.json    The record: pieces, corners, edges with their lengths and how far each may be out (bound_mm: 95 % of
                  the edge's places lie within it, as the garment lay); the sheet and the camera as they were found;
                  doubts in words. Paths are SVG path data (SVG 2, section 9.3), x to the right, y down.
  outline.svg     The same, drawn at true size, with a 100 mm square to check a print by.
  points.csv      The points that were found, before curves were drawn through them: where they are on the sheet, their
                  standard error across the line, where they were seen in the picture, and how.
  evidence.jpg    The straightened picture, dimmed, with what was found drawn on it. It is a derivative: the picture
                  that was taken is the master, and is named in outline.json with its BLAKE3 hash. Pictures are never
                  written to, and are not copied here.
  thumbnail.jpg   The evidence picture, small.
  review.json     What reviewers said of the tracing and which doubts they ticked off, by whom and when (UTC); not published.
  failed.json     Stands there where a picture could not be traced, and says why.
  earlier/        Tracings that a new picture of the same name took the place of, numbered as they were replaced;
                  outline.json says how far they differ (replaces).

A folder that is a garment also has

  garment.json    All that is known of it in one record: what the notes say, the pieces as found (raw, never
                  overwritten) and as drafted, edges, joins, measures, tape readings, doubts. Each value says how it
                  came to be known (seen, taped, noted, chosen, assumed), by whom and when.
  measures.csv    The flat measures as a table.

Two figures are kept apart everywhere: how far a line may be out from the garment as it lay (bound_mm), and how far two
layings of the garment differ (laid_mm; \"laid once\" where nobody laid it again).

In this folder

  report.html     All pictures, worst first, with what to do about them; report.csv is the same as a table.
  catalogue/      Pages to browse and record sheets to print, where somebody asked for them: begin with index.html.
                  hashes.txt lists every file with its BLAKE3 hash, as b3sum --check reads it from this folder;
                  supersedes.csv says which tracing took the place of which. All of it can be made anew.
  published/      The same with copies of what it links to, for others.

Hidden folders (.ruboff) hold locks, caches, and which calls made the archive from which folders (calls.json); they may be
deleted when no run goes on. The checking page then has to be told where the pictures lie.
";

/// Sees that the page stands in an archive's root. One that a person changed is left as it is.
///
/// # Errors
/// It can't be written.
pub fn keep_readme(root: &Path) -> Result<(), WriteError> {
    let place = root.join("README.txt");
    if place.exists() { Ok(()) } else { write_whole(&place, README.as_bytes()) }
}
