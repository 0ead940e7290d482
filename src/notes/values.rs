//! Single values as people write them, each refused where it stands when it can't be meant.

use crate::length::Length;
use serde::de::{Deserialize, Deserializer, Error, IgnoredAny, MapAccess, SeqAccess, Visitor, value::MapAccessDeserializer};
use std::fmt;
use std::marker::PhantomData;

/// A list of exactly two.
pub(super) struct Two<T>(pub [T; 2]);

impl<'de, T: Deserialize<'de>> Deserialize<'de> for Two<T> {
    fn deserialize<D: Deserializer<'de>>(from: D) -> Result<Self, D::Error> {
        struct Reader<T>(PhantomData<T>);
        impl<'de, T: Deserialize<'de>> Visitor<'de> for Reader<T> {
            type Value = [T; 2];

            fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.write_str("a list of two")
            }

            fn visit_seq<A: SeqAccess<'de>>(self, mut list: A) -> Result<[T; 2], A::Error> {
                let first = list.next_element()?.ok_or_else(|| A::Error::invalid_length(0, &self))?;
                let second = list.next_element()?.ok_or_else(|| A::Error::invalid_length(1, &self))?;
                match list.next_element::<IgnoredAny>()? {
                    None => Ok([first, second]),
                    Some(_) => Err(A::Error::invalid_length(3, &self)),
                }
            }
        }
        from.deserialize_seq(Reader(PhantomData)).map(Self)
    }
}

/// Two of a thing, for a field that holds a plain pair.
pub(super) fn two<'de, T: Deserialize<'de>, D: Deserializer<'de>>(from: D) -> Result<[T; 2], D::Error> {
    Two::deserialize(from).map(|two| two.0)
}

/// The same for a field that may be left out.
pub(super) fn some_two<'de, T: Deserialize<'de>, D: Deserializer<'de>>(from: D) -> Result<Option<[T; 2]>, D::Error> {
    two(from).map(Some)
}

/// Words, or a bare date of TOML's own in their place.
pub(super) fn some_date<'de, D: Deserializer<'de>>(from: D) -> Result<Option<String>, D::Error> {
    struct Reader;
    impl<'de> Visitor<'de> for Reader {
        type Value = String;

        fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
            f.write_str("a date, like \"1911-05-17\", or words")
        }

        fn visit_str<E: Error>(self, text: &str) -> Result<String, E> {
            Ok(text.to_owned())
        }

        fn visit_i64<E: Error>(self, year: i64) -> Result<String, E> {
            Ok(year.to_string())
        }

        fn visit_map<A: MapAccess<'de>>(self, map: A) -> Result<String, A::Error> {
            Ok(toml::value::Datetime::deserialize(MapAccessDeserializer::new(map))?.to_string())
        }
    }
    from.deserialize_any(Reader).map(Some)
}

/// The day of a record, in words or like [`Day`]: 11/12/1926 would be in November for one reader and in December for another.
pub(super) fn some_day<'de, D: Deserializer<'de>>(from: D) -> Result<Option<String>, D::Error> {
    let told = some_date(from)?;
    if let Some(text) = told.as_deref().filter(|t| !t.trim().is_empty() && !t.contains(char::is_alphabetic)) {
        Day::from_text(text).map_err(D::Error::custom)?;
    }
    Ok(told)
}

/// A length of more than nothing.
pub(super) fn positive<'de, D: Deserializer<'de>>(from: D) -> Result<Length, D::Error> {
    let length = Length::deserialize(from)?;
    if length.mm() > 0.0 { Ok(length) } else { Err(D::Error::custom(format!("this must be more than 0 mm, not {length}"))) }
}

/// The same for a field that may be left out.
pub(super) fn some_positive<'de, D: Deserializer<'de>>(from: D) -> Result<Option<Length>, D::Error> {
    positive(from).map(Some)
}

/// A length of nothing or more.
pub(super) fn length<'de, D: Deserializer<'de>>(from: D) -> Result<Length, D::Error> {
    NotLess::deserialize(from).map(|l| l.0)
}

/// The same for a field that may be left out.
pub(super) fn some_length<'de, D: Deserializer<'de>>(from: D) -> Result<Option<Length>, D::Error> {
    length(from).map(Some)
}

/// A length of nothing or more, where it stands in a list.
pub(super) struct NotLess(pub Length);

impl<'de> Deserialize<'de> for NotLess {
    fn deserialize<D: Deserializer<'de>>(from: D) -> Result<Self, D::Error> {
        let length = Length::deserialize(from)?;
        if length.mm() >= 0.0 { Ok(Self(length)) } else { Err(D::Error::custom(format!("this must be 0 mm or more, not {length}"))) }
    }
}

/// How many of a thing, at least one.
pub(super) fn count<'de, D: Deserializer<'de>>(from: D) -> Result<Option<u32>, D::Error> {
    match u32::deserialize(from)? {
        0 => Err(D::Error::custom("count is 1 or more; leave the whole entry out where there is none")),
        n => Ok(Some(n)),
    }
}

/// Most notches that are cut side by side.
const NOTCHES: u32 = 9;

/// How many notches stand side by side.
pub(super) fn notches<'de, D: Deserializer<'de>>(from: D) -> Result<Option<u32>, D::Error> {
    match count(from)? {
        Some(n) if n > NOTCHES => {
            Err(D::Error::custom(format!("{n} notches side by side are none that a cutter tells apart; write {NOTCHES} or fewer")))
        }
        n => Ok(n),
    }
}

/// A share of a length, written with its sign: `"12.5 %"`.
#[derive(Clone, Copy, Debug, Default, PartialEq, PartialOrd)]
pub struct Percent {
    share: f64,
}

/// Beyond it a percentage of a length is a slip of the pen.
const MOST_PERCENT: f64 = 1000.0;

impl Percent {
    /// From a share, 0.01 for one percent.
    pub const fn of(share: f64) -> Self {
        Self { share }
    }

    /// As a share, 0.01 for one percent.
    pub const fn share(self) -> f64 {
        self.share
    }

    /// Reads `12.5 %`, `12,5%`, `-1 %`.
    ///
    /// # Errors
    /// No number with a percent sign, or one beyond 1000 %.
    pub fn from_text(text: &str) -> Result<Self, String> {
        let number = text.trim().strip_suffix('%').map(|n| n.trim().replace(',', ".").replace('−', "-"));
        let plain = |n: &String| n.bytes().all(|b| b.is_ascii_digit() || b"+-.".contains(&b));
        match number.filter(plain).and_then(|n| n.parse::<f64>().ok()).filter(|n| n.abs() <= MOST_PERCENT) {
            Some(percent) => Ok(Self { share: percent / 100.0 }),
            None => Err(format!("`{}` is no percentage; write a number and its sign, like \"35 %\"", text.trim())),
        }
    }
}

impl fmt::Display for Percent {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        // To a millionth, without the noise that the division by a hundred brings.
        write!(f, "{} %", (self.share * 1e8).round() / 1e6)
    }
}

impl<'de> Deserialize<'de> for Percent {
    fn deserialize<D: Deserializer<'de>>(from: D) -> Result<Self, D::Error> {
        struct Reader;
        impl Visitor<'_> for Reader {
            type Value = Percent;

            fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.write_str("a percentage with its sign in quotes, like \"35 %\"")
            }

            fn visit_str<E: Error>(self, text: &str) -> Result<Percent, E> {
                Percent::from_text(text).map_err(E::custom)
            }
        }
        from.deserialize_any(Reader)
    }
}

/// A day, a month or a year of the calendar, as ISO 8601 writes them: `1911`, `1911-05`, `1911-05-17`.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Day(String);

impl Day {
    /// Reads one.
    ///
    /// # Errors
    /// The text is none, or no day of the calendar.
    pub fn from_text(text: &str) -> Result<Self, String> {
        let text = text.trim();
        let parts: Vec<&str> = text.split('-').collect();
        let digits = |part: &str, n: usize| part.len() == n && part.bytes().all(|b| b.is_ascii_digit());
        let number = |k: usize| parts.get(k).and_then(|p| p.parse::<u8>().ok());
        let month = || number(1).and_then(|m| time::Month::try_from(m).ok());
        let year: Option<i32> = parts[0].parse().ok().filter(|_| digits(parts[0], 4));
        let good = year.is_some_and(|year| match parts.len() {
            1 => true,
            2 => digits(parts[1], 2) && month().is_some(),
            3 => {
                let day = month().zip(number(2)).and_then(|(m, d)| time::Date::from_calendar_date(year, m, d).ok());
                digits(parts[1], 2) && digits(parts[2], 2) && day.is_some()
            }
            _ => false,
        });
        if good {
            Ok(Self(text.to_owned()))
        } else {
            Err(format!("`{text}` is no date; write a year, month or day like 1911, 1911-05 or 1911-05-17"))
        }
    }

    /// As it was written.
    pub fn text(&self) -> &str {
        &self.0
    }

    /// Whether this ends before the other one starts.
    pub fn before(&self, other: &Self) -> bool {
        // Compared as far as both are told: 1911 is not before 1911-05.
        let told = self.0.len().min(other.0.len());
        self.0[..told] < other.0[..told]
    }
}

impl<'de> Deserialize<'de> for Day {
    fn deserialize<D: Deserializer<'de>>(from: D) -> Result<Self, D::Error> {
        struct Reader;
        impl<'de> Visitor<'de> for Reader {
            type Value = Day;

            fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.write_str("a date in quotes, like \"1911\", \"1911-05\" or \"1911-05-17\"")
            }

            fn visit_str<E: Error>(self, text: &str) -> Result<Day, E> {
                Day::from_text(text).map_err(E::custom)
            }

            /// A bare year, or a bare date of TOML's own.
            fn visit_i64<E: Error>(self, year: i64) -> Result<Day, E> {
                self.visit_str(&year.to_string())
            }

            fn visit_map<A: MapAccess<'de>>(self, map: A) -> Result<Day, A::Error> {
                let date = toml::value::Datetime::deserialize(MapAccessDeserializer::new(map))?;
                self.visit_str(&date.to_string())
            }
        }
        from.deserialize_any(Reader)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn percentages() {
        for (text, share) in [("35 %", 0.35), ("12,5%", 0.125), (" -1 % ", -0.01), ("−2%", -0.02), ("0 %", 0.0)] {
            assert!((Percent::from_text(text).expect(text).share() - share).abs() < 1e-15, "{text}");
        }
        for bad in ["35", "0.35", "%", "1e2 %", "nan %", "2000 %", "3 mm", "35 percent"] {
            assert!(Percent::from_text(bad).is_err(), "{bad}");
        }
        assert_eq!(Percent::from_text("3.3 %").expect("good").to_string(), "3.3 %");
    }

    /// ISO 8601: calendar dates of reduced precision, four-digit years; 1900 was no leap year (Gregorian calendar).
    #[test]
    fn dates() {
        for good in ["1911", "1911-05", "1911-05-17", "2000-02-29"] {
            assert_eq!(Day::from_text(good).expect(good).text(), good);
        }
        for bad in ["", "11", "1911-5", "1911-13", "1900-02-29", "1911-05-17-1", "17.5.1911", "about 1911", "19é1"] {
            assert!(Day::from_text(bad).is_err(), "{bad}");
        }
        let notes = |on: &str| {
            let text = format!("[garment]\nrecorded_on = {on}\n[[tape]]\nwhat = \"chest\"\nreading = \"1 m\"\non = {on}\n");
            crate::notes::Notes::from_text(&text).map(|n| (n.garment.recorded_on, n.tapes[0].on.clone()))
        };
        let said = |text: &str| Ok((Some(text.to_owned()), Some(text.to_owned())));
        for (on, text) in [("1926-05-17", "1926-05-17"), ("1926", "1926"), ("\"2 March\"", "2 March"), ("\"1926-05\"", "1926-05")] {
            assert_eq!(notes(on), said(text));
        }
        assert!(notes("[1]").is_err_and(|e| e.to_string().contains("a date")));
        for bad in ["\"11/12/1926\"", "\"29.11.2026\"", "\"1926-13\""] {
            assert!(notes(bad).is_err_and(|e| e.to_string().contains("no date; write")), "{bad}");
        }
        let day = |t| Day::from_text(t).expect("good");
        assert!(day("1905").before(&day("1911-05")) && !day("1911").before(&day("1911-05")) && !day("1911-06").before(&day("1911")));
    }
}
