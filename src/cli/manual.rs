//! `ruboff manual`: the manual, a page a verb, from the definitions that read the call.

use super::{Words, printed};
use crate::write::write_whole;
use anyhow::{Context, anyhow};
use clap::{Args, Command, CommandFactory};
use clap_mangen::Man;
use std::path::{Path, PathBuf};
use std::process::ExitCode;

/// What stands after `manual`.
#[derive(Args)]
#[command(after_help = HOW)]
pub(super) struct Call {
    /// The verb whose page is printed; without one the page of ruboff itself
    #[arg(value_name = "VERB", conflicts_with = "out")]
    verb: Option<String>,
    /// Folder to write all pages into, as ruboff.1, ruboff-trace.1 and so on; those of another version are written over
    #[arg(long, value_name = "DIR")]
    out: Option<PathBuf>,
}

const HOW: &str = "\
Examples:
  ruboff manual trace | man -l -
  ruboff manual --out ~/.local/share/man/man1
  man ruboff-trace

Prints the manual in the form that man reads (roff), or writes a page for every verb. It says what --help says. Exit code 0: printed or \
written; 2: the call itself is wrong.";

/// Runs the verb.
pub(super) fn run(call: &Call) -> ExitCode {
    printed(done(call))
}

/// What to print.
fn done(call: &Call) -> anyhow::Result<String> {
    let pages = pages();
    if let Some(folder) = &call.out {
        return write(folder, &pages);
    }
    let name = call.verb.as_ref().map_or("ruboff".to_owned(), |verb| format!("ruboff-{verb}"));
    let page = pages.iter().find(|p| p.get_name() == name).ok_or_else(|| {
        let verbs = pages.iter().filter_map(|p| p.get_name().strip_prefix("ruboff-")).collect::<Vec<_>>().join(", ");
        anyhow!("there is no verb {}; name one of {verbs}", call.verb.as_deref().unwrap_or_default())
    })?;
    roff(page)
}

/// ruboff itself and each of its verbs, named as their pages are.
fn pages() -> Vec<Command> {
    let mut whole = Words::command().disable_help_subcommand(true);
    whole.build();
    let own = |verb: &Command| {
        let name = format!("ruboff-{}", verb.get_name());
        verb.clone().name(&name).display_name(name).bin_name(format!("ruboff {}", verb.get_name())).version(env!("CARGO_PKG_VERSION"))
    };
    let verbs: Vec<Command> = whole.get_subcommands().map(own).collect();
    std::iter::once(whole).chain(verbs).collect()
}

fn roff(page: &Command) -> anyhow::Result<String> {
    let mut out = Vec::new();
    Man::new(page.clone()).render(&mut out).context("the page could not be put together")?;
    Ok(String::from_utf8_lossy(&out).into_owned())
}

fn write(folder: &Path, pages: &[Command]) -> anyhow::Result<String> {
    std::fs::create_dir_all(folder).with_context(|| format!("cannot make the folder {}; choose another with --out", folder.display()))?;
    for page in pages {
        write_whole(&folder.join(format!("{}.1", page.get_name())), roff(page)?.as_bytes())?;
    }
    Ok(format!("{}: {} pages of the manual", folder.display(), pages.len()))
}
