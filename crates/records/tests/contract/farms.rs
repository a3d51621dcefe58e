//! Farms.

use baycast_records::{Clash, Error, PageRequest, Reach, Thing};

use crate::databases::Database;
use crate::orchard::{at, bay, farm_draft};

pub async fn kept_changed_and_put_away(database: Database) {
    let records = database.open().await;
    let made = records.create_farm("a", &farm_draft("Orchard")).await.unwrap();
    assert_eq!((made.version, made.archived), (1, None));
    assert_eq!(records.farm("a").await.unwrap(), made);
    let taken = records.create_farm("a", &farm_draft("Other")).await.unwrap_err();
    assert_eq!(taken, Error::Conflict { what: Clash::Exists { what: Thing::Farm, name: "a".into() } });
    for id in ["", "a\nb", &"x".repeat(129)] {
        let refused = records.create_farm(id, &farm_draft("")).await.unwrap_err();
        assert!(matches!(refused, Error::Invalid { .. }), "{refused}");
    }

    let changed = records.update_farm("a", 1, &farm_draft("Renamed")).await.unwrap();
    assert_eq!((changed.version, changed.name.as_str()), (2, "Renamed"));
    let stale = records.update_farm("a", 1, &farm_draft("Late")).await.unwrap_err();
    assert_eq!(stale, Error::Stale { given: 1, current: 2 });
    assert_eq!(records.farm("a").await.unwrap(), changed);
    let missing = records.update_farm("b", 1, &farm_draft("")).await.unwrap_err();
    assert_eq!(missing, Error::NotFound { what: Thing::Farm, name: "b".into() });

    let away = records.archive_farm("a", 2, Some(at(5))).await.unwrap();
    assert_eq!((away.version, away.archived), (3, Some(at(5))));
    let refused = records.create_bay("a", &bay("east"), 1).await.unwrap_err();
    assert_eq!(refused, Error::Conflict { what: Clash::Archived { what: Thing::Farm, name: "a".into() } });
    records.archive_farm("a", 3, None).await.unwrap();
    records.create_bay("a", &bay("east"), 1).await.unwrap();

    records.create_farm("B", &farm_draft("")).await.unwrap();
    records.create_farm("ä", &farm_draft("")).await.unwrap();
    let ids = |reach: Reach| {
        let records = &records;
        async move {
            let page = records.farms(&reach, &PageRequest::default()).await.unwrap();
            page.items.into_iter().map(|farm| farm.id).collect::<Vec<_>>()
        }
    };
    assert_eq!(ids(Reach::All).await, ["B", "a", "ä"]);
    assert_eq!(ids(Reach::Farms(vec!["ä".into(), "B".into(), "none".into()])).await, ["B", "ä"]);
    records.close().await.unwrap();
}
