//! Hands the arguments to the command line and returns its exit code.

use std::process::ExitCode;

fn main() -> ExitCode {
    pintle::cli::main()
}
