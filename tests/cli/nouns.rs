//! Every noun can be listed and shown, as text, JSON and CSV; lists can be narrowed, ordered and cut.

use preen_domain::facts::Noun;

use crate::demo::Demo;
use crate::preen::Preen;

fn preen() -> Preen {
    Demo::shared().preen("KD")
}

#[test]
fn every_noun_lists_as_many_rows_in_every_format() {
    for noun in Noun::ALL {
        let json = preen().json(&format!("{noun} list --limit 7"));
        let items = json["items"].as_array().unwrap();
        let csv = preen().run(&format!("{noun} list --limit 7 --csv")).code(0);
        assert_eq!(csv.stdout.lines().count(), items.len() + 1, "{noun}\n{}", csv.stdout);
        let text = preen().run(&format!("{noun} list --limit 7")).code(0);
        if items.is_empty() {
            assert_eq!(text.stdout, format!("No {noun} like that are on record.\n"));
            continue;
        }
        assert_eq!(text.stdout.lines().count(), items.len() + 1, "{noun}\n{}", text.stdout);
        let id = items[0]["id"].as_str().unwrap();
        assert_eq!(preen().json(&format!("{noun} show {id}"))["id"], id);
        preen().run(&format!("{noun} show {id}")).code(0).shows(id).shows("revision");
    }
}

#[test]
fn people_read_tags_where_facts_hold_ids() {
    let text = preen().run("loans list").code(0).stdout;
    assert!(text.contains("PN-R-02") && text.contains("SG-05") && text.contains("VW"), "{text}");
    preen().run("loans list").is_as_expected("loans");
    preen().run("flights show FL02049").is_as_expected("flight");
    preen().run("campaigns show CA-2026-1").is_as_expected("campaign");
}

#[test]
fn lists_are_narrowed_ordered_and_cut() {
    let first = preen().json("flights list model=SG-01 --oldest --limit 1");
    let last = preen().json("flights list model=SG-01 --limit 1");
    let at = |list: &serde_json::Value| list["items"][0]["occurred_at"].as_str().unwrap().to_owned();
    assert!(at(&first) < at(&last), "newest first unless the oldest are asked for");
    preen()
        .run("flights list model=SG-01 --limit 1")
        .code(0)
        .talks("hint: There are more than 1: --all lists all");
    let all = preen().json("flights list --all");
    assert_eq!(all["items"].as_array().unwrap().len(), 2061);
    assert_eq!(all["next"], serde_json::Value::Null);
    let day = preen().json("flights list model=SG-01 --from 2026-05-20 --to 2026-05-20");
    let days: Vec<&str> =
        day["items"].as_array().unwrap().iter().filter_map(|item| item["occurred_at"].as_str()).collect();
    assert!(!days.is_empty() && days.iter().all(|at| at.starts_with("2026-05-20")), "{days:?}");
    preen().run("models list --from 2026-05-20").code(3).talks("have no moment at which they happened");
    preen().run("components list part=SV08 batch=B").code(0).shows("SV08-B016").talks("`preen where --part");
    preen().run("flights list --limit 0").code(3);
}

#[test]
fn the_fields_of_a_noun_are_listed_with_what_they_mean() {
    preen().run("loans fields").is_as_expected("fields_of_loans");
}
