//! What a tape said of a printed sheet: how much longer or shorter than drawn it is across and down, how far out of square, and how well that is known.

use super::SheetCode;
use super::paper::short;
use super::plan::{SheetPlan, called};
use crate::length::Length;
use crate::notes::Fault;
use std::fmt::Write;
use std::path::PathBuf;

/// A print is scaled by no more than this share when its settings were right, both ways; office engines were once made to 2 or 3 %
/// (a laser printer's handbook of 1988), so more is a scaled page or a slip.
pub(super) const MOST: f64 = 0.02;
/// The 100 mm square of a print with the right settings lies within this, mm; the long rulers of one that needs no correction within
/// [`USABLE`] of their length, and of each other. Our own choice: 0.2 % is 1 mm on 500.
const RIGHT: f64 = 0.5;
const USABLE: f64 = 0.002;
/// What paper moves between being measured and being photographed, a share of its length: some tenth of the 0.1 to 0.4 % that all the range of
/// damp makes of it (printwiki.org, "Dimensional stability"). An estimate, no source.
const MOVES: f64 = 0.0003;
/// Most a sheet may be out of square, degrees; more is a slip.
pub(super) const MOST_SKEW: f64 = 1.0;
/// Diagonals that are longer or shorter than the sides have them, in standard errors, are a slip.
const APART: f64 = 4.0;
/// What pages fitted to other paper come to (arithmetic from ISO 216 and ANSI/ASME Y14.1), the commonest first, and how close a
/// print must come to be told so.
const FITTED: [(f64, &str); 7] = [
    (210.0 / 215.9, "a Letter page fitted to A4"),
    (279.4 / 297.0, "an A4 page fitted to Letter"),
    (297.0 / 279.4, "a Letter page enlarged to A4"),
    (203.2 / 215.9, "a Letter page fitted between margins of 1/4 in"),
    (266.7 / 279.4, "a Letter page fitted between margins of 1/4 in"),
    (204.0 / 210.0, "an A4 page fitted between margins of 3 mm"),
    (197.3 / 210.0, "an A4 page fitted between margins of 1/4 in"),
];
const LIKE: f64 = 0.003;
/// An inch over 25 mm.
const INCH: f64 = 25.4 / 25.0;

/// What was read of a print.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Readings {
    /// The long rulers between their end marks, across and down.
    pub rulers: [Length; 2],
    /// From the upper left to the lower right corner of the squares, and from the upper right to the lower left.
    pub diagonals: Option<[Length; 2]>,
    /// The 100 mm square.
    pub square: Option<Length>,
    /// Standard error of a reading of the tape.
    pub error: Length,
}

/// A print as measured.
#[derive(Clone, Debug, PartialEq)]
pub struct MeasuredPrint {
    /// The sheet, and its pitch as drawn.
    pub code: SheetCode,
    /// Lengths on the print over lengths as drawn, across and down.
    pub scale: [f64; 2],
    /// Standard error of these.
    pub scale_error: [f64; 2],
    /// By how much the lines that run down lean to the right on their way, and the standard error, radians; `None` without diagonals.
    pub skew: Option<[f64; 2]>,
    /// What was read, in words.
    pub read: String,
    /// The day it was measured.
    pub measured_on: String,
    /// Who measured it.
    pub by: Option<String>,
}

/// Why readings are none of this sheet, or a file is none of a print.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum MeasuredError {
    /// Nothing prints so by itself.
    #[error(
        "the rulers {way} measure {percent:.2} % of {nominal} mm; {cause}: print it again at 100 %, actual size, or check the reading and --size"
    )]
    Scaled {
        /// `across`, `down` or `across and down`.
        way: &'static str,
        /// Of the nominal length.
        percent: f64,
        /// The nominal lengths.
        nominal: String,
        /// What makes such a print.
        cause: String,
    },
    /// The small square says that the page was scaled.
    #[error("the 100 mm square measures {square} mm: {cause}; print the sheet again at 100 %, actual size, or check the reading")]
    Square {
        /// What it measures, mm.
        square: String,
        /// What makes such a print.
        cause: String,
    },
    /// Sides and diagonals belong to no parallelogram.
    #[error(
        "with these rulers the diagonals measure {expected:.1} mm in the mean, and {read:.1} mm were read; measure all four again, the diagonals between the outermost corners of the squares"
    )]
    Diagonals {
        /// What they should measure, mm.
        expected: f64,
        /// What was read, mm.
        read: f64,
    },
    /// No sheet is so far out of square.
    #[error(
        "with these diagonals the sheet is {0:.1}° out of square, which no print is; measure them again, the one from the upper left corner first"
    )]
    Skew(f64),
    /// A reading error nobody has.
    #[error("a reading error of {0} mm is none of a tape; say --reading-error with 0.05 to 5 mm")]
    Error(f64),
    /// The file can't be read.
    #[error("the measured print {} can't be read ({why}); check the name and who may read it", file.display())]
    File {
        /// The file.
        file: PathBuf,
        /// What the system says.
        why: String,
    },
    /// The file is not right.
    #[error("the measured print {} is not right, {fault}", file.display())]
    Fault {
        /// The file.
        file: PathBuf,
        /// Which line, and what is wrong.
        fault: Fault,
    },
}

impl MeasuredPrint {
    /// A print of a sheet, by what a tape says of it. The two diagonals d and e of a parallelogram with sides a and b, leaning by s, have
    /// d² - e² = 4 a b sin s and d² + e² = 2 (a² + b²).
    ///
    /// # Errors
    /// The readings can't be those of such a sheet.
    pub fn of(plan: &SheetPlan, read: &Readings, measured_on: String, by: Option<String>) -> Result<Self, MeasuredError> {
        let error = read.error.mm();
        if !(0.05..=5.0).contains(&error) {
            return Err(MeasuredError::Error(error));
        }
        let (nominal, sides) = (plan.size(), read.rulers.map(Length::mm));
        let scale = [0, 1].map(|k| sides[k] / nominal[k]);
        scaled(scale, nominal, sides)?;
        if let Some(square) = read.square.map(Length::mm).filter(|s| (s - 100.0).abs() > RIGHT) {
            let cause =
                fitted(square / 100.0).map_or_else(|| "the page was scaled, or the square misread".into(), |c| format!("that is {c}"));
            return Err(MeasuredError::Square { square: short(square), cause });
        }
        let skew = read.diagonals.map(|d| skew(sides, d.map(Length::mm), error)).transpose()?;
        let scale_error = nominal.map(|n| (error / n).hypot(MOVES));
        Ok(Self { code: plan.code, scale, scale_error, skew, read: words(plan, read), measured_on, by })
    }

    /// Distance of neighbouring lines on the print, across and down, mm.
    pub fn pitch(&self) -> [f64; 2] {
        self.scale.map(|s| s * self.code.pitch().mm())
    }

    /// What the readings say, in words: settings, whether the sheet may be used as drawn, square, and what a reading proves.
    pub fn findings(&self, plan: &SheetPlan, read: &Readings) -> Vec<String> {
        let mut out = Vec::new();
        for (k, way) in ["across", "down"].into_iter().enumerate() {
            let (length, nominal) = (read.rulers[k].mm(), plan.size()[k]);
            let proves = read.error.mm() / nominal * 100.0;
            out.push(format!(
                "{way}: {} mm for {} mm, {:+.2} %; read to {} mm that proves {proves:.2} %",
                short(length),
                short(nominal),
                (self.scale[k] - 1.0) * 100.0,
                short(read.error.mm())
            ));
        }
        out.push(self.settings(read));
        let [x, y] = self.scale;
        let usable = [x - 1.0, y - 1.0, x - y].iter().all(|v| v.abs() <= USABLE);
        let leans = self.skew.is_some_and(|[s, _]| s.abs() > USABLE);
        out.push(if usable && leans {
            "leans by more than 0.2 % of its height: not to be measured on by hand; its pictures are corrected".into()
        } else if usable {
            "within 0.2 % each way and of each other: the sheet may be used as it is; its pictures are corrected all the same".into()
        } else {
            "more than 0.2 % from what was drawn: not to be measured on by hand; its pictures are corrected".into()
        });
        out.push(self.squareness(plan));
        out
    }

    fn settings(&self, read: &Readings) -> String {
        let Some(square) = read.square.map(Length::mm) else {
            let right = self.scale.iter().all(|s| (s - 1.0).abs() * 100.0 <= RIGHT);
            return if right {
                "the print dialog's settings were right: both rulers lie within 0.5 %".into()
            } else {
                "the printer is out by more than 0.5 %; check that it printed at 100 %, actual size".into()
            };
        };
        format!("the 100 mm square measures {} mm: the print dialog's settings were right", short(square))
    }

    fn squareness(&self, plan: &SheetPlan) -> String {
        let Some([skew, error]) = self.skew else {
            return "square or not is not known without --diagonals".into();
        };
        let off = skew * plan.size()[1];
        let (deg, known) = (skew.to_degrees(), error.to_degrees());
        if skew.abs() <= 2.0 * error {
            format!("square, as far as the diagonals tell: {deg:+.3} ± {known:.3}°")
        } else {
            let side = if skew > 0.0 { "right" } else { "left" };
            format!("out of square by {deg:+.3} ± {known:.3}°: the foot lies {:.1} mm too far {side}; pictures are corrected", off.abs())
        }
    }

    /// What it is called where it is used: `sheet 3 (25 mm), measured on 2026-05-17 by …`.
    pub fn words(&self) -> String {
        let by = self.by.as_ref().map_or(String::new(), |b| format!(" by {b}"));
        format!("sheet {} ({}), measured on {}{by}", self.code.number, called(self.code.pitch()), self.measured_on)
    }

    /// BLAKE3 of all that is said of the print, in hex, for records of what a result was made with.
    pub fn blake3(&self) -> String {
        blake3::hash(self.to_text().as_bytes()).to_hex().to_string()
    }
}

/// What makes a print so large or small, when it is something known; the commonest where several come close.
fn fitted(scale: f64) -> Option<&'static str> {
    FITTED.iter().find(|f| (f.0 - scale).abs() <= LIKE).map(|f| f.1)
}

/// Refuses what no printer does by itself.
fn scaled(scale: [f64; 2], nominal: [f64; 2], sides: [f64; 2]) -> Result<(), MeasuredError> {
    // 25 mm and an inch are the pitches that are taken for one another; no printer is out by their difference both ways.
    let mixed = [INCH, 1.0 / INCH].into_iter().any(|m| scale.iter().all(|s| (s - m).abs() <= LIKE));
    let out = scale.map(|s| mixed || (s - 1.0).abs() > MOST);
    let (way, k) = match out {
        [false, false] => return Ok(()),
        [true, true] => ("across and down", 0),
        [true, false] => ("across", 0),
        [false, true] => ("down", 1),
    };
    let alike = out == [true, true] && (scale[0] - scale[1]).abs() <= LIKE;
    let swapped = (sides[0] / nominal[1] - 1.0).abs() <= MOST && (sides[1] / nominal[0] - 1.0).abs() <= MOST;
    let cause = match fitted(scale[k]).filter(|_| alike) {
        _ if mixed => {
            "that is a sheet of 1 in squares taken for one of 25 mm, or the other way round: say its --pitch and --size".to_owned()
        }
        _ if swapped => "across and down seem to be exchanged".to_owned(),
        Some(known) => format!("that is {known} (\"fit to page\")"),
        None if alike => "the page was scaled, or it is a sheet of another size".to_owned(),
        None => "no printer scales one way alone so far, so a reading is wrong or the sheet has another size".to_owned(),
    };
    let both = out == [true, true] && alike;
    let nominal = if both { format!("{} and {}", short(nominal[0]), short(nominal[1])) } else { short(nominal[k]) };
    let way = if both { way } else { ["across", "down"][k] };
    Err(MeasuredError::Scaled { way, percent: scale[k] * 100.0, nominal, cause })
}

/// How the lines that run down lean, and its standard error, radians.
fn skew([a, b]: [f64; 2], [d, e]: [f64; 2], error: f64) -> Result<[f64; 2], MeasuredError> {
    let expected = a.hypot(b);
    let read = (f64::midpoint(d * d, e * e)).sqrt();
    // The mean of two readings against what two others come to.
    if (read - expected).abs() > APART * error * (0.5f64 + 1.0).sqrt() {
        return Err(MeasuredError::Diagonals { expected, read });
    }
    let sin = (d * d - e * e) / (4.0 * a * b);
    let deg = sin.clamp(-1.0, 1.0).asin().to_degrees();
    if deg.abs() > MOST_SKEW {
        return Err(MeasuredError::Skew(deg.abs()));
    }
    Ok([deg.to_radians(), error * d.hypot(e) / (2.0 * a * b)])
}

fn words(plan: &SheetPlan, read: &Readings) -> String {
    let [w, h] = plan.size().map(short);
    let [a, b] = read.rulers.map(|r| short(r.mm()));
    let mut out = format!("across {a} of {w} mm, down {b} of {h} mm");
    if let Some([d, e]) = read.diagonals.map(|d| d.map(|v| short(v.mm()))) {
        let _ = write!(out, ", diagonals {d} and {e} mm");
    }
    let _ = write!(out, ", read to {} mm", short(read.error.mm()));
    out
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn mm(v: f64) -> Length {
        Length::from_mm(v)
    }

    fn plan() -> SheetPlan {
        SheetPlan::new(3, mm(25.0), [mm(900.0), mm(1200.0)]).expect("a sheet")
    }

    fn read(across: f64, down: f64) -> Readings {
        Readings { rulers: [mm(across), mm(down)], diagonals: None, square: None, error: mm(0.5) }
    }

    fn measured(r: &Readings) -> Result<MeasuredPrint, MeasuredError> {
        MeasuredPrint::of(&plan(), r, "1926-05-17".into(), Some("E. Quill".into()))
    }

    /// 0.5 mm on 1000 mm proves 0.05 % (arithmetic); more than that is not claimed.
    #[test]
    fn a_reading_proves_what_its_error_lets_it() {
        let plan = SheetPlan::new(1, mm(100.0), [mm(1000.0); 2]).expect("a sheet");
        let r = Readings { rulers: [mm(1000.0); 2], ..read(0.0, 0.0) };
        let print = MeasuredPrint::of(&plan, &r, String::new(), None).expect("a print");
        assert!(print.findings(&plan, &r)[0].contains("proves 0.05 %"), "{:?}", print.findings(&plan, &r));
        assert!((print.scale_error[0] - 0.0005f64.hypot(0.0003)).abs() < 1e-12);
        let small = SheetPlan::new(1, mm(10.0), [mm(100.0), mm(250.0)]).expect("a sheet");
        let r = Readings { rulers: [mm(100.0), mm(250.0)], ..r };
        let said = MeasuredPrint::of(&small, &r, String::new(), None).expect("a print").findings(&small, &r);
        assert!(said[0].contains("proves 0.50 %") && said[1].contains("proves 0.20 %"), "{said:?}");
    }

    #[test]
    fn settings_and_use_are_told_in_words() {
        let told = |r: Readings| measured(&r).expect("a print").findings(&plan(), &r).join("\n");
        let good = told(Readings { square: Some(mm(99.8)), ..read(899.2, 1200.4) });
        assert!(good.contains("settings were right") && good.contains("may be used as it is") && good.contains("--diagonals"), "{good}");
        // Each within 0.2 %, but not of each other.
        let uneven = told(read(898.5, 1201.5));
        assert!(uneven.contains("not to be measured on by hand") && uneven.contains("settings were right"), "{uneven}");
        let wrong = measured(&Readings { square: Some(mm(97.3)), ..read(899.2, 1200.4) }).expect_err("scaled").to_string();
        assert!(wrong.contains("Letter page fitted to A4"), "{wrong}");
        // 3 mm in 1200.
        let lean = told(Readings { diagonals: Some([mm(1501.8), mm(1498.2)]), ..read(900.0, 1200.0) });
        assert!(lean.contains("leans by more than 0.2 %") && !lean.contains("may be used as it is"), "{lean}");
    }

    /// 210/215.9 is 97.27 %, 279.4/297 is 94.07 % (arithmetic from ISO 216 and ANSI/ASME Y14.1): what fitting to the page makes.
    #[test]
    fn what_fitting_to_the_page_makes_is_told_as_such() {
        for (scale, cause) in
            [(0.973, "Letter page fitted to A4"), (0.941, "A4 page fitted to Letter"), (0.955, "1/4 in"), (0.9, "another size")]
        {
            let e = measured(&read(900.0 * scale, 1200.0 * scale)).expect_err("scaled").to_string();
            assert!(e.contains(cause) && (15..=300).contains(&e.len()), "{scale}: {e}");
        }
        // The rulers of a sheet of 36 by 48 inch squares.
        let e = measured(&read(914.0, 1219.0)).expect_err("an inch sheet").to_string();
        assert!(e.contains("1 in squares") && (15..=300).contains(&e.len()), "{e}");
        let e = measured(&read(1200.0, 900.0)).expect_err("exchanged").to_string();
        assert!(e.contains("exchanged"), "{e}");
        let e = measured(&read(899.0, 1100.0)).expect_err("one way").to_string();
        assert!(e.contains("rulers down") && e.contains("a reading is wrong"), "{e}");
    }

    #[test]
    fn diagonals_that_fit_no_sheet_are_told() {
        let with = |d: f64, e: f64| measured(&Readings { diagonals: Some([mm(d), mm(e)]), ..read(900.0, 1200.0) });
        assert!(matches!(with(1510.0, 1500.0), Err(MeasuredError::Diagonals { .. })));
        assert!(matches!(with(1515.0, 1485.0), Err(MeasuredError::Skew(_))));
        let square = with(1500.2, 1499.9).expect("a print");
        let r = Readings { diagonals: Some([mm(1500.2), mm(1499.9)]), ..read(900.0, 1200.0) };
        assert!(square.findings(&plan(), &r).iter().any(|f| f.starts_with("square, as far as")));
        assert!(matches!(measured(&Readings { error: mm(0.0), ..read(900.0, 1200.0) }), Err(MeasuredError::Error(_))));
    }

    proptest! {
        /// A sheet sheared and stretched at will is found from the lengths of its sides and diagonals.
        #[test]
        fn a_leaning_sheet_is_known_from_its_diagonals(lean in -0.5..0.5f64, x in 0.99..1.01f64, y in 0.99..1.01f64) {
            let (a, b, s) = (900.0 * x, 1200.0 * y, lean.to_radians());
            let down = [b * s.sin(), b * s.cos()];
            let d = (a + down[0]).hypot(down[1]);
            let e = (a - down[0]).hypot(down[1]);
            let print = measured(&Readings { diagonals: Some([mm(d), mm(e)]), ..read(a, b) }).expect("a print");
            let [found, error] = print.skew.expect("diagonals");
            prop_assert!((found - s).abs() < 1e-9 && (print.scale[0] - x).abs() < 1e-12 && (print.scale[1] - y).abs() < 1e-12);
            // 0.5 mm on two diagonals of 1500 mm: 0.028 degrees.
            prop_assert!((error.to_degrees() - 0.0281).abs() < 0.002, "{}", error.to_degrees());
        }
    }
}
