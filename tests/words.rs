//! What the command says of itself: help, completions, manual, and the colours of it.

use assert_cmd::Command;
use std::collections::BTreeSet;

fn ruboff(words: &[&str]) -> Command {
    let mut call = Command::new(env!("CARGO_BIN_EXE_ruboff"));
    call.args(words).env_remove("NO_COLOR").env_remove("CLICOLOR_FORCE").env_remove("CLICOLOR").env_remove("COLUMNS");
    call
}

fn said(words: &[&str]) -> String {
    let done = ruboff(words).assert().success();
    String::from_utf8(done.get_output().stdout.clone()).expect("text")
}

/// The verbs that the help names.
fn verbs() -> Vec<String> {
    let help = said(&["--help"]);
    let list = help.split("Commands:\n").nth(1).expect("a list of verbs");
    let names = list.lines().take_while(|l| !l.is_empty()).filter(|l| l.starts_with("  ") && !l.starts_with("   "));
    names.filter_map(|l| l.split_whitespace().next()).filter(|v| *v != "help").map(str::to_owned).collect()
}

/// The long options of a verb, by its help.
fn options(verb: &str) -> BTreeSet<String> {
    let help = said(&[verb, "--help"]);
    let start = |l: &str| l.trim_start().split(['[', ' ', ',', '=']).find_map(|w| w.strip_prefix("--")).map(str::to_owned);
    help.lines().filter(|l| l.trim_start().starts_with('-')).filter_map(start).chain(["help".to_owned()]).collect()
}

#[test]
fn every_option_of_every_verb_is_in_the_completions_and_the_manual() {
    let verbs = verbs();
    assert!(verbs.len() >= 8 && verbs.contains(&"trace".to_owned()), "{verbs:?}");
    let shells = ["bash", "zsh", "fish", "elvish", "powershell"].map(|s| (s, said(&["shell", s])));
    for verb in &verbs {
        let options = options(verb);
        assert!(verb == "shell" || options.len() >= 2, "{verb}: {options:?}");
        // A hyphen of the text is escaped in roff (groff_man(7), "Portability").
        let page = said(&["manual", verb]).replace("\\-", "-");
        for option in &options {
            assert!(page.contains(&format!("--{option}")), "--{option} of {verb} is not in the manual");
            for (shell, text) in &shells {
                let word = if *shell == "fish" { format!("-l {option}") } else { format!("--{option}") };
                assert!(text.contains(&word) && text.contains(verb.as_str()), "--{option} of {verb} is not in the completions for {shell}");
            }
        }
    }
    let page = said(&["manual"]).replace("\\-", "-");
    assert!(page.starts_with(".ie") && page.contains(".TH ruboff 1"), "{page:.200}");
    assert!(verbs.iter().all(|v| page.contains(&format!("ruboff-{v}"))), "{page}");
}

#[test]
fn the_manual_is_written_a_page_a_verb() {
    let dir = tempfile::tempdir().expect("a folder");
    let folder = dir.path().join("man1");
    let told = said(&["manual", "--out", folder.to_str().expect("a name")]);
    let mut names: Vec<String> =
        std::fs::read_dir(&folder).expect("pages").map(|e| e.expect("a page").file_name().to_string_lossy().into_owned()).collect();
    names.sort();
    let mut wanted: Vec<String> = verbs().iter().map(|v| format!("ruboff-{v}.1")).chain(["ruboff.1".to_owned()]).collect();
    wanted.sort();
    assert_eq!(names, wanted);
    assert!(told.contains(&format!("{} pages", names.len())), "{told}");
    let done = ruboff(&["manual", "sew"]).assert().code(2);
    let error = String::from_utf8_lossy(&done.get_output().stderr).into_owned();
    assert!(error.lines().count() == 1 && error.contains("pattern"), "{error}");
}

/// Help fits 80 columns, shows examples, and every example of it is a call that is understood.
#[test]
fn help_fits_the_screen_and_has_examples() {
    for verb in verbs() {
        let help = said(&[&verb, "--help"]);
        for line in help.lines() {
            assert!(line.chars().count() <= 80, "{verb}: {line}");
        }
        let examples: Vec<&str> = help.lines().filter(|l| l.starts_with("  ruboff ")).collect();
        assert!(!examples.is_empty(), "{verb} shows no example");
        for example in examples {
            // What follows two spaces explains; what follows a bar or an arrow is the shell's.
            let call = example.trim().split("  ").next().unwrap_or_default().split(['|', '>']).next().unwrap_or_default();
            let words: Vec<&str> = call.split_whitespace().skip(1).collect();
            assert_eq!(words.first(), Some(&verb.as_str()), "{example}");
            let known = options(&verb);
            for option in words.iter().filter_map(|w| w.strip_prefix("--")) {
                assert!(known.contains(option), "{example}: {verb} has no --{option}");
            }
        }
    }
}

/// Colours are for terminals; NO_COLOR (no-color.org) puts them out, whatever else is set.
#[test]
fn colours_are_for_terminals_only() {
    let help = |set: &[(&str, &str)]| {
        let done = ruboff(&["trace", "--help"]).envs(set.iter().copied()).assert().success();
        String::from_utf8_lossy(&done.get_output().stdout).contains('\u{1b}')
    };
    assert!(!help(&[]), "into a pipe");
    assert!(help(&[("CLICOLOR_FORCE", "1")]));
    assert!(!help(&[("NO_COLOR", "1")]));
    assert!(!help(&[("NO_COLOR", "1"), ("CLICOLOR_FORCE", "1")]));
}
