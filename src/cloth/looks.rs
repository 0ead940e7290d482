//! What cloth and ground look like in a picture without ruling, learned from the first answer and from the picture's border, until that
//! changes nothing more (as in Rother, Kolmogorov and Blake 2004, with counts for mixtures).
//!
//! The border is ground, whatever it looks like: a fold of the bed, a joint of the floor, a lamp's bright side.

use super::evidence::{Evidence, Noise, Tell, apart, ln, ratio};
use super::ground::Ground;
use super::label::{self, Grid};
use super::learn::{Counts, cell};
use super::light::SheetLight;
use super::plain::FLOOR;
use super::squares::spread;
use super::told::Told;
use rayon::prelude::*;
use std::collections::VecDeque;

/// Rounds of learning and settling.
const ROUNDS: usize = 6;
/// Distance from the border of an answer, level px, from which on pixels are counted.
const CORE: usize = 3;
/// Share of the picture's shorter side that is its border.
const BORDER: f64 = 0.03;
/// From one pixel to the next of what reaches the border light changes by less than this (natural logarithm, all channels together), and it
/// differs by less than the second from what is at the border.
const STEP: f32 = 0.2;
const LIKE_FRAME: f32 = 0.5;
/// Share of the picture's shorter side from which on a place lies deep in the cloth, and what the depths count of the whole.
const DEEP: f64 = 0.035;
const DEPTHS: f32 = 0.75;
/// Fewest pixels that are worth counting.
const FEW: usize = 300;
/// Share of what is seen that was counted, and that may be anything, which is spread over so many cells.
const KNOWN: f32 = 0.97;
const ANY: f32 = 2e4;
/// Share of the ground that lies in other light than was seen, in folds and shadows, and how fast it grows rarer with that (natural logarithm).
const SHADED: f32 = 0.25;
const FADES: f32 = 0.3;
/// Share of the likelihood that is believed, and most that one pixel says: neighbours say nearly the same.
const BELIEF: f32 = 0.6;
const MOST: f32 = 2.5;
/// From here on a pixel's colour counts as clearly the cloth's.
const PLAIN: f32 = 1.5;

/// Settles the labels anew by what they make cloth and ground look like.
pub(super) fn settle(
    ground: &Ground,
    light: &SheetLight,
    evidence: &mut Evidence,
    noise: Noise,
    told: &Told,
    grid: &mut Grid,
    labels: &mut Vec<bool>,
) {
    let (w, h) = (evidence.width, evidence.height);
    let ratios = ratios(ground, light);
    let cells: Vec<usize> = ratios.par_iter().map(|r| cell(*r)).collect();
    let rim = ((w.min(h) as f64 * BORDER) as usize).max(2);
    let border = |n: usize| n % w < rim || n % w + rim >= w || n / w < rim || n / w + rim >= h;
    let deep = (w.min(h) as f64 * DEEP) as usize;
    leave_frame(&ratios, w, border, labels);
    for _ in 0..ROUNDS {
        let not: Vec<bool> = labels.iter().map(|l| !l).collect();
        let [near_cloth, near_ground, shallow] = [(&*labels, CORE), (&not, CORE), (&not, deep)].map(|(of, reach)| spread(of, w, h, reach));
        let count = |is: &dyn Fn(usize) -> bool| -> Vec<usize> { (0..w * h).filter(|n| is(*n)).map(|n| cells[n]).collect() };
        let (inside, outside) = (count(&|n| !near_ground[n] && !border(n)), count(&|n| !near_cloth[n] || border(n)));
        if inside.len() < FEW || outside.len() < FEW {
            return;
        }
        let depths = count(&|n| !shallow[n] && !border(n));
        let (cloth, bare) = (Counts::of(inside), Counts::of(outside));
        // Near its border lies what was wrongly taken in, but an edging as well.
        let cloth = if depths.len() < FEW { cloth } else { cloth.and(&Counts::of(depths), DEPTHS) };
        let shaded = bare.in_any_light(FADES);
        let say = |c: usize| {
            let cloth = KNOWN * cloth.0[c] + (1.0 - KNOWN) / ANY;
            let bare = KNOWN * ((1.0 - SHADED) * bare.0[c] + SHADED * shaded.0[c]) + (1.0 - KNOWN) / ANY;
            (BELIEF * ln(cloth / bare)).clamp(-MOST, MOST)
        };
        evidence.lean.par_iter_mut().zip(&mut evidence.tell).zip(&cells).for_each(|((lean, tell), c)| {
            *lean = say(*c);
            *tell = if *lean > PLAIN { Tell::Other } else { Tell::Open };
        });
        told.settle(evidence);
        let anew = label::again(grid, evidence, noise, labels, None);
        let same = anew == *labels;
        *labels = anew;
        if same {
            return;
        }
    }
}

/// Takes away what reaches the border and what looks like that, as long as it is less than half: then it is ground that its light does
/// not explain, and no cloth that the picture cuts off.
fn leave_frame(ratios: &[[f32; 3]], w: usize, border: impl Fn(usize) -> bool, labels: &mut [bool]) {
    let mut from = vec![None; labels.len()];
    let mut queue: VecDeque<usize> = (0..labels.len()).filter(|n| labels[*n] && border(*n)).collect();
    queue.iter().for_each(|n| from[*n] = Some(ratios[*n]));
    let mut reached = queue.len();
    while let Some(n) = queue.pop_front() {
        let Some(at_frame) = from[n] else { continue };
        let beside = [(n % w > 0).then(|| n - 1), (n % w + 1 < w).then_some(n + 1), n.checked_sub(w), Some(n + w)];
        for m in beside.into_iter().flatten().filter(|m| *m < labels.len()) {
            if labels[m] && from[m].is_none() && apart(ratios[m], ratios[n]) < STEP && apart(ratios[m], at_frame) < LIKE_FRAME {
                from[m] = Some(at_frame);
                reached += 1;
                queue.push_back(m);
            }
        }
    }
    if 2 * reached < labels.iter().filter(|l| **l).count() {
        labels.iter_mut().zip(from).filter(|(_, from)| from.is_some()).for_each(|(label, _)| *label = false);
    }
}

/// Natural logarithm of each pixel's light against the ground's.
fn ratios(ground: &Ground, light: &SheetLight) -> Vec<[f32; 3]> {
    let w = ground.level.width;
    let mut out = vec![[0f32; 3]; ground.level.rgb.len()];
    out.par_chunks_mut(w).zip(ground.level.rgb.par_chunks(w)).enumerate().for_each_init(Vec::new, |lights, (y, (out, seen))| {
        light.row(y, w, lights);
        let lit = |v: [f32; 3]| v.map(|v| v + FLOOR);
        for ((out, seen), light) in out.iter_mut().zip(seen).zip(lights.iter()) {
            *out = ratio(lit(*seen), lit(*light));
        }
    });
    out
}
