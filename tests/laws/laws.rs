//! Laws of the Fleet, the answers and the rules, on random histories of a whole club.

use chrono::{Days, NaiveDate};
use preen_domain::{
    answers::{
        DueItem, Exchange, Moment, SwapRequest, balance, component_usage, due, due_of_model, frame,
        mass_items, may_fly, model_usage, plan_swap, whereabouts,
    },
    facts::{Fact, Inside, Noun, Recorded},
    fleet::{Fleet, FlightRow, Names},
    ids::{InstallationId, ModelId, RemovalId},
    rules,
    time::{Instant, day_of},
    words::{CheckState, RemovalReason, Severity},
};
use proptest::prelude::*;
use serde_json::json;

use crate::{
    compare::{differences, grounded_flights_difference},
    history::{History, Roll, arrive, seeds},
    slow::Book,
    world,
};

fn cases(count: u32) -> ProptestConfig {
    ProptestConfig { cases: count, failure_persistence: None, ..ProptestConfig::default() }
}

fn today(history: &History) -> Moment {
    Moment::today(&history.fleet, history.cursor)
}

/// Everything that is asked of a Fleet, as text.
fn answers(fleet: &Fleet, moment: Moment) -> String {
    let usage: Vec<_> = fleet.components().map(|(id, _)| component_usage(fleet, id, moment.as_of)).collect();
    let models: Vec<_> = fleet.models().map(|(id, _)| model_usage(fleet, id, moment.as_of)).collect();
    let balances: Vec<_> = fleet.models().map(|(id, _)| balance(fleet, id, moment.as_of)).collect();
    let places = whereabouts(fleet, &preen_domain::answers::WhereQuestion::default(), moment);
    let all = (may_fly(fleet, moment), due(fleet, moment), usage, models, balances, places);
    serde_json::to_string(&all).unwrap()
}

/// A flight with so many launches, and as many riggings, for each model at a moment. The flight is left out where
/// the model is in the air at that moment already; riggings always come in. Returns the flights that came in, by model.
fn use_all(history: &mut History, at: Instant, times: u32) -> Vec<(ModelId, u64)> {
    let mut flown = Vec::new();
    for number in 0..world::MODELS {
        let flight = json!({
            "id": history.id(), "model": world::model(number), "pilot": world::member(0), "occurred_at": at,
            "airtime_min": 0.0, "launches": times, "motor_s": 20, "landing": "soft", "is_post_flight_logged": true,
        });
        let came_in = history.record(Fact::from_json(Noun::Flights, flight).unwrap(), 0);
        flown.push((world::model(number), u64::from(came_in)));
        for _ in 0..times {
            let rigging = json!({
                "id": history.id(), "model": world::model(number), "occurred_at": at, "cycles": 1,
            });
            assert!(history.record(Fact::from_json(Noun::Riggings, rigging).unwrap(), 0));
        }
    }
    flown
}

proptest! {
    #![proptest_config(cases(48))]

    #[test]
    fn order_of_arrival_never_changes_the_fleet(seeds in seeds(), order in any::<u64>()) {
        let history = History::of(&seeds);
        let mut facts: Vec<&Recorded<Fact>> = history.facts.iter().collect();
        Roll(order).shuffle(&mut facts);
        let shuffled = arrive(facts);
        prop_assert_eq!(answers(&shuffled, today(&history)), answers(&history.fleet, today(&history)));
        prop_assert!(shuffled == history.fleet, "answers agree, but the Fleets differ");
    }

    #[test]
    fn the_same_id_twice_counts_once(seeds in seeds(), order in any::<u64>()) {
        let history = History::of(&seeds);
        let mut facts: Vec<&Recorded<Fact>> = history.facts.iter().chain(&history.facts).collect();
        Roll(order).shuffle(&mut facts);
        prop_assert!(arrive(facts) == history.fleet);
    }

    #[test]
    fn a_fleet_that_was_written_down_is_read_as_it_was(seeds in seeds()) {
        let fleet = History::of(&seeds).fleet;
        let mut names = Names::default();
        for recorded in &History::of(&seeds).facts {
            names.apply(&recorded.fact);
        }
        let written = rmp_serde::to_vec_named(&(&fleet, &names)).unwrap();
        let read: (Fleet, Names) = rmp_serde::from_slice(&written).unwrap();
        prop_assert!(read == (fleet, names));
    }

    #[test]
    fn counters_never_fall_when_use_is_added(seeds in seeds(), back_s in 0_i64..30_000_000) {
        let before = History::of(&seeds);
        let mut after = before.clone();
        let at = before.cursor.plus_seconds(-back_s).max(world::start());
        let flown = use_all(&mut after, at, 1);
        let flown_by = |model| flown.iter().find(|(id, _)| *id == model).map_or(0, |(_, flights)| *flights);
        for (id, _) in before.fleet.components() {
            let less = component_usage(&before.fleet, id, before.cursor);
            let more = component_usage(&after.fleet, id, before.cursor);
            prop_assert!(more.flights >= less.flights && more.launches >= less.launches);
            prop_assert!(more.airtime_h >= less.airtime_h && more.motor_s >= less.motor_s);
            prop_assert!(more.riggings >= less.riggings);
            let is_in_a_model = before.fleet.fitted(world::model(0), at).iter().any(|fitted| fitted.id == id);
            let seen = less.flights + flown_by(world::model(0));
            prop_assert!(!is_in_a_model || more.flights == seen, "{} did not see it", more.component);
        }
        for (id, _) in before.fleet.models() {
            let less = model_usage(&before.fleet, id, before.cursor);
            let more = model_usage(&after.fleet, id, before.cursor);
            prop_assert_eq!((more.flights, more.riggings), (less.flights + flown_by(id), less.riggings + 1));
        }
    }

    #[test]
    fn a_position_sees_the_flights_flown_while_it_was_filled(seeds in seeds()) {
        let history = History::of(&seeds);
        let fleet = &history.fleet;
        for (model, file) in fleet.models() {
            let design = file.model.as_ref().unwrap().fact.design;
            for position in fleet.positions(design, None) {
                let seen: u64 = fleet
                    .components()
                    .flat_map(|(id, _)| component_usage(fleet, id, history.cursor).spans)
                    .filter(|span| span.model == fleet.model_tag(model) && span.path == position.path.as_str())
                    .map(|span| span.flights)
                    .sum();
                let flights = file.flights.until(history.cursor);
                let is_filled = |at| fleet.occupant_at(Inside::Model(model), &position.path, at).is_some();
                let (filled, empty): (Vec<FlightRow>, Vec<FlightRow>) = flights.partition(|flight| is_filled(flight.at));
                prop_assert_eq!(seen, u64::try_from(filled.len()).unwrap());
                if empty.is_empty() {
                    prop_assert_eq!(seen, model_usage(fleet, model, history.cursor).flights);
                }
            }
        }
    }

    #[test]
    fn one_position_one_part_one_moment(seeds in seeds()) {
        let history = History::of(&seeds);
        let fleet = &history.fleet;
        let mut moments: Vec<Instant> =
            history.facts.iter().filter_map(|recorded| recorded.fact.occurred_at()).collect();
        moments.sort();
        moments.dedup();
        for at in moments {
            let mut parts = Vec::new();
            for (model, _) in fleet.models() {
                let fitted = fleet.fitted(model, at);
                let mut paths: Vec<&String> = fitted.iter().map(|fitted| &fitted.path).collect();
                let count = paths.len();
                paths.sort();
                paths.dedup();
                prop_assert_eq!(paths.len(), count, "a position holds two parts at {}", at);
                parts.extend(fitted.iter().map(|fitted| fitted.id));
            }
            let count = parts.len();
            parts.sort();
            parts.dedup();
            prop_assert_eq!(parts.len(), count, "a part is in two places at {}", at);
            for (id, file) in fleet.components() {
                let places = file.spans.iter().filter(|span| span.holds_at(at)).count();
                prop_assert!(places <= 1, "{} is in {places} places at {at}", fleet.component_tag(id));
            }
        }
    }

    #[test]
    fn a_swap_and_its_reverse_restore_the_balance(seeds in seeds(), which in any::<u64>()) {
        let history = History::of(&seeds);
        let mut roll = Roll(which);
        if let Some((there, back)) = swap_there_and_back(&history, &mut roll) {
            for model in (0..world::MODELS).map(world::model) {
                let before = balance(&history.fleet, model, there.cursor);
                let after = balance(&back.fleet, model, back.cursor);
                let places = |balanced: &preen_domain::answers::Balanced| {
                    [balanced.mass_g, balanced.x_mm, balanced.y_mm, balanced.z_mm]
                };
                if let (Some(before), Some(after)) = (before, after) {
                    for (before, after) in places(&before).into_iter().zip(places(&after)) {
                        prop_assert!((before - after).abs() < 1e-9, "{before} became {after}");
                    }
                }
            }
        }
    }

    #[test]
    fn nothing_falls_due_later_when_a_counter_rises(seeds in seeds(), times in 1_u32..5) {
        let before = History::of(&seeds);
        let mut after = before.clone();
        use_all(&mut after, before.cursor, times);
        let moment = today(&before);
        for model in (0..world::MODELS).map(world::model) {
            let earlier = due_of_model(&before.fleet, model, moment);
            let later = due_of_model(&after.fleet, model, moment);
            prop_assert_eq!(earlier.len(), later.len());
            for (less, more) in earlier.iter().zip(&later) {
                prop_assert_eq!(less.due_at_count, more.due_at_count);
                prop_assert_eq!(less.due_on, more.due_on);
                prop_assert!(rank(more.state) >= rank(less.state), "{less:?} became {more:?}");
                prop_assert!(more.count_left <= less.count_left, "{less:?} became {more:?}");
                if let (Some(less), Some(more)) = (less.forecast_on, more.forecast_on) {
                    prop_assert!(more <= less, "the forecast moved from {less} to {more}");
                }
            }
        }
    }

    #[test]
    fn tolerance_never_moves_a_due_point(seeds in seeds(), count in 0_u32..3, days in 0_u32..25) {
        let mut history = History::of(&seeds);
        let moment = today(&history);
        let due_points = |history: &mut History, tolerance, rebasing| {
            let programme: Fact = world::programme(tolerance, rebasing).into();
            let broken = rules::check(&history.fleet, &programme, world::end());
            assert!(history.record(programme, 0), "{broken:?}");
            let models = (0..world::MODELS).map(world::model);
            models.flat_map(|model| due_of_model(&history.fleet, model, moment)).collect::<Vec<DueItem>>()
        };
        // Where every due point counts from when the check was done, tolerance is nowhere in it.
        let without = due_points(&mut history, [0, 0], "from_done");
        let with = due_points(&mut history, [count, days], "from_done");
        for (less, more) in without.iter().zip(&with) {
            prop_assert_eq!((less.due_at_count, less.due_on), (more.due_at_count, more.due_on));
            prop_assert!(rank(more.state) <= rank(less.state), "tolerance made it worse");
        }
        // With the club's own rule it decides from where the NEXT one counts, once there was one to be late for.
        let without = due_points(&mut history, [0, 0], "due_point_inside_tolerance");
        let with = due_points(&mut history, [count, days], "due_point_inside_tolerance");
        for (less, more) in without.iter().zip(&with).filter(|(item, _)| done_at_most_once(&history, item)) {
            prop_assert_eq!((less.due_at_count, less.due_on), (more.due_at_count, more.due_on));
        }
    }

    #[test]
    fn the_centre_of_gravity_lies_among_the_masses(seeds in seeds()) {
        let history = History::of(&seeds);
        for model in (0..world::MODELS).map(world::model) {
            let items: Vec<_> = mass_items(&history.fleet, model, history.cursor).into_values().collect();
            let Some(list) = balance(&history.fleet, model, history.cursor).and_then(|b| b.list) else { continue };
            prop_assert!(items.iter().all(|item| item.mass_g >= 0.0));
            let sum_g: f64 = items.iter().map(|item| item.mass_g).sum();
            prop_assert!((list.mass_g - sum_g).abs() < 1e-9);
            type Axis = fn(&preen_domain::formulas::balance::PointItem) -> f64;
            let axes: [(f64, Axis); 3] =
                [(list.x_mm, |item| item.x_mm), (list.y_mm, |item| item.y_mm), (list.z_mm, |item| item.z_mm)];
            for (at, axis) in axes {
                let places = || items.iter().filter(|item| item.mass_g > 0.0).map(axis);
                let (min, max) = (places().fold(f64::MAX, f64::min), places().fold(f64::MIN, f64::max));
                prop_assert!(min - 1e-9 <= at && at <= max + 1e-9, "{at} is not within {min} to {max}");
            }
        }
    }

    #[test]
    fn the_second_person_is_never_the_worker(seeds in seeds()) {
        let mut history = History::of(&seeds);
        let files: Vec<_> = history.fleet.repairs().map(|(id, file)| (id, file.clone())).collect();
        for (id, file) in files {
            let Some(repair) = &file.repair else { continue };
            let worker = repair.fact.done_by.unwrap_or(repair.recorded_by);
            for release in file.releases.iter() {
                prop_assert_ne!(release.fact.second_person, Some(worker));
            }
            let release = json!({
                "id": history.id(), "repair": id, "second_person": worker, "occurred_at": history.cursor,
            });
            let release = Fact::from_json(Noun::Releases, release).unwrap();
            let broken = rules::check(&history.fleet, &release, world::end());
            prop_assert!(broken.iter().any(|rule| rule.code == "worker_as_second_person"));
        }
    }

    #[test]
    fn no_correction_takes_the_ground_from_a_later_fact(seeds in seeds()) {
        let history = History::of(&seeds);
        let fleet = &history.fleet;
        for (_, file) in fleet.repairs() {
            prop_assert!(file.repair.is_some() && file.releases.iter().count() <= 1);
            let repair = &file.repair.as_ref().unwrap().fact;
            for release in file.releases.iter() {
                prop_assert!(release.fact.occurred_at >= repair.occurred_at);
                prop_assert!(repair.cure_until_at.is_none_or(|until| release.fact.occurred_at >= until));
            }
        }
        for (_, file) in fleet.defects() {
            prop_assert!(file.defect.is_some() && file.closures.iter().count() <= 1);
            let found_at = file.defect.as_ref().unwrap().fact.occurred_at;
            prop_assert!(file.closures.iter().all(|closure| closure.fact.occurred_at >= found_at));
        }
        for (_, file) in fleet.loans() {
            prop_assert!(file.loan.is_some());
        }
        for (_, file) in fleet.components() {
            prop_assert!(file.component.is_some());
        }
    }

    #[test]
    fn what_was_is_the_same_when_asked_later(seeds in seeds(), more in seeds()) {
        let before = History::of(&seeds);
        let moment = today(&before);
        let mut after = before.clone();
        after.cursor = after.cursor.plus_seconds(1);
        after.live(&more, false);
        prop_assert_eq!(answers(&after.fleet, moment), answers(&before.fleet, moment));
        use_all(&mut after, moment.as_of, 1);
        prop_assert_ne!(answers(&after.fleet, moment), answers(&before.fleet, moment), "the past arrived unseen");
    }

    #[test]
    fn every_no_says_what_clears_it(seeds in seeds(), ahead in 0_u64..60) {
        let history = History::of(&seeds);
        let today = today(&history);
        let board = may_fly(&history.fleet, Moment { on: today.on + Days::new(ahead), ..today });
        for model in &board.models {
            let grounds = model.reasons.iter().filter(|reason| reason.severity == Severity::Ground).count();
            prop_assert_eq!(model.may_fly, grounds == 0, "{:?}", model);
            for reason in &model.reasons {
                prop_assert!(!reason.clear_by.trim().is_empty() && !reason.text.trim().is_empty(), "{:?}", reason);
                prop_assert!(!reason.subject.is_empty() && !reason.code.contains(' '), "{:?}", reason);
            }
            prop_assert!(model.max_flights.is_none_or(|flights| flights > 0), "{:?}", model);
        }
    }

    #[test]
    fn facts_and_answers_survive_their_json(seeds in seeds()) {
        let history = History::of(&seeds);
        for recorded in &history.facts {
            let text = serde_json::to_string(&recorded.fact).unwrap();
            let again = Fact::from_json(recorded.fact.noun(), serde_json::from_str(&text).unwrap());
            prop_assert_eq!(again.unwrap(), recorded.fact.clone());
        }
        let moment = today(&history);
        let board = frame(&history.fleet, moment.as_of, may_fly(&history.fleet, moment));
        let text = serde_json::to_string(&board).unwrap();
        prop_assert_eq!(serde_json::from_str::<preen_domain::answers::Answer<_>>(&text).unwrap(), board);
        let list = due(&history.fleet, moment);
        let text = serde_json::to_string(&list).unwrap();
        prop_assert_eq!(serde_json::from_str::<preen_domain::answers::DueList>(&text).unwrap(), list);
        for (id, _) in history.fleet.components() {
            let usage = component_usage(&history.fleet, id, moment.as_of);
            let text = serde_json::to_string(&usage).unwrap();
            prop_assert_eq!(serde_json::from_str::<preen_domain::answers::ComponentUsage>(&text).unwrap(), usage);
        }
    }
}

proptest! {
    #![proptest_config(cases(32))]

    #[test]
    fn the_slow_evaluator_agrees_on_every_history(seeds in seeds(), back_s in 0_i64..20_000_000, ahead in 0_u64..50) {
        let history = History::of(&seeds);
        let zone = history.fleet.club().zone;
        let book = Book::read(&history.facts, zone);
        let past = world::start().plus_seconds(60).max(history.cursor.plus_seconds(-back_s));
        let on = |at: Instant| -> NaiveDate { day_of(at, zone) };
        let moments = [
            today(&history),
            Moment { on: on(history.cursor) + Days::new(ahead), ..today(&history) },
            Moment { as_of: past, on: on(past) + Days::new(ahead % 3), pilot: Some(world::member(u128::from(ahead))) },
        ];
        let found = differences(&history.fleet, &book, &moments);
        prop_assert!(found.is_empty(), "{} differences\n{}", found.len(), found[0]);
        prop_assert_eq!(grounded_flights_difference(&history.fleet, &book, today(&history)), None);
    }
}

fn rank(state: CheckState) -> u8 {
    match state {
        CheckState::Clear => 0,
        CheckState::Due => 1,
        CheckState::Overdue => 2,
        CheckState::NeverDone => 3,
    }
}

/// Whether at most one check of the item's group is on record for its model or any part.
fn done_at_most_once(history: &History, item: &DueItem) -> bool {
    let checks = history.facts.iter().filter(|recorded| match &recorded.fact {
        Fact::Inspection(inspection) => inspection.group.as_str() == item.group,
        _ => false,
    });
    checks.count() <= 1
}

/// A part of a model swapped for a loose one and back again: the history before with its moment, and the one after.
pub fn swap_there_and_back(history: &History, roll: &mut Roll) -> Option<(History, History)> {
    let mut there = history.clone();
    there.cursor = there.cursor.plus_seconds(3600);
    for _ in 0..40 {
        let model = world::model(u128::from(roll.below(4)));
        let fitted: Vec<_> =
            there.fleet.fitted(model, there.cursor).iter().map(|f| (f.id, f.path.clone())).collect();
        let Some((off, path)) = roll.pick(&fitted) else { continue };
        let like: Vec<_> = there
            .fleet
            .components()
            .filter(|(id, _)| {
                there.fleet.component_data(*id).map(|c| c.part)
                    == there.fleet.component_data(off).map(|c| c.part)
            })
            .map(|(id, _)| id)
            .collect();
        let Some(on) = roll.pick(&like) else { continue };
        let mut back = there.clone();
        let mut swap = |on, at: Instant| {
            let exchange = Exchange {
                path: path.clone(),
                on,
                installation: InstallationId(back.id()),
                removal: RemovalId(back.id()),
                reason: RemovalReason::Preventive,
                note: None,
            };
            let request = SwapRequest { occurred_at: at, done_by: None, exchanges: vec![exchange] };
            let plan = plan_swap(&back.fleet, model, &request, world::member(0), world::end()).ok()?;
            plan.facts.into_iter().all(|fact| back.record(fact, 0)).then_some(())
        };
        if swap(on, there.cursor).is_some() && swap(off, there.cursor.plus_seconds(60)).is_some() {
            back.cursor = there.cursor.plus_seconds(60);
            return Some((there, back));
        }
    }
    None
}
