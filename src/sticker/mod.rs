//! Marks laid by hand: round stickers, pin heads and paper pointers of a strong colour that neither cloth nor sheet has.
//!
//! In: picture, view, what the notes say lies there. Out: each mark with its place, in the order in which a person counts. They
//! are found before the cloth is sought, so that they can be kept out of it ([`Mark::cover`]). Goes wrong: round buttons and print of
//! a rare colour (the notes' colour and count settle it), stickers of a colour that is in the cloth (not found, and said), white,
//! grey and black ones (no strong colour).
//!
//! | file | holds |
//! |---|---|
//! | `palette` | strong colours that are rare in the picture |
//! | `spots` | connected spots of one of them |
//! | `rim` | where a mark ends along a line |
//! | `disc`, `tip` | round marks and the tips of pointers, to a fraction of a pixel |
//! | `choose` | which of them were meant |
//! | `order` | in which order they are counted |

mod choose;
mod disc;
mod order;
mod palette;
mod rim;
mod spots;
mod tip;

use crate::grid::Lattice;
use crate::length::{Mm, Px};
use crate::notes::{MarkKind, MarksNotes};
use crate::proof::Proof;
use crate::shot::{Area, Shot, encoded, to_level};
use crate::view::View;
use choose::Candidate;
use image::{Rgb, RgbImage};
use imageproc::drawing::{draw_cross_mut, draw_line_segment_mut};
use nalgebra::Vector2;
use palette::Chroma;
use spots::Spot;

/// Diameters of stickers and pin heads, mm (common practice, no source: stickers of 5 to 25 mm, heads of 2 to 6 mm).
const STICKERS: [f64; 2] = [3.5, 30.0];
const PINS: [f64; 2] = [1.6, 8.0];
/// Pixels of the reduced picture per mm that show a sticker or pointer, and a pin's head, well enough to be noticed.
const SEEN: f64 = 1.4;
const SEEN_PIN: f64 = 3.0;
/// How far from an ellipse a round spot may be by its moments, and how much longer than wide: seen at 45 degrees.
const ELLIPSE: f64 = 1.3;
const SLENDER: f64 = 1.8;
/// How much of a round spot's radius is mixed with what lies beside, reduced px.
const MIXED: f64 = 0.7;
/// A pointer's spot is at least this slender.
const POINTED: f64 = 1.6;
/// What surrounds a mark is spoilt by it for so many mm and px: its own thickness, and colour that JPEG keeps at half the resolution.
const SPOILT_MM: f64 = 0.4;
const SPOILT_PX: f64 = 2.0;

/// A mark laid by hand.
#[derive(Clone, Debug, PartialEq)]
pub struct Mark {
    /// What it is.
    pub kind: MarkKind,
    /// Its centre, or its tip, in the picture.
    pub px: Px,
    /// The same on the sheet's plane.
    pub at: Mm,
    /// Diameter, or width of a pointer's base, mm.
    pub across: f64,
    /// Where a pointer points to, unit vector on the sheet.
    pub ahead: Option<Vector2<f64>>,
    /// Its colour, sRGB bytes.
    pub colour: [u8; 3],
    /// Standard error of its place, mm, view error not included.
    pub error: f64,
    /// What of the picture it hides or spoils.
    pub cover: Area,
}

/// The marks of each group of the notes, in the order of counting. Nothing here knows how many were laid: that they are as many as
/// there are names is for whoever asks to check.
pub fn find(shot: &Shot, lattice: &Lattice, view: &View, asked: &[MarksNotes], proof: &mut Proof) -> Vec<Vec<Mark>> {
    let mut out: Vec<Vec<Mark>> = vec![Vec::new(); asked.len()];
    let Some(per_mm) = view.middle().map(|m| view.px_per_mm(m)).filter(|s| s.is_finite() && *s > 0.0) else { return out };
    for (seen, smallest, pins) in [(SEEN, STICKERS[0], false), (SEEN_PIN, PINS[0], true)] {
        let groups: Vec<usize> = (0..asked.len()).filter(|&k| (asked[k].are == MarkKind::Pins) == pins).collect();
        if groups.is_empty() {
            continue;
        }
        let factor = reduction(shot, per_mm / seen);
        let scale = per_mm / factor as f64;
        let chroma = Chroma::of(shot, factor);
        // Half of the smallest disc is pure enough.
        let least = ((0.4 * smallest * smallest * scale * scale) as u32).max(3);
        let all = spots::spots(&chroma, &chroma.rare(scale, least), least as usize);
        for k in groups {
            let candidates = all.iter().filter_map(|s| candidate(shot, view, s, asked[k].are, factor)).collect();
            let mut chosen = choose::choose(candidates, &all, &asked[k], lattice);
            // What one group has taken is not counted again in another.
            chosen.retain(|m| out.iter().flatten().all(|o| o.px.distance(m.px) > 1.0));
            out[k] = order::counted(chosen, asked[k].counted, per_mm);
        }
    }
    proof.figure("sticker", "marks", out.iter().map(Vec::len).sum::<usize>() as f64);
    proof.picture("sticker", "marks", || drawn(shot, out.iter().flatten()));
    out
}

/// By how much the picture may be reduced: a whole part of the level kept, or not at all.
fn reduction(shot: &Shot, most: f64) -> usize {
    let base = shot.base_factor();
    let times = (most / base as f64) as usize;
    if times >= 1 { base * times } else { 1 }
}

/// The mark that a spot is, when it is one of the kind.
fn candidate(shot: &Shot, view: &View, spot: &Spot, kind: MarkKind, factor: usize) -> Option<Candidate> {
    let scale = view.px_per_mm(view.to_mm(spot.middle, 0.0)?) / factor as f64;
    if kind == MarkKind::Pointers {
        if spot.slender < POINTED {
            return None;
        }
        let p = tip::pointer(shot, view, spot)?;
        let across = Vector2::new(-p.ahead.y, p.ahead.x);
        let by = SPOILT_MM + SPOILT_PX / (scale * factor as f64);
        let base = p.tip - p.ahead * (p.length + by);
        let front = p.tip + p.ahead * by;
        let half = 0.5 * p.width + 2.0 * by;
        let cover = [front + across * by, front - across * by, base - across * half, base + across * half];
        let mark = Mark {
            kind,
            px: view.to_px(p.tip, 0.0),
            at: p.tip,
            across: p.width,
            ahead: Some(p.ahead),
            colour: p.light.map(encoded),
            error: p.error,
            cover: Area::new(cover.map(|m| view.to_px(m, 0.0)).to_vec())?,
        };
        return Some(Candidate { mark, colour: spot.colour, area: spot.area });
    }
    let sizes = if kind == MarkKind::Pins { PINS } else { STICKERS };
    // Pixels of its rim are mixed and not counted.
    let across = 2.0 * ((spot.area / std::f64::consts::PI).sqrt() + MIXED) / scale;
    if spot.ellipse > ELLIPSE || spot.slender > SLENDER || across < 0.6 * sizes[0] || across > 1.2 * sizes[1] {
        return None;
    }
    let d = disc::disc(shot, view, spot.middle, 0.5 * across)?;
    if !(sizes[0]..=sizes[1]).contains(&(2.0 * d.radius)) {
        return None;
    }
    let spoilt = d.radius + SPOILT_MM + SPOILT_PX / (scale * factor as f64);
    let round = (0..32).map(|k| (f64::from(k) * std::f64::consts::TAU / 32.0).sin_cos());
    let cover = round.map(|(s, c)| view.to_px(d.at + Vector2::new(c, s) * spoilt, 0.0)).collect();
    let mark = Mark {
        kind,
        px: view.to_px(d.at, 0.0),
        at: d.at,
        across: 2.0 * d.radius,
        ahead: None,
        colour: d.light.map(encoded),
        error: d.error,
        cover: Area::new(cover)?,
    };
    Some(Candidate { mark, colour: spot.colour, area: spot.area })
}

/// The picture, pale and small, with what each mark hides and its centre.
fn drawn<'a>(shot: &Shot, marks: impl Iterator<Item = &'a Mark>) -> RgbImage {
    let factor = shot.width.max(shot.height).div_ceil(1600);
    let level = shot.gray(factor);
    let mut picture = RgbImage::from_fn(level.width as u32, level.height as u32, |x, y| {
        let light = level.data[y as usize * level.width + x as usize].clamp(0.0, 1.0).sqrt();
        Rgb([(90.0 + 165.0 * light) as u8; 3])
    });
    let blue = Rgb([0, 114, 178]);
    let place = |p: Px| to_level(factor, p);
    for m in marks {
        let (x, y) = place(m.px);
        draw_cross_mut(&mut picture, Rgb([213, 94, 0]), x.round() as i32, y.round() as i32);
        let border = m.cover.border();
        for (k, a) in border.iter().enumerate() {
            let ((ax, ay), (bx, by)) = (place(*a), place(border[(k + 1) % border.len()]));
            draw_line_segment_mut(&mut picture, (ax as f32, ay as f32), (bx as f32, by as f32), blue);
        }
    }
    picture
}
