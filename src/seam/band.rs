//! The band: a strip of picture unrolled along a guide, in linear light.
//!
//! A column is a place along the guide, a row an offset across it. Each column is placed through the lens at three
//! offsets and stepped between them by a parabola, which over a few millimetres is exact to a hundredth of a pixel.
//! Where the guide bends or another strand of it runs near, the strip would show the same sheet twice: there the column
//! is cut short.

use super::guide::Guide;
use crate::length::{Mm, Px};
use crate::shot::{Area, Shot};
use crate::view::View;
use nalgebra::Vector2;
use rayon::prelude::*;

/// A strip of picture along a guide.
#[derive(Clone, Debug)]
pub(super) struct Band {
    /// Rows either side: there are `2 * half + 1`.
    pub half: usize,
    /// Distance of neighbouring rows, mm; row k lies `(k - half) * across` along the normal.
    pub across: f64,
    /// Light by column, then row; not a number outside the picture and where the column is cut short.
    pub light: Vec<[f32; 3]>,
}

/// Nothing was seen here.
pub(super) const BLIND: [f32; 3] = [f32::NAN; 3];

impl Band {
    /// Unrolls `shot` along `guide`, `width` mm to either side in steps of about `across` mm, at `height` mm; nothing is seen of
    /// what is `hidden`.
    pub fn unroll(shot: &Shot, view: &View, guide: &Guide, height: f64, width: f64, across: f64, hidden: &[Area]) -> Self {
        let half = (width / across).ceil() as usize;
        let across = width / half as f64;
        let rows = 2 * half + 1;
        let reach = reaches(guide, width);
        let mut light = vec![BLIND; guide.len() * rows];
        light.par_chunks_mut(rows).enumerate().for_each(|(k, column)| {
            let (at, normal) = (guide.at[k], guide.normal[k]);
            let [a, b, c] = [-width, 0.0, width].map(|d| view.to_px(at + normal * d, height));
            if !(a.is_finite() && b.is_finite() && c.is_finite()) {
                return;
            }
            let (slope, curve) = ((c - a) / 2.0, ((a - b) + (c - b)) / 2.0);
            let [inner, outer] = reach[k].map(|r| ((r / across) as usize).min(half));
            for (row, out) in column.iter_mut().enumerate().take(half + outer + 1).skip(half - inner) {
                let t = row as f64 / half as f64 - 1.0;
                *out = shot.sample(b + slope * t + curve * (t * t)).unwrap_or(BLIND);
            }
            let ends = [Px::new(a.x.min(c.x), a.y.min(c.y)), Px::new(a.x.max(c.x), a.y.max(c.y))];
            for area in hidden.iter().filter(|area| area.near(ends[0], ends[1])) {
                for (row, out) in column.iter_mut().enumerate() {
                    let t = row as f64 / half as f64 - 1.0;
                    if area.holds(b + slope * t + curve * (t * t)) {
                        *out = BLIND;
                    }
                }
            }
        });
        Self { half, across, light }
    }

    /// Number of rows.
    pub fn rows(&self) -> usize {
        2 * self.half + 1
    }

    /// Number of columns.
    pub fn columns(&self) -> usize {
        self.light.len() / self.rows()
    }

    /// Offset of a row along the normal, mm.
    pub fn offset(&self, row: usize) -> f64 {
        (row as f64 - self.half as f64) * self.across
    }

    /// The light of one column.
    pub fn column(&self, k: usize) -> &[[f32; 3]] {
        &self.light[k * self.rows()..][..self.rows()]
    }

    /// The share of columns whose middle is seen.
    pub fn seen(&self) -> f64 {
        let n = self.columns().max(1);
        (0..self.columns()).filter(|k| self.column(*k)[self.half][0].is_finite()).count() as f64 / n as f64
    }
}

/// How far each column may reach to the inside and the outside before it comes nearer to another part of the guide.
fn reaches(guide: &Guide, width: f64) -> Vec<[f64; 2]> {
    // Every fourth column is looked at, half a millimetre or so apart; those between take the shorter of both.
    const STRIDE: usize = 4;
    let strands = Strands::new(guide, width);
    let looks: Vec<[f64; 2]> = (0..guide.len().div_ceil(STRIDE))
        .into_par_iter()
        .map(|j| {
            let k = j * STRIDE;
            [-1.0, 1.0].map(|side| {
                let mut reach = width;
                while reach > 1.0 && strands.nearer(guide.at[k] + guide.normal[k] * (side * reach), reach) {
                    reach -= 0.5;
                }
                reach
            })
        })
        .collect();
    (0..guide.len())
        .map(|k| {
            let (a, b) = (k / STRIDE, (k / STRIDE + 1) % looks.len());
            [looks[a][0].min(looks[b][0]), looks[a][1].min(looks[b][1])]
        })
        .collect()
}

/// The guide's points sorted into cells, to ask for near ones.
struct Strands {
    cell: f64,
    corner: Vector2<f64>,
    across: usize,
    down: usize,
    first: Vec<u32>,
    points: Vec<Mm>,
}

impl Strands {
    fn new(guide: &Guide, cell: f64) -> Self {
        // A point each half millimetre is dense enough to tell strands apart.
        let stride = ((0.5 / guide.step) as usize).max(1);
        let kept: Vec<Mm> = guide.at.iter().copied().step_by(stride).collect();
        let low = kept.iter().fold(Vector2::repeat(f64::INFINITY), |m, p| m.inf(&p.vector()));
        let high = kept.iter().fold(Vector2::repeat(f64::NEG_INFINITY), |m, p| m.sup(&p.vector()));
        let corner = low.add_scalar(-2.0 * cell);
        let size = (high - low).map(|v| (v / cell) as usize + 5);
        let (across, down) = (size.x, size.y);
        let home = |p: &Mm| {
            let c = (p.vector() - corner) / cell;
            c.y as usize * across + c.x as usize
        };
        let mut first = vec![0u32; across * down + 1];
        kept.iter().for_each(|p| first[home(p) + 1] += 1);
        for k in 0..across * down {
            first[k + 1] += first[k];
        }
        let (mut place, mut points) = (first.clone(), vec![Mm::default(); kept.len()]);
        for p in &kept {
            let h = home(p);
            points[place[h] as usize] = *p;
            place[h] += 1;
        }
        Self { cell, corner, across, down, first, points }
    }

    /// Whether some point of the guide lies clearly nearer than `distance` to `at`.
    fn nearer(&self, at: Mm, distance: f64) -> bool {
        // A tenth and a fifth of a millimetre of slack, for rough guides are rough.
        let near = 0.9 * distance - 0.2;
        let c = (at.vector() - self.corner) / self.cell;
        let (x, y) = (c.x as usize, c.y as usize);
        (y.saturating_sub(1)..=(y + 1).min(self.down - 1)).any(|v| {
            let (l, r) = (x.saturating_sub(1), (x + 1).min(self.across - 1));
            let range = self.first[v * self.across + l] as usize..self.first[v * self.across + r + 1] as usize;
            self.points[range].iter().any(|p| (*p - at).norm_squared() < near * near)
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::length::Px;
    use crate::view::Model;

    fn scan(scale: f64) -> View {
        View::known(Model::Scan { matrix: [scale, 0.0, 0.0, scale, 0.0, 0.0] }, 200, 200)
    }

    #[test]
    fn a_ramp_unrolls_to_a_ramp() {
        let rgb: Vec<u8> = (0..200 * 200).flat_map(|k| [(k % 200) as u8; 3]).collect();
        let shot = Shot::from_rgb(200, 200, rgb);
        let points: Vec<_> = (0..=40).map(|k| Mm::new(25.0, 10.0 + k as f64 * 0.5)).collect();
        let guide = Guide::new(&points, false, 0.5, 0.0).expect("a line");
        let band = Band::unroll(&shot, &scan(4.0), &guide, 0.0, 4.0, 0.25, &[]);
        assert_eq!(band.rows(), 33);
        // Going down, the left hand (east) is where the normal points.
        for row in 0..band.rows() {
            let x = 4.0 * (25.0 + band.offset(row));
            let want = shot.sample(Px::new(x, 80.0)).expect("inside")[0];
            assert!((band.column(20)[row][0] - want).abs() < 1e-6);
        }
    }

    #[test]
    fn a_narrow_neck_shortens_the_columns() {
        // Two strands 4 mm apart: the band must not show the far strand's other side.
        let mut points: Vec<_> = (0..=40).map(|k| Mm::new(10.0, 5.0 + k as f64)).collect();
        points.extend((0..=40).rev().map(|k| Mm::new(14.0, 5.0 + k as f64)));
        let guide = Guide::new(&points, true, 0.25, 0.0).expect("a slot");
        let reach = reaches(&guide, 6.0);
        let k = (0..guide.len()).find(|k| guide.at[*k].x < 10.1 && guide.at[*k].y > 25.0).expect("middle of a side");
        let inward = if guide.normal[k].x > 0.0 { 1 } else { 0 };
        assert!(reach[k][inward] < 3.0 && reach[k][1 - inward] > 5.5, "{:?}", reach[k]);
    }
}
