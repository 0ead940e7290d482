//! Words to calls: the only place that prints or reads flags. One file a verb.

mod catalogue;
mod find;
mod garment;
mod lens;
mod manual;
mod measured;
mod pattern;
mod review;
mod say;
mod sheet;
mod shell;
mod start;
mod trace;
mod truing;
mod typed;

use clap::error::ErrorKind;
use clap::{CommandFactory, Parser, Subcommand};
use std::process::ExitCode;

/// Takes the pattern off a finished garment from pictures.
#[derive(Parser)]
#[command(name = "ruboff", version, about, long_about = None, max_term_width = 80, after_help = HOW)]
struct Words {
    #[command(subcommand)]
    verb: Verb,
}

#[derive(Subcommand)]
enum Verb {
    /// Before any picture: how to lay and measure a kind of garment, and a blank record for it
    Start(start::Call),
    /// Pictures of garments on a ruled sheet → true-scale outlines, drawings and evidence pictures
    Trace(trace::Call),
    /// A ruled sheet to print that says by itself which it is, and how far apart its lines are; and what a tape says of the print
    Sheet(sheet::Call),
    /// Several pictures of one sheet → the camera's lens, kept as a profile that `trace` takes by itself
    Lens(lens::Call),
    /// A garment's notes and outlines → every join walked, what does not match, and a cutter's checks
    True(truing::Call),
    /// Pieces of a garment at true size → pages to be joined, a roll, SVG, DXF
    Pattern(pattern::Call),
    /// The checking page: outlines over their pictures, worst first, accepted or mended in a browser on this machine
    Review(review::Call),
    /// An archive → a report, pages to browse, and a record sheet a garment to print
    Catalogue(catalogue::Call),
    /// An archive's records by words, measures, makers, dates and numbers
    Find(find::Call),
    /// Completions for a shell: the Tab key finishes verbs, options and files
    Shell(shell::Call),
    /// The manual, a page a verb, in the form that man reads
    Manual(manual::Call),
}

const HOW: &str = "\
From a garment to its pattern:
  ruboff start bodice                  how to lay it, what to note
  ruboff sheet --paper a4 --out sheet  a ruled sheet to print and lay it on
  ruboff trace front.jpg --out traced  a picture from above to its outline
  ruboff pattern traced/front --paper a4 --out paper

`ruboff VERB --help` tells what a verb does, with examples; `ruboff manual VERB` is the same for man.";

/// The call itself was wrong.
pub(crate) const WRONG_CALL: u8 = 2;
/// Some pictures failed, the rest are written.
pub(crate) const SOME_FAILED: u8 = 1;

/// Prints what a verb has to say, or what is wrong with its call.
fn printed(text: anyhow::Result<String>) -> ExitCode {
    match text {
        Ok(text) => {
            say::result(&text.trim_end());
            ExitCode::SUCCESS
        }
        Err(e) => {
            say::fault(&e);
            ExitCode::from(WRONG_CALL)
        }
    }
}

/// Runs the command line of this process.
pub fn run() -> ExitCode {
    match Words::try_parse() {
        Ok(Words { verb: Verb::Start(call) }) => start::run(&call),
        Ok(Words { verb: Verb::Trace(call) }) => trace::run(&call),
        Ok(Words { verb: Verb::Sheet(call) }) => sheet::run(&call),
        Ok(Words { verb: Verb::Lens(call) }) => lens::run(&call),
        Ok(Words { verb: Verb::True(call) }) => truing::run(&call),
        Ok(Words { verb: Verb::Pattern(call) }) => pattern::run(&call),
        Ok(Words { verb: Verb::Review(call) }) => review::run(&call),
        Ok(Words { verb: Verb::Catalogue(call) }) => catalogue::run(&call),
        Ok(Words { verb: Verb::Find(call) }) => find::run(&call),
        Ok(Words { verb: Verb::Shell(call) }) => shell::run(&call),
        Ok(Words { verb: Verb::Manual(call) }) => manual::run(&call),
        Err(e) if e.use_stderr() && e.kind() != ErrorKind::DisplayHelpOnMissingArgumentOrSubcommand => {
            // The first paragraph says what is wrong; the rest only repeats the usage.
            let text = e.to_string();
            let first = text.split("\n\n").next().unwrap_or_default().trim_start_matches("error: ");
            let said = std::env::args().nth(1).unwrap_or_default();
            let verbs = Words::command();
            let verb = verbs.get_subcommands().map(clap::Command::get_name).find(|v| *v == said).unwrap_or("trace");
            say::fault(&anyhow::anyhow!("{first}; see ruboff {verb} --help"));
            ExitCode::from(WRONG_CALL)
        }
        Err(help) => {
            // Help or version: nobody is left to tell when the other end of the pipe has gone.
            let _ = help.print();
            if help.use_stderr() { ExitCode::from(WRONG_CALL) } else { ExitCode::SUCCESS }
        }
    }
}
