//! Patterns drawn from records: whatever lines a record tells of, they are drawn on paper and for exchange, or refused in one line.

use ruboff::sheet::Paper;
use ruboff::write::pattern::{
    Choices, Joining, Pattern, PatternError, Units, dxf, pattern_of_drafted, pattern_of_garment, pattern_of_outline,
};
use ruboff::write::pattern::{pattern_svg, roll, tiled};
use ruboff::write::{DraftedRecord, GarmentRecord, Record};

/// # Panics
/// A property does not hold.
pub fn read(bytes: &[u8]) {
    let Ok(text) = std::str::from_utf8(bytes) else { return };
    let choices = Choices { date: "1926-05-17".into(), ..Choices::default() };
    if let Ok(record) = Record::from_text(text) {
        drawn(pattern_of_outline(&record, &choices), text.len());
    }
    if let Ok(record) = GarmentRecord::from_text(text) {
        drawn(pattern_of_garment(&record, &choices), text.len());
    }
    if let Ok(record) = DraftedRecord::from_text(text) {
        drawn(pattern_of_drafted(&record, "coat", &choices), text.len());
    }
}

/// In one of the ways there are, by the length of what was read: each takes a while.
fn drawn(pattern: Result<Pattern, PatternError>, way: usize) {
    let Some(pattern) = told(pattern) else { return };
    let joining = Joining::default();
    match way % 4 {
        0 => {
            if let Some(svg) = told(pattern_svg(&pattern)) {
                assert!(svg.contains("</svg>") && !svg.contains("NaN"), "{svg}");
            }
        }
        1 => drop(told(dxf(&pattern, Units::Metric, 0.02))),
        2 => {
            let paper = Paper::named().next().expect("a paper");
            if let Some(made) = told(tiled(&pattern, &paper, &joining, true)) {
                assert!(made.pages > made.front && made.bytes.starts_with(b"%PDF"));
            }
        }
        _ => drop(told(roll(&pattern, 914.4, &joining, true))),
    }
}

/// What was made, or nothing where it was refused as it should be.
fn told<T>(made: Result<T, PatternError>) -> Option<T> {
    match made {
        Ok(made) => Some(made),
        Err(e) => {
            let words = e.to_string();
            assert!(words.chars().count() >= 10 && !words.contains('\n'), "{words}");
            None
        }
    }
}
