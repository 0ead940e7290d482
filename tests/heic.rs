//! HEIC pictures, read with the feature `heic`: `cargo test --release --features heic --test heic`.
//!
//! `phone.heic` and `turned.heic` in `tests/pictures` show the wash of colours of `plain.png`; pillow-heif (libheif, x265) wrote them at quality 92 and reads
//! them back within 2 levels of it on average, which makes it the judge here.
#![cfg(feature = "heic")]

use proptest::prelude::*;
use ruboff::shot::{Limits, Shot, ShotError};
use std::path::Path;

/// Levels that the decoder's colours may stray from what was drawn, on average and at most; libheif strays by 1 and 4.
const MEAN: f64 = 8.0;
const MOST: i32 = 40;

fn file(name: &str) -> Vec<u8> {
    std::fs::read(Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/pictures").join(name)).expect("a picture")
}

fn decode(bytes: &[u8]) -> Result<Shot, ShotError> {
    Shot::decode(bytes, &Limits::default())
}

fn alike(a: &Shot, b: &Shot) {
    assert_eq!((a.width, a.height), (b.width, b.height));
    let off = |k: usize| (i32::from(a.rgb[k]) - i32::from(b.rgb[k])).abs();
    let all: Vec<i32> = (0..a.rgb.len()).map(off).collect();
    let (mean, most) = (f64::from(all.iter().sum::<i32>()) / all.len() as f64, all.iter().max().copied().unwrap_or(0));
    assert!(mean < MEAN && most < MOST, "off by {mean:.2} levels, {most} at most");
}

#[test]
fn a_phones_picture_is_read_with_its_tags() {
    let shot = decode(&file("phone.heic")).expect("a picture");
    alike(&shot, &decode(&file("plain.png")).expect("a picture"));
    assert_eq!(shot.tags.model.as_deref(), Some("Workshop Box camera"));
    // The 35 mm equivalent counts along the diagonal (Exif 2.3, tag 0xA405).
    let diagonal = (shot.width as f64).hypot(shot.height as f64);
    assert!((shot.tags.focal_px.expect("a focal length") - 26.0 * diagonal / 43.2666).abs() < 0.01);
    assert!(shot.tags.camera);
}

/// The container's turn stands the picture upright, once.
#[test]
fn a_turned_picture_stands_upright() {
    let shot = decode(&file("turned.heic")).expect("a picture");
    alike(&shot, &decode(&file("plain.png")).expect("a picture"));
    assert_eq!(shot.tags.turned, Some(1));
}

#[test]
fn limits_are_kept_before_anything_is_decoded() {
    let limits = Limits { pixels: 5000, ..Limits::default() };
    assert!(matches!(Shot::decode(&file("phone.heic"), &limits), Err(ShotError::TooLarge { .. })));
    let limits = Limits { bytes: 20_000, ..Limits::default() };
    assert!(matches!(Shot::decode(&file("phone.heic"), &limits), Err(ShotError::TooLarge { .. })));
}

/// Cut short anywhere it is refused in one line.
#[test]
fn a_picture_cut_short_is_refused() {
    let whole = file("phone.heic");
    for length in (12..whole.len()).step_by(7) {
        let Err(error) = decode(&whole[..length]) else { panic!("{length} bytes of {} were taken for a picture", whole.len()) };
        let error = error.to_string();
        assert!((15..=260).contains(&error.chars().count()) && !error.contains('\n'), "{length}: {error}");
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(300))]

    /// Bytes changed at random give a picture or a line, never a panic.
    #[test]
    fn spoilt_pictures_are_pictures_or_errors(spots in prop::collection::vec((0usize..20_000, any::<u8>()), 1..8)) {
        let mut bytes = file("phone.heic");
        for (at, byte) in spots {
            let at = at % bytes.len();
            bytes[at] = byte;
        }
        if let Err(e) = decode(&bytes) {
            prop_assert!(!e.to_string().contains('\n'));
        }
    }
}
