//! `baycast requirement`: what compost that is needed asks for.

use std::process::ExitCode;

use jiff::civil::Date;

use crate::output::requirement::table;
use crate::question::{self, Document};

/// Find what to mix, and from when on, for compost that is needed by a day.
///
/// The document is the body of `POST /v1/requirements`: `site` and `bay` as in a history, what is `wanted` (`use`, `volume_m3`,
/// `by`) and what is `on_hand`, as `baycast recipe` takes it. Ends with 0 where there is an answer, 1 where the document cannot
/// be used (what is wrong with it is named on standard error) and 2 for wrong usage.
#[derive(Clone, Debug, clap::Args)]
pub struct Args {
    #[command(flatten)]
    pub document: Document,
}

/// Runs the command with `today` as the earliest start where none is named.
pub async fn run(args: Args, today: Date) -> ExitCode {
    let ask = async |service: baycast_service::Service, need| service.requirement(need).await;
    question::run(&args.document, today, ask, table).await
}
