//! The first, coarse answer: the best closed path through the whole band.
//!
//! The cost of a place asks two things: does everything outside look like sheet and everything inside like cloth (summed
//! across the whole column, each cell bounded), and does an edge with its contact shadow explain the light here better
//! than a smooth change would. The second is bounded low, for the strongest step is often a stripe or a hem. Edges that are
//! left over on the inside cost nothing, cloth is full of them; on the outside, where bare sheet is plain but for its
//! ruling, each costs: of white cloth on white paper little else can be seen than where the plain sheet begins.

use super::band::Band;
use super::course::{Field, Turns, best_course};
use super::drawn::Tables;
use super::edges::{WINDOW, edges};
use super::guide::Guide;
use super::tones::{Cover, Tones, luma};
use crate::proof::Proof;
use rayon::prelude::*;

/// Size of a search cell along and across, mm: about one and a half pixels, fine enough to start the fit from.
const CELL_ALONG: f64 = 0.5;
pub(super) const CELL_ACROSS: f64 = 0.25;
/// What an edge left over on the sheet costs, of what it would gain as the line.
const LEFT_OUT: f32 = 0.9;
/// An edge closer than this outside the line is the line's own blur and shadow, cells.
const OWN: usize = 3;
/// Price of turning, a corner at most: as much as a centimetre of edge that is seen half, or twenty cells of certain cloth.
const TURNS: Turns = Turns { radian: 160.0, most: 80.0 };
/// Price of lying 1 mm off the rough path, squared growth: breaks ties only.
const STRAY_PRICE: f32 = 0.08;

/// What is known before the search.
#[derive(Clone, Copy, Default)]
pub(super) struct Known<'a> {
    /// What a smooth change of light left on the bare sheet in an earlier, wider look: a narrow band hardly shows any.
    pub noise: Option<f32>,
    /// Points of the guide at which the line lies at an offset that a person gave, mm.
    pub held: &'a [(usize, f64)],
}

/// Dearer than any course that goes by what is seen, and small enough to be summed.
const BARRED: f32 = 1e6;
/// A held line may lie this many cells off the place given: a hand is no surer.
const HAND: usize = 1;

/// The band in search cells.
pub(super) struct Cells {
    pub columns: usize,
    pub rows: usize,
    /// Guide points a column.
    stride: usize,
    /// Offset of the first cell's middle, mm.
    pub first: f64,
    light: Vec<[f32; 3]>,
}

/// The offset of the line from the guide at each guide point, mm, to a quarter of a millimetre, and what a smooth change of light
/// leaves on the bare sheet.
///
/// `name` is the check picture's.
pub(super) fn find(
    band: &Band,
    guide: &Guide,
    tones: &Tones,
    cover: &Cover<'_>,
    known: Known<'_>,
    name: &str,
    proof: &mut Proof,
) -> (Vec<f64>, Option<f32>) {
    let cells = Cells::of(band, guide);
    let Seen { sides, tone, ruled } = Seen::of(&cells, guide, tones, cover);
    let (edge, noise) = edges(&cells, guide.closed, &tone, &ruled, known.noise);
    let mut cost = costs(&cells, &sides, &edge, &ruled);
    known.held.iter().for_each(|(point, offset)| cells.hold(&mut cost, *point, *offset));
    let heading: Vec<f64> =
        (0..cells.columns).map(|c| cells.middle(c, guide)).map(|k| guide.normal[k].x.atan2(-guide.normal[k].y)).collect();
    let slant = CELL_ACROSS / (cells.stride as f64 * guide.step);
    let path = best_course(&Field { cost: &cost, rows: cells.rows + 1, slant, heading: &heading, closed: guide.closed }, TURNS);
    proof.picture("seam", name, || Tables { light: &cells.light, sides: &sides, edge: &edge, rows: cells.rows, path: &path }.draw());
    let at = |c: usize| cells.first + (path[c] - 0.5) * CELL_ACROSS;
    let offsets = (0..guide.len())
        .map(|k| {
            let x = (k as f64 + 0.5) / cells.stride as f64 - 0.5;
            let (c, t) = (x.max(0.0) as usize, x.max(0.0).fract());
            let next = if guide.closed { (c + 1) % cells.columns } else { (c + 1).min(cells.columns - 1) };
            at(c.min(cells.columns - 1)) * (1.0 - t) + at(next) * t
        })
        .collect();
    (offsets, noise)
}

impl Cells {
    fn of(band: &Band, guide: &Guide) -> Self {
        let stride = ((CELL_ALONG / guide.step).round() as usize).max(1);
        let columns = guide.len().div_ceil(stride);
        let reach = band.half as f64 * band.across;
        let rows = (2.0 * reach / CELL_ACROSS) as usize;
        let first = -(rows as f64 - 1.0) / 2.0 * CELL_ACROSS;
        let row_of: Vec<Option<usize>> = (0..band.rows())
            .map(|r| (band.offset(r) - first) / CELL_ACROSS + 0.5)
            .map(|x| (x >= 0.0 && (x as usize) < rows).then_some(x as usize))
            .collect();
        let mut light = vec![[f32::NAN; 3]; columns * rows];
        light.par_chunks_mut(rows).enumerate().for_each(|(c, out)| {
            let mut sums = vec![([0f32; 3], 0f32); rows];
            for k in c * stride..((c + 1) * stride).min(guide.len()) {
                for (v, to) in band.column(k).iter().zip(&row_of).filter(|(v, _)| v[0].is_finite()) {
                    if let Some(r) = to {
                        (0..3).for_each(|i| sums[*r].0[i] += v[i]);
                        sums[*r].1 += 1.0;
                    }
                }
            }
            out.iter_mut().zip(&sums).filter(|(_, s)| s.1 > 0.0).for_each(|(o, s)| *o = s.0.map(|v| v / s.1));
        });
        Self { columns, rows, stride, first, light }
    }

    /// Bars every place of a point's column but those at an offset.
    fn hold(&self, cost: &mut [f32], point: usize, offset: f64) {
        let places = self.rows + 1;
        let place = ((offset - self.first) / CELL_ACROSS + 0.5).round().clamp(0.0, self.rows as f64) as usize;
        let column = (point / self.stride).min(self.columns - 1);
        let barred = cost[column * places..][..places].iter_mut().enumerate().filter(|(r, _)| r.abs_diff(place) > HAND);
        barred.for_each(|(_, c)| *c = BARRED);
    }

    /// Offset of the middle of a row, mm.
    fn offset(&self, row: usize) -> f64 {
        self.first + row as f64 * CELL_ACROSS
    }

    /// The guide's point in the middle of a column.
    fn middle(&self, column: usize, guide: &Guide) -> usize {
        (column * self.stride + self.stride / 2).min(guide.len() - 1)
    }
}

/// What the cells look like.
struct Seen {
    /// How much rather each is cloth than sheet, bounded.
    sides: Vec<f32>,
    /// Square root of luminance with the known ruling taken off as if all were sheet.
    tone: Vec<f32>,
    /// Share of ruling.
    ruled: Vec<f32>,
}

impl Seen {
    fn of(cells: &Cells, guide: &Guide, tones: &Tones, cover: &Cover<'_>) -> Self {
        let (rows, n) = (cells.rows, cells.light.len());
        let (mut sides, mut tone, mut ruled) = (vec![0f32; n], vec![0f32; n], vec![0f32; n]);
        let columns = sides.par_chunks_mut(rows).zip(tone.par_chunks_mut(rows)).zip(ruled.par_chunks_mut(rows));
        columns.enumerate().for_each(|(c, ((sides, tone), ruled))| {
            let k = cells.middle(c, guide);
            let beside = tones.beside(k);
            let paper = tones.paper[k];
            let ink = luma(std::array::from_fn(|i| paper[i] * tones.ink[i])) / luma(paper).max(1e-3);
            for r in 0..rows {
                let (light, offset) = (cells.light[c * rows + r], cells.offset(r));
                ruled[r] = cover.at(guide.at[k] + guide.normal[k] * offset);
                if !light[0].is_finite() {
                    // Nothing seen: neither side; a line that leaves the picture stays at its border.
                    sides[r] = if offset < 0.0 { 0.05 } else { -0.05 };
                    continue;
                }
                let looks = beside.looks(light);
                sides[r] = beside.cloth_over_sheet(&looks, ruled[r]);
                let share = ruled[r].max(looks.print());
                tone[r] = (luma(light) / (1.0 + (ink - 1.0) * share).max(0.03)).max(0.0).sqrt();
            }
        });
        Self { sides, tone, ruled }
    }
}

/// For each column the cost of the line lying before cell 0, between cells 0 and 1, … after the last.
fn costs(cells: &Cells, sides: &[f32], edge: &[f32], ruled: &[f32]) -> Vec<f32> {
    let (rows, places) = (cells.rows, cells.rows + 1);
    let mut cost = vec![0f32; cells.columns * places];
    cost.par_chunks_mut(places).enumerate().for_each(|(c, out)| {
        let (edge, sides) = (&edge[c * places..][..places], &sides[c * rows..][..rows]);
        let outside = left_outside(edge, &beside_ruling(ruled, rows, c));
        let mut sum = 0.0;
        for r in 0..=rows {
            let offset = cells.offset(r) - 0.5 * CELL_ACROSS;
            out[r] = sum - edge[r] + LEFT_OUT * outside[(r + OWN).min(rows)] + STRAY_PRICE * (offset * offset) as f32;
            // Crossing a cell that looks like cloth gains, crossing one that looks like sheet costs.
            sum -= sides.get(r).copied().unwrap_or(0.0);
        }
    });
    cost
}

/// The most ruling in the window of each place of a column and its neighbours: an edge there may be ink that lies beside its
/// place in the model, and is not held against the sheet.
fn beside_ruling(ruled: &[f32], rows: usize, column: usize) -> Vec<f32> {
    let columns = ruled.len() / rows;
    let near = column.saturating_sub(2)..(column + 3).min(columns);
    let most: Vec<f32> = (0..rows).map(|r| near.clone().map(|c| ruled[c * rows + r]).fold(0.0, f32::max).min(1.0)).collect();
    (0..=rows).map(|r| most[r.saturating_sub(WINDOW)..(r + WINDOW).min(rows)].iter().copied().fold(0.0, f32::max)).collect()
}

/// For each place the strengths of the edges from there outwards, each peak counted once, those beside ruling less.
fn left_outside(edge: &[f32], ruling: &[f32]) -> Vec<f32> {
    let mut out = vec![0.0; edge.len()];
    let mut sum = 0.0;
    for r in (0..edge.len()).rev() {
        let near = r.saturating_sub(2)..(r + 3).min(edge.len());
        if edge[r] > 0.0 && edge[near].iter().all(|e| *e <= edge[r]) {
            sum += edge[r] * (1.0 - ruling[r]);
        }
        out[r] = sum;
    }
    out
}
