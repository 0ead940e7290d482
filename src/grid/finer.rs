//! Finer lines between the nodes found: where every n-th line is heavier, the heavy ones alone make a lattice too, and a
//! pitch taken for theirs would put every length out by n.

use super::map::SheetMap;
use super::ridge::Polarity;
use super::seek::Seen;
use crate::shot::Shot;
use std::collections::BTreeSet;

/// Into how many parts rulings are divided in use: inches into halves to eighths, centimetres into fives and tens.
const PARTS: [u32; 6] = [10, 8, 5, 4, 3, 2];
/// Most bare cells looked at; they are spread over the sheet.
const CELLS: usize = 160;
/// Of these so many are looked at first.
const PILOTS: usize = 32;
/// Fewest that can tell.
const FEWEST: usize = 6;
/// Places along a line that are averaged in one cell.
const STATIONS: usize = 15;
/// Finer lines nearer together than this run into one another, px.
const NEAREST: f64 = 4.0;
/// Every finer line must stand out by so many standard errors, and be this share as deep as the lines found.
const SURE: f64 = 4.0;
const DEEP: f64 = 0.08;

/// Into how many parts finer lines divide the squares between the nodes; `None` when there are none.
pub(super) fn parts(shot: &Shot, nodes: &[Seen], map: &SheetMap, polarity: Polarity) -> Option<u32> {
    let cells = bare(nodes);
    let cells: Vec<(i32, i32)> = cells.iter().copied().step_by(cells.len().div_ceil(CELLS).max(1)).collect();
    if cells.len() < FEWEST {
        return None;
    }
    let [i, j] = cells[cells.len() / 2].into();
    let [u, v] = map.frame(f64::from(i), f64::from(j))?;
    let pitch = u.norm().min(v.norm());
    PARTS.into_iter().find(|&n| pitch / f64::from(n) >= NEAREST && divided(shot, map, &cells, n, polarity))
}

/// Squares all of whose corners are seen, by their first corner.
pub(super) fn bare(nodes: &[Seen]) -> Vec<(i32, i32)> {
    let taken: BTreeSet<(i32, i32)> = nodes.iter().map(|n| n.0).collect();
    let bare = |&(i, j): &(i32, i32)| [(i + 1, j), (i, j + 1), (i + 1, j + 1)].iter().all(|a| taken.contains(a));
    taken.iter().copied().filter(bare).collect()
}

/// Whether each of the n - 1 lines that would divide the cells is there, along both axes together.
fn divided(shot: &Shot, map: &SheetMap, cells: &[(i32, i32)], n: u32, polarity: Polarity) -> bool {
    let depths = |cells: &mut dyn Iterator<Item = &(i32, i32)>| -> Vec<Vec<f64>> {
        cells.filter_map(|&cell| lines(shot, map, cell, n, polarity)).collect()
    };
    let all = |depths: &[Vec<f64>], good: &dyn Fn(f64, f64, f64) -> bool| {
        let found = depth(depths, 0).0;
        depths.len() >= FEWEST && (1..n as usize).map(|k| depth(depths, k)).all(|(mean, error)| good(mean, error, DEEP * found))
    };
    // Mostly there are none, and few cells tell so.
    let few = depths(&mut cells.iter().step_by(cells.len().div_ceil(PILOTS).max(1)));
    all(&few, &|mean, error, least| mean + SURE * error > least)
        && all(&depths(&mut cells.iter()), &|mean, error, least| mean > SURE * error && mean > least)
}

/// Mean over cells of how much line k differs, and its standard error.
fn depth(depths: &[Vec<f64>], k: usize) -> (f64, f64) {
    let count = depths.len() as f64;
    let mean = depths.iter().map(|d| d[k]).sum::<f64>() / count;
    let variance = depths.iter().map(|d| (d[k] - mean).powi(2)).sum::<f64>() / (count - 1.0);
    (mean, (variance / count).sqrt())
}

/// How much each line at k / n of a cell differs from the ground half a part to either side, in the logarithm of light;
/// the first is the line found itself. Positive for the wanted polarity.
fn lines(shot: &Shot, map: &SheetMap, (i, j): (i32, i32), n: u32, polarity: Polarity) -> Option<Vec<f64>> {
    let sign = if polarity == Polarity::Dark { 1.0 } else { -1.0 };
    let steps = 2 * n as usize + 1;
    let mut light = vec![0.0; steps];
    for station in 0..STATIONS {
        // Off every division of the other axis, so that its lines weigh on all places alike.
        let t = (station as f64 + 0.37) / STATIONS as f64;
        for (k, sum) in light.iter_mut().enumerate() {
            let f = (k as f64 - 1.0) / (2.0 * f64::from(n));
            for (x, y) in [(f, t), (t, f)] {
                let light = shot.luminance(map.at(f64::from(i) + x, f64::from(j) + y)?)?;
                *sum += f64::from(light.max(1e-3)).ln();
            }
        }
    }
    let samples = (2 * STATIONS) as f64;
    Some((0..n as usize).map(|k| sign * (0.5 * (light[2 * k] + light[2 * k + 2]) - light[2 * k + 1]) / samples).collect())
}
