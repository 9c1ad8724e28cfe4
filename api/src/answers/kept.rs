//! Answers as they were sent, kept for the next who asks the same of the same record: on the morning of a contest
//! everybody asks for the board, and it is worked out once. What the answer depends on is in its key, so that nothing
//! here has to be taken back: the club, the question with its parameters, the minute, and the validator, which holds the
//! revision, how long the answer stands by itself, and what the asker may see.

use std::collections::{HashMap, VecDeque};
use std::sync::{Mutex, PoisonError};

use actix_web::web::Bytes;

/// Bytes of all answers kept, with their keys.
const ROOM: usize = 32 << 20;
/// An answer that takes more than this with its key is not kept.
const LONGEST: usize = ROOM / 8;

/// What an answer is one to.
#[derive(Clone, Debug, PartialEq, Eq, Hash)]
pub struct Key {
    /// The club.
    pub club: String,
    /// The path with its parameters, as they were sent.
    pub asked: String,
    /// The validator of the answer.
    pub validator: String,
    /// The minute of the moment asked about: what is said of that moment is never older.
    pub minute: i64,
}

impl Key {
    /// Bytes that an answer takes with its key, which stands among the answers and in their order. Questions may be long
    /// and their answers short.
    fn weight(&self, answer: usize) -> usize {
        let texts = self.club.len() + self.asked.len() + self.validator.len();
        answer + 2 * (texts + size_of::<Self>())
    }
}

#[derive(Default)]
struct Shelf {
    answers: HashMap<Key, Bytes>,
    order: VecDeque<Key>,
    bytes: usize,
}

/// The answers kept.
#[derive(Default)]
pub struct KeptAnswers {
    shelf: Mutex<Shelf>,
}

impl KeptAnswers {
    /// The answer to this, if it is kept.
    pub fn get(&self, key: &Key) -> Option<Bytes> {
        self.shelf.lock().unwrap_or_else(PoisonError::into_inner).answers.get(key).cloned()
    }

    /// Keeps an answer; those that came first go when there is no room.
    pub fn put(&self, key: Key, answer: &Bytes) {
        let weight = key.weight(answer.len());
        if weight > LONGEST {
            return;
        }
        let mut shelf = self.shelf.lock().unwrap_or_else(PoisonError::into_inner);
        if shelf.answers.insert(key.clone(), answer.clone()).is_none() {
            shelf.bytes += weight;
            shelf.order.push_back(key);
        }
        while shelf.bytes > ROOM
            && let Some(oldest) = shelf.order.pop_front()
        {
            let gone = shelf.answers.remove(&oldest).map_or(0, |answer| oldest.weight(answer.len()));
            shelf.bytes -= gone;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn key(number: usize) -> Key {
        Key {
            club: "a".to_owned(),
            asked: format!("/due?{number:02}"),
            validator: "W/\"1\"".to_owned(),
            minute: 0,
        }
    }

    #[test]
    fn the_first_go_when_there_is_no_room() {
        let kept = KeptAnswers::default();
        let answer = Bytes::from(vec![b'x'; LONGEST - key(0).weight(0)]);
        for number in 0..20 {
            kept.put(key(number), &answer);
            kept.put(key(number), &answer);
        }
        let held: Vec<usize> = (0..20).filter(|number| kept.get(&key(*number)).is_some()).collect();
        assert_eq!(held, (12..20).collect::<Vec<_>>());
        kept.put(key(99), &Bytes::from(vec![b'x'; LONGEST - key(99).weight(0) + 1]));
        assert!(kept.get(&key(99)).is_none(), "too long to be kept");
        let long = Key { asked: "x".repeat(LONGEST), ..key(99) };
        kept.put(long.clone(), &Bytes::from_static(b"{}"));
        assert!(kept.get(&long).is_none(), "a question too long to be kept");
        let other = Key { validator: "W/\"2\"".to_owned(), ..key(19) };
        assert!(kept.get(&other).is_none(), "another validator is another answer");
    }
}
