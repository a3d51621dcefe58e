//! Log densities for a sampler of another make: reads draws, one a line, and writes one number a line.
//!
//! `log_density HISTORY.json DATE`, the history as the service takes it.

use std::io::{BufRead, Write};

use baycast_model::draw::Sought;
use baycast_model::history::History;
use baycast_model::log_density;

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let mut arguments = std::env::args().skip(1);
    let path = arguments.next().ok_or("the path of a history")?;
    let today = arguments.next().ok_or("a date")?.parse()?;
    let history: History = serde_json::from_str(&std::fs::read_to_string(path)?)?;
    let density = log_density(&history, today)?;
    let mut answers = std::io::stdout().lock();
    for line in std::io::stdin().lock().lines() {
        let values: Result<Vec<f64>, _> = line?.split_whitespace().map(str::parse).collect();
        writeln!(answers, "{}", density(&Sought::from_vec(values?))?)?;
        answers.flush()?;
    }
    Ok(())
}
