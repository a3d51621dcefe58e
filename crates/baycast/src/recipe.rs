//! `baycast recipe`: what to mix from what is on hand.

use std::process::ExitCode;

use jiff::civil::Date;

use crate::output::recipe::table;
use crate::question::{self, Document};

/// Suggest a mix of what is on hand.
///
/// The document is the body of `POST /v1/recipes`: `ingredients`, each a `feedstock` with the `least` and the `most` of it
/// to use in `mass_kg`, `volume_m3` or `barrows`; own `feedstocks`, `barrow_m3`, `max_water_litres`, `volume_m3` and `targets`
/// where they are not the usual ones. Ends with 0 where there is an answer, 1 where the document cannot be used (what is wrong
/// with it is named on standard error) and 2 for wrong usage.
#[derive(Clone, Debug, clap::Args)]
pub struct Args {
    #[command(flatten)]
    pub document: Document,
}

/// Runs the command.
pub async fn run(args: Args, today: Date) -> ExitCode {
    let ask = async |service: baycast_service::Service, on_hand| service.recipe(on_hand).await;
    question::run(&args.document, today, ask, table).await
}
