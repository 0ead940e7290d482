//! Which lines the pitch told is that of, where a sheet is ruled in several weights.
//!
//! A mat ruled each centimetre with every fifth line heavier is said to have a pitch of 1 cm or of 5 cm. Four things speak: what the
//! profile says, how far away the camera would have been (or the scan's resolution), how wide the lines would be, and that rulings are
//! customary ones.

use super::doubts;
use super::looks::Looks;
use super::map::SheetMap;
use crate::proof::Doubt;
use crate::sheet::SheetProfile;
use crate::shot::Shot;

/// A garment is mostly photographed from about here, mm: arm's length above a table; and the spread of that, as a logarithm: two thirds
/// of all between half of it and twice it. (Common practice, no source.)
const AWAY: f64 = 800.0;
const AWAY_SPREAD: f64 = 0.65;
/// The same of a picture without a camera's tags, which may be a scan that lost its resolution.
const AWAY_SPREAD_UNTAGGED: f64 = 1.3;
/// How well a scan's resolution fits the pitch of its ruling, as a logarithm.
const SCAN_SPREAD: f64 = 0.02;
/// Ruled lines are about so wide, mm, and the spread beyond that, as a logarithm. (Common practice, no source.)
const WIDTH: [f64; 2] = [0.2, 0.9];
const WIDTH_SPREAD: f64 = 0.4;
/// Lens and sensor alone may show a line this wide at half its depth, px.
const BLUR: f64 = 3.5;
/// Distances at which rulings are sold, mm. (Common practice, no source.)
const CUSTOMARY: [f64; 14] = [1.0, 2.0, 5.0, 10.0, 50.0, 100.0, 1.5875, 2.54, 3.175, 6.35, 12.7, 25.4, 152.4, 304.8];
/// The centimetre and the inch: most rulings have one or the other among their lines.
const UNITS: [f64; 2] = [10.0, 25.4];
/// Pitches this near are the same; nobody's sheet is out by more.
const SAME: f64 = 0.01;
/// What a distance that is not customary takes from the odds (logarithm), and what a unit adds.
const STRANGE: f64 = 2.0;
const UNIT: f64 = 0.7;
/// Odds (logarithm) from which there is no doubt: fifty to one.
const SURE: f64 = 4.0;

/// Odds (logarithm) from which another ruling than the one told is doubted where nothing but distance and width speaks: twenty to one.
const LIKELIER: f64 = 3.0;
/// Rulings that hold each other do so up to this many times: sixteenths of an inch in the inch.
const MOST_TIMES: f64 = 16.5;

/// Width of a Gaussian at half its height, in standard deviations.
const FULL_WIDTH: f64 = 2.355;

/// What the pitch told means.
pub(super) struct Level {
    /// Distance of neighbouring nodes, mm.
    pub pitch: [f64; 2],
    /// Another reading of it that is not out of the question.
    pub doubt: Option<Doubt>,
}

/// Decides it. `looks` says which lines of the lattice are heavier; `hidden` how many still finer squares, too fine to be measured, make
/// one of the lattice's.
pub(super) fn choose(shot: &Shot, profile: &SheetProfile, map: &SheetMap, looks: Option<&Looks>, hidden: Option<u32>) -> Level {
    let told = (profile.pitch[0] * profile.pitch[1]).sqrt();
    // Distances of the lines of each weight in squares of the lattice, finest first.
    let mut levels: Vec<f64> = hidden.map(|n| 1.0 / f64::from(n)).into_iter().chain([1.0]).collect();
    levels.extend(looks.map_or(&[][..], |l| &l.every).iter().scan(1.0, |m, &n| {
        *m *= f64::from(n);
        Some(*m)
    }));
    let at = |squares: f64| profile.pitch.map(|p| p / squares);
    let ratio = |k: usize| levels.get(k + 1).map(|next| next / levels[k]);
    let by_profile =
        profile.heavy_every.and_then(|e| (0..levels.len()).find(|&k| ratio(k).is_some_and(|r| (r - f64::from(e)).abs() < 0.5)));
    if let Some(k) = by_profile {
        return Level { pitch: at(levels[k]), doubt: None };
    }
    // A line is no wider than it is seen, and no narrower than that less all the blur there may be.
    let seen = looks.map(|l| FULL_WIDTH * l.usual.width);
    let wide = seen.zip(doubts::step(map)).map(|(w, step)| [(w * w - BLUR * BLUR).max(0.0).sqrt() / step, w / step]);
    let odds = |pitch: f64| {
        distance(shot, map, pitch) + wide.map_or(0.0, |w| width(w.map(|w| w * pitch))) + custom(levels.iter().map(|l| l * pitch))
    };
    if levels.len() == 1 {
        let away = |pitch: f64| doubts::away(shot, map, pitch).filter(|_| shot.tags.px_per_mm.is_none());
        let doubt = another(told, odds).map(|likelier| Doubt::AnotherRuling {
            told: profile.pitch[0],
            likelier,
            away: away(told).zip(away(likelier)).map(|(a, b)| [a, b]),
        });
        return Level { pitch: profile.pitch, doubt };
    }
    let mut rated: Vec<(f64, f64)> = levels.iter().map(|&l| (odds(told / l), l)).collect();
    rated.sort_by(|a, b| b.0.total_cmp(&a.0));
    let (best, taken) = rated[0];
    let doubt = rated.get(1).filter(|other| best - other.0 < SURE).map(|&(_, other)| {
        let parts = (taken / other).max(other / taken).round() as u32;
        Doubt::FinerRuling { parts, finer_taken: taken < other, pitch: profile.pitch[0] }
    });
    Level { pitch: at(taken), doubt }
}

/// A customary ruling some times finer or coarser than the one told that is much likelier, mm.
fn another(told: f64, odds: impl Fn(f64) -> f64) -> Option<f64> {
    let times = |pitch: &f64| {
        let ratio = (pitch / told).max(told / pitch);
        (1.5..MOST_TIMES).contains(&ratio) && (ratio / ratio.round() - 1.0).abs() < SAME
    };
    let rated = CUSTOMARY.into_iter().filter(times).map(|pitch| (odds(pitch), pitch));
    let best = rated.max_by(|a, b| a.0.total_cmp(&b.0))?;
    (best.0 - odds(told) > LIKELIER).then_some(best.1)
}

/// How likely (logarithm) a picture is in which neighbouring nodes are `pitch` mm apart.
fn distance(shot: &Shot, map: &SheetMap, pitch: f64) -> f64 {
    let off = match shot.tags.px_per_mm.filter(|_| !shot.tags.camera) {
        Some([x, y]) => doubts::step(map).map(|step| (step / (x * y).sqrt() / pitch).ln() / SCAN_SPREAD),
        None => {
            let spread = if shot.tags.camera { AWAY_SPREAD } else { AWAY_SPREAD_UNTAGGED };
            doubts::away(shot, map, pitch).map(|away| (away / AWAY).ln() / spread)
        }
    };
    off.map_or(0.0, |off| -0.5 * off * off)
}

/// How likely (logarithm) lines are that are between so wide and so wide, mm.
fn width([least, most]: [f64; 2]) -> f64 {
    let off = (least / WIDTH[1]).max(1.0).ln() - (most / WIDTH[0]).min(1.0).ln();
    -0.5 * (off / WIDTH_SPREAD).powi(2)
}

/// How customary (logarithm) a ruling is whose lines of each weight lie so far apart, mm.
fn custom(levels: impl Iterator<Item = f64>) -> f64 {
    let is = |all: &[f64], mm: f64| all.iter().any(|c| (mm / c - 1.0).abs() < SAME);
    let (mut odds, mut unit) = (0.0, 0.0);
    for mm in levels {
        odds -= if is(&CUSTOMARY, mm) { 0.0 } else { STRANGE };
        unit = if is(&UNITS, mm) { UNIT } else { unit };
    }
    odds + unit
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_blurred_line_need_not_be_wide() {
        assert_eq!((width([0.0, 2.7]), width([0.3, 0.6])), (0.0, 0.0));
        assert!(width([1.8, 2.0]) < -1.0 && width([0.0, 0.1]) < -1.0);
    }

    #[test]
    fn a_ruling_that_holds_the_one_told_may_be_likelier() {
        // By distance alone: 900 mm where lines are an inch apart, a tenth of that or eight times as much otherwise.
        let odds =
            |step: f64| move |pitch: f64| -0.5 * ((900.0 * pitch / step / AWAY).ln() / AWAY_SPREAD).powi(2) + custom([pitch].into_iter());
        assert_eq!(another(3.175, odds(25.4)), Some(25.4));
        // Of an eighth and a tenth of an inch distance tells neither.
        assert!(another(25.4, odds(3.175)).is_some_and(|likelier| likelier < 4.0));
        assert!(another(25.4, odds(25.4)).is_none() && another(12.7, odds(25.4)).is_none() && another(20.0, odds(20.0)).is_none());
    }

    #[test]
    fn customary_rulings_are_likelier() {
        let odds = |levels: &[f64]| custom(levels.iter().copied());
        // Each time the pitch is that of the second line, or of the first.
        for (heavy, fine) in [([5.0, 10.0], [10.0, 20.0]), ([12.7, 25.4], [25.4, 50.8]), ([3.175, 25.4], [25.4, 203.2])] {
            assert!(odds(&heavy) > odds(&fine), "{heavy:?} {fine:?}");
        }
        for (fine, heavy) in [([5.0, 10.0], [2.5, 5.0]), ([12.7, 25.4], [6.35, 12.7]), ([3.175, 25.4], [0.396_875, 3.175])] {
            assert!(odds(&fine) > odds(&heavy), "{fine:?} {heavy:?}");
        }
    }
}
