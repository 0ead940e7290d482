//! The pattern label: what a piece is, whose it is, how it is cut. As large as there is room for, along the page or up it.

use super::piece::Pattern;
use super::room::Room;
use crate::write::page::{Drawing, Ink, Item, Letters, Words};
use kurbo::{Point, Vec2};
use std::f64::consts::FRAC_PI_2;

/// One line of a label with its share of the largest letters.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Line {
    pub share: f64,
    pub text: String,
}

/// Sizes of the largest letters that are tried, mm.
const SIZES: [f64; 8] = [9.0, 8.0, 7.0, 6.0, 5.0, 4.2, 3.5, 3.0];
/// Widths of a label that are tried, as multiples of that size.
const WIDTHS: [f64; 4] = [18.0, 13.0, 10.0, 7.0];
/// Letters whose small print is still read with ease, mm.
const EASY: f64 = 4.2;
/// What stays free round a label, mm.
const AROUND: f64 = 2.5;
/// How much wider lines are set that run on.
const RUN_ON: f64 = 3.5;
/// From baseline to baseline, as a share of the size.
const LEADING: f64 = 1.35;
/// Small print as a share of the large.
const SMALL: f64 = 0.55;

/// What stands on the label of piece `k`; `taped` is the length of the line to be taped, mm.
pub(super) fn lines(pattern: &Pattern, k: usize, taped: Option<f64>) -> Vec<Line> {
    let p = &pattern.pieces[k];
    let small = |text: String| Line { share: SMALL, text };
    let mut out = vec![Line { share: 1.0, text: p.name.clone() }];
    out.push(Line { share: 0.7, text: format!("{} of {}", k + 1, pattern.pieces.len()) });
    out.push(small(pattern.garment.clone()));
    let about: Vec<&str> = pattern.number.as_deref().into_iter().chain([pattern.date.as_str()]).filter(|t| !t.is_empty()).collect();
    if !about.is_empty() {
        out.push(small(about.join(", ")));
    }
    out.push(small(p.cut_words()));
    out.push(small(p.side.to_owned()));
    out.push(small(p.allowance.clone()));
    out.extend(p.band.clone().map(small));
    out.extend(p.larger.clone().map(small));
    if p.grain.is_none() {
        out.push(small("grain not recorded".into()));
    }
    if taped.is_some() {
        out.push(small(
            if p.grain.is_some() { "tape the grain arrow before you cut" } else { "tape the check line before you cut" }.into(),
        ));
    }
    out
}

/// The label in the largest letters that fit near a place, and how many lines of it; fewer where all of them don't fit, none where not even the
/// name does.
/// Of the two rooms the first is tried for letters that are read with ease, the second then for all.
pub(super) fn placed(lines: &[Line], [calm, room]: [&Room; 2], near: Point, letters: &Letters) -> (Drawing, usize) {
    let easy = |w: &Way| SIZES[w.size] >= EASY;
    let all = Way::all();
    let found = fitting(lines, &all.iter().filter(|w| easy(w)).collect::<Vec<_>>(), calm, near, letters);
    let each = || [lines.len(), lines.len().min(5), lines.len().min(2), 1].map(|n| &lines[..n]).into_iter();
    let ways: Vec<&Way> = all.iter().collect();
    let found = found.map(|d| (d, lines.len()));
    found.or_else(|| each().find_map(|l| Some((fitting(l, &ways, room, near, letters)?, l.len())))).unwrap_or_default()
}

/// A way to set a label.
struct Way {
    /// Which of the sizes.
    size: usize,
    /// Width, as a multiple of the size.
    width: f64,
    /// Read from the right.
    turned: bool,
    /// Small lines run on behind one another.
    run_on: bool,
}

impl Way {
    /// All ways, the best first: large before small, but upright and line by line even two sizes smaller.
    fn all() -> Vec<Self> {
        let sizes = 0..SIZES.len();
        let mut all: Vec<(usize, Self)> = sizes
            .flat_map(|size| WIDTHS.map(move |width| (size, width)))
            .flat_map(|(size, width)| {
                [(false, false), (true, false), (false, true), (true, true)].map(|(turned, run_on)| {
                    let rank = size + if turned { 2 } else { 0 } + if run_on { 2 } else { 0 };
                    (rank, Self { size, width: if run_on { width * RUN_ON } else { width }, turned, run_on })
                })
            })
            .collect();
        all.sort_by_key(|w| w.0);
        all.into_iter().map(|w| w.1).collect()
    }
}

fn fitting(lines: &[Line], ways: &[&Way], room: &Room, near: Point, letters: &Letters) -> Option<Drawing> {
    let sums = room.sums();
    let run_on = run_on(lines);
    ways.iter().find_map(|way| {
        let size = SIZES[way.size];
        let set = Set::of(if way.run_on { &run_on } else { lines }, size, size * way.width, letters);
        let (wide, high) = (set.wide + 2.0 * AROUND, set.high + 2.0 * AROUND);
        let (wide, high) = if way.turned { (high, wide) } else { (wide, high) };
        let at = room.find_by(&sums, wide, high, near)?;
        Some(set.drawn(at + Vec2::new(AROUND, AROUND), way.turned))
    })
}

/// The same with everything but the name in one line, which a long narrow piece has room for.
fn run_on(lines: &[Line]) -> Vec<Line> {
    let Some((name, rest)) = lines.split_first() else { return Vec::new() };
    let text = rest.iter().map(|l| l.text.as_str()).collect::<Vec<_>>().join("; ");
    let mut out = vec![name.clone()];
    out.extend((!text.is_empty()).then_some(Line { share: SMALL, text }));
    out
}

/// Lines as they are set.
struct Set {
    lines: Vec<(f64, String)>,
    wide: f64,
    high: f64,
}

impl Set {
    fn of(lines: &[Line], size: f64, width: f64, letters: &Letters) -> Self {
        let each = lines.iter().flat_map(|l| {
            let own = size * l.share;
            letters.wrapped(&l.text, own, width).into_iter().map(move |text| (own, text))
        });
        let lines: Vec<(f64, String)> = each.collect();
        let wide = lines.iter().map(|(s, t)| letters.width(t, *s)).fold(0.0, f64::max);
        let high = lines.iter().map(|l| l.0 * LEADING).sum();
        Self { lines, wide, high }
    }

    /// With the upper left corner of its rectangle at a place; turned, it is read from the right.
    fn drawn(&self, corner: Point, turned: bool) -> Drawing {
        let mut out = Drawing::default();
        let mut down = 0.0;
        for (size, text) in &self.lines {
            down += size * LEADING;
            let base = down - size * 0.3;
            let at = if turned { corner + Vec2::new(base, self.wide) } else { corner + Vec2::new(0.0, base) };
            let turn = if turned { -FRAC_PI_2 } else { 0.0 };
            out.items.push(Item::Words(Words { at, size: *size, turn, text: text.clone(), ink: Ink::BLACK }));
        }
        out
    }
}
