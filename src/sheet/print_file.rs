//! The file of a measured print.

use super::SheetCode;
use super::code::NUMBERS;
use super::measured::{MOST, MOST_SKEW, MeasuredError, MeasuredPrint};
use super::plan::called;
use crate::length::Length;
use crate::notes::Fault;
use serde::Deserialize;
use std::fmt::Write;
use std::path::Path;
use toml::Spanned;

/// Longest file, bytes.
const LONGEST_FILE: u64 = 1 << 16;

/// Least standard errors of a scale and of a skew in degrees: the last decimal that is written. No tape reads as well.
const LEAST: f64 = 1e-6;
const LEAST_SKEW: f64 = 1e-4;

/// A print as it stands in a file.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct File {
    number: Spanned<u32>,
    pitch: Spanned<Length>,
    scale: Spanned<[f64; 2]>,
    scale_error: Spanned<[f64; 2]>,
    skew_deg: Option<Spanned<f64>>,
    skew_error_deg: Option<Spanned<f64>>,
    read: Option<String>,
    measured_on: String,
    by: Option<String>,
}

impl MeasuredPrint {
    /// The text of its file.
    pub fn to_text(&self) -> String {
        let mut out = String::from("# A printed sheet as measured by a tape: written by `ruboff sheet --measured`.\n");
        let each = |v: [f64; 2]| format!("[{:.6}, {:.6}]", v[0], v[1]);
        let quoted = |t: &str| toml::Value::String(t.to_owned()).to_string();
        // Writing to a string does not fail.
        let _ = writeln!(out, "number = {}", self.code.number);
        let _ = writeln!(out, "# As drawn.\npitch = {}", quoted(&called(self.code.pitch())));
        let _ = writeln!(out, "# Lengths on the print over lengths as drawn, across and down, and their relative standard errors.");
        let _ = writeln!(out, "scale = {}\nscale_error = {}", each(self.scale), each(self.scale_error));
        if let Some([skew, error]) = self.skew {
            let _ = writeln!(out, "# By how much the lines that run down lean to the right, degrees.");
            let _ = writeln!(out, "skew_deg = {:.4}\nskew_error_deg = {:.4}", skew.to_degrees(), error.to_degrees());
        }
        let _ = writeln!(out, "read = {}\nmeasured_on = {}", quoted(&self.read), quoted(&self.measured_on));
        if let Some(by) = &self.by {
            let _ = writeln!(out, "by = {}", quoted(by));
        }
        out
    }

    /// Reads the text of a file.
    ///
    /// # Errors
    /// It is no TOML, has a key that is not known here, or a value that no print has.
    pub fn from_text(text: &str) -> Result<Self, Fault> {
        let file: File = toml::from_str(text).map_err(|e| Fault::of_toml(text, &e))?;
        let fault = |at: usize, words: String| Err(Fault::at(text, at, words));
        if !(1..=NUMBERS).contains(file.number.get_ref()) {
            return fault(file.number.span().start, format!("sheets are numbered 1 to {NUMBERS}"));
        }
        let Some(code) = SheetCode::new(*file.number.get_ref(), *file.pitch.get_ref()) else {
            return fault(file.pitch.span().start, format!("no coded sheet has squares of {}", called(*file.pitch.get_ref())));
        };
        if file.scale.get_ref().iter().any(|s| !(1.0 - MOST..=1.0 + MOST).contains(s)) {
            return fault(file.scale.span().start, "a scale lies between 0.98 and 1.02, like [0.9991, 1.0003]".into());
        }
        if file.scale_error.get_ref().iter().any(|e| !(LEAST..=MOST).contains(e)) {
            return fault(file.scale_error.span().start, "scale_error is a share from 0.000001 to 0.02, like [0.0006, 0.0005]".into());
        }
        let skew = match (&file.skew_deg, &file.skew_error_deg) {
            (None, None) => None,
            (Some(s), Some(e)) if s.get_ref().abs() <= MOST_SKEW && (LEAST_SKEW..=MOST_SKEW).contains(e.get_ref()) => {
                Some([s.get_ref().to_radians(), e.get_ref().to_radians()])
            }
            (Some(s), _) | (None, Some(s)) => {
                return fault(s.span().start, "skew_deg and skew_error_deg go together, up to 1 degree, like 0.05 and 0.03".into());
            }
        };
        let plain = |t: String| t.trim().to_owned();
        Ok(Self {
            code,
            scale: file.scale.into_inner(),
            scale_error: file.scale_error.into_inner(),
            skew,
            read: plain(file.read.unwrap_or_default()),
            measured_on: plain(file.measured_on),
            by: file.by.map(plain).filter(|b| !b.is_empty()),
        })
    }

    /// Reads a file.
    ///
    /// # Errors
    /// There is no such file, or it is not right.
    pub fn open(file: &Path) -> Result<Self, MeasuredError> {
        let fault = |why: String| MeasuredError::File { file: file.into(), why };
        let about = std::fs::metadata(file).map_err(|e| fault(e.kind().to_string()))?;
        if !about.is_file() || about.len() > LONGEST_FILE {
            return Err(fault("it is no short text file".into()));
        }
        let text = std::fs::read_to_string(file).map_err(|e| fault(e.kind().to_string()))?;
        Self::from_text(&text).map_err(|fault| MeasuredError::Fault { file: file.into(), fault })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::sheet::{Readings, SheetPlan};

    #[test]
    fn files_are_read_back_and_faults_have_lines() {
        let mm = Length::from_mm;
        let plan = SheetPlan::new(3, mm(25.0), [mm(900.0), mm(1200.0)]).expect("a sheet");
        let r = Readings { rulers: [mm(899.2), mm(1200.4)], diagonals: Some([mm(1501.2), mm(1498.6)]), square: None, error: mm(0.5) };
        let print = MeasuredPrint::of(&plan, &r, "1926-05-17".into(), Some("E. \"Nib\" Quill".into())).expect("a print");
        let text = print.to_text();
        let back = MeasuredPrint::from_text(&text).expect("its own text");
        assert_eq!((back.code, &back.by, &back.read), (print.code, &print.by, &print.read));
        assert!((back.scale[0] - print.scale[0]).abs() < 1e-6 && (back.skew.expect("skew")[0] - print.skew.expect("skew")[0]).abs() < 1e-6);
        assert_eq!(back.to_text(), text, "what is written stays the same");
        let line = |key: &str| 1 + text.lines().position(|l| l.starts_with(key)).expect(key);
        for (good, bad, key) in [
            ("number = 3", "number = 0", "number"),
            ("\"25 mm\"", "\"26 mm\"", "pitch"),
            ("scale = [0.999111", "scale = [0.9", "scale ="),
            ("scale_error = [0.000631", "scale_error = [0.0", "scale_error"),
            ("scale_error = [0.000631", "scale_error = [0.0000004", "scale_error"),
            ("skew_error_deg = 0.0", "skew_error_deg = 0.00000", "skew_deg"),
            ("skew_deg = 0", "skew_deg = 7", "skew_deg"),
            ("by =", "from =", "by"),
        ] {
            assert!(text.contains(good), "{good} in {text}");
            let e = MeasuredPrint::from_text(&text.replacen(good, bad, 1)).expect_err(bad);
            assert_eq!(e.line, line(key), "{bad}: {e}");
        }
        assert!(matches!(MeasuredPrint::open(Path::new("no/such.toml")), Err(MeasuredError::File { .. })));
    }
}
