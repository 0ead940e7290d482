//! The table round the sheet, and cloth that lies over the sheet's edge on to it.
//!
//! Whatever is neither bare sheet nor cloth lies outside the ruled part. Where one connected part reaches from inside
//! the ruling to well outside, the two ends are compared in colour: alike, it is one cloth (the picture just shows few
//! nodes there); unlike, the outside is told apart pixel by pixel (histograms and a cut: Boykov and Jolly 2001).

use super::contour::{self, Part};
use super::evidence::{CLEAR, Evidence};
use super::ground::Ground;
use super::label::Grid;
use super::light::SheetLight;
use rayon::prelude::*;

/// Squares beyond the seen nodes where the sheet must have ended or the picture does.
const BEYOND: f32 = 1.0;
/// Overlap of two colour histograms (0 to 1) from which both are the same stuff.
const ALIKE: f32 = 0.75;
/// Cells of a histogram along brightness and the two colours, and the width of one, natural logarithms.
const CELLS: usize = 24;
const WIDTH: f32 = 0.25;
/// Fewest pixels inside the ruling that make a part worth asking about.
const FEW: usize = 60;

/// Takes the table out of the labels. Returns places, in level px, where cloth goes over the sheet's edge.
pub(super) fn clear(ground: &Ground, light: &SheetLight, evidence: &Evidence, labels: &mut [bool]) -> Vec<[f64; 2]> {
    let width = ground.level.width;
    let (ids, parts) = contour::parts(labels, width);
    let mut over = Vec::new();
    for part in parts.iter().filter(|p| p.count >= FEW) {
        let zones = Zones::of(ground, &ids, part);
        if zones.outside.len() * 50 < zones.inside.len() {
            continue;
        }
        if zones.inside.len() < FEW {
            zones.all().for_each(|n| labels[n] = false);
            continue;
        }
        let (within, without) = (Histogram::of(ground, light, &zones.inside), Histogram::of(ground, light, &zones.outside));
        if within.overlap(&without) < ALIKE {
            tell_apart(ground, light, evidence, &zones, [&within, &without], labels);
        }
        over.extend(zones.crossing(ground, labels));
    }
    over
}

/// Pixels of a part inside the ruling, well outside it, and between.
struct Zones {
    inside: Vec<usize>,
    between: Vec<usize>,
    outside: Vec<usize>,
}

impl Zones {
    fn of(ground: &Ground, ids: &[u32], part: &Part) -> Self {
        let mut zones = Self { inside: Vec::new(), between: Vec::new(), outside: Vec::new() };
        let mut coords = Vec::new();
        for y in part.y[0]..part.y[1] {
            ground.row(y, &mut coords);
            for (x, &[a, b, ..]) in coords.iter().enumerate().take(part.x[1]).skip(part.x[0]) {
                let n = y * ground.level.width + x;
                if ids[n] != part.id {
                    continue;
                }
                if ground.within(a, b, 0.0) {
                    zones.inside.push(n);
                } else if ground.within(a, b, BEYOND) {
                    zones.between.push(n);
                } else {
                    zones.outside.push(n);
                }
            }
        }
        zones
    }

    fn all(&self) -> impl Iterator<Item = usize> + '_ {
        self.inside.iter().chain(&self.between).chain(&self.outside).copied()
    }

    /// Middle of what is still labelled beyond the ruling, when that is more than a fringe.
    fn crossing(&self, ground: &Ground, labels: &[bool]) -> Option<[f64; 2]> {
        let width = ground.level.width;
        let left = self.outside.iter().filter(|&&n| labels[n]).count();
        let near: Vec<usize> = self.between.iter().copied().filter(|&n| labels[n]).collect();
        if left < FEW || near.is_empty() {
            return None;
        }
        let sum = near.iter().fold([0.0; 2], |s, n| [s[0] + (n % width) as f64, s[1] + (n / width) as f64]);
        Some(sum.map(|s| s / near.len() as f64))
    }
}

/// Share of pixels by brightness and colour.
struct Histogram(Vec<f32>);

impl Histogram {
    fn cell(ground: &Ground, light: &SheetLight, n: usize) -> usize {
        let (x, y) = (n % ground.level.width, n / ground.level.width);
        let l = light.at_level(x as f32, y as f32);
        let r: [f32; 3] = std::array::from_fn(|k| super::evidence::ln((ground.level.rgb[n][k] + 0.002) / (l[k] + 0.002)));
        let bin = |v: f32| ((v / WIDTH + CELLS as f32 / 2.0).max(0.0) as usize).min(CELLS - 1);
        (bin(r[1] + 1.5) * CELLS + bin(r[0] - r[1])) * CELLS + bin(r[2] - r[1])
    }

    fn of(ground: &Ground, light: &SheetLight, pixels: &[usize]) -> Self {
        let mut share = vec![0f32; CELLS * CELLS * CELLS];
        let one = 1.0 / pixels.len().max(1) as f32;
        pixels.iter().for_each(|&n| share[Self::cell(ground, light, n)] += one);
        Self(share)
    }

    /// How much two have in common (Bhattacharyya 1943).
    fn overlap(&self, other: &Self) -> f32 {
        self.0.iter().zip(&other.0).map(|(a, b)| (a * b).sqrt()).sum()
    }
}

/// Labels only what is more like the inside's colours than like the table's. Inside the ruling nothing is table.
fn tell_apart(
    ground: &Ground,
    light: &SheetLight,
    evidence: &Evidence,
    zones: &Zones,
    [cloth, table]: [&Histogram; 2],
    labels: &mut [bool],
) {
    let (width, height) = (ground.level.width, ground.level.height);
    let mut lean = vec![0f32; width * height];
    let mut fixed = vec![-1i8; width * height];
    zones.inside.iter().for_each(|&n| (fixed[n], lean[n]) = (i8::from(evidence.lean[n] >= CLEAR), CLEAR));
    let rest: Vec<(usize, f32)> = zones
        .between
        .par_iter()
        .chain(&zones.outside)
        .map(|&n| {
            let cell = Histogram::cell(ground, light, n);
            // A thousandth keeps a colour never seen from being certain.
            (n, (0.5 * ((cloth.0[cell] + 1e-3) / (table.0[cell] + 1e-3)).ln()).clamp(-2.0, 2.0))
        })
        .collect();
    rest.iter().for_each(|&(n, by)| (fixed[n], lean[n]) = (0, by));
    let cut = Grid::plain(width, height, &lean).solve(&fixed);
    zones.all().for_each(|n| labels[n] = cut[n]);
}
