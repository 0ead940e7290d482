//! The position code of a coded sheet: a round mark, or none, in the middle of every side of every square.
//!
//! Two patterns, one for the lines that run across and one for those that run down, repeat over the plane: 743 states along the
//! line and 11 from line to line. What a square of five lines and four sides shows comes once in both patterns, however the sheet is turned or
//! mirrored, so that any window of four by four squares has one address and one way up (position coding by maps without equal windows:
//! Etzion, 1988, from memory; on the sides of squares: Stelldinger et al., 2024). The first pattern tells i mod 743 and j mod 11, the second i mod 11 and j mod 743; together,
//! as 11 and 743 have no common divisor, they tell both mod 8173. That plane is divided into areas of 100 by 100 nodes, one for every number and pitch
//! of a sheet: where a place lies in the plane says which sheet it belongs to, how far its lines are apart, and where on it the place is.

use crate::length::Length;
use std::sync::LazyLock;

/// States from line to line before a pattern repeats.
pub const LINES: usize = 11;
/// States along a line before a pattern repeats.
pub const ALONG: usize = 743;
/// Nodes along each side of the plane before both patterns repeat together.
pub const PLANE: usize = LINES * ALONG;
/// Nodes along each side of the area that belongs to one sheet.
pub const AREA: usize = 100;
/// Highest number of a sheet.
pub const NUMBERS: u32 = 400;
/// Radius of a mark, squares: it ends short of where the lines are measured (0.44 of a square from the node).
pub const MARK_RADIUS: f64 = 0.05;

/// Areas side by side.
const AREAS: usize = PLANE / AREA;

/// The pitches that coded sheets come in.
const PITCHES: [Length; 16] = [
    Length::from_mm(10.0),
    Length::from_mm(15.0),
    Length::from_mm(20.0),
    Length::from_mm(25.0),
    Length::from_mm(30.0),
    Length::from_mm(40.0),
    Length::from_mm(50.0),
    Length::from_mm(60.0),
    Length::from_mm(75.0),
    Length::from_mm(100.0),
    Length::from_inches(0.5),
    Length::from_inches(0.75),
    Length::from_inches(1.0),
    Length::from_inches(1.5),
    Length::from_inches(2.0),
    Length::from_inches(4.0),
];

static PATTERNS: LazyLock<[Pattern; 2]> = LazyLock::new(|| {
    let mut rows = include_str!("../../calibration/sheet-code.txt").lines().filter(|l| !l.starts_with('#'));
    std::array::from_fn(|_| Pattern::read(&mut rows))
});

/// The states of one of the two patterns.
pub struct Pattern(Vec<bool>);

impl Pattern {
    fn read<'a>(rows: &mut impl Iterator<Item = &'a str>) -> Self {
        let bit = |row: &str, k: usize| u8::from_str_radix(&row[k / 4..=k / 4], 16).is_ok_and(|digit| digit >> (3 - k % 4) & 1 == 1);
        Self(rows.take(LINES).flat_map(|row| (0..ALONG).map(move |k| bit(row, k))).collect())
    }

    /// Whether there is a mark on line number `line`, on the side that follows node number `along`.
    pub fn at(&self, line: usize, along: usize) -> bool {
        self.0[(line % LINES) * ALONG + along % ALONG]
    }
}

/// The patterns of the lines that run across and of those that run down.
pub fn patterns() -> &'static [Pattern; 2] {
    &PATTERNS
}

/// Which coded sheet it is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct SheetCode {
    /// Its number, 1 to [`NUMBERS`].
    pub number: u32,
    /// Place of its pitch among those there are.
    pitch: usize,
}

impl SheetCode {
    /// The code of the sheet with a number and a pitch; `None` when there is no such number or pitch.
    pub fn new(number: u32, pitch: Length) -> Option<Self> {
        let pitch = PITCHES.iter().position(|p| (p.mm() - pitch.mm()).abs() < 1e-9)?;
        (1..=NUMBERS).contains(&number).then_some(Self { number, pitch })
    }

    /// The pitches there are.
    pub fn pitches() -> impl Iterator<Item = Length> {
        PITCHES.into_iter()
    }

    /// The nominal distance of neighbouring lines.
    pub fn pitch(self) -> Length {
        PITCHES[self.pitch]
    }

    /// Whether there is a mark between nodes (i, j) and (i + 1, j); there is none beyond the sheet's area.
    pub fn across(self, i: i32, j: i32) -> bool {
        self.place(i, j).is_some_and(|[x, y]| PATTERNS[0].at(y, x))
    }

    /// Whether there is a mark between nodes (i, j) and (i, j + 1); there is none beyond the sheet's area.
    pub fn down(self, i: i32, j: i32) -> bool {
        self.place(i, j).is_some_and(|[x, y]| PATTERNS[1].at(x, y))
    }

    /// Where a node of the sheet lies in the plane.
    fn place(self, i: i32, j: i32) -> Option<[usize; 2]> {
        let [x, y] = self.origin();
        let within = |v: i32| usize::try_from(v).ok().filter(|v| *v < AREA);
        Some([x + within(i)?, y + within(j)?])
    }

    /// Where the sheet's node (0, 0) lies in the plane.
    fn origin(self) -> [usize; 2] {
        let area = (self.number as usize - 1) * PITCHES.len() + self.pitch;
        [area % AREAS * AREA, area / AREAS * AREA]
    }

    /// The sheet that a node of the plane belongs to, and the node's address on it; `None` for a node in no sheet's area.
    pub fn of_plane(x: usize, y: usize) -> Option<(Self, [i32; 2])> {
        let [across, down] = [x / AREA, y / AREA];
        let area = (across < AREAS && down < AREAS).then_some(down * AREAS + across)?;
        let number = (area / PITCHES.len()) as u32 + 1;
        let code = Self { number, pitch: area % PITCHES.len() };
        (number <= NUMBERS).then_some((code, [x % AREA, y % AREA].map(|v| v as i32)))
    }
}

/// The number below [`PLANE`] that leaves one rest divided by [`LINES`] and the other divided by [`ALONG`] (Chinese remainders).
pub fn of_rests(by_lines: usize, by_along: usize) -> usize {
    (0..LINES).map(|k| by_along + k * ALONG).find(|n| n % LINES == by_lines % LINES).unwrap_or(by_along)
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::collections::HashSet;

    /// Every window of five lines by four sides of both patterns, as seen upright, mirrored and upside down: no two are equal. A quarter turn
    /// shows one pattern where the other was; the windows of both are compared with one another too. So a window has one address and one way up.
    #[test]
    fn every_window_comes_once() {
        let mut seen = HashSet::new();
        for pattern in patterns() {
            for line in 0..LINES {
                for along in 0..ALONG {
                    for (back, up) in [(false, false), (false, true), (true, false), (true, true)] {
                        let window = (0..20).fold(0u32, |w, n| {
                            let (l, a) = (n / 4, n % 4);
                            let l = if up { 4 - l } else { l };
                            let a = if back { 3 - a } else { a };
                            2 * w + u32::from(pattern.at(line + l, along + a))
                        });
                        assert!(seen.insert(window), "a window at line {line}, side {along} comes twice");
                    }
                }
            }
        }
        assert_eq!(seen.len(), 8 * PLANE);
    }

    #[test]
    fn half_of_all_sides_are_marked() {
        for pattern in patterns() {
            let marked = pattern.0.iter().filter(|m| **m).count();
            assert_eq!(pattern.0.len(), PLANE);
            assert!((0.49..0.51).contains(&(marked as f64 / PLANE as f64)), "{marked}");
        }
    }

    #[test]
    fn rests_give_the_number_back() {
        for n in 0..PLANE {
            assert_eq!(of_rests(n % LINES, n % ALONG), n);
        }
    }

    /// Every number with every pitch has an area of its own, and every node of it is told as that sheet's.
    #[test]
    fn every_sheet_has_an_area_of_its_own() {
        let mut origins = HashSet::new();
        for number in 1..=NUMBERS {
            for pitch in SheetCode::pitches() {
                let code = SheetCode::new(number, pitch).expect("a sheet");
                let [x, y] = code.origin();
                assert!(origins.insert((x, y)));
                for (i, j) in [(0, 0), (99, 0), (0, 99), (99, 99), (31, 7)] {
                    assert_eq!(SheetCode::of_plane(x + i, y + j), Some((code, [i as i32, j as i32])));
                }
            }
        }
        assert_eq!(SheetCode::new(0, Length::from_mm(25.0)), None);
        assert_eq!(SheetCode::new(401, Length::from_mm(25.0)), None);
        assert_eq!(SheetCode::new(1, Length::from_mm(26.0)), None);
        assert_eq!(SheetCode::of_plane(PLANE - 1, PLANE - 1), None);
    }
}
