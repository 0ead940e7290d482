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
    let Some([u, v]) = map.frame(0.0, 0.0) else { return out };
    let step = (u.x * v.y - u.y * v.x).abs().sqrt();
    let pitch = (profile.pitch[0] * profile.pitch[1]).sqrt();
    match shot.tags.px_per_mm.filter(|_| !shot.tags.camera) {
        Some([x, y]) => {
            let seen = step / (x * y).sqrt();
            if (seen / pitch - 1.0).abs() > SCAN_OFF {
                out.push(Doubt::PitchLooksDifferent { told: pitch, seen: Some(seen), away: None });
            }
        }
        None => {
            let focal = shot.tags.focal_px.unwrap_or(USUAL_FOCAL * shot.width.max(shot.height) as f64);
            let away = focal * pitch / step;
            if !(DISTANCE[0]..=DISTANCE[1]).contains(&away) {
                out.push(Doubt::PitchLooksDifferent { told: pitch, seen: None, away: Some(away) });
            }
        }
    }
    out
}
