//! By how many whole squares, and quarter turns, two pictures of one ruled sheet lie apart: what lies on the sheet must tell.
//!
//! Of all placements those are kept in which cloth lies on cloth and sheet on sheet, then those in which the outlines meet where both see
//! them; of several the cloth's own look must single out one. A placement is never guessed: where nothing settles it, that is said.

use super::content::{Content, Shows};
use super::place::Placement;
use nalgebra::Vector2;

/// Two pictures must share this part of the smaller one.
const SHARED: f64 = 0.08;
/// Coarse samples that may show other things in the two, as a part of all and as a number.
const UNLIKE: (f64, usize) = (0.01, 2);
/// Coarse samples of cloth that must lie on one another.
const CLOTH: usize = 8;
/// Points of an outline that the other picture should see and does not, as a part of all.
const MISSED: f64 = 0.08;
/// How far apart the outlines may lie, mm (root mean square): blurred, and on paper that is not quite flat.
const APART: f64 = 1.0;
/// Length of outline that both see, mm, from which it may settle a placement alone.
const LENGTH: f64 = 150.0;
/// An outline is asked every so many of its points, about a millimetre apart.
const EVERY: usize = 3;
/// The cloth's look settles a placement when it stands out from chance by so many standard errors, and from the next by this factor.
const STANDS_OUT: (f64, f64) = (8.0, 1.8);
/// Samples of tone side by side, which say the same thing.
const ALIKE: f64 = 4.0;
/// Outlines settle it when those of every other placement lie this many times as far apart, and by this much more, mm.
const CLEARLY: (f64, f64) = (3.0, 0.5);

/// Why two pictures can't be placed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Unplaced {
    /// In no placement do they agree where both look.
    Nowhere,
    /// They agree when one is mirrored.
    Mirrored,
    /// They agree in several, and nothing tells which is right.
    Open(usize),
}

/// A placement and what speaks for it.
#[derive(Clone, Copy, Debug)]
pub(super) struct Placed {
    pub by: Placement,
    /// Length of outline that both see, mm, and how far apart it lies (root mean square), mm.
    pub length: f64,
    pub apart: f64,
    /// How far the likeness of the cloth stands out, standard errors.
    pub likeness: f64,
}

/// Places `second` on `first`. `hint` are places, in squares, of one thing seen in both.
///
/// # Errors
/// Nothing fits, or several placements do.
pub(super) fn place(first: &Content, second: &Content, hint: Option<[Vector2<f64>; 2]>) -> Result<Placed, Unplaced> {
    let mut all: Vec<Placed> = Vec::new();
    let mut mirrored = false;
    for way in Placement::ways() {
        if way.mirrored && !all.is_empty() {
            break;
        }
        let found = agreeing(first, second, way, hint);
        if way.mirrored {
            // A mirror image of a piece that is symmetrical fits as well as the piece: only the cloth's look tells then.
            mirrored |= !found.is_empty();
        } else {
            all.extend(found);
        }
    }
    match choose(&all) {
        Some(one) => Ok(one),
        None if all.is_empty() && mirrored => Err(Unplaced::Mirrored),
        None if all.is_empty() => Err(Unplaced::Nowhere),
        None => Err(Unplaced::Open(all.len())),
    }
}

/// The one that stands out, or the only one.
fn choose(all: &[Placed]) -> Option<Placed> {
    let by_look = all.iter().max_by(|a, b| a.likeness.total_cmp(&b.likeness))?;
    let next = all.iter().filter(|p| p.by != by_look.by).map(|p| p.likeness).fold(0.0, f64::max);
    if by_look.likeness >= STANDS_OUT.0 && by_look.likeness >= STANDS_OUT.1 * next {
        return Some(*by_look);
    }
    let long = || all.iter().filter(|p| p.length >= LENGTH);
    let by_line = long().min_by(|a, b| a.apart.total_cmp(&b.apart))?;
    let rest = || all.iter().filter(|p| p.by != by_line.by);
    let settled = rest().all(|p| p.apart > CLEARLY.0 * by_line.apart && p.apart > by_line.apart + CLEARLY.1 && p.length >= LENGTH);
    settled.then_some(*by_line)
}

/// Placements of one way round in which the pictures agree.
fn agreeing(first: &Content, second: &Content, way: Placement, hint: Option<[Vector2<f64>; 2]>) -> Vec<Placed> {
    let mut samples: Vec<([i32; 2], Shows)> = second.samples(second.coarse).map(|(s, shows)| (way.address(s), shows)).collect();
    // In an order that has nothing to do with where they lie, so that what does not fit is soon found out.
    samples.sort_by_key(|(s, _)| (s[0] as u32).wrapping_mul(0x9e37_79b1) ^ (s[1] as u32).wrapping_mul(0x85eb_ca6b).rotate_left(13));
    let least = SHARED * samples.len().min(first.samples(first.coarse).count()) as f64;
    let mut out = Vec::new();
    for by in shifts(first, second, way, hint) {
        let placement = Placement { by, ..way };
        if lies_on(first, &samples, by, least)
            && let Some((length, apart)) = rims(first, second, placement)
        {
            out.push(Placed { by: placement, length, apart, likeness: likeness(first, second, placement) });
        }
    }
    out
}

/// The shifts that bring the two over one another.
fn shifts(first: &Content, second: &Content, way: Placement, hint: Option<[Vector2<f64>; 2]>) -> Vec<[i32; 2]> {
    if let Some([a, b]) = hint {
        let off = a - way.place(b);
        return vec![[off.x.round() as i32, off.y.round() as i32]];
    }
    let ([low, high], [a, b]) = (first.extent(), second.extent());
    let (a, b) = (way.address(a), way.address(b));
    let range = |k: usize| low[k] - a[k].max(b[k])..=high[k] - a[k].min(b[k]);
    range(1).flat_map(|y| range(0).map(move |x| [x, y])).collect()
}

/// Whether cloth lies on cloth and sheet on sheet.
fn lies_on(first: &Content, samples: &[([i32; 2], Shows)], by: [i32; 2], least: f64) -> bool {
    let shift = by.map(|v| v * first.per);
    let (mut shared, mut cloth, mut unlike) = (0usize, 0usize, 0usize);
    let most = UNLIKE.1 + (UNLIKE.0 * samples.len() as f64) as usize;
    for ([a, b], shows) in samples {
        let there = first.shows([a + shift[0], b + shift[1]]);
        if !matches!(there, Shows::Sheet | Shows::Cloth) {
            continue;
        }
        shared += 1;
        if there != *shows {
            unlike += 1;
            if unlike > most {
                return false;
            }
        } else if there == Shows::Cloth {
            cloth += 1;
        }
    }
    shared as f64 >= least && cloth >= CLOTH && unlike as f64 <= UNLIKE.1 as f64 + UNLIKE.0 * shared as f64
}

/// Length of outline that both see and how far apart it lies; `None` when one sees an outline where the other has none.
fn rims(first: &Content, second: &Content, by: Placement) -> Option<(f64, f64)> {
    let (mut seen, mut missed, mut square) = (0usize, 0usize, 0.0);
    let mut ask = |at: Vector2<f64>, other: &Content| {
        if !other.deep(at) {
            return;
        }
        seen += 1;
        match other.nearest(at) {
            Some((p, _)) => {
                let off = Vector2::new((at.x - p.at.x) * other.pitch[0], (at.y - p.at.y) * other.pitch[1]);
                square += off.dot(&p.normal).powi(2).min(9.0);
            }
            None => missed += 1,
        }
    };
    second.rim.iter().step_by(EVERY).for_each(|p| ask(by.place(p.at), first));
    first.rim.iter().step_by(EVERY).for_each(|p| ask(by.back(p.at), second));
    let met = seen - missed;
    if missed as f64 > MISSED * seen as f64 {
        return None;
    }
    let apart = (square / met.max(1) as f64).sqrt();
    (apart <= APART).then_some((met as f64 * EVERY as f64 / 2.0, apart))
}

/// By how many standard errors the cloth's look in the two is more alike than chance would have it (correlation of tones).
fn likeness(first: &Content, second: &Content, by: Placement) -> f64 {
    let shift = by.by.map(|v| v * first.per);
    let (mut n, mut a, mut b, mut ab) = (0.0f64, 0.0f64, 0.0f64, 0.0f64);
    let turned = Placement { by: [0; 2], ..by };
    for (sample, shows) in second.samples(1) {
        if shows != Shows::Cloth {
            continue;
        }
        let [x, y] = turned.address(sample);
        if let (Some(p), Some(q)) = (first.tone([x + shift[0], y + shift[1]]), second.tone(sample)) {
            let (p, q) = (f64::from(p), f64::from(q));
            (n, a, b, ab) = (n + 1.0, a + p * p, b + q * q, ab + p * q);
        }
    }
    let r = ab / (a * b).sqrt().max(1e-12);
    if n > 0.0 { r * (n / ALIKE).sqrt() } else { 0.0 }
}
