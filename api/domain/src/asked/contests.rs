//! Questions about contests: how ready the team is, and the work that stands before it.

use super::{Asked, Finds as _, Refused};
use crate::{
    answers::compute::{BadQuestion, PlanHours, PlanPerson, Weekday},
    answers::{self, ContestPlan, ContestReadiness, EntryReadiness, WorkWanted, contest_work, worker},
    facts::Noun,
    ids::{ContestId, EntryId, MemberId},
};

/// Tenths of the usual effort where none is asked for.
const USUAL_EFFORT: u32 = 1;

/// The parameters of the work plan.
pub const PLAN: &[&str] = &["models", "workers", "people", "evenings", "weekends", "effort"];

fn contest(asked: &Asked<'_>, name: &str) -> Result<ContestId, Refused> {
    let found = asked.names.find(Noun::Contests, name).filter(|_| asked.sees_all);
    found.map(ContestId).ok_or_else(|| Refused::not_found(Noun::Contests, name))
}

/// Which entries can go to a contest, and what must be done first; with `pilot` those of that member.
///
/// # Errors
/// There is no such contest for the asker.
pub fn contest_readiness(asked: &Asked<'_>, name: &str) -> Result<ContestReadiness, Refused> {
    let contest = contest(asked, name)?;
    let pilot = asked.parameter("pilot").and(asked.moment.pilot);
    answers::contest_readiness(asked.fleet, contest, pilot, asked.moment)
        .ok_or_else(|| Refused::not_found(Noun::Contests, name))
}

/// Whether an entry can go to its contest.
///
/// # Errors
/// There is no such entry for the asker.
pub fn entry_readiness(asked: &Asked<'_>, name: &str) -> Result<EntryReadiness, Refused> {
    let unknown = || Refused::not_found(Noun::Entries, name);
    let entry = asked.names.find(Noun::Entries, name).filter(|_| asked.sees_all).ok_or_else(unknown)?;
    answers::entry_readiness(asked.fleet, EntryId(entry), asked.moment).ok_or_else(unknown)
}

/// The work before a contest, with the question for its plan where there is any; the plan is still to be made.
///
/// # Errors
/// There is no such contest for the asker, or a parameter does not fit.
pub fn contest_work_asked(asked: &Asked<'_>, name: &str) -> Result<ContestPlan, Refused> {
    let contest = contest(asked, name)?;
    let wanted = work_wanted(asked)?;
    contest_work(asked.fleet, contest, &wanted, asked.moment)
        .ok_or_else(|| Refused::not_found(Noun::Contests, name))
}

fn work_wanted(asked: &Asked<'_>) -> Result<WorkWanted, Refused> {
    let models = asked.models()?;
    let effort = number(asked, "effort", 20)?.unwrap_or(USUAL_EFFORT);
    let workers = number(asked, "workers", 12)?;
    let hours = own_hours(asked)?;
    let mut people = match asked.parameter("people") {
        Some(_) if workers.is_some() => {
            return Err(Refused::parameter("workers", "Give `people` or `workers`, not both."));
        }
        Some(names) => Some(read_people(asked, names)?),
        None => None,
    };
    if hours.is_some() && people.is_none() {
        let one = |number| PlanPerson {
            name: format!("worker {number}"),
            skills: vec!["structure".to_owned()],
            weekly: None,
            also: Vec::new(),
            away: Vec::new(),
        };
        people = Some((1..=workers.unwrap_or(1)).map(one).collect());
    }
    for person in people.iter_mut().flatten() {
        person.weekly.clone_from(&hours);
    }
    Ok(WorkWanted { models, people, workers: workers.unwrap_or(1), effort })
}

fn number(asked: &Asked<'_>, name: &str, most: u32) -> Result<Option<u32>, Refused> {
    let read = |text: &str| {
        text.parse::<u32>()
            .ok()
            .filter(|number| (1..=most).contains(number))
            .ok_or_else(|| Refused::parameter(name, format!("`{text}` is no number from 1 to {most}.")))
    };
    asked.parameter(name).map(read).transpose()
}

fn read_people(asked: &Asked<'_>, names: &str) -> Result<Vec<PlanPerson>, Refused> {
    let find = |name: &str| {
        let member = asked.sight().find(Noun::Members, name).map(MemberId);
        member
            .and_then(|member| worker(asked.fleet, member))
            .ok_or_else(|| Refused::unknown_in("people", Noun::Members, name))
    };
    names.split(',').map(str::trim).map(find).collect()
}

/// Hours of the week that were asked for; `None`: the usual ones.
fn own_hours(asked: &Asked<'_>) -> Result<Option<Vec<PlanHours>>, Refused> {
    let read = |name: &str, usual: (&str, &str)| match asked.parameter(name) {
        None => Ok((usual.0.to_owned(), usual.1.to_owned())),
        Some(text) => text
            .split_once('-')
            .map(|(from, until)| (from.trim().to_owned(), until.trim().to_owned()))
            .filter(|(from, until)| from.contains(':') && until.contains(':'))
            .ok_or_else(|| {
                Refused::parameter(name, format!("`{text}` is not FROM-UNTIL, such as 19:00-22:00."))
            }),
    };
    if asked.parameter("evenings").or(asked.parameter("weekends")).is_none() {
        return Ok(None);
    }
    let (weekend, weekdays) = Weekday::ALL.iter().partition(|day| **day >= Weekday::Saturday);
    let (evening, day) = (read("evenings", ("19:00", "22:00"))?, read("weekends", ("09:00", "18:00"))?);
    Ok(Some(vec![
        PlanHours { days: weekdays, from: evening.0, until: evening.1 },
        PlanHours { days: weekend, from: day.0, until: day.1 },
    ]))
}

/// Why no plan can be made, by the parameter that can mend it.
#[must_use]
pub fn refuse_plan(work: &ContestPlan, bad: &BadQuestion) -> Refused {
    let place = bad.pointer.strip_prefix("/tasks/").and_then(|rest| rest.split('/').next());
    let task = place.and_then(|place| place.parse::<usize>().ok()).and_then(|place| work.work.get(place));
    let named = task.map(|item| format!("{}: ", item.task)).unwrap_or_default();
    let parameter = if bad.pointer.contains("weekly") { "evenings" } else { "people" };
    Refused::parameter(parameter, format!("{named}{}.", bad.text))
}
