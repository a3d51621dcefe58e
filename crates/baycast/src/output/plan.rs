//! A season's plan as a head gardener pins it up.

use std::fmt::Write;

use baycast_model::estimate::Spread;
use baycast_model::plan::answer::{Action, Conflict, DemandOutlook, Plan, Step};
use jiff::civil::Date;

use super::paragraph::{WIDTH, apart, labelled};
use super::table::{footer, sentence};
use super::{dates, words};

/// Where the text of a step begins.
const STEP_INDENT: usize = 12;
/// Where any other text begins.
const INDENT: usize = 20;

/// The least that two decimals show, m³.
const SHOWN_M3: f64 = 0.005;

/// The whole answer.
pub fn table(plan: &Plan) -> String {
    let mut out = apart("Plan for the bays", &dates::stretch(plan.from, last_day(plan)));
    out += &rule();
    out += &steps(&plan.steps);
    if !plan.demands.is_empty() {
        out += &heading("For the beds");
        plan.demands.iter().for_each(|demand| out += &bed(demand));
    }
    if !plan.conflicts.is_empty() {
        out += &heading("What does not fit");
        plan.conflicts.iter().for_each(|own| out += &conflict(own));
    }
    out += &heading("Ready for beds, what was spread by then counted in");
    for expected in &plan.expected {
        let label = format!("  by {}", dates::full(expected.by));
        out += &labelled(&label, INDENT, &format!("{}.", range(expected.volume_m3, "")));
    }
    out.push('\n');
    out += &labelled("  How good", INDENT, &how_good(plan));
    for assumption in &plan.assumptions {
        out += &labelled("  Assumed", INDENT, &dates::spelt(&sentence(&assumption.assumed)));
    }
    out + &footer(&plan.cautions)
}

/// The last day planned.
fn last_day(plan: &Plan) -> Date {
    plan.until.yesterday().unwrap_or(plan.until)
}

fn rule() -> String {
    "─".repeat(WIDTH) + "\n"
}

fn heading(text: &str) -> String {
    format!("\n{text}\n{}", rule())
}

/// What to do, week by week, with a box to tick.
fn steps(steps: &[Step]) -> String {
    if steps.is_empty() {
        return "  Nothing is to be done.\n".into();
    }
    let mut out = String::new();
    for week in steps.chunk_by(|one, next| one.on == next.on) {
        let _ = writeln!(out, "Week of {}", dates::full(week[0].on));
        for step in week {
            let reason = dates::spelt(&sentence(&step.reason));
            let text = format!("{}. {reason}", task(step));
            out += &labelled(&format!("  □ {}", action(step.action)), STEP_INDENT, &text);
        }
    }
    out
}

fn action(action: Action) -> &'static str {
    match action {
        Action::Spread => "take",
        Action::Empty => "empty",
        Action::Close => "close",
        Action::Turn => "turn",
        Action::Fill => "fill",
        Action::Cure => "leave",
        Action::Cover => "cover",
    }
}

/// Where, how much of it and of which batch.
fn task(step: &Step) -> String {
    let mut text = format!("bay {}", step.bay);
    if let Some(to_bay) = &step.to_bay {
        let _ = write!(text, " into bay {to_bay}");
    }
    if let (Some(volume_m3), Some(barrows)) = (step.volume_m3, step.barrows) {
        let _ = write!(text, ": {}", amount(volume_m3, barrows));
    }
    let _ = write!(text, " of `{}`", step.batch);
    if let Some(with) = &step.with_batch {
        let _ = write!(text, " together with `{with}`");
    }
    text
}

/// A volume in both units.
fn amount(volume_m3: f64, barrows: f64) -> String {
    let decimals = usize::from(barrows < 9.95);
    format!("{volume_m3:.2} m³ ({barrows:.decimals$} barrows)")
}

/// A volume with its range in brackets; nothing has no sign.
fn range(volume_m3: Spread, word: &str) -> String {
    let [p10, p50, p90] = [volume_m3.p10, volume_m3.p50, volume_m3.p90].map(|volume| volume + 0.0);
    format!("{p50:.2} m³{word} ({p10:.2} to {p90:.2})")
}

/// What a bed gets.
fn bed(outlook: &DemandOutlook) -> String {
    let DemandOutlook { demand, for_use, by, needed_m3, expected_m3, short_m3, short_barrows, taken_from } =
        outlook;
    let mut text = format!(
        "{demand} ({}): {needed_m3:.2} m³ needed, {}",
        words::purpose(*for_use),
        range(*expected_m3, " expected")
    );
    if *short_m3 >= SHOWN_M3 {
        let _ = write!(text, "; SHORT by {}", amount(*short_m3, *short_barrows));
    }
    for draw in taken_from {
        let likely = words::percent(draw.ready_probability);
        let _ = write!(
            text,
            "; {:.2} m³ of `{}`, ready with {likely} likelihood",
            draw.volume_m3.p50, draw.batch
        );
    }
    labelled(&format!("  by {}", dates::full(*by)), INDENT, &(text + "."))
}

/// What does not fit, and each thing that would mend it.
fn conflict(conflict: &Conflict) -> String {
    let label = format!("  ► {}", dates::full(conflict.on));
    let mut out = labelled(&label, INDENT, &dates::spelt(&sentence(&conflict.text)));
    for (index, remedy) in conflict.remedies.iter().enumerate() {
        let label = if index == 0 { "    to mend it" } else { "    or" };
        out += &labelled(label, INDENT, &dates::spelt(&sentence(&remedy.text)));
    }
    out
}

/// How much better any other plan could be.
fn how_good(plan: &Plan) -> String {
    let missing = words::percent(plan.optimum.gap_fraction);
    if missing == words::percent(0.0) {
        "no other plan is worth more.".into()
    } else {
        format!("at most {missing} is missing of what the best of all plans could be worth.")
    }
}
