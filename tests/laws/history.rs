//! Random histories of a whole club: from a list of random numbers to facts that the rules accepted, in the order in
//! which they were recorded. [`crate::world`] makes what every history begins with.

use preen_domain::{
    facts::{Fact, Noun, Recorded},
    fleet::{Club, Fleet},
    ids::ClubId,
    rules,
    time::Instant,
};
use proptest::prelude::*;
use uuid::Uuid;

use crate::{
    acts,
    world::{self, Extent},
};

/// Everything recorded so far, as facts and as a Fleet.
#[derive(Clone)]
pub struct History {
    pub facts: Vec<Recorded<Fact>>,
    pub fleet: Fleet,
    /// The moment up to which things have happened, mostly.
    pub cursor: Instant,
    /// Facts that a rule refused.
    pub refused: usize,
    /// How large the club is.
    pub extent: Extent,
    next_id: u128,
}

/// The numbers that a history is made of: one for each act.
pub fn seeds() -> impl Strategy<Value = Vec<u64>> {
    prop::collection::vec(any::<u64>(), 20..110)
}

pub fn club() -> Club {
    Club {
        id: ClubId(Uuid::from_u128(1)),
        tag: "laws".parse().unwrap(),
        title: "Club of the laws".to_owned(),
        zone: chrono_tz::Europe::London,
    }
}

impl History {
    /// A club with its master data and most seats filled at the start of the record.
    pub fn begin(extent: Extent) -> Self {
        let mut history = Self {
            facts: Vec::new(),
            fleet: Fleet::new(club()),
            cursor: world::start(),
            refused: 0,
            extent,
            next_id: 0x0197_0a3c_5d00_7000_8000_0000_0000_0000,
        };
        for fact in world::facts(extent) {
            assert!(history.record(fact.clone(), 0), "the world is refused: {fact:?}");
        }
        history
    }

    /// A club with a life.
    pub fn of(seeds: &[u64]) -> Self {
        let mut history = Self::begin(Extent::SMALL);
        history.live(seeds, true);
        history
    }

    /// A club of many models with a life of so many acts, from one number.
    pub fn large(extent: Extent, acts: u32, number: u64) -> Self {
        let mut history = Self::begin(extent);
        let mut roll = Roll(number);
        let seeds: Vec<u64> = (0..acts).map(|_| roll.next_u64()).collect();
        history.live(&seeds, true);
        // At last every fifth model is put in order: somebody wants to fly.
        for place in (0..extent.models()).step_by(5) {
            let at = history.cursor;
            acts::put_in_order(&mut history, &mut roll, at, extent.number(place));
        }
        history
    }

    /// One of the models.
    pub fn any_model(&self, roll: &mut Roll) -> u128 {
        self.extent.number(u128::from(roll.below(self.models())))
    }

    /// How many models there are.
    pub fn models(&self) -> u32 {
        u32::try_from(self.extent.models()).unwrap()
    }

    /// Goes on living. Without `in_the_past`, nothing happens before the cursor and nothing old is changed.
    pub fn live(&mut self, seeds: &[u64], in_the_past: bool) {
        for seed in seeds {
            acts::act(self, &mut Roll(*seed), in_the_past);
        }
    }

    /// A new id; unlike a real one it carries no time, so that ids and moments are in no common order.
    pub fn id(&mut self) -> Uuid {
        self.next_id += 1;
        let mixed = Roll(u64::try_from(self.next_id & 0xffff_ffff).unwrap()).next_u64();
        Uuid::from_u128(self.next_id ^ (u128::from(mixed & 0xffff_ffff) << 24))
    }

    /// Records a fact if the rules accept it.
    pub fn record(&mut self, fact: Fact, by: u128) -> bool {
        let revision = i64::try_from(self.facts.len()).unwrap() + 1;
        let recorded = Recorded {
            fact,
            recorded_at: world::end().plus_seconds(revision),
            recorded_by: world::member(by),
            revision,
        };
        let now = recorded.recorded_at;
        let broken = match &recorded.fact {
            Fact::Correction(correction) => {
                rules::check_correction(&self.fleet, &recorded.with(correction.clone()), now)
            }
            fact => rules::check_by(&self.fleet, fact, recorded.recorded_by, now),
        };
        if !broken.is_empty() {
            self.refused += 1;
            return false;
        }
        self.fleet.apply(&recorded);
        self.facts.push(recorded);
        true
    }

    /// Ids of all recorded facts of a noun.
    pub fn ids(&self, noun: Noun) -> Vec<Uuid> {
        let of_noun = self.facts.iter().filter(|recorded| recorded.fact.noun() == noun);
        of_noun.map(|recorded| recorded.fact.id()).collect()
    }
}

/// The same facts as a Fleet, in the order given.
pub fn arrive<'a>(facts: impl IntoIterator<Item = &'a Recorded<Fact>>) -> Fleet {
    let mut fleet = Fleet::new(club());
    for fact in facts {
        fleet.apply(fact);
    }
    fleet
}

/// Numbers that follow from one number.
pub struct Roll(pub u64);

impl Roll {
    /// The next number (splitmix64, public domain).
    pub fn next_u64(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut mixed = self.0;
        mixed = (mixed ^ (mixed >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        mixed = (mixed ^ (mixed >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        mixed ^ (mixed >> 31)
    }

    /// A number below another.
    pub fn below(&mut self, end: u32) -> u32 {
        u32::try_from(self.next_u64() % u64::from(end.max(1))).unwrap()
    }

    /// True so many times in a hundred.
    pub fn percent(&mut self, chance: u32) -> bool {
        self.below(100) < chance
    }

    /// One of a list.
    pub fn pick<T: Clone>(&mut self, list: &[T]) -> Option<T> {
        if list.is_empty() {
            return None;
        }
        list.get(usize::try_from(self.below(u32::try_from(list.len()).unwrap())).unwrap()).cloned()
    }

    /// A list in another order.
    pub fn shuffle<T>(&mut self, list: &mut [T]) {
        for last in (1..list.len()).rev() {
            let other = self.below(u32::try_from(last + 1).unwrap());
            list.swap(last, usize::try_from(other).unwrap());
        }
    }
}
