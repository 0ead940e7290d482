//! Path data from records: what is read can be written, reads back as what was written, and can be measured.

use ruboff::review::apart;
use ruboff::write::{path_from_text, path_text};

/// # Panics
/// A property does not hold.
pub fn read(bytes: &[u8]) {
    let Ok(text) = std::str::from_utf8(bytes) else { return };
    let Ok(path) = path_from_text(text) else { return };
    let written = path_text(&path);
    let back = path_from_text(&written).unwrap_or_else(|e| panic!("{e}: {written}"));
    assert_eq!(path_text(&back), written);
    assert!(ruboff::outline::length(&path).is_finite());
    if let Some((far, at)) = apart(text, text) {
        assert!(far < 1e-6 && at.is_finite(), "{far} from itself");
    }
    assert!(apart(text, "M 0 0 L 10 0 L 10 10 Z").is_none_or(|(far, _)| far.is_finite()));
}
