//! What a grower reads: a block for each batch, then the cautions once.

use std::collections::BTreeMap;
use std::fmt::Write;

use baycast_model::estimate::{Estimate, HeapNow, Maturity, Spread};
use baycast_model::sanitisation::{RuleFinding, Verdict};
use baycast_model::window::Window;
use jiff::civil::Date;

use super::dates;
use super::futures;
use super::paragraph::{WIDTH, apart, labelled};
use super::words;

/// Where the text of a line begins.
const INDENT: usize = 18;

/// The block of one batch.
pub fn block(estimate: &Estimate) -> String {
    let mut out = apart(
        &format!("{}  ·  {}", estimate.bay, estimate.batch),
        &format!("{}  ·  {}", words::stage(estimate.stage).to_uppercase(), dates::full(estimate.as_of)),
    );
    let _ = writeln!(out, "{}", "─".repeat(WIDTH));
    if let (Some(now), Some(breakdown)) = (&estimate.now, &estimate.maturity) {
        out += &labelled("  Heat", INDENT, &heat(now, estimate.thermal_time.degree_days_c));
        out += &labelled("  In the bay", INDENT, &amount(now));
        out += &labelled("  Moisture", INDENT, &moisture(now.moisture_fraction));
        out += &labelled("  Maturity", INDENT, &maturity(breakdown, now.c_to_n));
        for window in &estimate.windows {
            let label = format!("  {}", words::purpose(window.for_use));
            out += &labelled(&label, INDENT, &readiness(window, estimate));
        }
        out += &labelled("  Readings", INDENT, &readings(estimate));
        out += &labelled("  Rests on", INDENT, &trust(estimate));
        out += &look(estimate);
        out += &seeds(estimate);
        out += &rules(&estimate.sanitisation);
        out += &futures::rows("  What if", INDENT, &estimate.futures, horizon(estimate));
    } else {
        out += &labelled("  In the bay", INDENT, "nothing is left of this batch.");
    }
    for advice in &estimate.advice {
        let label = format!("  ► {}", words::urgency(advice.urgency));
        let text = format!("{} {}", sentence(&advice.action), sentence(&advice.reason));
        out += &labelled(&label, INDENT, &dates::spelt(&text));
    }
    out += &sources(estimate);
    if !estimate.assumptions.is_empty() {
        let assumed: Vec<_> = tallied(estimate.assumptions.iter().map(|each| each.assumed.clone()));
        out += &labelled("  Assumed", INDENT, &sentence(&assumed.join("; ")));
    }
    out
}

/// The cautions, once.
pub fn footer(cautions: &[String]) -> String {
    if cautions.is_empty() {
        return String::new();
    }
    let mut out = format!("\nBear in mind\n{}\n", "─".repeat(WIDTH));
    for caution in cautions {
        out += &labelled("  •", 4, &sentence(caution));
    }
    out
}

fn heat(now: &HeapNow, degree_days_c: f64) -> String {
    format!(
        "core {:.0} °C ({}), edge {:.0} °C ({}), air {:.0} °C; {:.0} degree-days",
        now.core_c.p50,
        spread(now.core_c, 1.0, 0),
        now.edge_c.p50,
        spread(now.edge_c, 1.0, 0),
        now.air_c,
        degree_days_c,
    )
}

fn amount(now: &HeapNow) -> String {
    format!(
        "{:.2} m³ ({}), {} full, {:.0} kg",
        now.volume_m3.p50,
        spread(now.volume_m3, 1.0, 2),
        words::percent(now.fill_fraction),
        now.mass_kg
    )
}

fn moisture(moisture: Spread) -> String {
    format!(
        "{}, {} ({})",
        words::moisture(moisture.p50),
        words::percent(moisture.p50),
        spread(moisture, 100.0, 0)
    )
}

fn maturity(maturity: &Maturity, c_to_n: f64) -> String {
    let index = maturity.index;
    format!(
        "{} broken down ({}); {}; C:N {:.0}",
        words::percent(index.p50),
        spread(index, 100.0, 0),
        words::id(&maturity.respiration_class).replace('_', " "),
        c_to_n,
    )
}

/// When a use opens, what it waits for, until when and how much is left by then.
fn readiness(window: &Window, estimate: &Estimate) -> String {
    let (as_of, until) = (estimate.as_of, horizon(estimate));
    let mut text = dates::opening(window.opens, as_of, until);
    if window.opens.p50.is_none_or(|opens| opens > as_of) {
        let _ = write!(text, "; waits for {}", words::waits_for(window.binding));
    } else if window.open_now_probability < 0.9 {
        let _ = write!(text, "; open today with {} likelihood", words::percent(window.open_now_probability));
    }
    for by in &window.ready_by {
        let _ = write!(text, "; {} likely by {}", words::percent(by.probability), dates::full(by.date));
    }
    match (window.best_by.p50, window.volume_at_opening_m3) {
        (Some(best_by), _) if best_by < as_of => {
            let _ = write!(text, "; past its best since {}", dates::full(best_by));
        }
        (Some(best_by), _) => {
            let _ = write!(text, "; best by {}", dates::full(best_by));
            if let Some(left_m3) = volume_on(estimate, best_by) {
                let _ = write!(text, ", {left_m3:.2} m³ left then");
            }
        }
        (None, Some(volume_m3)) if window.opens.p50.is_some() => {
            let _ = write!(text, "; {volume_m3:.2} m³ when it opens");
        }
        (None, _) => {}
    }
    text
}

/// The last day that the estimate looks at.
fn horizon(estimate: &Estimate) -> Date {
    estimate.forecast.last().map_or(estimate.as_of, |point| point.date)
}

/// Volume expected on a day, m³, between the forecast's points; none outside them.
fn volume_on(estimate: &Estimate, day: Date) -> Option<f64> {
    let points = &estimate.forecast;
    let after = points.iter().position(|point| point.date >= day)?;
    let late = points[after];
    let Some(early) = after.checked_sub(1).map(|index| points[index]) else {
        return (late.date == day).then_some(late.volume_m3.p50);
    };
    let days = |from: Date, to: Date| f64::from((to - from).get_days());
    let share = days(early.date, day) / days(early.date, late.date);
    Some(early.volume_m3.p50 + share * (late.volume_m3.p50 - early.volume_m3.p50))
}

/// Living seeds by class, each by its hardiest species.
fn seeds(estimate: &Estimate) -> String {
    let mut hardiest = BTreeMap::new();
    for seed in &estimate.seeds {
        let worst = hardiest.entry(seed.tolerance).or_insert(seed);
        if seed.p50_fraction > worst.p50_fraction {
            *worst = seed;
        }
    }
    if hardiest.is_empty() {
        return String::new();
    }
    let classes: Vec<String> = hardiest
        .values()
        .map(|seed| {
            let (middle, most) = (words::alive(seed.p50_fraction), words::alive(seed.p90_fraction));
            let most = if most == middle { String::new() } else { format!(" (perhaps {most})") };
            format!("{} {middle}{most}", words::tolerance(seed.tolerance))
        })
        .collect();
    labelled("  Weed seeds", INDENT, &format!("expected alive: {}", classes.join(", ")))
}

/// Rules that the readings meet, and those that they don't show.
fn rules(findings: &[RuleFinding]) -> String {
    let mut out = String::new();
    let met: Vec<String> = findings
        .iter()
        .filter(|finding| finding.verdict == Verdict::Met)
        .map(|finding| match (finding.from, finding.to) {
            (Some(from), Some(to)) => format!("{} ({})", finding.rule.name(), dates::stretch(from, to)),
            _ => finding.rule.name().to_owned(),
        })
        .collect();
    let rules = findings.iter().filter(|finding| finding.verdict != Verdict::IndicativeOnly).count();
    let named = |verdict: Verdict| {
        let names: Vec<_> = findings
            .iter()
            .filter(|finding| finding.verdict == verdict)
            .map(|each| each.rule.name())
            .collect();
        if names.len() == rules { format!("any of the {rules} rules looked at") } else { names.join("; ") }
    };
    let rows = [
        ("readings meet ", met.join("; ")),
        ("readings fall short of ", named(Verdict::NotMet)),
        ("too few readings to tell for ", named(Verdict::NotEnoughReadings)),
    ];
    let mut label = "  Heat rules";
    for (lead, names) in rows {
        if rules > 0 && !names.is_empty() {
            out += &labelled(label, INDENT, &format!("{lead}{names}"));
            label = "";
        }
    }
    out
}

/// How much of the time readings cover, and which of them are doubted, by reason.
fn readings(estimate: &Estimate) -> String {
    let mut by_reason: Vec<([&'static str; 2], Date, Date, usize)> = Vec::new();
    for suspect in &estimate.suspect_readings {
        let fate = if suspect.weight > 0.0 { "counted for less" } else { "set aside" };
        let kind = [fate, words::suspicion(suspect.reason)];
        let day = suspect.at.date();
        match by_reason.iter_mut().find(|entry| entry.0 == kind) {
            Some(entry) => *entry = (kind, entry.1.min(day), entry.2.max(day), entry.3 + 1),
            None => by_reason.push((kind, day, day, 1)),
        }
    }
    let time = &estimate.thermal_time;
    let mut text = format!(
        "cover {} of the time, {} of the degree-days",
        words::percent(time.measured_fraction),
        words::percent(time.measured_degree_days_fraction),
    );
    for ([fate, reason], from, to, count) in by_reason {
        let _ = write!(text, "; {count} {fate}, {}: {reason}", dates::stretch(from, to));
    }
    text
}

/// What the ranges rest on, and why.
fn trust(estimate: &Estimate) -> String {
    let learned = &estimate.learned;
    format!("{}. {}", words::trust(learned.trust), sentence(&learned.reason))
}

/// What to look at next, and what it would be worth.
fn look(estimate: &Estimate) -> String {
    let Some(look) = estimate.learned.next_look else { return String::new() };
    let text = format!(
        "{}, on {}: when beds open is then known within {} days in place of {}",
        words::look(look.at),
        dates::full(look.on),
        words::whole(look.range_then_days),
        words::whole(look.range_now_days),
    );
    labelled("  Look next", INDENT, &text)
}

/// Where the heap came from, where it is of more than one batch.
fn sources(estimate: &Estimate) -> String {
    if estimate.provenance.len() < 2 {
        return String::new();
    }
    let shares: Vec<String> = estimate
        .provenance
        .iter()
        .map(|source| format!("{} {}", words::percent(source.share), source.batch))
        .collect();
    labelled("  Made of", INDENT, &shares.join(", "))
}

/// Equal texts once each, with their number.
fn tallied(texts: impl Iterator<Item = String>) -> Vec<String> {
    let mut seen: Vec<(String, usize)> = Vec::new();
    for text in texts {
        match seen.iter_mut().find(|(earlier, _)| *earlier == text) {
            Some((_, count)) => *count += 1,
            None => seen.push((text, 1)),
        }
    }
    seen.into_iter()
        .map(|(text, count)| if count == 1 { text } else { format!("{text} ({count} times)") })
        .collect()
}

/// The outer values of a range.
fn spread(spread: Spread, scale: f64, decimals: usize) -> String {
    format!("{:.decimals$} to {:.decimals$}", spread.p10 * scale, spread.p90 * scale)
}

/// A text with a capital and a full stop.
pub fn sentence(text: &str) -> String {
    let text = text.trim();
    let mut letters = text.chars();
    let first = letters.next().map(|letter| letter.to_uppercase().to_string()).unwrap_or_default();
    let end = if text.ends_with(['.', '!', '?']) || text.is_empty() { "" } else { "." };
    format!("{first}{}{end}", letters.as_str())
}

#[cfg(test)]
mod tests {
    use super::super::sample;
    use baycast_model::estimate::Stage;

    use super::*;

    #[test]
    fn a_block_reads_like_a_note_to_the_grower() {
        let text = block(&sample::estimate());
        assert!(text.lines().all(|line| line.chars().count() <= WIDTH), "{text}");
        let flat = text.split_whitespace().collect::<Vec<_>>().join(" ");
        for part in [
            "pallet-3 · spring, first",
            "READY · 15 Sep 2026",
            "core 21 °C (18 to 24), edge 18 °C (15 to 20), air 15 °C; 4200 degree-days",
            "83 % broken down (78 to 87); stable; C:N 14",
            "0.61 m³ (0.55 to 0.66), 56 % full, 412 kg",
            "about right, 57 % (53 to 61)",
            "lay as mulch open since 20 Aug 2026 (14 Aug to 20 Sep); open today with 85 % likelihood; \
             best by 12 Nov 2026, 0.56 m³ left then",
            "spread on beds from 2 Oct 2026 (20 Sep to after 15 Nov); waits for it to be drier; \
             40 % likely by 1 Oct 2026; 75 % likely by 1 Nov 2026; \
             0.60 m³ when it opens",
            "expected alive: easily killed under 1 % (perhaps 2 %), hard-seeded 61 % (perhaps 80 %)",
            "readings meet 40 CFR 503 PSRP (14 Mar to 18 Mar 2026)",
            "readings fall short of 40 CFR 503 PFRP windrow",
            "too few readings to tell for PAS 100",
            "► this week Spread it, or cover it. It shrinks from 1 Oct 2026.",
            "cover 72 % of the time, 81 % of the degree-days; \
             2 set aside, 25 Apr to 26 Apr 2026: the probe kept one value; \
             1 counted for less, 2 May 2026: the probe seems in the shell",
            "Rests on readings that disagree. 3 of 9 readings are doubted.",
            "Look next moisture, measured, on 16 Sep 2026: when beds open is then known within 25 days in place of 31",
            "What if beds from days earlier m³ seeds alive leave it 2 Oct 2026",
            "40 % spring, first, 60 % spring, second",
            "A layer a tenth of the bay high (2 times).",
        ] {
            assert!(flat.contains(part), "`{part}` is missing from\n{text}");
        }
        assert!(!text.contains("equation"), "a comparison is no rule met or missed");
    }

    #[test]
    fn an_empty_bay_claims_nothing() {
        let estimate = Estimate { stage: Stage::Emptied, now: None, maturity: None, ..sample::estimate() };
        let text = block(&estimate);
        assert!(text.contains("nothing is left"));
        assert!(!text.contains("°C") && !text.contains("mulch"), "{text}");
    }
}
