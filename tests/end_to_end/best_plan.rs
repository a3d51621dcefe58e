//! Plans of small farms against what a mixed integer program proves: HiGHS, by SciPy.

use std::io::Write;
use std::process::{Command, Stdio};

use baycast_model::plan::ground::{Batch, CROWDED, Ground, Life, REFUSED, SPARE};
use baycast_model::plan::{best, layout};
use jiff::civil::date;
use serde_json::{Value, json};

use crate::binary::repository;
use crate::python::python;

#[path = "../../crates/model/tests/plan/farms.rs"]
mod farms;

/// Farms of two to four bays.
const FARMS: [u64; 6] = [0, 1, 2, 11, 12, 22];
/// Time for each, s.
const SECONDS: f64 = 20.0;
/// A program that is solved to within this share counts as proven.
const PROVEN: f64 = 0.005;

fn batch(own: &Batch) -> Value {
    let life = |life: &Life| {
        let ends: serde_json::Map<String, Value> =
            life.ends.iter().map(|end| (end.week.to_string(), json!(end.volume_m3))).collect();
        let serves: Vec<_> = life.ends.iter().filter_map(|end| Some((end.serves?, end.volume_m3))).collect();
        let turned_m3 = life.turn.map_or(0.0, |(week, _)| life.prospect.volume_m3(week));
        json!({"turn": life.turn, "ends": ends, "serves": serves, "labour": life.labour_m3(), "turned_m3": turned_m3})
    };
    json!({
        "kind": own.kind, "start": own.start, "close": own.close, "fill": own.is_filled(), "refused": own.refused_m3,
        "lives": own.lives.iter().map(life).collect::<Vec<_>>(),
    })
}

fn told(ground: &Ground) -> Value {
    let all = ground.standing.iter().chain(ground.fills.iter().flatten());
    json!({
        "seconds": SECONDS, "weeks": ground.weeks, "inflow": ground.inflow_m3, "turns_per_week": ground.turns_per_week,
        "keep_free": ground.keep_free, "spare": SPARE, "refused": REFUSED, "crowded": CROWDED,
        "filling": ground.fills[0].iter().any(|own| own.standing.is_some()),
        "kinds": ground.kinds.iter().map(|kind| json!({"capacity": kind.capacity_m3, "bays": kind.bays.len()})).collect::<Vec<_>>(),
        "wants": ground.wants.iter().map(|want| {
            json!({"week": want.week, "volume": want.volume_m3, "weight": want.weight})
        }).collect::<Vec<_>>(),
        "batches": all.map(batch).collect::<Vec<_>>(),
    })
}

#[test]
fn plans_of_small_farms_are_within_two_in_a_hundred_of_what_is_proven() {
    let mut solver = Command::new(python())
        .arg(repository().join("tests/python/best_plan.py"))
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .spawn()
        .expect("Python starts");
    let grounds: Vec<Ground> =
        FARMS.iter().map(|seed| layout(&farms::season(*seed), date(2026, 1, 1)).expect("a season")).collect();
    let mut input = solver.stdin.take().expect("a pipe");
    for ground in &grounds {
        writeln!(input, "{}", told(ground)).expect("the solver listens");
    }
    drop(input);
    let output = solver.wait_with_output().expect("the solver ends");
    assert!(output.status.success());
    let text = String::from_utf8(output.stdout).expect("text");
    let mut proven = 0;
    for ((seed, ground), line) in FARMS.iter().zip(&grounds).zip(text.lines()) {
        let answer: Value = serde_json::from_str(line).expect("JSON");
        let (found, prices) = best(ground, None, None);
        let bound = answer["bound"].as_f64().unwrap_or(f64::INFINITY);
        let reached = answer["best"].as_f64().unwrap_or(f64::NEG_INFINITY);
        println!(
            "farm {seed}: {} bays, plan {:.4}, own bound {:.4}, program {reached:.4}, its bound {bound:.4}: {}",
            ground.bays(),
            found.value_m3,
            prices.bound_m3,
            answer["message"]
        );
        assert!(found.value_m3 <= bound + 1e-6, "farm {seed}: no plan is worth more than what is proven");
        assert!(reached <= prices.bound_m3 + 1e-6, "farm {seed}: nor than the bound of prices");
        if reached.is_finite() && bound - reached <= PROVEN * bound.abs() {
            proven += 1;
            assert!(found.value_m3 >= 0.98 * bound - 1e-6, "farm {seed}: within two in a hundred");
        }
    }
    assert!(proven >= 3, "{proven} proven");
}
