//! Working quarters as single bits, so that 64 of them are looked at in one step.

use std::ops::Range;

/// A set of working quarters.
#[derive(Clone)]
pub(super) struct Bits(Vec<u64>);

/// The bits of one word.
const WORD: usize = 64;

impl Bits {
    /// Of so many working quarters those of which it is true.
    pub fn of(count: usize, is_in: impl Fn(usize) -> bool) -> Self {
        let word = |from: usize| {
            let slots = from..count.min(from + WORD);
            slots.filter(|slot| is_in(*slot)).fold(0, |word, slot| word | 1 << (slot % WORD))
        };
        Self((0..count.div_ceil(WORD)).map(|index| word(index * WORD)).collect())
    }

    /// Among these quarters becomes like another set; without one, `is_in` says whether all are in it or none.
    pub fn copy(&mut self, other: Option<&Self>, slots: Range<usize>, is_in: bool) {
        for (index, mask) in words(slots) {
            let from = other.map_or(if is_in { u64::MAX } else { 0 }, |other| other.word(index));
            if let Some(word) = self.0.get_mut(index) {
                *word = *word & !mask | from & mask;
            }
        }
    }

    /// How many of these quarters are in it.
    pub fn count(&self, slots: Range<usize>) -> u32 {
        words(slots).map(|(index, mask)| (self.word(index) & mask).count_ones()).sum()
    }

    /// A quarter's word, counted from 0.
    pub fn word(&self, index: usize) -> u64 {
        self.0.get(index).copied().unwrap_or_default()
    }
}

/// Words and the bits of each that these quarters are.
fn words(slots: Range<usize>) -> impl DoubleEndedIterator<Item = (usize, u64)> {
    let last = slots.end.saturating_sub(1);
    let indexes = if slots.is_empty() { 0..0 } else { slots.start / WORD..last / WORD + 1 };
    indexes.map(move |index| {
        let from = if index == slots.start / WORD { u64::MAX << (slots.start % WORD) } else { u64::MAX };
        let to = if index == last / WORD { u64::MAX >> (WORD - 1 - last % WORD) } else { u64::MAX };
        (index, from & to)
    })
}

/// The last quarter of `begins` in `slots` from which on `length` quarters are in all sets that `free` looks into, word
/// by word; and how many words were looked at.
pub(super) fn last_run(
    begins: &Bits,
    length: usize,
    slots: Range<usize>,
    free: impl Fn(usize) -> u64,
) -> (Option<usize>, u64) {
    let mut looked = 0;
    let mut next = None;
    for (index, mask) in words(slots).rev() {
        looked += 1;
        let mut fits = begins.word(index) & mask;
        if fits == 0 {
            next = None;
            continue;
        }
        let here = free(index);
        if fits & here != 0 {
            let behind = next.unwrap_or_else(|| free(index + 1));
            fits &= runs(here, behind, length.min(WORD));
            while fits != 0 {
                let bit = usize::try_from(fits.ilog2()).unwrap_or_default();
                let begin = index * WORD + bit;
                let is_in = |slot: usize| free(slot / WORD) & (1 << (slot % WORD)) != 0;
                if (begin + WORD..begin + length).all(is_in) {
                    return (Some(begin), looked);
                }
                fits &= !(1 << bit);
            }
        }
        next = Some(here);
    }
    (None, looked)
}

/// From which quarters of a word on `length` quarters are set, at most a word long; `behind` is the next word.
fn runs(here: u64, behind: u64, length: usize) -> u64 {
    let mut both = u128::from(behind) << WORD | u128::from(here);
    let mut reached = 1;
    while reached < length {
        let by = reached.min(length - reached);
        both &= both >> by;
        reached += by;
    }
    u64::try_from(both & u128::from(u64::MAX)).unwrap_or_default()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn runs_are_found_as_by_looking_quarter_by_quarter() {
        // Gaps of growing length, at places that fall on and beside the ends of words.
        let is_free = |slot: usize| !matches!(slot, 3 | 9 | 20 | 63 | 64 | 130 | 210 | 383);
        let free = Bits::of(400, is_free);
        let begins = Bits::of(400, |slot| slot % 7 != 0);
        for length in [1, 2, 5, 31, 63, 64, 65, 100, 128, 129, 172, 173, 300] {
            for slots in [0..400, 5..300, 64..192, 70..71, 130..130] {
                let by_hand = slots.clone().rev().find(|begin| {
                    begin % 7 != 0 && (*begin..begin + length).all(|at| at < 400 && is_free(at))
                });
                let (found, _) = last_run(&begins, length, slots.clone(), |word| free.word(word));
                assert_eq!(found, by_hand, "{length} in {slots:?}");
            }
        }
    }

    #[test]
    fn a_part_is_copied_and_the_rest_stays() {
        let mut bits = Bits::of(200, |slot| slot % 2 == 0);
        bits.copy(Some(&Bits::of(200, |slot| slot % 3 == 0)), 60..131, false);
        bits.copy(None, 140..150, true);
        let is_in = |slot: usize| bits.word(slot / WORD) >> (slot % WORD) & 1 == 1;
        for slot in 0..200 {
            let other = slot % 3 == 0;
            let wanted =
                if (60..131).contains(&slot) { other } else { slot % 2 == 0 || (140..150).contains(&slot) };
            assert_eq!(is_in(slot), wanted, "{slot}");
        }
        assert_eq!((bits.count(0..60), bits.count(60..131), bits.count(140..150)), (30, 24, 10));
    }
}
