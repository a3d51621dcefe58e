//! The compost maturity forecast service and its command line.

mod backup;
mod bring;
mod check_config;
mod config;
mod cors;
mod demo;
mod estimate;
mod export;
mod feeds;
mod import;
mod input;
mod keys;
mod larkfield;
mod listen;
mod metrics;
mod output;
mod pace;
mod plan;
mod port;
mod question;
mod recipe;
mod requirement;
mod restore;
mod serve;
mod store;
mod trace;

use std::process::ExitCode;

use jiff::Timestamp;
use jiff::civil::Date;
use jiff::tz::TimeZone;

/// Most of what is asked is answered by many small pieces of memory, taken and given back.
#[global_allocator]
static ALLOCATOR: mimalloc::MiMalloc = mimalloc::MiMalloc;

/// Forecasts when compost will be ready, how much there will be and what to do about it.
#[derive(Debug, clap::Parser)]
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
    CheckConfig(check_config::Args),
    Estimate(estimate::Args),
    Recipe(recipe::Args),
    Requirement(requirement::Args),
    Plan(plan::Args),
    Demo(demo::Args),
    Keys(keys::Args),
    Feeds(feeds::Args),
    Export(export::Args),
    Import(import::Args),
    Bring(bring::Args),
    Backup(backup::Args),
    Restore(restore::Args),
}

#[tokio::main]
async fn main() -> ExitCode {
    let config::Given { line, settings, mqtt } = match config::read() {
        Ok(given) => given,
        Err(error) => return store::ended(Err(error)),
    };
    match line.command {
        Command::Serve(args) => serve::run(args, mqtt).await,
        Command::CheckConfig(args) => check_config::run(&args, &settings, mqtt.as_ref()),
        Command::Estimate(args) => estimate::run(args, today()).await,
        Command::Recipe(args) => recipe::run(args, today()).await,
        Command::Requirement(args) => requirement::run(args, today()).await,
        Command::Plan(args) => plan::run(args, today()).await,
        Command::Demo(args) => demo::run(args, mqtt, today()).await,
        Command::Keys(args) => keys::run(args, Timestamp::now()).await,
        Command::Feeds(args) => feeds::run(args, Timestamp::now()).await,
        Command::Export(args) => export::run(args).await,
        Command::Import(args) => import::run(args).await,
        Command::Bring(args) => bring::run(args, today, Timestamp::now).await,
        Command::Backup(args) => backup::run(args).await,
        Command::Restore(args) => restore::run(args).await,
    }
}

/// Today's date.
fn today() -> Date {
    day_of(Timestamp::now())
}

/// The date of a time in UTC, in which the model counts its days.
fn day_of(time: Timestamp) -> Date {
    TimeZone::UTC.to_datetime(time).date()
}
