//! Sheets: one event a row, under a header row whose names say what each column holds.

use std::collections::HashMap;
use std::io::{self, Read};

use baycast_model::history::Event;
use baycast_model::problem::Problem;
use baycast_service::sheet::{Row, Sheet as Text};

use super::fault::{Fault, Place, Written};
use super::surroundings::Surroundings;
use super::{Found, Told};

/// A sheet and what it does not say itself.
pub struct Sheet<'a> {
    /// The file's name.
    pub file: &'a str,
    /// The batch of rows that name neither batch nor bay.
    pub stem: &'a str,
    /// Site, bays and own feedstocks.
    pub surroundings: &'a Surroundings,
}

/// The rows of one batch.
#[derive(Default)]
struct Batch {
    name: String,
    events: Vec<Event>,
    rows: Vec<Written>,
    faults: Vec<Fault>,
}

impl Sheet<'_> {
    /// Reads all rows, which may tell of several batches in any order, and delivers each batch, in the order of
    /// its first row. A batch with a wrong row is not served: without that row its estimate would be another's.
    pub fn read(&self, mut source: impl Read, deliver: &mut dyn FnMut(Found) -> bool) -> io::Result<()> {
        let mut text = Vec::new();
        source.read_to_end(&mut text)?;
        let sheet = match Text::open(&text, None) {
            Ok(sheet) => sheet,
            Err(problems) => {
                deliver(Err(problems.0.iter().map(|problem| self.fault(1, problem)).collect()));
                return Ok(());
            }
        };
        let mut batches: Vec<Batch> = Vec::new();
        let mut places: HashMap<String, usize> = HashMap::new();
        for row in sheet.rows(self.surroundings.grammar()) {
            let name = row.batch.as_ref().or(row.bay.as_ref()).map_or(self.stem, |name| name.text.as_str());
            let index = *places.entry(name.to_owned()).or_insert_with(|| {
                batches.push(Batch { name: name.to_owned(), ..Batch::default() });
                batches.len() - 1
            });
            self.take(row, &mut batches[index]);
        }
        for batch in batches {
            let found = if batch.faults.is_empty() {
                let place = Place::Rows { file: self.file.into(), rows: batch.rows };
                Ok(Told { place, history: Box::new(self.surroundings.history(batch.name, batch.events)) })
            } else {
                Err(batch.faults)
            };
            if !deliver(found) {
                break;
            }
        }
        Ok(())
    }

    /// Adds one row to its batch.
    fn take(&self, row: Row, batch: &mut Batch) {
        let line = row.line;
        match row.events {
            Ok(events) => {
                for noted in events {
                    batch.events.push(noted.event);
                    batch.rows.push(Written { line, places: noted.places });
                }
            }
            Err(problems) => batch.faults.extend(problems.iter().map(|problem| self.fault(line, problem))),
        }
    }

    /// A problem of a line as a fault.
    fn fault(&self, line: u64, problem: &Problem) -> Fault {
        Fault::value(self.file, Some(line), &problem.pointer, &problem.value, &problem.accepted)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn read(text: &str) -> Vec<Found> {
        let surroundings = Surroundings::example();
        let mut found = Vec::new();
        let sheet = Sheet { file: "a.csv", stem: "a", surroundings: &surroundings };
        sheet
            .read(text.as_bytes(), &mut |item| {
                found.push(item);
                true
            })
            .unwrap();
        found
    }

    #[test]
    fn rows_of_several_batches_are_sorted_to_their_own() {
        let found = read(
            "\u{feff}at,event,batch,temperature_c,feedstock,mass_kg\n\
             2026-03-01,addition,one,,grass_mowings,50\n\
             2026-03-01,addition,two,,grass_mowings,60\n\
             2026-03-02,reading,one,41.5,,\n\
             2026-03-02,turn,,,,\n",
        );
        let names: Vec<_> = found.iter().map(|item| item.as_ref().unwrap().history.batch.as_str()).collect();
        assert_eq!(names, ["one", "two", "a"]);
        let one = found[0].as_ref().unwrap();
        assert_eq!(one.history.events[1].reading.unwrap().temperature_c, Some(41.5));
        let Place::Rows { rows, .. } = &one.place else { panic!("{:?}", one.place) };
        assert_eq!(rows.iter().map(|row| row.line).collect::<Vec<_>>(), [2, 4]);
    }

    #[test]
    fn a_wrong_row_keeps_back_its_own_batch_only() {
        let found =
            read("batch,at,event\none,2026-03-01,turn\none,soon,turn\ntwo,2026-03-01,turn\ntwo,2026-03-01\n");
        let faults = |index: usize| found[index].as_ref().unwrap_err()[0].to_string();
        assert!(faults(0).starts_with("a.csv:3: at: `soon` given"), "{}", faults(0));
        assert_eq!(faults(1), "a.csv:5: a row of 2 cells given, accepted: 3, as many as the header has");
    }

    #[test]
    fn a_header_is_held_to_known_columns() {
        let found = read("at,event,pH\n2026-03-01,turn,\n");
        let fault = found[0].as_ref().unwrap_err()[0].to_string();
        assert!(
            fault.starts_with("a.csv:1: header: column `pH` given, accepted: batch, bay, at, time, event"),
            "{fault}"
        );
    }
}
