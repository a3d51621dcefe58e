//! The search for a season's plan: along the weeks, with a limited number of the most promising beginnings kept.
//!
//! Beginnings are ranked by what they reach so far, less the prices of what they take up, and what the weeks to come are worth
//! under the same prices (a beam search on the Lagrangian bound). The best ends are then bettered batch by batch.

use std::collections::HashSet;
use std::hash::{DefaultHasher, Hash, Hasher};

use crate::plan::bound::{Prices, crowded};
use crate::plan::ground::{Batch, Ground, REFUSED, SPARE, Want};
use crate::plan::yard::{Placed, Yard};

/// Beginnings kept for each week where a whole plan is made, and where a stretch is planned anew.
const WIDTHS: [usize; 2] = [40, 10];
/// Ways with a batch that are looked at from each beginning.
const LOOKED_AT: usize = 12;
/// Ways with a batch that are gone from each beginning.
const GONE: usize = 3;
/// Share of its worth by which another plan must be better than one that is kept.
const CLEARLY: f64 = 0.1;
/// Weeks of the stretches that are planned anew.
const SPANS: [usize; 4] = [8, 14, 22, 34];

/// A plan found.
#[derive(Clone, Debug)]
pub struct Found<'a> {
    /// Batches in the order in which they are begun, those that stand first.
    pub placed: Vec<Placed<'a>>,
    /// What each demand gets of each batch: demand, place of the batch, m³.
    pub draws: Vec<(usize, usize, f64)>,
    /// What it is worth, m³.
    pub value_m3: f64,
    /// What was asked for.
    pub wants: &'a [Want],
}

impl Found<'_> {
    /// What a demand gets, m³.
    pub fn served_m3(&self, demand: usize) -> f64 {
        self.draws.iter().filter(|(own, ..)| *own == demand).map(|(_, _, volume_m3)| volume_m3).sum()
    }

    /// Loose material that finds no room, m³.
    pub fn refused_m3(&self, ground: &Ground) -> f64 {
        let filled: f64 = self
            .placed
            .iter()
            .filter(|own| own.batch.is_filled())
            .map(|own| {
                ground.inflow_m3[own.batch.start..own.batch.close].iter().sum::<f64>() - own.batch.refused_m3
            })
            .sum();
        ground.inflow_m3.iter().sum::<f64>() - filled
    }

    /// The share of a batch that nobody takes.
    pub fn left(&self, ground: &Ground, place: usize) -> f64 {
        let prospect = &self.placed[place].life().prospect;
        let own = self.draws.iter().filter(|(_, own, _)| *own == place);
        own.fold(1.0, |left, (demand, _, taken)| {
            left - taken / prospect.volume_m3(ground.wants[*demand].week)
        })
    }
}

/// A beginning.
#[derive(Clone, Debug)]
struct Beginning<'a> {
    placed: Vec<Placed<'a>>,
    /// Batches, by place, that one is forked together with that is begun later.
    paired: Vec<usize>,
    yard: Yard,
    /// What is still asked for, m³.
    missing_m3: Vec<f64>,
    /// What is reached so far less what it is priced at, m³.
    value_m3: f64,
    /// The same with what the weeks to come are worth.
    rank: f64,
}

/// A way with a batch, and what it is worth beyond its prices and in prices alone.
struct Way {
    life: usize,
    end: usize,
    value_m3: f64,
    price_m3: f64,
}

/// Prices with the ways that they make promising.
struct Guide<'a> {
    prices: &'a Prices,
    standing: Vec<Vec<Way>>,
    fills: Vec<Vec<Vec<Way>>>,
}

impl<'a> Guide<'a> {
    fn new(ground: &Ground, prices: &'a Prices) -> Self {
        let of = |batches: &[Batch]| batches.iter().map(|batch| ways(ground, prices, batch)).collect();
        Self {
            prices,
            standing: of(&ground.standing),
            fills: ground.fills.iter().map(|week| of(week)).collect(),
        }
    }

    fn ways(&self, ground: &Ground, batch: &Batch) -> &[Way] {
        let place = |batches: &[Batch]| batches.iter().position(|own| std::ptr::eq(own, batch));
        if let Some(place) = place(&ground.standing) {
            return &self.standing[place];
        }
        place(&ground.fills[batch.start]).map_or(&[], |place| &self.fills[batch.start][place])
    }
}

/// The best plan found. Each of `prices` leads to a plan of its own; the best of them is bettered by all in turn. A plan that is
/// `kept` is bettered as well, and stands unless another is worth clearly more.
pub fn search<'a>(
    ground: &'a Ground,
    prices: &[Prices],
    rounds: usize,
    kept: Option<Vec<Placed<'a>>>,
) -> Found<'a> {
    let guides: Vec<Guide> = prices.iter().map(|prices| Guide::new(ground, prices)).collect();
    let mut best = weighed(ground, all_left(ground));
    for guide in &guides {
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

/// A batch that is left where it is.
pub fn left<'a>(ground: &Ground, standing: &'a Batch) -> Placed<'a> {
    Placed { batch: standing, life: 0, end: ground.weeks, joins: None }
}

/// Nothing planned.
fn start(ground: &Ground) -> Beginning<'_> {
    Beginning {
        placed: Vec::new(),
        paired: Vec::new(),
        yard: Yard::empty(ground),
        missing_m3: ground.wants.iter().map(|want| want.volume_m3).collect(),
        value_m3: 0.0,
        rank: 0.0,
    }
}

/// A whole plan from nothing.
fn whole<'a>(ground: &'a Ground, guide: &Guide<'_>) -> Option<Found<'a>> {
    let mut first = start(ground);
    // Whatever is not yet planned keeps its bay.
    for own in &all_left(ground) {
        first.yard.put(own);
    }
    let mut beginnings = vec![first];
    for (standing, ways) in ground.standing.iter().zip(&guide.standing) {
        let mut next = Vec::new();
        for beginning in &mut beginnings {
            beginning.yard.lift(&left(ground, standing));
            beginning.go(ground, guide.prices, standing, ways, 0.0, &mut next);
        }
        beginnings = narrowed(next, WIDTHS[0]);
    }
    if let Some(filling) = filling(ground) {
        for beginning in &mut beginnings {
            beginning.yard.lift(&left(ground, filling));
        }
    }
    along(ground, guide, beginnings, 0, ground.weeks, &|_| Vec::new())
}

/// Plans anew what is begun from one week to another, with all else left as it is.
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
    let free = |own: &Placed| own.batch.is_filled() && (first..last).contains(&own.batch.start);
    // Batches forked together with one that is planned anew are planned anew as well, or alone.
    let mut map = vec![None; found.placed.len()];
    let (mut early, mut late) = (start(ground), Vec::new());
    for (place, own) in found.placed.iter().enumerate() {
        if free(own) {
            continue;
        }
        let joins = own.joins.and_then(|host| map[host]);
        if own.joins.is_some() && joins.is_none() {
            // Its host goes: it cannot stand alone for sure, so leave this stretch as it is.
            return None;
        }
        map[place] = Some(early.placed.len() + late.len());
        let own = Placed { joins, ..*own };
        early.yard.put(&own);
        if !own.batch.is_filled() || own.batch.start < first {
            serve(&own, &mut early.missing_m3);
            early.placed.push(own);
        } else {
            late.push(own);
        }
    }
    for own in &late {
        serve(own, &mut early.missing_m3);
    }
    let count = early.placed.len();
    early.paired = late.iter().filter_map(|own| own.joins).filter(|host| *host < count).collect();
    let finish = |placed: usize| {
        late.iter()
            .map(|own| Placed {
                joins: own.joins.map(|host| if host < count { host } else { host + placed - count }),
                ..*own
            })
            .collect()
    };
    along(ground, guide, vec![early], first, last, &finish)
}

/// Plans from one week to another.
fn along<'a>(
    ground: &'a Ground,
    guide: &Guide<'_>,
    beginnings: Vec<Beginning<'a>>,
    from: usize,
    until: usize,
    late: &dyn Fn(usize) -> Vec<Placed<'a>>,
) -> Option<Found<'a>> {
    let prices = guide.prices;
    let width = WIDTHS[usize::from(until - from < ground.weeks)];
    let mut weeks: Vec<Vec<Beginning>> = vec![Vec::new(); ground.weeks + 1];
    weeks[from] = beginnings;
    for week in from..until {
        let here = narrowed(std::mem::take(&mut weeks[week]), width);
        for (batch, ways) in ground.fills[week].iter().zip(&guide.fills[week]) {
            if batch.close > until {
                continue;
            }
            let to_go = prices.to_go[batch.close] - REFUSED * batch.refused_m3;
            for beginning in &here {
                beginning.go(ground, prices, batch, ways, to_go, &mut weeks[batch.close]);
            }
        }
        // What is being filled goes on, were it for a week.
        let idle = week > 0 || filling(ground).is_none();
        for mut beginning in here.into_iter().filter(|_| idle) {
            beginning.value_m3 -= REFUSED * ground.inflow_m3[week];
            beginning.rank = beginning.value_m3 + prices.to_go[week + 1];
            weeks[week + 1].push(beginning);
        }
        for later in &mut weeks[week + 1..] {
            if later.len() > 8 * width {
                *later = narrowed(std::mem::take(later), width);
            }
        }
    }
    let ends = narrowed(std::mem::take(&mut weeks[until]), width);
    let whole = ends.into_iter().map(|mut end| {
        let late = late(end.placed.len());
        end.placed.extend(late);
        weighed(ground, end.placed)
    });
    whole.max_by(|a, b| a.value_m3.total_cmp(&b.value_m3))
}

/// The most promising, none twice.
fn narrowed(mut beginnings: Vec<Beginning>, width: usize) -> Vec<Beginning> {
    beginnings.sort_by(|a, b| b.rank.total_cmp(&a.rank));
    let mut seen = HashSet::new();
    beginnings.retain(|beginning| {
        if seen.len() >= width {
            return false;
        }
        let mut hasher = DefaultHasher::new();
        beginning.yard.hash(&mut hasher);
        beginning.missing_m3.iter().for_each(|missing| ((missing * 1e3) as i64).hash(&mut hasher));
        seen.insert(hasher.finish())
    });
    beginnings
}

/// Ways with a batch, the most promising first.
fn ways(ground: &Ground, prices: &Prices, batch: &Batch) -> Vec<Way> {
    let mut ways: Vec<Way> = Vec::new();
    for life in 0..batch.lives.len() {
        let ends = prices.worth(ground, batch, life).into_iter();
        ways.extend(ends.map(|(end, value_m3, price_m3)| Way { life, end, value_m3, price_m3 }));
    }
    ways.sort_by(|a, b| b.value_m3.total_cmp(&a.value_m3));
    ways
}

impl<'a> Beginning<'a> {
    /// Goes on with a batch in the ways that promise most.
    fn go(
        &self,
        ground: &Ground,
        prices: &Prices,
        batch: &'a Batch,
        ways: &[Way],
        to_go: f64,
        next: &mut Vec<Self>,
    ) {
        let mut gone: Vec<(f64, Placed)> = Vec::new();
        let mut looked_at = 0;
        let hosts = self.hosts();
        for way in ways {
            if looked_at >= LOOKED_AT {
                break;
            }
            let alone = Placed { batch, life: way.life, end: way.end, joins: None };
            if self.yard.fits(ground, &alone) {
                looked_at += 1;
                gone.push((self.worth(ground, &alone) - way.price_m3, alone));
            }
            for host in &hosts {
                let joined = Placed { joins: Some(*host), ..alone };
                if can_join(ground, &self.placed[*host], &alone) && self.yard.fits(ground, &joined) {
                    let price = prices.joining(ground, batch, way.life);
                    gone.push((self.worth(ground, &joined) - price, joined));
                }
            }
        }
        gone.sort_by(|a, b| b.0.total_cmp(&a.0));
        let before = crowded(ground, self.yard.crowded(ground));
        for (priced, placed) in gone.into_iter().take(GONE) {
            let mut beginning = self.clone();
            serve(&placed, &mut beginning.missing_m3);
            beginning.yard.put(&placed);
            beginning.placed.push(placed);
            let crowding = crowded(ground, beginning.yard.crowded(ground)) - before;
            beginning.value_m3 += priced - crowding - REFUSED * batch.refused_m3;
            beginning.rank = beginning.value_m3 + REFUSED * batch.refused_m3 + to_go;
            next.push(beginning);
        }
    }

    /// Batches that another could be forked together with, by place: turned, and alone so far.
    fn hosts(&self) -> Vec<usize> {
        let hosts = (0..self.placed.len()).rev().take(8);
        hosts
            .filter(|place| {
                let own = &self.placed[*place];
                own.joins.is_none()
                    && own.life().turn.is_some()
                    && !self.paired.contains(place)
                    && self.placed.iter().all(|other| other.joins != Some(*place))
            })
            .collect()
    }

    /// What a batch is worth with what is still asked for.
    fn worth(&self, ground: &Ground, placed: &Placed) -> f64 {
        let life = placed.life();
        let (mut left, mut value) = (1.0, 0.0);
        for end in life.ends.iter().take_while(|end| end.week <= placed.end) {
            let Some(demand) = end.serves else { continue };
            let taken = self.missing_m3[demand].min(left * end.volume_m3);
            left -= taken / end.volume_m3;
            value += ground.wants[demand].weight * taken;
        }
        value + SPARE * left * life.prospect.volume_m3(placed.end) - life.labour_m3()
    }
}

/// Takes what a batch serves off what is asked for.
fn serve(placed: &Placed, missing_m3: &mut [f64]) {
    let mut left = 1.0;
    for end in placed.life().ends.iter().take_while(|end| end.week <= placed.end) {
        let Some(demand) = end.serves else { continue };
        let taken = missing_m3[demand].min(left * end.volume_m3);
        missing_m3[demand] -= taken;
        left -= taken / end.volume_m3;
    }
}

/// Whether `late` can be forked together with `host`: into the same bay in the same week, to be emptied together, and fit for what
/// the other is fit for.
pub fn can_join(ground: &Ground, host: &Placed, late: &Placed) -> bool {
    let (Some((first, kind)), Some((week, into))) = (host.life().turn, late.life().turn) else {
        return false;
    };
    let (theirs, own) = (&host.life().prospect, &late.life().prospect);
    host.end == late.end
        && kind == into
        && host.joins.is_none()
        && first == week
        && week < host.end
        && theirs.volume_m3(week) + own.volume_m3(week) <= ground.kinds[kind].capacity_m3
        && ground
            .wants
            .iter()
            .filter(|want| want.week > first && want.week <= host.end)
            .all(|want| ground.serves(theirs, want) == ground.serves(own, want))
}

/// A whole plan, with compost dealt out and its worth.
pub fn weighed<'a>(ground: &'a Ground, placed: Vec<Placed<'a>>) -> Found<'a> {
    let mut left = vec![1.0; placed.len()];
    let mut draws = Vec::new();
    let mut value = 0.0;
    let mut demands: Vec<usize> = (0..ground.wants.len()).collect();
    demands.sort_by(|a, b| ground.wants[*b].weight.total_cmp(&ground.wants[*a].weight));
    for demand in demands {
        let want = &ground.wants[demand];
        let mut missing = want.volume_m3;
        let mut able: Vec<usize> = (0..placed.len())
            .filter(|place| {
                let own = &placed[*place];
                own.end >= want.week && ground.serves(&own.life().prospect, want)
            })
            .collect();
        // What must be emptied first is used first, and of that what could serve least else.
        able.sort_by_key(|place| {
            (placed[*place].end, std::cmp::Reverse(placed[*place].life().prospect.ready))
        });
        for place in able {
            let volume = placed[place].life().prospect.volume_m3(want.week);
            let taken = missing.min(left[place] * volume);
            if taken > 1e-9 {
                missing -= taken;
                left[place] -= taken / volume;
                value += want.weight * taken;
                draws.push((demand, place, taken));
            }
        }
    }
    let mut yard = Yard::empty(ground);
    let mut week = 0;
    for (own, left) in placed.iter().zip(&left) {
        yard.put(own);
        value += SPARE * left * own.life().prospect.volume_m3(own.end) - own.life().labour_m3();
        if own.batch.is_filled() {
            value -= REFUSED * own.batch.refused_m3;
            value -= REFUSED * ground.inflow_m3[week..own.batch.start].iter().sum::<f64>();
            week = own.batch.close;
        }
    }
    value -= REFUSED * ground.inflow_m3[week..].iter().sum::<f64>();
    value -= crowded(ground, yard.crowded(ground));
    draws.sort_by_key(|(demand, place, _)| (*demand, *place));
    Found { placed, draws, value_m3: value, wants: &ground.wants }
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
