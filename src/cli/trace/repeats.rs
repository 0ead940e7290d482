//! Several pictures of one piece in a call: held against each other where that is asked for.

use super::{Call, LayingsWord};
use crate::cli::say;
use crate::notes::LayingsMake;
use crate::wardrobe::{Job, Outcome, Repeats, Traced, noted};
use std::path::Path;

/// A traced picture as one of several of its piece.
pub(super) fn repeat(call: &Call, job: &Job, outcome: &Outcome) -> Traced {
    let noted = noted::shot(call.notes.as_deref(), job).unwrap_or_default();
    let mut shot = noted.shot;
    shot.recorded_by = shot.recorded_by.or(noted.recorded_by);
    if call.layings == Some(LayingsWord::Same) {
        shot.laying = Some("same".into());
    }
    Traced { picture: job.name(), folder: job.folder.clone(), record: outcome.record.clone(), shot }
}

/// Compares the pictures of the call as those of one piece; false when that could not be done.
pub(super) fn compared(call: &Call, word: LayingsWord, traced: &mut [Traced]) -> bool {
    let name = traced.iter().find_map(|t| t.shot.piece.clone()).unwrap_or_else(|| "piece".into());
    let make = (word == LayingsWord::Mean).then_some(LayingsMake::Mean);
    let count = traced.len();
    match (Repeats { name: &name, traced, make, root: call.out() }).compare() {
        Ok(found) => {
            say::compared(&name, &found, count, call.json);
            if !call.json {
                found.doubts.iter().for_each(|d| say::note(&format!("{name}: {}", d.say())));
            }
            true
        }
        Err(e) => {
            say::fault(&e.into());
            false
        }
    }
}

/// Says so where notes ask for something to be made of layings, and pictures are named one by one instead of their folder.
pub(super) fn unmade(call: &Call, jobs: &[Job]) {
    let mut files: Vec<_> = jobs.iter().filter(|j| !j.from_folder).filter_map(|j| noted::file(call.notes.as_deref(), j)).collect();
    files.dedup();
    for file in files {
        if noted::whole(&file).is_ok_and(|(notes, _)| notes.pieces.values().any(|p| p.layings.is_some())) {
            let folder = file.parent().unwrap_or(Path::new(".")).display().to_string();
            say::note(&format!(
                "{} asks for what is made of layings; that is done when its folder {folder} is traced, not pictures by name",
                file.display()
            ));
        }
    }
}
