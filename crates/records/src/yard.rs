//! A farm's bays and what stands in them on a day: what its season is planned from.

use std::collections::BTreeSet;

use baycast_model::bay::Bay;
use baycast_model::feedstock::Feedstock;
use baycast_model::history::History;
use baycast_model::moment::Moment;
use jiff::civil::Date;

use crate::bays;
use crate::error::Result;
use crate::farms::{self, Farm};
use crate::history::{read, read_feedstocks};
use crate::records::Records;
use crate::stands::{Stand, stands};
use crate::value::values;

/// A farm on a day, all of one moment.
#[derive(Clone, Debug, PartialEq)]
pub struct Yard {
    /// The farm.
    pub farm: Farm,
    /// The day.
    pub day: Date,
    /// Its bays in its own order: those in use, and those put away in which something stands.
    pub bays: Vec<Bay>,
    /// What stands in them at the end of the day, at most one batch in each, with all that is recorded of it: of several in
    /// a bay the last to come.
    pub standing: Vec<History>,
    /// Those that came before it, of which nothing is recorded that took them away.
    pub unaccounted: Vec<Stand>,
    /// The farm's own feedstocks among those asked for.
    pub feedstocks: Vec<Feedstock>,
}

impl Records {
    /// The farm on the day that `day_of` says, with its own feedstocks among `feedstocks`.
    pub async fn yard(
        &self,
        farm: &str,
        day_of: &(dyn Fn(&Farm) -> Date + Sync),
        feedstocks: &BTreeSet<&str>,
    ) -> Result<Yard> {
        let mut session = self.snapshot().await?;
        let session = session.as_mut();
        let farm = farms::load(session, farm).await?;
        let day = day_of(&farm);
        let mut there = stands(session, &farm.id).await?;
        there.retain(|stand| {
            let came = stand.from.is_some_and(|from| from.date() <= day);
            came && stand.until.is_none_or(|until| until.date() > day)
        });
        let came = |stand: &Stand| stand.from.map_or(f64::NEG_INFINITY, Moment::days);
        // The last to come stands first.
        there.sort_by(|one, other| one.bay.cmp(&other.bay).then(came(other).total_cmp(&came(one))));
        let (mut standing, mut unaccounted, mut taken) = (Vec::new(), Vec::new(), BTreeSet::new());
        for stand in there {
            if taken.insert(stand.bay.clone()) {
                standing.push(read(session, &farm, &stand.batch, 0).await?.0);
            } else {
                unaccounted.push(stand);
            }
        }
        let rows = session
            .run(
                "SELECT farm_id, position, bay, version, archived_at FROM bays \
                 WHERE farm_id = $1 ORDER BY position, id",
                values![&farm.id],
            )
            .await?;
        let mut all = rows.into_iter().map(bays::bay).collect::<Result<Vec<_>>>()?;
        all.retain(|own| own.archived.is_none() || taken.contains(&own.bay.id));
        let feedstocks = read_feedstocks(session, &farm.id, feedstocks).await?;
        let bays = all.into_iter().map(|own| own.bay).collect();
        Ok(Yard { farm, day, bays, standing, unaccounted, feedstocks })
    }
}
