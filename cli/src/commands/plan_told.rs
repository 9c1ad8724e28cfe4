//! How a plan is shown: when to begin, task by task in the order of time, what holds what up, what would help.

use chrono::TimeZone;
use chrono_tz::Tz;
use preen_domain::answers::ContestPlan;
use preen_domain::answers::compute::{PlanAnswer, PlanHold, PlannedTask};
use preen_domain::time::Instant;

use crate::output::{Block, Cell, Reply, Table, Tone, left, right};

/// A plan for people, as rows and as JSON.
pub fn tell(json: String, answer: &PlanAnswer, zone: Tz) -> Reply {
    let mut reply = Reply { json, csv: rows(answer), ..Reply::default() };
    tell_into(&mut reply, answer, zone);
    reply
}

/// The work before a contest.
pub fn tell_contest(json: String, answer: &ContestPlan, frame: &str, zone: Tz) -> Reply {
    let mut reply = Reply { json, ..Reply::default() };
    reply.line(format!("{} ({}): {}", answer.title, answer.contest, answer.models.join(", ")));
    reply.line(frame);
    reply.line("");
    match &answer.plan {
        Some(plan) => {
            reply.csv = rows(plan);
            tell_into(&mut reply, plan, zone);
        }
        None => reply.line("Nothing has to be done on the bench."),
    }
    if !answer.not_planned.is_empty() {
        reply.line("");
        reply.line("What no bench can do:");
        for apart in &answer.not_planned {
            let whose = apart.model.as_ref().or(apart.pilot.as_ref()).map_or("", String::as_str);
            reply.line(format!("  {whose} {}: {} ({})", apart.subject, apart.text, apart.clear_by));
        }
    }
    for assumption in &answer.assumptions {
        reply.line(format!("Assumed: {assumption}"));
    }
    reply
}

/// The same, below what already stands there.
fn tell_into(reply: &mut Reply, answer: &PlanAnswer, zone: Tz) {
    let show = |at| show(at, zone);
    reply.code = if answer.fits { 0 } else { 2 };
    let sure = if answer.is_proven {
        "no plan can be begun later".to_owned()
    } else {
        format!("no plan can be begun later than {} ({:.1} % nearer)", show(answer.bound_at), answer.gap_pct)
    };
    if answer.fits {
        reply.line(format!("Begin by {}: {sure}.", show(answer.start_at)));
    } else {
        reply.line(format!("■ Does not fit: it had to be begun by {} ({sure}).", show(answer.start_at)));
    }
    reply.line(format!(
        "Done by {} ({zone}), {} h of work in {} tasks.",
        show(answer.until_at),
        answer.work_h,
        answer.tasks.len()
    ));
    if let (Some(orders), Some(good)) = (answer.orders, answer.orders_as_good) {
        reply.line(format!(
            "{good} of {orders} orders of the tasks can be begun as late; this is one of them."
        ));
    } else if let Some(orders) = answer.orders {
        reply.line(format!("There are {orders} orders of the tasks; this is one of the best found."));
    }
    reply.line("");
    reply.blocks.push(Block::Table(table(answer, zone)));
    reply.line("");
    let chain: Vec<String> =
        answer.chain.iter().map(|link| format!("{} ({})", link.task, say_hold(link.held_by))).collect();
    reply.line(format!("Critical chain: {}.", chain.join(" → ")));
    if !answer.helps.is_empty() {
        reply.line("");
        reply.line("What would help:");
        for help in &answer.helps {
            let start = help.start_at.map_or("no plan".to_owned(), |at| format!("begin by {}", show(at)));
            let word = if help.fits { "fits" } else { "does not fit" };
            reply.line(format!("  {word}: {} ({start})", help.steps.join(" and ")));
        }
    }
    reply.line("");
    for assumption in &answer.assumptions {
        reply.line(format!("Assumed: {assumption}"));
    }
    reply.line(format!("Method: {}.", answer.method));
}

fn table(answer: &PlanAnswer, zone: Tz) -> Table {
    let mut table = Table::new(["", "task", "begin", "end", "cured", "who", "never after", "what"].map(left));
    for task in &answer.tasks {
        let mark = if task.is_critical { Cell::toned("●", Tone::Caution) } else { Cell::plain("") };
        table.push([
            mark,
            Cell::plain(task.task.as_str()),
            Cell::plain(show(task.start_at, zone)),
            Cell::plain(
                zone.from_utc_datetime(&task.end_at.to_utc().naive_utc()).format("%H:%M").to_string(),
            ),
            Cell::maybe(task.cured_at.map(|at| show(at, zone))),
            Cell::plain(who(task)),
            Cell::plain(show(task.never_after_at, zone)),
            Cell::plain(task.what.as_str()),
        ]);
    }
    table
}

fn rows(answer: &PlanAnswer) -> Table {
    let mut table = Table::new([
        left("task"),
        left("what"),
        left("start_at"),
        left("end_at"),
        left("cured_at"),
        left("people"),
        right("visitors"),
        left("never_after_at"),
        left("is_critical"),
    ]);
    for task in &answer.tasks {
        table.push([
            Cell::plain(task.task.as_str()),
            Cell::plain(task.what.as_str()),
            Cell::of(task.start_at),
            Cell::of(task.end_at),
            Cell::maybe(task.cured_at),
            Cell::plain(task.people.join(";")),
            Cell::of(task.visitors),
            Cell::of(task.never_after_at),
            Cell::of(task.is_critical),
        ]);
    }
    table
}

fn who(task: &PlannedTask) -> String {
    let people = task.people.join(", ");
    match task.visitors {
        0 => people,
        1 => format!("{people} + a visitor"),
        more => format!("{people} + {more} visitors"),
    }
}

const fn say_hold(hold: PlanHold) -> &'static str {
    match hold {
        PlanHold::Order => "the next waits for it",
        PlanHold::People => "the next needs the same hands",
        PlanHold::Tool => "the next needs the same tool",
        PlanHold::Hours => "held by its own hours or the end",
    }
}

/// A moment with its weekday, since evenings are what is planned.
fn show(at: Instant, zone: Tz) -> String {
    zone.from_utc_datetime(&at.to_utc().naive_utc()).format("%a %d %b %H:%M").to_string()
}
