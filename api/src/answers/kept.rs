//! Answers as they were sent, kept for the next who asks the same of the same record: on the morning of a contest
//! everybody asks for the board, and it is worked out once; whoever asks while it is being worked out waits for that. What
//! the answer depends on is in its key, so that nothing here has to be taken back: the club, the question with its
//! parameters, the minute, and the validator, which holds the revision, how long the answer stands by itself, and what the
//! asker may see.

use std::collections::{HashMap, VecDeque};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

use actix_web::web::Bytes;
use tokio::sync::OnceCell;

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
    underway: HashMap<Key, Arc<OnceCell<Bytes>>>,
}

/// The answers kept.
#[derive(Default)]
pub struct KeptAnswers {
    shelf: Mutex<Shelf>,
}

impl KeptAnswers {
    /// The answer to this, if it is kept.
    pub fn get(&self, key: &Key) -> Option<Bytes> {
        self.lock().answers.get(key).cloned()
    }

    fn lock(&self) -> MutexGuard<'_, Shelf> {
        self.shelf.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// The answer to this, kept or worked out now. Whoever asks the same meanwhile waits for the same work; if the one
    /// who began it goes away, the next begins it again.
    pub async fn get_or<E>(
        &self,
        key: &Key,
        work: impl Future<Output = Result<Bytes, E>>,
    ) -> Result<Bytes, E> {
        let underway = {
            let mut shelf = self.lock();
            if let Some(answer) = shelf.answers.get(key) {
                return Ok(answer.clone());
            }
            Underway { kept: self, key, cell: Arc::clone(shelf.underway.entry(key.clone()).or_default()) }
        };
        let answer = underway.cell.get_or_try_init(|| work).await?.clone();
        self.put(key.clone(), &answer);
        Ok(answer)
    }

    /// Keeps an answer; those that came first go when there is no room.
    pub fn put(&self, key: Key, answer: &Bytes) {
        let weight = key.weight(answer.len());
        if weight > LONGEST {
            return;
        }
        let mut shelf = self.lock();
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

/// Somebody who waits for an answer that is being worked out; the last of them takes it off the list.
struct Underway<'a> {
    kept: &'a KeptAnswers,
    key: &'a Key,
    cell: Arc<OnceCell<Bytes>>,
}

impl Drop for Underway<'_> {
    fn drop(&mut self) {
        let mut shelf = self.kept.lock();
        // The list holds one, and whoever waits another; none is added while the lock is held.
        if Arc::strong_count(&self.cell) <= 2 {
            shelf.underway.remove(self.key);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[actix_web::test]
    async fn who_asks_the_same_at_once_waits_for_the_same_work() {
        let kept = KeptAnswers::default();
        let (key, count) = (key(1), std::cell::Cell::new(0));
        let work = |fails: bool| {
            let count = &count;
            async move {
                tokio::task::yield_now().await;
                count.set(count.get() + 1);
                if fails { Err("no") } else { Ok(Bytes::from_static(b"{}")) }
            }
        };
        let (first, second, third) = tokio::join!(
            kept.get_or(&key, work(true)),
            kept.get_or(&key, work(false)),
            kept.get_or(&key, work(false))
        );
        assert_eq!(first, Err("no"), "what failed is told to who began it, and the next begins again");
        assert_eq!((second.unwrap(), third.unwrap()), (Bytes::from_static(b"{}"), Bytes::from_static(b"{}")));
        assert_eq!(count.get(), 2);
        assert!(kept.lock().underway.is_empty());
        assert_eq!(kept.get_or(&key, work(true)).await, Ok(Bytes::from_static(b"{}")), "kept");
        assert_eq!(count.get(), 2);
    }

    #[actix_web::test]
    async fn who_goes_away_leaves_nothing_behind() {
        let kept = KeptAnswers::default();
        let key = key(2);
        let never = std::future::pending::<Result<Bytes, ()>>();
        let asked = tokio::time::timeout(std::time::Duration::ZERO, kept.get_or(&key, never)).await;
        assert!(asked.is_err());
        assert!(kept.lock().underway.is_empty());
    }

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
