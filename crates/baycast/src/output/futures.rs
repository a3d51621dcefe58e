//! What could be done about a heap, in rows to read side by side.

use std::fmt::Write;

use baycast_model::futures::{Future, SeedsLeft, Step};
use jiff::civil::Date;

use super::dates;
use super::words;

/// Widths of the columns of a step, of when beds can be dressed and of how much earlier that is.
const WIDTHS: [usize; 3] = [22, 20, 16];

/// A row for each future under a header, all after `label` and from column `indent` on; nothing where there are none.
/// Openings after `until` are not dated.
pub fn rows(label: &str, indent: usize, futures: &[Future], until: Date) -> String {
    if futures.is_empty() {
        return String::new();
    }
    let header = ["", "beds from", "days earlier", "m³", "seeds alive"].map(String::from);
    let cells = futures.iter().map(|future| {
        let Future { step, on: _, opens, earlier_days, volume_m3, seeds } = future;
        let from = opens.p50.map_or_else(|| format!("after {}", dates::full(until)), dates::full);
        let earlier = match earlier_days {
            _ if *step == Step::Leave => String::new(),
            Some(days) => {
                format!(
                    "{} ({} to {})",
                    words::whole(days.p50),
                    words::whole(days.p10),
                    words::whole(days.p90)
                )
            }
            None => "unknown".into(),
        };
        [words::step(*step).into(), from, earlier, format!("{:.2}", volume_m3.p50), alive(seeds)]
    });
    let mut out = String::new();
    for (index, [step, from, earlier, volume_m3, seeds]) in std::iter::once(header).chain(cells).enumerate() {
        let label = if index == 0 { label } else { "" };
        let [of_step, of_from, of_earlier] = WIDTHS;
        let line = format!(
            "{label:indent$}{step:of_step$}{from:of_from$}{earlier:of_earlier$}{volume_m3:>4}  {seeds}"
        );
        let _ = writeln!(out, "{}", line.trim_end());
    }
    out
}

/// Shares of seeds alive: easily killed, middling, hard-seeded.
fn alive(seeds: &SeedsLeft) -> String {
    let SeedsLeft { soft_fraction, medium_fraction, hard_fraction } = *seeds;
    let share = |fraction: f64| match fraction * 100.0 {
        few if few < 1.0 => "<1".to_owned(),
        some => words::whole(some),
    };
    format!("{}/{}/{} %", share(soft_fraction), share(medium_fraction), share(hard_fraction))
}

#[cfg(test)]
mod tests {
    use super::super::paragraph::WIDTH;
    use super::super::sample;
    use super::*;

    #[test]
    fn each_future_has_its_row_and_all_columns_stand_one_above_the_other() {
        let estimate = sample::estimate();
        let text = rows("  What if", 18, &estimate.futures, jiff::civil::date(2027, 9, 15));
        let lines: Vec<&str> = text.lines().collect();
        assert_eq!(
            lines,
            [
                "  What if                               beds from           days earlier      m³  seeds alive",
                "                  leave it              2 Oct 2026                          0.60  <1/3/61 %",
                "                  turn it now           20 Sep 2026         12 (3 to 20)    0.58  <1/<1/50 %",
                "                  turn it in two weeks  after 15 Sep 2027   unknown         0.60  <1/2/55 %",
            ]
        );
        assert!(lines.iter().all(|line| line.chars().count() <= WIDTH));
        assert_eq!(rows("  What if", 18, &[], jiff::civil::date(2027, 9, 15)), "");
    }
}
