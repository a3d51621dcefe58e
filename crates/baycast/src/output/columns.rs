//! The flat form: one row a batch. Columns are never reordered; new ones are added at the end.
//!
//! | column | unit |
//! |---|---|
//! | `batch`, `as_of`, `bay`, `stage` | text, ISO date, text, word |
//! | `core_c`, `edge_c` | °C, the middle of the range |
//! | `volume_m3`, `mass_kg` | m³ (the middle), kg wet |
//! | `moisture_fraction` | wet basis, the middle |
//! | `c_to_n` | carbon to nitrogen by mass |
//! | `maturity_index` | 0 to 1, the middle |
//! | `respiration` | mg CO₂-C per g volatile solids and day |
//! | `degree_days_c`, `measured_fraction` | °C·days, share covered by readings |
//! | for each of `mulch`, `bed_dressing`, `potting`: `…_opens_p10`, `…_opens_p50`, `…_opens_p90`, `…_best_by_p50` | ISO dates, empty beyond the horizon |
//! | `…_binding` | the criterion met last |
//! | `advice` | the most pressing thing to do |
//! | `trust` | what the ranges rest on, a word |
//! | `next_look`, `next_look_on` | what to look at next, a word, and when; empty where nothing would teach much |
//!
//! A batch that was emptied has no temperatures, moisture, C:N, maturity and respiration: those cells are empty.

use std::io::{self, Write};

use baycast_model::estimate::{Estimate, HeapNow, Maturity};
use baycast_model::window::Use;
use jiff::civil::Date;

use super::words;

/// The uses, in the order of their columns.
const USES: [Use; 3] = [Use::Mulch, Use::BedDressing, Use::Potting];

/// The columns before those of the uses.
const FIRST: [&str; 14] = [
    "batch",
    "as_of",
    "bay",
    "stage",
    "core_c",
    "edge_c",
    "volume_m3",
    "mass_kg",
    "moisture_fraction",
    "c_to_n",
    "maturity_index",
    "respiration",
    "degree_days_c",
    "measured_fraction",
];

/// The columns of each use, after its name.
const OF_USE: [&str; 5] = ["opens_p10", "opens_p50", "opens_p90", "best_by_p50", "binding"];

/// The columns after those of the uses.
const LAST: [&str; 4] = ["advice", "trust", "next_look", "next_look_on"];

/// The header row.
pub fn header() -> Vec<String> {
    let first = FIRST.iter().map(ToString::to_string);
    let uses =
        USES.iter().flat_map(|each| OF_USE.iter().map(move |column| format!("{}_{column}", words::id(each))));
    first.chain(uses).chain(LAST.map(String::from)).collect()
}

/// The row of one estimate.
pub fn row(estimate: &Estimate) -> Vec<String> {
    // Nothing is known of a heap that is gone, but that there is none.
    let now =
        |of: fn(&HeapNow) -> f64| estimate.now.as_ref().map(|now| of(now).to_string()).unwrap_or_default();
    let maturity = |of: fn(&Maturity) -> f64| {
        estimate.maturity.as_ref().map(|now| of(now).to_string()).unwrap_or_default()
    };
    let mut cells = vec![
        estimate.batch.clone(),
        estimate.as_of.to_string(),
        estimate.bay.clone(),
        words::id(&estimate.stage),
        now(|now| now.core_c.p50),
        now(|now| now.edge_c.p50),
        estimate.now.as_ref().map_or(0.0, |now| now.volume_m3.p50).to_string(),
        estimate.now.as_ref().map_or(0.0, |now| now.mass_kg).to_string(),
        now(|now| now.moisture_fraction.p50),
        now(|now| now.c_to_n),
        maturity(|maturity| maturity.index.p50),
        maturity(|maturity| maturity.respiration_mg_co2c_g_vs_day),
        estimate.thermal_time.degree_days_c.to_string(),
        estimate.thermal_time.measured_fraction.to_string(),
    ];
    for each in USES {
        match estimate.windows.iter().find(|window| window.for_use == each) {
            Some(window) => {
                let dates = [window.opens.p10, window.opens.p50, window.opens.p90, window.best_by.p50];
                cells.extend(dates.map(date));
                cells.push(words::id(&window.binding));
            }
            None => cells.extend([const { String::new() }; OF_USE.len()]),
        }
    }
    cells.push(estimate.advice.first().map(|advice| advice.action.clone()).unwrap_or_default());
    let look = estimate.learned.next_look;
    cells.push(words::id(&estimate.learned.trust));
    cells.push(look.map(|look| words::id(&look.at)).unwrap_or_default());
    cells.push(date(look.map(|look| look.on)));
    cells
}

/// Writes cells as one CSV record.
pub fn write<'a>(out: &mut impl Write, cells: impl Iterator<Item = &'a String>) -> io::Result<()> {
    let mut writer = csv::Writer::from_writer(out);
    writer.write_record(cells.map(String::as_bytes))?;
    writer.flush()
}

/// An ISO date, or nothing.
fn date(date: Option<Date>) -> String {
    date.map(|date| date.to_string()).unwrap_or_default()
}

#[cfg(test)]
mod tests {
    use baycast_model::estimate::Stage;

    use super::*;

    #[test]
    fn an_emptied_bay_has_no_temperature() {
        let estimate =
            Estimate { stage: Stage::Emptied, now: None, maturity: None, ..super::super::sample::estimate() };
        let row = row(&estimate);
        let cell = |name: &str| row[header().iter().position(|column| column == name).unwrap()].as_str();
        assert_eq!(
            (cell("stage"), cell("core_c"), cell("c_to_n"), cell("mass_kg")),
            ("emptied", "", "", "0")
        );
    }

    #[test]
    fn the_header_is_stable() {
        assert_eq!(
            header().join(","),
            "batch,as_of,bay,stage,core_c,edge_c,volume_m3,mass_kg,moisture_fraction,c_to_n,maturity_index,\
             respiration,degree_days_c,measured_fraction,\
             mulch_opens_p10,mulch_opens_p50,mulch_opens_p90,mulch_best_by_p50,mulch_binding,\
             bed_dressing_opens_p10,bed_dressing_opens_p50,bed_dressing_opens_p90,bed_dressing_best_by_p50,\
             bed_dressing_binding,\
             potting_opens_p10,potting_opens_p50,potting_opens_p90,potting_best_by_p50,potting_binding,advice,\
             trust,next_look,next_look_on"
        );
    }
}
