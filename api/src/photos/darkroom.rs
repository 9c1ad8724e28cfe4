//! Makes pictures off the request threads, few at once: a decoded picture takes much memory and a while of one core.

use tokio::sync::Semaphore;

use super::label::read_label;
use super::picture::{BadPicture, Picture, decoded_bytes, develop};
use crate::problem::Problem;

/// Pictures made at once, if they are not large.
const AT_ONCE: u32 = 2;
/// Bytes of decoded pixels from which on a picture is made alone.
const LARGE: u64 = 64 << 20;
/// Pictures read and waiting at most; one more is turned away as busy.
const PLACES: usize = 16;

/// Where pictures are made.
pub struct Darkroom {
    slots: Semaphore,
    places: Semaphore,
}

impl Default for Darkroom {
    fn default() -> Self {
        let slots = usize::try_from(AT_ONCE).unwrap_or(1);
        Self { slots: Semaphore::new(slots), places: Semaphore::new(PLACES) }
    }
}

/// A place in the darkroom, to be had before a picture is read from the network.
pub struct Turn<'a> {
    darkroom: &'a Darkroom,
    _place: tokio::sync::SemaphorePermit<'a>,
}

impl Darkroom {
    /// How many pictures are made just now, and how many more are read or wait. A large one takes all slots.
    pub fn standing(&self) -> (usize, usize) {
        let slots = usize::try_from(AT_ONCE).unwrap_or(1);
        let at_work = slots.saturating_sub(self.slots.available_permits());
        let taken = PLACES.saturating_sub(self.places.available_permits());
        (at_work, taken.saturating_sub(at_work))
    }

    /// A place, unless all are taken.
    pub fn turn(&self) -> Result<Turn<'_>, Problem> {
        let place = self.places.try_acquire().map_err(|_full| Problem::Busy)?;
        Ok(Turn { darkroom: self, _place: place })
    }
}

impl Turn<'_> {
    /// Makes what is kept of what was sent.
    pub async fn develop(&self, sent: Vec<u8>) -> Result<Picture, Problem> {
        self.make(sent, develop).await
    }

    /// Reads the label that is to be seen on what was sent.
    pub async fn read_label(&self, sent: Vec<u8>) -> Result<Option<String>, Problem> {
        self.make(sent, read_label).await
    }

    async fn make<T: Send + 'static>(
        &self,
        sent: Vec<u8>,
        how: fn(&[u8]) -> Result<T, BadPicture>,
    ) -> Result<T, Problem> {
        let wanted = if decoded_bytes(&sent)? > LARGE { AT_ONCE } else { 1 };
        let _slots = self.darkroom.slots.acquire_many(wanted).await.map_err(|_closed| Problem::Busy)?;
        let made = tokio::task::spawn_blocking(move || how(&sent)).await;
        Ok(made.map_err(|error| Problem::Internal(error.to_string()))??)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn whoever_finds_no_place_is_told_so_at_once() {
        let room = Darkroom::default();
        let mut turns: Vec<Turn<'_>> = (0..PLACES).map(|_| room.turn().unwrap()).collect();
        assert!(matches!(room.turn(), Err(Problem::Busy)));
        turns.pop();
        assert!(room.turn().is_ok());
    }
}
