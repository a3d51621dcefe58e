//! The search for a season's plan: along the weeks, with a limited number of the most promising beginnings kept.
//!
//! Beginnings are ranked by what they reach so far, less the prices of what they take up, and what the weeks to come are worth
//! under the same prices (a beam search on the Lagrangian bound). The best ends are then bettered stretch by stretch and batch
//! by batch.

use std::rc::Rc;

use crate::plan::beginning::{Beginning, LOOKED_AT, Onward, narrowed, serve};
use crate::plan::bound::Prices;
use crate::plan::found::{Found, can_join, left, weighed};
use crate::plan::ground::{Batch, Ground};
use crate::plan::guide::{Guide, Way};
use crate::plan::yard::{Placed, Yard};

/// Beginnings kept for each week where a whole plan is made, and where a stretch is planned anew.
const WIDTHS: [usize; 2] = [40, 10];
/// Share of its worth by which another plan must be better than one that is kept.
const CLEARLY: f64 = 0.1;
/// Weeks of the stretches that are planned anew.
const SPANS: [usize; 4] = [8, 14, 22, 34];

/// The best plan found. Each of `prices` leads to a plan of its own, or where a plan was `begun` it is gone on with; the best of
/// them is bettered by all in turn. A plan that is `kept` is bettered as well, and stands unless another is worth clearly more.
pub fn search<'a>(
    ground: &'a Ground,
    prices: &[Prices],
    rounds: usize,
    begun: Option<Vec<Placed<'a>>>,
    kept: Option<Vec<Placed<'a>>>,
) -> Found<'a> {
    let guides: Vec<Guide> = prices.iter().map(|prices| Guide::new(ground, prices)).collect();
    let wholes = if begun.is_some() { 0 } else { guides.len() };
    let mut best = weighed(ground, begun.unwrap_or_else(|| all_left(ground)));
    for guide in &guides[..wholes] {
        let Some(mut found) = whole(ground, guide) else { continue };
        stretches(ground, guide, &mut found);
        if found.value_m3 > best.value_m3 {
            best = found;
        }
    }
    let bettered = |found: &mut Found<'a>| {
        let mut still = 0;
        for guide in guides.iter().cycle().take(rounds) {
            still = if stretches(ground, guide, found) { 0 } else { still + 1 };
            if still >= guides.len() {
                break;
            }
        }
    };
    bettered(&mut best);
    let Some(mut kept) = kept.map(|kept| weighed(ground, kept)) else { return best };
    bettered(&mut kept);
    if kept.value_m3 > best.value_m3 - CLEARLY * best.value_m3.abs() { kept } else { best }
}

/// Plans one stretch of a plan after the other anew, and says whether that bettered it.
fn stretches<'a>(ground: &'a Ground, guide: &Guide, found: &mut Found<'a>) -> bool {
    let before = found.value_m3;
    for span in SPANS {
        for from in (0..ground.weeks).step_by(span / 2) {
            let other = within(ground, guide, found, from, from + span);
            if let Some(other) = other.filter(|other| other.value_m3 > found.value_m3 + 1e-9) {
                *found = other;
            }
        }
    }
    *found = bettered(ground, guide, found.clone());
    found.value_m3 > before + 1e-6
}

/// The batch that is being filled when the season begins, as it comes to most.
fn filling(ground: &Ground) -> Option<&Batch> {
    ground.fills[0].iter().rev().find(|batch| batch.standing.is_some())
}

/// All that stands, left where it is.
fn all_left(ground: &Ground) -> Vec<Placed<'_>> {
    ground.standing.iter().chain(filling(ground)).map(|batch| left(ground, batch)).collect()
}

/// A whole plan from nothing.
fn whole<'a>(ground: &'a Ground, guide: &Guide<'_>) -> Option<Found<'a>> {
    let mut first = Beginning::empty(ground);
    // Whatever is not yet planned keeps its bay.
    for own in &all_left(ground) {
        first.yard.put(own);
    }
    let all: Vec<usize> = (0..ground.standing.len()).collect();
    let mut beginnings = stood(ground, guide, first, &all, WIDTHS[0]);
    if let Some(filling) = filling(ground) {
        for beginning in &mut beginnings {
            Rc::make_mut(beginning).yard.lift(&left(ground, filling));
        }
    }
    along(ground, guide, beginnings, 0..ground.weeks, WIDTHS[0], &|_| Vec::new())
}

/// Plans what stands, by index, each left where it is so far.
fn stood<'a>(
    ground: &'a Ground,
    guide: &Guide<'_>,
    first: Beginning<'a>,
    standing: &[usize],
    width: usize,
) -> Vec<Rc<Beginning<'a>>> {
    let mut beginnings = vec![Rc::new(first)];
    for index in standing {
        let (batch, ways) = (&ground.standing[*index], &guide.standing[*index]);
        let mut next = Vec::new();
        for mut beginning in beginnings {
            Rc::make_mut(&mut beginning).yard.lift(&left(ground, batch));
            beginning.go(ground, guide, (batch, ways), 0.0, &mut next);
        }
        beginnings = narrowed(next, width);
    }
    beginnings
}

/// Plans anew what is begun from one week to another, and what stands and is turned or emptied between them, with all else left
/// as it is.
fn within<'a>(
    ground: &'a Ground,
    guide: &Guide<'_>,
    found: &Found<'a>,
    from: usize,
    until: usize,
) -> Option<Found<'a>> {
    let fills: Vec<&Placed> = found.placed.iter().filter(|own| own.batch.is_filled()).collect();
    let first = fills.iter().map(|own| own.batch.start).find(|start| *start >= from).unwrap_or(ground.weeks);
    let first = fills.iter().map(|own| own.batch.close).filter(|close| *close <= first).max().unwrap_or(0);
    let last = fills.iter().map(|own| own.batch.start).find(|start| *start >= until).unwrap_or(ground.weeks);
    let filled_between = |own: &Placed| own.batch.is_filled() && (first..last).contains(&own.batch.start);
    let stays = |place: usize| {
        let guests = found.placed.iter().filter(|own| own.joins == Some(place));
        guests.clone().any(|guest| !filled_between(guest))
    };
    let free = |(place, own): (usize, &Placed)| {
        let changes = own.life().turn.map(|(week, _)| week).into_iter().chain([own.end]);
        filled_between(own)
            || (!own.batch.is_filled()
                && !stays(place)
                && changes.clone().any(|week| (from..until).contains(&week)))
    };
    // What stands comes first, and of that what stays as it is.
    let all = || found.placed.iter().enumerate();
    let kept = |stands: bool| all().filter(move |own| !free(*own) && own.1.batch.is_filled() != stands);
    let freed: Vec<usize> = all()
        .filter(|own| free(*own) && !own.1.batch.is_filled())
        .filter_map(|(_, own)| ground.standing.iter().position(|batch| std::ptr::eq(batch, own.batch)))
        .collect();
    let before = |own: &(usize, &Placed)| own.1.batch.start < first;
    let mut map = vec![None; found.placed.len()];
    let mut next = 0;
    for (place, _) in kept(true) {
        map[place] = Some(next);
        next += 1;
    }
    next += freed.len();
    for (place, _) in kept(false) {
        map[place] = Some(next);
        next += 1;
    }
    let mut early = Beginning::empty(ground);
    let (mut filled, mut late) = (Vec::new(), Vec::new());
    for own in kept(true).chain(kept(false)) {
        let joins = own.1.joins.and_then(|host| map[host]);
        if own.1.joins.is_some() && joins.is_none() {
            // Its host goes: it cannot stand alone for sure, so leave this stretch as it is.
            return None;
        }
        let placed = Placed { joins, ..*own.1 };
        early.yard.put(&placed);
        serve(&placed, &mut early.missing_m3);
        early.paired.extend(joins);
        if !placed.batch.is_filled() {
            early.placed.push(placed);
        } else if before(&own) {
            filled.push(placed);
        } else {
            late.push(placed);
        }
    }
    for index in &freed {
        early.yard.put(&left(ground, &ground.standing[*index]));
    }
    let count = next - late.len();
    let mut beginnings = stood(ground, guide, early, &freed, WIDTHS[1]);
    for beginning in &mut beginnings {
        Rc::make_mut(beginning).placed.extend(&filled);
    }
    let finish = |placed: usize| {
        late.iter()
            .map(|own| Placed {
                joins: own.joins.map(|host| if host < count { host } else { host + placed - count }),
                ..*own
            })
            .collect()
    };
    along(ground, guide, beginnings, first..last, WIDTHS[1], &finish)
}

/// Plans from one week to another.
fn along<'a>(
    ground: &'a Ground,
    guide: &Guide<'_>,
    beginnings: Vec<Rc<Beginning<'a>>>,
    weeks: std::ops::Range<usize>,
    width: usize,
    late: &dyn Fn(usize) -> Vec<Placed<'a>>,
) -> Option<Found<'a>> {
    let until = weeks.end;
    let mut onwards: Vec<Vec<Onward>> = Vec::new();
    onwards.resize_with(ground.weeks + 1, Vec::new);
    onwards[weeks.start] = beginnings.into_iter().map(Onward::same).collect();
    for week in weeks {
        let here = narrowed(std::mem::take(&mut onwards[week]), width);
        for (batch, ways) in ground.fills[week].iter().zip(&guide.fills[week]) {
            if batch.close > until {
                continue;
            }
            let to_go = guide.prices.to_go[batch.close];
            for beginning in &here {
                beginning.go(ground, guide, (batch, ways), to_go, &mut onwards[batch.close]);
            }
        }
        // What is being filled goes on, were it for a week.
        if week > 0 || filling(ground).is_none() {
            let idle = here.into_iter().map(|from| Onward::idle(from, guide, ground, week));
            onwards[week + 1].extend(idle);
        }
    }
    let ends = narrowed(std::mem::take(&mut onwards[until]), width);
    let whole = ends.into_iter().map(|end| {
        let mut placed = end.placed.clone();
        placed.extend(late(end.placed.len()));
        weighed(ground, placed)
    });
    whole.max_by(|a, b| a.value_m3.total_cmp(&b.value_m3))
}

/// Betters a plan batch by batch for as long as that helps.
fn bettered<'a>(ground: &'a Ground, guide: &Guide<'_>, mut found: Found<'a>) -> Found<'a> {
    let all: Vec<&[Way]> = found.placed.iter().map(|own| guide.ways(ground, own.batch)).collect();
    loop {
        let before = found.value_m3;
        for place in 0..found.placed.len() {
            if found.placed.iter().any(|other| other.joins == Some(place)) {
                continue;
            }
            let mut yard = Yard::empty(ground);
            for (other, own) in found.placed.iter().enumerate() {
                if other != place {
                    yard.put(own);
                }
            }
            for way in all[place].iter().take(4 * LOOKED_AT) {
                let alone =
                    Placed { batch: found.placed[place].batch, life: way.life, end: way.end, joins: None };
                let hosts = found.placed.iter().enumerate().filter(|(other, host)| {
                    *other < place
                        && can_join(ground, host, &alone)
                        && !found
                            .placed
                            .iter()
                            .enumerate()
                            .any(|(at, late)| at != place && late.joins == Some(*other))
                });
                let tried: Vec<Placed> = hosts
                    .map(|(other, _)| Placed { joins: Some(other), ..alone })
                    .chain([alone])
                    .filter(|tried| yard.fits(ground, tried))
                    .collect();
                for tried in tried {
                    let mut placed = found.placed.clone();
                    placed[place] = tried;
                    let other = weighed(ground, placed);
                    if other.value_m3 > found.value_m3 + 1e-9 {
                        found = other;
                    }
                }
            }
        }
        if found.value_m3 <= before + 1e-9 {
            return found;
        }
    }
}
