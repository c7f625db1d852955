//! `fairphase`: see the library's documentation.

use std::process::ExitCode;

fn main() -> ExitCode {
    fairphase::cli::main()
}
