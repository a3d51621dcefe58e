//! `baycast check-config`: what is in force, and who said so.

use std::io::{self, Write};
use std::process::ExitCode;

use crate::config::{Mqtt, Setting};
use crate::serve;
use crate::store::ended;

/// Explain each setting that `serve` would have with the same flags, environment and file, and where it comes from.
#[derive(Clone, Debug, clap::Args)]
#[group(skip)]
pub struct Args {
    /// How to serve.
    #[command(flatten)]
    pub serve: serve::Args,
}

/// Runs the command. Settings that can't be served with are told after all of them are listed.
pub fn run(args: &Args, settings: &[Setting], mqtt: Option<&Mqtt>) -> ExitCode {
    let mut out = io::stdout();
    for setting in settings {
        // Who stops reading, as `head` does, has seen enough.
        if writeln!(out, "{setting}").is_err() {
            return ExitCode::SUCCESS;
        }
    }
    ended(serve::settled(&args.serve, mqtt).map(drop))
}
