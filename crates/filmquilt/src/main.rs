//! The `filmquilt` command: parses arguments, calls the engine, turns errors into exit codes.

mod args;
mod bar;
mod calibrate;
mod check;
mod commands;
mod diagnose;
mod failure;
mod options;
mod strip;
mod toning;

use clap::Parser;
use std::process::ExitCode;

fn main() -> ExitCode {
    let args = args::Args::parse();
    match commands::run(args) {
        Ok(code) => {
            bar::tell();
            code
        }
        Err(failure) => failure.report(),
    }
}
