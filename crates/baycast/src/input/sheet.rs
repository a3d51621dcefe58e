//! Sheets: CSV with one event a row, under a header row whose names say what each column holds.

use std::io::{self, Read};

use baycast_model::history::Event;
use csv::{ReaderBuilder, StringRecord};

use super::fault::{Fault, Place};
use super::row::{COLUMNS, Row};
use super::surroundings::Surroundings;
use super::{Found, Told};

/// A sheet and what it does not say itself.
pub struct Sheet<'a> {
    /// The file's name.
    pub file: &'a str,
    /// The batch of rows that name none.
    pub stem: &'a str,
    /// Site, bays and own feedstocks.
    pub surroundings: &'a Surroundings,
}

/// The rows of one batch.
#[derive(Default)]
struct Batch {
    name: String,
    events: Vec<Event>,
    lines: Vec<u64>,
    faults: Vec<Fault>,
}

impl Sheet<'_> {
    /// Reads all rows, which may tell of several batches in any order, and delivers each batch, in the order of
    /// its first row. A batch with a wrong row is not served: without that row its estimate would be another's.
    pub fn read(&self, source: impl Read, deliver: &mut dyn FnMut(Found) -> bool) -> io::Result<()> {
        let mut reader = ReaderBuilder::new().flexible(true).from_reader(source);
        let header = match reader.headers() {
            Ok(header) => {
                header.iter().map(|name| name.trim().trim_start_matches('\u{feff}')).collect::<StringRecord>()
            }
            Err(error) => return self.unreadable(error, deliver),
        };
        let faults = self.header_faults(&header);
        if !faults.is_empty() {
            deliver(Err(faults));
            return Ok(());
        }
        let mut batches: Vec<Batch> = Vec::new();
        let mut cells = StringRecord::new();
        loop {
            match reader.read_record(&mut cells) {
                Ok(false) => break,
                Ok(true) => self.take(&header, &cells, &mut batches),
                Err(error) => return self.unreadable(error, deliver),
            }
        }
        for batch in batches {
            let found = if batch.faults.is_empty() {
                let place = Place::Rows { file: self.file.into(), lines: batch.lines };
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
    fn take(&self, header: &StringRecord, cells: &StringRecord, batches: &mut Vec<Batch>) {
        let line = cells.position().map_or(0, csv::Position::line);
        let mut row = Row::new(self.file, line, header.iter().zip(cells));
        let name = row.text("batch").unwrap_or(self.stem);
        let index = batches.iter().position(|batch| batch.name == name).unwrap_or_else(|| {
            batches.push(Batch { name: name.into(), ..Batch::default() });
            batches.len() - 1
        });
        let batch = &mut batches[index];
        if cells.len() != header.len() {
            let given = format_args!("a row of {} cells", cells.len());
            let accepted = format!("{}, as many as the header has", header.len());
            batch.faults.push(Fault::value(self.file, Some(line), "", given, &accepted));
            return;
        }
        match row.event() {
            Ok(event) => {
                batch.events.push(event);
                batch.lines.push(line);
            }
            Err(faults) => batch.faults.extend(faults),
        }
    }

    /// What is wrong with the header row.
    fn header_faults(&self, header: &StringRecord) -> Vec<Fault> {
        let mut faults = Vec::new();
        let wrong =
            |given: String, accepted: &str| Fault::value(self.file, Some(1), "header", given, accepted);
        for (index, name) in header.iter().enumerate() {
            if !COLUMNS.contains(&name) {
                faults.push(wrong(format!("column `{name}`"), &COLUMNS.join(", ")));
            } else if header.iter().take(index).any(|earlier| earlier == name) {
                faults.push(wrong(format!("column `{name}` twice"), "each column once"));
            }
        }
        for needed in ["at", "event"] {
            if !header.iter().any(|name| name == needed) {
                faults.push(wrong(
                    format!("no column `{needed}`"),
                    "a header row with at least `at` and `event`",
                ));
            }
        }
        faults
    }

    /// A sheet that cannot be read as text, or a real error of input.
    fn unreadable(&self, error: csv::Error, deliver: &mut dyn FnMut(Found) -> bool) -> io::Result<()> {
        if error.is_io_error() {
            return Err(error.into());
        }
        let line = error.position().map(csv::Position::line);
        let fault = Fault::other(self.file, line, format!("not a readable sheet: {error}"));
        deliver(Err(vec![fault]));
        Ok(())
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
        assert!(matches!(&one.place, Place::Rows { lines, .. } if lines == &[2, 4]));
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
        let found = read("at,event,temp\n2026-03-01,turn,\n");
        let fault = found[0].as_ref().unwrap_err()[0].to_string();
        assert!(
            fault.starts_with("a.csv:1: header: column `temp` given, accepted: batch, at, event"),
            "{fault}"
        );
        let found = read("2026-03-01,turn\n");
        assert_eq!(found[0].as_ref().unwrap_err().len(), 4);
    }
}
