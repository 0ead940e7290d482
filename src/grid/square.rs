//! A dark square at a node, as on printed targets: its centre is where its diagonals cross, which perspective keeps.
//!
//! The edge is sought across each side at many stations (the place of the mean of the slope, in linear light), a line laid
//! through each side's stations, and the four lines crossed. Blur and ink spread move opposite sides alike and leave the centre.

use super::patch::Patch;
use super::spot::Spot;
use crate::solve::Line;
use nalgebra::{Matrix2, Vector2};

/// A square's centre in pixels of the window, its standard error and half its mean side, px.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Square {
    pub u: f64,
    pub v: f64,
    pub error: f64,
    pub half: f64,
}

/// Half the side, px, below which a square is fitted as a disc: too few pixels a side, and no perspective to speak of.
const SMALL: f64 = 6.0;
/// Share of a side that is looked at: its ends are rounded by blur.
const MIDDLE: f64 = 0.7;
/// Most a side's stations may stray from a line (rms, px): a disc's bend by a sixteenth of its width.
const STRAIGHT: f64 = 0.25;
const BENT: f64 = 0.01;

impl Square {
    /// Fits the four sides of a spot, which run along the lattice (`frame`: steps to the next nodes); `None` for what is no square.
    pub fn fit(patch: &Patch, spot: &Spot, frame: [Vector2<f64>; 2]) -> Option<Self> {
        let back = Matrix2::from_columns(&frame).try_inverse()?;
        let shape = back * spot.moments * back.transpose();
        // Variance of a uniform square is a twelfth of its side squared.
        let half = [frame[0] * (3.0 * shape.m11).sqrt(), frame[1] * (3.0 * shape.m22).sqrt()];
        if half.iter().any(|h| h.norm() < SMALL) {
            return None;
        }
        let centre = Vector2::new(spot.u, spot.v);
        let mut sides = Vec::with_capacity(4);
        for (axis, sign) in [(0, 1.0), (1, 1.0), (0, -1.0), (1, -1.0)] {
            sides.push(side(patch, centre, half[axis] * sign, half[1 - axis])?);
        }
        let corner = |k: usize| sides[k].0.cross(&sides[(k + 1) % 4].0);
        let [a, b, c, d] = [corner(0)?, corner(1)?, corner(2)?, corner(3)?];
        let middle = Line::through(a, c)?.cross(&Line::through(b, d)?)?;
        let error = 0.5 * sides.iter().map(|s| s.1 * s.1).sum::<f64>().sqrt();
        let mean = 0.25 * ((b - a).norm() + (c - b).norm() + (d - c).norm() + (a - d).norm());
        ((middle - centre).norm() < 0.3 * half[0].norm().min(half[1].norm())).then_some(Self {
            u: middle.x,
            v: middle.y,
            error,
            half: 0.5 * mean,
        })
    }
}

/// The line along one side and the standard error of its offset, px.
fn side(patch: &Patch, centre: Vector2<f64>, out: Vector2<f64>, along: Vector2<f64>) -> Option<(Line, f64)> {
    let stations = (2.0 * MIDDLE * along.norm()).ceil().clamp(5.0, 24.0);
    let reach = (0.6 * out.norm()).clamp(3.0, 6.0);
    let way = out.normalize();
    let mut points = Vec::new();
    for k in 0..stations as usize {
        let at = centre + out + along * (MIDDLE * (2.0 * (k as f64 + 0.5) / stations - 1.0));
        points.extend(edge(patch, at, way, reach).map(|t| at + way * t));
    }
    if (points.len() as f64) < 0.7 * stations {
        return None;
    }
    let line = Line::robust(&points, &vec![1.0; points.len()])?;
    let rms = (points.iter().map(|p| line.distance(*p).powi(2)).sum::<f64>() / points.len() as f64).sqrt();
    // Neighbouring stations, a pixel apart, share half their noise.
    (rms < STRAIGHT + BENT * along.norm()).then(|| (line, rms * (2.0 / points.len() as f64).sqrt()))
}

/// Where the light rises along `way` from a dark inside: the mean place of its slope, within `reach`.
fn edge(patch: &Patch, at: Vector2<f64>, way: Vector2<f64>, reach: f64) -> Option<f64> {
    const STEP: f64 = 0.5;
    let n = (2.0 * reach / STEP) as usize;
    let light = |k: usize| {
        let p = at + way * (k as f64 * STEP - reach);
        patch.sample(p.x, p.y).map(f64::from)
    };
    let (mut sum, mut moment, mut last) = (0.0, 0.0, light(0)?);
    let (low, first) = (last, last);
    for k in 1..=n {
        let here = light(k)?;
        sum += here - last;
        moment += (here - last) * ((k as f64 - 0.5) * STEP - reach);
        last = here;
    }
    // Light beyond must be half again as strong as within.
    (last > 1.5 * low && sum > 0.3 * first.max(0.02)).then(|| moment / sum)
}
