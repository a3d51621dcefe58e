//! A farm's season and its plan.

use baycast_records::{Clash, Error, KeptPlan, Thing};

use crate::databases::Database;
use crate::orchard::{BATCH, FARM, add, at, bay, farm_draft, planted, reading};

fn plan(text: &str) -> KeptPlan {
    KeptPlan { plan: format!("\"{text}\""), basis: text.into(), made_at: at(5) }
}

pub async fn kept_changed_and_deleted_with_their_plan(database: Database) {
    let records = planted(&database).await;
    records.create_farm("other", &farm_draft("")).await.unwrap();
    let none = records.season(FARM).await.unwrap();
    assert_eq!((none.season.as_deref(), none.version, &none.plan), (None, 0, &None));
    let keep =
        async |expected, text| records.keep_season(FARM, expected, text, Some(&plan(text)), at(6)).await;
    let missing = Error::NotFound { what: Thing::Season, name: FARM.into() };
    assert_eq!(keep(Some(1), "1").await.unwrap_err(), missing);
    assert_eq!(keep(None, "1").await.unwrap(), 1);
    let taken = Error::Conflict { what: Clash::Exists { what: Thing::Season, name: FARM.into() } };
    assert_eq!(keep(None, "2").await.unwrap_err(), taken);
    assert_eq!(keep(Some(7), "2").await.unwrap_err(), Error::Stale { given: 7, current: 1 });
    assert_eq!(keep(Some(1), "2").await.unwrap(), 2);
    let kept = records.season(FARM).await.unwrap();
    assert_eq!((kept.season.as_deref(), kept.version, kept.plan.clone()), (Some("2"), 2, Some(plan("2"))));
    assert_eq!(kept.gives_way(None), Err(taken));
    assert_eq!(kept.gives_way(Some(2)), Ok(()));
    assert_eq!(records.season("other").await.unwrap().season, None, "another farm has none");

    assert!(records.keep_plan(FARM, 2, &plan("anew")).await.unwrap());
    assert!(!records.keep_plan(FARM, 1, &plan("late")).await.unwrap(), "of a season that is gone");
    assert!(!records.keep_plan("other", 2, &plan("late")).await.unwrap());
    assert_eq!(records.season(FARM).await.unwrap().plan, Some(plan("anew")));

    assert_eq!(
        records.delete_season("other", 2).await.unwrap_err(),
        Error::NotFound { what: Thing::Season, name: "other".into() }
    );
    assert_eq!(records.delete_season(FARM, 1).await.unwrap_err(), Error::Stale { given: 1, current: 2 });
    assert_eq!(records.delete_season(FARM, 2).await.unwrap(), "2");
    let gone = records.season(FARM).await.unwrap();
    assert_eq!((gone.season, gone.plan), (None, None));
    assert!(!records.keep_plan(FARM, 2, &plan("late")).await.unwrap());
    assert_eq!(keep(None, "3").await.unwrap(), 3, "no version stands for two");
    records.archive_farm(FARM, 1, Some(at(9))).await.unwrap();
    let away = Error::Conflict { what: Clash::Archived { what: Thing::Farm, name: FARM.into() } };
    assert_eq!(keep(Some(3), "4").await.unwrap_err(), away);
    assert_eq!(records.season(FARM).await.unwrap().gives_way(Some(3)), Err(away));
}

pub async fn another_record_tells_itself(database: Database) {
    let records = planted(&database).await;
    let told = async || records.season(FARM).await.unwrap().records;
    let mut before = vec![told().await];
    assert_eq!(told().await, before[0], "nothing was recorded");
    add(&records, BATCH, reading(None, 50.0)).await;
    before.push(told().await);
    records.create_bay(FARM, &bay("west"), 2).await.unwrap();
    before.push(told().await);
    records.archive_batch(FARM, BATCH, 1, Some(at(9))).await.unwrap();
    before.push(told().await);
    let mut different = before.clone();
    different.dedup();
    assert_eq!(different, before);
}
