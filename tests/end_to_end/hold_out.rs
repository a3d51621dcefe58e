//! Every published series held out: fitted to its first third, what of the rest comes true.
//!
//! One command measures and, with `BAYCAST_SERIES=write`, puts the tables into `tests/series/README.md`:
//! `BAYCAST_SERIES=write cargo test -p baycast-tests hold_out -- --nocapture`.

use std::fmt::Write;
use std::fs;

use crate::binary::repository;
use crate::published::{Course, Reading, SERIES, Series, mean, rms, warmest};

/// Where the tables stand in the README.
const MARKS: [&str; 2] = ["<!-- held out: begin -->\n", "<!-- held out: end -->\n"];

/// Criteria of Mason 2006, Waste Management 26:3-21 (abstract read): maximum, average and peak temperature to within 5, 2
/// and 2 °C, and time to the peak to within 8 h. The abstract does not define them. Taken here: the greatest difference at
/// any reading, the difference of the means over all readings, that of the highest points, and the time between these.
const CRITERIA: [f64; 4] = [5.0, 2.0, 2.0, 8.0];

/// The four differences of a middle course from the field's readings, model less field: °C, °C, °C, h.
fn mason(course: &Course, field: &[Reading]) -> [f64; 4] {
    let off: Vec<f64> = errors(course, field);
    let greatest =
        off.iter().copied().max_by(|one, other| one.abs().total_cmp(&other.abs())).expect("a reading");
    let (highest, warmest) = (course.peak(field[field.len() - 1].day), warmest(field));
    let peak = highest.temperature_c - warmest.temperature_c;
    [greatest, mean(&off), peak, (highest.day - warmest.day) * 24.0]
}

/// Middle course less reading, °C.
fn errors(course: &Course, field: &[Reading]) -> Vec<f64> {
    field.iter().map(|reading| course.at(reading.day)[1] - reading.temperature_c).collect()
}

/// Days in which the memory of an error falls to 1/e, of an error that wanders about zero (an Ornstein-Uhlenbeck process),
/// from the correlation of one reading's error with the next; none where they don't agree.
fn memory_days(errors: &[f64], field: &[Reading]) -> Option<f64> {
    let products: f64 = errors.windows(2).map(|pair| pair[0] * pair[1]).sum();
    let squares: f64 =
        errors.windows(2).map(|pair| f64::midpoint(pair[0] * pair[0], pair[1] * pair[1])).sum();
    let step = (field[field.len() - 1].day - field[0].day) / (field.len() - 1) as f64;
    (products > 0.0).then(|| -step / (products / squares).ln())
}

/// What was measured on one series.
struct Row {
    name: &'static str,
    version: String,
    /// Readings fitted and held out.
    readings: [usize; 2],
    /// Errors over the rest: last reading held, materials alone, fitted.
    held: Vec<f64>,
    prior: Vec<f64>,
    fitted: Vec<f64>,
    /// Share of the rest inside P10-P90 of materials alone, and fitted.
    inside: [f64; 2],
    /// Mason's differences, before any reading and after the first third.
    mason: [[f64; 4]; 2],
    /// Errors of materials alone at all readings, and the memories of these and of the fitted errors over the rest, days.
    all: Vec<f64>,
    memory: [Option<f64>; 2],
}

impl Row {
    fn of(series: &Series) -> Self {
        let field = series.readings();
        let third = field.len().div_ceil(3);
        let (known, rest) = field.split_at(third);
        let estimate = series.estimate(third, third - 1);
        let fit = series.course(&estimate);
        let blind = series.course(&series.estimate(0, third - 1));
        let share = |course: &Course| {
            let inside = rest.iter().filter(|reading| {
                let [low, _, high] = course.at(reading.day);
                (low..=high).contains(&reading.temperature_c)
            });
            inside.count() as f64 / rest.len() as f64
        };
        let last = known[third - 1].temperature_c;
        let (all, fitted) = (errors(&blind, &field), errors(&fit, rest));
        Self {
            name: series.name,
            version: estimate["model_version"].as_str().expect("a version").to_owned(),
            readings: [third, rest.len()],
            held: rest.iter().map(|reading| last - reading.temperature_c).collect(),
            prior: errors(&blind, rest),
            inside: [share(&blind), share(&fit)],
            mason: [mason(&blind, &field), mason(&fit, &field)],
            memory: [memory_days(&all, &field), memory_days(&fitted, rest)],
            all,
            fitted,
        }
    }

    /// Criteria of Mason 2006 that are met, before any reading and after the first third.
    fn met(&self) -> [usize; 2] {
        self.mason.map(|differences| {
            let met = differences.iter().zip(CRITERIA).filter(|(difference, most)| difference.abs() <= *most);
            met.count()
        })
    }

    fn beats_prior(&self) -> bool {
        rms(&self.fitted) < rms(&self.prior)
    }

    fn beats_last_reading(&self) -> bool {
        rms(&self.fitted) < rms(&self.held)
    }
}

/// A difference, bold where it meets its criterion.
fn marked(difference: f64, most: f64) -> String {
    let figures = if most > 5.0 { format!("{difference:+.0}") } else { format!("{difference:+.1}") };
    if difference.abs() <= most { format!("**{figures}**") } else { figures }
}

/// The tables, as they stand in the README.
fn tables(rows: &[Row]) -> Result<String, std::fmt::Error> {
    let mut text = format!("Measured with model {}.\n\n", rows[0].version);
    text += "| series | readings fitted, held out | last reading held: rms (bias) | materials alone: rms (bias) \
             | fitted to the first third: rms (bias) | in P10-P90, alone; fitted | lost to |\n|---|---|---|---|---|---|---|\n";
    for row in rows {
        let [known, rest] = row.readings;
        let error = |errors: &[f64]| format!("{:.1} ({:+.1})", rms(errors), mean(errors));
        let [alone, fitted] = row.inside.map(|share| share * 100.0);
        let lost: Vec<&str> =
            [(row.beats_last_reading(), "last reading"), (row.beats_prior(), "materials alone")]
                .into_iter()
                .filter_map(|(won, rival)| (!won).then_some(rival))
                .collect();
        let (held, prior, fit) = (error(&row.held), error(&row.prior), error(&row.fitted));
        let lost = lost.join(", ");
        writeln!(
            text,
            "| `{}` | {known}, {rest} | {held} | {prior} | {fit} | {alone:.0} %; {fitted:.0} % | {lost} |",
            row.name
        )?;
    }
    let inside = |part: usize| {
        let count: f64 = rows.iter().map(|row| row.inside[part] * row.readings[1] as f64).sum();
        count / rows.iter().map(|row| row.readings[1] as f64).sum::<f64>() * 100.0
    };
    writeln!(
        text,
        "\nIn P10-P90 over all held-out readings: {:.0} % alone, {:.0} % fitted.\n",
        inside(0),
        inside(1)
    )?;
    text += "| series | greatest difference, °C (5) | means, °C (2) | peaks, °C (2) | time to the peak, h (8) | met of 4 |\n\
             |---|---|---|---|---|---|\n";
    for row in rows {
        write!(text, "| `{}` |", row.name)?;
        for (part, most) in CRITERIA.into_iter().enumerate() {
            let [before, after] = row.mason.map(|differences| marked(differences[part], most));
            write!(text, " {before}; {after} |")?;
        }
        let [before, after] = row.met();
        writeln!(text, " {before}; {after} |")?;
    }
    text += "\n| series | materials alone, all readings: off (rms), °C | memory, days | fitted, held-out readings: off (rms), °C \
             | memory, days |\n|---|---|---|---|---|\n";
    for row in rows {
        let [alone, fitted] =
            row.memory.map(|days| days.map_or("none".to_owned(), |days| format!("{days:.1}")));
        writeln!(
            text,
            "| `{}` | {:.1} | {alone} | {:.1} | {fitted} |",
            row.name,
            rms(&row.all),
            rms(&row.fitted)
        )?;
    }
    Ok(text)
}

#[test]
fn a_third_of_the_readings_forecasts_the_rest() {
    let rows: Vec<Row> = SERIES.iter().map(Row::of).collect();
    let text = tables(&rows).expect("a table can be written");
    println!("{text}");
    let path = repository().join("tests/series/README.md");
    let readme = fs::read_to_string(&path).expect("the README can be read");
    let (before, after) = readme.split_once(MARKS[0]).expect("the tables begin");
    let (there, after) = after.split_once(MARKS[1]).expect("the tables end");
    if std::env::var("BAYCAST_SERIES").is_ok_and(|wish| wish == "write") {
        let [begin, end] = MARKS;
        fs::write(&path, format!("{before}{begin}{text}{end}{after}")).expect("the README can be written");
    } else {
        let first = text.lines().next().expect("a line");
        assert!(there.starts_with(first), "the README's tables are of another model: {first}");
    }
    for row in &rows {
        let [known, rest] = row.readings;
        assert!(known >= 5 && rest >= 10, "{}: {known} fitted and {rest} held out", row.name);
        let figures = row.held.iter().chain(&row.prior).chain(&row.fitted).chain(row.mason.as_flattened());
        assert!(figures.chain(&row.all).all(|figure| figure.is_finite()), "{}: numbers throughout", row.name);
    }
    let most = |won: fn(&Row) -> bool| rows.iter().filter(|row| won(row)).count() * 2 > rows.len();
    assert!(most(Row::beats_prior), "readings must bring most forecasts closer than materials alone");
    assert!(most(Row::beats_last_reading), "most forecasts must be closer than the last reading held");
}
