//! What was measured, beside what.

use std::fmt;

/// Rows, told one by one as they come and all together at the end.
#[derive(Default)]
pub struct Table(Vec<[String; 5]>);

impl Table {
    /// Takes in what was measured by turns beside its baseline, in one unit: the middle of each and of their ratios. `asked` is
    /// what the ratio is aimed at.
    pub fn add(
        &mut self,
        what: &str,
        own: &[f64],
        beside: &[f64],
        unit: &str,
        beside_what: &str,
        asked: &str,
    ) {
        let ratios = own.iter().zip(beside).map(|(own, beside)| own / beside).collect();
        let row = [
            what.to_owned(),
            format!("{} {unit}", shown(median(own.to_vec()))),
            format!("{} {unit}, {beside_what}", shown(median(beside.to_vec()))),
            shown(median(ratios)),
            asked.to_owned(),
        ];
        println!("{}", row.join(" | "));
        self.0.push(row);
    }
}

/// Three figures of a number.
fn shown(value: f64) -> String {
    let decimals = (2 - value.abs().max(1e-9).log10().floor() as i32).clamp(0, 6);
    format!("{value:.*}", decimals as usize)
}

impl fmt::Display for Table {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let head = ["what", "measured", "beside it", "ratio", "asked"].map(str::to_owned);
        let rows = || std::iter::once(&head).chain(&self.0);
        let width = |column: usize| rows().map(|row| row[column].chars().count()).max().unwrap_or_default();
        let widths: [usize; 5] = std::array::from_fn(width);
        for (number, row) in rows().enumerate() {
            let cells: Vec<String> =
                row.iter().zip(widths).map(|(cell, width)| format!("{cell:<width$}")).collect();
            writeln!(f, "| {} |", cells.join(" | "))?;
            if number == 0 {
                writeln!(f, "|{}|", widths.map(|width| "-".repeat(width + 2)).join("|"))?;
            }
        }
        Ok(())
    }
}

/// The middle one.
pub fn median(mut values: Vec<f64>) -> f64 {
    values.sort_by(f64::total_cmp);
    values[values.len() / 2]
}
