//! Lengths as people write them: a number, a fraction or both, and always a unit.
//!
//! The inch is 25.4 mm exactly (international yard and pound agreement of 1959; the US survey inch is never used).

use serde::{Deserialize, Deserializer, Serialize, Serializer, de};
use std::fmt;
use std::str::FromStr;

/// A length in millimetres, read and written as text such as `"6.35 mm"`.
#[derive(Clone, Copy, Debug, Default, PartialEq, PartialOrd)]
pub struct Length {
    mm: f64,
}

/// Nothing in a workroom is longer; a larger number is a slip of the pen. In mm.
const LONGEST_MM: f64 = 100_000.0;

/// Fractions that have a sign of their own in print.
const PRINTED: [(char, &str); 11] = [
    ('½', "1/2"),
    ('¼', "1/4"),
    ('¾', "3/4"),
    ('⅓', "1/3"),
    ('⅔', "2/3"),
    ('⅛', "1/8"),
    ('⅜', "3/8"),
    ('⅝', "5/8"),
    ('⅞', "7/8"),
    ('⁄', "/"),
    ('∕', "/"),
];

/// Why a text is not a length.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum LengthError {
    /// No unit was given.
    #[error("`{0}` has no unit; write mm, cm or in after the number, like `6 mm` or `1/4 in`")]
    NoUnit(String),
    /// The unit is none we know.
    #[error("`{0}` has a unit that is not known here; write mm, cm, m or in, like `6 mm` or `1/4 in`")]
    Unit(String),
    /// There is no number, or it is not written like one.
    #[error("`{0}` is not a length; write a number and a unit, like `6.35 mm`, `1/4 in` or `19 1/8 in`")]
    Number(String),
    /// A comma that may part the decimals or the thousands.
    #[error("`{0}` can be read in two ways; write a point before the decimals and nothing between thousands")]
    Comma(String),
    /// Less than nothing.
    #[error("`{0}` is less than nothing; a length like this one can't be negative")]
    Negative(String),
    /// Zero where something is needed.
    #[error("`{0}` is no length at all; a length above zero is needed here")]
    Zero(String),
    /// Longer than anything measured here.
    #[error("`{0}` is longer than 100 m; is the unit right?")]
    TooLong(String),
}

impl Length {
    /// Nothing.
    pub const ZERO: Self = Self::from_mm(0.0);

    /// From millimetres.
    pub const fn from_mm(mm: f64) -> Self {
        Self { mm }
    }

    /// In millimetres.
    pub const fn mm(self) -> f64 {
        self.mm
    }

    /// From inches. Multiplies by 127 and divides by 5, so that every 1/16 in is rounded only once.
    pub const fn from_inches(inches: f64) -> Self {
        Self { mm: inches * 127.0 / 5.0 }
    }

    /// In inches.
    pub const fn inches(self) -> f64 {
        self.mm * 5.0 / 127.0
    }

    /// Reads a length that may be negative, such as ease.
    ///
    /// # Errors
    /// The text is no length, or longer than 100 m.
    pub fn signed(text: &str) -> Result<Self, LengthError> {
        let shown = || shorten(text);
        let plain = plain(text);
        let (negative, rest) = match plain.strip_prefix(['-', '−']) {
            Some(rest) => (true, rest.trim_start()),
            None => (false, plain.strip_prefix('+').unwrap_or(&plain).trim_start()),
        };
        let split = rest.find(|c: char| !(c.is_ascii_digit() || " .,/-".contains(c))).unwrap_or(rest.len());
        let (number, unit) = rest.split_at(split);
        let value = number_of(number.trim_end()).map_err(|e| e(shown()))?;
        let length = match unit {
            "" => return Err(LengthError::NoUnit(shown())),
            "mm" | "millimetre" | "millimetres" | "millimeter" | "millimeters" => Self::from_mm(value),
            "cm" | "centimetre" | "centimetres" | "centimeter" | "centimeters" => Self::from_mm(value * 10.0),
            "m" | "metre" | "metres" | "meter" | "meters" => Self::from_mm(value * 1000.0),
            "in" | "in." | "inch" | "inches" | "\"" | "″" | "”" | "''" => Self::from_inches(value),
            _ => return Err(LengthError::Unit(shown())),
        };
        if !length.mm.is_finite() || length.mm > LONGEST_MM {
            return Err(LengthError::TooLong(shown()));
        }
        Ok(if negative { Self::from_mm(-length.mm) } else { length })
    }

    /// Reads a length that must be more than nothing, such as the pitch of a sheet.
    ///
    /// # Errors
    /// As [`Length::signed`], and when it is zero or less.
    pub fn positive(text: &str) -> Result<Self, LengthError> {
        let length: Self = text.parse()?;
        if length.mm > 0.0 { Ok(length) } else { Err(LengthError::Zero(shorten(text))) }
    }

    /// In inches to the nearest sixteenth, lowest terms: `"19 1/8 in"`.
    pub fn sixteenths(self) -> String {
        let all = (self.inches().abs() * 16.0).round() as u64;
        let sign = if self.mm < 0.0 && all > 0 { "-" } else { "" };
        let (whole, part) = (all / 16, all % 16);
        let cut = 1 << part.trailing_zeros().min(4);
        match (whole, part) {
            (_, 0) => format!("{sign}{whole} in"),
            (0, _) => format!("{sign}{}/{} in", part / cut, 16 / cut),
            _ => format!("{sign}{whole} {}/{} in", part / cut, 16 / cut),
        }
    }
}

/// Lower case, printed fractions spelt out, single spaces.
fn plain(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in text.trim().chars() {
        match PRINTED.iter().find(|(sign, _)| *sign == c) {
            Some((_, spelt)) if spelt.len() > 1 => {
                out.push(' ');
                out.push_str(spelt);
            }
            Some((_, spelt)) => out.push_str(spelt),
            None if c.is_whitespace() => out.push(' '),
            None => out.extend(c.to_lowercase()),
        }
    }
    out.trim_start().to_owned()
}

type Fault = fn(String) -> LengthError;

/// `12`, `6.35`, `6,35`, `1/4`, `19 1/8`, `19-1/8`.
fn number_of(text: &str) -> Result<f64, Fault> {
    let parts: Vec<&str> = match text.split_once('-') {
        Some((whole, part)) => vec![whole, part],
        None => text.split(' ').filter(|p| !p.is_empty()).collect(),
    };
    match parts.as_slice() {
        [one] if one.contains('/') => fraction(one),
        [one] => decimal(one),
        [whole, part] if !whole.is_empty() && whole.bytes().all(|b| b.is_ascii_digit()) && part.contains('/') => {
            let part = fraction(part)?;
            if part >= 1.0 { Err(LengthError::Number) } else { Ok(decimal(whole)? + part) }
        }
        _ => Err(LengthError::Number),
    }
}

fn decimal(text: &str) -> Result<f64, Fault> {
    if let Some((before, after)) = text.split_once(',') {
        if after.contains([',', '.']) || before.contains('.') {
            return Err(LengthError::Number);
        }
        // `1,000 mm` is a metre to some and a millimetre to others; `0,125 in` is not in doubt.
        if after.len() == 3 && before.bytes().any(|b| b != b'0') {
            return Err(LengthError::Comma);
        }
    }
    let digits = text.bytes().filter(u8::is_ascii_digit).count();
    if digits == 0 || digits + 1 < text.len() || text.contains('/') {
        return Err(LengthError::Number);
    }
    text.replace(',', ".").parse().map_err(|_| LengthError::Number as Fault)
}

fn fraction(text: &str) -> Result<f64, Fault> {
    let (above, below) = text.split_once('/').ok_or(LengthError::Number as Fault)?;
    let whole = |t: &str| match t.parse::<u32>() {
        Ok(n) if t.bytes().all(|b| b.is_ascii_digit()) => Ok(f64::from(n)),
        _ => Err(LengthError::Number as Fault),
    };
    let (above, below) = (whole(above)?, whole(below)?);
    if below > 0.0 { Ok(above / below) } else { Err(LengthError::Number) }
}

/// At most 40 characters of what was typed, without control characters, for a message.
fn shorten(text: &str) -> String {
    let mut out: String = text.trim().chars().take(40).map(|c| if c.is_control() { ' ' } else { c }).collect();
    if text.trim().chars().count() > 40 {
        out.push('…');
    }
    out
}

/// Reads a length that is not negative.
impl FromStr for Length {
    type Err = LengthError;

    fn from_str(text: &str) -> Result<Self, LengthError> {
        let length = Self::signed(text)?;
        if length.mm < 0.0 { Err(LengthError::Negative(shorten(text))) } else { Ok(length) }
    }
}

/// Millimetres, as many decimals as it takes to read the same number back, or as many as the format asks for.
impl fmt::Display for Length {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match f.precision() {
            Some(n) => write!(f, "{:.n$} mm", self.mm),
            None => write!(f, "{} mm", self.mm),
        }
    }
}

impl Serialize for Length {
    fn serialize<S: Serializer>(&self, to: S) -> Result<S::Ok, S::Error> {
        to.collect_str(self)
    }
}

/// Signed; whoever needs more than nothing checks it.
impl<'de> Deserialize<'de> for Length {
    fn deserialize<D: Deserializer<'de>>(from: D) -> Result<Self, D::Error> {
        struct Reader;
        impl de::Visitor<'_> for Reader {
            type Value = Length;
            fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.write_str("a length with its unit in quotes, like \"6 mm\" or \"1/4 in\"")
            }
            fn visit_str<E: de::Error>(self, text: &str) -> Result<Length, E> {
                Length::signed(text).map_err(E::custom)
            }
            fn visit_i64<E: de::Error>(self, bare: i64) -> Result<Length, E> {
                Err(E::custom(LengthError::NoUnit(bare.to_string())))
            }
            fn visit_u64<E: de::Error>(self, bare: u64) -> Result<Length, E> {
                Err(E::custom(LengthError::NoUnit(bare.to_string())))
            }
            fn visit_f64<E: de::Error>(self, bare: f64) -> Result<Length, E> {
                Err(E::custom(LengthError::NoUnit(bare.to_string())))
            }
        }
        from.deserialize_any(Reader)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn mm(text: &str) -> f64 {
        text.parse::<Length>().unwrap_or_else(|e| panic!("{text}: {e}")).mm()
    }

    /// 1 in = 25.4 mm exactly: international yard and pound agreement of 1959 (0.9144 m the yard); the rest is arithmetic.
    #[test]
    fn inches_as_the_1959_agreement_has_them() {
        let table = [
            ("1 in", 25.4),
            ("1/16 in", 1.5875),
            ("1/8 in", 3.175),
            ("1/4 in", 6.35),
            ("3/8 in", 9.525),
            ("1/2 in", 12.7),
            ("5/8 in", 15.875),
            ("3/4 in", 19.05),
            ("1 1/2 in", 38.1),
            ("2 in", 50.8),
            ("36 in", 914.4),
            ("19 1/8 in", 485.775),
        ];
        for (text, want) in table {
            assert_eq!(mm(text), want, "{text}");
            assert_eq!(Length::from_mm(want).sixteenths(), text);
        }
    }

    #[test]
    fn ways_of_writing() {
        for text in
            ["6.35mm", "6.35 mm", " 6,35 mm ", "6.35 MM", "0.25in", ".25 in", "0,25\"", "1/4in", "¼ in", "1/4\"", "0.635 cm", "+6.35mm"]
        {
            assert_eq!(mm(text), 6.35, "{text}");
        }
        for text in ["1 1/2\"", "1-1/2 in", "1½\"", "1.5 inches", "1 ½ inch", "1 1⁄2 in."] {
            assert_eq!(mm(text), 38.1, "{text}");
        }
        assert_eq!((mm("1in"), mm("2.5 cm"), mm("300 mm"), mm("1.5 m"), mm("0 mm")), (25.4, 25.0, 300.0, 1500.0, 0.0));
        assert_eq!(mm("0,125 in"), 3.175);
    }

    #[test]
    fn what_is_refused_and_why() {
        let refuse = |text: &str| text.parse::<Length>().expect_err(text);
        for text in ["12", "1/4", "19 1/8", "6,35"] {
            assert!(matches!(refuse(text), LengthError::NoUnit(_)), "{text}");
        }
        for text in ["6 ft", "6 px", "6 mmm", "1 in 2 in", "1e3 mm", "3 mm²"] {
            assert!(matches!(refuse(text), LengthError::Unit(_)), "{text}");
        }
        for text in [
            "",
            "mm",
            "in",
            "inf mm",
            "NaN mm",
            "1/0 in",
            "1.2.3 mm",
            "1 2 mm",
            "1 5/4 in",
            "6- mm",
            "1--1/2 in",
            "1 - 1/2 in",
            "- -1 mm",
            "1/2/3 in",
            "1.5 1/2 in",
            "1,2,3 mm",
            ". mm",
        ] {
            assert!(matches!(refuse(text), LengthError::Number(_)), "{text}: {:?}", refuse(text));
        }
        assert!(matches!(refuse("1,000 mm"), LengthError::Comma(_)));
        assert!(matches!(refuse("-1 mm"), LengthError::Negative(_)));
        assert!(matches!(refuse("101 m"), LengthError::TooLong(_)));
        assert!(matches!(refuse(&format!("{} mm", "9".repeat(400))), LengthError::TooLong(_)));
        assert!(matches!(Length::positive("0 mm"), Err(LengthError::Zero(_))));
        assert_eq!(Length::signed("-1/4 in"), Ok(Length::from_mm(-6.35)));
    }

    #[test]
    fn text_in_files() {
        let quarter: Length = serde_json::from_str("\"1/4 in\"").expect("a length");
        assert_eq!(serde_json::to_string(&quarter).expect("text"), "\"6.35 mm\"");
        let bare = serde_json::from_str::<Length>("6").expect_err("no unit").to_string();
        assert!(bare.contains("no unit"), "{bare}");
        assert_eq!(format!("{:.1}", Length::from_mm(6.35)), "6.3 mm");
    }

    proptest! {
        #[test]
        fn what_is_written_reads_back_the_same(v in -99_999.0..99_999.0f64) {
            prop_assert_eq!(Length::signed(&Length::from_mm(v).to_string()), Ok(Length::from_mm(v)));
        }

        #[test]
        fn sixteenths_are_within_a_thirty_second(v in -2000.0..2000.0f64) {
            let back = Length::signed(&Length::from_mm(v).sixteenths()).expect("own writing");
            prop_assert!((back.mm() - v).abs() <= 25.4 / 32.0 + 1e-9);
            prop_assert_eq!(back.sixteenths(), Length::from_mm(v).sixteenths());
        }

        #[test]
        fn fraction_and_decimal_agree(whole in 0u32..200, part in 0u32..16) {
            let a = mm(&format!("{whole} {part}/16 in"));
            let b = mm(&format!("{} in", f64::from(whole) + f64::from(part) / 16.0));
            prop_assert_eq!(a, b);
        }

        #[test]
        fn no_text_panics(text in "\\PC{0,40}") {
            let _ = Length::signed(&text);
        }

        #[test]
        fn no_near_miss_panics(text in "[-+ 0-9.,/½⅛]{0,12}[a-z\"″]{0,3}") {
            if let Ok(l) = text.parse::<Length>() {
                prop_assert!(l.mm().is_finite() && l.mm() >= 0.0);
            }
        }
    }
}
