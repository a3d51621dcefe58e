//! `baycast plan`: what to do when with the bays of a season.

use std::process::ExitCode;

use jiff::civil::Date;

use crate::output::plan::table;
use crate::question::{self, Document};

/// Plan the bays of a season: what to fill, turn, cover and empty when.
///
/// The document is the body of `POST /v1/plans`: `site` and `bays` as in a history, the `batches` that stand in them with their
/// histories, the `inflows` of a week and the `demands` of the beds. Ends with 0 where there is an answer, 1 where the document
/// cannot be used (what is wrong with it is named on standard error) and 2 for wrong usage.
#[derive(Clone, Debug, clap::Args)]
pub struct Args {
    #[command(flatten)]
    pub document: Document,
}

/// Runs the command with `today` as the first day where none is named.
pub async fn run(args: Args, today: Date) -> ExitCode {
    let ask = async |service: baycast_service::Service, season| service.plan_season(season).await;
    question::run(&args.document, today, ask, table).await
}
