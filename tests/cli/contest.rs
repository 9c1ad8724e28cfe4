//! What people ask before a contest, on the demo club: readiness and class check, as text, JSON and CSV.

use serde_json::{Value, json};

use crate::demo::Demo;
use crate::preen::Preen;

fn preen() -> Preen {
    Demo::shared().preen("LZ")
}

fn models(team: &Value) -> Vec<&Value> {
    let entries = team["entries"].as_array().unwrap();
    entries
        .iter()
        .flat_map(|entry| std::iter::once(&entry["model"]).chain(entry["reserves"].as_array().unwrap()))
        .collect()
}

#[test]
fn what_falls_due_before_the_last_round() {
    let team = preen().json("ready CT-2026-1 --as-of 2026-05-21T08:00:00Z");
    let said: Vec<(&str, Vec<String>)> = models(&team)
        .into_iter()
        .map(|model| {
            let due = model["checks"].as_array().unwrap().iter().filter(|check| check["falls_due"] == true);
            let words = due.map(|check| {
                let causes = check["causes"].as_array().unwrap();
                let by = if causes.contains(&json!("by_count")) {
                    &check["due_at_count"]
                } else {
                    &check["due_on"]
                };
                format!("{} {by}", check["group"].as_str().unwrap()).replace('"', "")
            });
            (model["model"].as_str().unwrap(), words.collect())
        })
        .collect();
    let expected: [(&str, &[&str]); 6] = [
        ("SG-01", &["N25 275"]),
        ("SG-02", &["N25 139"]),
        ("SG-03", &["N25 327", "RF30 2026-05-18"]),
        ("SG-04", &["HL null", "N25 236"]),
        ("SG-05", &["N25 318", "N100 319"]),
        ("SG-06", &["N25 212", "S12 2026-05-24"]),
    ];
    let expected: Vec<(&str, Vec<String>)> = expected
        .into_iter()
        .map(|(tag, list)| (tag, list.iter().map(ToString::to_string).collect()))
        .collect();
    assert_eq!(said, expected);
    let limits: Vec<String> = models(&team)
        .into_iter()
        .flat_map(|model| model["limits"].as_array().unwrap())
        .map(|limit| {
            format!("{} {} {}", limit["source"], limit["action"], limit["limit_on"]).replace('"', "")
        })
        .collect();
    assert!(limits.contains(&"CA-2026-1 2 2026-05-29".to_owned()), "{limits:?}");
    assert!(limits.contains(&"DE-007 null 2026-05-28".to_owned()), "{limits:?}");
}

#[test]
fn readiness_for_people() {
    let said = preen().run("ready CT-2026-1 --as-of 2026-05-21T08:00:00Z").code(2);
    let said = said.shows("CT-2026-1 Quillmarsh Reedbed Open · F5J");
    let said = said.shows("N25 (275)");
    let said = said.shows("N25 (327), RF30 (2026-05-18, late)");
    let said = said.shows("N25 (318), N100 (319)");
    let said = said.shows("CA-2026-1 action 2 on 2026-05-29, 4 flights left");
    // The planted traps: one part claimed by two entries, a loan due back on the last day.
    let said = said.shows("PN-R-02 is claimed by AV (SG-02, waited for) and DR (SG-05, fitted)");
    let said = said.shows("PN-R-02 is lent to DR and due back 2026-05-31, the last day");
    let said = said.shows("every round, 8 preliminary and 4 fly-off: the worst case");
    said.shows("The pilot decides and is responsible, every flight.");
    let one = preen().run("ready CT-2026-1 --pilot DR --as-of 2026-05-21T08:00:00Z --csv").code(2);
    let one = one.shows("pilot,model,code,severity,task,subject");
    let one = one.shows("DR,SG-05,loan_ends_on_last_day,restrict,settle_loan,PN-R-02");
    assert!(!one.stdout.contains("SG-03"), "{}", one.stdout);
}

#[test]
fn the_next_contest_is_meant_where_none_is_named_and_names_are_checked() {
    let named = preen().json("ready CT-2026-1 --as-of 2026-05-21T08:00:00Z");
    assert_eq!(preen().json("ready --as-of 2026-05-21T08:00:00Z"), named);
    preen().run("ready CT-2026-9").code(3).talks("CT-2026-1");
    preen().run("class-check SG-05 --class F9Z").code(3).talks("F5J, F5K");
}

#[test]
fn a_model_against_its_class() {
    // As it was weighed: 1202.5 g on 76.56 dm², span 3.900 m.
    let line = "class-check SG-05 --class F5J --as-of 2026-04-11T12:00:00Z";
    let check = preen().json(line);
    let row = |quantity: &str| {
        let rows = check["as_fitted"]["rows"].as_array().unwrap();
        rows.iter().find(|row| row["quantity"] == quantity).unwrap().clone()
    };
    let loading = check["as_fitted"]["loading_g_dm2"].as_f64().unwrap();
    assert_eq!(format!("{loading:.2}"), "15.71");
    assert_eq!(
        (&row("loading_g_dm2")["verdict"], &check["result"]),
        (&json!("inside"), &json!("unconfirmed"))
    );
    assert_eq!(
        (row("mass_g")["value"].as_f64(), row("span_mm")["value"].as_f64()),
        (Some(1202.5), Some(3900.0))
    );
    assert_eq!(format!("{:.2}", row("area_dm2")["value"].as_f64().unwrap()), "76.56");
    let said = preen().run(line).code(1);
    let said = said.shows("unconfirmed: nothing is outside F5J, but nobody has compared its limits");
    let said = said.shows("confirmed by nobody");
    let said = said.shows("15.71");
    said.shows("no measuring tolerance is used");
    preen().run("class-check SG-05 --ballast").code(1).shows("5 × S50");
}
