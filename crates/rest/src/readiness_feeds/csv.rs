//! The sheet: a row for each batch and use, under a row of headings (RFC 4180).

use baycast_service::readiness::Readiness;
use csv::{Terminator, WriterBuilder};

use super::columns::{COLUMNS, Cell};

/// What makes a spreadsheet take a cell for a formula.
const FORMULA: [char; 4] = ['=', '+', '-', '@'];

/// The whole sheet.
pub fn csv(farm: &Readiness) -> Vec<u8> {
    let mut sheet = WriterBuilder::new().terminator(Terminator::CRLF).from_writer(Vec::new());
    // Writing into memory cannot fail, and all rows are equally long.
    let _ = sheet.write_record(COLUMNS.map(|(name, _)| name));
    for batch in &farm.batches {
        for window in &batch.windows {
            let _ = sheet.write_record(COLUMNS.map(|(_, source)| shown(source.cell(farm, batch, window))));
        }
    }
    sheet.into_inner().unwrap_or_default()
}

/// A cell as it is written. Text that a spreadsheet would run as a formula has an apostrophe before it, which spreadsheets
/// take as `this is text`: names are their owners', and what they hold must not act on the reader's machine.
fn shown(cell: Cell) -> String {
    match cell {
        Cell::Text(text) if text.starts_with(FORMULA) => format!("'{text}"),
        other => other.to_string(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn text_never_becomes_a_formula_and_numbers_stay_numbers() {
        for text in ["=1+1", "+x", "-x", "@x"] {
            assert_eq!(shown(Cell::Text(text.to_owned())), format!("'{text}"));
        }
        assert_eq!(shown(Cell::Text("heap-1".to_owned())), "heap-1");
        assert_eq!(shown(Cell::Number(-3.5)), "-3.5");
    }
}
