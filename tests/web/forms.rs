//! The forms of the field with signal: with a script and without, the same is recorded.

use serde_json::{Value, json};

use crate::club::{DemoClub, Profile, at, log_flight, wait_for_waiting};

pub fn without_a_script(club: &DemoClub) {
    let profile = Profile::new();
    let browser = profile.browser();
    browser.tell("Emulation.setScriptExecutionDisabled", &json!({ "value": true }));
    club.sign_in(&browser, "HT", "/field");
    browser.click("#own a");
    browser.until("location.pathname === '/field/TS-01'");
    let before = club.of("flights", "TS-01").len();
    // A form that is refused comes back as it was filled in, and counts once when it is put right.
    browser.click("#flights input[value=firm]");
    browser.click("#flights input[name=looked]");
    browser.fill("[name=airtime_other]", "long");
    let id = browser.run("return document.querySelector('#flights [name=id]').value");
    browser.click("#flights button.main");
    let fault = browser.until("document.getElementById('fault-flights')?.innerText");
    assert!(fault.as_str().unwrap().contains("`long` is not a number"), "{fault}");
    assert_eq!(browser.run("return document.querySelector('#flights [name=id]').value"), id);
    let kept = "return [...document.querySelectorAll('#flights :checked')].map((one) => one.value)";
    assert!(browser.run(kept).as_array().unwrap().contains(&json!("firm")));
    browser.run("document.querySelector('[name=airtime_other]').value = ''");
    browser.fill("[name=airtime_other]", "1,5");
    browser.click("#flights button.main");
    browser.until("location.search === '?done=flights'");
    assert_eq!(browser.text(".done"), "The flight is recorded.");
    let after = club.of("flights", "TS-01");
    assert_eq!(after.len(), before + 1);
    let flight = after.iter().find(|one| one["id"] == id).unwrap();
    assert_eq!((&flight["landing"], &flight["airtime_min"]), (&json!("firm"), &json!(1.5)));
    assert_eq!(flight["is_post_flight_logged"], true);
    assert_eq!(at(flight), "2026-05-21T07:58:30Z");
}

/// What a fact says, without what is new each time.
fn said(fact: &Value) -> Value {
    let mut said = fact.clone();
    for own in ["id", "recorded_at", "revision"] {
        said.as_object_mut().unwrap().remove(own);
    }
    said
}

/// Fills in each of the four forms the same way. The script it runs in the page is the test's own.
const FILL: &str = "
    const set = (css, value) => { for (const one of document.querySelectorAll(css)) {
        if (one.type === 'radio' || one.type === 'checkbox') one.checked = value; else one.value = value; } };
    document.querySelectorAll('details').forEach((one) => { one.open = true; });
    set('#flights [value=soft]', true);
    set('[name=airtime_other]', '2,25');
    set('[name=flap]', false);
    set('[name=looked]', true);
    set('[name=launches]', '1');
    set('#flights [name=note]', 'tow line \"blue\" <b>');
    set('#inspections [name=\"item.PF-04\"][value=fail]', true);
    set('#inspections [name=\"note.PF-04\"]', 'tape lifts 12 mm');
    set('#inspections [name=\"item.PF-09\"][value=not_looked_at]', true);
    set('#inspections [name=verdict][value=restrict]', true);
    const part = [...document.querySelectorAll('#defects option')].find((one) => one.textContent.startsWith('W.C'));
    set('#defects [name=subject]', part.value);
    set('#defects [value=watch]', true);
    set('#defects [name=seen]', 'Dent');
    set('#defects [name=text]', 'left of the middle, 0.4 mm');
    set('#defects [name=place]', 'lower skin');
    set('#measurements [name=values]', '9,5');
    set('[name=at]', '2026-05-20T20:10');
    const quantity = document.querySelector('#measurements [name=quantity]');
    quantity.value = [...quantity.options].find((one) => one.dataset.kind === '' && one.value !== '').value;
";

pub fn the_same_either_way(club: &DemoClub) {
    let nouns = ["flights", "inspections", "defects", "measurements"];
    let profile = Profile::new();
    let browser = profile.browser();
    club.sign_in(&browser, "AV", "/field");
    let newest = |noun: &str, before: &[Value]| -> Value {
        let known: Vec<&Value> = before.iter().map(|one| &one["id"]).collect();
        let now = if noun == "measurements" { all_readings(club) } else { club.of(noun, "SG-05") };
        let mut new = now.into_iter().filter(|one| !known.contains(&&one["id"]));
        let found = new.next().unwrap_or_else(|| panic!("no new one of the {noun}"));
        assert!(new.next().is_none(), "two new ones of the {noun}");
        found
    };
    for noun in nouns {
        let before = if noun == "measurements" { all_readings(club) } else { club.of(noun, "SG-05") };
        let send = format!("document.querySelector('#{noun} button.main').click()");
        // Without a script, as the form posts it.
        browser.tell("Emulation.setScriptExecutionDisabled", &json!({ "value": true }));
        browser.open(&club.at("/field/SG-05"));
        browser.run(&format!("{FILL} set('[name=landed_at]', '2026-05-20T20:30'); document.querySelector('#{noun} form').submit()"));
        browser.until(&format!("location.search === '?done={noun}'"));
        let plain = newest(noun, &before);
        // With it, by way of the queue.
        browser.tell("Emulation.setScriptExecutionDisabled", &json!({ "value": false }));
        club.open_field(&browser, "/field/SG-05");
        let before = if noun == "measurements" { all_readings(club) } else { club.of(noun, "SG-05") };
        browser.run(&format!("{FILL} set('[name=landed_at]', '2026-05-20T20:40'); {send}"));
        browser.until("document.querySelector('#queue .done')");
        wait_for_waiting(&browser, 0);
        let mut queued = newest(noun, &before);
        if noun == "flights" {
            assert_eq!((at(&plain), at(&queued)), ("2026-05-20T19:27:45Z", "2026-05-20T19:37:45Z"));
            queued["occurred_at"] = plain["occurred_at"].clone();
        } else {
            assert_eq!(at(&plain), "2026-05-20T19:10:00Z");
        }
        assert_eq!(said(&plain), said(&queued), "{noun}");
        browser.run("indexedDB.deleteDatabase('preen-field')");
    }
}

fn all_readings(club: &DemoClub) -> Vec<Value> {
    let mut found = preen_tests::world::items(club.world.av.get("/measurements?limit=500&sort=-occurred_at"));
    found.sort_by(|a, b| at(a).cmp(at(b)));
    found
}

/// What is typed on the device is the same moment as what a form without a script posts.
pub fn moments(club: &DemoClub) {
    let profile = Profile::new();
    let browser = profile.browser();
    club.sign_in(&browser, "AV", "/field");
    let found = browser.run(
        "const path = document.querySelector('script[type=module]').src.replace('field.js', 'field_facts.js');
         return import(path).then(({ momentOf, newId }) => {
             const at = (text, zone) => { try { return new Date(momentOf(text, zone)).toISOString(); } catch { return null; } };
             return [at('2026-05-21T09:30', 'Europe/London'), at('2026-10-25T01:30', 'Europe/London'),
                 at('2026-03-29T01:30', 'Europe/London'), at('2026-01-01T00:15', 'Asia/Kathmandu'),
                 at('2026-11-01T01:30', 'America/New_York'), newId(Date.UTC(2026, 4, 21))]; });",
    );
    let found = found.as_array().unwrap();
    let moments = [
        json!("2026-05-21T08:30:00.000Z"),
        json!("2026-10-25T00:30:00.000Z"),
        Value::Null,
        json!("2025-12-31T18:30:00.000Z"),
        json!("2026-11-01T05:30:00.000Z"),
    ];
    assert_eq!(&found[..5], &moments);
    let id = uuid::Uuid::parse_str(found[5].as_str().unwrap()).unwrap();
    assert_eq!(id.get_version_num(), 7);
    assert_eq!(id.get_timestamp().unwrap().to_unix(), (1_779_321_600, 0));
}

pub fn a_label_opens(club: &DemoClub) {
    let profile = Profile::new();
    let browser = profile.browser();
    club.sign_in(&browser, "AV", "/field");
    for (said, path) in [
        ("sg-03", "/field/SG-03"),
        ("SV08-B011", "/field/part/SV08-B011"),
        ("https://club.example/components/SV08-B011", "/field/part/SV08-B011"),
    ] {
        browser.open(&club.at("/field"));
        browser.fill("[name=tag]", said);
        browser.click(".scan button");
        browser.until(&format!("location.pathname === {path:?}"));
    }
    browser.open(&club.at("/field?tag=NO-99"));
    assert!(browser.text("[role=alert]").contains("NO-99"));
}

pub fn a_hard_landing(club: &DemoClub) {
    let profile = Profile::new();
    let browser = profile.browser();
    club.sign_in(&browser, "HT", "/field/TS-01");
    club.open_field(&browser, "/field/TS-01");
    assert!(!browser.text("#standing .verdict").contains("grounded"));
    log_flight(&browser, "hard", "2026-05-21T08:20");
    browser.until("document.querySelector('#standing .verdict')?.innerText.includes('grounded')");
    let standing = browser.text("#standing");
    assert!(standing.contains("HL"), "{standing}");
}
