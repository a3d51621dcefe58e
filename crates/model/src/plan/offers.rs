//! What the lives of a batch take up and give, side by side: prices are tried on all of them hundreds of times.

use crate::plan::ground::Batch;

/// A life.
#[derive(Clone, Copy, Debug)]
pub struct Offer {
    /// The week it is turned in and the kind of bay it is turned into.
    pub turn: Option<(u16, u16)>,
    /// The share of that bay that it pays for.
    pub share: f64,
    /// What its labour costs, m³.
    pub labour_m3: f64,
    /// Where its ends stop; they begin where those of the life before do.
    until: u32,
}

/// A week in which a life may end.
#[derive(Clone, Copy, Debug)]
pub struct Given {
    /// The week.
    pub week: u16,
    /// The demand it serves then.
    pub serves: Option<u16>,
    /// Volume then, m³.
    pub volume_m3: f64,
}

/// The lives of a batch with their ends.
#[derive(Clone, Debug)]
pub struct Offers {
    lives: Vec<Offer>,
    ends: Vec<Given>,
}

impl Offers {
    /// Those of a batch. A season's weeks, kinds of bays and demands are all fewer than 65,536.
    pub fn of(batch: &Batch) -> Self {
        let mut own = Self { lives: Vec::with_capacity(batch.lives.len()), ends: Vec::new() };
        for life in &batch.lives {
            let ends = life.ends.iter();
            own.ends.extend(ends.map(|end| Given {
                week: end.week as u16,
                serves: end.serves.map(|demand| demand as u16),
                volume_m3: end.volume_m3,
            }));
            own.lives.push(Offer {
                turn: life.turn.map(|(week, kind)| (week as u16, kind as u16)),
                share: life.share,
                labour_m3: life.labour_m3(),
                until: own.ends.len() as u32,
            });
        }
        own
    }

    /// Each life with its ends, in order of time.
    pub fn lives(&self) -> impl Iterator<Item = (&Offer, &[Given])> {
        let mut from = 0;
        self.lives.iter().map(move |life| {
            let until = life.until as usize;
            (life, &self.ends[std::mem::replace(&mut from, until)..until])
        })
    }
}
