//! What is asked of a plan: the shapes, how they are checked, and the project that the search takes.

use std::collections::BTreeMap;

use chrono_tz::Tz;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::hours::{self, Hours};
use crate::answers::compute::BadQuestion;
use crate::formulas::schedule::{
    MOST_ON_A_TASK, MOST_PEOPLE, MOST_TASKS, Person, Project, Quarter, Schedule, Span, Task,
};
use crate::text_enum;
use crate::time::Instant;

/// A quarter of an hour.
const QUARTER_S: i64 = 900;
/// How far back from the end hours of the week are laid out.
const REACH_DAYS: i64 = 120;
/// Skills of all people together at most.
const MOST_SKILLS: usize = 63;
/// Longest cure, in hours.
const LONGEST_CURE_H: f64 = 720.0;

text_enum! {
    /// A day of the week.
    Weekday {
        Monday = "mon", Tuesday = "tue", Wednesday = "wed", Thursday = "thu", Friday = "fri", Saturday = "sat",
        Sunday = "sun",
    }
}

/// Tasks, who does them, and by when.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct PlanQuestion {
    /// The tasks.
    #[schema(min_items = 1, max_items = 200)]
    pub tasks: Vec<PlanTask>,
    /// Who works. Give these or `workers`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(min_items = 1, max_items = 12)]
    pub people: Option<Vec<PlanPerson>>,
    /// So many people alike, who can do anything, with the usual hours: 19 to 22 on weekdays, 9 to 18 at weekends.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(minimum = 1, maximum = 12)]
    pub workers: Option<u32>,
    /// Shared tools of which there is more or less than enough; a tool that a task names has to stand here.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    #[schema(max_items = 50)]
    pub tools: Vec<PlanTool>,
    /// By then everything is done and cured: check-in.
    pub until_at: Instant,
    /// The present: what would have to be begun before does not fit.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub now_at: Option<Instant>,
    /// Zone of all hours of the day, such as `Europe/London`; UTC if not given.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub zone: Option<String>,
    /// How long to search, in tenths of the usual effort: 10 if not given.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(minimum = 1, maximum = 100)]
    pub effort: Option<u32>,
}

/// A task.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct PlanTask {
    /// Its short name, unlike all others.
    #[schema(min_length = 1, max_length = 60)]
    pub task: String,
    /// What is done.
    #[serde(default)]
    pub what: String,
    /// How long people work on it; rounded up to quarters of an hour.
    #[schema(exclusive_minimum = 0.0, maximum = 24.0)]
    pub hours: f64,
    /// How long it cures before what waits for it can begin; binds the part, not the people.
    #[serde(default)]
    #[schema(minimum = 0.0, maximum = 720.0)]
    pub cure_h: f64,
    /// Tasks that wait for it.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    #[schema(max_items = 200)]
    pub before: Vec<String>,
    /// How many have to be there; 1 if not given. With fewer workers the others are visitors, who are not counted.
    #[serde(default = "one")]
    #[schema(minimum = 1, maximum = 4)]
    pub people: u32,
    /// What those who do it have to be able to do, each at least one of them.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    #[schema(max_items = 20)]
    pub skills: Vec<String>,
    /// Shared tools that it takes one of each.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    #[schema(max_items = 20)]
    pub tools: Vec<String>,
    /// Not before this time of any day, such as 09:00.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub from: Option<String>,
    /// Over by this time of its day, such as 21:00 for a test flight in daylight.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub until: Option<String>,
    /// Not begun before, such as when a part arrives.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub not_before_at: Option<Instant>,
    /// Work on it over by then.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub done_by_at: Option<Instant>,
    /// It can be left out if time is short.
    #[serde(default)]
    pub can_drop: bool,
    /// What could be bought instead if time is short.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub or_buy: Option<PlanPurchase>,
}

/// What could be bought instead of doing a task.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct PlanPurchase {
    /// What.
    #[schema(min_length = 1, max_length = 200)]
    pub what: String,
    /// Hours of work that are left then; 0 if not given.
    #[serde(default)]
    #[schema(minimum = 0.0, maximum = 24.0)]
    pub hours: f64,
    /// Hours of cure that are left then.
    #[serde(default)]
    #[schema(minimum = 0.0, maximum = 720.0)]
    pub cure_h: f64,
    /// When it arrives.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub arrives_at: Option<Instant>,
}

/// Somebody who works.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct PlanPerson {
    /// Name or initials.
    #[schema(min_length = 1, max_length = 60)]
    pub name: String,
    /// What they can do.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    #[schema(max_items = 50)]
    pub skills: Vec<String>,
    /// Their hours each week; the usual ones if not given.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(max_items = 50)]
    pub weekly: Option<Vec<PlanHours>>,
    /// Time they have besides, from an instant to another.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    #[schema(max_items = 100)]
    pub also: Vec<PlanStretch>,
    /// Time they do not have after all.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    #[schema(max_items = 100)]
    pub away: Vec<PlanStretch>,
}

/// Hours on some days of each week.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct PlanHours {
    /// On which days.
    #[schema(min_items = 1, max_items = 7)]
    pub days: Vec<Weekday>,
    /// From this time of the day, such as 19:00.
    pub from: String,
    /// Until this time of the day, at most 24:00.
    pub until: String,
}

/// A stretch of time.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct PlanStretch {
    /// From.
    pub from_at: Instant,
    /// Until.
    pub until_at: Instant,
}

/// A shared tool.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct PlanTool {
    /// Its name.
    #[schema(min_length = 1, max_length = 60)]
    pub tool: String,
    /// How many there are; 1 if not given.
    #[serde(default = "one")]
    #[schema(minimum = 1, maximum = 100)]
    pub count: u32,
}

const fn one() -> u32 {
    1
}

/// The moment at which a quarter begins.
pub(super) fn moment(quarter: Quarter) -> Instant {
    Instant::from_micros(0).plus_seconds(quarter.saturating_mul(QUARTER_S))
}

/// The quarter in which a moment lies.
fn quarter_down(at: Instant) -> Quarter {
    at.micros().div_euclid(QUARTER_S * 1_000_000)
}

/// The first quarter that begins at a moment or later.
fn quarter_up(at: Instant) -> Quarter {
    -((-at.micros()).div_euclid(QUARTER_S * 1_000_000))
}

/// A question, checked and arranged for the search.
pub(super) struct Arranged {
    /// What is searched.
    pub project: Project,
    /// The first quarter from now on.
    pub now: Option<Quarter>,
    /// Names of the people.
    pub names: Vec<String>,
}

/// Names, each with its place.
type Places<'a> = BTreeMap<&'a str, usize>;

impl Arranged {
    /// Checks and arranges.
    pub fn of(question: &PlanQuestion) -> Result<Self, BadQuestion> {
        if !(1..=MOST_TASKS).contains(&question.tasks.len()) {
            return Err(BadQuestion::at("/tasks", &format!("give 1 to {MOST_TASKS} tasks")));
        }
        if question.effort.is_some_and(|effort| !(1..=100).contains(&effort)) {
            return Err(BadQuestion::at("/effort", "must lie between 1 and 100"));
        }
        let until = quarter_down(question.until_at);
        let now = question.now_at.map(quarter_up);
        if now.is_some_and(|now| now >= until) {
            return Err(BadQuestion::at(
                "/now_at",
                "lies at or after `until_at`: nothing can be done any more",
            ));
        }
        let zone: Tz = match question.zone.as_deref() {
            None => Tz::UTC,
            Some(name) => name.parse().map_err(|_unknown| {
                BadQuestion::at("/zone", "is no zone of the world's list; write it as in Europe/London")
            })?,
        };
        let reach = hours::Reach { zone, from: moment(until).plus_days(-REACH_DAYS), until: moment(until) };
        let mut skills = Places::new();
        let (names, people) = people(question, &reach, &mut skills)?;
        let mut tools = Places::new();
        for (index, tool) in question.tools.iter().enumerate() {
            let pointer = format!("/tools/{index}");
            if tool.tool.is_empty() || tools.insert(&tool.tool, index).is_some() {
                return Err(BadQuestion::at(pointer, "each tool has a name of its own; count it by `count`"));
            }
            if !(1..=100).contains(&tool.count) {
                return Err(BadQuestion::at(format!("{pointer}/count"), "must lie between 1 and 100"));
            }
        }
        let mut places = Places::new();
        for (index, task) in question.tasks.iter().enumerate() {
            if task.task.is_empty() || places.insert(&task.task, index).is_some() {
                let text = "each task has a name of its own";
                return Err(BadQuestion::at(format!("/tasks/{index}/task"), text));
            }
        }
        let tasks = question
            .tasks
            .iter()
            .enumerate()
            .map(|(index, task)| arrange(task, &format!("/tasks/{index}"), &places, &tools, &skills, &reach))
            .collect::<Result<_, _>>()?;
        let tools = question.tools.iter().map(|tool| tool.count).collect();
        Ok(Self { project: Project { tasks, people, tools, until }, now, names })
    }

    /// What the plan rests on, in words.
    pub fn assumptions(&self, question: &PlanQuestion, plan: &Schedule) -> Vec<String> {
        let mut list = vec![
            "Times lie on a grid of quarters of an hour, rounded up; no task is interrupted.".to_owned(),
            "A cure runs through nights and binds the part, not the people; the hours and cures given are taken as \
             they are, no reserve is added."
                .to_owned(),
        ];
        let has_usual = question.workers.is_some()
            || question.people.iter().flatten().any(|person| person.weekly.is_none());
        if has_usual {
            list.push(format!("{} (common practice, no source).", hours::USUAL));
        }
        if plan.tasks.iter().any(|task| task.visitors > 0) {
            list.push(
                "Where a task needs more people than work here, the others are visitors: they come when they are \
                 asked, and their time is not counted."
                    .to_owned(),
            );
        }
        if plan.tasks.iter().any(|task| task.people.len() > 1) {
            list.push(
                "The second person of a check is one of the workers: whoever looks must not have done the work, so \
                 choose by that who of them looks."
                    .to_owned(),
            );
        }
        list.push(
            "The latest begin of each task holds for this order of the tasks; begun later, something else has to \
             move."
                .to_owned(),
        );
        list
    }
}

fn people<'a>(
    question: &'a PlanQuestion,
    reach: &hours::Reach,
    skills: &mut Places<'a>,
) -> Result<(Vec<String>, Vec<Person>), BadQuestion> {
    let most = u32::try_from(MOST_PEOPLE).unwrap_or(u32::MAX);
    let named = match (&question.people, question.workers) {
        (Some(people), None) if (1..=MOST_PEOPLE).contains(&people.len()) => people,
        (None, Some(workers)) if (1..=most).contains(&workers) => {
            let free = spans(&hours::laid_out(&hours::usual(), reach));
            let names = (1..=workers).map(|number| format!("worker {number}")).collect::<Vec<_>>();
            let people = names.iter().map(|_| Person { free: free.clone(), skills: u64::MAX }).collect();
            return Ok((names, people));
        }
        (None, Some(_)) => {
            return Err(BadQuestion::at("/workers", &format!("must lie between 1 and {MOST_PEOPLE}")));
        }
        (Some(_), Some(_)) => return Err(BadQuestion::at("/workers", "give either `people` or `workers`")),
        (Some(_), None) => {
            return Err(BadQuestion::at(
                "/people",
                &format!("give 1 to {MOST_PEOPLE} people to do the work"),
            ));
        }
        (None, None) => return Err(BadQuestion::at("/people", "give `people` or `workers` to do the work")),
    };
    let mut people = Vec::with_capacity(named.len());
    let mut seen = Places::new();
    for (index, person) in named.iter().enumerate() {
        let pointer = format!("/people/{index}");
        if person.name.is_empty() || seen.insert(&person.name, index).is_some() {
            return Err(BadQuestion::at(format!("{pointer}/name"), "each person has a name of their own"));
        }
        let mut can = 0;
        for skill in &person.skills {
            let count = skills.len();
            let place = *skills.entry(skill).or_insert(count);
            if place >= MOST_SKILLS {
                let text = format!("all people together have at most {MOST_SKILLS} skills");
                return Err(BadQuestion::at(format!("{pointer}/skills"), &text));
            }
            can |= skill_bit(place);
        }
        let weekly = match &person.weekly {
            None => hours::usual(),
            Some(weekly) => hours::read(weekly, &format!("{pointer}/weekly"))?,
        };
        let mut free = hours::laid_out(&weekly, reach);
        for (index, stretch) in person.also.iter().enumerate() {
            free.push(read(stretch, &format!("{pointer}/also/{index}"))?);
        }
        let mut free = spans(&free);
        for (index, stretch) in person.away.iter().enumerate() {
            let (from, to) = read(stretch, &format!("{pointer}/away/{index}"))?;
            free = without(&free, Span { from: quarter_down(from), to: quarter_up(to) });
        }
        people.push(Person { free, skills: can });
    }
    Ok((named.iter().map(|person| person.name.clone()).collect(), people))
}

fn skill_bit(place: usize) -> u64 {
    u32::try_from(place).ok().and_then(|place| 1_u64.checked_shl(place)).unwrap_or_default()
}

fn read(stretch: &PlanStretch, pointer: &str) -> Result<(Instant, Instant), BadQuestion> {
    let length_s = stretch.until_at.seconds_since(stretch.from_at);
    if length_s > 0 && length_s <= REACH_DAYS * 86_400 {
        return Ok((stretch.from_at, stretch.until_at));
    }
    let text = format!("`until_at` lies after `from_at`, by at most {REACH_DAYS} days");
    Err(BadQuestion::at(format!("{pointer}/until_at"), &text))
}

/// Stretches as whole quarters inside them, in order, those that touch taken together.
fn spans(stretches: &[(Instant, Instant)]) -> Vec<Span> {
    let inside = stretches.iter().map(|(from, to)| Span { from: quarter_up(*from), to: quarter_down(*to) });
    let mut all: Vec<Span> = inside.filter(|span| span.from < span.to).collect();
    all.sort_by_key(|span| span.from);
    let mut merged: Vec<Span> = Vec::with_capacity(all.len());
    for span in all {
        match merged.last_mut() {
            Some(last) if last.to >= span.from => last.to = last.to.max(span.to),
            _ => merged.push(span),
        }
    }
    merged
}

fn without(free: &[Span], away: Span) -> Vec<Span> {
    let parts = free.iter().flat_map(|span| {
        [
            Span { from: span.from, to: span.to.min(away.from) },
            Span { from: span.from.max(away.to), to: span.to },
        ]
    });
    parts.filter(|span| span.from < span.to).collect()
}

fn arrange(
    task: &PlanTask,
    pointer: &str,
    places: &Places<'_>,
    tools: &Places<'_>,
    skills: &Places<'_>,
    reach: &hours::Reach,
) -> Result<Task, BadQuestion> {
    let at = |field: &str| format!("{pointer}/{field}");
    if !(1..=MOST_ON_A_TASK).contains(&task.people) {
        let text = format!("must lie between 1 and {MOST_ON_A_TASK}");
        return Err(BadQuestion::at(at("people"), &text));
    }
    let find = |list: &Places<'_>, names: &[String], field: &str, what: &str| {
        let places = names.iter().enumerate().map(|(index, name)| {
            list.get(name.as_str()).copied().ok_or_else(|| {
                BadQuestion::at(
                    format!("{pointer}/{field}/{index}"),
                    &format!("`{name}` is not in the list of {what}"),
                )
            })
        });
        places.collect::<Result<Vec<usize>, _>>()
    };
    let mut before = find(places, &task.before, "before", "tasks")?;
    let mut tools = find(tools, &task.tools, "tools", "tools")?;
    for list in [&mut before, &mut tools] {
        list.sort_unstable();
        list.dedup();
    }
    // A skill that nobody has is one of its own: only workers who can do anything have it.
    let needs = task.skills.iter().fold(0, |needs, skill| {
        let place = skills.get(skill.as_str()).copied().unwrap_or(MOST_SKILLS);
        needs | skill_bit(place)
    });
    let hours = match (&task.from, &task.until) {
        (None, None) => None,
        (from, until) => {
            let from = from.as_deref().map_or(Ok(0), |text| hours::minute(text, &at("from")))?;
            let until = until.as_deref().map_or(Ok(24 * 60), |text| hours::minute(text, &at("until")))?;
            if until <= from {
                return Err(BadQuestion::at(at("until"), "lies after the time in `from`"));
            }
            Some(spans(&hours::laid_out(&[Hours { days: Weekday::ALL.to_vec(), from, until }], reach)))
        }
    };
    Ok(Task {
        quarters: quarters(task.hours, 24.0, &at("hours")).and_then(|count| {
            if count > 0 { Ok(count) } else { Err(BadQuestion::at(at("hours"), "must be above 0")) }
        })?,
        cure: quarters(task.cure_h, LONGEST_CURE_H, &at("cure_h"))?,
        before,
        people: task.people,
        skills: needs,
        tools,
        hours,
        not_before: task.not_before_at.map(quarter_up),
        done_by: task.done_by_at.map(quarter_down),
    })
}

/// Hours as whole quarters, rounded up.
fn quarters(hours: f64, most: f64, pointer: &str) -> Result<u32, BadQuestion> {
    if !(0.0..=most).contains(&hours) {
        return Err(BadQuestion::at(pointer, &format!("must lie between 0 and {most} hours")));
    }
    // A hair above a whole quarter is that quarter: 0.1 + 0.65 is meant to be 0.75.
    #[expect(clippy::as_conversions, reason = "between 0 and four times the most hours: checked above")]
    Ok((hours * 4.0 - 1e-9).ceil().max(0.0) as u32)
}
