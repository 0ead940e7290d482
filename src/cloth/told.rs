//! What is known beforehand of parts of the picture: marks laid by hand hide what is below, and regions belong to a piece or don't.

use super::Settings;
use super::contour::fill;
use super::evidence::{Evidence, Tell};
use crate::shot::{Area, Level, to_level};
use std::collections::BTreeSet;

/// Leaning that no evidence outweighs.
const CERTAIN: f32 = 1000.0;
/// Rounds in which light is led in from the border of what is hidden; marks are a dozen pixels wide.
const ROUNDS: usize = 60;

/// Pixels of a level of which something is told, by number.
pub(super) struct Told {
    hidden: Vec<usize>,
    kept: Vec<usize>,
    left_out: Vec<usize>,
}

impl Told {
    pub fn of(settings: &Settings, level: &Level) -> Self {
        let within = |areas: &[Area]| {
            let mut all = BTreeSet::new();
            for area in areas {
                let line: Vec<[f64; 2]> = area.border().iter().map(|p| to_level(level.factor, *p).into()).collect();
                fill(&line, level.width, level.height, |n| {
                    all.insert(n);
                });
            }
            all.into_iter().collect()
        };
        Self { hidden: within(&settings.hidden), kept: within(&settings.kept), left_out: within(&settings.left_out) }
    }

    /// Leads the light round each hidden part smoothly over it, so that its border is no edge.
    pub fn paint(&self, level: &mut Level) {
        let hidden: BTreeSet<usize> = self.hidden.iter().copied().collect();
        let (w, h) = (level.width, level.height);
        let beside = |n: usize| {
            let (x, y) = (n % w, n / w);
            let all = [(x > 0, n.wrapping_sub(1)), (x + 1 < w, n + 1), (y > 0, n.wrapping_sub(w)), (y + 1 < h, n + w)];
            all.into_iter().filter(|(inside, _)| *inside).map(|(_, m)| m)
        };
        let mut known: BTreeSet<usize> = BTreeSet::new();
        for round in 0..ROUNDS {
            let before = known.clone();
            for &n in &self.hidden {
                // In the first rounds light comes in from the border only; what lies below does not count.
                let from: Vec<usize> = beside(n).filter(|m| !hidden.contains(m) || before.contains(m)).collect();
                if from.is_empty() || (round < ROUNDS / 4 && before.contains(&n)) {
                    continue;
                }
                level.rgb[n] = std::array::from_fn(|c| from.iter().map(|m| level.rgb[*m][c]).sum::<f32>() / from.len() as f32);
                known.insert(n);
            }
        }
    }

    /// Keeps what lies beside hidden parts from speaking of the sheet's marks, which they hide.
    pub fn spoil(&self, evidence: &mut Evidence) {
        self.hidden.iter().for_each(|&n| evidence.tell[n] = Tell::Other);
    }

    /// Hidden pixels say nothing, told ones say what was told.
    pub fn settle(&self, evidence: &mut Evidence) {
        let mut set = |pixels: &[usize], lean: f32, tell: Tell| {
            for &n in pixels {
                (evidence.lean[n], evidence.tell[n]) = (lean, tell);
            }
        };
        set(&self.hidden, 0.0, Tell::Mark);
        set(&self.kept, CERTAIN, Tell::Other);
        set(&self.left_out, -CERTAIN, Tell::Open);
    }

    /// What was told holds whatever was found.
    pub fn obey(&self, labels: &mut [bool]) {
        self.kept.iter().for_each(|&n| labels[n] = true);
        self.left_out.iter().for_each(|&n| labels[n] = false);
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::length::Px;

    fn square(x: f64, y: f64, side: f64) -> Area {
        Area::new([[x, y], [x + side, y], [x + side, y + side], [x, y + side]].map(Px::from).to_vec()).expect("a square")
    }

    #[test]
    fn hidden_light_is_led_in_from_both_sides() {
        let (width, height) = (40, 20);
        let rgb = (0..width * height).map(|n| if n % width < 20 { [0.2f32; 3] } else { [0.8; 3] }).collect();
        let mut level = Level { factor: 1, width, height, rgb };
        let settings = Settings { hidden: vec![square(14.5, 4.5, 10.0)], ..Settings::default() };
        (5..15).for_each(|y| (15..25).for_each(|x| level.rgb[y * width + x] = [1.0, 0.0, 0.0]));
        Told::of(&settings, &level).paint(&mut level);
        let at = |x: usize, y: usize| level.rgb[y * width + x];
        for y in 5..15 {
            assert!((15..25).all(|x| (0.19..0.81).contains(&at(x, y)[0]) && (at(x, y)[0] - at(x, y)[1]).abs() < 1e-5));
            assert!((15..24).all(|x| at(x, y)[0] <= at(x + 1, y)[0] + 1e-3), "rises from cloth to sheet");
        }
    }

    #[test]
    fn what_is_told_is_obeyed() {
        let level = Level { factor: 1, width: 20, height: 10, rgb: vec![[0.5; 3]; 200] };
        let settings = Settings { kept: vec![square(0.5, 0.5, 4.0)], left_out: vec![square(9.5, 1.5, 4.0)], ..Settings::default() };
        let mut labels: Vec<bool> = (0..200).map(|n| n % 20 >= 10).collect();
        Told::of(&settings, &level).obey(&mut labels);
        assert!(labels[2 * 20 + 2] && !labels[6 * 20 + 2]);
        assert!(!labels[3 * 20 + 11] && labels[8 * 20 + 11]);
    }
}
