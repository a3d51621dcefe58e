//! A plan in bays and dates: which bay each batch stands in, and what it is called.

use std::collections::HashSet;

use crate::plan::answer::Action;
use crate::plan::found::Found;
use crate::plan::terrain::Terrain;
use crate::plan::yard::Placed;

/// Where the batches of a plan stand.
pub struct Schedule {
    /// Bays of each batch by index: the one it is filled in, and the one it is turned into.
    pub bays: Vec<(usize, Option<usize>)>,
    /// Names of the batches.
    pub names: Vec<String>,
}

/// A stay in a bay.
struct Stay {
    place: usize,
    second: bool,
    kind: usize,
    from: usize,
    until: usize,
    /// The bay that it has for sure.
    fixed: Option<usize>,
    /// The bay that an earlier plan gave it.
    earlier: Option<usize>,
}

impl Schedule {
    /// Deals bays out, in order of time: to each batch the one it had in an earlier plan, else the first that is free.
    pub fn new(terrain: &Terrain, found: &Found) -> Self {
        let mut stays: Vec<Stay> = Vec::new();
        for (place, own) in found.placed.iter().enumerate() {
            stays.extend(stays_of(terrain, place, own));
        }
        stays.sort_by_key(|stay| (stay.from, stay.fixed.is_none(), stay.place));
        let mut free_from = vec![0; terrain.season.bays.len()];
        let mut bays: Vec<(usize, Option<usize>)> = vec![(0, None); found.placed.len()];
        for stay in stays {
            let free = |bay: &usize| free_from[*bay] <= stay.from;
            let able = || terrain.kinds[stay.kind].bays.iter().copied().filter(free);
            let wanted = stay.earlier.filter(|bay| able().any(|able| able == *bay));
            // As many stay at a time as there are bays of the kind, so that one is free.
            let bay =
                stay.fixed.or(wanted).or_else(|| able().next()).unwrap_or(terrain.kinds[stay.kind].bays[0]);
            free_from[bay] = stay.until;
            if stay.second {
                bays[stay.place].1 = Some(bay);
            } else {
                bays[stay.place].0 = bay;
            }
        }
        for (place, own) in found.placed.iter().enumerate() {
            if let Some(host) = own.joins {
                bays[place].1 = bays[host].1;
            }
        }
        let mut names = Vec::new();
        let mut used: HashSet<String> =
            terrain.season.batches.iter().map(|own| own.history.batch.clone()).collect();
        for (own, (bay, _)) in found.placed.iter().zip(&bays) {
            names.push(if let Some(index) = own.batch.standing {
                terrain.season.batches[index].history.batch.clone()
            } else {
                let mut name = format!("{} {}", terrain.season.bays[*bay].id, terrain.date(own.batch.start));
                while !used.insert(name.clone()) {
                    name.push('\'');
                }
                name
            });
        }
        Self { bays, names }
    }
}

fn stays_of(terrain: &Terrain, place: usize, own: &Placed) -> Vec<Stay> {
    let batch = own.batch;
    let season = terrain.season;
    let bay_of = |id: &str| season.bays.iter().position(|bay| bay.id == id);
    let standing = batch.standing.map(|index| &season.batches[index]);
    let fixed = standing.and_then(|standing| bay_of(standing.bay()));
    let begun = season.earlier.iter().find(|step| {
        step.action == Action::Fill
            && terrain.week(step.on) == batch.start
            && terrain.kind_of(&step.bay) == Some(batch.kind)
    });
    let name = standing.map(|own| own.history.batch.as_str()).or(begun.map(|step| step.batch.as_str()));
    let turn =
        season.earlier.iter().find(|step| step.action == Action::Turn && Some(step.batch.as_str()) == name);
    let until = own.life().turn.map_or(own.end, |(week, _)| (week + 1).min(terrain.weeks));
    let mut stays = vec![Stay {
        place,
        second: false,
        kind: batch.kind,
        from: batch.start,
        until,
        fixed,
        earlier: begun.and_then(|step| bay_of(&step.bay)),
    }];
    if let Some((week, kind)) = own.life().turn
        && own.joins.is_none()
    {
        let earlier = turn.and_then(|step| bay_of(step.to_bay.as_deref()?));
        let until = own.end;
        stays.push(Stay { place, second: true, kind, from: week, until, fixed: None, earlier });
    }
    stays
}
