//! `fairphase`: see the library's documentation.

use std::process::ExitCode;

use clap::Parser;
use fairphase::cli::{Cli, main as carry_out};

fn main() -> ExitCode {
    carry_out(&Cli::parse())
}
