//! `ruboff review`: the checking page of an archive, on this machine only.

use super::{WRONG_CALL, say};
use crate::review::{Desk, Token, address, listen, serve};
use anyhow::{Context, bail};
use clap::Args;
use std::path::PathBuf;
use std::process::ExitCode;
use std::sync::Arc;

/// What stands after `review`.
#[derive(Args)]
#[command(after_help = EXAMPLES)]
pub(super) struct Call {
    /// The folder that `ruboff trace --out` wrote
    #[arg(value_name = "FOLDER")]
    folder: PathBuf,
    /// Where the pictures lie now, when they were moved since
    #[arg(long, value_name = "FOLDER")]
    pictures: Option<PathBuf>,
    /// Port to listen on; a free one unless given. The browser keeps your name by the port
    #[arg(long, value_name = "N", default_value = "0")]
    port: u16,
}

const EXAMPLES: &str = "\
Examples:
  ruboff review traced                        then open the address it prints
  ruboff review traced --pictures wardrobe    the pictures were moved

Worst first, each outline over its straightened picture: accept it, ask for a retake, or mend it. What you mend is written into the \
garment's notes (garment.toml, or PICTURE.toml beside a single picture) as if by hand, and the outline is made anew by the same code as \
in a run. The page is served to this machine only, under an address that nobody can guess; nothing is sent anywhere. Ctrl-C ends it.";

/// Folders of pictures that are named.
const SHOWN: usize = 3;

/// Runs the verb.
pub(super) fn run(call: &Call) -> ExitCode {
    match say::quietly(|| served(call)) {
        Ok(()) => ExitCode::SUCCESS,
        Err(e) => {
            say::fault(&e);
            ExitCode::from(WRONG_CALL)
        }
    }
}

/// Serves the page until the process ends.
fn served(call: &Call) -> anyhow::Result<()> {
    if let Some(pictures) = call.pictures.as_ref().filter(|p| !p.exists()) {
        bail!("there is no folder {}; name the one with the pictures after --pictures", pictures.display());
    }
    let desk = Desk::open(&call.folder, call.pictures.as_deref())?;
    if desk.queue("")?["entries"].as_array().is_none_or(Vec::is_empty) {
        bail!("nothing was traced in {}; name the folder that `ruboff trace --out` wrote", call.folder.display());
    }
    if desk.mendable() == 0 {
        say::note(
            "the pictures of this archive are not where they were when it was traced: it can be looked at, not mended; name their folder with --pictures",
        );
    }
    // An archive may come from anybody: whose pictures it opens, and beside which notes are written, is told.
    let sources = desk.sources();
    let more = if sources.len() > SHOWN { format!(" and {} more", sources.len() - SHOWN) } else { String::new() };
    if !sources.is_empty() {
        let named: Vec<String> = sources.iter().take(SHOWN).map(|s| s.display().to_string()).collect();
        say::note(&format!("pictures and notes in {}{more}", named.join(", ")));
    }
    let listener = listen(call.port).with_context(|| format!("cannot listen on port {}; choose another with --port", call.port))?;
    let token = Token::new().context("the system has no random numbers for the page's address")?;
    let desk = Arc::new(desk);
    say::result(&address(&listener, &token)?);
    say::note("open this address in a browser on this machine; Ctrl-C ends it");
    serve(desk.clone(), listener, token).context("the page can't be served")?;
    match desk.settle() {
        Some(lost) => bail!("not all files could be written: {lost}"),
        None => Ok(()),
    }
}
