//! What may be wrong with a lattice that is given all the same.

use super::Node;
use super::map::SheetMap;
use crate::length::Mm;
use crate::proof::Doubt;
use crate::sheet::SheetProfile;
use crate::shot::Shot;

/// Garments are photographed from farther than this and nearer than that, mm. The nearest a phone focuses well is about 100 mm; from
/// 5 m a millimetre is less than a pixel. (Common practice, no source.)
const DISTANCE: [f64; 2] = [100.0, 5000.0];
/// No garment is photographed from nearer than a hand's breadth, nor from across a hall, mm. (Common practice, no source.)
const POSSIBLE: std::ops::RangeInclusive<f64> = 60.0..=30_000.0;
/// A garment is mostly photographed from about here, mm: arm's length above a table. (Common practice, no source.)
const USUAL_AWAY: f64 = 800.0;
/// Focal length over the picture's long side when nobody wrote it: 26 mm equivalent over 36 mm.
const USUAL_FOCAL: f64 = 26.0 / 36.0;
/// A scan whose squares differ from the told pitch by more than this is of another ruling, or printed to another scale.
const SCAN_OFF: f64 = 0.03;
/// Fewer nodes carry a view badly.
const FEW: usize = 24;

/// Doubts about the pitch told and about how much of the sheet is seen.
pub fn doubts(shot: &Shot, profile: &SheetProfile, nodes: &[Node], map: &SheetMap) -> Vec<Doubt> {
    let mut out = Vec::new();
    if nodes.len() < FEW {
        let n = &nodes[nodes.len() / 2];
        let at = Mm::new(f64::from(n.i) * profile.pitch[0], f64::from(n.j) * profile.pitch[1]);
        out.push(Doubt::SheetBarelySeen { nodes: nodes.len(), at });
    }
    let Some(step) = step(map) else { return out };
    let pitch = (profile.pitch[0] * profile.pitch[1]).sqrt();
    match shot.tags.px_per_mm.filter(|_| !shot.tags.camera) {
        Some([x, y]) => {
            let seen = step / (x * y).sqrt();
            if (seen / pitch - 1.0).abs() > SCAN_OFF {
                out.push(Doubt::PitchLooksDifferent { told: pitch, seen: Some(seen), away: None });
            }
        }
        None => {
            let away = focal(shot) * pitch / step;
            if !(DISTANCE[0]..=DISTANCE[1]).contains(&away) {
                out.push(Doubt::PitchLooksDifferent { told: pitch, seen: None, away: Some(away) });
            }
        }
    }
    out
}

/// Pitch told and distance of the camera, mm, when no camera can have stood there. A picture that does not say it is from a camera may be
/// a scan, which knows no distance.
pub fn impossible(doubt: &Doubt, camera: bool) -> Option<(f64, f64)> {
    match doubt {
        Doubt::PitchLooksDifferent { told, away: Some(away), .. } if camera && !POSSIBLE.contains(away) => Some((*told, *away)),
        _ => None,
    }
}

/// Whether the pitch told is more likely that of finer lines, `parts` of which make one square of the lattice found: by the
/// profile, by a scan's resolution, or by how far away the camera would have been.
pub fn is_pitch_of_finer(shot: &Shot, profile: &SheetProfile, map: &SheetMap, parts: u32) -> bool {
    if let Some(every) = profile.heavy_every {
        return every == parts;
    }
    let Some(step) = step(map) else { return false };
    let pitch = (profile.pitch[0] * profile.pitch[1]).sqrt();
    let parts = f64::from(parts);
    // How many times too large the lattice found would be if its own squares had the pitch told.
    let off = match shot.tags.px_per_mm.filter(|_| !shot.tags.camera) {
        Some([x, y]) => step / (x * y).sqrt() / pitch,
        None => USUAL_AWAY / (focal(shot) * pitch / step),
    };
    (off / parts).ln().abs() < off.ln().abs()
}

/// Length of a square's side near the middle, px.
pub fn step(map: &SheetMap) -> Option<f64> {
    let [u, v] = map.frame(0.0, 0.0)?;
    Some((u.x * v.y - u.y * v.x).abs().sqrt())
}

fn focal(shot: &Shot) -> f64 {
    shot.tags.focal_px.unwrap_or(USUAL_FOCAL * shot.width.max(shot.height) as f64)
}
