//! What one picture shows of the sheet, sampled at equal parts of its squares: where cloth lies, and what can be told of the cloth's own look.
//!
//! Ruled lines look alike from square to square and say nothing of which is which, so only cloth speaks: its outline, and its tone once
//! light that changes slowly is taken out.

use crate::length::Mm;
use crate::path::SeamPath;
use crate::shot::Shot;
use crate::view::View;
use nalgebra::Vector2;
use rayon::prelude::*;

/// Samples are about so far apart, mm, and coarse ones.
const FINE: f64 = 2.0;
const COARSE: f64 = 10.0;
/// Nearer to the rim than this, mm, a sample counts as neither cloth nor sheet.
const UNSURE_MM: f64 = 4.0;
/// The frame's last pixels, which rims are bent towards, are not looked at: px, and mm.
const FRAME: (f64, f64) = (12.0, 4.0);
/// Light that is alike over so far to either side is taken out, mm.
const SLOW: f64 = 16.0;
/// More samples than this are not taken, so that a glance along the table can't fill the memory.
const MOST: usize = 6_000_000;
/// Cells for looking up rim points, in mm.
const CELL: f64 = 8.0;

/// What a sample shows.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(super) enum Shows {
    #[default]
    Nothing,
    Unsure,
    Sheet,
    Cloth,
}

/// A point of a rim, in squares, with its outward normal (mm axes).
#[derive(Clone, Copy, Debug)]
pub(super) struct RimPoint {
    pub at: Vector2<f64>,
    pub normal: Vector2<f64>,
}

/// The picture's content in the addresses of its own lattice.
pub(super) struct Content {
    pub pitch: [f64; 2],
    /// Samples a square, and every how many of them is a coarse one.
    pub per: i32,
    pub coarse: i32,
    low: [i32; 2],
    size: [usize; 2],
    shows: Vec<Shows>,
    /// Logarithm of the light less its slow part; NaN where it is not surely cloth.
    tone: Vec<f32>,
    pub rim: Vec<RimPoint>,
    cells: std::collections::BTreeMap<(i32, i32), Vec<usize>>,
}

impl Content {
    /// Samples a picture; `rims` are the outlines in it, cut or not, and `holes` those in them, at `height` mm.
    pub fn of(shot: &Shot, view: &View, pitch: [f64; 2], height: f64, (rims, holes): (&[&SeamPath], &[&SeamPath])) -> Option<Self> {
        let mean = 0.5 * (pitch[0] + pitch[1]);
        let coarse_per = (mean / COARSE).round().max(1.0) as i32;
        let coarse = (mean / f64::from(coarse_per) / FINE).round().max(1.0) as i32;
        let per = coarse_per * coarse;
        let (low, high) = footprint(view, shot, height, pitch)?;
        let low = low.map(|v| (v * f64::from(per)).floor() as i32);
        let size = [0, 1].map(|k| ((high[k] * f64::from(per)).ceil() as i32 - low[k] + 1).max(1) as usize);
        if size[0].checked_mul(size[1])? > MOST {
            return None;
        }
        let mut content = Self {
            pitch,
            per,
            coarse,
            low,
            size,
            shows: vec![Shows::Nothing; size[0] * size[1]],
            tone: vec![f32::NAN; size[0] * size[1]],
            rim: Vec::new(),
            cells: std::collections::BTreeMap::new(),
        };
        content.look(shot, view, height, rims, holes);
        content.rims(rims);
        Some(content)
    }

    fn square(&self, at: Mm) -> Vector2<f64> {
        Vector2::new(at.x / self.pitch[0], at.y / self.pitch[1])
    }

    fn look(&mut self, shot: &Shot, view: &View, height: f64, rims: &[&SeamPath], holes: &[&SeamPath]) {
        let per = f64::from(self.per);
        let polygons: Vec<Vec<Vector2<f64>>> = rims
            .iter()
            .chain(holes)
            .map(|p| {
                p.points.iter().map(|p| self.square(p.at) * per - Vector2::new(f64::from(self.low[0]), f64::from(self.low[1]))).collect()
            })
            .collect();
        let (pitch, low, w) = (self.pitch, self.low, self.size[0]);
        let frame = |p: crate::length::Px, at: Mm| {
            let m = FRAME.0.max(FRAME.1 * view.px_per_mm(at));
            p.x >= m && p.y >= m && p.x <= shot.width as f64 - 1.0 - m && p.y <= shot.height as f64 - 1.0 - m
        };
        self.shows.par_chunks_mut(w).zip(self.tone.par_chunks_mut(w)).enumerate().for_each(|(row, (shows, tone))| {
            let inside = crossings(&polygons, row as f64);
            for (column, (shows, tone)) in shows.iter_mut().zip(tone.iter_mut()).enumerate() {
                let x = f64::from(low[0] + column as i32) / per * pitch[0];
                let y = f64::from(low[1] + row as i32) / per * pitch[1];
                let at = Mm::new(x, y);
                let px = view.to_px(at, height);
                if !px.is_finite() || !frame(px, at) {
                    continue;
                }
                let cloth = inside.partition_point(|c| *c <= column as f64) % 2 == 1;
                *shows = if cloth { Shows::Cloth } else { Shows::Sheet };
                if cloth {
                    let step = ((view.px_per_mm(at) * pitch[0] / per / 3.0).round() as usize).clamp(1, 8);
                    let light = shot.mean::<3>(px, step).map(|c| 0.2126 * c[0] + 0.7152 * c[1] + 0.0722 * c[2]);
                    *tone = light.map_or(f32::NAN, |l| (l + 0.002).ln());
                }
            }
        });
        self.blur_rims(&polygons);
        self.calm();
    }

    /// Samples about the rims are unsure.
    fn blur_rims(&mut self, polygons: &[Vec<Vector2<f64>>]) {
        let step = 0.5 * (self.pitch[0] + self.pitch[1]) / f64::from(self.per);
        let reach = (UNSURE_MM / step).ceil() as i32;
        for p in polygons.iter().flatten() {
            let (x, y) = (p.x.round() as i32, p.y.round() as i32);
            for v in (y - reach).max(0)..=(y + reach).min(self.size[1] as i32 - 1) {
                for u in (x - reach).max(0)..=(x + reach).min(self.size[0] as i32 - 1) {
                    let k = v as usize * self.size[0] + u as usize;
                    if self.shows[k] != Shows::Nothing {
                        self.shows[k] = Shows::Unsure;
                        self.tone[k] = f32::NAN;
                    }
                }
            }
        }
    }

    /// Takes the slow part out of the tone: the mean over a box of what is cloth.
    fn calm(&mut self) {
        let [w, h] = self.size;
        let step = 0.5 * (self.pitch[0] + self.pitch[1]) / f64::from(self.per);
        let reach = (SLOW / step).round().max(1.0) as usize;
        // Sums over all samples above and left of each.
        let mut sums = vec![(0.0f64, 0.0f64); (w + 1) * (h + 1)];
        for y in 0..h {
            let mut row = (0.0, 0.0);
            for x in 0..w {
                let t = self.tone[y * w + x];
                if t.is_finite() {
                    row = (row.0 + f64::from(t), row.1 + 1.0);
                }
                let above = sums[y * (w + 1) + x + 1];
                sums[(y + 1) * (w + 1) + x + 1] = (above.0 + row.0, above.1 + row.1);
            }
        }
        for y in 0..h {
            for x in 0..w {
                let k = y * w + x;
                if !self.tone[k].is_finite() {
                    continue;
                }
                let (x0, x1) = (x.saturating_sub(reach), (x + reach + 1).min(w));
                let (y0, y1) = (y.saturating_sub(reach), (y + reach + 1).min(h));
                let at = |x: usize, y: usize| sums[y * (w + 1) + x];
                let (a, b, c, d) = (at(x0, y0), at(x1, y0), at(x0, y1), at(x1, y1));
                let (sum, n) = (d.0 - b.0 - c.0 + a.0, d.1 - b.1 - c.1 + a.1);
                self.tone[k] -= (sum / n.max(1.0)) as f32;
            }
        }
    }

    /// Keeps the rims' points that were seen, to be found again by where they are.
    fn rims(&mut self, rims: &[&SeamPath]) {
        for p in rims.iter().flat_map(|r| &r.points).filter(|p| !p.flags.cut && !p.flags.unseen) {
            let at = self.square(p.at);
            if self.deep(at) {
                let cell = self.cell(at);
                self.cells.entry(cell).or_default().push(self.rim.len());
                self.rim.push(RimPoint { at, normal: p.normal });
            }
        }
    }

    fn cell(&self, at: Vector2<f64>) -> (i32, i32) {
        ((at.x * self.pitch[0] / CELL).floor() as i32, (at.y * self.pitch[1] / CELL).floor() as i32)
    }

    /// The rim point nearest to a place, within a cell's width, and its distance, mm.
    pub fn nearest(&self, at: Vector2<f64>) -> Option<(&RimPoint, f64)> {
        let (x, y) = self.cell(at);
        let mm = |p: &RimPoint| Vector2::new((p.at.x - at.x) * self.pitch[0], (p.at.y - at.y) * self.pitch[1]).norm();
        let near = (x - 1..=x + 1).flat_map(|x| (y - 1..=y + 1).map(move |y| (x, y))).filter_map(|c| self.cells.get(&c)).flatten();
        near.map(|&k| (&self.rim[k], mm(&self.rim[k]))).filter(|n| n.1 <= CELL).min_by(|a, b| a.1.total_cmp(&b.1))
    }

    fn index(&self, [a, b]: [i32; 2]) -> Option<usize> {
        let (x, y) = (a - self.low[0], b - self.low[1]);
        (x >= 0 && y >= 0 && (x as usize) < self.size[0] && (y as usize) < self.size[1]).then(|| y as usize * self.size[0] + x as usize)
    }

    /// What a sample shows.
    pub fn shows(&self, sample: [i32; 2]) -> Shows {
        self.index(sample).map_or(Shows::Nothing, |k| self.shows[k])
    }

    /// Its tone, where it is surely cloth.
    pub fn tone(&self, sample: [i32; 2]) -> Option<f32> {
        self.index(sample).map(|k| self.tone[k]).filter(|t| t.is_finite())
    }

    /// Whether a place, in squares, lies in view with room round it.
    pub fn deep(&self, at: Vector2<f64>) -> bool {
        let (x, y) = ((at.x * f64::from(self.per)).round() as i32, (at.y * f64::from(self.per)).round() as i32);
        [[0, 0], [3, 0], [-3, 0], [0, 3], [0, -3]].iter().all(|[u, v]| self.shows([x + u, y + v]) != Shows::Nothing)
    }

    /// The samples that show anything sure, every `step`-th along either axis.
    pub fn samples(&self, step: i32) -> impl Iterator<Item = ([i32; 2], Shows)> + '_ {
        let first = move |k: usize| self.low[k] + (-self.low[k]).rem_euclid(step);
        let last = move |k: usize| self.low[k] + self.size[k] as i32;
        (first(1)..last(1))
            .step_by(step as usize)
            .flat_map(move |b| (first(0)..last(0)).step_by(step as usize).map(move |a| ([a, b], self.shows([a, b]))))
            .filter(|s| matches!(s.1, Shows::Sheet | Shows::Cloth))
    }

    /// The addresses in view, in whole squares: lowest and highest.
    pub fn extent(&self) -> [[i32; 2]; 2] {
        let low = self.low.map(|v| v.div_euclid(self.per));
        let high = [0, 1].map(|k| (self.low[k] + self.size[k] as i32).div_euclid(self.per) + 1);
        [low, high]
    }
}

/// Where a row crosses the polygons, in order.
fn crossings(polygons: &[Vec<Vector2<f64>>], y: f64) -> Vec<f64> {
    let mut out = Vec::new();
    for p in polygons {
        for k in 0..p.len() {
            let (a, b) = (p[k], p[(k + 1) % p.len()]);
            if (a.y <= y) != (b.y <= y) {
                out.push(a.x + (b.x - a.x) * (y - a.y) / (b.y - a.y));
            }
        }
    }
    out.sort_by(f64::total_cmp);
    out
}

/// The part of the sheet that the picture shows, in squares: lowest and highest address.
fn footprint(view: &View, shot: &Shot, height: f64, pitch: [f64; 2]) -> Option<([f64; 2], [f64; 2])> {
    let (w, h) = (shot.width as f64 - 1.0, shot.height as f64 - 1.0);
    let (mut low, mut high) = ([f64::INFINITY; 2], [f64::NEG_INFINITY; 2]);
    for k in 0..=16 {
        let t = f64::from(k) / 16.0;
        for p in [[w * t, 0.0], [w * t, h], [0.0, h * t], [w, h * t]] {
            let at = view.to_mm(p.into(), height)?;
            for (axis, v) in [at.x / pitch[0], at.y / pitch[1]].into_iter().enumerate() {
                (low[axis], high[axis]) = (low[axis].min(v), high[axis].max(v));
            }
        }
    }
    low.iter().chain(&high).all(|v| v.is_finite()).then_some((low, high))
}
