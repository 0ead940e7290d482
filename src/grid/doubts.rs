//! What may be wrong with a lattice that is given all the same.

use super::Node;
use super::map::SheetMap;
use crate::length::Mm;
use crate::proof::Doubt;
use crate::shot::Shot;

/// Garments are photographed from farther than this and nearer than that, mm. The nearest a phone focuses well is about 100 mm; from
/// 5 m a millimetre is less than a pixel. (Common practice, no source.)
const DISTANCE: [f64; 2] = [100.0, 5000.0];
/// No garment is photographed from nearer than a hand's breadth, nor from across a hall, mm. (Common practice, no source.)
const POSSIBLE: std::ops::RangeInclusive<f64> = 60.0..=30_000.0;
/// Focal length over the picture's long side when nobody wrote it: 26 mm equivalent over 36 mm.
const USUAL_FOCAL: f64 = 26.0 / 36.0;
/// A scan whose squares differ from the told pitch by more than this is of another ruling, or printed to another scale.
const SCAN_OFF: f64 = 0.03;
/// Fewer nodes carry a view badly.
const FEW: usize = 24;

/// Doubts about the pitch, mm, and about how much of the sheet is seen.
pub fn doubts(shot: &Shot, pitch: [f64; 2], nodes: &[Node], map: &SheetMap) -> Vec<Doubt> {
    let mut out = Vec::new();
    if nodes.len() < FEW {
        let n = &nodes[nodes.len() / 2];
        let at = Mm::new(f64::from(n.i) * pitch[0], f64::from(n.j) * pitch[1]);
        out.push(Doubt::SheetBarelySeen { nodes: nodes.len(), at });
    }
    let Some(step) = step(map) else { return out };
    let pitch = (pitch[0] * pitch[1]).sqrt();
    match shot.tags.px_per_mm.filter(|_| !shot.tags.camera) {
        Some([x, y]) => {
            let seen = step / (x * y).sqrt();
            if (seen / pitch - 1.0).abs() > SCAN_OFF {
                out.push(Doubt::PitchLooksDifferent { told: pitch, seen: Some(seen), away: None });
            }
        }
        None => {
            let Some(away) = away(shot, map, pitch) else { return out };
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

/// Length of a square's side near the middle, px.
pub fn step(map: &SheetMap) -> Option<f64> {
    let [u, v] = map.frame(0.0, 0.0)?;
    Some((u.x * v.y - u.y * v.x).abs().sqrt())
}

/// How far away the camera would have been if neighbouring nodes were `pitch` apart, mm.
pub fn away(shot: &Shot, map: &SheetMap, pitch: f64) -> Option<f64> {
    Some(focal(shot) * pitch / step(map)?)
}

fn focal(shot: &Shot) -> f64 {
    shot.tags.focal_px.unwrap_or(USUAL_FOCAL * shot.width.max(shot.height) as f64)
}
