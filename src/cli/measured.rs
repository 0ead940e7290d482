//! `ruboff sheet --measured`: tape readings of a printed sheet in, the print as measured out, kept for `trace`.

use super::say;
use super::sheet::{Call, plan, usual};
use crate::length::{Length, LengthError};
use crate::sheet::{MeasuredPrint, Readings, called};
use crate::wardrobe::PRINTS;
use crate::write::write_whole;
use anyhow::{Context, anyhow, bail};
use serde_json::json;
use std::str::FromStr;
use time::{Date, Month, OffsetDateTime};

/// Standard error of a tape read in millimetres, and of one read in inches: half of what is marked on it.
const BY_MM: Length = Length::from_mm(0.5);
const BY_INCHES: Length = Length::from_inches(1.0 / 32.0);

/// A length as read off a tape.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Reading {
    length: Length,
    /// Read in inches.
    inches: bool,
}

impl FromStr for Reading {
    type Err = LengthError;

    fn from_str(text: &str) -> Result<Self, LengthError> {
        let length = Length::positive(text)?;
        let plain = text.to_lowercase();
        Ok(Self { length, inches: plain.contains("in") || plain.contains(['"', '″', '”']) || plain.contains("''") })
    }
}

/// Two lengths: `1499.2 mm, 1500.1 mm`.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Diagonals([Length; 2]);

impl FromStr for Diagonals {
    type Err = String;

    fn from_str(text: &str) -> Result<Self, String> {
        let at = text.char_indices().filter(|(_, c)| c.is_whitespace() || ",;".contains(*c)).map(|(k, _)| k);
        // A comma may also stand before decimals: only one way of parting the text gives two lengths.
        let both =
            |k: usize| Some([Length::positive(&text[..k]).ok()?, Length::positive(text[k..].trim_start_matches([' ', ',', ';'])).ok()?]);
        at.filter_map(both)
            .next()
            .map(Self)
            .ok_or_else(|| format!("`{text}` are no two diagonals; write both with units, like \"1499.2 mm, 1500.1 mm\""))
    }
}

/// A day as `1926-05-17` (ISO 8601).
fn day(text: &str) -> anyhow::Result<String> {
    let parts: Vec<&str> = text.trim().split('-').collect();
    let date = match parts[..] {
        [y, m, d] => y.parse().ok().zip(m.parse::<u8>().ok()).zip(d.parse().ok()),
        _ => None,
    };
    let date = date.and_then(|((y, m), d)| Date::from_calendar_date(y, Month::try_from(m).ok()?, d).ok());
    date.map(|d| d.to_string()).ok_or_else(|| anyhow!("`{text}` is no day; write year, month and day, like --date 1926-05-17"))
}

/// Keeps what was read, and says what it tells.
pub(super) fn keep(call: &Call) -> anyhow::Result<()> {
    let (Some(across), Some(down)) = (call.across, call.down) else {
        bail!("say what the long rulers measure, with --across and --down");
    };
    let plan = plan(call, usual())?;
    let usual_error = if across.inches || down.inches { BY_INCHES } else { BY_MM };
    let read = Readings {
        rulers: [across.length, down.length],
        diagonals: call.diagonals.map(|d| d.0),
        square: call.square,
        error: call.reading_error.unwrap_or(usual_error),
    };
    let day = match &call.date {
        Some(told) => day(told)?,
        None => OffsetDateTime::now_utc().date().to_string(),
    };
    let print = MeasuredPrint::of(&plan, &read, day, call.by.clone())?;
    let pitch = called(call.pitch).replace(' ', "").replace('/', "-");
    let file = match &call.out {
        Some(file) => file.clone(),
        None => PRINTS
            .own_folder()
            .ok_or_else(|| anyhow!("there is no home folder to keep the measurement in; name a file with --out"))?
            .join(format!("sheet-{}-{pitch}.toml", call.number)),
    };
    if file.exists() && !call.force {
        bail!(
            "{} is already there; say --force when this print was measured again, or give another print its own --number",
            file.display()
        );
    }
    if let Some(folder) = file.parent().filter(|f| !f.as_os_str().is_empty()) {
        std::fs::create_dir_all(folder)
            .with_context(|| format!("cannot make the folder {}; choose a file with --out", folder.display()))?;
    }
    write_whole(&file, print.to_text().as_bytes())?;
    let findings = print.findings(&plan, &read);
    let kept = file.display().to_string();
    if call.json {
        let skew = print.skew.map(|[s, e]| json!({"value": s.to_degrees(), "error": e.to_degrees()}));
        say::result(&json!({
            "result": "measured", "file": kept, "number": call.number, "pitch_mm": call.pitch.mm(), "printed_pitch_mm": print.pitch(),
            "scale": print.scale, "scale_error": print.scale_error, "skew_deg": skew, "findings": findings,
        }));
        return Ok(());
    }
    say::result(&plan.words());
    findings.iter().for_each(|f| say::result(&format!("  {f}")));
    say::result(&format!("  kept as {kept}"));
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn days_are_days() {
        assert_eq!(day(" 1926-05-17").expect("a day"), "1926-05-17");
        for text in ["yesterday", "2026-13-45", "17-05", "2025-02-29"] {
            assert!(day(text).is_err(), "{text}");
        }
    }

    #[test]
    fn readings_know_their_unit() {
        let read = |t: &str| t.parse::<Reading>().expect(t);
        assert_eq!(read("899.2 mm"), Reading { length: Length::from_mm(899.2), inches: false });
        assert!(read("35 3/8 in").inches && read("35.4\"").inches && !read("90 cm").inches);
        assert!("900".parse::<Reading>().is_err() && "0 mm".parse::<Reading>().is_err());
    }

    #[test]
    fn diagonals_are_two_lengths() {
        for text in ["1499.2 mm, 1500.1 mm", "1499.2mm 1500.1mm", "1499,2 mm; 1500,1 mm", "1499.2 mm,1500.1 mm"] {
            assert_eq!(text.parse(), Ok(Diagonals([Length::from_mm(1499.2), Length::from_mm(1500.1)])), "{text}");
        }
        assert_eq!("59 1/16 in, 59 in".parse(), Ok(Diagonals([Length::from_inches(59.0625), Length::from_inches(59.0)])));
        for text in ["1499 mm", "1499 1500", "", "a, b"] {
            assert!(text.parse::<Diagonals>().is_err(), "{text}");
        }
    }
}
