//! A create that is sent again, as by a caller whose first answer was lost, is answered like the first one.

use baycast_records::{Clash, Error as Declined};

use crate::error::Error;
use crate::records::refusal;

/// What was created, or what is there under its id where that is the `same` as what is asked for.
pub async fn created<T>(
    outcome: Result<T, Declined>,
    there: impl Future<Output = Result<T, Declined>>,
    same: impl Fn(&T) -> bool,
) -> Result<T, Error> {
    let Err(taken @ Declined::Conflict { what: Clash::Exists { .. } }) = outcome else {
        return outcome.map_err(refusal::of);
    };
    let found = there.await.map_err(refusal::of)?;
    if same(&found) { Ok(found) } else { Err(refusal::of(taken)) }
}
