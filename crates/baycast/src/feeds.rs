//! `baycast feeds`: private addresses under which a farm's readiness is read.

use std::io::{self, Write};
use std::process::ExitCode;

use baycast_records::{Feed, all};
use baycast_service::Caller;
use jiff::Timestamp;

use crate::store;

/// Create, list and revoke feed addresses: each opens one farm's readiness to whoever holds it, without a key.
#[derive(Clone, Debug, clap::Args)]
pub struct Args {
    /// What to do with feed addresses.
    #[command(subcommand)]
    command: Command,
}

/// What to do with feed addresses.
#[derive(Clone, Debug, clap::Subcommand)]
enum Command {
    /// Create a feed address and print its path, this once.
    Create(Create),
    /// List a farm's feed addresses, without their tokens.
    List(List),
    /// Revoke a feed address for good.
    Revoke(Revoke),
}

/// The feed address to create.
#[derive(Clone, Debug, clap::Args)]
struct Create {
    /// The farm that it opens.
    farm: String,
    /// What people call it: who it is for, so that it is known which to revoke.
    name: String,
    #[command(flatten)]
    store: store::Place,
}

/// Whose to list.
#[derive(Clone, Debug, clap::Args)]
struct List {
    /// The farm.
    farm: String,
    #[command(flatten)]
    store: store::Place,
}

/// The feed address to revoke.
#[derive(Clone, Debug, clap::Args)]
struct Revoke {
    /// The farm.
    farm: String,
    /// The feed address's id, as `baycast feeds list` shows it.
    feed: String,
    #[command(flatten)]
    store: store::Place,
}

/// Runs the command at the time `now`.
pub async fn run(args: Args, now: Timestamp) -> ExitCode {
    store::ended(match args.command {
        Command::Create(create) => self::create(create, now).await,
        Command::List(list) => self::list(list).await,
        Command::Revoke(revoke) => self::revoke(revoke, now).await,
    })
}

/// Creates a feed address: its path alone on standard output, the rest on standard error.
async fn create(args: Create, now: Timestamp) -> Result<(), String> {
    let Create { farm, name, store } = args;
    let records = store.open().await?;
    let by = Caller::of_the_store();
    let issued = records.create_feed(&farm, &name, by.id(), now).await.map_err(text)?;
    records.close().await.map_err(text)?;
    eprintln!("{} was created; this is the only time that its path is shown", issued.feed.id);
    writeln!(io::stdout(), "/feeds/{}", issued.token).map_err(text)
}

/// Lists a farm's feed addresses, one a line after a line of headings, with tabs between.
async fn list(args: List) -> Result<(), String> {
    let List { farm, store } = args;
    let records = store.open().await?;
    let mut out = io::BufWriter::new(io::stdout());
    writeln!(out, "id\tname\tcreated_at\tcreated_by\tlast_used_at\trevoked_at").map_err(text)?;
    for feed in all(async |page| records.feeds(&farm, &page).await).await.map_err(text)? {
        writeln!(out, "{}", line(&feed)).map_err(text)?;
    }
    out.flush().map_err(text)?;
    records.close().await.map_err(text)
}

/// Revokes a feed address.
async fn revoke(args: Revoke, now: Timestamp) -> Result<(), String> {
    let Revoke { farm, feed, store } = args;
    let records = store.open().await?;
    let revoked = records.revoke_feed(&farm, &feed, now).await.map_err(text)?;
    records.close().await.map_err(text)?;
    eprintln!("{} is revoked", revoked.id);
    Ok(())
}

/// A feed address's line.
fn line(feed: &Feed) -> String {
    let Feed { farm: _, id, name, created_at, created_by, revoked_at, last_used_at } = feed;
    let time = |time: &Option<Timestamp>| time.map_or_else(|| "-".to_owned(), |time| time.to_string());
    let (last_used_at, revoked_at) = (time(last_used_at), time(revoked_at));
    format!("{id}\t{name}\t{created_at}\t{created_by}\t{last_used_at}\t{revoked_at}")
}

/// An error's text.
fn text(error: impl std::fmt::Display) -> String {
    error.to_string()
}
