//! `ruboff catalogue`: an archive as a report and as pages.

use super::{SOME_FAILED, WRONG_CALL, say};
use crate::wardrobe::catalogue::{Made, Wanted, write};
use crate::wardrobe::{Archive, report};
use clap::Args;
use serde_json::json;
use std::path::PathBuf;
use std::process::ExitCode;

/// What stands after `catalogue`.
#[derive(Args)]
#[command(after_help = EXAMPLES)]
pub(super) struct Call {
    /// The archive: the folder that `trace --out` wrote
    #[arg(value_name = "DIR")]
    archive: PathBuf,
    /// Folder for the pages; `catalogue` in the archive unless given, with --published `published`
    #[arg(long, value_name = "DIR")]
    out: Option<PathBuf>,
    /// For others: with copies of records, drawings and evidence pictures; without originals, without places where things are kept, without what cameras wrote into pictures
    #[arg(long)]
    published: bool,
    /// One line of JSON on standard output
    #[arg(long)]
    json: bool,
}

const EXAMPLES: &str = "\
Examples:
  ruboff catalogue out           pages in out/catalogue, the report in out
  ruboff catalogue out --published --out for-the-web     to be given away

Look at what you publish: names, provenance and remarks stand in it as they were written, and rights are yours to clear. \
Exit codes: 0 all written; 1 some records or pictures could not be read; 2 the call itself is wrong or nothing could be written.";

/// Runs the verb.
pub(super) fn run(call: &Call) -> ExitCode {
    match catalogue(call) {
        Ok(true) => ExitCode::SUCCESS,
        Ok(false) => ExitCode::from(SOME_FAILED),
        Err(e) => {
            say::fault(&e);
            ExitCode::from(WRONG_CALL)
        }
    }
}

/// Writes report and pages; whether all could be read.
fn catalogue(call: &Call) -> anyhow::Result<bool> {
    let archive = Archive::read(&call.archive)?;
    if archive.garments.is_empty() && archive.loose.is_empty() {
        anyhow::bail!("{} holds no records; name the folder that `ruboff trace --out` wrote", call.archive.display());
    }
    // Pages can be made of an archive that can't be written to; the report lies in it.
    let reported = report::write(&call.archive, &archive);
    if let Err(e) = &reported {
        say::note(&format!("no report: {e}"));
    }
    let made = write(&call.archive, &archive, &Wanted { out: call.out.clone(), published: call.published })?;
    Ok(tell(call, &archive, &made) && reported.is_ok())
}

/// Says what was made and what could not be read; whether that is nothing.
fn tell(call: &Call, archive: &Archive, made: &Made) -> bool {
    use crate::wardrobe::archive::Outcome;
    let garments = archive.garments.iter().filter_map(|g| g.unread.as_ref().map(|s| format!("{}/garment.json {s}", g.path)));
    let pictures = archive.pictures().filter_map(|(_, p)| match &p.result {
        Outcome::Unread(s) => Some(format!("{}: the record {s}", p.path)),
        _ => None,
    });
    let skipped = archive.skipped.iter().map(|s| format!("{} {}", s.path, s.say));
    let unread: Vec<String> = garments.chain(pictures).chain(skipped).chain(made.left_out.iter().cloned()).collect();
    unread.iter().for_each(|say| say::note(say));
    for (id, paths) in archive.twice() {
        say::note(&format!(
            "the number {id} belongs to {} garments: {}; give each its own in its garment.toml",
            paths.len(),
            paths.join(", ")
        ));
    }
    if call.json {
        let twice: Vec<String> = archive.twice().into_iter().map(|(id, _)| id).collect();
        say::result(
            &json!({"front": made.front.display().to_string(), "garments": made.garments, "changed": made.changed, "unread": unread, "numbers_twice": twice}),
        );
    } else {
        let changed = if made.changed == 1 { "1 file changed".to_owned() } else { format!("{} files changed", made.changed) };
        let garments = if made.garments == 1 { "1 garment".to_owned() } else { format!("{} garments", made.garments) };
        say::result(&format!("{garments}, {changed}: {}", made.front.display()));
    }
    unread.is_empty()
}
