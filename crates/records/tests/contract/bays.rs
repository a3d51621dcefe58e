//! Bays and feedstocks.

use baycast_model::feedstock::default_feedstocks;
use baycast_records::{Clash, Error, PageRequest, Records, Thing};

use crate::databases::Database;
use crate::orchard::{FARM, at, bay, planted};

pub async fn kept_in_the_farms_own_order(database: Database) {
    let records = planted(&database).await;
    records.create_bay(FARM, &bay("west"), -3).await.unwrap();
    records.create_bay(FARM, &bay("north"), 7).await.unwrap();
    let taken = records.create_bay(FARM, &bay("west"), 9).await.unwrap_err();
    assert_eq!(taken, Error::Conflict { what: Clash::Exists { what: Thing::Bay, name: "west".into() } });
    assert_eq!(order(&records).await, ["west", "east", "north"]);

    let mut wider = bay("west");
    wider.width_m = 2.125;
    let changed = records.update_bay(FARM, 1, &wider, 2).await.unwrap();
    assert_eq!((changed.version, &changed.bay, changed.position), (2, &wider, 2));
    assert_eq!(records.bay(FARM, "west").await.unwrap(), changed);
    assert_eq!(order(&records).await, ["east", "west", "north"]);
    let stale = records.update_bay(FARM, 1, &wider, 2).await.unwrap_err();
    assert_eq!(stale, Error::Stale { given: 1, current: 2 });
    let away = records.archive_bay(FARM, "west", 2, Some(at(1))).await.unwrap();
    assert_eq!(away.archived, Some(at(1)));

    let mut straw = default_feedstocks().into_iter().next().unwrap();
    straw.id = "own_straw".into();
    records.create_feedstock(FARM, &straw).await.unwrap();
    straw.moisture_fraction = 0.1 + 0.2;
    let changed = records.update_feedstock(FARM, 1, &straw).await.unwrap();
    assert_eq!(changed.feedstock, straw);
    assert_eq!(records.feedstock(FARM, "own_straw").await.unwrap(), changed);
    let away = records.archive_feedstock(FARM, "own_straw", 2, Some(at(2))).await.unwrap();
    let listed = records.feedstocks(FARM, &PageRequest::default()).await.unwrap();
    assert_eq!(listed.items, [away]);
    let missing = records.bays("none", &PageRequest::default()).await.unwrap_err();
    assert_eq!(missing, Error::NotFound { what: Thing::Farm, name: "none".into() });
}

async fn order(records: &Records) -> Vec<String> {
    let bays = records.bays(FARM, &PageRequest::default()).await.unwrap();
    bays.items.into_iter().map(|own| own.bay.id).collect()
}
