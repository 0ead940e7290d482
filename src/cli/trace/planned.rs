//! What a run would do, without doing it.

use super::Call;
use super::one::standing;
use super::ready::Ready;
use crate::cli::say;
use crate::wardrobe::{Before, look};
use serde_json::json;

/// One line for each unit of work.
pub(super) fn list(ready: &Ready, json: bool) {
    for unit in &ready.units {
        if json {
            let pictures: Vec<String> = unit.jobs.iter().flat_map(|j| j.pictures()).map(|p| p.display().to_string()).collect();
            say::result(&json!({"unit": unit.id, "garment": unit.notes.is_some(), "pictures": pictures}));
        } else {
            // One line each, whatever its folder is called; --json has the name as it is.
            say::result(&unit.id.replace('\n', "\u{fffd}"));
        }
    }
}

/// One line for each picture: whether it would be traced, and why.
pub(super) fn tell(call: &Call, ready: &Ready) {
    let mut would = 0;
    for job in ready.units.iter().flat_map(|u| &u.jobs) {
        let name = job.name();
        let (result, why) = match look(&ready.terms, job, &ready.lenses, &ready.prints).map(|looked| standing(call, job, &looked)) {
            Ok(Before::ToDo(why)) => ("would be traced", why.word().to_owned()),
            Ok(Before::Traced(_)) => ("unchanged", String::new()),
            Ok(Before::Failed(said)) => ("failed before", said),
            Err(e) => ("would fail", say::sentence(&e.into())),
        };
        would += usize::from(result == "would be traced");
        if call.json {
            say::result(&json!({"picture": name, "result": result, "why": why, "folder": job.folder.display().to_string()}));
        } else {
            let why = if why.is_empty() { why } else { format!(": {why}") };
            say::result(&format!("{name}: {result}{why}"));
        }
    }
    ready.left_out.iter().for_each(|l| say::left_out(l, call.json));
    say::note(&format!("{would} of {} pictures would be traced; nothing was written", ready.pictures()));
}
