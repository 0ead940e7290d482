//! A rim that passes by a place a person gave is sought again there.
//!
//! In: the rim as found, places it should pass through. Out: the same rim, found anew over some centimetres about each place it
//! passed by, held at the place and at both ends of the stretch; so that one place brings it back to the edge it lost. Only that stretch
//! of the picture is looked at. Goes wrong: no edge where the hand points (the line is bent there and says that it was laid by hand).

use super::Settings;
use super::band::Band;
use super::fine;
use super::guide::Guide;
use super::held::{FAR, Held};
use super::marks::Marks;
use super::rim::{FINE_REACH, SMOOTH_FOUND, path as points_of, steps};
use super::rough::{self, Known};
use super::tones::{Cover, Tones};
use crate::length::Mm;
use crate::path::{SeamPath, SeamPoint};
use crate::proof::Proof;
use crate::shot::Shot;
use crate::solve::median;
use crate::view::View;
use nalgebra::Vector2;
use std::time::Instant;

/// Length that is sought again on either side of a place, mm: as far as a shadow or a fold leads a rim astray, as a rule.
const STRETCH: f64 = 60.0;
/// Of a short round line no more than this share on either side.
const SHARE: f64 = 0.3;
/// How far beyond the place the line may lie in the stretch, mm.
const BEYOND: f64 = 2.0;
/// The line beside a place is taken from this to that far along, mm, and lies no farther off it, mm, on the better side, where it runs on.
const BESIDE: (f64, f64) = (2.5, 7.0);
const JUMP: f64 = 1.2;
/// At the ends of a stretch the old line is kept over so much, mm: fits there see one side only.
const ENDS: f64 = 5.0;

/// Leads a rim through the places that the settings name, as far as it comes near them.
///
/// `height` mm is that of the cloth's edge above the sheet, as in [`super::rim`].
pub fn through(
    shot: &Shot,
    view: &View,
    marks: &Marks,
    mut path: SeamPath,
    height: f64,
    settings: &Settings,
    proof: &mut Proof,
) -> SeamPath {
    let start = Instant::now();
    let held = Held::of(settings, view, height);
    let scene = Scene { shot, view, marks, height, settings };
    for place in held.passed_by(&path, view) {
        if let Some(again) = scene.again(&path, place, &held, proof) {
            path = again;
        }
    }
    held.bend(&mut path, view, height);
    proof.time("rim-through", start.elapsed());
    path
}

/// What a stretch is sought in.
struct Scene<'a> {
    shot: &'a Shot,
    view: &'a View,
    marks: &'a Marks,
    height: f64,
    settings: &'a Settings,
}

/// A stretch of a path: numbers of its first point and how many there are, counted on past the join of a closed one.
struct Stretch {
    first: usize,
    count: usize,
}

impl Scene<'_> {
    /// The path with the stretch about `place` found anew; `None` where nothing can be sought there.
    fn again(&self, path: &SeamPath, place: Mm, held: &Held, proof: &mut Proof) -> Option<SeamPath> {
        let stretch = stretch(path, place)?;
        let n = path.points.len();
        let old: Vec<SeamPoint> = (0..stretch.count).map(|k| path.points[(stretch.first + k) % n]).collect();
        let bent = held.bent(&old, place);
        let pixel = 1.0 / self.view.px_per_mm(place).max(1e-3);
        let (along, across) = steps(pixel);
        let guide = Guide::new(&bent, false, along, SMOOTH_FOUND)?;
        // The line that was lost lies between the old one and the place, or a little beyond.
        let off = old.iter().map(|p| p.at.distance(place)).fold(f64::INFINITY, f64::min);
        let reach = FINE_REACH.max(off + BEYOND);
        let band = Band::unroll(self.shot, self.view, &guide, self.height, reach, across, &self.settings.hidden);
        if band.seen() < 0.3 {
            return None;
        }
        let cover = Cover::new(self.marks, self.view, self.height, 0.7 * pixel);
        let tones = Tones::measure(&band, &guide, &cover);
        let fixed: Vec<(usize, f64)> = self.fixed(&guide, &old, held);
        let known = Known { noise: None, held: &fixed };
        let name = format!("rim_through_x{:.0}_y{:.0}", place.x, place.y);
        let (offsets, _) = rough::find(&band, &guide, &tones, &cover, known, &name, proof);
        let guide = Guide::new(&guide.shifted(&offsets), false, along, SMOOTH_FOUND)?;
        let band = Band::unroll(self.shot, self.view, &guide, self.height, FINE_REACH, across, &self.settings.hidden);
        let found = fine::find(&band, &guide, self.view, self.height, &tones, &cover, self.settings);
        let new = points_of(self.view, &guide, self.height, &found).points;
        let again = spliced(path, &stretch, new)?;
        let passed = old.iter().min_by(|a, b| a.at.distance(place).total_cmp(&b.at.distance(place)))?;
        runs_on(&again, place, passed.normal).then_some(again)
    }

    /// Where the line is held: at the ends on the old line, and at each place that was given.
    fn fixed(&self, guide: &Guide, old: &[SeamPoint], held: &Held) -> Vec<(usize, f64)> {
        let ends = [old.first(), old.last()].into_iter().flatten().map(|p| p.at);
        let at = |p: Mm| {
            let k = (0..guide.len()).min_by(|a, b| guide.at[*a].distance(p).total_cmp(&guide.at[*b].distance(p)))?;
            (guide.at[k].distance(p) < FAR).then(|| (k, (p - guide.at[k]).dot(&guide.normal[k])))
        };
        ends.chain(held.places().iter().copied()).filter_map(at).collect()
    }
}

/// Whether a line comes to a place and goes on from it, rather than jumping out to it and back: the edge that was lost runs there, and the
/// line to either side tells of the place. `normal` is that of the line that passed the place by, for a line that jumps has none to go by.
fn runs_on(path: &SeamPath, place: Mm, normal: Vector2<f64>) -> bool {
    let along = Vector2::new(-normal.y, normal.x);
    let beside = |q: &&SeamPoint| (BESIDE.0..BESIDE.1).contains(&(q.at - place).dot(&along).abs()) && q.at.distance(place) < 2.0 * BESIDE.1;
    let sides = [1.0, -1.0].map(|side| {
        let own = path.points.iter().filter(beside).filter(|q| (q.at - place).dot(&along) * side > 0.0);
        let mut off: Vec<f64> = own.map(|q| (q.at - place).dot(&normal)).collect();
        median(&mut off)
    });
    // On a curve both sides lie to one side of it, by as much as it bends over a centimetre; at a corner one of them does.
    sides.iter().flatten().map(|o| o.abs()).fold(f64::INFINITY, f64::min) < JUMP
}

/// The stretch about the point of a path nearest to a place.
fn stretch(path: &SeamPath, place: Mm) -> Option<Stretch> {
    let n = path.points.len();
    let nearest = (0..n).min_by(|a, b| path.points[*a].at.distance(place).total_cmp(&path.points[*b].at.distance(place)))?;
    let legs = if path.closed { n } else { n.saturating_sub(1) };
    let length: f64 = (0..legs).map(|k| path.points[k].at.distance(path.points[(k + 1) % n].at)).sum();
    let each = STRETCH.min(SHARE * length);
    let walk = |ahead: bool| {
        let (mut steps, mut gone, mut k) = (0, 0.0, nearest);
        while gone < each {
            let next = match (ahead, path.closed) {
                (true, true) => (k + 1) % n,
                (false, true) => (k + n - 1) % n,
                (true, false) if k + 1 < n => k + 1,
                (false, false) if k > 0 => k - 1,
                _ => break,
            };
            gone += path.points[k].at.distance(path.points[next].at);
            (k, steps) = (next, steps + 1);
        }
        steps
    };
    let (before, after) = (walk(false), walk(true));
    (before + after >= 8).then(|| Stretch { first: (nearest + n - before) % n, count: before + after + 1 })
}

/// The path with new points in place of a stretch's, but for some millimetres at its ends.
fn spliced(path: &SeamPath, stretch: &Stretch, new: Vec<SeamPoint>) -> Option<SeamPath> {
    let n = path.points.len();
    let old = |k: usize| path.points[(stretch.first + k) % n];
    let (first, last) = (old(0).at, old(stretch.count - 1).at);
    let inner = |at: Mm| at.distance(first) > ENDS && at.distance(last) > ENDS;
    let new: Vec<SeamPoint> = new.into_iter().filter(|p| inner(p.at)).collect();
    let (begin, end) = (new.first()?.at, new.last()?.at);
    // The old line goes on up to where the new one begins, and from where it ends.
    let nearest = |to: Mm, range: std::ops::Range<usize>| range.min_by(|a, b| old(*a).at.distance(to).total_cmp(&old(*b).at.distance(to)));
    let head = nearest(begin, 0..stretch.count / 2)?;
    let tail = nearest(end, stretch.count / 2..stretch.count)?;
    let rest = (stretch.count..n).map(old).filter(|_| path.closed);
    let round = (0..head).map(old).chain(new).chain((tail + 1..stretch.count).map(old));
    let points: Vec<SeamPoint> = if path.closed {
        round.chain(rest).collect()
    } else {
        let (before, after) = (&path.points[..stretch.first], &path.points[stretch.first + stretch.count..]);
        before.iter().copied().chain(round).chain(after.iter().copied()).collect()
    };
    Some(SeamPath { points, ..path.clone() })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A round line of 60 mm radius, points 1 mm apart.
    fn ring() -> SeamPath {
        let point = |k: usize| {
            let (sin, cos) = (std::f64::consts::TAU * k as f64 / 377.0).sin_cos();
            let normal = Vector2::new(cos, sin);
            SeamPoint { at: Mm::new(60.0 * cos, 60.0 * sin), normal, error: 0.05, px: Default::default(), flags: Default::default() }
        };
        SeamPath { points: (0..377).map(point).collect(), closed: true, correlation_mm: 3.0 }
    }

    #[test]
    fn a_stretch_is_put_back_where_it_was_taken_from() {
        let ring = ring();
        for angle in [0.0f64, 1.0, 3.1, 5.9] {
            let place = Mm::new(64.0 * angle.cos(), 64.0 * angle.sin());
            let s = stretch(&ring, place).expect("long enough");
            assert!((119..=123).contains(&s.count), "{}", s.count);
            let new: Vec<SeamPoint> = (0..s.count).map(|k| ring.points[(s.first + k) % 377]).collect();
            let again = spliced(&ring, &s, new).expect("there");
            assert!((again.points.len() as isize - 377).abs() <= 2, "{}", again.points.len());
            let far = (0..again.points.len()).map(|k| again.points[k].at.distance(again.points[(k + 1) % again.points.len()].at));
            assert!(far.fold(0.0, f64::max) < 2.5, "no gap and no way back");
        }
    }
}
