//! Acts that begin on a page: a repair from a defect and from a part, and the closing of a campaign that was looked at
//! before.

use preen_tests::browser::Browser;
use preen_tests::world::new_id;
use serde_json::{Value, json};

use crate::club::{DemoClub, Profile};

fn checked(browser: &Browser) -> Value {
    browser.run("return [...document.querySelectorAll('[name=component]:checked')].map((one) => one.value)")
}

/// Fills in the rest, starts it and gives it as it is on record.
fn start(club: &DemoClub, browser: &Browser, kind: &str, text: &str) -> Value {
    browser.run(&format!("document.querySelector('[name=kind]').value = {kind:?}"));
    browser.fill("[name=text]", text);
    browser.click("main form button");
    browser.until("location.pathname.startsWith('/repairs/') && document.querySelector('.steps')");
    let id = browser.run("return location.pathname.split('/').pop()");
    assert!(browser.text("main").contains(text));
    club.world.av.get(&format!("/repairs/{}", id.as_str().unwrap())).expect(200).json()
}

pub fn a_repair(club: &DemoClub) {
    let profile = Profile::new();
    let browser = profile.browser();
    browser.tell("Emulation.setScriptExecutionDisabled", &json!({ "value": true }));
    club.sign_in(&browser, "AV", "/field");
    // From a defect: that and the part on which it sits are chosen.
    let id = new_id();
    let part = club.world.av.get("/components/JN-SG-05-L").expect(200).json()["id"].clone();
    let defect = json!({ "id": id, "model": "SG-05", "subject": { "component": part }, "severity": "watch",
        "occurred_at": "2026-05-21T07:30:00Z", "text": "scratch along the top face" });
    club.world.av.post("/defects", &defect).expect(201);
    browser.open(&club.at("/models/SG-05"));
    browser.click(&format!(".findings a[href$='defect={id}']"));
    browser.until("location.pathname === '/models/SG-05/repair'");
    assert_eq!(checked(&browser), json!(["JN-SG-05-L"]));
    assert_eq!(browser.run("return document.querySelector('[name=defect]').value"), id);
    let repair = start(club, &browser, "R7", "scratch sanded out and polished");
    assert_eq!((&repair["defect"], &repair["components"]), (&json!(id), &json!([part])));
    // From a part; what is refused comes back as it was filled in.
    browser.open(&club.at("/components/JN-SG-05-R"));
    browser.click(".deeds a[href*='/repair?']");
    browser.until("location.pathname === '/models/SG-05/repair'");
    assert_eq!(checked(&browser), json!(["JN-SG-05-R"]));
    browser.run("document.querySelectorAll('details').forEach((one) => { one.open = true; })");
    browser.fill("[name=material_mass_g]", "9000");
    browser.run("document.querySelector('[name=kind]').value = 'R7'");
    browser.fill("[name=text]", "play taken out");
    browser.click("main form button");
    browser.until("document.getElementById('fault')");
    assert_eq!(checked(&browser), json!(["JN-SG-05-R"]));
    browser.run("document.querySelector('[name=material_mass_g]').value = ''");
    browser.fill("[name=material_mass_g]", "0,4");
    browser.run("document.querySelector('[name=text]').value = ''");
    let repair = start(club, &browser, "R7", "play taken out at the root");
    assert_eq!((&repair["material_mass_g"], &repair["defect"]), (&json!(0.4), &Value::Null));
}

pub fn closing_a_campaign(club: &DemoClub) {
    let profile = Profile::new();
    let browser = profile.browser();
    browser.tell("Emulation.setScriptExecutionDisabled", &json!({ "value": true }));
    club.sign_in(&browser, "AV", "/campaigns/CA-2026-1");
    browser.click(".deeds a[href$='/close']");
    browser.until("location.pathname === '/campaigns/CA-2026-1/close'");
    let before = club.revision();
    browser.click("[value=preview]");
    let told = browser.until("document.getElementById('fault')?.innerText");
    let open =
        browser.run("return document.querySelectorAll('[name^=\"reason.\"]').length").as_u64().unwrap();
    assert!(open > 1);
    assert!(told.as_str().unwrap().contains("SV08-B"), "{told}");
    browser.run("for (const one of document.querySelectorAll('[name^=\"reason.\"]')) one.value = 'to be scrapped in winter'");
    browser.click("[value=preview]");
    browser.until("document.getElementById('then')");
    let then = browser.text("section");
    assert!(then.contains("closed") && then.contains("to be scrapped in winter"), "{then}");
    assert_eq!(club.revision(), before, "a preview records nothing");
    browser.click("[value=close]");
    browser.until("location.pathname === '/campaigns/CA-2026-1'");
    assert_eq!(club.revision(), before + 1);
    let progress = club.world.av.get("/campaigns/CA-2026-1/progress").expect(200).json();
    assert_eq!(
        (&progress["is_open"], progress["waived"].as_array().unwrap().len() as u64),
        (&json!(false), open)
    );
    assert!(browser.text("main").contains("to be scrapped in winter"));
}
