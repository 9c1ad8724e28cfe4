//! Every row of the demo passes the rules of the record, one after the other in the order of loading.

use preen_api::demo;
use preen_domain::{
    facts::Recorded,
    fleet::{Club, Fleet},
    ids::{ClubId, MemberId},
    rules,
    time::Instant,
};
use uuid::Uuid;

#[test]
fn every_row_of_the_demo_may_be_recorded_in_its_order() {
    let tables = demo::tables::read().unwrap();
    let mut fleet = Fleet::new(Club {
        id: ClubId(Uuid::from_u128(1)),
        tag: tables.club.short_name,
        title: tables.club.title,
        zone: tables.club.time_zone,
    });
    let now: Instant = "2026-05-21T08:00:00Z".parse().unwrap();
    let mut refused = Vec::new();
    for (revision, row) in (1..).zip(tables.rows) {
        for broken in rules::check(&fleet, &row.fact, now) {
            refused.push(format!("{} line {}: {}", row.file, row.line, broken.text));
        }
        let recorded_by = MemberId(Uuid::from_u128(2));
        fleet.apply(&Recorded { fact: row.fact, recorded_at: now, recorded_by, revision });
    }
    assert_eq!(refused, Vec::<String>::new());
}
