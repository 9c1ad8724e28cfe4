//! The demo club, for all days around the contest and for moments in its past, against the slow evaluator.

use chrono::{Days, NaiveDate};
use preen_api::demo::tables;
use preen_domain::{
    answers::{Moment, findings},
    facts::{Fact, Recorded},
    fleet::Club,
    ids::{ClubId, MemberId},
    time::Instant,
};
use uuid::Uuid;

use crate::{
    compare::{both, differences},
    slow::{Asked, Book, findings as slow_findings, places, usage, verdict},
};

fn recorded() -> (Vec<Recorded<Fact>>, Club) {
    let tables = tables::read().unwrap();
    let club = Club {
        id: ClubId(Uuid::from_u128(1)),
        tag: tables.club.short_name,
        title: tables.club.title,
        zone: tables.club.time_zone,
    };
    let stamp = |(revision, fact)| Recorded {
        fact,
        recorded_at: at("2026-05-21T08:00:00Z"),
        recorded_by: MemberId(Uuid::from_u128(2)),
        revision,
    };
    let programme = preen_api::exchange::programme::default_programme();
    let has_programme = tables.rows.iter().any(|row| matches!(row.fact, Fact::Programme(_)));
    let own = (!has_programme).then(|| Fact::from(programme.unwrap()));
    let rows = tables.rows.into_iter().map(|row| row.fact);
    ((1..).zip(rows.chain(own)).map(stamp).collect(), club)
}

fn at(text: &str) -> Instant {
    text.parse().unwrap()
}

fn day(text: &str) -> NaiveDate {
    text.parse().unwrap()
}

#[test]
fn answers_agree_on_the_days_around_the_contest() {
    let (facts, club) = recorded();
    let (fleet, book) = both(&facts, club);
    let as_of = at("2026-05-21T08:00:00Z");
    let days = (0..=20).map(|more| day("2026-05-21") + Days::new(more));
    let mut moments: Vec<Moment> = days.map(|on| Moment { as_of, on, pilot: None }).collect();
    let borrower = fleet.members().find(|(_, member)| member.fact.tag.as_str() == "VW").unwrap().0;
    moments.push(Moment { as_of, on: day("2026-05-23"), pilot: Some(borrower) });
    crate::expect_none(&differences(&fleet, &book, &moments));
}

#[test]
fn flights_of_the_demo_that_were_flown_against_the_board() {
    let (facts, club) = recorded();
    let (fleet, book) = both(&facts, club);
    let moment = Moment { as_of: at("2026-05-21T08:00:00Z"), on: day("2026-05-21"), pilot: None };
    let found = findings(&fleet, moment).findings;
    let flown: Vec<(&str, &str, usize)> = found
        .iter()
        .filter(|found| !found.flights.is_empty())
        .map(|found| (found.model.as_deref().unwrap(), found.finding.subject.as_str(), found.flight_count))
        .collect();
    // A check of the calendar that ran out in March, and a tip that was flown before its exchange was looked at.
    assert_eq!(flown, [("MP-02", "N25", 22), ("SG-05", "PN-R-02", 5)]);
    // Flight by flight, by plain loops, for those two and one that was never flown so.
    for (tag, expected) in [("MP-02", 22), ("SG-05", 5), ("TS-01", 0)] {
        let model = fleet.models().find(|(id, _)| fleet.model_tag(*id) == tag).unwrap().0;
        let rows = slow_findings::flown_while_grounded(&book, &[model], moment.as_of);
        assert_eq!(rows.iter().map(|(.., count)| count).sum::<usize>(), expected, "{tag}");
    }
}

#[test]
fn answers_agree_in_the_past() {
    let (facts, club) = recorded();
    let (fleet, book) = both(&facts, club);
    let past = [
        ("2025-04-05T12:00:00Z", "2025-04-06"),
        ("2025-08-16T12:00:00Z", "2025-08-16"),
        ("2025-11-22T12:00:00Z", "2025-11-22"),
        ("2026-03-06T21:15:00Z", "2026-03-07"),
        ("2026-04-26T18:00:00Z", "2026-04-27"),
        ("2026-05-09T07:59:59Z", "2026-05-09"),
        ("2026-05-09T08:10:00Z", "2026-05-09"),
        ("2026-05-16T23:30:00Z", "2026-05-17"),
    ];
    let moments: Vec<Moment> =
        past.iter().map(|(as_of, on)| Moment { as_of: at(as_of), on: day(on), pilot: None }).collect();
    crate::expect_none(&differences(&fleet, &book, &moments));
}

/// The evaluator itself gives the published figures of the demo, so that both cannot be wrong together.
#[test]
fn the_slow_evaluator_knows_the_board_of_saturday() {
    let (facts, club) = recorded();
    let book = Book::read(&facts, club.zone);
    let asked = Asked { as_of: at("2026-05-21T08:00:00Z"), on: day("2026-05-23"), pilot: None };
    let mut board: Vec<(String, &str, Option<i64>)> = book
        .models()
        .into_iter()
        .map(|model| {
            let verdict = verdict::of_model(&book, model, asked);
            (book.model(model).tag.to_string(), verdict.state.as_str(), verdict.max_flights)
        })
        .collect();
    board.sort();
    let expected = [
        ("MP-01", "grounded", None),
        ("MP-02", "grounded", None),
        ("MP-03", "grounded", None),
        ("SG-01", "fit", Some(4)),
        ("SG-02", "incomplete", None),
        ("SG-03", "grounded", None),
        ("SG-04", "grounded", None),
        ("SG-05", "fit", None),
        ("SG-06", "restricted", None),
        ("TS-01", "fit", None),
        ("TS-02", "incomplete", None),
        ("TS-03", "on_loan", None),
    ];
    assert_eq!(board, expected.map(|(tag, state, max)| (tag.to_owned(), state, max)));
}

#[test]
fn the_slow_evaluator_counts_the_servo_that_moved() {
    let (facts, club) = recorded();
    let book = Book::read(&facts, club.zone);
    let servo =
        book.components().into_iter().find(|id| book.component(*id).tag.as_str() == "SV08-B011").unwrap();
    let by_model: Vec<(String, u64)> = usage::of_component(&book, servo, at("2026-05-21T08:00:00Z"))
        .into_iter()
        .map(|((model, _), used)| (book.model(model).tag.to_string(), used.flights))
        .collect();
    assert_eq!(by_model, [("SG-02".to_owned(), 60), ("SG-03".to_owned(), 48)]);
    let (carrier, _) = places::carrier(&book, servo, at("2026-05-21T08:00:00Z")).unwrap();
    assert_eq!(book.model(carrier).tag.as_str(), "SG-03");
}
