//! A coded sheet to be printed: which one, and how large.

use super::SheetCode;
use super::code::NUMBERS;
use super::paper::short;
use crate::length::Length;

/// Most squares along a side: the code holds 100 nodes.
pub const MOST: usize = 99;
/// Least squares along a side: fewer show hardly a window of the code beside a garment.
pub const LEAST: usize = 6;

/// A sheet as it is drawn.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SheetPlan {
    /// Its number and pitch.
    pub code: SheetCode,
    /// Squares across and down.
    pub squares: [usize; 2],
}

/// Why there is no such sheet.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum PlanError {
    /// A number no code has.
    #[error("sheets are numbered 1 to {NUMBERS}, so there is none with number {0}; say another --number")]
    Number(u32),
    /// A pitch no code has.
    #[error("a coded sheet has no squares of {pitch}; say --pitch with one of {known}")]
    Pitch {
        /// What was asked for.
        pitch: String,
        /// The pitches there are.
        known: String,
    },
    /// Too few squares, or too many.
    #[error(
        "{wide} by {high} squares of {pitch} are none that a coded sheet has: {LEAST} to {MOST} each way, {least} to {most} mm; say another --size or --pitch"
    )]
    Size {
        /// Squares across.
        wide: usize,
        /// Squares down.
        high: usize,
        /// Their side.
        pitch: String,
        /// Least side of a sheet, mm.
        least: String,
        /// Largest side of a sheet, mm.
        most: String,
    },
}

impl SheetPlan {
    /// The sheet with a number and a pitch, of a size rounded to whole squares.
    ///
    /// # Errors
    /// There is no such number, pitch or size.
    pub fn new(number: u32, pitch: Length, size: [Length; 2]) -> Result<Self, PlanError> {
        let squares = size.map(|s| (s.mm() / pitch.mm()).round().clamp(0.0, 1e6) as usize);
        Self::of_squares(number, pitch, squares)
    }

    /// The sheet with so many squares.
    ///
    /// # Errors
    /// As [`SheetPlan::new`].
    pub fn of_squares(number: u32, pitch: Length, squares: [usize; 2]) -> Result<Self, PlanError> {
        if !(1..=NUMBERS).contains(&number) {
            return Err(PlanError::Number(number));
        }
        let Some(code) = SheetCode::new(number, pitch) else {
            let known: Vec<String> = SheetCode::pitches().map(called).collect();
            return Err(PlanError::Pitch { pitch: called(pitch), known: known.join(", ") });
        };
        if squares.iter().any(|n| !(LEAST..=MOST).contains(n)) {
            let [wide, high] = squares;
            let [least, most] = [LEAST, MOST].map(|n| short(n as f64 * pitch.mm()));
            return Err(PlanError::Size { wide, high, pitch: called(pitch), least, most });
        }
        Ok(Self { code, squares })
    }

    /// Distance of neighbouring lines, mm.
    pub fn pitch(&self) -> f64 {
        self.code.pitch().mm()
    }

    /// From the first line to the last, across and down, mm.
    pub fn size(&self) -> [f64; 2] {
        self.squares.map(|n| n as f64 * self.pitch())
    }

    /// What it is called: its number, its squares and its size, in words.
    pub fn words(&self) -> String {
        let [w, h] = self.size().map(short);
        format!("sheet {}: squares of {}, {w} x {h} mm from the first line to the last", self.code.number, called(self.code.pitch()))
    }

    /// The words of a call that mean this sheet.
    pub fn call(&self) -> String {
        let [w, h] = self.size().map(short);
        let pitch = called(self.code.pitch()).replace(' ', "");
        format!("--number {} --pitch {pitch} --size {w}x{h}mm", self.code.number)
    }
}

/// A pitch as people call it: in inches where it is a round number of them.
pub fn called(pitch: Length) -> String {
    let eighths = pitch.inches() * 8.0;
    if (eighths - eighths.round()).abs() < 1e-9 { pitch.sixteenths() } else { format!("{} mm", short(pitch.mm())) }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn sizes_are_rounded_to_whole_squares() {
        let size = [900.0, 1200.0].map(Length::from_mm);
        let plan = SheetPlan::new(7, Length::from_mm(25.0), size).expect("a sheet");
        assert_eq!((plan.squares, plan.size()), ([36, 48], [900.0, 1200.0]));
        assert_eq!(plan.words(), "sheet 7: squares of 25 mm, 900 x 1200 mm from the first line to the last");
        let plan = SheetPlan::new(7, Length::from_inches(1.0), size).expect("a sheet");
        assert_eq!(plan.squares, [35, 47]);
        assert_eq!(plan.call(), "--number 7 --pitch 1in --size 889x1193.8mm");
        assert_eq!(called(Length::from_inches(0.75)), "3/4 in");
    }

    #[test]
    fn what_there_is_not_is_told() {
        let size = [900.0, 1200.0].map(Length::from_mm);
        let told = [
            SheetPlan::new(0, Length::from_mm(25.0), size),
            SheetPlan::new(401, Length::from_mm(25.0), size),
            SheetPlan::new(1, Length::from_mm(26.0), size),
            SheetPlan::new(1, Length::from_mm(10.0), size),
            SheetPlan::new(1, Length::from_mm(100.0), [400.0, 400.0].map(Length::from_mm)),
        ]
        .map(|e| e.expect_err("none").to_string());
        assert!(told.iter().all(|t| (15..=300).contains(&t.len())), "{told:?}");
        assert!(told[2].contains("25 mm, 30 mm") && told[2].contains("1 1/2 in"), "{}", told[2]);
        assert!(told[3].contains("60 to 990 mm"), "{}", told[3]);
    }
}
