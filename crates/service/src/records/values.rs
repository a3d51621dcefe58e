//! Values in range, by the model's own check: a part is looked at within a history that is otherwise sound.

use baycast_model::bay::{Base, Bay, Construction, Top, Wall};
use baycast_model::check::check;
use baycast_model::history::History;
use baycast_model::problem::{Problem, Problems};
use baycast_model::site::Site;

use crate::error::Error;

/// Refuses what `fill` puts into a history where values are out of range, with pointers from `from` on told as from `to` on.
pub fn out_of_range(fill: impl FnOnce(&mut History), from: &str, to: &str) -> Result<(), Error> {
    problems(fill, from, to).into_result().map_err(Error::Invalid)
}

/// Every value out of range in what `fill` puts into a history, with pointers from `from` on told as from `to` on.
pub fn problems(fill: impl FnOnce(&mut History), from: &str, to: &str) -> Problems {
    let mut history = sound();
    fill(&mut history);
    let mut found = Problems::default();
    check(&history, "", 0, &mut found);
    let told = found.0.into_iter().map(|Problem { pointer, value, accepted }| {
        let pointer = pointer.strip_prefix(from).map_or(pointer.clone(), |rest| format!("{to}{rest}"));
        Problem { pointer, value, accepted }
    });
    Problems(told.collect())
}

/// A history in which nothing is out of range.
fn sound() -> History {
    History {
        batch: "batch".to_owned(),
        as_of: None,
        site: Site { latitude_deg: 0.0, normals: None, daily: Vec::new() },
        bay: Bay {
            id: "bay".to_owned(),
            length_m: 1.0,
            width_m: 1.0,
            height_m: 1.0,
            wall: Wall { construction: Construction::Block, layers: Vec::new() },
            base: Base::default(),
            top: Top::default(),
        },
        other_bays: Vec::new(),
        feedstocks: Vec::new(),
        barrow_m3: None,
        events: Vec::new(),
        sources: Vec::new(),
        criteria: Vec::new(),
        horizon_days: None,
        forecast_step_days: None,
        ready_by: Vec::new(),
        compare_futures: false,
        lesson: None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_what_was_put_in_is_told_and_at_its_own_place() {
        assert_eq!(out_of_range(|_| {}, "", ""), Ok(()));
        let told = out_of_range(|history| history.bay.length_m = 99.0, "/bay", "/bay");
        let Err(Error::Invalid(Problems(found))) = told else { panic!("{told:?}") };
        assert_eq!((found.len(), found[0].pointer.as_str()), (1, "/bay/length_m"));
    }
}
