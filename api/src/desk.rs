//! Long computations: away from the threads that answer requests, and only so many at once, so that nobody else waits
//! for them. What is computed is no business of this file.

use tokio::sync::Semaphore;

use crate::problem::Problem;

/// Computations that run at once.
const AT_ONCE: usize = 2;
/// How many more may wait for their turn.
const WAITING: usize = 16;

/// Where plans are made. One for the process: its cores are what is shared out.
pub static DESK: Desk = Desk::new(AT_ONCE, WAITING);
/// Where sheets are printed: nobody waits for paper behind a plan.
pub static PRESS: Desk = Desk::new(AT_ONCE, WAITING);

/// Where the record of a whole club is audited: one at a time, since it looks at every flight ever flown.
pub static AUDITS: Desk = Desk::new(1, WAITING);
/// Where questions about a whole fleet are answered. A place waits for each that may be asked at once on the morning of
/// a contest; those who ask the same wait together in one place.
pub static BOARDS: Desk = Desk::new(AT_ONCE, 256);

/// So many places to compute, and to wait for one.
#[derive(Debug)]
pub struct Desk {
    seats: Semaphore,
    places: Semaphore,
    at_once: usize,
    waiting: usize,
}

impl Desk {
    /// A desk with so many seats, and room to wait.
    #[must_use]
    pub const fn new(at_once: usize, waiting: usize) -> Self {
        let (seats, places) = (Semaphore::const_new(at_once), Semaphore::const_new(at_once + waiting));
        Self { seats, places, at_once, waiting }
    }

    /// How many are computed just now, and how many wait.
    pub fn standing(&self) -> (usize, usize) {
        let at_work = self.at_once.saturating_sub(self.seats.available_permits());
        let taken = (self.at_once + self.waiting).saturating_sub(self.places.available_permits());
        (at_work, taken.saturating_sub(at_work))
    }

    /// Computes something when it is its turn, or says at once that the service is busy. Whoever goes away while they
    /// wait leaves their place; what is being computed keeps its seat until it is done.
    ///
    /// # Errors
    /// [`Problem::Busy`] where all places are taken, and what goes wrong with the thread.
    pub async fn compute<T: Send + 'static>(
        &'static self,
        work: impl FnOnce() -> T + Send + 'static,
    ) -> Result<T, Problem> {
        let place = self.places.try_acquire().map_err(|_full| Problem::Busy)?;
        let seat = self.seats.acquire().await.map_err(|_closed| Problem::Busy)?;
        let seated = move || {
            let _held = (place, seat);
            work()
        };
        tokio::task::spawn_blocking(seated).await.map_err(|error| Problem::Internal(error.to_string()))
    }
}

#[cfg(test)]
mod tests {
    use std::sync::mpsc::channel;

    use super::*;

    #[actix_web::test]
    async fn one_computes_one_waits_the_third_is_told_that_it_is_busy() {
        let desk: &'static Desk = Box::leak(Box::new(Desk::new(1, 1)));
        let (started, starts) = channel();
        let (go, gone) = channel::<()>();
        let first = actix_web::rt::spawn(desk.compute(move || {
            started.send(()).unwrap();
            gone.recv().unwrap();
            1
        }));
        actix_web::rt::task::yield_now().await;
        while starts.try_recv().is_err() {
            actix_web::rt::task::yield_now().await;
        }
        let second = actix_web::rt::spawn(desk.compute(|| 2));
        actix_web::rt::task::yield_now().await;
        assert!(matches!(desk.compute(|| 3).await, Err(Problem::Busy)));
        go.send(()).unwrap();
        assert_eq!((first.await.unwrap().unwrap(), second.await.unwrap().unwrap()), (1, 2));
        assert_eq!(desk.compute(|| 4).await.unwrap(), 4);
    }

    #[actix_web::test]
    async fn who_goes_away_while_waiting_leaves_the_place() {
        let desk: &'static Desk = Box::leak(Box::new(Desk::new(1, 1)));
        let (go, gone) = channel::<()>();
        let first = actix_web::rt::spawn(desk.compute(move || gone.recv().unwrap()));
        actix_web::rt::task::yield_now().await;
        let second = actix_web::rt::spawn(desk.compute(|| ()));
        actix_web::rt::task::yield_now().await;
        assert!(matches!(desk.compute(|| ()).await, Err(Problem::Busy)));
        second.abort();
        assert!(second.await.is_err());
        let third = actix_web::rt::spawn(desk.compute(|| 3));
        actix_web::rt::task::yield_now().await;
        go.send(()).unwrap();
        first.await.unwrap().unwrap();
        assert_eq!(third.await.unwrap().unwrap(), 3);
    }
}
