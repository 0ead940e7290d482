//! The stage itself: seeks the kinds that come into question, chooses the sheet's lattice among rivals, numbers and checks it.

use super::code::Reading;
use super::error::{word, words};
use super::level::Level;
use super::looks::Looks;
use super::number::Numbered;
use super::ridge::Relief;
use super::seek::{CLEAR, Found, crossed, promise, seek, seek_border, seek_small_crosses};
use super::{GridError, Lattice, Settings, across, check, code, coded, doubts, level, refine, settle, stamp};
use crate::proof::{Doubt, Proof};
use crate::sheet::{SheetKind, SheetProfile};
use crate::shot::{Gray, Shot};
use std::time::Instant;

/// All kinds, in the order in which the first of equals wins.
const KINDS: [SheetKind; 5] = [SheetKind::Lines, SheetKind::Mat, SheetKind::Checker, SheetKind::Crosses, SheetKind::Dots];
/// Long side, px, of the smallest level at which kinds are told apart at a glance.
const GLANCE_PX: usize = 600;
/// Lines this clear need no look for lines of the other polarity, which cost as much time again.
const PLAIN: f64 = 0.3;
/// A lattice of lines that fills this much of the picture needs no look for other kinds of mark.
const FULL: f64 = 0.5;
/// A lattice round another needs only this share of its score: much of it is hidden.
const ROUND: f64 = 0.3;
/// Of two sheets the one is measured that has at least this share of the picture hidden within it, and so many times as much as the other.
const COVERED: f64 = 0.01;
const CLEARLY: f64 = 5.0;
/// Below this sharpness (see [`Relief::sharpness`]) the picture is blurred over some ten pixels of the level.
const BLURRED: f64 = 0.45;
/// Below this score nothing is taken for a sheet.
const LEAST: f64 = 0.02;
/// Fewest nodes to measure from: a view has eight numbers at the least, a node gives two.
const FEWEST: usize = 6;
/// Somebody's measured profile of a coded print differs from what was drawn by less than this: 94 % is a page fitted to another paper. An inch and 25 mm differ
/// by 1.6 %, so a pitch that was merely told is never taken for a measurement.
const PRINTED_OFF: f64 = 0.02;
/// A pitch told that differs from the code's by more than this share is another one.
const ANOTHER: f64 = 0.0005;
/// Smallest side of a picture that can show a sheet, px.
const SMALLEST: usize = 32;

/// Finds the sheet's lattice in a picture.
///
/// # Errors
/// [`GridError`] when the picture is too small, dark or blurred, shows no lattice of the wanted kind, or two side by side.
pub fn find(shot: &Shot, profile: &SheetProfile, settings: &Settings, proof: &mut Proof) -> Result<Lattice, GridError> {
    let begun = Instant::now();
    if shot.width.min(shot.height) < SMALLEST {
        return Err(GridError::TooSmall { width: shot.width, height: shot.height });
    }
    // A code is carried by dark lines.
    let kind = profile.kind.map(|k| if k == SheetKind::Coded { SheetKind::Lines } else { k });
    let found = sought(shot, profile, kind, settings)?;
    let size = [shot.width, shot.height];
    // A code was read between the finest lines there are.
    let (found, hidden) = if found.coded.is_some() { (found, None) } else { refine::finest(shot, found) };
    let seen = Numbered::of(&found, size).ok_or(GridError::NoGrid { kind: words(profile.kind) })?;
    if seen.nodes.len() < FEWEST {
        return Err(GridError::TooFew { nodes: seen.nodes.len(), kind: words(Some(found.kind)) });
    }
    let lines = found.kind == SheetKind::Lines;
    let reading = found.coded.or_else(|| lines.then(|| code::read(shot, &seen.nodes, &seen.map)).flatten());
    let level = level(shot, profile, &seen, hidden, reading.as_ref())?;
    let pitch = level.pitch;
    let kept_out = check::kept_out(&seen.nodes, size);
    let mut doubts = doubts::doubts(shot, pitch, &seen.nodes, &seen.map);
    if let Some((told, away)) = doubts.iter().find_map(|d| doubts::impossible(d, shot.tags.camera)) {
        let wide = told * shot.width.max(shot.height) as f64 / doubts::step(&seen.map).unwrap_or(1.0);
        return Err(GridError::PitchImpossible { told, away, wide });
    }
    doubts.extend(level.doubt);
    if found.preferred {
        doubts.push(Doubt::AnotherSheet);
    }
    let px_per_mm = seen.map.frame(0.0, 0.0).map_or(1.0, |[u, v]| 0.5 * (u.norm() / pitch[0] + v.norm() / pitch[1]));
    let seen = match &reading {
        Some(_) if found.coded.is_some() => Numbered::as_found(&found),
        Some(r) => seen.turned(r.turn),
        None => seen,
    };
    let Numbered { nodes, map, looks } = seen;
    // Half the width at half depth of a Gaussian is 1.177 deviations.
    let [half, reach] =
        looks.as_ref().map(|l| [1.177 * l.usual.width, 0.0]).or_else(|| stamp::usual(shot, found.kind, &nodes, &map)).unwrap_or_default();
    let [mark_half_width, mark_reach] = [half, reach].map(|v| v / px_per_mm);
    let squares = found.kind == SheetKind::Dots && stamp::squares(shot, &nodes, &map);
    let mark_contrast = looks.as_ref().map_or(0.0, |l| l.usual.depth as f32);
    let line_weights = looks.as_ref().map(Looks::weights).unwrap_or_default();
    proof.figure("grid", "nodes", nodes.len() as f64);
    proof.figure("grid", "kept_out_rms_px", kept_out.rms_px);
    proof.figure("grid", "score", found.score);
    proof.time("grid", begun.elapsed());
    let (kind, code) = reading.map_or((found.kind, None), |r| (SheetKind::Coded, Some(r.code)));
    Ok(Lattice {
        kind,
        code,
        pitch,
        lay: crate::sheet::SheetLay::default(),
        nodes,
        mark_half_width,
        mark_reach,
        squares,
        mark_contrast,
        line_weights,
        kept_out,
        doubts,
    })
}

/// How far the lines are apart: as the code says, or as told.
fn level(shot: &Shot, profile: &SheetProfile, seen: &Numbered, hidden: Option<u32>, reading: Option<&Reading>) -> Result<Level, GridError> {
    let told = profile.pitch;
    let Some(reading) = reading else {
        return match profile.kind {
            Some(SheetKind::Coded) => Err(GridError::NoCode),
            _ if told == [0.0; 2] => Err(GridError::NoPitch),
            _ => Ok(level::choose(shot, profile, &seen.map, seen.looks.as_ref(), hidden)),
        };
    };
    if reading.mirrored {
        return Err(GridError::Mirrored);
    }
    let own = reading.code.pitch().mm();
    let off = |p: f64| (p / own - 1.0).abs();
    let within = |share: f64| told.iter().all(|p| off(*p) < share);
    if profile.measured.is_some() && within(PRINTED_OFF) {
        return Ok(Level { pitch: told, doubt: None });
    }
    let doubted = told != [0.0; 2] && !within(ANOTHER);
    Ok(Level { pitch: [own; 2], doubt: doubted.then_some(Doubt::PitchAgainstCode { told: told[0], coded: own }) })
}

/// The sheet's lattice; where nobody told a pitch only a code can, which is then sought in a narrow border too.
fn sought(shot: &Shot, profile: &SheetProfile, kind: Option<SheetKind>, settings: &Settings) -> Result<Found, GridError> {
    let found = search(shot, kind, settings);
    let lines = kind.is_none_or(|k| k == SheetKind::Lines);
    let needed = profile.kind == Some(SheetKind::Coded) || profile.pitch == [0.0; 2];
    if !lines || !needed || found.as_ref().is_ok_and(|f| f.coded.is_some()) || matches!(found, Err(GridError::TooDark)) {
        return found;
    }
    let first = first_level(shot, settings);
    let levels = [2 * first, first, first / 2].into_iter().filter(|factor| *factor > 0);
    let borders = levels.filter_map(|factor| seek_border(shot, &shot.gray(factor)));
    borders.max_by_key(|f| f.nodes.len()).map_or(found, Ok)
}

/// How many pixels go into one of the level that is searched first.
fn first_level(shot: &Shot, settings: &Settings) -> usize {
    (shot.width.max(shot.height) as f64 / settings.search_px as f64).round().max(1.0) as usize
}

fn search(shot: &Shot, told: Option<SheetKind>, settings: &Settings) -> Result<Found, GridError> {
    let kinds: Vec<SheetKind> = told.map_or(KINDS.to_vec(), |k| if k == SheetKind::Lines { vec![k, SheetKind::Mat] } else { vec![k] });
    let first = first_level(shot, settings);
    let kinds = if told.is_none() { likely(shot, 3 * first) } else { kinds };
    let mut factors = vec![first, 2 * first];
    if first > 1 {
        factors.push(first / 2);
    }
    // Squares and discs tens of pixels across have hundreds of specks and corners about them until they are small themselves.
    let large = kinds.contains(&SheetKind::Dots).then_some(4 * first);
    factors.extend(large.filter(|f| shot.width.max(shot.height) / f >= GLANCE_PX));
    let mut best: Option<Found> = None;
    for &factor in &factors {
        let kinds = if Some(factor) == large { &[SheetKind::Dots][..] } else { &kinds };
        let gray = shot.gray(factor);
        if factor == first && dark(&gray) {
            return Err(GridError::TooDark);
        }
        let relief = Relief::new(&gray);
        let found = best_of(shot, &gray, &relief, kinds)?;
        if let Some(coded) = found.as_ref().filter(|f| f.coded.is_some()) {
            return Ok(coded.clone());
        }
        if found.as_ref().is_some_and(|f| best.as_ref().is_none_or(|b| f.score > b.score)) {
            best = found;
        }
        if best.as_ref().is_some_and(|b| b.score > CLEAR) {
            break;
        }
    }
    let score = best.as_ref().map_or(0.0, |b| b.score);
    if score >= PLAIN
        && let Some(found) = best
    {
        return Ok(found);
    }
    let gray = shot.gray(first);
    let relief = Relief::new(&gray);
    if let Some(error) = other_kind(shot, &gray, &relief, told, score) {
        return Err(error);
    }
    let kind = words(told);
    match best.filter(|b| b.score > LEAST) {
        Some(found) => Ok(found),
        None if dim(&gray) => Err(GridError::TooDark),
        None if burnt(&gray) => Err(GridError::TooBright { kind }),
        None if relief.sharpness() < BLURRED => Err(GridError::Blurred { kind }),
        None => Err(GridError::NoGrid { kind }),
    }
}

/// All kinds, those first of which a level reduced by `factor` already shows a lattice: whichever comes first is mostly the only one
/// that has to be sought at length.
fn likely(shot: &Shot, factor: usize) -> Vec<SheetKind> {
    if shot.width.max(shot.height) / factor < GLANCE_PX {
        return KINDS.to_vec();
    }
    let gray = shot.gray(factor);
    let relief = Relief::new(&gray);
    let mut rated: Vec<(f64, SheetKind)> = Vec::new();
    for kind in KINDS {
        let clear = rated.iter().any(|r| r.0 > FULL);
        rated.push((if clear { 0.0 } else { promise(&gray, &relief, kind, [shot.width, shot.height]) }, kind));
    }
    rated.sort_by(|a, b| b.0.total_cmp(&a.0));
    let mut kinds: Vec<SheetKind> = rated.into_iter().map(|r| r.1).collect();
    // At a glance small crosses are dots: what promised to be dots and is none may be crosses.
    let place = |kinds: &[SheetKind], kind| kinds.iter().position(|k| *k == kind);
    if let (Some(dots), Some(crosses)) = (place(&kinds, SheetKind::Dots), place(&kinds, SheetKind::Crosses))
        && dots < crosses
    {
        kinds[dots + 1..=crosses].rotate_right(1);
    }
    kinds
}

/// The best lattice over several kinds.
fn best_of(shot: &Shot, gray: &Gray, relief: &Relief, kinds: &[SheetKind]) -> Result<Option<Found>, GridError> {
    let mut all: Vec<Found> = Vec::new();
    for &kind in kinds {
        let enough = if kind == SheetKind::Mat { PLAIN } else { FULL };
        if all.iter().any(|f| f.score > enough) {
            continue;
        }
        all.extend(seek(shot, gray, relief, kind));
        // Small crosses pass for dots until one looks for arms.
        if kind == SheetKind::Dots && kinds.contains(&SheetKind::Crosses) {
            all.retain(|f| f.kind != SheetKind::Dots || !crossed(shot, f));
        }
    }
    // Where dots come into question too, they are found as dots.
    if kinds == [SheetKind::Crosses] && all.iter().all(|f| f.score < CLEAR) {
        all.extend(seek_small_crosses(shot, gray));
    }
    // What carries a code is a sheet, however little of it is seen.
    if let Some(coded) = coded::together(shot, &all) {
        return Ok(Some(coded));
    }
    all.sort_by(|a, b| b.score.total_cmp(&a.score));
    let Some(first) = all.first() else { return Ok(None) };
    // A lattice that lies round the best one is the sheet with a checked garment on it.
    let outer = all.iter().position(|r| r.score > ROUND * first.score && settle::round(r, first)).unwrap_or(0);
    let best = all.remove(outer);
    let rival = all.iter().position(|r| r.kind == best.kind && r.score > 0.5 * best.score && settle::beside(&best, r));
    match rival {
        None => Ok(Some(best)),
        Some(k) => {
            let (other, size) = (all.remove(k), [shot.width, shot.height]);
            across::one_sheet(&best, &other, size).map_or_else(|| under_garment(best, other, size).map(Some), |one| Ok(Some(one)))
        }
    }
}

/// Of two sheets side by side the one that something lies on, when nothing lies on the other.
fn under_garment(a: Found, b: Found, size: [usize; 2]) -> Result<Found, GridError> {
    let [on_a, on_b] = [&a, &b].map(|f| settle::hidden(f, size));
    let least = COVERED * (size[0] * size[1]) as f64;
    let (under, over, free) = if on_a > on_b { (a, on_a, on_b) } else { (b, on_b, on_a) };
    if over > least && over > CLEARLY * free { Ok(Found { preferred: true, ..under }) } else { Err(GridError::TwoSheets) }
}

/// The error that names another kind, when that makes a much better lattice than `score`, the best of the kind told.
fn other_kind(shot: &Shot, gray: &Gray, relief: &Relief, told: Option<SheetKind>, score: f64) -> Option<GridError> {
    let told = told?;
    let kinds: Vec<SheetKind> = KINDS.into_iter().filter(|k| *k != told && (told, *k) != (SheetKind::Lines, SheetKind::Mat)).collect();
    let found = best_of(shot, gray, relief, &kinds).ok()??;
    let better = found.score > CLEAR.max(2.0 * score);
    better.then(|| GridError::OtherKind { told: words(Some(told)), seen: words(Some(found.kind)), word: word(found.kind) })
}

/// Whether hardly any pixel is lighter than 1 % (an encoded value of 25).
fn dark(gray: &Gray) -> bool {
    few(gray, |v| v > 0.01, 50)
}

/// Whether hardly any pixel is lighter than a twentieth of white (an encoded value of 63), which leaves thin lines no contrast.
fn dim(gray: &Gray) -> bool {
    few(gray, |v| v > 0.05, 50)
}

/// Whether most pixels are as white as a picture can hold (an encoded value of 254).
fn burnt(gray: &Gray) -> bool {
    !few(gray, |v| v > 0.99, 2)
}

/// Whether fewer than one in `of` pixels is so.
fn few(gray: &Gray, so: impl Fn(f32) -> bool, of: usize) -> bool {
    gray.data.iter().step_by(17).filter(|v| so(**v)).count() * 17 * of < gray.data.len()
}
