//! Plans that work backwards: a contest's list of ten tasks with its known answers; every plan looked over by a judge
//! that shares nothing with the search; and small projects of all kinds against trying out every begin of every task.

use preen_domain::answers::compute::{PlanAnswer, PlanHold, PlanQuestion, compute_plan};
use preen_domain::formulas::schedule::{
    Hold, Person, Project, Quarter, Schedule, ScheduleError, Span, Task, USUAL_STEPS, schedule,
};
use proptest::prelude::*;
use serde_json::{Value, json};

/// The ten tasks before a contest, as handed over in a table.
fn contest_work() -> Vec<Value> {
    let mut rows = csv::Reader::from_reader(&include_bytes!("data/contest_work.csv")[..]);
    rows.records()
        .map(|row| {
            let row = row.expect("a row");
            let number = |at: usize| row[at].parse::<f64>().expect("a number");
            let before: Vec<&str> = row[4].split(';').filter(|next| !next.is_empty()).collect();
            let mut task = json!({"task": &row[0], "what": &row[1], "hours": number(2), "cure_h": number(3),
                "before": before, "people": row[5].parse::<u32>().expect("a count")});
            if &row[6] == "yes" {
                task["until"] = json!("21:00");
            }
            task
        })
        .collect()
}

fn plan(workers: u32) -> PlanAnswer {
    let question: PlanQuestion = serde_json::from_value(json!({
        "tasks": contest_work(), "workers": workers,
        "now_at": "2026-05-21T19:00:00Z", "until_at": "2026-05-29T20:00:00Z"
    }))
    .expect("a question");
    compute_plan(&question).expect("a plan")
}

#[test]
fn a_contest_with_one_worker_begins_on_monday_evening() {
    let plan = plan(1);
    assert_eq!(plan.start_at.to_string(), "2026-05-25T19:30:00Z");
    assert!(plan.is_proven && plan.fits && plan.gap_pct == 0.0 && plan.bound_at == plan.start_at);
    // By a search that places the tasks of each order by hand, outside this project: 62 of 112.
    assert_eq!((plan.orders, plan.orders_as_good), (Some(112), Some(62)));
    assert!(plan.method.contains("of the 112 orders of the tasks 62"), "{}", plan.method);
    let find = |name: &str| plan.tasks.iter().find(|task| task.task == name).expect("planned");
    assert_eq!(find("T10").start_at.to_string(), "2026-05-29T19:00:00Z");
    assert_eq!((find("T10").visitors, find("T10").people.len()), (1, 1));
    assert_eq!(find("T9").end_at.to_string(), "2026-05-28T21:00:00Z");
    // Bonded servos cure twelve hours before the linkage is set, the sleeve a day before it is fitted.
    assert!(find("T2").cured_at.is_some_and(|at| at <= find("T3").start_at));
    assert_eq!(find("T6").cured_at.map(|at| at.seconds_since(find("T6").end_at)), Some(86_400));
    assert!(find("T1").cured_at.is_none());
    // The chain goes from what begins first to the test flight: its own hours hold it, not the check that follows.
    let (first, last) = (plan.chain.first().expect("a chain"), plan.chain.last().expect("a chain"));
    assert_eq!(find(&first.task).start_at, plan.start_at);
    assert_eq!((last.task.as_str(), last.held_by), ("T9", PlanHold::Hours));
    assert!(
        plan.tasks
            .iter()
            .all(|task| task.is_critical == plan.chain.iter().any(|link| link.task == task.task))
    );
    assert!(plan.assumptions.iter().any(|text| text.contains("visitors")));
}

#[test]
fn two_workers_begin_a_day_later() {
    let plan = plan(2);
    assert_eq!(plan.start_at.to_string(), "2026-05-26T19:30:00Z");
    assert!(plan.is_proven);
    assert!(plan.tasks.iter().all(|task| task.visitors == 0));
    assert!(plan.tasks.iter().filter(|task| task.people.len() == 2).count() == 2);
}

/// What is wrong with a plan, by the words of the project alone.
fn faults(project: &Project, plan: &Schedule) -> Vec<String> {
    let mut faults = Vec::new();
    let workers = project.people.len();
    for (index, (task, placed)) in project.tasks.iter().zip(&plan.tasks).enumerate() {
        let mut fault = |what: &str| faults.push(format!("task {index}: {what}"));
        let cure = Quarter::from(task.cure);
        if placed.end - placed.start != Quarter::from(task.quarters) {
            fault("length");
        }
        if placed.end + cure > project.until || task.done_by.is_some_and(|by| placed.end > by) {
            fault("late");
        }
        if task.not_before.is_some_and(|from| placed.start < from) || placed.start < plan.start {
            fault("early");
        }
        if task.before.iter().any(|next| plan.tasks[*next].start < placed.end + cure) {
            fault("order");
        }
        let wanted = (task.people as usize).min(workers);
        let mut who = placed.people.clone();
        who.dedup();
        if who.len() != wanted || placed.visitors as usize != task.people as usize - wanted {
            fault("number of people");
        }
        if who.iter().fold(0, |can, person| can | project.people[*person].skills) & task.skills != task.skills
        {
            fault("skills");
        }
        for quarter in placed.start..placed.end {
            let inside = |spans: &[Span]| spans.iter().any(|span| span.from <= quarter && quarter < span.to);
            if !who.iter().all(|person| inside(&project.people[*person].free)) {
                fault("somebody has no time");
            }
            if task.hours.as_deref().is_some_and(|hours| !inside(hours)) {
                fault("outside its hours");
            }
            let at_once = |other: &usize| {
                plan.tasks[*other].start <= quarter && quarter < plan.tasks[*other].end && *other != index
            };
            for other in (0..project.tasks.len()).filter(at_once) {
                if plan.tasks[other].people.iter().any(|person| who.contains(person)) {
                    fault("somebody in two places");
                }
            }
            for tool in &task.tools {
                let takers = (0..project.tasks.len())
                    .filter(|other| at_once(other) && project.tasks[*other].tools.contains(tool));
                if takers.count() + 1 > project.tools[*tool] as usize {
                    fault("too few tools");
                }
            }
        }
    }
    if plan.tasks.iter().map(|placed| placed.start).min() != Some(plan.start) || plan.start > plan.bound {
        faults.push("begin and bound".to_owned());
    }
    faults
}

/// The latest begin, by trying every begin of every task and every choice of people, from the latest begin down.
fn by_trying(project: &Project) -> Option<Quarter> {
    let first = project.people.iter().flat_map(|person| person.free.iter().map(|span| span.from)).min()?;
    (first..project.until).rev().find(|from| tries(project, *from, &mut Vec::new()))
}

fn tries(project: &Project, from: Quarter, done: &mut Vec<(Quarter, u32)>) -> bool {
    let index = done.len();
    let Some(task) = project.tasks.get(index) else { return true };
    let wanted = task.people.min(project.people.len() as u32);
    for start in from..project.until {
        for who in 1_u32..1 << project.people.len() {
            if who.count_ones() == wanted {
                done.push((start, who));
                if stands(project, done) && tries(project, from, done) {
                    return true;
                }
                done.pop();
            }
        }
    }
    false
}

/// Whether the newest of these stands beside the others.
fn stands(project: &Project, done: &[(Quarter, u32)]) -> bool {
    let index = done.len() - 1;
    let (task, (start, who)) = (&project.tasks[index], done[index]);
    let end = start + Quarter::from(task.quarters);
    let members = || project.people.iter().enumerate().filter(|(person, _)| who & (1 << person) != 0);
    let cures = |task: &Task| Quarter::from(task.cure);
    if end + cures(task) > project.until
        || task.done_by.is_some_and(|by| end > by)
        || task.not_before.is_some_and(|from| start < from)
        || members().fold(0, |can, (_, person)| can | person.skills) & task.skills != task.skills
    {
        return false;
    }
    let inside = |spans: &[Span]| {
        (start..end).all(|quarter| spans.iter().any(|span| (span.from..span.to).contains(&quarter)))
    };
    if !members().all(|(_, person)| inside(&person.free))
        || task.hours.as_deref().is_some_and(|spans| !inside(spans))
    {
        return false;
    }
    for (other, (begin, others)) in done[..index].iter().enumerate() {
        let before = &project.tasks[other];
        let stop = begin + Quarter::from(before.quarters);
        if (before.before.contains(&index) && start < stop + cures(before))
            || (task.before.contains(&other) && *begin < end + cures(task))
        {
            return false;
        }
        if start < stop && *begin < end && who & others != 0 {
            return false;
        }
    }
    let holds = |tool: &usize| {
        (start..end).all(|quarter| {
            let takers = done.iter().enumerate().filter(|(other, (begin, _))| {
                let task = &project.tasks[*other];
                task.tools.contains(tool)
                    && *begin <= quarter
                    && quarter < begin + Quarter::from(task.quarters)
            });
            takers.count() <= project.tools[*tool] as usize
        })
    };
    task.tools.iter().all(holds)
}

fn any_span(reach: Quarter, shortest: Quarter) -> impl Strategy<Value = Span> {
    (0..reach - shortest, shortest..reach / 2)
        .prop_map(move |(from, length)| Span { from, to: (from + length).min(reach) })
}

fn any_spans(reach: Quarter, most: usize) -> impl Strategy<Value = Vec<Span>> {
    proptest::collection::vec(any_span(reach, 2), 1..=most).prop_map(|mut spans| {
        spans.sort_by_key(|span| span.from);
        let mut apart: Vec<Span> = Vec::new();
        for span in spans {
            match apart.last_mut() {
                Some(last) if last.to >= span.from => last.to = last.to.max(span.to),
                _ => apart.push(span),
            }
        }
        apart
    })
}

prop_compose! {
    fn any_task(index: usize, tasks: usize, reach: Quarter, people: usize)(
        quarters in 1_u32..=4,
        cure in prop_oneof![3 => Just(0_u32), 1 => 1_u32..6],
        before in proptest::collection::vec(proptest::bool::weighted(0.3), tasks - index),
        wanted in prop_oneof![3 => Just(1_u32), 1 => 1..=people as u32 + 1],
        skills in prop_oneof![3 => Just(0_u64), 1 => 1_u64..4],
        tool in prop_oneof![3 => Just(None), 1 => Just(Some(0_usize))],
        hours in proptest::option::weighted(0.2, any_spans(reach, 2)),
        not_before in proptest::option::weighted(0.1, 0..reach / 2),
        done_by in proptest::option::weighted(0.1, reach / 2..reach),
    ) -> Task {
        let before = (index + 1..tasks).zip(&before).filter(|(_, waits)| **waits);
        Task {
            quarters, cure, before: before.map(|(next, _)| next).collect(), people: wanted, skills,
            tools: tool.into_iter().collect(), hours, not_before, done_by,
        }
    }
}

fn any_project(most_tasks: usize, most_people: usize, reach: Quarter) -> impl Strategy<Value = Project> {
    (1..=most_tasks, 1..=most_people).prop_flat_map(move |(tasks, people)| {
        let list: Vec<_> = (0..tasks).map(|index| any_task(index, tasks, reach, people)).collect();
        let person = (any_spans(reach, 3), prop_oneof![2 => Just(3_u64), 1 => 0_u64..4]);
        let alike = any::<bool>();
        (list, proptest::collection::vec(person, people), alike, Just(reach)).prop_map(
            move |(tasks, mut people, alike, until)| {
                if alike {
                    let first = people[0].clone();
                    people.fill(first);
                }
                let people = people.into_iter().map(|(free, skills)| Person { free, skills }).collect();
                Project { tasks, people, tools: vec![1], until }
            },
        )
    })
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 200, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn small_projects_are_planned_as_late_as_trying_everything_finds(project in any_project(4, 3, 22)) {
        let tried = by_trying(&project);
        match schedule(&project, USUAL_STEPS) {
            Ok(plan) => {
                prop_assert_eq!(faults(&project, &plan), Vec::<String>::new());
                prop_assert!(plan.is_proven());
                prop_assert_eq!(Some(plan.start), tried);
            }
            Err(why) => {
                prop_assert_eq!(tried, None, "{:?}", why);
                let is_for_want_of_room = matches!(
                    why,
                    ScheduleError::NoRoom | ScheduleError::NoWindow { .. } | ScheduleError::NoOneCan { .. }
                );
                prop_assert!(is_for_want_of_room, "{:?}", why);
            }
        }
    }

    #[test]
    fn larger_plans_hold_and_never_pass_their_bound(project in any_project(14, 4, 90)) {
        if let Ok(plan) = schedule(&project, 400_000) {
            prop_assert_eq!(faults(&project, &plan), Vec::<String>::new());
            let last = plan.chain.last().expect("a chain");
            prop_assert_eq!(last.hold, Hold::Hours);
            for (link, next) in plan.chain.iter().zip(plan.chain.iter().skip(1)) {
                prop_assert!(plan.tasks[link.task].start < plan.tasks[next.task].start);
            }
            for placed in &plan.tasks {
                prop_assert!(placed.start <= placed.never_after);
            }
        }
    }

    #[test]
    fn one_more_person_and_one_task_less_never_begin_earlier(project in any_project(6, 3, 60)) {
        if let Ok(plan) = schedule(&project, USUAL_STEPS) {
            prop_assume!(plan.is_proven() && project.tasks.iter().all(|task| task.people == 1));
            let mut more = project.clone();
            more.people.push(project.people[0].clone());
            prop_assert!(schedule(&more, USUAL_STEPS).expect("room enough").start >= plan.start);
            let mut less = project.clone();
            less.tasks.pop();
            for task in &mut less.tasks {
                task.before.retain(|next| *next < project.tasks.len() - 1);
            }
            if !less.tasks.is_empty() {
                prop_assert!(schedule(&less, USUAL_STEPS).expect("room enough").start >= plan.start);
            }
        }
    }
}

/// Orders are counted as trying them counts: chains side by side interleave like cards.
#[test]
fn orders_are_counted() {
    let project = |chains: &[usize]| {
        let mut tasks: Vec<Task> = Vec::new();
        for length in chains {
            for place in 0..*length {
                let before = if place + 1 < *length { vec![tasks.len() + 1] } else { vec![] };
                tasks.push(Task { quarters: 1, people: 1, before, ..Task::default() });
            }
        }
        let free = vec![Span { from: 0, to: 200 }];
        Project { tasks, people: vec![Person { free, skills: 0 }], tools: vec![], until: 200 }
    };
    let count = |chains: &[usize]| schedule(&project(chains), USUAL_STEPS).expect("a plan").orders;
    // (3 + 4)! / (3! 4!) and 6!, and 9!/(3! 3! 3!).
    assert_eq!(count(&[3, 4]), Some(35));
    assert_eq!(count(&[1; 6]), Some(720));
    assert_eq!(count(&[3, 3, 3]), Some(1680));
    assert_eq!(count(&[1; 60]), None);
}
