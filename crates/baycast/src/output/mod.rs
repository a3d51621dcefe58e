//! Estimates as they go out: a table to read, JSON, NDJSON or CSV.

pub mod columns;
pub mod dates;
pub mod futures;
pub mod paragraph;
pub mod plan;
pub mod recipe;
pub mod requirement;
#[cfg(test)]
pub mod sample;
pub mod table;
pub mod words;

use std::io::{self, Write};

use baycast_model::estimate::Estimate;

/// How estimates are written.
#[derive(Clone, Copy, Debug, PartialEq, Eq, clap::ValueEnum)]
pub enum Format {
    /// A block of plain words for each batch.
    Table,
    /// An array of estimates.
    Json,
    /// One estimate a line.
    Ndjson,
    /// One row a batch, under a header row.
    Csv,
}

/// Writes estimates one after the other, none of them kept.
pub struct Writer<W: Write> {
    format: Format,
    out: W,
    count: usize,
    /// Cautions already met, in order: the table prints each once, at its end.
    cautions: Vec<String>,
}

impl<W: Write> Writer<W> {
    /// A writer to `out`.
    pub fn new(format: Format, out: W) -> Self {
        Self { format, out, count: 0, cautions: Vec::new() }
    }

    /// Writes one estimate.
    pub fn put(&mut self, estimate: &Estimate) -> io::Result<()> {
        match self.format {
            Format::Table => {
                if self.count > 0 {
                    writeln!(self.out)?;
                }
                self.out.write_all(table::block(estimate).as_bytes())?;
                for caution in &estimate.cautions {
                    if !self.cautions.contains(caution) {
                        self.cautions.push(caution.clone());
                    }
                }
            }
            Format::Json => {
                self.out.write_all(if self.count == 0 { b"[\n" } else { b",\n" })?;
                serde_json::to_writer_pretty(&mut self.out, estimate)?;
            }
            Format::Ndjson => {
                serde_json::to_writer(&mut self.out, estimate)?;
                writeln!(self.out)?;
            }
            Format::Csv => {
                if self.count == 0 {
                    columns::write(&mut self.out, columns::header().iter())?;
                }
                columns::write(&mut self.out, columns::row(estimate).iter())?;
            }
        }
        self.count += 1;
        self.out.flush()
    }

    /// Writes what comes after the last estimate.
    pub fn finish(mut self) -> io::Result<()> {
        match self.format {
            Format::Table => self.out.write_all(table::footer(&self.cautions).as_bytes())?,
            Format::Json => self.out.write_all(if self.count == 0 { b"[]\n" } else { b"\n]\n" })?,
            Format::Csv if self.count == 0 => columns::write(&mut self.out, columns::header().iter())?,
            Format::Csv | Format::Ndjson => {}
        }
        self.out.flush()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn written(format: Format, count: usize) -> String {
        let mut out = Vec::new();
        let mut writer = Writer::new(format, &mut out);
        for _ in 0..count {
            writer.put(&sample::estimate()).unwrap();
        }
        writer.finish().unwrap();
        String::from_utf8(out).unwrap()
    }

    #[test]
    fn json_is_an_array_of_any_length_and_reads_back() {
        for count in 0..3 {
            let read: Vec<Estimate> = serde_json::from_str(&written(Format::Json, count)).unwrap();
            assert_eq!(read, vec![sample::estimate(); count]);
        }
    }

    #[test]
    fn ndjson_is_one_line_each() {
        let text = written(Format::Ndjson, 2);
        assert_eq!(text.lines().count(), 2);
        assert!(
            text.lines().all(|line| serde_json::from_str::<Estimate>(line).unwrap() == sample::estimate())
        );
    }

    #[test]
    fn csv_has_its_header_even_with_no_row() {
        assert_eq!(written(Format::Csv, 0).lines().count(), 1);
        let text = written(Format::Csv, 1);
        let mut reader = csv::Reader::from_reader(text.as_bytes());
        let header = reader.headers().unwrap().clone();
        let row = reader.records().next().unwrap().unwrap();
        let cell = |name: &str| &row[header.iter().position(|column| column == name).unwrap()];
        assert_eq!((cell("batch"), cell("as_of"), cell("core_c")), ("spring, first", "2026-09-15", "21"));
        assert_eq!((cell("mulch_opens_p90"), cell("mulch_binding")), ("2026-09-20", "above_air"));
        assert_eq!((cell("bed_dressing_opens_p90"), cell("potting_opens_p50")), ("", ""));
        assert_eq!(cell("advice"), "spread it, or cover it");
        assert_eq!(
            [cell("trust"), cell("next_look"), cell("next_look_on")],
            ["readings_disagree", "moisture", "2026-09-16"]
        );
    }

    #[test]
    fn a_table_says_each_caution_once() {
        let text = written(Format::Table, 3);
        assert_eq!(text.matches("pallet-3").count(), 3);
        assert_eq!(text.matches("hard-seeded weeds comes through").count(), 1);
    }
}
