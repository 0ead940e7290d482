//! Places as typed in a call: points of a seam, one thing in two pictures, where a place of the picture is on the sheet.

use crate::length::{Length, Mm, Px};

/// An amount of memory, as typed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Bytes(pub u64);

/// Units of memory and what they are: of ten (SI) and of two (IEC 80000-13).
const SIZES: [(&str, u64); 6] =
    [("KB", 1000), ("MB", 1_000_000), ("GB", 1_000_000_000), ("KIB", 1 << 10), ("MIB", 1 << 20), ("GIB", 1 << 30)];

pub(super) fn bytes(text: &str) -> Result<Bytes, String> {
    let text = text.trim().to_uppercase();
    let digits = text.find(|c: char| !(c.is_ascii_digit() || c == '.')).unwrap_or(text.len());
    let (number, unit) = text.split_at(digits);
    let size = SIZES.iter().find(|(word, _)| *word == unit.trim() || word.strip_suffix('B') == Some(unit.trim())).map(|s| s.1 as f64);
    let told = number.parse::<f64>().ok().zip(size).map(|(n, s)| n * s).filter(|b| (1e8..1e15).contains(b));
    told.map(|b| Bytes(b as u64)).ok_or_else(|| "write an amount of memory, 100MB or more, like 2GB or 1.5 GiB".into())
}

/// Points of one seam, as typed.
#[derive(Clone)]
pub(super) struct Points(pub Vec<Px>);

pub(super) fn points(text: &str) -> Result<Points, String> {
    let number = |s: &str| s.trim().parse::<f64>().ok().filter(|v| v.is_finite());
    let points: Option<Vec<Px>> =
        text.split_whitespace().map(|pair| pair.split_once(',').and_then(|(x, y)| Some(Px::new(number(x)?, number(y)?)))).collect();
    match points {
        Some(p) if p.len() >= 2 => Ok(Points(p)),
        _ => Err("write two ends or more as \"x,y x,y\", in pixels of the upright picture".into()),
    }
}

/// One thing in two pictures, as typed.
pub(super) type Same = [(usize, Px); 2];

pub(super) fn same_place(text: &str) -> Result<Same, String> {
    let number = |s: &str| s.trim().parse::<f64>().ok().filter(|v| v.is_finite());
    let one = |s: &str| {
        let (k, at) = s.split_once(':')?;
        let (x, y) = at.split_once(',')?;
        Some((k.trim().parse::<usize>().ok()?.checked_sub(1)?, Px::new(number(x)?, number(y)?)))
    };
    let two = text.split_once('=').and_then(|(a, b)| Some([one(a)?, one(b)?])).filter(|[a, b]| a.0 != b.0);
    two.ok_or_else(|| "write one place in two pictures as \"1:x,y=2:x,y\": a picture's number in the call, then its pixels".into())
}

/// A place in the picture and where that is on the sheet; plain numbers after the sign are mm.
pub(super) fn known_place(text: &str) -> Result<(Px, Mm), String> {
    let number = |s: &str| s.trim().parse::<f64>().ok().filter(|v| v.is_finite());
    let length = |s: &str| number(s).or_else(|| s.trim().parse::<Length>().ok().map(Length::mm));
    let pair = |s: &str, read: &dyn Fn(&str) -> Option<f64>| s.split_once(',').and_then(|(x, y)| Some([read(x)?, read(y)?]));
    text.split_once('=')
        .and_then(|(px, mm)| Some((pair(px, &number)?.into(), pair(mm, &length)?.into())))
        .ok_or_else(|| "write a place as \"x,y=mm,mm\": pixels of the upright picture, then where that is on the sheet in mm".into())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn amounts_of_memory() {
        for (text, told) in [("2GB", 2_000_000_000), ("1.5 GiB", 1_610_612_736), ("500 mb", 500_000_000), ("4g", 4_000_000_000)] {
            assert_eq!(bytes(text), Ok(Bytes(told)), "{text}");
        }
        for text in ["", "2", "GB", "-1GB", "1e9GB", "10KB", "2 pounds"] {
            assert!(bytes(text).is_err(), "{text}");
        }
    }
}
