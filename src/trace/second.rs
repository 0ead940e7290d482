//! A second sheet under the garment: its lines are not those of the first, so what it covers passes for cloth that the frame cuts off.

use super::plain::any_ruling;
use crate::cloth::{Cloth, Region};
use crate::grid::{self, Lattice};
use crate::length::Px;
use crate::proof::Proof;
use crate::shot::Shot;
use crate::view::View;

/// How near the frame cloth counts as cut by it, as a share of the picture's longer side.
const AT_FRAME: f64 = 0.01;
/// Squares this much larger or smaller than the first sheet's are another's.
const OTHER: f64 = 0.04;
/// Fewer nodes are chance.
const FEWEST: usize = 30;

/// Whether something that the frame cuts off is ruled, in squares that are not those of the sheet.
pub(super) fn lies_under(shot: &Shot, lattice: &Lattice, view: &View, cloth: &Cloth) -> bool {
    cloth.regions.iter().filter(|r| !r.cut_by.is_empty()).any(|r| ruled(shot, lattice, view, r).unwrap_or(false))
}

fn ruled(shot: &Shot, lattice: &Lattice, view: &View, region: &Region) -> Option<bool> {
    let [low, high] = along_frame(shot, region)?;
    let part = cropped(shot, low, high)?;
    let found = grid::find(&part, &any_ruling(), &grid::Settings::default(), &mut Proof::off()).ok().filter(|l| l.nodes.len() >= FEWEST)?;
    // Side by side: how large a square of either is at the same place.
    let ratios = found.nodes.iter().filter_map(|n| {
        let next = found.nodes.iter().find(|o| o.i == n.i + 1 && o.j == n.j)?;
        let [a, b] = [n.at, next.at].map(|p| view.to_mm(Px::new(p.x + low[0] as f64, p.y + low[1] as f64), 0.0));
        Some(a?.distance(b?) / lattice.pitch[0])
    });
    let mut ratios: Vec<f64> = ratios.collect();
    let usual = crate::solve::median(&mut ratios)?;
    // Every second or fifth line of the first sheet is the first sheet's still.
    let whole = [1.0, 2.0, 0.5, 5.0, 0.2].iter().any(|w| (usual / w - 1.0).abs() < OTHER);
    Some(!whole)
}

/// The box round the part of a region's rim that runs along the frame, in px of the picture; `None` when it is thin.
fn along_frame(shot: &Shot, region: &Region) -> Option<[[usize; 2]; 2]> {
    let (w, h) = (shot.width as f64, shot.height as f64);
    let near = AT_FRAME * w.max(h);
    let at = |p: &&Px| p.x < near || p.y < near || p.x > w - near || p.y > h - near;
    let cut: Vec<Px> = region.rim.iter().filter(at).copied().collect();
    let range = |of: fn(&Px) -> f64, most: f64| {
        let ends = cut.iter().map(of).fold([f64::INFINITY, f64::NEG_INFINITY], |r, v| [r[0].min(v), r[1].max(v)]);
        ends.map(|v| v.clamp(0.0, most) as usize)
    };
    let ([x0, x1], [y0, y1]) = (range(|p| p.x, w - 1.0), range(|p| p.y, h - 1.0));
    // Cut along one side only: as deep as it is long.
    let deep = |a: usize, b: usize, other: usize, most: usize| {
        if b - a >= near as usize * 2 {
            (a, b)
        } else if a == 0 || (a as f64) < near {
            (0, other.min(most))
        } else {
            (b.saturating_sub(other), b)
        }
    };
    let (wide, tall) = (x1.checked_sub(x0)?, y1.checked_sub(y0)?);
    let ((x0, x1), (y0, y1)) = (deep(x0, x1, tall, shot.width - 1), deep(y0, y1, wide, shot.height - 1));
    (x1 > x0 + 64 && y1 > y0 + 64).then_some([[x0, y0], [x1, y1]])
}

/// A part of a picture, by itself.
fn cropped(shot: &Shot, [x0, y0]: [usize; 2], [x1, y1]: [usize; 2]) -> Option<Shot> {
    let rows = (y0..=y1).map(|y| shot.rgb.get(3 * (y * shot.width + x0)..3 * (y * shot.width + x1 + 1)));
    let rgb: Vec<u8> = rows.collect::<Option<Vec<_>>>()?.concat();
    Some(Shot::from_rgb(x1 - x0 + 1, y1 - y0 + 1, rgb))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::cloth::Side;
    use crate::view::Model;

    /// Lines every 20 px, 10 mm, over the upper right of a picture, and a region that takes all of it in.
    fn scene() -> (Shot, View, Cloth) {
        let (w, h) = (900usize, 700usize);
        let on = |v: usize| v % 20 < 2;
        let light = |x: usize, y: usize| if x > 500 && y < 400 && (on(x) || on(y)) { 110 } else { 235 };
        let rgb = (0..w * h).flat_map(|k| [light(k % w, k / w); 3]).collect();
        let view = View::known(Model::Scan { matrix: [2.0, 0.0, 0.0, 2.0, 0.0, 0.0] }, w, h);
        let corners = [[500.0, 0.0], [899.0, 0.0], [899.0, 400.0], [500.0, 400.0]].map(|[x, y]| Px::new(x, y));
        let region = Region { rim: corners.to_vec(), holes: Vec::new(), cut_by: vec![Side::Right, Side::Top], area: 4e4 };
        (Shot::from_rgb(w, h, rgb), view, Cloth { regions: vec![region], ..Cloth::default() })
    }

    #[test]
    fn squares_of_another_size_are_another_sheets() {
        let (shot, view, cloth) = scene();
        let sheet = |pitch: f64| Lattice { pitch: [pitch; 2], ..Lattice::default() };
        assert!(lies_under(&shot, &sheet(25.4), &view, &cloth));
        // The sheet's own squares, or fifths of them, are no second sheet's; nor is cloth without any.
        assert!(!lies_under(&shot, &sheet(10.0), &view, &cloth) && !lies_under(&shot, &sheet(50.0), &view, &cloth));
        let blank = Shot::from_rgb(900, 700, vec![200; 3 * 900 * 700]);
        assert!(!lies_under(&blank, &sheet(25.4), &view, &cloth));
    }
}
