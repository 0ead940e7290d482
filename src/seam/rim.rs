//! The outer edge of a piece, or of a hole in it.

use super::band::Band;
use super::bridge::bridge;
use super::fine::{self, Found};
use super::guide::Guide;
use super::held::Held;
use super::marks::Marks;
use super::rough::Known;
use super::tones::{Cover, Tones};
use super::{SeamError, Settings, lamp, rough};
use crate::length::{Mm, Px};
use crate::path::{Flags, SeamPath, SeamPoint};
use crate::proof::Proof;
use crate::shot::Shot;
use crate::view::View;
use std::time::Instant;

/// Columns of the first band are taken from a path smoothed by this much, mm: pixel stairs go, corners stay.
const SMOOTH_ROUGH: f64 = 1.2;
/// The same for the second band, along the first answer, which is known to a quarter of a millimetre.
pub(super) const SMOOTH_FOUND: f64 = 1.2;
/// Where the first answer lies farther than this from the rough path, mm, over this length in all, mm, the rough path was
/// wrong (it cuts a corner off, say) and is searched along once more from the answer.
const FAR: f64 = 2.5;
const FAR_LENGTH: f64 = 2.0;
/// The second search reaches this part as far, so that no answer runs away from its rough path.
const AGAIN: f64 = 0.6;
/// In the second search edges are held against this many times the noise: in a narrow band the two sides tell, and the strongest edge
/// may be a stripe's or a shadow's, so that edges break ties only.
const FAINTER: f32 = 100.0;
/// Half the width of the second band, mm: enough of both sides to know their light.
pub(super) const FINE_REACH: f64 = 4.0;

/// Follows the edge of the cloth near `rough`, a closed polygon in px with the cloth on the right hand as one walks
/// (clockwise as seen round a piece, the other way round a hole), `height` mm above the sheet. Places that the settings lead it through are
/// left to [`super::through`].
///
/// # Errors
/// When the polygon has no extent or does not lie on the sheet as the view sees it.
pub fn rim(
    shot: &Shot,
    view: &View,
    marks: &Marks,
    rough: &[Px],
    height: f64,
    settings: &Settings,
    proof: &mut Proof,
) -> Result<SeamPath, SeamError> {
    let start = Instant::now();
    let points: Vec<Mm> = rough.iter().filter_map(|p| view.to_mm(*p, height)).collect();
    let middle = points.get(points.len() / 2).copied().ok_or(SeamError::NoPath)?;
    let pixel = 1.0 / view.px_per_mm(middle).max(1e-3);
    let (along, across) = steps(pixel);

    let mut guide = Guide::round(&points, along, SMOOTH_ROUGH).ok_or(SeamError::NoPath)?;
    let cover = Cover::new(marks, view, height, 0.7 * pixel);
    let held = Held::of(settings, view, height);
    let (mut tones, mut noise, mut lamp) = (None, None, None);
    for (look, reach) in [settings.reach_mm, AGAIN * settings.reach_mm].into_iter().enumerate() {
        let band = Band::unroll(shot, view, &guide, height, reach, across, &settings.hidden);
        if band.seen() < 0.3 {
            return Err(SeamError::OutOfPicture);
        }
        let mut found = Tones::measure(&band, &guide, &cover);
        let name = format!("rim_x{:.0}_y{:.0}_look{}", points[0].x, points[0].y, look + 1);
        let (mut offsets, level) = rough::find(&band, &guide, &found, &cover, Known { noise, held: &[] }, &name, proof);
        noise = level.map(|n| n * FAINTER);
        held.lead(&guide, &mut offsets);
        lamp = lamp::surer(lamp, lamp::seek(&band, &guide, &offsets, &cover, height));
        found.lamp = lamp;
        tones = Some(found);
        let far = offsets.iter().filter(|o| o.abs() > FAR).count();
        guide = Guide::round(&guide.shifted(&offsets), along, SMOOTH_FOUND).ok_or(SeamError::NoPath)?;
        if (far as f64) * along < FAR_LENGTH {
            break;
        }
    }
    let tones = tones.ok_or(SeamError::NoPath)?;
    proof.time("rim-search", start.elapsed());

    let start = Instant::now();
    let band = Band::unroll(shot, view, &guide, height, FINE_REACH, across, &settings.hidden);
    let found = fine::find(&band, &guide, view, height, &tones, &cover, settings);
    proof.time("rim-fit", start.elapsed());
    let mut path = bridge(path(view, &guide, height, &found), view, height, settings);
    held.obey(&mut path, view, height);
    Ok(path)
}

/// Distance of a band's columns and rows, mm, where a pixel has that size on the sheet.
pub(super) fn steps(pixel: f64) -> (f64, f64) {
    (pixel.clamp(0.1, 0.5), (0.5 * pixel).clamp(0.05, 0.25))
}

/// Points in sheet mm from offsets found along a guide.
pub(super) fn path(view: &View, guide: &Guide, height: f64, found: &[Found]) -> SeamPath {
    let points = found
        .iter()
        .map(|f| {
            let normal = guide.normal[f.column];
            let at = guide.at[f.column] + normal * f.offset;
            SeamPoint {
                at,
                normal,
                error: f.error,
                px: view.to_px(at, height),
                flags: Flags { rival: f.rival, unseen: f.unseen, cut: f.cut, by_hand: false },
            }
        })
        .collect();
    SeamPath { points, closed: guide.closed, correlation_mm: fine::CORRELATION }
}
