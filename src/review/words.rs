//! What is said elsewhere, as the page says it.

/// A sentence of the command line for the page: its options are settings here.
pub(super) fn on_page(words: &str) -> String {
    words.replace(" --", " ")
}

/// Why an entry can only be looked at: `what` is not there.
pub(super) fn gone(what: &str) -> String {
    format!("{what} is not where it was when it was traced; start ruboff review with its folder after `--pictures`")
}
