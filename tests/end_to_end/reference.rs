//! The balance against its second writing, `tests/python/balance.py`, which SciPy integrates, and the saturation
//! pressure of water against the PyPI package `iapws`.

use std::collections::BTreeMap;
use std::time::{Duration, Instant};

use baycast_model::course::Snapshot;
use baycast_model::parameters::Parameters;
use baycast_model::psychrometrics::saturation_kpa;
use baycast_model::rosenbrock::Tolerance;
use serde_json::{Value, json};

use crate::python::ask;
use crate::scenarios;

/// Fewest scenarios that must be there.
const SCENARIOS: usize = 14;
/// Allowed difference of a temperature, °C.
const TEMPERATURE_C: f64 = 0.05;
/// Allowed relative difference of a mass, a volume or effective days, and of the growth of effective days in
/// days a day.
const SHARE: f64 = 1e-3;
/// Allowed difference of effective days where `SHARE` of them is less, days.
const EFFECTIVE_DAYS: f64 = 0.02;
/// Allowed relative difference of a saturation pressure: the uncertainty of the vapour pressure in Wagner & Pruss
/// 2002, The IAPWS formulation 1995, J. Phys. Chem. Ref. Data 31:387-535 (from memory).
const PRESSURE_SHARE: f64 = 2.5e-4;

/// Largest difference of each kind, and the day of it.
#[derive(Default)]
struct Worst(BTreeMap<&'static str, (f64, f64)>);

impl Worst {
    /// Takes one difference in; what is not a number counts as boundless.
    fn note(&mut self, kind: &'static str, day: f64, difference: f64) {
        let size = if difference.is_nan() { f64::INFINITY } else { difference.abs() };
        let worst = self.0.entry(kind).or_insert((0.0, day));
        if size > worst.0 {
            *worst = (size, day);
        }
    }

    /// Takes in all differences between the model's state and the reference's on one day.
    fn compare(&mut self, day: f64, ours: &Snapshot, theirs: &Value) {
        let told = |name: &str| theirs[name].as_f64().unwrap_or(f64::NAN);
        let heap = &ours.heap;
        for (zone, name) in [(&heap.core, "core"), (&heap.edge, "edge")] {
            let dry_kg = told(&format!("{name}_dry_kg"));
            self.note("temperature", day, zone.temperature_c - told(&format!("{name}_c")));
            self.note("dry", day, zone.dry_kg() / dry_kg - 1.0);
            let water_kg = zone.water_kg - told(&format!("{name}_water_kg"));
            self.note("water", day, water_kg / heap.mass_kg());
        }
        self.note("volume", day, heap.volume_m3() / told("volume_m3") - 1.0);
        self.note("nitrogen", day, heap.nitrogen_kg / told("nitrogen_kg") - 1.0);
        let effective_days = told("effective_days");
        let apart_days = ours.effective_days - effective_days;
        self.note("effective days", day, apart_days / effective_days.max(EFFECTIVE_DAYS / SHARE));
    }

    /// Takes in the growth of the effective days from one day to the next.
    fn compare_growth(&mut self, day: f64, ours: [&Snapshot; 2], theirs: [&Value; 2]) {
        let [before, after] = theirs.map(|state| state["effective_days"].as_f64().unwrap_or(f64::NAN));
        self.note("growth", day, ours[1].effective_days - ours[0].effective_days - (after - before));
    }

    /// What is beyond the allowed difference.
    fn excess(&self) -> Vec<String> {
        let allowed = |kind| if kind == "temperature" { TEMPERATURE_C } else { SHARE };
        let beyond = self.0.iter().filter(|(kind, (size, _))| *size > allowed(**kind));
        beyond.map(|(kind, (size, day))| format!("{kind} {size:.2e} on day {day}")).collect()
    }
}

#[test]
fn the_balance_agrees_with_its_second_writing() {
    let scenarios = scenarios::all();
    assert!(scenarios.len() >= SCENARIOS, "only {} scenarios", scenarios.len());
    let questions: Vec<String> = scenarios.iter().map(|scenario| scenario.question().to_string()).collect();
    let (answers, seconds) = ask("balance.py", &questions.join("\n"));
    let answers: Vec<Vec<Value>> =
        answers.lines().map(|line| serde_json::from_str(line).expect("a list of states")).collect();
    assert_eq!(answers.len(), scenarios.len());

    let (mut failures, mut taken) = (Vec::new(), Duration::ZERO);
    for (scenario, answer) in scenarios.iter().zip(&answers) {
        assert_eq!(answer.len(), scenario.days.len(), "{}", scenario.name);
        let start = Instant::now();
        let timeline = &scenario.timeline;
        let course = timeline
            .agenda
            .run(&Parameters::default(), Tolerance::default(), timeline.until)
            .unwrap_or_else(|failure| panic!("{}: {failure}", scenario.name));
        taken += start.elapsed();
        let (mut worst, mut compared) = (Worst::default(), 0);
        let mut yesterday: Option<(Snapshot, &Value)> = None;
        for (&day, theirs) in scenario.days.iter().zip(answer) {
            let ours = course.at(day);
            if ours.is_some() == theirs.is_null() {
                let here = if ours.is_some() { "here only" } else { "there only" };
                failures.push(format!("{}: a heap {here} on day {day}", scenario.name));
            }
            let today = ours.filter(|_| !theirs.is_null()).map(|ours| (ours, theirs));
            if let Some((ours, theirs)) = &today {
                worst.compare(day, ours, theirs);
                compared += 1;
                if let Some((before, told)) = &yesterday {
                    worst.compare_growth(day, [before, ours], [told, theirs]);
                }
            }
            yesterday = today;
        }
        assert!(compared >= 100, "{}: only {compared} days with a heap", scenario.name);
        let sizes: Vec<String> =
            worst.0.iter().map(|(kind, (size, _))| format!("{kind} {size:.1e}")).collect();
        println!("{:23} {compared:3} days, worst: {}", scenario.name, sizes.join(", "));
        failures.extend(worst.excess().iter().map(|excess| format!("{}: {excess}", scenario.name)));
    }
    let theirs: f64 = seconds.trim().parse().expect("seconds");
    let ours = taken.as_secs_f64();
    println!("SciPy {theirs:.3} s, model {ours:.6} s: {:.0} times", theirs / ours);
    assert!(failures.is_empty(), "{}", failures.join("\n"));
}

#[test]
fn saturation_pressure_agrees_with_iapws() {
    let pairs: Vec<(f64, f64)> =
        (1..20).map(|step| 5.0 * f64::from(step)).map(|celsius| (celsius, saturation_kpa(celsius))).collect();
    let (told, _) = ask("steam.py", &json!(pairs).to_string());
    let difference: f64 = told.trim().parse().expect("a number");
    println!("saturation pressure at {} temperatures: {difference:.1e}", pairs.len());
    assert!(difference < PRESSURE_SHARE, "{difference:e}");
}
