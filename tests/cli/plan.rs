//! `preen plan`: a table of tasks planned on the bench, as table, JSON and CSV, and what it refuses.

use crate::preen::{Preen, Said};

const TASKS: &str = include_str!("../reference/data/contest_work.csv");
const WHEN: &str = "plan --tasks - --check-in '2026-05-29 20:00' --now '2026-05-21 19:00'";

fn run(line: &str) -> Said {
    Preen::default().input(TASKS).run(line)
}

#[test]
fn work_before_a_contest_by_one_worker_and_by_two() {
    run(WHEN)
        .code(0)
        .shows("Begin by Mon 25 May 19:30")
        .shows("62 of 112 orders")
        .is_as_expected("plan_for_a_contest");
    run(&format!("{WHEN} --workers 2")).code(0).shows("Begin by Tue 26 May 19:30");
    // The same hours written out, and two people by name.
    run(&format!("{WHEN} --person BK --person AV --evenings 19-22 --weekends 9:00-18:00"))
        .code(0)
        .shows("Begin by Tue 26 May 19:30");
}

#[test]
fn what_does_not_fit_says_what_would_help() {
    run("plan --tasks - --check-in '2026-05-29 20:00' --now '2026-05-26 19:00'")
        .code(2)
        .shows("■ Does not fit: it had to be begun by Mon 25 May 19:30")
        .shows("fits: one more person with the time of worker 1 (begin by Tue 26 May 19:30)");
}

#[test]
fn a_program_gets_the_same_as_json_and_rows() {
    let answer = Preen::default().input(TASKS).json(WHEN);
    assert_eq!(answer["start_at"], "2026-05-25T19:30:00Z");
    let rows = run(&format!("{WHEN} --csv")).code(0).stdout;
    assert_eq!(rows.lines().count(), 11);
    assert!(rows.starts_with("task,what,start_at"), "{rows}");
    let whole = include_str!("../fuzz/seeds/plan/contest.json");
    let same = Preen::default().input(whole).json("plan --from -");
    assert_eq!(same["start_at"], answer["start_at"]);
}

#[test]
fn what_cannot_be_planned_is_refused_by_line_or_field() {
    let refused = |tasks: &str, text: &str| {
        let said = Preen::default().input(tasks).run("plan --tasks - --check-in '2026-05-29 20:00'").code(3);
        assert!(said.stderr.contains(text), "{}", said.stderr);
    };
    refused("task,hours\nA,x\n", "line 2: hours `x` is not a number");
    refused("task,colour\nA,1\n", "there is no column `colour`");
    refused("task\nA\n", "the column `hours` is missing");
    refused("task,hours,daylight\nA,1,perhaps\n", "neither yes nor no");
    refused("task,hours,before\nA,1,B\nB,1,A\n", "waits for itself");
    refused("task,hours,before\nA,1,C\n", "`C` is not in the list of tasks");
    refused("task,hours\nA,-1\n", "between 0 and 24 hours");
    refused("task,hours\nA,9.5\n", "long enough in one piece");
    refused("task,hours\n", "1 to 200 tasks");
    let said = Preen::default().input("task,hours\nA,1\n").run("plan --tasks - --check-in 20:00").code(3);
    assert!(said.stderr.contains("has no day"), "{}", said.stderr);
}

#[test]
fn the_work_before_a_contest_comes_from_what_readiness_found() {
    let preen = crate::demo::Demo::shared().preen("FS");
    let said = preen.run("plan CT-2026-1 --models SG-03 --workers 2 --effort 1");
    assert!(said.code == 0 || said.code == 2, "{}", said.stderr);
    said.shows("SG-03 SW").shows("SG-03 PC").shows("Critical chain").shows("common practice, no source");
    let answer = preen.json("plan CT-2026-1 --models SG-03 --workers 2 --effort 1");
    assert_eq!(answer["models"], serde_json::json!(["SG-03"]));
    assert!(preen.run("plan CT-2026-1 --tasks x.csv").code(3).stderr.contains("cannot be used with"));
}
