//! `ruboff shell`: the completions of all verbs and options for a shell, from the definitions that read the call.

use super::{Words, printed};
use clap::{Args, CommandFactory};
use clap_complete::Shell;
use std::process::ExitCode;

/// What stands after `shell`.
#[derive(Args)]
#[command(after_help = HOW)]
pub(super) struct Call {
    /// The shell
    #[arg(value_enum, value_name = "SHELL")]
    shell: Shell,
}

const HOW: &str = "\
Examples:
  ruboff shell bash > ~/.local/share/bash-completion/completions/ruboff
  ruboff shell fish > ~/.config/fish/completions/ruboff.fish
  ruboff shell zsh > ~/.zfunc/_ruboff

Prints completions on standard output: with them the Tab key finishes verbs, options and files. Make the folder first where it is not \
there. For zsh, ~/.zshrc must name it: fpath+=~/.zfunc; autoload -Uz compinit; compinit. Print them anew after every new version.";

/// Runs the verb.
pub(super) fn run(call: &Call) -> ExitCode {
    printed(Ok(text(call.shell)))
}

/// The completions for a shell.
fn text(shell: Shell) -> String {
    let mut out = Vec::new();
    clap_complete::generate(shell, &mut Words::command(), "ruboff", &mut out);
    String::from_utf8_lossy(&out).into_owned()
}
