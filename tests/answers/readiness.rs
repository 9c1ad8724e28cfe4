//! How ready the demo club is for its contest: what falls due before the last round, what is listed apart, the traps.

use preen_domain::{
    answers::{
        Ahead, CheckAhead, ClaimHow, ContestReadiness, DueCause, EntryReadiness, LimitKind, ModelReadiness,
        Readiness, ReadinessFinding, ReadyTask, contest_readiness, model_readiness,
    },
    facts::{Entry, Fact, Inspection, Loan, LoanReturn, Noun},
    fleet::Fleet,
    ids::{ContestId, LoanId},
    words::{PermissionKind, Severity},
};
use preen_tests::demo_fleet::{add, at, demo, id, member, model, moment, part};
use serde_json::{Value, json};

fn ready_on(fleet: &Fleet, day: &str) -> ContestReadiness {
    let contest = ContestId(id(fleet, Noun::Contests, "CT-2026-1"));
    contest_readiness(fleet, contest, None, moment(day)).unwrap()
}

fn ready(fleet: &Fleet) -> ContestReadiness {
    ready_on(fleet, "2026-05-21")
}

fn entry<'a>(team: &'a ContestReadiness, pilot: &str) -> &'a EntryReadiness {
    team.entries.iter().find(|entry| entry.pilot == pilot).unwrap()
}

fn of_model<'a>(team: &'a ContestReadiness, tag: &str) -> &'a ModelReadiness {
    let all = team.entries.iter().flat_map(|entry| std::iter::once(&entry.model).chain(&entry.reserves));
    all.into_iter().find(|model| model.model == tag).unwrap()
}

fn check<'a>(team: &'a ContestReadiness, tag: &str, group: &str) -> &'a CheckAhead {
    of_model(team, tag).checks.iter().find(|check| check.group == group).unwrap()
}

fn found<'a>(findings: &'a [ReadinessFinding], code: &str) -> Vec<&'a ReadinessFinding> {
    findings.iter().filter(|found| found.code == code).collect()
}

/// A fact of the demo with other fields.
fn changed(fact: impl Into<Fact>, fields: Value) -> Fact {
    let fact = fact.into();
    let mut body = serde_json::to_value(&fact).unwrap();
    for (name, value) in fields.as_object().unwrap() {
        body[name] = value.clone();
    }
    Fact::from_json(fact.noun(), body).unwrap()
}

#[test]
fn what_falls_due_before_the_last_round() {
    let fleet = demo();
    let team = ready(&fleet);
    let falls = |tag: &str| -> Vec<(String, Option<i64>, Option<String>)> {
        let falls = of_model(&team, tag).checks.iter().filter(|check| check.falls_due);
        falls
            .map(|check| {
                let by_count = check.causes.contains(&DueCause::ByCount);
                let by_day = check.causes.contains(&DueCause::ByCalendar);
                let on = check.due_on.filter(|_| by_day).map(|day| day.to_string());
                (check.group.clone(), check.due_at_count.filter(|_| by_count), on)
            })
            .collect()
    };
    let count = |group: &str, at: i64| (group.to_owned(), Some(at), None);
    let day = |group: &str, on: &str| (group.to_owned(), None, Some(on.to_owned()));
    assert_eq!(falls("SG-01"), [count("N25", 275)]);
    assert_eq!(falls("SG-02"), [count("N25", 139)]);
    assert_eq!(falls("SG-03"), [count("N25", 327), day("RF30", "2026-05-18")]);
    assert!(check(&team, "SG-03", "RF30").is_late);
    assert_eq!(falls("SG-04"), [("HL".to_owned(), None, None), count("N25", 236)]);
    assert_eq!(check(&team, "SG-04", "HL").causes, [DueCause::Opened]);
    assert!(check(&team, "SG-04", "N25").is_late, "now");
    assert_eq!(falls("SG-05"), [count("N25", 318), count("N100", 319)]);
    assert_eq!(falls("SG-06"), [count("N25", 212), day("S12", "2026-05-24")]);
    // Eight of training and twelve rounds.
    let last = |tag: &str, group: &str| check(&team, tag, group).last_round_count;
    assert_eq!(
        (last("SG-05", "N100"), last("SG-01", "N100"), last("SG-03", "N100")),
        (Some(320), Some(291), Some(339))
    );
    assert_eq!(
        (check(&team, "SG-01", "N100").due_at_count, check(&team, "SG-03", "N100").due_at_count),
        (Some(295), Some(341))
    );
    for tag in ["SG-01", "SG-03"] {
        assert!(!check(&team, tag, "N100").falls_due, "{tag}");
    }
    let flights = &of_model(&team, "SG-01").flights;
    assert_eq!((flights.now_flights, flights.training_flights, flights.contest_flights_max), (271, 8, 12));
    let range = (flights.forecast_flights_from.unwrap(), flights.forecast_flights_to.unwrap());
    assert!(range.0 < flights.forecast_flights.unwrap() && flights.forecast_flights.unwrap() < range.1);
    assert!(range.1 < flights.last_round_flights, "the worst case lies beyond the rate: {flights:?}");
}

#[test]
fn limits_are_listed_apart() {
    let fleet = demo();
    let team = ready(&fleet);
    let limits: Vec<(&str, &str, Option<u32>, Option<String>)> =
        ["SG-01", "SG-02", "SG-03", "SG-04", "SG-05", "SG-06"]
            .into_iter()
            .flat_map(|tag| &of_model(&team, tag).limits)
            .map(|limit| {
                (
                    limit.model.as_str(),
                    limit.source.as_str(),
                    limit.action,
                    limit.limit_on.map(|on| on.to_string()),
                )
            })
            .collect();
    let campaign = |model, action, on: &str| (model, "CA-2026-1", Some(action), Some(on.to_owned()));
    assert_eq!(
        limits,
        [
            campaign("SG-01", 2, "2026-05-29"),
            campaign("SG-03", 1, "2026-05-15"),
            campaign("SG-03", 2, "2026-05-29"),
            ("SG-03", "DE-007", None, Some("2026-05-28".to_owned())),
            campaign("SG-04", 2, "2026-05-29"),
        ]
    );
    let sg_01 = &of_model(&team, "SG-01").limits[0];
    assert_eq!((sg_01.kind, sg_01.flights_left, sg_01.is_over), (LimitKind::Campaign, Some(4), false));
    assert_eq!(sg_01.parts, ["SV08-B002", "SV08-B001"]);
    let defect = found(&of_model(&team, "SG-03").findings, "defect_open")[0];
    assert_eq!((defect.severity, defect.task), (Severity::Ground, ReadyTask::ClearDefect));
    assert_eq!(defect.latest_on.unwrap().to_string(), "2026-05-28");
    assert!(defect.text.contains("not for contests"), "{}", defect.text);
}

#[test]
fn doing_a_check_early_is_told_with_what_it_brings() {
    let fleet = demo();
    let team = ready(&fleet);
    let early = check(&team, "SG-01", "N25").do_early.clone().unwrap();
    // Today at 271: next at 296, past the last round at 291.
    assert_eq!((early.today.at_count, early.today.next_due_at_count), (Some(271), Some(296)));
    assert!(!early.today.falls_due_again && early.is_once_enough);
    assert_eq!((early.at_last.at_count, early.at_last.on.to_string().as_str()), (Some(279), "2026-05-29"));
    // Forty flights ahead: done today at 300 it is due again at 325; from 316 on once is enough. Its due point at 318
    // is kept when it is done at or past it.
    let until = "2026-05-31".parse().unwrap();
    let ahead = Ahead { training: 28, ..Ahead::of_flights(12, until) };
    let sg_05 = model_readiness(&fleet, model(&fleet, "SG-05"), &ahead, &[], moment("2026-05-21")).unwrap();
    let n25 = sg_05.checks.iter().find(|check| check.group == "N25").unwrap();
    let early = n25.do_early.clone().unwrap();
    assert_eq!(n25.last_round_count, Some(340));
    assert_eq!((early.today.next_due_at_count, early.today.falls_due_again), (Some(325), true));
    assert_eq!((early.from_count, early.is_once_enough), (Some(316), true));
    // Sixty rounds: whenever it is done, it falls due again.
    let ahead = Ahead::of_flights(60, until);
    let sg_05 = model_readiness(&fleet, model(&fleet, "SG-05"), &ahead, &[], moment("2026-05-21")).unwrap();
    let n25 = sg_05.checks.iter().find(|check| check.group == "N25").unwrap();
    let early = n25.do_early.clone().unwrap();
    assert!(!early.is_once_enough && early.from_count.is_none(), "{early:?}");
    assert!(early.text.contains("do it again"), "{}", early.text);
}

#[test]
fn tolerance_is_never_used_across_a_contest() {
    let fleet = demo();
    let team = ready(&fleet);
    // Due at 319 of 320 with a tolerance of 10: due for the contest all the same.
    let of_n100: Vec<_> =
        of_model(&team, "SG-05").findings.iter().filter(|found| found.subject == "N100").collect();
    assert_eq!(of_n100.len(), 1);
    assert_eq!((of_n100[0].severity, of_n100[0].task), (Severity::Restrict, ReadyTask::DoCheck));
    assert!(
        of_n100[0].text.contains("tolerance (10 flights, 30 days) is not used across a contest"),
        "{}",
        of_n100[0].text
    );
    // Done, it is gone.
    let mut fleet = demo();
    let done = json!({ "id": "01970a3c-5d00-7000-8000-00000000d001", "model": model(&fleet, "SG-05").0.to_string(),
        "group": "N100", "occurred_at": "2026-05-21T07:00:00Z", "result": "pass", "is_summary": true });
    add(&mut fleet, serde_json::from_value::<Inspection>(done).unwrap());
    assert!(!check(&ready(&fleet), "SG-05", "N100").falls_due);
}

#[test]
fn one_part_that_two_entries_count_on() {
    let fleet = demo();
    let team = ready(&fleet);
    assert_eq!(team.claimed_twice.len(), 1, "{:?}", team.claimed_twice);
    let tip = &team.claimed_twice[0];
    let who: Vec<(&str, &str, ClaimHow)> =
        tip.claims.iter().map(|claim| (claim.pilot.as_str(), claim.model.as_str(), claim.how)).collect();
    assert_eq!(tip.subject, "PN-R-02");
    assert_eq!(who, [("AV", "SG-02", ClaimHow::WaitedFor), ("DR", "SG-05", ClaimHow::Fitted)]);
    for pilot in ["AV", "DR"] {
        let said = found(&entry(&team, pilot).findings, "claimed_twice");
        assert_eq!(
            (said.len(), said[0].task, said[0].severity),
            (1, ReadyTask::SettleClaim, Severity::Ground)
        );
    }
    assert!(found(&entry(&team, "BK").findings, "claimed_twice").is_empty());
    // The reserve stays at home: nobody waits for the tip any more.
    let mut fleet = demo();
    let entries: Vec<Entry> = fleet.contest_entries().map(|(_, entry)| entry.fact.clone()).collect();
    let av = entries.iter().find(|entry| entry.pilot == member(&fleet, "AV")).unwrap();
    add(&mut fleet, changed(av.clone(), json!({ "reserves": [] })));
    assert!(ready(&fleet).claimed_twice.is_empty());
    // Two entries that take the same loose pack along, and two that fly the same model.
    let pack = preen_tests::demo_fleet::component(&fleet, "PK-SP-01").0.to_string();
    let bk = entries.iter().find(|entry| entry.pilot == member(&fleet, "BK")).unwrap();
    let cm = entries.iter().find(|entry| entry.pilot == member(&fleet, "CM")).unwrap();
    add(&mut fleet, changed(bk.clone(), json!({ "parts": [pack] })));
    add(&mut fleet, changed(cm.clone(), json!({ "parts": [pack], "reserves": [bk.model.0.to_string()] })));
    let claimed: Vec<(String, bool)> =
        ready(&fleet).claimed_twice.iter().map(|one| (one.subject.clone(), one.is_model)).collect();
    assert_eq!(claimed, [("SG-03".to_owned(), true), ("PK-SP-01".to_owned(), false)]);
    // Withdrawn, an entry counts on nothing.
    add(&mut fleet, changed(cm.clone(), json!({ "state": "withdrawn" })));
    assert!(ready(&fleet).claimed_twice.is_empty());
}

#[test]
fn loans_that_end_on_the_last_day_in_the_middle_or_before() {
    let fleet = demo();
    let team = ready(&fleet);
    let said = found(&of_model(&team, "SG-05").findings, "loan_ends_on_last_day");
    assert_eq!((said.len(), said[0].subject.as_str(), said[0].task), (1, "PN-R-02", ReadyTask::SettleLoan));
    assert_eq!(said[0].severity, Severity::Restrict);
    // The club model is lent to its pilot past the last day.
    assert_eq!(found(&of_model(&team, "SG-06").findings, "loan_lasts").len(), 1);
    let loan = fleet.loan(LoanId(id_of_loan(&fleet, "LN-001"))).unwrap().loan.clone().unwrap().fact;
    let until = |day: &str| {
        let mut fleet = demo();
        add(&mut fleet, changed(loan.clone(), json!({ "due_back_on": day })));
        let team = ready(&fleet);
        let list = &of_model(&team, "SG-05").findings;
        let said: Vec<(String, Severity)> = list
            .iter()
            .filter(|found| found.code.starts_with("loan_"))
            .map(|found| (found.code.clone(), found.severity))
            .collect();
        said
    };
    assert_eq!(until("2026-05-30"), [("loan_ends_in_contest".to_owned(), Severity::Ground)]);
    assert_eq!(until("2026-05-28"), [("loan_ends_before".to_owned(), Severity::Ground)]);
    assert_eq!(until("2026-06-01"), [("loan_lasts".to_owned(), Severity::Watch)]);
    // Lent to somebody else over the contest, until it is back.
    let mut fleet = demo();
    let other = json!({ "id": "01970a3c-5d00-7000-8000-00000000d00a", "tag": "LN-9", "item": { "model": model(&fleet, "SG-04").0.to_string() },
        "lent_to": member(&fleet, "VW").0.to_string(), "occurred_at": "2026-05-20T10:00:00Z", "from_on": "2026-05-20", "due_back_on": "2026-06-05" });
    add(&mut fleet, serde_json::from_value::<Loan>(other).unwrap());
    assert_eq!(found(&of_model(&ready(&fleet), "SG-04").findings, "lent_to_another").len(), 1);
    let back = json!({ "id": "01970a3c-5d00-7000-8000-00000000d00b", "loan": "01970a3c-5d00-7000-8000-00000000d00a",
        "occurred_at": "2026-05-21T07:00:00Z" });
    add(&mut fleet, serde_json::from_value::<LoanReturn>(back).unwrap());
    assert!(found(&of_model(&ready(&fleet), "SG-04").findings, "lent_to_another").is_empty());
}

fn id_of_loan(fleet: &Fleet, tag: &str) -> uuid::Uuid {
    let is_it = |loan: &Loan| loan.tag.as_ref().is_some_and(|known| known.as_str() == tag);
    fleet.loans().find(|(_, file)| file.loan.as_ref().is_some_and(|loan| is_it(&loan.fact))).unwrap().0.0
}

#[test]
fn papers_have_to_hold_through_the_last_day() {
    let mut fleet = demo();
    let contest = fleet.contests().next().unwrap().1.fact.clone();
    add(&mut fleet, changed(contest.clone(), json!({ "permissions": ["insurance"] })));
    let says = |fleet: &Fleet| {
        let team = ready(fleet);
        let list: Vec<(String, Severity)> = entry(&team, "AV")
            .findings
            .iter()
            .filter(|found| found.task == ReadyTask::RenewPermission)
            .map(|found| (found.code.clone(), found.severity))
            .collect();
        list
    };
    assert_eq!(says(&fleet), [("permission_unknown".to_owned(), Severity::Ground)]);
    let av = fleet.member(member(&fleet, "AV")).unwrap().fact.clone();
    let mut until = |kind: PermissionKind, day: &str| {
        let papers = json!({ "permissions": [{ "kind": kind.as_str(), "until_on": day }] });
        add(&mut fleet, changed(av.clone(), papers));
        says(&fleet)
    };
    assert_eq!(
        until(PermissionKind::Insurance, "2026-05-30"),
        [("permission_ends".to_owned(), Severity::Ground)]
    );
    assert_eq!(until(PermissionKind::Insurance, "2026-05-31"), []);
    let both = until(PermissionKind::PilotCompetence, "2026-05-30");
    assert_eq!(both.len(), 2, "{both:?}");
    assert!(both.contains(&("permission_ends".to_owned(), Severity::Watch)));
}

#[test]
fn an_entry_becomes_ready_when_what_is_listed_was_done() {
    let mut fleet = demo();
    // An altimeter that the organiser accepts, a class that was compared, and the checks of SG-05.
    let al2 = fleet.part(part(&fleet, "AL2")).unwrap().fact.clone();
    assert_eq!(found(&of_model(&ready(&fleet), "SG-05").findings, "altimeter_not_accepted").len(), 1);
    add(&mut fleet, changed(al2.clone(), json!({ "accepted_in": ["F5J"] })));
    assert!(found(&of_model(&ready(&fleet), "SG-05").findings, "altimeter_not_accepted").is_empty());
    assert_eq!(found(&ready(&fleet).findings, "class_unconfirmed").len(), 1);
    let class = preen_domain::classes::all().iter().find(|class| class.tag.as_str() == "F5J").unwrap();
    let by = member(&fleet, "FS").0.to_string();
    add(&mut fleet, changed(class.clone(), json!({ "confirmed_by": by, "confirmed_on": "2026-05-20" })));
    assert!(found(&ready(&fleet).findings, "class_unconfirmed").is_empty());
    for (number, group) in ["N25", "N100"].into_iter().enumerate() {
        let done = json!({ "id": format!("01970a3c-5d00-7000-8000-00000000e00{number}"), "group": group,
            "model": model(&fleet, "SG-05").0.to_string(), "occurred_at": "2026-05-21T07:00:00Z", "result": "pass",
            "is_summary": true });
        add(&mut fleet, serde_json::from_value::<Inspection>(done).unwrap());
    }
    let left = |fleet: &Fleet, moment| -> Vec<String> {
        let contest = ContestId(id(fleet, Noun::Contests, "CT-2026-1"));
        let team = contest_readiness(fleet, contest, None, moment).unwrap();
        let open = of_model(&team, "SG-05").findings.iter().filter(|found| found.severity != Severity::Watch);
        open.map(|found| found.code.clone()).collect()
    };
    let mut now = moment("2026-05-21");
    assert_eq!(left(&fleet, now), ["contest_check_open", "loan_ends_on_last_day"]);
    // The check before the contest counts from three days before check-in on.
    let passed = |number: u32, when: &str| {
        json!({ "id": format!("01970a3c-5d00-7000-8000-00000000f00{number}"), "group": "PC", "result": "pass",
            "model": model(&fleet, "SG-05").0.to_string(), "occurred_at": when, "is_summary": true })
    };
    let (early, in_time) = (passed(1, "2026-05-25T10:00:00Z"), passed(2, "2026-05-27T10:00:00Z"));
    now.as_of = at("2026-05-28T08:00:00Z");
    now.on = "2026-05-28".parse().unwrap();
    add(&mut fleet, serde_json::from_value::<Inspection>(early).unwrap());
    assert!(left(&fleet, now).contains(&"contest_check_open".to_owned()));
    add(&mut fleet, serde_json::from_value::<Inspection>(in_time).unwrap());
    assert_eq!(left(&fleet, now), ["loan_ends_on_last_day"]);
    // Two entries still count on the tip; once the reserve stays at home, the loan is all that is left.
    let entries: Vec<Entry> = fleet.contest_entries().map(|(_, entry)| entry.fact.clone()).collect();
    let av = entries.iter().find(|entry| entry.pilot == member(&fleet, "AV")).unwrap();
    add(&mut fleet, changed(av.clone(), json!({ "reserves": [] })));
    let contest = ContestId(id(&fleet, Noun::Contests, "CT-2026-1"));
    let dr = Some(member(&fleet, "DR"));
    let team = contest_readiness(&fleet, contest, dr, now).unwrap();
    assert_eq!(
        (team.entries.len(), team.readiness),
        (1, Readiness::Limited),
        "{:#?}",
        team.entries[0].findings
    );
    let loan = fleet.loan(LoanId(id_of_loan(&fleet, "LN-001"))).unwrap().loan.clone().unwrap().fact;
    add(&mut fleet, changed(loan.clone(), json!({ "due_back_on": "2026-06-02" })));
    assert_eq!(contest_readiness(&fleet, contest, dr, now).unwrap().readiness, Readiness::Ready);
}

#[test]
fn every_finding_says_what_to_do_and_by_when() {
    let fleet = demo();
    let team = ready(&fleet);
    let of_models = team
        .entries
        .iter()
        .flat_map(|entry| std::iter::once(&entry.model).chain(&entry.reserves))
        .flat_map(|model| &model.findings);
    let all =
        team.findings.iter().chain(team.entries.iter().flat_map(|entry| &entry.findings)).chain(of_models);
    let mut seen = 0;
    for found in all {
        assert!(
            !found.clear_by.is_empty() && !found.text.is_empty() && !found.subject.is_empty(),
            "{found:?}"
        );
        if found.severity == Severity::Ground {
            assert!(found.latest_on.is_some_and(|on| on <= team.first_on), "{found:?}");
        }
        seen += 1;
    }
    assert!(seen > 40, "{seen}");
    assert_eq!((team.counts.ready, team.counts.limited, team.counts.work_to_do), (0, 0, 5));
    assert_eq!(team.readiness, Readiness::WorkToDo);
    let packs = &of_model(&team, "SG-06").packs;
    assert_eq!((packs[0].launches_per_charge, packs[0].charges_needed), (Some(1.0), 12));
    assert!(of_model(&team, "SG-01").packs[0].assumption.contains("worst case"));
}
