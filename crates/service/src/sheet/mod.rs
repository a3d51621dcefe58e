//! Sheets of events as growers keep them: a header row, then a row for what was done or seen.
//!
//! Columns are known by their names, whatever their case and order (`column`); a row that names no kind of event tells
//! of what its columns tell of (`row`). There is this one reading of sheets, for what is brought into a farm's records
//! and for estimates of files alike.

mod cells;
mod column;
mod details;
mod field;
mod grammar;
mod kind;
mod names;
mod number;
mod own_id;
mod row;
mod unit;
mod when;
pub mod word;

use baycast_model::problem::{Problem, Problems};
use csv::{ReaderBuilder, StringRecord};

use crate::parse::BYTE_ORDER_MARK;

use cells::Cells;
use column::Column;
use field::Field;

pub use grammar::{Grammar, SheetUnits};
pub use names::Names;
pub use own_id::OwnIds;
pub use row::{Noted, Places};
pub use when::SheetDates;

/// Letters of a text that a problem shows.
const LONGEST_SHOWN: usize = 64;

/// What may part the cells of a row.
const DELIMITERS: [u8; 3] = [b',', b';', b'\t'];

/// A sheet whose header has been read.
#[derive(Clone, Debug)]
pub struct Sheet<'a> {
    text: &'a str,
    delimiter: u8,
    columns: Vec<Column>,
    /// Columns without a name, or that nothing is known of.
    nameless: Vec<usize>,
}

/// A row that is not empty.
#[derive(Clone, Debug, PartialEq)]
pub struct Row {
    /// The line that it starts on, from 1.
    pub line: u64,
    /// The batch that it names.
    pub batch: Option<Name>,
    /// The bay that it names.
    pub bay: Option<Name>,
    /// What it tells of, or everything that is wrong with it.
    pub events: Result<Vec<Noted>, Vec<Problem>>,
}

/// A name as it stands in a row.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Name {
    /// The column's own name.
    pub column: String,
    /// What stands there.
    pub text: String,
}

impl<'a> Sheet<'a> {
    /// Reads the header of a sheet, whose cells are parted by `delimiter` or, where none is given, by what parts the
    /// header most often. Problems stand on line 1, at no column in particular.
    pub fn open(text: &'a [u8], delimiter: Option<u8>) -> Result<Self, Problems> {
        let mut problems = Problems::default();
        let text = text.strip_prefix(BYTE_ORDER_MARK).unwrap_or(text);
        let Ok(text) = std::str::from_utf8(text) else {
            problems.add("", "text that is not UTF-8", "a sheet saved as CSV in UTF-8");
            return Err(problems);
        };
        let delimiter = delimiter.unwrap_or_else(|| delimiter_of(text));
        let mut header = StringRecord::new();
        let read = reader(text, delimiter).read_record(&mut header);
        if read.is_err() {
            problems.add("", "text that is no sheet", "a header row, then a row for each event");
            return Err(problems);
        }
        let (columns, nameless) = columns(&header, &mut problems);
        problems.into_result()?;
        Ok(Self { text, delimiter, columns, nameless })
    }

    /// Whether it has a column of bays that its batches stood in.
    #[must_use]
    pub fn names_bays(&self) -> bool {
        self.columns.iter().any(|column| column.field == Field::Bay)
    }

    /// Reads the rows one after the other; those in which nothing is filled are passed over.
    pub fn rows<'s>(&'s self, grammar: &'s Grammar) -> impl Iterator<Item = Row> + use<'s, 'a> {
        let mut records = reader(self.text, self.delimiter).into_records();
        // The header.
        let _ = records.next();
        let mut lines = Lines { text: self.text.as_bytes(), read: 0, line: 1 };
        records.filter_map(Result::ok).filter_map(move |record| {
            let line = lines.of(&record);
            self.row(line, &record, grammar)
        })
    }

    fn row(&self, line: u64, record: &StringRecord, grammar: &Grammar) -> Option<Row> {
        let mut cells = Cells::new(grammar, &self.columns, self.delimiter, record.iter());
        if cells.is_empty() {
            return None;
        }
        let mut named = |field| {
            let (index, text) = cells.take(field)?;
            Some(Name { column: cells.column(index).to_owned(), text: text.to_owned() })
        };
        let (batch, bay) = (named(Field::Batch), named(Field::Bay));
        let events = match self.misfit(record) {
            Some(problem) => Err(vec![problem]),
            None => row::events(cells),
        };
        Some(Row { line, batch, bay, events })
    }

    /// What is wrong with the number of a row's cells, or with cells under no name.
    fn misfit(&self, record: &StringRecord) -> Option<Problem> {
        let (given, wanted) = (record.len(), self.columns.len());
        let surplus = record.iter().skip(wanted).any(|cell| !cell.trim().is_empty());
        if given < wanted || surplus {
            let mut accepted = format!("{wanted}, as many as the header has");
            if surplus && self.delimiter == b',' {
                accepted.push_str("; a decimal comma needs quotes around its cell");
            }
            let value = format!("a row of {given} cells");
            return Some(Problem { pointer: String::new(), value, accepted });
        }
        let under_no_name = |index: &&usize| record.get(**index).is_some_and(|cell| !cell.trim().is_empty());
        let index = *self.nameless.iter().find(under_no_name)?;
        let value = format!("{} under no name", shown(record.get(index).unwrap_or_default()));
        let accepted = "nothing, or a name in the header, such as `notes`".to_owned();
        Some(Problem { pointer: format!("column {}", index + 1), value, accepted })
    }
}

/// Counts lines from record to record, whichever way they end; the reader of records counts line feeds alone.
struct Lines<'a> {
    text: &'a [u8],
    /// How far has been counted, and the line there, from 1.
    read: usize,
    line: u64,
}

impl Lines<'_> {
    /// The line that a record starts on: it is told to start where the one before ends, empty lines between them included.
    fn of(&mut self, record: &StringRecord) -> u64 {
        let told = record.position().map_or(self.read, |position| position.byte() as usize);
        while let Some(byte) = self.text.get(self.read)
            && (self.read < told || matches!(byte, b'\r' | b'\n'))
        {
            let ends = *byte == b'\n' || *byte == b'\r' && self.text.get(self.read + 1) != Some(&b'\n');
            self.line += u64::from(ends);
            self.read += 1;
        }
        self.line
    }
}

/// A text as a problem shows it, cut where it is long.
#[must_use]
pub fn shown(text: &str) -> String {
    let text = text.trim();
    match text.char_indices().nth(LONGEST_SHOWN) {
        Some((end, _)) => format!("`{}…`", &text[..end]),
        None => format!("`{text}`"),
    }
}

/// A reader of all rows, the header among them.
fn reader(text: &str, delimiter: u8) -> csv::Reader<&[u8]> {
    ReaderBuilder::new().flexible(true).has_headers(false).delimiter(delimiter).from_reader(text.as_bytes())
}

/// What parts the cells of the header: of what may, that which stands in it most often outside quotes.
fn delimiter_of(text: &str) -> u8 {
    let header = text.split(['\r', '\n']).find(|line| !line.trim().is_empty()).unwrap_or_default();
    let mut quoted = false;
    let mut counts = [0; DELIMITERS.len()];
    for byte in header.bytes() {
        quoted ^= byte == b'"';
        if let Some(place) = DELIMITERS.iter().position(|own| *own == byte && !quoted) {
            counts[place] += 1;
        }
    }
    let most = (0..DELIMITERS.len()).rev().max_by_key(|place| counts[*place]).unwrap_or_default();
    DELIMITERS[most]
}

/// The columns of a header and the places of those without a name, with what is wrong with it noted.
fn columns(header: &StringRecord, problems: &mut Problems) -> (Vec<Column>, Vec<usize>) {
    let mut columns: Vec<Column> = Vec::new();
    let mut nameless = Vec::new();
    for (index, name) in header.iter().enumerate() {
        let named = Column::named(name);
        if name.trim().is_empty() {
            nameless.push(index);
        } else if named.is_none() {
            problems.add("header", format!("column {}", shown(name)), field::known());
        } else if columns.iter().any(|earlier| earlier.name.eq_ignore_ascii_case(name.trim())) {
            problems.add("header", format!("column {} twice", shown(name)), "each column once");
        }
        // What has no name is not read: the row is refused where anything stands there.
        let unread = || Column { name: String::new(), field: Field::Notes, unit: None };
        columns.push(named.unwrap_or_else(unread));
    }
    if !columns.iter().any(|column| column.field == Field::At) {
        // A column called `time` may hold dates as well.
        match columns.iter_mut().find(|column| column.field == Field::Time) {
            Some(time) => time.field = Field::At,
            None => {
                problems.add("header", "no column `at`", "a header row with a date, such as `at` or `date`");
            }
        }
    }
    (columns, nameless)
}

#[cfg(test)]
mod tests;
