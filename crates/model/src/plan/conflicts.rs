//! What does not fit, and what would mend it.

use crate::plan::answer::{Conflict, ConflictKind, DemandOutlook, Remedy, RemedyKind};
use crate::plan::found::Found;
use crate::plan::ground::Ground;
use crate::plan::schedule::Schedule;
use crate::plan::steps::weeks;
use crate::plan::terrain::Terrain;
use crate::plan::yard::Yard;

/// Missing less than this share of a demand is no shortfall.
const NEGLIGIBLE: f64 = 0.005;
/// Weeks that a turn may wait without a word.
const PATIENCE_WEEKS: usize = 3;
/// Share of a conflict under which a bay more is not spoken of.
const WORTHWHILE: f64 = 0.05;
/// Probability of being ready in time under which a draw is called unsure.
const SURE: f64 = 0.9;

/// One bay more, and what it would bring.
pub struct ExtraBay {
    /// The bay it is like, by index.
    pub like: usize,
    /// What each demand then gets, m³.
    pub gets_m3: Vec<f64>,
    /// Loose material that then finds no room, m³.
    pub refused_m3: f64,
}

/// What is needed to find conflicts.
pub struct Finding<'a> {
    pub terrain: &'a Terrain<'a>,
    pub ground: &'a Ground,
    pub found: &'a Found<'a>,
    pub schedule: &'a Schedule,
    pub demands: &'a [DemandOutlook],
    /// What one bay more would bring.
    pub extra: Option<ExtraBay>,
}

impl Finding<'_> {
    /// All conflicts, in order of time.
    pub fn conflicts(&self) -> Vec<Conflict> {
        let mut conflicts = Vec::new();
        for (want, outlook) in self.demands.iter().enumerate() {
            self.demand(want, outlook, &mut conflicts);
        }
        self.no_room(&mut conflicts);
        self.no_free_bay(&mut conflicts);
        self.late_turns(&mut conflicts);
        self.mixes(&mut conflicts);
        conflicts.sort_by_key(|conflict| conflict.on);
        conflicts
    }

    /// A volume in barrow loads.
    pub fn barrows(&self, volume_m3: f64) -> f64 {
        volume_m3 / self.terrain.barrow_m3()
    }

    /// An amount as people say it.
    pub fn said(&self, volume_m3: f64) -> String {
        let barrows = self.barrows(volume_m3).ceil();
        let loads = if barrows == 1.0 { "load" } else { "loads" };
        format!("{volume_m3:.2} m³ ({barrows:.0} barrow {loads})")
    }

    fn demand(&self, want: usize, outlook: &DemandOutlook, conflicts: &mut Vec<Conflict>) {
        let DemandOutlook { demand, by, needed_m3, short_m3, .. } = outlook;
        let conflict = Conflict {
            kind: ConflictKind::Shortfall,
            on: *by,
            demand: Some(demand.clone()),
            batch: None,
            volume_m3: Some(*short_m3),
            barrows: Some(self.barrows(*short_m3)),
            text: format!(
                "`{demand}` needs {} by {by} and is short of {}",
                self.said(*needed_m3),
                self.said(*short_m3)
            ),
            remedies: Vec::new(),
        };
        if *short_m3 > NEGLIGIBLE * needed_m3 {
            conflicts.push(Conflict { remedies: self.remedies(want, *short_m3), ..conflict });
        }
        for draw in outlook.taken_from.iter().filter(|draw| draw.ready_probability < SURE) {
            conflicts.push(Conflict {
                kind: ConflictKind::Unsure,
                on: *by,
                demand: Some(demand.clone()),
                batch: Some(draw.batch.clone()),
                volume_m3: Some(draw.volume_m3.p50),
                barrows: Some(self.barrows(draw.volume_m3.p50)),
                text: format!(
                    "`{}` is ready for `{demand}` by {by} in {:.0} cases of 100: do not promise it",
                    draw.batch,
                    100.0 * draw.ready_probability
                ),
                remedies: Vec::new(),
            });
        }
    }

    fn remedies(&self, want: usize, short_m3: f64) -> Vec<Remedy> {
        let mut remedies = Vec::new();
        let own = &self.ground.wants[want];
        let demand = &self.terrain.season.demands[own.demand];
        if let Some((loose_m3, week)) = self.material(want, short_m3) {
            let day = self.terrain.date(week);
            let text = format!("{} more loose material, in a bay by {day}", self.said(loose_m3));
            remedies.push(Remedy {
                volume_m3: Some(loose_m3),
                barrows: Some(self.barrows(loose_m3)),
                on: Some(day),
                ..plain(RemedyKind::MoreMaterial, short_m3, text)
            });
        }
        if let Some(extra) = &self.extra {
            let mends_m3 = (extra.gets_m3[want] - self.found.served_m3(want)).min(short_m3);
            if mends_m3 > WORTHWHILE * short_m3 {
                remedies.push(self.bay_more(extra, mends_m3, "would bring"));
            }
        }
        if let Some(week) = self.later(want, short_m3) {
            let on = self.terrain.date(week);
            let text = format!("dressed from {on} on, what is ready by then is enough");
            remedies.push(Remedy { on: Some(on), ..plain(RemedyKind::LaterDate, short_m3, text) });
        }
        if let Some(depth_m) = demand.depth_m {
            let depth_m = depth_m * (1.0 - short_m3 / own.volume_m3);
            if depth_m > 0.001 {
                let text = format!("spread {:.0} mm deep, what there is covers all of it", 1000.0 * depth_m);
                let thinner = plain(RemedyKind::ThinnerDressing, short_m3, text);
                remedies.push(Remedy { depth_m: Some(depth_m), ..thinner });
            }
        }
        let text = format!("{} of finished compost brought in", self.said(short_m3));
        remedies.push(Remedy {
            volume_m3: Some(short_m3),
            barrows: Some(self.barrows(short_m3)),
            ..plain(RemedyKind::FinishedCompost, short_m3, text)
        });
        remedies
    }

    fn bay_more(&self, extra: &ExtraBay, mends_m3: f64, verb: &str) -> Remedy {
        let like = &self.terrain.season.bays[extra.like].id;
        let text = format!("one bay more like `{like}` {verb} {}", self.said(mends_m3));
        Remedy { like_bay: Some(like.clone()), ..plain(RemedyKind::ExtraBay, mends_m3, text) }
    }

    /// Loose material that would come to so much compost, and the week by whose start it must be in a bay: as the quickest of
    /// the batches that could be filled does.
    fn material(&self, want: usize, short_m3: f64) -> Option<(f64, usize)> {
        let own = &self.ground.wants[want];
        let mut best: Option<(usize, f64)> = None;
        for batch in
            self.ground.fills.iter().flatten().filter(|batch| !batch.open && batch.standing.is_none())
        {
            let loose_m3: f64 = self.ground.inflow_m3[batch.start..batch.close].iter().sum();
            for life in batch.lives.iter().filter(|life| self.ground.serves(&life.prospect, own)) {
                let share = life.prospect.volume_m3(own.week) / (loose_m3 - batch.refused_m3).max(1e-9);
                if share > 0.0 && best.is_none_or(|(close, _)| batch.close > close) {
                    best = Some((batch.close, share));
                }
            }
        }
        best.map(|(close, share)| (short_m3 / share, close))
    }

    /// First week after a demand's in which what nobody else uses makes up for what is missing.
    fn later(&self, want: usize, short_m3: f64) -> Option<usize> {
        let own = &self.ground.wants[want];
        (own.week + 1..=self.terrain.weeks).find(|week| {
            let later = crate::plan::ground::Want { week: *week, ..own.clone() };
            let spare = self.found.placed.iter().enumerate().map(|(place, placed)| {
                let prospect = &placed.life().prospect;
                // What is emptied before is spread before.
                let fits = self.ground.serves(prospect, &later) && placed.end >= *week && !placed.batch.open;
                if fits { self.found.left(place) * prospect.volume_m3(*week) } else { 0.0 }
            });
            spare.sum::<f64>() >= short_m3
        })
    }

    fn no_room(&self, conflicts: &mut Vec<Conflict>) {
        let weeks = self.terrain.weeks;
        let mut refused = self.ground.inflow_m3.clone();
        for own in &self.found.placed {
            if own.batch.is_filled() {
                refused[own.batch.start..own.batch.close].fill(0.0);
                refused[own.batch.close - 1] = own.batch.refused_m3;
            }
        }
        let all_m3: f64 = refused.iter().sum();
        let mut week = 0;
        while week < weeks {
            let start = week;
            let mut volume_m3 = 0.0;
            while week < weeks && refused[week] > 0.01 {
                volume_m3 += refused[week];
                week += 1;
            }
            if volume_m3 > 0.05 {
                let text = format!(
                    "{} that comes in from {} to {} finds no bay",
                    self.said(volume_m3),
                    self.terrain.date(start),
                    self.terrain.date(week)
                );
                let extra =
                    self.extra.as_ref().map(|extra| (extra, volume_m3 * (1.0 - extra.refused_m3 / all_m3)));
                let extra = extra.filter(|(_, mends_m3)| *mends_m3 > WORTHWHILE * volume_m3);
                let remedies = extra
                    .map(|(extra, mends_m3)| self.bay_more(extra, mends_m3, "would take in"))
                    .into_iter()
                    .collect();
                conflicts.push(Conflict {
                    kind: ConflictKind::NoRoom,
                    on: self.terrain.date(start),
                    demand: None,
                    batch: None,
                    volume_m3: Some(volume_m3),
                    barrows: Some(self.barrows(volume_m3)),
                    text,
                    remedies,
                });
            }
            week += 1;
        }
    }

    fn no_free_bay(&self, conflicts: &mut Vec<Conflict>) {
        if !self.ground.keep_free {
            return;
        }
        let mut yard = Yard::empty(self.ground);
        self.found.placed.iter().for_each(|own| yard.put(own));
        let mut week = 0;
        while week < self.terrain.weeks {
            let start = week;
            while week < self.terrain.weeks && yard.is_crowded(self.ground.bays(), week) {
                week += 1;
            }
            if week > start {
                let text = format!(
                    "no bay stands free for turning from {} to {}",
                    self.terrain.date(start),
                    self.terrain.date(week)
                );
                conflicts.push(Conflict {
                    kind: ConflictKind::NoFreeBay,
                    on: self.terrain.date(start),
                    demand: None,
                    batch: None,
                    volume_m3: None,
                    barrows: None,
                    text,
                    remedies: Vec::new(),
                });
            }
            week += 1;
        }
    }

    fn late_turns(&self, conflicts: &mut Vec<Conflict>) {
        for (place, own) in self.found.placed.iter().enumerate() {
            let life = own.life();
            let batch = &self.schedule.names[place];
            let (week, text) = match life.turn {
                Some((week, _)) if life.waits > PATIENCE_WEEKS => {
                    (week, format!("`{batch}` waits {} beyond its rest for its turn", weeks(life.waits)))
                }
                None if !life.done && own.batch.close + 4 < self.terrain.weeks => (
                    own.batch.close,
                    format!("`{batch}` is not turned: its outside stays raw and keeps its seeds"),
                ),
                _ => continue,
            };
            conflicts.push(Conflict {
                kind: ConflictKind::LateTurn,
                on: self.terrain.date(week),
                demand: None,
                batch: Some(batch.clone()),
                volume_m3: None,
                barrows: None,
                text,
                remedies: Vec::new(),
            });
        }
    }
}

/// A remedy with nothing told but what it mends.
pub fn plain(kind: RemedyKind, mends_m3: f64, text: String) -> Remedy {
    Remedy { kind, mends_m3, volume_m3: None, barrows: None, on: None, depth_m: None, like_bay: None, text }
}
