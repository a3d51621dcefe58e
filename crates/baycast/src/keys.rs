//! `baycast keys`: who may call the service.

use std::io::{self, Write};
use std::process::ExitCode;

use baycast_records::{ApiKey, Reach, Scope, all};
use jiff::Timestamp;

use crate::store;

/// Create, list and revoke API keys. From the first key on, the service answers nobody without one.
#[derive(Clone, Debug, clap::Args)]
pub struct Args {
    /// What to do with keys.
    #[command(subcommand)]
    command: Command,
}

/// What to do with keys.
#[derive(Clone, Debug, clap::Subcommand)]
enum Command {
    /// Create a key and print its text, this once.
    Create(Create),
    /// List all keys, without their texts.
    List(store::Place),
    /// Revoke a key for good.
    Revoke(Revoke),
}

/// The key to create.
#[derive(Clone, Debug, clap::Args)]
struct Create {
    /// What people call it.
    name: String,
    /// What it may do; each may do what those before it may.
    #[arg(long, value_enum, value_name = "SCOPE")]
    scope: Allowed,
    /// A farm that it is for; give it for each.
    #[arg(long, value_name = "FARM", required_unless_present = "all_farms")]
    farm: Vec<String>,
    /// For every farm, those to come included.
    #[arg(long, conflicts_with = "farm")]
    all_farms: bool,
    #[command(flatten)]
    store: store::Place,
}

/// The key to revoke.
#[derive(Clone, Debug, clap::Args)]
struct Revoke {
    /// The key's id, as `baycast keys list` shows it.
    key: String,
    #[command(flatten)]
    store: store::Place,
}

/// What a key may do.
#[derive(Clone, Copy, Debug, PartialEq, Eq, clap::ValueEnum)]
enum Allowed {
    /// Read.
    Read,
    /// Record events and change bays, feedstocks and batches.
    Write,
    /// Create farms and keys.
    Admin,
}

impl From<Allowed> for Scope {
    fn from(allowed: Allowed) -> Self {
        match allowed {
            Allowed::Read => Self::Read,
            Allowed::Write => Self::Write,
            Allowed::Admin => Self::Admin,
        }
    }
}

/// Runs the command at the time `now`.
pub async fn run(args: Args, now: Timestamp) -> ExitCode {
    store::ended(match args.command {
        Command::Create(create) => self::create(create, now).await,
        Command::List(store) => list(&store).await,
        Command::Revoke(revoke) => self::revoke(revoke, now).await,
    })
}

/// Creates a key: its text alone on standard output, the rest on standard error.
async fn create(args: Create, now: Timestamp) -> Result<(), String> {
    let Create { name, scope, farm, all_farms, store } = args;
    let reach = if all_farms { Reach::All } else { Reach::Farms(farm) };
    let records = store.open_or_create().await.map_err(text)?;
    let issued = records.create_key(&name, scope.into(), reach, now).await.map_err(text)?;
    records.close().await.map_err(text)?;
    eprintln!("{} was created; this is the only time that its text is shown", issued.key.id);
    writeln!(io::stdout(), "{}", issued.text).map_err(text)
}

/// Lists keys, one a line after a line of headings, with tabs between.
async fn list(store: &store::Place) -> Result<(), String> {
    let records = store.open().await?;
    let mut out = io::BufWriter::new(io::stdout());
    writeln!(out, "id\tname\tscope\tfarms\tcreated_at\tlast_used_at\trevoked_at").map_err(text)?;
    for key in all(async |page| records.keys(&page).await).await.map_err(text)? {
        writeln!(out, "{}", line(&key)).map_err(text)?;
    }
    out.flush().map_err(text)?;
    records.close().await.map_err(text)
}

/// Revokes a key.
async fn revoke(args: Revoke, now: Timestamp) -> Result<(), String> {
    let records = args.store.open().await?;
    let key = records.revoke_key(&args.key, now).await.map_err(text)?;
    records.close().await.map_err(text)?;
    eprintln!("{} is revoked", key.id);
    Ok(())
}

/// A key's line.
fn line(key: &ApiKey) -> String {
    let ApiKey { id, name, scope, reach, created_at, revoked_at, last_used_at } = key;
    let scope = scope.as_str();
    let farms = match reach {
        Reach::All => "all farms".to_owned(),
        Reach::Farms(farms) => farms.join(", "),
    };
    let time = |time: &Option<Timestamp>| time.map_or_else(|| "-".to_owned(), |time| time.to_string());
    let (last_used_at, revoked_at) = (time(last_used_at), time(revoked_at));
    format!("{id}\t{name}\t{scope}\t{farms}\t{created_at}\t{last_used_at}\t{revoked_at}")
}

/// An error's text.
fn text(error: impl std::fmt::Display) -> String {
    error.to_string()
}
