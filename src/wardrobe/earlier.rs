//! Tracings that a new picture took the place of: kept beside the new one, with how far they differ.

use crate::piece::{LaidOut, layings};
use crate::write::{Record, ReplacedRecord, as_found};
use std::fs;
use std::io;
use std::path::Path;

/// Files of a tracing that are kept, the record last: where it is, the others are.
const KEPT: [&str; 6] = ["evidence.jpg", "thumbnail.jpg", "outline.svg", "points.csv", REVIEW, "outline.json"];
/// What reviewers said of the tracing that was replaced is nothing said of the new one.
const REVIEW: &str = "review.json";
/// Folder for them in a picture's own.
const EARLIER: &str = "earlier";

/// Keeps the tracing that lies in a picture's folder when `record`, about to be written there, is of another picture, and tells in the
/// record of it and of those before. A tracing made anew from the same picture takes the old one's place, and its history.
///
/// Gives whether one was kept now.
///
/// # Errors
/// The old files can't be copied.
pub fn replace(folder: &Path, record: &mut Record) -> io::Result<bool> {
    let text = fs::read_to_string(folder.join("outline.json")).unwrap_or_default();
    let Ok(before) = Record::from_text(&text) else { return Ok(false) };
    let hashes = |r: &Record| r.pictures.iter().map(|p| p.blake3.clone()).collect::<Vec<_>>();
    record.replaces = before.replaces.iter().map(|r| measured_again(folder, r, record)).collect();
    if hashes(&before) == hashes(record) {
        return Ok(false);
    }
    let number = keep(folder, &text)?;
    match fs::remove_file(folder.join(REVIEW)) {
        Err(e) if e.kind() != io::ErrorKind::NotFound => return Err(e),
        _ => {}
    }
    let (differs, say) = difference(&before, record);
    let replaced = ReplacedRecord {
        outline: format!("{EARLIER}/{number}/outline.json"),
        blake3: hashes(&before).into_iter().next().unwrap_or_default(),
        differs_mm: differs,
        say,
    };
    record.replaces.retain(|r| r.outline != replaced.outline);
    record.replaces.insert(0, replaced);
    Ok(true)
}

/// How a tracing that was kept differs from the newest one: not what it differed by from those between.
fn measured_again(folder: &Path, replaced: &ReplacedRecord, now: &Record) -> ReplacedRecord {
    let kept = fs::read_to_string(folder.join(&replaced.outline)).ok().and_then(|text| Record::from_text(&text).ok());
    let told = kept.map(|before| difference(&before, now));
    told.map_or_else(|| replaced.clone(), |(differs_mm, say)| ReplacedRecord { differs_mm, say, ..replaced.clone() })
}

/// Copies the tracing to a numbered folder, which appears whole, and gives its number. One that a run copied before it died is not
/// copied again.
fn keep(folder: &Path, text: &str) -> io::Result<usize> {
    let all = folder.join(EARLIER);
    fs::create_dir_all(&all)?;
    let place = |n: usize| all.join(n.to_string());
    let free = (1..).find(|n| !place(*n).exists()).unwrap_or(1);
    if free > 1 && fs::read_to_string(place(free - 1).join("outline.json")).is_ok_and(|t| t == text) {
        return Ok(free - 1);
    }
    let passing = all.join(format!(".{free}.part"));
    if passing.exists() {
        fs::remove_dir_all(&passing)?;
    }
    fs::create_dir(&passing)?;
    for name in KEPT.iter().filter(|n| folder.join(n).is_file()) {
        fs::copy(folder.join(name), passing.join(name))?;
    }
    fs::rename(&passing, place(free))?;
    Ok(free)
}

/// How far the outlines of two tracings lie apart (95 %), and that in words.
fn difference(before: &Record, now: &Record) -> (Option<f64>, String) {
    let counts = [before.pieces.len(), now.pieces.len()];
    if counts[0] != counts[1] {
        return (None, format!("it has {} pieces and this one {}; look at both", counts[0], counts[1]));
    }
    let apart = |k: usize| {
        let (a, b) = (as_found(&before.pieces[k]).ok()?, as_found(&now.pieces[k]).ok()?);
        let laid = |layer, laying| LaidOut { layer, laying, mirrored: false };
        layings(&[laid(&a, 0), laid(&b, 1)]).ok()?.spreads.first()?.laid
    };
    match (0..counts[0]).map(apart).try_fold(0.0, |most: f64, one| Some(most.max(one?))) {
        Some(off) => (Some((off * 1e4).round() / 1e4), format!("95 % of its outline lies within {off:.1} mm of this one's")),
        None => (None, "its corners are not those of this one; look at both".into()),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn another_picture_keeps_what_was_traced_before_and_the_same_one_does_not() {
        let golden = include_str!("../../tests/golden/outline.json");
        let dir = tempfile::tempdir().expect("a folder");
        fs::write(dir.path().join("outline.json"), golden).expect("written");
        let mut same = Record::from_text(golden).expect("the golden record");
        replace(dir.path(), &mut same).expect("nothing to keep");
        assert!(same.replaces.is_empty() && !dir.path().join("earlier").exists());
        let mut other = same.clone();
        other.pictures[0].blake3 = "another".into();
        fs::write(dir.path().join(REVIEW), "{}").expect("written");
        for _ in 0..2 {
            // The second time is that of a run that died before it wrote its record.
            replace(dir.path(), &mut other).expect("kept");
            let [kept] = other.replaces.as_slice() else { panic!("one is kept") };
            assert_eq!((kept.outline.as_str(), kept.differs_mm), ("earlier/1/outline.json", Some(0.0)));
            assert_eq!(fs::read_to_string(dir.path().join(&kept.outline)).expect("kept"), golden);
            assert!(dir.path().join("earlier/1").join(REVIEW).exists() && !dir.path().join(REVIEW).exists());
        }
        fs::write(dir.path().join("outline.json"), other.to_text()).expect("written");
        let mut third = same.clone();
        third.pieces.clear();
        replace(dir.path(), &mut third).expect("kept");
        assert_eq!(
            third.replaces.iter().map(|r| r.outline.as_str()).collect::<Vec<_>>(),
            ["earlier/2/outline.json", "earlier/1/outline.json"]
        );
        assert_eq!(third.replaces[0].differs_mm, None);
    }
}
