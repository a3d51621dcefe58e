//! Larkfield, a market garden that was invented to show what the product answers.

use std::collections::BTreeSet;

use baycast_model::history::History;
use baycast_model::plan::season::Season;
use baycast_records::{
    Append, BatchDraft, Clash, Entry, Error, FarmDraft, Mode, Placed, Records, Result, Stamp,
};
use baycast_service::records::FarmSeason;
use jiff::Timestamp;

/// Its batches' histories.
const TEXT: &[u8] = include_bytes!("../demo/larkfield.json");

/// What its next season brings and asks for, with what stands in its bays.
const SEASON: &[u8] = include_bytes!("../demo/season.json");

/// Its id.
pub const FARM: &str = "larkfield";

/// Under which name its events are recorded.
const AUTHOR: &str = "demo";

/// Its histories.
pub fn histories() -> serde_json::Result<Vec<History>> {
    serde_json::from_slice(TEXT)
}

/// What its next season brings and asks for beside its records.
fn season() -> serde_json::Result<FarmSeason> {
    let Season { from, weeks, inflows, demands, .. } = serde_json::from_slice(SEASON)?;
    Ok(FarmSeason { from, weeks, inflows, demands, ..FarmSeason::default() })
}

/// Keeps the season, where none is kept yet. It is planned when someone looks.
pub async fn keep_season(records: &Records, now: Timestamp) -> Result<()> {
    let unreadable = |error: serde_json::Error| Error::Corrupt { detail: error.to_string() };
    let text = season().and_then(|own| serde_json::to_string(&own)).map_err(unreadable)?;
    there(records.keep_season(FARM, None, &text, None, now).await)
}

/// Keeps the farm, its bays, batches and events, where they are not kept yet.
pub async fn keep(records: &Records, histories: &[History], now: Timestamp) -> Result<()> {
    let Some(first) = histories.first() else { return Ok(()) };
    let farm = FarmDraft {
        name: "Larkfield (invented)".into(),
        site: first.site.clone(),
        time_zone: "Europe/London".into(),
        barrow_m3: first.barrow_m3,
    };
    there(records.create_farm(FARM, &farm).await)?;
    let batches: Vec<&History> = histories.iter().flat_map(with_sources).collect();
    let bays = batches.iter().flat_map(|batch| [&batch.bay].into_iter().chain(&batch.other_bays));
    let mut seen = BTreeSet::new();
    for (position, bay) in (1..).zip(bays.filter(|bay| seen.insert(&bay.id))) {
        there(records.create_bay(FARM, bay, position).await)?;
    }
    for batch in &batches {
        let draft = BatchDraft {
            name: batch.batch.clone(),
            start_bay: batch.bay.id.clone(),
            horizon_days: batch.horizon_days,
            forecast_step_days: batch.forecast_step_days,
            criteria: batch.criteria.clone(),
        };
        there(records.create_batch(FARM, &batch.batch, &draft).await)?;
    }
    // All events are recorded at once: where one batch has some, all have theirs.
    if records.batch(FARM, &first.batch).await?.event_version == 0 {
        let entry =
            |batch: &History, event| Placed { batch: batch.batch.clone(), entry: Entry::Add { event } };
        let entries = batches
            .iter()
            .flat_map(|batch| batch.events.iter().map(|event| entry(batch, event.clone())))
            .collect();
        let append = Append { farm: FARM.into(), entries, mode: Mode::AllOrNothing, idempotency_key: None };
        records.append(append, &Stamp::new(now, AUTHOR)).await?;
    }
    Ok(())
}

/// The histories as the records tell them, each as of its own day.
pub async fn kept(records: &Records, histories: &[History]) -> Result<Vec<History>> {
    let mut kept = Vec::new();
    for own in histories {
        let (history, _) = records.history(FARM, &own.batch).await?;
        kept.push(History { as_of: own.as_of, ..history });
    }
    Ok(kept)
}

/// A batch after those that were merged into it.
fn with_sources(history: &History) -> Vec<&History> {
    history.sources.iter().flat_map(with_sources).chain([history]).collect()
}

/// What was made, or was there before.
fn there<T>(made: Result<T>) -> Result<()> {
    match made {
        Ok(_) | Err(Error::Conflict { what: Clash::Exists { .. } }) => Ok(()),
        Err(error) => Err(error),
    }
}

#[cfg(test)]
mod tests {
    use baycast_model::history::Event;
    use baycast_model::moment::Moment;

    use super::*;

    fn events() -> Vec<Event> {
        histories().unwrap().into_iter().flat_map(|history| history.events).collect()
    }

    #[test]
    fn seven_bays_stand_as_described() {
        let bays: BTreeSet<(String, String)> = histories()
            .unwrap()
            .iter()
            .flat_map(|history| [&history.bay].into_iter().chain(&history.other_bays))
            .map(|bay| (bay.id.clone(), format!("{:.1}", bay.capacity_m3())))
            .collect();
        let sizes: Vec<&str> = bays.iter().map(|(_, size_m3)| size_m3.as_str()).collect();
        assert_eq!(sizes, ["1.1", "1.1", "1.1", "0.6", "0.6", "3.0", "3.0"]);
    }

    #[test]
    fn the_season_has_the_gaps_and_faults_of_real_notes() {
        let events = events();
        let fahrenheit: Vec<Moment> = events
            .iter()
            .filter(|event| event.reading.is_some_and(|reading| reading.temperature_f.is_some()))
            .map(|event| event.at)
            .collect();
        assert_eq!(fahrenheit.len(), 7, "a week in °F: {fahrenheit:?}");
        let stuck =
            events.iter().filter(|event| event.reading.is_some_and(|it| it.temperature_c == Some(66.5)));
        assert!(stuck.count() >= 10, "a stuck probe");
        let unweighed = events.iter().filter_map(|event| event.addition.as_ref()).filter(|addition| {
            addition
                .mass_kg
                .or(addition.volume_m3)
                .or(addition.barrows)
                .or(addition.filled_to_fraction)
                .is_none()
        });
        assert_eq!(unweighed.count(), 1, "one addition of which no amount is known");
        let mut days: Vec<f64> = histories()
            .unwrap()
            .iter()
            .find(|history| history.batch == "timber-1 spring")
            .unwrap()
            .events
            .iter()
            .filter(|event| event.reading.is_some())
            .map(|event| event.at.days())
            .collect();
        days.sort_by(f64::total_cmp);
        assert!(days.windows(2).any(|pair| pair[1] - pair[0] > 30.0), "a month without readings");
    }
}
