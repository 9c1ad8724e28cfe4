//! The field without signal: what was opened once opens again, what is logged is kept through a dead battery, and it is
//! sent once, in the name of who filled it in.

use serde_json::json;

use crate::club::{DemoClub, Profile, at, log_flight, wait_for_waiting};

pub fn a_day_without_signal(club: &DemoClub) {
    let profile = Profile::new();
    let mut browser = profile.browser();
    club.sign_in(&browser, "AV", "/field");
    // One visit keeps the list and the member's own models.
    browser.until("Number(document.documentElement.dataset.kept) >= 3");
    let before = club.revision();
    let defects = club.of("defects", "SG-01").len();
    club.link.cut();
    club.open_field(&browser, "/field");
    assert!(browser.text("#kept-copy").contains("Without signal"));
    browser.click("#own a[href='/field/SG-01']");
    browser
        .until("location.pathname === '/field/SG-01' && document.documentElement.dataset.field === 'ready'");
    let landings =
        [("soft", "03:10"), ("normal", "03:22"), ("firm", "03:35"), ("normal", "03:47"), ("soft", "03:58")];
    for (number, (landing, time)) in (1..).zip(landings) {
        log_flight(&browser, landing, &format!("2026-05-21T{time}"));
        wait_for_waiting(&browser, number);
    }
    browser.click("#defects summary");
    browser.click("#defects input[value=watch]");
    browser.run("document.querySelector('#defects [name=seen]').value = 'Tape lifts'");
    browser.click("#defects button.main");
    wait_for_waiting(&browser, 6);
    assert!(browser.text("#queue .counted").contains("6 entries not sent yet"));
    // The battery dies, and there is still no signal.
    browser.kill();
    browser = profile.browser();
    club.open_field(&browser, "/field/SG-01");
    wait_for_waiting(&browser, 6);
    assert_eq!(club.revision(), before);
    // Signal again, and somebody else signs in: nothing goes out in their name.
    club.link.mend();
    club.sign_in(&browser, "BK", "/field");
    browser.until("document.getElementById('queue').dataset.held === 'other_member'");
    let told = browser.text("#queue .counted");
    assert_eq!(told, "6 entries of AV wait here until they sign in.");
    assert_eq!(club.revision(), before);
    browser.click(".who button");
    browser.until("location.pathname === '/sign-in'");
    // Who filled it in signs in again.
    club.sign_in(&browser, "AV", "/field/SG-01");
    wait_for_waiting(&browser, 0);
    browser.until("document.querySelectorAll('#queue .done').length === 6");
    // Early in the morning, when nobody else of these subjects flies.
    let mut flown = club.flights("SG-01", "2026-05-21T02:00");
    flown.retain(|one| at(one) < "2026-05-21T03:00");
    let landed: Vec<&str> = flown.iter().map(|one| one["landing"].as_str().unwrap()).collect();
    assert_eq!(landed, ["soft", "normal", "firm", "normal", "soft"]);
    let av = club.member("AV");
    assert!(flown.iter().all(|one| one["recorded_by"] == av && one["pilot"] == av), "{flown:?}");
    let found = club.of("defects", "SG-01");
    assert_eq!(found.len(), defects + 1);
    let defect = found.iter().find(|one| one["text"] == "Tape lifts").unwrap();
    assert_eq!((&defect["severity"], &defect["recorded_by"]), (&json!("watch"), &av));
    // The phone's clock is months ahead; what it recorded is by the service's.
    assert!(("2026-05-21T08:00"..="2026-05-21T08:02").contains(&at(defect)), "{}", at(defect));
    assert_eq!(club.revision(), before + 6);
    // Opened again, nothing is sent again.
    club.open_field(&browser, "/field/SG-01");
    wait_for_waiting(&browser, 0);
    assert_eq!(club.revision(), before + 6);
}

pub fn nothing_answers(club: &DemoClub) {
    let profile = Profile::new();
    let browser = profile.browser();
    club.sign_in(&browser, "AV", "/field/SG-01");
    browser.until("Number(document.documentElement.dataset.kept) >= 3");
    club.link.stall();
    club.open_field(&browser, "/field/SG-01");
    browser.until("document.getElementById('kept-copy').innerText.includes('Without signal')");
}

pub fn pages_of_another(club: &DemoClub) {
    let profile = Profile::new();
    let browser = profile.browser();
    club.sign_in(&browser, "AV", "/field/SG-01");
    browser.until("Number(document.documentElement.dataset.kept) >= 3");
    // Somebody else signs in on the same phone and opens no page of the field.
    club.sign_in(&browser, "CM", "/password");
    club.link.cut();
    let _ = browser.try_open(&club.at("/field/SG-01"));
    let shown = browser.text(".who .member");
    assert_ne!(shown, "AV", "a page of another member");
    club.link.mend();
    // Whoever signs out leaves no page behind.
    club.sign_in(&browser, "AV", "/field/SG-01");
    browser.until("Number(document.documentElement.dataset.kept) >= 3");
    browser.click(".who button");
    browser.until("location.pathname === '/sign-in'");
    club.link.cut();
    let _ = browser.try_open(&club.at("/field/SG-01"));
    assert!(browser.run("return document.body.innerText").as_str().unwrap().contains("No signal"));
    let kept = browser.run("return document.querySelector('.who') === null");
    assert_eq!(kept, true);
}
