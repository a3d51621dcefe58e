//! `baycast export`: everything that a farm owns, as lines.

use std::process::ExitCode;

use tokio::io::{AsyncWriteExt, BufWriter, stdout};

use crate::store;

/// Write everything that a farm owns to standard output, as NDJSON that `baycast import` takes back.
#[derive(Clone, Debug, clap::Args)]
pub struct Args {
    /// The farm's id.
    pub farm: String,
    #[command(flatten)]
    pub store: store::Place,
}

/// Runs the command.
pub async fn run(args: Args) -> ExitCode {
    store::ended(export(&args).await)
}

async fn export(args: &Args) -> Result<(), String> {
    let records = args.store.open().await?;
    let mut out = BufWriter::new(stdout());
    records.export(&args.farm, &mut out).await.map_err(|error| error.to_string())?;
    out.flush().await.map_err(|error| format!("standard output: {error}"))?;
    records.close().await.map_err(|error| error.to_string())
}
