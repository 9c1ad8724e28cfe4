//! How the facts of a span of a record are read: in stretches, as a server's client holds the rows of an answer in
//! memory; of a long record in a file two stretches at once.

use std::panic::resume_unwind;
use std::thread;
use std::time::Duration;

use preen_domain::facts::{Fact, Recorded};

use super::conn::{Db, Pool};
use super::door::{DoorError, Span, Tables, TakeEach};
use crate::audit;

/// Entries of the trail whose facts are read at once.
const STRETCH: i64 = 20_000;

/// So few revisions are read at once without looking how many entries they have.
const FEW: i64 = 16;

/// How long a second connection is waited for: as long as it takes to open one.
const FOR_ANOTHER: Duration = Duration::from_millis(20);

/// Where a record is read.
pub(super) struct Source<'a> {
    /// The connection that has what is to be read.
    pub conn: &'a mut Db,
    /// Others to the same database. One of them helps with a file, where what was committed up to a revision is the
    /// same for all; on a server it might have come to another one.
    pub others: Option<&'a Pool>,
    /// How the nouns' tables are read.
    pub tables: Tables,
}

/// The revisions behind the first, up to and including the second.
type Stretch = (i64, i64);

impl Source<'_> {
    /// Hands over the facts of a club in a stretch: of each part of it noun by noun, corrections last.
    pub fn each(
        &mut self,
        club: &str,
        (after, target): Stretch,
        take: TakeEach<'_>,
    ) -> Result<(), DoorError> {
        let mut first = self.part(club, (after, target))?;
        let is_long = first.1 < target && matches!(self.conn, Db::Sqlite(_));
        let others = self.others.filter(|_| is_long);
        let mut helper = others.and_then(|others| others.get_timeout(FOR_ANOTHER).ok());
        while first.0 < target {
            let reached = match helper.as_deref_mut().filter(|_| first.1 < target) {
                Some(helper) => {
                    let second = self.part(club, (first.1, target))?;
                    self.two(helper, club, [first, second], take)?;
                    second.1
                }
                None => {
                    (self.tables.each)(self.conn, club, span(first), take)?;
                    first.1
                }
            };
            first = self.part(club, (reached, target))?;
        }
        Ok(())
    }

    /// The first part of a stretch, which is read at once; nothing of one that is empty.
    fn part(&mut self, club: &str, (after, target): Stretch) -> Result<Stretch, DoorError> {
        let is_long = target - after > FEW;
        let end = if is_long { audit::stretch(self.conn, club, after, STRETCH)? } else { None };
        Ok((after, end.map_or(target, |end| end.min(target))))
    }

    /// Reads two stretches at once and hands them over one after the other.
    fn two(
        &mut self,
        helper: &mut Db,
        club: &str,
        [first, second]: [Stretch; 2],
        take: TakeEach<'_>,
    ) -> Result<(), DoorError> {
        let each = self.tables.each;
        let later = thread::scope(|scope| {
            let helped = scope.spawn(|| {
                let mut facts: Vec<Recorded<Fact>> = Vec::new();
                each(helper, club, span(second), &mut |recorded| facts.push(recorded))?;
                Ok::<_, DoorError>(facts)
            });
            each(self.conn, club, span(first), take)?;
            helped.join().unwrap_or_else(|panic| resume_unwind(panic))
        })?;
        later.into_iter().for_each(take);
        Ok(())
    }
}

fn span((after, up_to): Stretch) -> Span {
    Span { after, up_to: Some(up_to) }
}
