//! The calendar feed, read by a parser that shares nothing with what wrote it (RFC 5545).

use std::collections::BTreeMap;

use calcard::icalendar::{ICalendar, ICalendarComponentType, ICalendarProperty};
use preen_tests::http::Reply;
use preen_tests::on_both;
use preen_tests::world::{Database, World, flight, new_id};
use serde_json::json;

/// Every event by its name: day, summary, text.
#[track_caller]
fn events(text: &str) -> BTreeMap<String, (String, String, String)> {
    // RFC 5545, 3.1: lines of at most 75 octets, ended by CR LF.
    for line in text.split("\r\n") {
        assert!(line.len() <= 75 && !line.contains('\n'), "{line}");
    }
    let calendar = ICalendar::parse(text).unwrap();
    let mut events = BTreeMap::new();
    for component in &calendar.components {
        if component.component_type != ICalendarComponentType::VEvent {
            continue;
        }
        let value = |property: &ICalendarProperty| {
            let entry =
                component.property(property).unwrap_or_else(|| panic!("{property:?} is missing: {text}"));
            entry.values[0].clone().into_text().unwrap().into_owned()
        };
        let start = component.property(&ICalendarProperty::Dtstart).unwrap();
        let start = start.values[0].as_partial_date_time().unwrap();
        assert!(start.hour.is_none(), "a whole day");
        let day = format!("{:04}-{:02}-{:02}", start.year.unwrap(), start.month.unwrap(), start.day.unwrap());
        assert!(component.property(&ICalendarProperty::Dtstamp).is_some(), "RFC 5545, 3.6.1 asks for it");
        let uid = value(&ICalendarProperty::Uid);
        let told = (day, value(&ICalendarProperty::Summary), value(&ICalendarProperty::Description));
        assert!(events.insert(uid.clone(), told).is_none(), "{uid} stands twice");
    }
    events
}

#[track_caller]
fn body(reply: Reply) -> String {
    let reply = reply.expect(200);
    assert_eq!(reply.header("content-type"), Some("text/calendar; charset=utf-8"));
    reply.text
}

#[test]
fn the_days_of_the_demo_club() {
    let world = World::demo(Database::Sqlite);
    let all = events(&body(world.av.get("/calendar.ics?models=all")));
    let day = |key: &str| {
        all.get(&format!("{key}@quillmarsh.preen")).unwrap_or_else(|| panic!("{key}: {all:?}")).clone()
    };
    // The forecast of SG-03 is that of the worked example: 11.8 days, from 29 May to 5 June.
    let (on, summary, text) = day("check-SG-03-N25-SG-03");
    assert_eq!((on.as_str(), summary.as_str()), ("2026-06-01", "N25 expected: SG-03"));
    assert!(text.contains("Expected between 2026-05-29 and 2026-06-05."), "{text}");
    let (on, summary, _) = day("check-SG-06-S12-SG-06");
    assert_eq!((on.as_str(), summary.as_str()), ("2026-05-24", "S12 due: SG-06"));
    assert_eq!(day("defect-DE-007").0, "2026-05-28");
    let (on, _, text) = day("campaign-CA-2026-1-SG-01-2026-05-29");
    assert_eq!(on, "2026-05-29");
    assert!(text.contains("SV08-B001, SV08-B002"), "{text}");
    let mine = events(&body(world.av.get("/calendar.ics")));
    assert!(mine.len() < all.len());
    assert!(mine.iter().all(|(uid, told)| all.get(uid) == Some(told)), "mine are among all");
    let of_model = |events: &BTreeMap<String, (String, String, String)>, model: &str| {
        events.contains_key(&format!("check-{model}-N25-{model}@quillmarsh.preen"))
    };
    assert!(of_model(&mine, "SG-06") && !of_model(&mine, "SG-03"), "the club's models, nobody else's");
    let of_bk = world.token_of("BK", &["calendar"], None).get("/calendar.ics");
    let of_bk = events(&body(of_bk));
    assert!(of_model(&of_bk, "SG-03") && !of_model(&of_bk, "SG-01"), "their own");
}

on_both!(a_link_carries_a_token_that_is_good_for_nothing_else, |world| {
    world.small_fleet();
    let subscriber = world.token_of("AV", &["calendar"], None);
    let stranger = world.av.with_token("");
    let link = |token: &str| format!("/calendar.ics?token={token}");
    body(stranger.get(&link(&subscriber.token)));
    subscriber.get("/models").problem(403, "scope_missing");
    let powerful = world.token_of("AV", &["calendar", "read"], None);
    stranger.get(&link(&powerful.token)).problem(403, "link_too_powerful");
    body(powerful.get("/calendar.ics"));
    let loan = json!({
        "id": new_id(), "tag": "LO-7", "item": { "model": "SG-01" }, "lent_to": "VW", "occurred_at": "2026-05-20T10:00:00Z",
        "from_on": "2026-05-20", "due_back_on": "2026-06-01"
    });
    let visitor = world.member("VW", &["visitor"], &["calendar"]);
    let all = visitor.get("/calendar.ics?models=all");
    assert!(events(&body(all)).is_empty(), "a visitor is shown what is lent to them, and nothing is");
    world.av.post("/loans", &loan).expect(201);
    let lent = events(&body(visitor.get("/calendar.ics?models=all")));
    assert!(lent.contains_key("loan-LO-7@quillmarsh.preen"), "{lent:?}");
    let reader = world.token_of("AV", &["read"], None);
    stranger.get(&link(&reader.token)).problem(403, "scope_missing");
    reader.get("/calendar.ics").problem(403, "scope_missing");
    let other_end = if reader.token.ends_with('A') { "E" } else { "A" };
    let unknown = format!("{}{other_end}", &reader.token[..reader.token.len() - 1]);
    stranger.get(&link(&unknown)).problem(401, "token_unknown");
    stranger.get(&link("nonsense")).problem(401, "token_malformed");
    stranger.get("/calendar.ics").problem(401, "token_missing");
    world.av.get("/calendar.ics?models=some").problem(400, "bad_parameter");
});

on_both!(a_day_that_moves_keeps_its_name, |world| {
    world.small_fleet();
    world.member("BK", &["pilot"], &["read"]);
    let loan = json!({
        "id": new_id(), "tag": "LO-1", "item": { "model": "SG-01" }, "lent_to": "BK", "occurred_at": "2026-05-20T10:00:00Z",
        "from_on": "2026-05-20", "due_back_on": "2026-06-01", "note": "commas, semicolons; and\nlines"
    });
    world.av.post("/loans", &loan).expect(201);
    let before = events(&body(world.av.get("/calendar.ics")));
    assert_eq!(before["loan-LO-1@quillmarsh.preen"].0, "2026-06-01");
    for hour in 10..13 {
        world.add("flights", flight("SG-01", "AV", &format!("2026-05-20T{hour}:00:00Z")));
    }
    let after = events(&body(world.av.get("/calendar.ics")));
    assert!(before.keys().all(|uid| after.contains_key(uid)), "{before:?} {after:?}");
    let back = json!({ "id": new_id(), "loan": "LO-1", "occurred_at": "2026-05-21T07:00:00Z" });
    world.av.post("/loan-returns", &back).expect(201);
    let returned = events(&body(world.av.get("/calendar.ics")));
    assert!(!returned.contains_key("loan-LO-1@quillmarsh.preen"));
});
