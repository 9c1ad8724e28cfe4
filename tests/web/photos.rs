//! Photos that go with forms, without a script: with a defect, with a check, to a repair; and what comes of a file that
//! is none.

use preen_tests::browser::Browser;
use serde_json::{Value, json};

use crate::club::{DemoClub, Profile};

/// A picture that is no other's, and a file that is none.
fn files(profile: &Profile, seed: u8) -> (String, String) {
    let (good, bad) = (profile.0.join(format!("seen{seed}.png")), profile.0.join("notes.png"));
    let pixel = |x: u32, y: u32| image::Rgb([(x % 251) as u8, (y % 241) as u8, seed]);
    image::RgbImage::from_fn(300, 200, pixel).save(&good).unwrap();
    std::fs::write(&bad, "the crack is 3 mm long").unwrap();
    (good.to_str().unwrap().to_owned(), bad.to_str().unwrap().to_owned())
}

fn photos(club: &DemoClub) -> Vec<Value> {
    club.world.av.get("/photos?limit=500").expect(200).json()["items"].as_array().unwrap().clone()
}

fn shown(browser: &Browser) -> u64 {
    browser.run("return document.querySelectorAll('.photos img').length").as_u64().unwrap()
}

pub fn without_a_script(club: &DemoClub) {
    let profile = Profile::new();
    let browser = profile.browser();
    browser.tell("Emulation.setScriptExecutionDisabled", &json!({ "value": true }));
    club.sign_in(&browser, "AV", "/field");
    with_a_defect(club, &profile, &browser);
    with_a_check(club, &profile, &browser);
    to_a_repair(club, &profile, &browser);
}

fn with_a_defect(club: &DemoClub, profile: &Profile, browser: &Browser) {
    let (good, bad) = files(profile, 1);
    let (known, defects) = (photos(club).len(), club.of("defects", "SG-05").len());
    browser.open(&club.at("/field/SG-05"));
    browser.run("document.querySelectorAll('details').forEach((one) => { one.open = true; })");
    browser.click("#defects input[value=watch]");
    browser.fill("#defects [name=text]", "white line at the root");
    // Both are chosen, one is no picture: nothing is recorded, and the good one need not be sent again.
    browser.fill("#defects [name=photo]", &format!("{good}\n{bad}"));
    browser.click("#defects button.main");
    let fault = browser.until("document.getElementById('fault-defects')?.innerText");
    assert!(fault.as_str().unwrap().to_lowercase().contains("picture"), "{fault}");
    assert_eq!(
        browser.run("return document.querySelector('#defects [name=text]').value"),
        "white line at the root"
    );
    assert!(browser.text("#defects").contains("1 photo sent before"));
    assert_eq!((photos(club).len(), club.of("defects", "SG-05").len()), (known, defects));
    browser.click("#defects button.main");
    browser.until("location.search === '?done=defects'");
    let all = club.of("defects", "SG-05");
    let defect = all.iter().find(|one| one["text"] == "white line at the root").unwrap();
    let all = photos(club);
    assert_eq!(all.len(), known + 1);
    let photo = all.iter().find(|one| one["defect"] == defect["id"]).unwrap();
    assert_eq!((&photo["subject"], &photo["occurred_at"]), (&defect["subject"], &defect["occurred_at"]));
    // Both in one go.
    assert_eq!((&photo["width_px"], &photo["revision"]), (&json!(300), &defect["revision"]));
    browser.open(&club.at("/models/SG-05"));
    assert!(shown(browser) > 0);
}

fn with_a_check(club: &DemoClub, profile: &Profile, browser: &Browser) {
    let (during, after) = (files(profile, 2).0, files(profile, 3).0);
    let known = photos(club).len();
    browser.open(&club.at("/models/SG-05/checks/PF"));
    let before = shown(browser);
    assert_eq!(before, 0);
    browser.run("for (const one of document.querySelectorAll('input[value=pass]')) one.checked = true");
    browser.fill("#whole [name=photo]", &during);
    browser.click("#whole button");
    browser.until("document.querySelector('.done')");
    assert_eq!(shown(browser), 1);
    browser.run("document.querySelectorAll('details').forEach((one) => { one.open = true; })");
    browser.fill("details [name=photo]", &after);
    browser.fill("details [name=text]", "tape at the left cover");
    browser.click("details button");
    browser.until("document.querySelectorAll('.photos img').length === 2");
    let all = photos(club);
    assert_eq!(all.len(), known + 2);
    let added = all.iter().find(|one| one["text"] == "tape at the left cover").unwrap();
    let checks = club.of("inspections", "SG-05");
    let check = checks.iter().find(|one| one["id"] == added["inspection"]).unwrap();
    assert_eq!((&check["group"], &check["is_summary"]), (&json!("PF"), &json!(false)));
}

fn to_a_repair(club: &DemoClub, profile: &Profile, browser: &Browser) {
    let (good, bad) = files(profile, 4);
    browser.open(&club.at("/repairs/RE-014"));
    assert_eq!(shown(browser), 0);
    for (file, is_one) in [(&bad, false), (&good, true)] {
        browser.run("document.querySelectorAll('details').forEach((one) => { one.open = true; })");
        browser.fill("details [name=photo]", file);
        browser.click("details button");
        if is_one {
            browser.until(
                "document.querySelector('.done') && document.querySelectorAll('.photos img').length === 1",
            );
        } else {
            browser.until("document.getElementById('fault')?.innerText.toLowerCase().includes('picture')");
        }
    }
    let repair = club.world.av.get("/repairs/RE-014").expect(200).json()["id"].clone();
    assert_eq!(photos(club).iter().filter(|one| one["repair"] == repair).count(), 1);
}

/// What a form with files may not do: no token, a foreign one, more files than go with one, a file before the token.
pub fn only_from_a_page(club: &DemoClub) {
    let profile = Profile::new();
    let browser = profile.browser();
    club.sign_in(&browser, "AV", "/field/SG-05");
    let known = photos(club).len();
    let script = "const done = arguments[arguments.length - 1];
        const csrf = document.querySelector('[name=csrf]').value;
        const picture = () => new File([new Uint8Array(20)], 'a.png', { type: 'image/png' });
        const send = async (...pairs) => {
            const form = new FormData();
            pairs.forEach(([name, value]) => form.append(name, value));
            return (await fetch('/field/SG-05', { method: 'POST', body: form })).status;
        };
        const noun = ['noun', 'defects'];
        (async () => [
            await send(noun, ['photo', picture()]),
            await send(['csrf', 'x'.repeat(43)], noun),
            await send(['photo', picture()], ['csrf', csrf], noun),
            await send(['csrf', csrf], noun, ['text', 'x'.repeat(70000)]),
            await send(['csrf', csrf], noun, ...Array.from({ length: 9 }, () => ['photo', picture()])),
        ])().then(done, (error) => done(String(error)));";
    assert_eq!(browser.run_async(script), json!([403, 403, 403, 413, 415]));
    assert_eq!(photos(club).len(), known);
}
