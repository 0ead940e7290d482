//! What a run over folders leaves in the archive's root, and says of the archive as a whole.

use super::Call;
use super::ready::Ready;
use crate::cli::say;
use crate::wardrobe::{Archive, keep_readme, left_behind, report};
use anyhow::Context;

/// Folders of pictures that are gone, named.
const GONE_SHOWN: usize = 5;

/// The report, the page on how the archive is laid out, and what lies there of pictures that are gone; false when something could not be
/// written. Units done one by one, maybe on several machines, are reported on once all are gathered.
pub(super) fn told(call: &Call, ready: &Ready) -> bool {
    let root = call.out();
    let written = || -> anyhow::Result<()> {
        keep_readme(root)?;
        if call.only.is_empty() && report::write(root, &Archive::read(root)?)? && !call.json {
            let report = root.join(report::NAMES[0]);
            say::note(&format!("what came of all pictures, worst first: {}", report.display()));
            say::note(&format!("to check and mend them: ruboff review {}", root.display()));
        }
        Ok(())
    };
    let written = written().context("the pictures are done, but").inspect_err(say::fault);
    if call.only.is_empty() && !call.json {
        gone(call, ready);
    }
    written.is_ok()
}

/// Tells of tracings in the archive whose pictures were not in what was given.
fn gone(call: &Call, ready: &Ready) {
    // Where the archive can't be listed, that has been told.
    let left = left_behind(call.out(), ready.units.iter().flat_map(|u| &u.jobs)).unwrap_or_default();
    let more = if left.len() > GONE_SHOWN { " and more" } else { "" };
    if !left.is_empty() {
        let shown = left[..left.len().min(GONE_SHOWN)].join(", ");
        say::note(&format!(
            "{} in the archive of pictures that are not in what was given: {shown}{more}; where a picture was moved or taken away, take its folder away too",
            left.len()
        ));
    }
}
