//! Lengths from text: what is read is a length, and its own writing reads back as itself.

use ruboff::length::Length;

/// # Panics
/// A property does not hold.
pub fn read(bytes: &[u8]) {
    let Ok(text) = std::str::from_utf8(bytes) else { return };
    let length = match Length::signed(text) {
        Ok(length) => length,
        Err(e) => {
            let words = e.to_string();
            assert!((15..=290).contains(&words.chars().count()) && !words.contains('\n'), "{words}");
            assert!(text.parse::<Length>().is_err() && Length::positive(text).is_err(), "{text} is a length or is none");
            return;
        }
    };
    assert!(length.mm().is_finite() && length.mm().abs() <= 100_000.0, "{length}");
    assert_eq!(Length::signed(&length.to_string()), Ok(length), "as written");
    let sixteenths = length.sixteenths();
    let back = Length::signed(&sixteenths).unwrap_or_else(|e| panic!("{sixteenths}: {e}"));
    assert!((back.mm() - length.mm()).abs() <= 25.4 / 32.0 + 1e-9, "{sixteenths} of {length}");
    assert_eq!(text.parse::<Length>().is_ok(), length.mm() >= 0.0);
    assert_eq!(Length::positive(text).is_ok(), length.mm() > 0.0);
    assert_eq!(serde_json::from_value::<Length>(serde_json::json!(text)).ok(), Some(length), "as in files");
}
