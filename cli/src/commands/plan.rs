//! `preen plan`: the work before a contest as the service plans it; or tasks from a table or a whole question, planned
//! here without a service. How a plan is shown is in `plan_told`.

use chrono_tz::Tz;
use preen_domain::answers::compute::{
    PlanHours, PlanPerson, PlanQuestion, PlanTask, PlanTool, Weekday, compute_plan,
};
use preen_domain::time::Instant;

use preen_domain::answers::{Answer, ContestPlan};
use preen_domain::facts::Noun;

use super::nouns::read_text;
use super::plan_told::{tell, tell_contest};
use super::{Session, bench, frame_line};
use crate::Io;
use crate::args::Asked;
use crate::failure::Failure;
use crate::moments::parse_moment;
use crate::output::Reply;

/// What has to be done, by whom, by when.
#[derive(Debug, clap::Args)]
#[command(
    after_help = "The table has the columns task,hours and any of what,cure_h,before,people,skills,tools,from,until,\
                        can_drop,daylight; several names in one cell are joined by `;`. As in: preen plan --tasks work.csv \
                        --check-in \"2026-05-29 20:00\" --workers 2\nExit code 2: the work does not fit any more."
)]
pub struct Args {
    /// The contest: what readiness found is the work
    #[arg(required_unless_present_any = ["tasks", "from"], conflicts_with_all = ["tasks", "from", "check_in", "now", "zone", "tool", "person"])]
    contest: Option<String>,
    /// Of the contest only these models
    #[arg(long, value_name = "MODEL,…", value_delimiter = ',', requires = "contest")]
    models: Vec<String>,
    /// Members who work before the contest
    #[arg(
        long,
        value_name = "MEMBER,…",
        value_delimiter = ',',
        requires = "contest",
        conflicts_with = "workers"
    )]
    people: Vec<String>,
    /// The tasks as CSV; `-` is the input
    #[arg(long, value_name = "FILE", conflicts_with = "from", requires = "check_in")]
    tasks: Option<String>,
    /// The whole question as JSON, as the service takes it; `-` is the input
    #[arg(long, value_name = "FILE")]
    from: Option<String>,
    #[command(flatten)]
    typed: PlanTyped,
    #[command(flatten)]
    asked: Asked,
}

/// What stands beside a table of tasks.
#[derive(Debug, clap::Args)]
#[group(id = "PlanTyped", multiple = true, conflicts_with = "from")]
pub struct PlanTyped {
    /// By then everything is done and cured
    #[arg(long, value_name = "TIME")]
    check_in: Option<String>,
    /// What would have to be begun before does not fit
    #[arg(long, value_name = "TIME")]
    now: Option<String>,
    /// Zone of all times without one [default: UTC]
    #[arg(long)]
    zone: Option<Tz>,
    /// So many people alike, who can do anything [default: 1]
    #[arg(long, value_name = "COUNT", conflicts_with = "person")]
    workers: Option<u32>,
    /// Somebody who works, and what they can do; again for another
    #[arg(long, value_name = "NAME[:SKILL,…]", value_parser = person)]
    person: Vec<PlanPerson>,
    /// Hours on weekdays [default: 19:00-22:00]
    #[arg(long, value_name = "FROM-UNTIL", value_parser = hours)]
    evenings: Option<(String, String)>,
    /// Hours at weekends [default: 9:00-18:00]
    #[arg(long, value_name = "FROM-UNTIL", value_parser = hours)]
    weekends: Option<(String, String)>,
    /// A shared tool, and how many there are
    #[arg(long, value_name = "TOOL[:COUNT]", value_parser = tool)]
    tool: Vec<PlanTool>,
    /// When what needs daylight has to be over
    #[arg(long, value_name = "TIME", default_value = "21:00")]
    dusk: String,
    /// How long to search, in tenths of the usual effort [default: 10]
    #[arg(long, value_name = "TENTHS")]
    effort: Option<u32>,
}

/// Whether the tasks come from a file.
pub const fn is_bench(args: &Args) -> bool {
    args.contest.is_none()
}

/// Asks for the plan of a contest and shows it.
pub fn run(args: &Args, session: &mut Session<'_, '_>) -> Result<Reply, Failure> {
    let client = &session.client;
    let mut query = args.asked.query(client)?;
    let contest = client.name(Noun::Contests, args.contest.as_deref().unwrap_or_default())?.to_owned();
    let names = |noun, list: &[String]| {
        let names = list.iter().map(|name| client.name(noun, name));
        names.collect::<Result<Vec<_>, _>>().map(|names| names.join(","))
    };
    if !args.models.is_empty() {
        query.push(("models", names(Noun::Models, &args.models)?));
    }
    if !args.people.is_empty() {
        query.push(("people", names(Noun::Members, &args.people)?));
    }
    let typed = &args.typed;
    query.extend(typed.workers.map(|workers| ("workers", workers.to_string())));
    query.extend(typed.effort.map(|effort| ("effort", effort.to_string())));
    let joined = |hours: &(String, String)| format!("{}-{}", hours.0, hours.1);
    query.extend(typed.evenings.as_ref().map(|hours| ("evenings", joined(hours))));
    query.extend(typed.weekends.as_ref().map(|hours| ("weekends", joined(hours))));
    let received = client.get(&["contests", &contest, "plan"], &query)?;
    let answer: Answer<ContestPlan> = received.read()?;
    let zone = session.client.zone()?;
    Ok(tell_contest(received.text, &answer.answer, &frame_line(&answer, zone), zone))
}

/// Computes and shows.
pub fn on_bench(args: &Args, io: &mut Io<'_>) -> Result<Reply, Failure> {
    let question = match (&args.from, &args.tasks) {
        (Some(file), _) => bench::read_question(io, file)?,
        (None, Some(file)) => {
            let text = read_text(io, file)?;
            question(&args.typed, tasks_of_csv(file, &text, &args.typed.dusk)?)?
        }
        (None, None) => return Err(Failure::bad_input("There are no tasks: give --tasks or --from.")),
    };
    let (answer, json) = bench::compute(&question, compute_plan)?;
    let zone = question.zone.as_deref().and_then(|zone| zone.parse().ok()).unwrap_or(Tz::UTC);
    Ok(tell(json, &answer, zone))
}

/// Somebody: `NAME[:SKILL,…]`.
fn person(text: &str) -> Result<PlanPerson, String> {
    let (name, skills) = text.split_once(':').unwrap_or((text, ""));
    if name.trim().is_empty() {
        return Err(format!("`{text}` names nobody: write NAME or NAME:SKILL,SKILL"));
    }
    let skills = names(skills, ',');
    Ok(PlanPerson { name: name.trim().to_owned(), skills, weekly: None, also: Vec::new(), away: Vec::new() })
}

/// Hours: `FROM-UNTIL`.
fn hours(text: &str) -> Result<(String, String), String> {
    let full = |time: &str| {
        let time = time.trim();
        if time.contains(':') { time.to_owned() } else { format!("{time}:00") }
    };
    text.split_once('-')
        .map(|(from, until)| (full(from), full(until)))
        .ok_or_else(|| format!("`{text}` is not FROM-UNTIL, such as 19:00-22:00"))
}

/// A tool: `TOOL[:COUNT]`.
fn tool(text: &str) -> Result<PlanTool, String> {
    let (tool, count) = text.rsplit_once(':').unwrap_or((text, "1"));
    let count = count.trim().parse().map_err(|_not_whole| format!("`{text}` is not TOOL:COUNT"))?;
    Ok(PlanTool { tool: tool.trim().to_owned(), count })
}

fn names(text: &str, separator: char) -> Vec<String> {
    text.split(separator).map(str::trim).filter(|name| !name.is_empty()).map(ToOwned::to_owned).collect()
}

fn question(typed: &PlanTyped, tasks: Vec<PlanTask>) -> Result<PlanQuestion, Failure> {
    let zone = typed.zone.unwrap_or(Tz::UTC);
    // A time of day alone needs a day, and nothing here knows which day it is.
    let moment = |text: &String| {
        if text.len() <= 5 {
            return Err(Failure::bad_input(format!("`{text}` has no day."))
                .hint("Write \"2026-05-29 20:00\", or with a zone 2026-05-29T20:00:00Z."));
        }
        parse_moment(text, zone, Instant::from_micros(0))
    };
    let weekly = |days: &[Weekday], hours: &Option<(String, String)>, usual: (&str, &str)| {
        let (from, until) = hours.clone().unwrap_or((usual.0.to_owned(), usual.1.to_owned()));
        PlanHours { days: days.to_vec(), from, until }
    };
    let has_hours = typed.evenings.is_some() || typed.weekends.is_some();
    let (weekend, weekdays): (Vec<Weekday>, Vec<Weekday>) =
        Weekday::ALL.iter().partition(|day| **day >= Weekday::Saturday);
    let own_hours = has_hours.then(|| {
        vec![
            weekly(&weekdays, &typed.evenings, ("19:00", "22:00")),
            weekly(&weekend, &typed.weekends, ("9:00", "18:00")),
        ]
    });
    let mut people = typed.person.clone();
    let mut workers = None;
    if people.is_empty() {
        let count = typed.workers.unwrap_or(1);
        if !has_hours {
            workers = Some(count);
        } else if (1..=12).contains(&count) {
            // The same people, written out with hours of their own; they can do what the tasks ask for.
            let mut skills: Vec<String> = tasks.iter().flat_map(|task| task.skills.clone()).collect();
            skills.sort();
            skills.dedup();
            let one = |number: u32| PlanPerson {
                name: format!("worker {number}"),
                skills: skills.clone(),
                weekly: None,
                also: Vec::new(),
                away: Vec::new(),
            };
            people = (1..=count).map(one).collect();
        } else {
            return Err(Failure::bad_input("--workers must lie between 1 and 12."));
        }
    }
    for person in &mut people {
        person.weekly.clone_from(&own_hours);
    }
    let check_in = typed.check_in.as_ref().ok_or_else(|| {
        Failure::bad_input("There is no end to plan from.").hint("Give --check-in \"2026-05-29 20:00\".")
    })?;
    Ok(PlanQuestion {
        tasks,
        people: (!people.is_empty()).then_some(people),
        workers,
        tools: typed.tool.clone(),
        until_at: moment(check_in)?,
        now_at: typed.now.as_ref().map(moment).transpose()?,
        zone: typed.zone.map(|zone| zone.name().to_owned()),
        effort: typed.effort,
    })
}

const COLUMNS: [&str; 12] = [
    "task", "what", "hours", "cure_h", "before", "people", "skills", "tools", "from", "until", "can_drop",
    "daylight",
];

fn tasks_of_csv(file: &str, text: &str, dusk: &str) -> Result<Vec<PlanTask>, Failure> {
    let mut reader = csv::ReaderBuilder::new().trim(csv::Trim::All).from_reader(text.as_bytes());
    let unreadable = |error: csv::Error| Failure::bad_input(format!("{file} is not a table: {error}."));
    let heading: Vec<String> = reader.headers().map_err(unreadable)?.iter().map(ToOwned::to_owned).collect();
    if let Some(other) = heading.iter().find(|name| !COLUMNS.contains(&name.as_str())) {
        return Err(Failure::bad_input(format!("{file}, line 1: there is no column `{other}`."))
            .hint(format!("The columns are {}; task and hours are needed.", COLUMNS.join(", "))));
    }
    if let Some(absent) = ["task", "hours"].iter().find(|name| !heading.iter().any(|has| has == *name)) {
        return Err(Failure::bad_input(format!("{file}, line 1: the column `{absent}` is missing.")));
    }
    let read = |row: Result<csv::StringRecord, csv::Error>| {
        let row = row.map_err(unreadable)?;
        let line = row.position().map_or(0, csv::Position::line);
        read_task(&heading, &row, dusk)
            .map_err(|why| Failure::bad_input(format!("{file}, line {line}: {why}.")))
    };
    reader.records().map(read).collect()
}

fn read_task(heading: &[String], row: &csv::StringRecord, dusk: &str) -> Result<PlanTask, String> {
    let cell = |name: &str| {
        let place = heading.iter().position(|has| has == name);
        place.and_then(|place| row.get(place)).filter(|cell| !cell.is_empty())
    };
    let number = |name: &str, absent: Option<f64>| match cell(name) {
        None => absent.ok_or_else(|| format!("`{name}` is missing")),
        Some(text) => text
            .parse::<f64>()
            .ok()
            .filter(|value| value.is_finite())
            .ok_or_else(|| format!("{name} `{text}` is not a number")),
    };
    let yes = |name: &str| match cell(name) {
        None | Some("no") => Ok(false),
        Some("yes") => Ok(true),
        Some(other) => Err(format!("{name} `{other}` is neither yes nor no")),
    };
    let people = match cell("people") {
        None => 1,
        Some(text) => text.parse().map_err(|_not_whole| format!("people `{text}` is not a count"))?,
    };
    let list = |name: &str| cell(name).map(|text| names(text, ';')).unwrap_or_default();
    let by_day = yes("daylight")?.then(|| dusk.to_owned());
    Ok(PlanTask {
        task: cell("task").ok_or("`task` is missing")?.to_owned(),
        what: cell("what").unwrap_or_default().to_owned(),
        hours: number("hours", None)?,
        cure_h: number("cure_h", Some(0.0))?,
        before: list("before"),
        people,
        skills: list("skills"),
        tools: list("tools"),
        from: cell("from").map(ToOwned::to_owned),
        until: cell("until").map(ToOwned::to_owned).or(by_day),
        not_before_at: None,
        done_by_at: None,
        can_drop: yes("can_drop")?,
        or_buy: None,
    })
}
