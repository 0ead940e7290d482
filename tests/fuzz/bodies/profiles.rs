//! Files of sheets, lenses and prints: what is read lies within what the words promise, and reads back from its own writing.

use ruboff::sheet::{MeasuredPrint, SheetProfile};
use ruboff::view::LensProfile;

/// # Panics
/// A property does not hold.
pub fn read(bytes: &[u8]) {
    let Ok(text) = std::str::from_utf8(bytes) else { return };
    let faults = [sheet(text), lens(text), print(text)];
    for fault in faults.into_iter().flatten() {
        assert!((10..=290).contains(&fault.chars().count()) && !fault.contains('\n'), "{fault}");
    }
}

fn sheet(text: &str) -> Option<String> {
    match SheetProfile::from_text(text) {
        Ok(sheet) => {
            assert!(sheet.pitch.iter().all(|p| (0.5..=1000.0).contains(p)), "{:?}", sheet.pitch);
            assert!(sheet.pitch_error.iter().all(|e| (0.0..=0.05).contains(e)), "{:?}", sheet.pitch_error);
            assert_eq!(sheet.blake3().len(), 64);
            None
        }
        Err(e) => Some(e.to_string()),
    }
}

fn lens(text: &str) -> Option<String> {
    match LensProfile::from_text(text) {
        Ok(lens) => {
            let written = lens.to_text();
            let back = LensProfile::from_text(&written).unwrap_or_else(|e| panic!("{e}: {written}"));
            assert_eq!(back.to_text(), written);
            None
        }
        Err(e) => Some(e.to_string()),
    }
}

fn print(text: &str) -> Option<String> {
    match MeasuredPrint::from_text(text) {
        Ok(print) => {
            assert!(print.pitch().iter().all(|p| p.is_finite() && *p > 0.0));
            let written = print.to_text();
            let back = MeasuredPrint::from_text(&written).unwrap_or_else(|e| panic!("{e}: {written}"));
            assert_eq!(back.to_text(), written);
            None
        }
        Err(e) => Some(e.to_string()),
    }
}
