//! Words to calls: the only place that prints or reads flags.

/// Runs the command line of this process.
pub fn run() -> std::process::ExitCode {
    std::process::ExitCode::SUCCESS
}
