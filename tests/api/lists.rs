//! Lists: pages, filters, order, and what is refused in their query string.

use preen_tests::on_both;
use preen_tests::world::{flight, items};
use serde_json::Value;

fn ids(rows: &[Value]) -> Vec<&str> {
    rows.iter().map(|row| row["id"].as_str().unwrap()).collect()
}

/// A flight so short that the next may begin a minute later.
fn short(at: &str) -> Value {
    let mut flight = flight("SG-01", "AV", at);
    flight["airtime_min"] = serde_json::json!(0.5);
    flight
}

on_both!(pages_join_to_the_whole_list, |world| {
    world.small_fleet();
    for minute in 10..23 {
        world.add("flights", short(&format!("2026-05-20T10:{minute}:00Z")));
    }
    for sort in ["revision", "-revision", "occurred_at", "-occurred_at"] {
        let whole = items(world.av.get(&format!("/flights?sort={sort}")));
        assert_eq!(whole.len(), 13);
        let mut path = format!("/flights?sort={sort}&limit=5");
        let (mut joined, mut pages) = (Vec::new(), 0);
        loop {
            let page = world.av.get(&path).expect(200);
            pages += 1;
            joined.extend(items(page.clone()));
            let Some(link) = page.header("link") else {
                assert_eq!(page.json()["next"], Value::Null);
                break;
            };
            assert!(link.ends_with("; rel=\"next\""), "{link}");
            let target = link.split(['<', '>']).nth(1).unwrap();
            target.strip_prefix("/api/v1").unwrap().clone_into(&mut path);
        }
        assert_eq!(pages, 3);
        assert_eq!(ids(&joined), ids(&whole), "{sort}");
    }
    let up = items(world.av.get("/flights?sort=occurred_at"));
    let mut down = items(world.av.get("/flights?sort=-occurred_at"));
    down.reverse();
    assert_eq!(up, down);
});

on_both!(what_is_recorded_meanwhile_moves_no_page, |world| {
    world.small_fleet();
    for minute in 10..14 {
        world.add("flights", short(&format!("2026-05-20T10:{minute}:00Z")));
    }
    let first = world.av.get("/flights?sort=occurred_at&limit=2").expect(200);
    world.add("flights", flight("SG-01", "AV", "2026-05-20T09:00:00Z"));
    let next = first.json()["next"].as_str().unwrap().to_owned();
    let second = items(world.av.get(&format!("/flights?sort=occurred_at&limit=2&cursor={next}")));
    let at: Vec<&str> = second.iter().map(|row| row["occurred_at"].as_str().unwrap()).collect();
    assert_eq!(at, ["2026-05-20T10:12:00Z", "2026-05-20T10:13:00Z"]);
});

on_both!(lists_are_narrowed_by_fields, |world| {
    world.small_fleet();
    world.add("models", preen_tests::world::model("SG-02", "AV"));
    world.member("BK", &["pilot"], &["read"]);
    world.add("flights", flight("SG-01", "AV", "2026-05-19T10:00:00Z"));
    world.add("flights", flight("SG-02", "AV", "2026-05-20T10:00:00Z"));
    world.add("flights", flight("SG-02", "BK", "2026-05-20T22:30:00Z"));
    world.add("flights", flight("SG-02", "BK", "2026-05-20T23:30:00Z"));
    let count = |query: &str| items(world.av.get(&format!("/flights?{query}"))).len();
    assert_eq!(count("model=SG-02"), 3);
    assert_eq!(count("model=SG-02&pilot=BK"), 2);
    assert_eq!(count("launches=1"), 4);
    assert_eq!(count("is_landing_flap_used=true"), 0);
    assert_eq!(count("occurred_from=2026-05-20T10:00:00Z"), 3);
    assert_eq!(count("occurred_to=2026-05-20T10:00:00Z"), 1);
    // Days are the club's: 23:30 UTC is half past midnight of the 21st in summer.
    assert_eq!(count("occurred_from=2026-05-20&occurred_to=2026-05-20"), 2);
    world.component("B001", "SV08");
    let reading = serde_json::json!({
        "subject": { "component": "B001" }, "quantity": "servo_free_play", "values": [0.3], "unit": "deg",
        "occurred_at": "2026-05-20T10:00:00Z"
    });
    world.add("measurements", reading);
    assert_eq!(items(world.av.get("/measurements?subject=B001")).len(), 1);
    assert_eq!(items(world.av.get("/measurements?subject=SG-01")).len(), 0);
});

on_both!(a_wrong_query_names_its_parameter, |world| {
    world.small_fleet();
    let cases = [
        ("/flights?colour=red", "colour"),
        ("/flights?limit=0", "limit"),
        ("/flights?limit=501", "limit"),
        ("/flights?limit=many", "limit"),
        ("/flights?cursor=page2", "cursor"),
        ("/flights?sort=colour", "sort"),
        ("/parts?sort=occurred_at", "sort"),
        ("/flights?model=SG-99", "model"),
        ("/flights?launches=few", "launches"),
        ("/flights?is_landing_flap_used=perhaps", "is_landing_flap_used"),
        ("/flights?occurred_from=2026-05-20T10:00:00", "occurred_from"),
        ("/parts?occurred_from=2026-05-20", "occurred_from"),
        ("/may-fly?colour=red", "colour"),
        ("/may-fly?on=soon", "on"),
        ("/may-fly?on=2026-05-01", "on"),
        ("/may-fly?as_of=2026-05-22", "as_of"),
        ("/may-fly?as_of=2026-05-21T08:00:01Z", "as_of"),
        ("/may-fly?at_revision=999", "at_revision"),
        ("/may-fly?at_revision=-1", "at_revision"),
        ("/where?batch=SV99/B", "batch"),
    ];
    for (path, name) in cases {
        let body = world.av.get(path).problem(400, "bad_parameter");
        assert!(body["detail"].as_str().unwrap().contains(&format!("`{name}`")), "{path}: {body}");
    }
});

on_both!(an_answer_the_asker_has_is_not_sent_again, |world| {
    world.small_fleet();
    let first = world.av.get("/may-fly?on=2026-05-23").expect(200);
    assert_eq!(first.header("vary"), Some("Authorization, Cookie"));
    let etag = first.header("etag").unwrap().to_owned();
    let ask = || {
        let request = world.av.request("GET", "/may-fly?on=2026-05-23").header("if-none-match", &etag);
        preen_tests::Reply::of(request)
    };
    assert_eq!(ask().expect(304).text, "");
    // A minute later nothing has changed; tomorrow it has, and so it has after a new fact.
    world.set_clock("2026-05-21T08:01:00Z");
    ask().expect(304);
    world.set_clock("2026-05-22T08:00:00Z");
    let tomorrow = ask().expect(200);
    let etag = tomorrow.header("etag").unwrap().to_owned();
    let ask = || {
        let request = world.av.request("GET", "/may-fly?on=2026-05-23").header("if-none-match", &etag);
        preen_tests::Reply::of(request)
    };
    ask().expect(304);
    world.add("flights", flight("SG-01", "AV", "2026-05-20T10:00:00Z"));
    ask().expect(200);
});

on_both!(a_text_that_no_database_holds_is_refused, |world| {
    world.small_fleet();
    world.av.get("/charges?note=a%00b").problem(400, "bad_parameter");
    world.av.get("/may-fly?model=%00").problem(400, "bad_parameter");
    world.av.get("/models/SG%0001").problem(404, "not_found");
    world.av.get("/flights/%00").problem(404, "not_found");
});
