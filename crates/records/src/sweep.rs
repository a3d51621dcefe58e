//! Finding what is due although nothing was recorded: a day has passed, the surroundings changed, or word was missed.

use std::collections::BTreeMap;

use jiff::civil::Date;

use crate::error::Result;
use crate::farms::{self, Farm};
use crate::outbox;
use crate::publishing::lock;
use crate::readiness::{due, next_day};
use crate::records::Records;
use crate::store::Table;
use crate::value::{Kind, values};

impl Records {
    /// Puts in a notice for each batch, of one farm or of all, whose readiness is missing or of another day, surroundings or
    /// model than it should be, and for each that is told of although it is not in use; how many there are. `day_of` says
    /// which day it is on a farm.
    pub async fn sweep(
        &self,
        farm: Option<&str>,
        day_of: &(dyn Fn(&Farm) -> Date + Sync),
        model_version: &str,
    ) -> Result<usize> {
        let mut session = self.snapshot().await?;
        let farms = farms::some(session.as_mut(), farm).await?;
        let rows = farms.iter().map(|farm| {
            let day = day_of(farm);
            values![&farm.id, day.to_string(), next_day(day), model_version]
        });
        let columns = &[
            ("farm_id", Kind::Text),
            ("day", Kind::Text),
            ("next_day", Kind::Text),
            ("model_version", Kind::Text),
        ];
        let found = session
            .run_rows(
                concat!(
                    "SELECT b.farm_id, b.id FROM {rows} JOIN farms f ON f.id = k.farm_id \
                     JOIN batches b ON b.farm_id = f.id \
                     LEFT JOIN readiness r ON r.farm_id = b.farm_id AND r.batch_id = b.id WHERE ",
                    due!("k.day", "k.next_day", "k.model_version"),
                    " ORDER BY b.farm_id, b.id"
                ),
                Table::new(columns, rows.collect()),
            )
            .await?;
        drop(session);
        let count = found.len();
        let mut due: BTreeMap<String, Vec<String>> = BTreeMap::new();
        for mut row in found {
            due.entry(row.text()?).or_default().push(row.text()?);
        }
        for (farm, batches) in due {
            let mut session = self.write().await?;
            lock(session.as_mut(), &farm).await?;
            outbox::note_once(session.as_mut(), &farm, &batches).await?;
            session.commit().await?;
        }
        Ok(count)
    }
}
