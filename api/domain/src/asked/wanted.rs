//! The parameters that every question about the fleet knows: when it is asked about, what was known, who means to fly.

use chrono::NaiveDate;
use chrono_tz::Tz;

use super::{Finds as _, Refused, Sight};
use crate::{
    answers::Moment,
    facts::Noun,
    fleet::{Fleet, Names},
    ids::MemberId,
    rules::may::{Act, Asker, may},
    time::{Instant, day_of, end_of_day},
};

/// The parameters that every question about the fleet knows.
pub const COMMON: &[&str] = &["as_of", "at_revision", "on", "pilot"];

/// What the common parameters of a question say.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Wanted {
    /// The moment and day asked about.
    pub moment: Moment,
    /// The revision up to which facts count; absent: the newest.
    pub at_revision: Option<i64>,
    /// Whether the asker sees the whole fleet, or only what is on loan to them.
    pub sees_all: bool,
}

impl Wanted {
    /// Reads the common parameters; `known` are the question's own. `fleet` and `names` are the newest there are, `now`
    /// is the service's clock.
    ///
    /// # Errors
    /// A parameter that the question does not know, or that does not fit.
    pub fn read(
        pairs: &[(String, String)],
        known: &[&str],
        (fleet, names): (&Fleet, &Names),
        member: MemberId,
        now: Instant,
    ) -> Result<Self, Refused> {
        let find =
            |wanted: &str| pairs.iter().find(|(name, _)| name == wanted).map(|(_, value)| value.as_str());
        let is_known = |name: &str| COMMON.contains(&name) || known.contains(&name);
        if let Some((name, _)) = pairs.iter().find(|(name, _)| !is_known(name)) {
            let all = [COMMON, known].concat().join(", ");
            return Err(Refused::parameter(
                name,
                format!("The question knows no such parameter. It knows: {all}."),
            ));
        }
        let zone = fleet.club().zone;
        let as_of = find("as_of").map_or(Ok(now), |value| parse_as_of(value, now, zone))?;
        let on = find("on").map_or(Ok(day_of(as_of, zone)), |value| parse_on(value, day_of(as_of, zone)))?;
        let pilot = match find("pilot") {
            Some(name) => {
                let sight = Sight::new(fleet, names, member, now);
                let found = sight.find(Noun::Members, name);
                MemberId(found.ok_or_else(|| Refused::unknown_in("pilot", Noun::Members, name))?)
            }
            None => member,
        };
        let at_revision =
            find("at_revision").map(|value| parse_revision(value, fleet.revision())).transpose()?;
        let asker = Asker { member, has_history: false };
        let sees_all = may(fleet, asker, Act::ReadFleet, now).is_ok();
        Ok(Self { moment: Moment { as_of, on, pilot: Some(pilot) }, at_revision, sees_all })
    }
}

fn parse_as_of(value: &str, now: Instant, zone: Tz) -> Result<Instant, Refused> {
    if let Ok(day) = value.parse::<NaiveDate>() {
        if day > day_of(now, zone) {
            return Err(is_ahead(value));
        }
        let last = Instant::from_micros(end_of_day(day, zone).micros() - 1);
        return Ok(last.min(now));
    }
    let at: Instant = value.parse().map_err(|error| {
        Refused::parameter("as_of", format!("{error}; a day such as 2026-05-23 also does."))
    })?;
    if at > now { Err(is_ahead(value)) } else { Ok(at) }
}

fn is_ahead(value: &str) -> Refused {
    Refused::parameter(
        "as_of",
        format!("{value} lies ahead: nothing has happened by then. Ask about a coming day with `on`."),
    )
}

fn parse_on(value: &str, today: NaiveDate) -> Result<NaiveDate, Refused> {
    let day: NaiveDate = value.parse().map_err(|_not_a_day| {
        Refused::parameter("on", format!("`{value}` is not a day such as 2026-05-23."))
    })?;
    if day < today {
        return Err(Refused::parameter(
            "on",
            format!("{day} lies before {today}. Ask what was known to have happened by a day with `as_of`."),
        ));
    }
    Ok(day)
}

fn parse_revision(value: &str, newest: i64) -> Result<i64, Refused> {
    value.parse().ok().filter(|revision| (0..=newest).contains(revision)).ok_or_else(|| {
        Refused::parameter(
            "at_revision",
            format!("`{value}` is not a revision from 0 to {newest}, the newest."),
        )
    })
}
