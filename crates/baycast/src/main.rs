//! The compost maturity forecast service and its command line.

mod cors;
mod demo;
mod estimate;
mod input;
mod output;
mod port;
mod serve;
mod trace;

use std::process::ExitCode;

use clap::Parser;
use jiff::Timestamp;
use jiff::civil::Date;
use jiff::tz::TimeZone;

/// Forecasts when compost will be ready, how much there will be and what to do about it.
#[derive(Debug, Parser)]
#[command(name = "baycast", version, arg_required_else_help = true)]
struct CommandLine {
    /// What to do.
    #[command(subcommand)]
    command: Command,
}

/// What to do.
#[derive(Debug, clap::Subcommand)]
enum Command {
    Serve(serve::Args),
    Estimate(estimate::Args),
    Demo(demo::Args),
}

#[tokio::main]
async fn main() -> ExitCode {
    match CommandLine::parse().command {
        Command::Serve(args) => serve::run(args).await,
        Command::Estimate(args) => estimate::run(args, today()).await,
        Command::Demo(args) => demo::run(args, today()).await,
    }
}

/// Today's date in UTC, in which the model counts its days.
fn today() -> Date {
    TimeZone::UTC.to_datetime(Timestamp::now()).date()
}
