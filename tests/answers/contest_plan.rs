//! The work plan of the demo's contest: what readiness found as tasks, each thing once, in the order of a bench.

use preen_domain::answers::compute::{PlanAnswer, PlanTask, compute_plan};
use preen_domain::answers::{ContestPlan, WorkWanted, contest_work, worker};
use preen_domain::facts::Noun;
use preen_domain::fleet::Fleet;
use preen_domain::ids::{ContestId, MemberId};

use preen_tests::demo_fleet::{demo, id, model, moment};

fn work(fleet: &Fleet, models: Option<&[&str]>) -> ContestPlan {
    let models = models.map(|tags| tags.iter().map(|tag| model(fleet, tag)).collect());
    let wanted = WorkWanted { models, people: None, workers: 1, effort: 1 };
    let contest = ContestId(id(fleet, Noun::Contests, "CT-2026-1"));
    contest_work(fleet, contest, &wanted, moment("2026-05-21")).expect("on record")
}

fn planned(work: &ContestPlan) -> PlanAnswer {
    compute_plan(work.question.as_ref().expect("work to do")).expect("a plan")
}

fn find<'a>(work: &'a ContestPlan, text: &str) -> &'a PlanTask {
    let tasks = &work.question.as_ref().expect("work to do").tasks;
    let found = tasks.iter().find(|task| task.task.contains(text));
    found.unwrap_or_else(|| {
        panic!("no {text} among {:?}", tasks.iter().map(|task| &task.task).collect::<Vec<_>>())
    })
}

#[test]
fn what_readiness_found_on_sg_03_becomes_tasks_in_order() {
    let fleet = demo();
    let work = work(&fleet, Some(&["SG-03"]));
    assert_eq!((work.contest.as_str(), work.models.as_slice()), ("CT-2026-1", &["SG-03".to_owned()][..]));
    // The campaign replaces both flap servos, bonded in: strip, bond with its cure, linkage, covers.
    let bond = find(&work, "bond new servo");
    assert_eq!((bond.cure_h, bond.hours), (12.0, 1.0));
    assert!(bond.what.contains("SV08-B011") && bond.what.contains("SV08-B005"), "{}", bond.what);
    assert!(find(&work, "strip cover and servo").before.contains(&bond.task));
    // What was exchanged is checked by two, flown in daylight, and the check before contests is the last of all.
    let swap = find(&work, "SG-03 SW");
    let flight = find(&work, "test flight");
    let last = find(&work, "SG-03 PC");
    assert_eq!((swap.people, last.people, flight.until.as_deref()), (2, 2, Some("21:00")));
    assert!(find(&work, "cut and bond cover").before.contains(&swap.task));
    assert!(flight.before.contains(&last.task) && last.before.is_empty());
    assert!(last.not_before_at.is_some(), "from three days before check-in on");
    // A check and a part are worked on once, whatever asks for them.
    let tasks = &work.question.as_ref().expect("work").tasks;
    for part in ["SV08-B011", "SV08-B005"] {
        let bonds =
            tasks.iter().filter(|task| task.what.starts_with("bond new servo") && task.what.contains(part));
        assert_eq!(bonds.count(), 1, "{part}");
    }
    for code in ["SG-03 SW", "SG-03 N25", "SG-03 RF30", "SG-03 PC"] {
        assert_eq!(tasks.iter().filter(|task| task.task == code).count(), 1, "{code}");
    }
    assert_eq!(work.work.len(), tasks.len());
    let plan = planned(&work);
    assert_eq!(plan.tasks.len(), tasks.len());
    assert!(plan.tasks.iter().all(|task| task.end_at <= work.check_in_at));
    let at = |name: &str| plan.tasks.iter().find(|task| task.task == name).expect("planned").start_at;
    assert!(
        at(&bond.task) < at(&swap.task)
            && at(&swap.task) < at(&flight.task)
            && at(&flight.task) < at(&last.task)
    );
    assert!(at(&last.task) >= last.not_before_at.expect("a day"));
}

#[test]
fn the_whole_team_is_planned_and_what_no_bench_can_do_stands_apart() {
    let fleet = demo();
    let work = work(&fleet, None);
    assert_eq!(work.models, ["SG-01", "SG-03", "SG-04", "SG-05", "SG-06"]);
    // The hard landing of SG-04 is looked at before anything is worked on there.
    let look = find(&work, "SG-04 HL");
    assert!(look.before.iter().all(|next| next.starts_with("SG-04")) && !look.before.is_empty());
    // Every task belongs to one model and waits for none of another.
    for (task, item) in work.question.as_ref().expect("work").tasks.iter().zip(&work.work) {
        assert!(
            task.task.starts_with(&item.model)
                && task.before.iter().all(|next| next.starts_with(&item.model))
        );
        assert!(task.hours > 0.0 && !item.text.is_empty());
    }
    for apart in &work.not_planned {
        assert!(!apart.clear_by.is_empty(), "{apart:?}");
    }
    assert!(work.assumptions.iter().any(|text| text.contains("common practice, no source")));
}

#[test]
fn workers_can_do_what_their_roles_say() {
    let fleet = demo();
    let of = |tag: &str| worker(&fleet, MemberId(id(&fleet, Noun::Members, tag))).expect("a member").skills;
    assert_eq!(of("QS"), ["structure"]);
    assert!(of("AV").is_empty() || of("AV") == ["structure"]);
}
