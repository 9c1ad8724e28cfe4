//! The main job by hand: a hard landing grounds a model with its reason; the check is done, a servo exchanged with its
//! balance looked at before, the check that this opens is done, and the model may fly.

use preen_tests::browser::Browser;

use crate::club::{DemoClub, Profile, log_flight};

/// Goes through a check, all good.
fn pass(club: &DemoClub, browser: &Browser, group: &str) {
    browser.open(&club.at(&format!("/models/SG-01/checks/{group}")));
    browser.run("for (const one of document.querySelectorAll('input[value=pass]')) one.checked = true");
    browser.click("#whole button");
    browser.until("document.querySelector('.done')");
}

fn verdict(club: &DemoClub, browser: &Browser) -> String {
    browser.open(&club.at("/models/SG-01"));
    browser.text(".verdict")
}

pub fn by_hand(club: &DemoClub) {
    let profile = Profile::new();
    let browser = profile.browser();
    club.sign_in(&browser, "AV", "/field/SG-01");
    assert!(verdict(club, &browser).contains("fit"));

    club.open_field(&browser, "/field/SG-01");
    log_flight(&browser, "hard", "2026-05-21T08:30");
    browser.until("document.querySelector('#queue .done')");
    let told = verdict(club, &browser);
    assert!(told.contains("grounded") && told.contains("may not fly"), "{told}");
    let reasons = browser.text(".findings");
    assert!(reasons.contains("hard landing") && reasons.contains("HL"), "{reasons}");
    browser.open(&club.at("/?state=grounded"));
    assert!(browser.text(".board").contains("SG-01"));

    pass(club, &browser, "HL");
    let told = verdict(club, &browser);
    assert!(told.contains("fit"), "{told}\n{}", browser.text(".findings"));

    // A servo at its limit goes, one of the new batch comes: looked at first, recorded then.
    let before = club.revision();
    browser.open(&club.at("/models/SG-01/swap?path=W.C/FS.L"));
    browser.click("input[value='SV08-C004']");
    browser.run("document.querySelector('[name=reason]').value = 'over_limit'");
    browser.click("main form:nth-of-type(2) button");
    browser.until("document.querySelector('section table')");
    let preview = browser.text("section");
    assert!(preview.contains("before") && preview.contains("after") && preview.contains("SW"), "{preview}");
    assert_eq!(club.revision(), before, "a preview records nothing");
    let held = club.world.av.get("/models/SG-01/balance").expect(200).json();
    browser.click("section form button");
    browser.until("document.querySelector('.done')");
    assert!(browser.text(".done").contains("SV08-C004"));
    let after = club.world.av.get("/models/SG-01/balance").expect(200).json();
    let mass = |told: &serde_json::Value| told["mass_g"].as_f64().unwrap();
    let change = mass(&after) - mass(&held);
    assert!(change.abs() > 0.01 && change.abs() < 2.0, "one servo for another: {change} g");
    assert!(preview.contains(&format!("{:.1}", mass(&after))), "{preview} told {}", mass(&after));

    let told = verdict(club, &browser);
    assert!(told.contains("grounded"), "{told}");
    assert!(browser.text(".findings").contains("SW"));
    pass(club, &browser, "SW");
    let told = verdict(club, &browser);
    assert!(told.contains("fit") && !told.contains("may not"), "{told}\n{}", browser.text(".findings"));
    assert!(browser.text("main").contains("inside"), "the centre of gravity lies on its range");
}
