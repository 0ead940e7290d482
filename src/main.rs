//! The `ruboff` command: a thin shell around [`ruboff::cli`].

fn main() -> std::process::ExitCode {
    ruboff::cli::run()
}
