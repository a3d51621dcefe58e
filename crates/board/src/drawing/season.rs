//! A strip of a season: when windows open and until when they are at their best, as ranges over the months.

use std::fmt::Write;

use baycast_model::moment::date_to_days;
use baycast_model::window::{DateSpread, Use};
use jiff::Span as Time;
use jiff::civil::Date;

use super::{Short, Span, escaped};
use crate::words;

/// Months shown from the current one on.
const MONTHS: i64 = 13;
/// Height of a use's lane, and its middle.
const LANE: f64 = 18.0;
/// Half the height of the bar of an open window.
const HALF: f64 = 6.0;

/// The months that a strip shows.
#[derive(Clone, Copy, Debug)]
pub struct Season {
    first: Date,
    months: i64,
    today: Date,
    span: Span,
}

/// A window as it is drawn.
#[derive(Clone, Copy, Debug)]
pub struct Bar<'a> {
    /// For which use.
    pub for_use: Use,
    /// When it opens.
    pub opens: &'a DateSpread,
    /// Until when it is at its best.
    pub best_by: &'a DateSpread,
}

impl Season {
    /// The year that begins with today's month.
    pub fn of(today: Date) -> Self {
        Self::months_from(today, MONTHS)
    }

    /// The months from a day's to that which a plan reaches into, `until` being the day after its last.
    pub fn until(today: Date, until: Date) -> Self {
        let months = |day: Date| 12 * i64::from(day.year()) + i64::from(day.month());
        Self::months_from(today, (months(until) - months(today) + 1).max(1))
    }

    fn months_from(today: Date, months: i64) -> Self {
        let first = today.first_of_month();
        let end = first.saturating_add(Time::new().months(months));
        Self { first, months, today, span: Span { from: date_to_days(first), to: date_to_days(end) } }
    }

    /// Where a day lies, percent.
    pub(super) fn at(&self, date: Date) -> f64 {
        self.span.percent(date_to_days(date))
    }

    /// The present day.
    pub(super) fn today(&self) -> Date {
        self.today
    }

    /// First days of the months.
    fn months(&self) -> impl Iterator<Item = Date> + '_ {
        (0..self.months).map(|month| self.first.saturating_add(Time::new().months(month)))
    }

    /// The names of the months over the strips, and today.
    pub fn axis(&self) -> String {
        let mut out = String::from(r#"<svg class="axis" width="100%" height="26" aria-hidden="true">"#);
        for (index, month) in self.months().enumerate() {
            let name = words::MONTHS[usize::from(month.month().unsigned_abs()) - 1];
            // On a narrow page every other name is left out.
            let class = if index % 2 == 1 { r#" class="odd""# } else { "" };
            let _ = write!(out, r#"<text{class} x="{}%" dx="4" y="17">{name}</text>"#, Short(self.at(month)));
        }
        let today = Short(self.at(self.today));
        let _ = write!(
            out,
            r#"<svg class="peg" x="{today}%" width="1" overflow="visible"><path d="M-6 18h12l-6 8z"/></svg><defs><g id="months">"#
        );
        for month in self.months().skip(1) {
            let at = Short(self.at(month));
            let _ = write!(out, r#"<line class="grid" x1="{at}%" x2="{at}%" y2="100%"/>"#);
        }
        out.push_str("</g></defs></svg>");
        out
    }

    /// One batch's windows; `told` is what they say in words.
    pub fn strip(&self, bars: &[Bar<'_>], told: &str) -> String {
        let height = LANE * bars.len() as f64;
        let mut out = String::with_capacity(1200);
        let _ = write!(
            out,
            r#"<svg class="strip" width="100%" height="{height}" role="img" aria-label="{}">"#,
            escaped(told)
        );
        // The first days of months, the same for all strips, which `axis` has; behind the bars.
        out.push_str(r##"<use href="#months"/>"##);
        for (lane, bar) in bars.iter().enumerate() {
            self.bar(&mut out, bar, LANE * (lane as f64 + 0.5));
        }
        let today = Short(self.at(self.today));
        let _ = write!(out, r#"<line class="today" x1="{today}%" x2="{today}%" y2="{height}"/></svg>"#);
        out
    }

    /// A wedge that widens over the days on which it may open, a pale bar while it likely is, a full one once nine in ten
    /// are, and a line at the end of its best.
    fn bar(&self, out: &mut String, bar: &Bar<'_>, y: f64) {
        let Bar { for_use, opens, best_by } = bar;
        let class = lane(*for_use);
        let Some(early) = opens.p10 else { return };
        let late = opens.p90.map_or(100.0, |late| self.at(late));
        let (early, open) = (self.at(early), opens.p50.map(|open| self.at(open)));
        let best = best_by.p50.map_or(100.0, |best| self.at(best));
        let wide = open.unwrap_or(100.0);
        let _ = write!(out, r#"<g class="{class}">"#);
        if wide > early {
            let _ = write!(
                out,
                r#"<svg x="{}%" y="{}" width="{}%" height="{}" viewBox="0 0 9 9" preserveAspectRatio="none"><path class="may" d="M0 4.5L9 0V9z"/></svg>"#,
                Short(early),
                Short(y - HALF),
                Short(wide - early),
                Short(2.0 * HALF),
            );
        }
        if let Some(open) = open {
            let sure = late.clamp(open, best.max(open));
            for (class, from, to) in [("likely", open, sure), ("open", sure, best)] {
                if to > from {
                    let _ = write!(
                        out,
                        r#"<rect class="{class}" x="{}%" y="{}" width="{}%" height="{}"/>"#,
                        Short(from),
                        Short(y - HALF),
                        Short(to - from),
                        Short(2.0 * HALF),
                    );
                }
            }
            if best_by.p50.is_some() && best < 100.0 {
                let _ = write!(
                    out,
                    r#"<line class="best" x1="{x}%" x2="{x}%" y1="{}" y2="{}"/>"#,
                    Short(y - HALF - 2.0),
                    Short(y + HALF + 2.0),
                    x = Short(best),
                );
            }
        }
        out.push_str("</g>");
    }
}

/// The class of a use's lane.
fn lane(for_use: Use) -> &'static str {
    match for_use {
        Use::Mulch => "mulch",
        Use::BedDressing => "beds",
        Use::Potting => "potting",
    }
}

#[cfg(test)]
mod tests {
    use jiff::civil::date;

    use super::*;

    #[test]
    fn a_window_is_a_wedge_a_bar_and_an_end() {
        let today = date(2026, 1, 11);
        let season = Season::of(today);
        let days = |p10, p50, p90| DateSpread { p10, p50, p90 };
        // 396 days from January to January; 99 of them are a quarter.
        let after = |days: i64| Some(date(2026, 1, 1).saturating_add(Time::new().days(days)));
        let bar = Bar {
            for_use: Use::BedDressing,
            opens: &days(after(99), after(198), after(297)),
            best_by: &days(after(240), after(396), None),
        };
        let strip = season.strip(&[bar], "beds <open>");
        assert!(strip.contains(r#"<svg x="25%" y="3" width="25%""#), "the wedge: {strip}");
        assert!(strip.contains(r#"class="likely" x="50%" y="3" width="25%""#), "where it likely is: {strip}");
        assert!(strip.contains(r#"class="open" x="75%" y="3" width="25%""#), "where it is: {strip}");
        let sooner = Bar { best_by: &days(None, after(297), None), ..bar };
        let strip_of_sooner = season.strip(&[sooner], "");
        assert!(strip_of_sooner.contains(r#"class="best" x1="75%""#), "its end: {strip_of_sooner}");
        assert!(!strip_of_sooner.contains(r#"class="open""#), "never surely open: {strip_of_sooner}");
        assert!(strip.contains("beds &lt;open&gt;"), "told in words, as text: {strip}");
    }

    #[test]
    fn a_window_that_may_never_open_has_no_bar() {
        let season = Season::of(date(2026, 1, 11));
        let never = DateSpread { p10: None, p50: None, p90: None };
        let drawn =
            |opens: &DateSpread| season.strip(&[Bar { for_use: Use::Mulch, opens, best_by: &never }], "");
        assert!(!drawn(&never).contains(r#"class="mulch""#));
        let perhaps = DateSpread { p10: Some(date(2026, 6, 1)), p50: None, p90: None };
        assert!(drawn(&perhaps).contains(r#"class="may""#) && !drawn(&perhaps).contains(r#"class="open""#));
    }

    #[test]
    fn every_month_has_its_name() {
        let axis = Season::of(date(2026, 11, 26)).axis();
        assert_eq!(axis.matches("<text").count(), 13);
        assert!(axis.contains(r#"<text x="0%" dx="4" y="17">Nov</text>"#), "{axis}");
    }
}
