//! Laws of defects and their deferrals, on random histories.

use std::collections::BTreeSet;

use chrono::Days;
use preen_domain::{
    answers::{
        DefectStanding, Moment, defect_standing, defects_near_limit, may_fly, repeat_defects,
        undeferred_defects,
    },
    facts::{Deferral, Fact, Recorded},
    fleet::{DefectFile, Fleet},
    ids::MemberId,
    words::Severity,
};
use proptest::prelude::*;

use crate::{
    history::{History, Roll, seeds},
    world::start,
};

fn cases(count: u32) -> ProptestConfig {
    ProptestConfig { cases: count, failure_persistence: None, ..ProptestConfig::default() }
}

fn today(history: &History) -> Moment {
    Moment::today(&history.fleet, history.cursor)
}

fn standings(fleet: &Fleet, moment: Moment) -> Vec<DefectStanding> {
    fleet.defects().filter_map(|(id, _)| defect_standing(fleet, id, moment)).collect()
}

fn signer(recorded: &Recorded<Deferral>) -> MemberId {
    recorded.fact.deferred_by.unwrap_or(recorded.recorded_by)
}

/// Whether the defect was put off as it was recorded.
fn is_put_off_at_once(file: &DefectFile) -> bool {
    let defect = &file.defect.as_ref().unwrap().fact;
    defect.restriction.is_some()
        || !defect.restrictions.is_empty()
        || (defect.severity == Severity::Watch && defect.fix_by_on.is_some())
}

proptest! {
    #![proptest_config(cases(48))]

    #[test]
    fn what_is_put_off_may_be_and_is_signed_by_two(seeds in seeds()) {
        let history = History::of(&seeds);
        for (_, file) in history.fleet.defects() {
            let recorded = file.defect.as_ref().unwrap();
            let deferrals: Vec<&Recorded<Deferral>> = file.deferrals.iter().collect();
            let defect = &recorded.fact;
            prop_assert!(defect.cause.is_none_or(|c| !c.is_never_deferred() || defect.severity == Severity::Ground));
            if deferrals.is_empty() {
                continue;
            }
            prop_assert!(defect.severity != Severity::Ground, "{defect:?}");
            prop_assert!(deferrals.iter().all(|deferral| deferral.fact.occurred_at >= defect.occurred_at));
            let own = is_put_off_at_once(file).then(|| defect.found_by.unwrap_or(recorded.recorded_by));
            let signed: Vec<MemberId> = own.into_iter().chain(deferrals.iter().map(|one| signer(one))).collect();
            prop_assert!(signed.len() <= 2, "{signed:?}");
            prop_assert!(signed.len() < 2 || signed[0] != signed[1], "{signed:?}");
            let needs = defect.severity == Severity::Restrict;
            prop_assert!(!needs || deferrals.iter().all(|one| !one.fact.restrictions.is_empty()));
        }
    }

    #[test]
    fn no_class_falls_as_days_go_by(seeds in seeds(), ahead in 1_u64..50) {
        let history = History::of(&seeds);
        let now = today(&history);
        let later = Moment { on: now.on + Days::new(ahead), ..now };
        for (one, other) in standings(&history.fleet, now).iter().zip(&standings(&history.fleet, later)) {
            prop_assert_eq!(&one.defect, &other.defect);
            prop_assert!(one.severity <= other.severity, "{:?} became {:?}", one, other);
            prop_assert_eq!(one.found_at, other.found_at);
        }
    }

    #[test]
    fn a_standing_is_whole(seeds in seeds(), ahead in 0_u64..50) {
        let history = History::of(&seeds);
        let now = today(&history);
        let moment = Moment { on: now.on + Days::new(ahead), ..now };
        for one in standings(&history.fleet, moment) {
            prop_assert_eq!(one.is_open, one.severity.is_some());
            prop_assert_eq!(one.is_open, !one.clear_by.is_empty(), "an open defect says what clears it");
            prop_assert!(one.severity.is_none_or(|severity| severity >= one.severity_found));
            prop_assert!(one.deferrals.len() <= 2);
            prop_assert!(one.severity != Some(Severity::Ground) || one.restrictions.is_empty());
            prop_assert!(one.can_be_deferred || one.may_sign.is_empty());
            let first = one.deferrals.first().map(|deferral| deferral.by.clone());
            prop_assert!(first.is_none_or(|first| !one.may_sign.contains(&first)), "{:?}", one);
            prop_assert!(one.events.windows(2).all(|pair| pair[0].at <= pair[1].at));
            let is_past = one.limit_on.is_some_and(|last_on| moment.on > last_on);
            prop_assert!(!is_past || one.severity > Some(one.severity_found), "its day is past: {:?}", one);
        }
        let open: BTreeSet<String> = standings(&history.fleet, moment)
            .into_iter()
            .filter(|one| one.is_open)
            .map(|one| one.defect)
            .collect();
        let near = defects_near_limit(&history.fleet, moment);
        for finding in near.iter().chain(&undeferred_defects(&history.fleet, moment)) {
            prop_assert!(open.contains(&finding.subject), "{:?} is of a closed defect", finding);
            prop_assert!(!finding.clear_by.is_empty());
        }
        for finding in repeat_defects(&history.fleet, moment) {
            prop_assert!(!finding.subject.is_empty() && !finding.clear_by.is_empty(), "{:?}", finding);
        }
    }

    #[test]
    fn the_tightest_is_no_looser_than_any(seeds in seeds(), ahead in 0_u64..50) {
        let history = History::of(&seeds);
        let now = today(&history);
        let moment = Moment { on: now.on + Days::new(ahead), ..now };
        for model in may_fly(&history.fleet, moment).models {
            for said in &model.restrictions {
                let of_kind: Vec<_> = model.tightest.iter().filter(|one| one.kind == said.kind).collect();
                prop_assert_eq!(of_kind.len(), 1, "{:?}", model);
                prop_assert!(of_kind[0].value.is_none_or(|tight| said.value.is_some_and(|value| tight <= value)));
                prop_assert!(of_kind[0].until_on.is_none_or(|tight| said.until_on.is_some_and(|on| tight <= on)));
            }
            for one in &model.tightest {
                prop_assert!(!one.sources.is_empty());
                let is_said = model.restrictions.iter().any(|said| said.kind == one.kind);
                prop_assert!(is_said, "{:?} comes from nowhere", one);
            }
        }
    }
}

/// The random histories bring what these laws speak of.
#[test]
fn everything_about_deferrals_happens() {
    let mut happened = BTreeSet::new();
    for number in 0..60 {
        let mut roll = Roll(number);
        let seeds: Vec<u64> = (0..90).map(|_| roll.next_u64()).collect();
        let history = History::of(&seeds);
        let fleet = &history.fleet;
        for (id, file) in fleet.defects() {
            let own = usize::from(is_put_off_at_once(file));
            happened.insert(match own + file.deferrals.iter().count() {
                0 => "left alone",
                1 => "put off",
                _ => "extended",
            });
            let defect = &file.defect.as_ref().unwrap().fact;
            if defect.cause.is_some_and(|cause| cause.is_never_deferred()) {
                happened.insert("never to be put off");
            }
            for ahead in [0, 20, 60] {
                let now = today(&history);
                let on = now.on + Days::new(ahead);
                let standing = defect_standing(fleet, id, Moment { on, ..now }).unwrap();
                if standing.severity > Some(standing.severity_found) {
                    happened.insert("ran out");
                    if standing.deferrals.len() == 2 {
                        happened.insert("ran out though extended");
                    }
                    if standing.can_be_deferred {
                        happened.insert("ran out and can be extended");
                    }
                }
                if standing.flights_left == Some(0) {
                    happened.insert("flown off");
                }
                if standing.carried_by.is_some_and(|model| model != standing.model) {
                    happened.insert("went to another model");
                }
                if !standing.repeats.is_empty() {
                    happened.insert("came back");
                }
            }
        }
        let lived_s = history.cursor.seconds_since(start());
        for tenth in 1..=10 {
            let board = may_fly(fleet, Moment::today(fleet, start().plus_seconds(lived_s * tenth / 10)));
            if board.models.iter().any(|model| model.restrictions.len() > model.tightest.len()) {
                happened.insert("restrictions together");
            }
        }
        for recorded in &history.facts {
            if let Fact::Correction(correction) = &recorded.fact
                && correction.noun == preen_domain::facts::Noun::Deferrals
            {
                happened.insert("corrected");
            }
        }
    }
    let wanted = [
        "came back",
        "corrected",
        "extended",
        "flown off",
        "left alone",
        "never to be put off",
        "put off",
        "ran out",
        "ran out and can be extended",
        "ran out though extended",
        "restrictions together",
        "went to another model",
    ];
    assert_eq!(happened.into_iter().collect::<Vec<_>>(), wanted);
}
