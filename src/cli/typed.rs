//! Places as typed in a call: points of a seam, one thing in two pictures, where a place of the picture is on the sheet.

use crate::length::{Length, Mm, Px};

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
