//! What a farm's sheets may name: its batches, bays and materials, and which batch stood in which bay.

use baycast_model::problem::Problem;
use baycast_records::{Records, Stand, all};
use jiff::civil::Date;
use jiff::tz::TimeZone;

use crate::error::Error;
use crate::records::bring_in::BringIn;
use crate::records::refusal;
use crate::sheet::{Grammar, Name, Names, shown};

/// What rows name their batch by.
const BATCH: &str = "a batch's id or name";

/// How a farm's sheets are read, and what they may name.
#[derive(Clone, Debug)]
pub struct Known {
    grammar: Grammar,
    batches: Names,
    bays: Names,
    stands: Vec<Stand>,
}

impl Known {
    /// Reads what there is on a farm; where its batches stood only where a sheet names bays.
    pub async fn load(
        records: &Records,
        farm: &baycast_records::Farm,
        how: BringIn,
        names_bays: bool,
    ) -> Result<Self, Error> {
        let id = farm.id.as_str();
        let own =
            all(|page| async move { records.feedstocks(id, &page).await }).await.map_err(refusal::of)?;
        let own = own.into_iter().map(|own| own.feedstock).chain(baycast_model::default_feedstocks());
        let feedstocks = Names::new("a feedstock's id or name", own.map(|own| (own.id, own.name)));
        let bays = all(|page| async move { records.bays(id, &page).await }).await.map_err(refusal::of)?;
        let bays = Names::new("a bay's id", bays.into_iter().map(|own| (own.bay.id, String::new())));
        let batches =
            all(|page| async move { records.batches(id, true, &page).await }).await.map_err(refusal::of)?;
        // One that is put away is known by its id alone: its name may be in use again.
        let shown = |own: baycast_records::Batch| {
            let name = if own.archived.is_some() { String::new() } else { own.name };
            (own.id, name)
        };
        let batches = Names::new(BATCH, batches.into_iter().map(shown));
        let stands = if names_bays { records.stands(id).await.map_err(refusal::of)? } else { Vec::new() };
        let grammar = Grammar {
            dates: how.dates,
            units: how.units,
            zone: TimeZone::get(&farm.time_zone).ok(),
            barrow_m3: farm.barrow_m3,
            feedstocks,
            bays: Some(bays.clone()),
            batches: Some(batches.clone()),
        };
        Ok(Self { grammar, batches, bays, stands })
    }

    /// How cells are read.
    pub fn grammar(&self) -> &Grammar {
        &self.grammar
    }

    /// The batch that a row names or that stood in the bay that it names on its day, where that is known.
    pub fn batch(
        &self,
        batch: Option<&Name>,
        bay: Option<&Name>,
        day: Option<Date>,
    ) -> Result<Option<&str>, Problem> {
        let wrong = |name: &Name, accepted| Problem {
            pointer: name.column.clone(),
            value: shown(&name.text),
            accepted,
        };
        match (batch, bay, day) {
            (Some(batch), _, _) => {
                self.batches.find(&batch.text).map(Some).map_err(|accepted| wrong(batch, accepted))
            }
            (None, Some(bay), day) => {
                let id = self.bays.find(&bay.text).map_err(|accepted| wrong(bay, accepted))?;
                let Some(day) = day else { return Ok(None) };
                self.stood(id, day).map(Some).map_err(|accepted| wrong(bay, accepted))
            }
            (None, None, _) => Err(Problem {
                pointer: "batch".to_owned(),
                value: "nothing".to_owned(),
                accepted: format!("{BATCH}, or the bay that it stood in"),
            }),
        }
    }

    /// The one batch that stood in a bay on a day, or what would be taken instead.
    fn stood(&self, bay: &str, day: Date) -> Result<&str, String> {
        let stood = self.stands.iter().filter(|stand| stand.bay == bay && stand.on(day));
        let mut batches: Vec<&str> = stood.map(|stand| stand.batch.as_str()).collect();
        batches.sort_unstable();
        batches.dedup();
        match batches.as_slice() {
            [only] => Ok(only),
            [] => Err(format!("a bay in which one batch stood on {day}; none is known to have")),
            several => Err(format!("the batch itself: on {day} there stood `{}`", several.join("`, `"))),
        }
    }
}
