//! Moves a rough outline to where the light is half cloth, half sheet, wherever the two differ clearly enough.
//!
//! The labels lean outwards, since a pixel with a little cloth in it does not look like sheet any more. Across the
//! outline the light is read in linear values, cloth well inside, sheet well outside, and the outline goes where it
//! has come half of the way.

use super::evidence::Evidence;
use super::ground::Ground;
use crate::sheet::SheetKind;
use crate::solve::median;

/// How far the outline may be moved either way, level px; beyond it something else is seen.
const REACH: f32 = 2.5;
/// Places read across the outline on each side.
const STEPS: i32 = 10;
/// Least difference between cloth and sheet that is worth following, natural logarithm of light.
const LEAST: f32 = 0.12;

/// The outline with each point moved along its normal.
pub(super) fn refine(ground: &Ground, evidence: &Evidence, line: &[[f64; 2]]) -> Vec<[f64; 2]> {
    let n = line.len();
    let normals: Vec<[f64; 2]> = (0..n).map(|k| normal(line, k)).collect();
    let moves: Vec<Option<f64>> = (0..n).map(|k| half_way(ground, evidence, line[k], normals[k])).collect();
    (0..n)
        .map(|k| {
            // The middle one of the neighbours' moves: single points are led astray by stitches and ruled lines.
            let mut near: Vec<f64> = (0..9).filter_map(|q| moves[(k + n + q - 4) % n]).collect();
            let by = if near.len() >= 3 { median(&mut near).unwrap_or_default() } else { 0.0 };
            [line[k][0] + by * normals[k][0], line[k][1] + by * normals[k][1]]
        })
        .collect()
}

/// Unit normal out of the cloth, for lines that keep it on their right.
fn normal(line: &[[f64; 2]], k: usize) -> [f64; 2] {
    let n = line.len();
    let (a, b) = (line[(k + n - 3 % n) % n], line[(k + 3) % n]);
    let (dx, dy) = (b[0] - a[0], b[1] - a[1]);
    let d = dx.hypot(dy).max(1e-9);
    [dy / d, -dx / d]
}

/// Distance along the normal to where the light is half of each; `None` where cloth and sheet are too alike.
fn half_way(ground: &Ground, evidence: &Evidence, p: [f64; 2], normal: [f64; 2]) -> Option<f64> {
    let at = |t: f32| {
        let (x, y) = (p[0] as f32 + t * normal[0] as f32, p[1] as f32 + t * normal[1] as f32);
        ground.sample(x, y)
    };
    let (cloth, sheet) = (at(-REACH - 0.5)?, at(REACH + 0.5)?);
    let far = (0..3).map(|k| ((cloth[k] + 0.002) / (sheet[k] + 0.002)).ln().abs()).fold(0.0, f32::max);
    let well_out = (p[0] as f32 + (REACH + 0.5) * normal[0] as f32, p[1] as f32 + (REACH + 0.5) * normal[1] as f32);
    if far < LEAST || evidence.other_at(well_out.0, well_out.1) {
        return None;
    }
    // A checker changes its light under every mark, so nothing can be told near one.
    if ground.kind == SheetKind::Checker
        && [0.0, REACH, 2.0 * REACH]
            .iter()
            .any(|&t| ground.near_mark(p[0] as f32 + t * normal[0] as f32, p[1] as f32 + t * normal[1] as f32))
    {
        return None;
    }
    let step: [f32; 3] = std::array::from_fn(|k| cloth[k] - sheet[k]);
    let size = step.iter().map(|v| v * v).sum::<f32>().max(1e-9);
    let share = |t: f32| at(t).map(|v| (0..3).map(|k| (v[k] - sheet[k]) * step[k]).sum::<f32>() / size);
    // From outside inwards: the first place where half is reached.
    let mut before = 0.0;
    for k in (-STEPS..=STEPS).rev() {
        let t = k as f32 * REACH / STEPS as f32;
        let now = share(t)?;
        if now >= 0.5 && before < 0.5 {
            return Some(f64::from(t + REACH / STEPS as f32 * (now - 0.5) / (now - before)));
        }
        before = now;
    }
    None
}
