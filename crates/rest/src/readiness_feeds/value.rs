//! Single values as plain text, for a cell of a spreadsheet.

use baycast_model::problem::Problems;
use baycast_model::window::Use;
use baycast_service::Error;
use baycast_service::readiness::Readiness;

use super::columns::{Source, column};

/// The words of a use.
pub const USES: &str = "one of mulch, bed_dressing, potting";

/// Media type of a value.
pub const PLAIN: &str = "text/plain; charset=utf-8";

/// One value of one batch, as the sheet has it but without marks against formulas; empty where there is none.
pub fn value(farm: &Readiness, batch: &str, name: &str, for_use: Option<Use>) -> Result<String, Error> {
    let missing = |what, name: &str| Error::NotFound { what, name: name.to_owned() };
    let source = column(name).ok_or_else(|| missing("value", name))?;
    let own = farm.batches.iter().find(|own| own.batch == batch).ok_or_else(|| missing("batch", batch))?;
    let cell = match source {
        Source::Batch(of) => of(farm, own),
        Source::Window(of) => {
            let for_use = for_use.ok_or_else(|| {
                let mut problems = Problems::default();
                problems.add("/use", "nothing", format!("{USES}: `{name}` is a window's"));
                Error::Invalid(problems)
            })?;
            let window = own.windows.iter().find(|window| window.for_use == for_use);
            of(window.ok_or_else(|| missing("window", name))?)
        }
    };
    Ok(cell.to_string())
}
