//! Hems and necklines that curl: a knit edge rolls up, and the rim that is seen is the roll's, not that of the cloth laid flat.
//!
//! In: a strip inside the rim. Out: where its light, from the rim inwards, is that of a cylinder lying on cloth, and how thick that is. A
//! cylinder of matt cloth under light from one side (Lambert 1760) is brightest where it faces that, as bright as flat cloth on top, dark
//! on its other flank and where it meets the cloth. A band, a binding or a row of stitches is a step or a narrow line there, and is tried
//! against it. Goes wrong: rolls thinner than 2.5 mm or seen by less than 1.5 px to the mm, light from straight above, stripes along the rim.

use super::lines::Lines;
use super::places::{places, stepped};
use super::tracing::{Line, Tracing};
use super::whereabouts;
use super::why::Look;
use crate::length::Mm;
use crate::path::SeamPath;
use crate::proof::Doubt;
use crate::solve::{linear, median};
use kurbo::{BezPath, Shape as _};
use nalgebra::Vector2;
use rayon::prelude::*;

/// Depths of the strip, mm inside the rim (nearer the rim's own blur and darkening are seen), and the distance of its rows.
const DEPTH: (f64, f64) = (0.8, 16.0);
const ROW: f64 = 0.4;
/// Distance of its columns, mm, and how many are looked at together.
const COLUMN: f64 = 2.0;
const TOGETHER: usize = 16;
/// Thinnest and thickest roll, mm, and the steps between.
const THICK: (f64, f64) = (2.5, 9.0);
const STEP: f64 = 0.5;
/// Width (standard deviation) of the shadow where the roll meets the cloth, mm, and of the narrow line that a row of stitches is.
const SHADOW: f64 = 0.8;
const NARROW: f64 = 0.5;
/// Depth to which the rim is darker by itself, mm.
const RIM: f64 = 0.6;
/// A roll explains this part of what varies.
const EXPLAINS: f64 = 0.93;
/// What a step and lines leave is so many times what a roll leaves, at least.
const BETTER: f64 = 3.0;
/// The light over the roll varies by so much (natural logarithm) at least.
const STRONG: f64 = 0.18;
/// And is darker by so much where it meets the cloth.
const DARK: f64 = 0.1;
/// The channels' parts may differ by this part of their mean: shade takes the same part of each.
const TINT: f64 = 0.3;
/// So many windows beside one another, half of each other's, are a roll; their thickness differs by less than this, mm.
const ROW_OF: usize = 2;
const ALIKE: f64 = 1.1;
/// Corners are no place to look, mm.
const CORNER: f64 = 8.0;

/// A roll along a part of a rim.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Roll {
    /// About its middle.
    at: Mm,
    /// Its thickness, mm.
    thick: f64,
    /// How long it was seen, mm.
    long: f64,
}

/// The doubts about rolled edges of all outlines.
pub(super) fn doubts(tracing: &Tracing, lines: &Lines, look: &Look) -> Vec<Doubt> {
    let mut out = Vec::new();
    for (piece, found) in tracing.pieces.iter().zip(&lines.pieces) {
        let corners: Vec<Mm> = piece.outline.corners.iter().map(|c| c.at).collect();
        let places = places(&piece.outline);
        // A stitch line lies within the cloth, whose edge may roll elsewhere.
        let seam = |at: Mm| whereabouts::nearest(&places, at).and_then(|p| piece.edges.get(p.edge)).is_some_and(|e| e.line == Line::Seam);
        for roll in find(look, &found.outer, &piece.outline.path, &corners).into_iter().filter(|r| !seam(r.at)) {
            let place = whereabouts::near(piece, tracing.pieces.len() > 1, &places, roll.at);
            out.extend(place.map(|place| Doubt::Rolled { place, long: roll.long, cost: hidden(roll.thick), at: roll.at }));
        }
    }
    out
}

/// Cloth that lies in a roll beyond what is seen of it, mm, at most: rolled in by one whole turn.
fn hidden(thick: f64) -> f64 {
    (std::f64::consts::PI - 1.0) * thick
}

/// The rolls along a rim; `inside` is the same line in few curves.
fn find(look: &Look, rim: &SeamPath, inside: &BezPath, corners: &[Mm]) -> Vec<Roll> {
    let columns = stepped(rim, COLUMN);
    let strip: Vec<Vec<[f64; 3]>> = columns.par_iter().map(|(at, normal)| column(look, inside, corners, *at, *normal)).collect();
    let n = columns.len();
    let half = TOGETHER / 2;
    if n < 2 * TOGETHER {
        return Vec::new();
    }
    let (count, forms) = (n / half, Forms::new());
    let seen: Vec<Option<f64>> = (0..count)
        .into_par_iter()
        .map(|w| {
            let near: Vec<&Vec<[f64; 3]>> = (0..TOGETHER).map(|k| &strip[(w * half + k) % n]).collect();
            thickness(&near, &forms)
        })
        .collect();
    let like = |a: usize, b: usize| matches!((seen[a], seen[b]), (Some(x), Some(y)) if (x - y).abs() < ALIKE);
    // Begin where none goes on, so that a run is not cut in two.
    let Some(first) = (0..count).find(|w| !like(*w, (w + 1) % count)) else {
        return whole(&columns, &seen);
    };
    let mut out = Vec::new();
    let mut run: Vec<usize> = Vec::new();
    for k in 1..=count {
        let w = (first + k) % count;
        if seen[w].is_some() {
            run.push(w);
        }
        if !like(w, (w + 1) % count) && !run.is_empty() {
            out.extend(roll(&columns, &seen, &run));
            run.clear();
        }
    }
    out
}

/// A rim that is rolled all round.
fn whole(columns: &[(Mm, Vector2<f64>)], seen: &[Option<f64>]) -> Vec<Roll> {
    roll(columns, seen, &(0..seen.len()).collect::<Vec<_>>()).into_iter().collect()
}

fn roll(columns: &[(Mm, Vector2<f64>)], seen: &[Option<f64>], run: &[usize]) -> Option<Roll> {
    if run.len() < ROW_OF {
        return None;
    }
    let half = TOGETHER / 2;
    let middle = run[run.len() / 2];
    let thick = median(&mut run.iter().filter_map(|w| seen[*w]).collect::<Vec<_>>())?;
    let long = (run.len() + 1) as f64 * half as f64 * COLUMN;
    Some(Roll { at: columns[(middle * half + half) % columns.len()].0, thick, long })
}

/// What may be seen from the rim inwards, each as directions at right angles over the rows (Gram & Schmidt): what a form leaves of a profile
/// is what is left of its square when its parts along them are taken off.
struct Forms {
    /// A roll of each thickness, mm.
    rolls: Vec<(f64, Directions)>,
    /// What else may run along a rim at any distance: a step with a narrow line.
    bands: Vec<Directions>,
}

type Directions = Vec<Vec<f64>>;

/// Rows of the strip.
fn rows() -> usize {
    ((DEPTH.1 - DEPTH.0) / ROW) as usize + 1
}

/// Depth of a row, mm.
fn depth(row: usize) -> f64 {
    DEPTH.0 + ROW * row as f64
}

impl Forms {
    fn new() -> Self {
        let steps = ((THICK.1 - THICK.0) / STEP) as usize + 1;
        let rolls = (0..steps).map(|k| THICK.0 + STEP * k as f64);
        let bands = (0..2 * steps).map(|k| 1.0 + 0.5 * STEP * k as f64);
        Self {
            rolls: rolls.filter_map(|d| Some((d, directions(|s| cylinder(s, d))?))).collect(),
            bands: bands.filter_map(|d| directions(|s| band(s, d))).collect(),
        }
    }
}

/// A form's directions; `None` where its parts are no different ones.
fn directions<const N: usize>(model: impl Fn(f64) -> [f64; N]) -> Option<Directions> {
    let shapes: Vec<[f64; N]> = (0..rows()).map(|r| model(depth(r))).collect();
    let mut out: Directions = Vec::with_capacity(N);
    for part in 0..N {
        let mut shape: Vec<f64> = shapes.iter().map(|s| s[part]).collect();
        let whole = dot(&shape, &shape);
        // Twice, so that rounding leaves nothing of the others.
        for _ in 0..2 {
            for other in &out {
                let share = dot(&shape, other);
                shape.iter_mut().zip(other).for_each(|(v, o)| *v -= share * o);
            }
        }
        let square = dot(&shape, &shape);
        if square <= 1e-12 * whole {
            return None;
        }
        shape.iter_mut().for_each(|v| *v /= square.sqrt());
        out.push(shape);
    }
    Some(out)
}

/// The squares a form leaves of a profile, of which `square` is the sum of all.
fn left(profile: &[f64], square: f64, directions: &Directions) -> f64 {
    (square - directions.iter().map(|d| dot(d, profile).powi(2)).sum::<f64>()).max(0.0)
}

fn dot(a: &[f64], b: &[f64]) -> f64 {
    a.iter().zip(b).map(|(a, b)| a * b).sum()
}

/// Thickness of the roll that some columns show together; none where they show none.
fn thickness(near: &[&Vec<[f64; 3]>], forms: &Forms) -> Option<f64> {
    let rows = rows();
    let mut light = [Vec::new(), Vec::new(), Vec::new()];
    for r in 0..rows {
        for (c, light) in light.iter_mut().enumerate() {
            let mut all: Vec<f64> = near.iter().filter_map(|column| column.get(r)).map(|v| v[c]).filter(|v| v.is_finite()).collect();
            if 2 * all.len() < near.len() {
                return None;
            }
            light.push(median(&mut all)?);
        }
    }
    let mean: Vec<f64> = (0..rows).map(|r| light.iter().map(|l| l[r]).sum::<f64>() / 3.0).collect();
    let level = mean.iter().sum::<f64>() / rows as f64;
    // A constant is part of every form: without it the squares are small, and what is left of them is told exactly.
    let mean: Vec<f64> = mean.iter().map(|v| v - level).collect();
    let varies = dot(&mean, &mean);
    let tried = forms.rolls.iter().map(|(thick, form)| (*thick, left(&mean, varies, form)));
    let (thick, rest) = tried.min_by(|a, b| a.1.total_cmp(&b.1))?;
    if rest >= (1.0 - EXPLAINS) * varies {
        return None;
    }
    let flat = forms.bands.iter().map(|form| left(&mean, varies, form)).min_by(f64::total_cmp)?;
    let best = fit(&mean, thick)?;
    let parts = [0, 1, 2].map(|c| fit(&light[c], thick).map_or(0.0, |found| swing(&found, thick)));
    let all = parts.iter().sum::<f64>() / 3.0;
    let shade = parts.iter().all(|p| (p - all).abs() < TINT * all);
    // Flat on top and dark where it meets the cloth.
    let lies = best[1] > 0.0 && best[3] < -DARK;
    (lies && shade && all > STRONG && flat > BETTER * rest).then_some(thick)
}

/// The parameters with which a roll of a thickness fits a profile best.
fn fit(profile: &[f64], thick: f64) -> Option<Vec<f64>> {
    let rows: Vec<Vec<f64>> = (0..profile.len()).map(|r| cylinder(depth(r), thick).to_vec()).collect();
    let found = linear(&rows, profile, &vec![1.0; profile.len()])?;
    Some(found.values.as_slice().to_vec())
}

/// A cylinder `thick` mm across, and cloth from there on: flat light, that of the top, what the flanks take and give, the shadow where it
/// lies on, the rim's own darkening.
fn cylinder(s: f64, thick: f64) -> [f64; 5] {
    let x = 2.0 * s / thick - 1.0;
    let on = s < thick;
    // Of the lower flanks nothing but shade is seen; they are not modelled beyond nine tenths.
    let top = if on { (1.0 - (0.9 * x).powi(2)).sqrt() - 1.0 } else { 0.0 };
    [1.0, top, if on { -x } else { 0.0 }, line(s - thick, SHADOW), (-s / RIM).exp()]
}

/// A band of another light `wide` mm along the rim, with a narrow line at its end.
fn band(s: f64, wide: f64) -> [f64; 4] {
    [1.0, if s < wide { 1.0 } else { 0.0 }, line(s - wide, NARROW), (-s / RIM).exp()]
}

fn line(off: f64, width: f64) -> f64 {
    (-0.5 * (off / width).powi(2)).exp()
}

/// How far the light over the roll varies, by the fit's parameters.
fn swing(found: &[f64], thick: f64) -> f64 {
    let over = (0..20).map(|k| {
        let basis = cylinder(DEPTH.0 + k as f64 / 20.0 * (thick - DEPTH.0), thick);
        (1..4).map(|p| found[p] * basis[p]).sum::<f64>()
    });
    let (low, high) = over.fold((0.0f64, 0.0f64), |(l, h), v| (l.min(v), h.max(v)));
    high - low
}

/// Logarithms of light from the rim inwards; nothing near corners and where there is no room.
fn column(look: &Look, inside: &BezPath, corners: &[Mm], at: Mm, normal: Vector2<f64>) -> Vec<[f64; 3]> {
    let held = |d: f64| inside.contains((at.x - normal.x * d, at.y - normal.y * d).into());
    if !(held(DEPTH.0) && held(0.5 * DEPTH.1) && held(1.3 * DEPTH.1)) || corners.iter().any(|c| c.distance(at) < CORNER) {
        return Vec::new();
    }
    (0..rows()).map(|r| look.logarithms(at - normal * depth(r))).collect()
}
