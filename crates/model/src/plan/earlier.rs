//! An earlier plan, taken up again: what of it can still be done stands as it was.

use crate::plan::answer::{Action, Step};
use crate::plan::found::left;
use crate::plan::ground::{Batch, Ground};
use crate::plan::terrain::Terrain;
use crate::plan::yard::{Placed, Yard};

/// An earlier plan's steps.
pub struct Earlier<'a> {
    terrain: &'a Terrain<'a>,
}

impl<'a> Earlier<'a> {
    /// The steps that a season brings along.
    pub fn new(terrain: &'a Terrain<'a>) -> Self {
        Self { terrain }
    }

    fn steps(&self, action: Action) -> impl Iterator<Item = &'a Step> {
        self.terrain.season.earlier.iter().filter(move |step| step.action == action)
    }

    /// The week and kind of bay that a batch was to be turned in and into.
    pub fn turn(&self, batch: &str) -> Option<(usize, usize)> {
        let step = self.steps(Action::Turn).find(|step| step.batch == batch)?;
        Some((self.terrain.week(step.on), self.terrain.kind_of(step.to_bay.as_deref()?)?))
    }

    /// The fill that was to be begun in a week in a kind of bay: its batch, and the week in which it was to be closed.
    pub fn fill(&self, kind: usize, week: usize) -> Option<(&'a str, usize)> {
        let step = self.steps(Action::Fill).find(|step| {
            self.terrain.week(step.on) == week && self.terrain.kind_of(&step.bay) == Some(kind)
        })?;
        Some((&step.batch, self.close(&step.batch)))
    }

    /// The week in which a batch was to be closed.
    fn close(&self, batch: &str) -> usize {
        let step = self.steps(Action::Close).find(|step| step.batch == batch);
        step.map_or(self.terrain.weeks, |step| self.terrain.week(step.on))
    }

    /// Whether the earlier plan tells of a batch.
    pub fn knows(&self, batch: &str) -> bool {
        self.terrain.season.earlier.iter().any(|step| step.batch == batch)
    }

    /// The plan as it was, as far as it can still be done.
    pub fn placed<'g>(&self, ground: &'g Ground) -> Vec<Placed<'g>> {
        let mut yard = Yard::empty(ground);
        let standing: Vec<Placed> = ground.standing.iter().map(|batch| left(ground, batch)).collect();
        for own in &standing {
            yard.put(own);
        }
        let mut placed: Vec<Placed> = Vec::new();
        let mut names: Vec<&str> = Vec::new();
        for own in standing {
            yard.lift(&own);
            let name = self.terrain.season.batches[own.batch.standing.unwrap_or(0)].history.batch.as_str();
            let own = self.place(ground, &yard, own.batch, name, &placed, &names).unwrap_or(own);
            yard.put(&own);
            placed.push(own);
            names.push(name);
        }
        let mut week = 0;
        while week < ground.weeks {
            let Some((batch, name)) = self.begun(ground, week) else {
                week += 1;
                continue;
            };
            let own = self.place(ground, &yard, batch, name, &placed, &names);
            let own = own.or_else(|| Some(left(ground, batch)).filter(|own| yard.fits(ground, own)));
            let Some(own) = own else {
                week += 1;
                continue;
            };
            yard.put(&own);
            placed.push(own);
            names.push(name);
            week = batch.close;
        }
        placed
    }

    /// The fill that was to be begun in a week, closed as near as may be to when it was to be.
    fn begun<'g>(&self, ground: &'g Ground, week: usize) -> Option<(&'g Batch, &'a str)> {
        let known = ground.fills[week].iter().filter_map(|batch| {
            let standing =
                batch.standing.map(|index| self.terrain.season.batches[index].history.batch.as_str());
            let (name, close) = match standing {
                Some(name) => (name, self.close(name)),
                None => self.fill(batch.kind, week)?,
            };
            Some((batch, name, close.abs_diff(batch.close)))
        });
        known.min_by_key(|(.., off)| *off).map(|(batch, name, _)| (batch, name))
    }

    /// A batch as it was placed, if it can be.
    fn place<'g>(
        &self,
        ground: &'g Ground,
        yard: &Yard,
        batch: &'g Batch,
        name: &str,
        placed: &[Placed<'g>],
        names: &[&str],
    ) -> Option<Placed<'g>> {
        let turn = self.turn(name);
        let life = batch.lives.iter().position(|life| life.turn == turn)?;
        let emptied = self
            .steps(Action::Empty)
            .filter(|step| step.batch == name)
            .map(|step| self.terrain.week(step.on));
        let end = emptied.max().unwrap_or(ground.weeks);
        let ends = &batch.lives[life].ends;
        let end = if ends.iter().any(|own| own.week == end) { end } else { ground.weeks };
        // Of two that are forked together, the one that is told to cure came first.
        let cures = self.steps(Action::Cure).any(|step| step.batch == name);
        let with = self
            .steps(Action::Turn)
            .find(|step| step.batch == name)
            .and_then(|step| step.with_batch.as_deref());
        let host = with.filter(|_| !cures).and_then(|with| names.iter().position(|name| *name == with));
        let joins = host.filter(|host| placed[*host].end == end);
        let own = Placed { batch, life, end, joins };
        yard.fits(ground, &own).then_some(own)
    }
}
