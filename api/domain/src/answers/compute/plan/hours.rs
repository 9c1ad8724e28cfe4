//! Hours of the week, laid out as stretches of time in a zone.

use chrono::{Datelike, NaiveDate, NaiveTime, TimeDelta, TimeZone};
use chrono_tz::Tz;

use super::asked::{PlanHours, Weekday};
use crate::answers::compute::BadQuestion;
use crate::time::{Instant, day_of};

/// The usual hours, in words.
pub(super) const USUAL: &str = "Whose hours are not given has time from 19 to 22 on weekdays and from 9 to 18 at weekends; bank holidays count as \
     weekdays";

/// Days with the same hours, in minutes of the day.
pub(super) struct Hours {
    /// On which days.
    pub days: Vec<Weekday>,
    /// From this minute.
    pub from: u32,
    /// Until this minute, at most 1440.
    pub until: u32,
}

/// Where and how far hours are laid out.
pub(super) struct Reach {
    /// Zone of the hours.
    pub zone: Tz,
    /// From this day on.
    pub from: Instant,
    /// Until the end of this day.
    pub until: Instant,
}

/// Weekday evenings and weekends, as most people have for their models.
pub(super) fn usual() -> Vec<Hours> {
    let (weekend, weekdays) = Weekday::ALL.iter().partition(|day| **day >= Weekday::Saturday);
    vec![
        Hours { days: weekdays, from: 19 * 60, until: 22 * 60 },
        Hours { days: weekend, from: 9 * 60, until: 18 * 60 },
    ]
}

/// Reads hours of an asker's own.
pub(super) fn read(weekly: &[PlanHours], pointer: &str) -> Result<Vec<Hours>, BadQuestion> {
    let read_one = |(index, hours): (usize, &PlanHours)| {
        let at = |field: &str| format!("{pointer}/{index}/{field}");
        let (from, until) = (minute(&hours.from, &at("from"))?, minute(&hours.until, &at("until"))?);
        if hours.days.is_empty() {
            return Err(BadQuestion::at(at("days"), "name at least one day, such as `sat`"));
        }
        if until <= from {
            return Err(BadQuestion::at(at("until"), "lies after the time in `from`, on the same day"));
        }
        Ok(Hours { days: hours.days.clone(), from, until })
    };
    weekly.iter().enumerate().map(read_one).collect()
}

/// Minutes of the day of a time such as 19:00 or 24:00.
pub(super) fn minute(text: &str, pointer: &str) -> Result<u32, BadQuestion> {
    let parse = |text: &str| text.parse::<u32>().ok().filter(|_| (1..=2).contains(&text.len()));
    let whole = text.split_once(':').and_then(|(hours, minutes)| {
        let (hours, minutes) = (parse(hours)?, parse(minutes).filter(|_| minutes.len() == 2)?);
        (minutes < 60 && hours * 60 + minutes <= 24 * 60).then_some(hours * 60 + minutes)
    });
    whole.ok_or_else(|| {
        BadQuestion::at(pointer, &format!("`{text}` is no time of a day; write it as in 19:00"))
    })
}

/// The stretches of time that these hours are, day by day.
pub(super) fn laid_out(weekly: &[Hours], reach: &Reach) -> Vec<(Instant, Instant)> {
    let (first, last) = (day_of(reach.from, reach.zone), day_of(reach.until, reach.zone));
    let days = first.iter_days().take_while(|day| *day <= last);
    days.flat_map(|day| {
        let that_day = usize::try_from(day.weekday().num_days_from_monday()).unwrap_or_default();
        let weekday = Weekday::ALL.get(that_day).copied();
        weekly
            .iter()
            .filter(move |hours| weekday.is_some_and(|weekday| hours.days.contains(&weekday)))
            .filter_map(move |hours| {
                Some((at(day, hours.from, reach.zone)?, at(day, hours.until, reach.zone)?))
            })
    })
    .collect()
}

/// A minute of a day; where a change of clocks leaves it out, the first that exists after it.
fn at(day: NaiveDate, minute: u32, zone: Tz) -> Option<Instant> {
    let local = day.and_time(NaiveTime::MIN).checked_add_signed(TimeDelta::minutes(i64::from(minute)))?;
    (0..=4)
        .find_map(|half| {
            let later = local.checked_add_signed(TimeDelta::minutes(30 * half))?;
            zone.from_local_datetime(&later).earliest()
        })
        .map(|found| Instant::from(found.to_utc()))
}
