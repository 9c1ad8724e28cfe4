//! How long parts last, by the demo club's record: story 30, and what changes its answer.

use preen_domain::answers::{KindLife, LifeOutcome, PartLife, PartLifeQuestion, part_life};
use preen_domain::facts::{Fact, Noun};
use preen_domain::fleet::Fleet;
use preen_domain::words::Counter;
use preen_tests::demo_fleet::{NOW, add, at, component, demo, part};
use serde_json::json;

fn question(fleet: &Fleet, batches: &[&str]) -> PartLifeQuestion {
    PartLifeQuestion {
        part: part(fleet, "SV08"),
        batches: batches.iter().map(|batch| batch.parse().unwrap()).collect(),
        position_kind: Some("flap servo".to_owned()),
        counter: Counter::Flights,
        quantity: None,
        as_new: None,
        confidence: 0.9,
    }
}

fn asked(fleet: &Fleet, question: &PartLifeQuestion, as_of: &str) -> PartLife {
    part_life(fleet, question, at(as_of)).expect("a part type that counts flights")
}

fn only(answer: &PartLife) -> &KindLife {
    let [kind] = answer.kinds.as_slice() else { panic!("{} kinds", answer.kinds.len()) };
    kind
}

#[test]
fn is_batch_b_worse() {
    let fleet = demo();
    let answer = asked(&fleet, &question(&fleet, &["A", "B"]), NOW);
    let kind = only(&answer);
    let counts: Vec<(&str, u32, f64, Option<f64>)> = kind
        .groups
        .iter()
        .map(|group| (group.group.as_str(), group.failures, group.mtbf.exposure, group.mtbf.mtbf))
        .collect();
    assert_eq!(counts, [("A", 1, 1293.0, Some(1293.0)), ("B", 2, 2344.0, Some(1172.0))]);
    let [failures] = kind.comparisons.as_slice() else { panic!("one pair") };
    assert!(!failures.is_shown && failures.is_bounds_overlap, "{failures:?}");
    assert_eq!(failures.says, "A against B: the failures show no difference (p 1.00, two-sided)");
    assert!(kind.groups.iter().all(|group| group.weibull.is_none()), "too few failures for a shape");

    let [wear] = kind.wear.as_slice() else { panic!("one quantity") };
    assert_eq!((wear.quantity.as_str(), wear.as_new), ("servo_free_play", Some(0.25)));
    assert_eq!(wear.as_new_from, "best reading before its first use, on SV08-C002");
    let rates: Vec<(usize, String)> =
        wear.groups.iter().map(|group| (group.parts.len(), format!("{:.3}", group.mean_rate))).collect();
    assert_eq!(rates, [(6, "0.179".to_owned()), (7, "0.320".to_owned())]);
    let [shown] = wear.comparisons.as_slice() else { panic!("one pair") };
    assert!(shown.is_shown && shown.faster == "B");
    let ways = shown.rank_test.counted.expect("counted out");
    assert_eq!((ways.at_most, ways.ways), (7, 1716));
    assert_eq!(format!("{:.4} {:.4}", shown.p_one_sided, shown.p_two_sided), "0.0041 0.0082");
}

#[test]
fn how_each_life_ended() {
    let fleet = demo();
    let answer = asked(&fleet, &question(&fleet, &[]), NOW);
    let kind = only(&answer);
    assert_eq!(kind.groups.iter().map(|group| group.group.as_str()).collect::<Vec<_>>(), ["A", "B", "C"]);
    let row = |tag: &str| kind.parts.iter().find(|row| row.component == tag).expect("a row");
    let stripped = row("SV08-B007");
    assert_eq!((stripped.outcome, stripped.age, stripped.good_at_age), (LifeOutcome::Failed, 228.0, None));
    let found = row("SV08-B010");
    assert_eq!((found.outcome, found.age, found.good_at_age), (LifeOutcome::FoundFailed, 175.0, Some(0.0)));
    assert_eq!(found.why.as_deref(), Some("servo_free_play read 1.3 deg, limit 1.2"));
    let campaign = row("SV08-B008");
    assert_eq!((campaign.outcome, campaign.age), (LifeOutcome::TakenOff, 279.0));
    assert_eq!(row("SV08-B011").age, 108.0, "sixty in one model and 48 in the next");
    assert_eq!(row("SV08-B001").outcome, LifeOutcome::Running);
    let b = kind.groups.iter().find(|group| group.group == "B").expect("batch B");
    let dark = b.survival_from_last_good.as_ref().expect("one was found at an inspection");
    assert_eq!(dark.steps.first().map(|step| step.at), Some(0.0), "it was never read good before");
    assert!(
        kind.notes.iter().any(|note| note.starts_with("18 parts were in place when the record began")),
        "{:?}",
        kind.notes
    );
}

#[test]
fn statistics_are_per_kind_of_position() {
    let fleet = demo();
    let every = PartLifeQuestion { position_kind: None, ..question(&fleet, &[]) };
    let answer = asked(&fleet, &every, NOW);
    let kinds: Vec<&str> = answer.kinds.iter().map(|kind| kind.position_kind.as_str()).collect();
    assert_eq!(kinds, ["aileron servo", "flap servo"]);
    let ailerons = &answer.kinds[0];
    assert!(ailerons.groups.iter().all(|group| group.failures == 0 && group.mtbf.mtbf.is_none()));
    assert!(ailerons.groups.iter().all(|group| group.mtbf.high.is_none() && group.says.contains("at least")));
    assert!(ailerons.comparisons.iter().all(|pair| pair.rates.is_none() && !pair.is_shown));
    let none = PartLifeQuestion { position_kind: Some("rudder servo".to_owned()), ..every };
    assert_eq!(asked(&fleet, &none, NOW).kinds, []);
}

#[test]
fn what_had_not_happened_does_not_count() {
    let fleet = demo();
    let b = |as_of: &str| {
        let answer = asked(&fleet, &question(&fleet, &["B"]), as_of);
        let group = &only(&answer).groups[0];
        (group.failures, group.mtbf.exposure)
    };
    assert_eq!(b("2026-04-26T17:59:59Z").0, 0, "the stripped servo came off at 18:00");
    assert_eq!(b("2026-04-26T18:00:00Z").0, 1);
    assert_eq!(b("2026-05-15T07:29:00Z").0, 1);
    assert_eq!(b("2026-05-15T07:30:00Z").0, 2, "the reading over the ground limit");
    assert!(b("2026-04-26T18:00:00Z").1 < b(NOW).1);
}

#[test]
fn what_a_new_part_reads_can_be_said() {
    let fleet = demo();
    let said = PartLifeQuestion { as_new: Some(0.3), ..question(&fleet, &["A", "B"]) };
    let answer = asked(&fleet, &said, NOW);
    let wear = &only(&answer).wear[0];
    assert_eq!((wear.as_new, wear.as_new_from.as_str()), (Some(0.3), "as asked"));
    assert!(wear.groups[1].mean_rate < 0.32);
    // Before any new part was read, nothing is assumed.
    let answer = asked(&fleet, &question(&fleet, &["A", "B"]), "2026-05-08T12:00:00Z");
    assert_eq!(only(&answer).wear, []);
}

#[test]
fn other_counters_and_batches_nobody_flew() {
    let fleet = demo();
    let hours = PartLifeQuestion { counter: Counter::AirtimeH, ..question(&fleet, &["B", "X"]) };
    let answer = asked(&fleet, &hours, NOW);
    assert_eq!(answer.unit, "h");
    let kind = only(&answer);
    assert_eq!(kind.groups.len(), 1);
    assert_eq!(kind.notes[0], "no part of batch X ever sat in a position for a flap servo");
    let b011 = kind.parts.iter().find(|row| row.component == "SV08-B011").expect("a row");
    assert!((b011.age - 18.9).abs() < 0.05, "{}", b011.age);
    let charges = PartLifeQuestion { counter: Counter::Charges, ..hours };
    assert_eq!(part_life(&fleet, &charges, at(NOW)), None, "servos are not charged");
}

#[test]
fn packs_are_counted_by_their_charges() {
    let mut fleet = demo();
    let pack = component(&fleet, "PK-SG-03");
    let question = PartLifeQuestion {
        part: fleet.component_data(pack).unwrap().part,
        position_kind: None,
        counter: Counter::Charges,
        ..question(&fleet, &[])
    };
    let before = asked(&fleet, &question, NOW);
    assert!(before.kinds[0].notes.contains(&"no charge was ever logged: ask by flights instead".to_owned()));
    for hour in 1..=3 {
        let charge = json!({ "id": format!("01970000-0000-7000-8000-{hour:012}"), "component": pack,
                             "occurred_at": format!("2026-05-20T0{hour}:00:00Z") });
        add(&mut fleet, Fact::from_json(Noun::Charges, charge).unwrap());
    }
    let age = |as_of: &str| {
        let answer = asked(&fleet, &question, as_of);
        assert_eq!(answer.unit, "charges");
        let row = answer.kinds[0].parts.iter().find(|row| row.component == "PK-SG-03").cloned();
        row.expect("a row").age
    };
    assert_eq!((age("2026-05-20T02:30:00Z"), age(NOW)), (2.0, 3.0));
}

#[test]
fn a_part_fitted_again_after_a_failure_enters_its_next_life_late() {
    let mut fleet = demo();
    let asked_of = |fleet: &Fleet| {
        let answer = asked(fleet, &question(fleet, &["B"]), NOW);
        let kind = only(&answer).clone();
        let rows: Vec<(LifeOutcome, u32, f64, f64)> = kind
            .parts
            .iter()
            .filter(|row| row.component == "SV08-B001")
            .map(|row| (row.outcome, row.life, row.entered, row.age))
            .collect();
        (rows, kind.groups[0].failures, kind.groups[0].mtbf.exposure, kind.notes)
    };
    let (before, failures, exposure, _) = asked_of(&fleet);
    assert_eq!(before, [(LifeOutcome::Running, 1, 0.0, 271.0)]);
    // It came off as failed on 1 May, was mended, and went back in the next day.
    let id = component(&fleet, "SV08-B001");
    let span = fleet.component(id).unwrap().spans.last().unwrap().clone();
    let off = json!({ "id": "01970000-0000-7000-8000-000000000001", "installation": span.installation, "component": id,
                      "occurred_at": "2026-05-01T06:00:00Z", "reason": "failed" });
    add(&mut fleet, Fact::from_json(Noun::Removals, off).unwrap());
    let on = json!({ "id": "01970000-0000-7000-8000-000000000002", "component": id, "inside": span.inside,
                     "position": span.position, "occurred_at": "2026-05-01T06:30:00Z" });
    add(&mut fleet, Fact::from_json(Noun::Installations, on).unwrap());
    let (after, more, same, notes) = asked_of(&fleet);
    let failed_age = after[0].3;
    assert!(failed_age > 200.0 && failed_age < 271.0, "{after:?}");
    assert_eq!(
        after,
        [(LifeOutcome::Failed, 1, 0.0, failed_age), (LifeOutcome::Running, 2, failed_age, 271.0)]
    );
    assert_eq!((more, same), (failures + 1, exposure), "one failure more in the same use");
    assert!(
        notes.iter().any(|note| note.starts_with("1 part was fitted again after a failure")),
        "{notes:?}"
    );
}
