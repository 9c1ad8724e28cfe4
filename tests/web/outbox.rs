//! What is kept on the device and sent: refused, asked about, no room, no session, two tabs.

use serde_json::json;

use crate::club::{DemoClub, PASSWORD, Profile, fill_in, log_flight, wait_for_waiting};

pub fn refused(club: &DemoClub) {
    let profile = Profile::new();
    let browser = profile.browser();
    // A pilot reads nothing on the models of others.
    club.sign_in(&browser, "CM", "/field/SG-01");
    club.open_field(&browser, "/field/SG-01");
    let before = club.revision();
    browser.click("#measurements summary");
    browser.run(
        "const quantity = document.querySelector('#measurements [name=quantity]'); quantity.selectedIndex = 1",
    );
    browser.fill("#measurements [name=values]", "0.4");
    browser.click("#measurements button.main");
    browser.until("document.querySelector('#queue .refused')");
    wait_for_waiting(&browser, 0);
    let told = browser.text("#queue .refused");
    assert!(told.contains("Readings are taken by the model's owner"), "{told}");
    assert_eq!(club.revision(), before);
    // It stays until it is dismissed.
    club.open_field(&browser, "/field/SG-01");
    browser.until("document.querySelector('#queue .refused')");
    browser.click("#queue .refused button");
    browser.until("!document.querySelector('#queue .refused')");
    club.open_field(&browser, "/field/SG-01");
    browser.until("document.getElementById('queue').hidden");
}

pub fn asked(club: &DemoClub) {
    let profile = Profile::new();
    let browser = profile.browser();
    club.sign_in(&browser, "AV", "/field/SG-05");
    club.open_field(&browser, "/field/SG-05");
    log_flight(&browser, "soft", "2026-05-21T07:00");
    browser.until("document.querySelector('#queue .done')");
    // A flight that overlaps is told at once; whoever means it so keeps it, and a person settles it.
    log_flight(&browser, "soft", "2026-05-21T07:01");
    let told = browser.until("document.querySelector('#flights .said.fault')?.innerText");
    assert!(told.as_str().unwrap().contains("to 07:00"), "{told}");
    wait_for_waiting(&browser, 0);
    assert_eq!(browser.run("return document.querySelectorAll('#queue .kept li').length"), 1);
    browser.click("#flights .said button");
    browser.until("document.querySelector('#queue .question')");
    wait_for_waiting(&browser, 0);
    let told = browser.text("#queue .question");
    assert!(told.contains("has a flight of"), "{told}");
    browser.click("#queue .question a");
    browser.until("location.pathname === '/questions' && document.getElementById(location.hash.slice(1))");
    assert_eq!(club.flights("SG-05", "2026-05-21").len(), 1);
}

pub fn full_store(club: &DemoClub) {
    let profile = Profile::new();
    let browser = profile.browser();
    club.sign_in(&browser, "AV", "/field/SG-01");
    club.open_field(&browser, "/field/SG-01");
    let before = club.revision();
    browser.run(
        "IDBObjectStore.prototype.add = () => { throw new DOMException('full', 'QuotaExceededError'); }",
    );
    log_flight(&browser, "firm", "2026-05-21T06:30");
    let told = browser.until("document.querySelector('#flights .said.fault')?.innerText");
    assert!(told.as_str().unwrap().contains("no room"), "{told}");
    assert!(told.as_str().unwrap().contains("nothing was kept"), "{told}");
    let form = "return [document.querySelector('#flights [value=firm]').checked, document.querySelector('[name=landed_at]').value]";
    assert_eq!(browser.run(form), json!([true, "2026-05-21T06:30"]));
    assert_eq!(browser.run("return document.getElementById('queue').hidden"), true);
    assert_eq!(club.revision(), before);
    // There is signal: it can go at once.
    browser.click("#flights .said button");
    browser.until("location.search === '?done=flights'");
    assert_eq!(club.revision(), before + 1);
}

pub fn busy(club: &DemoClub) {
    let profile = Profile::new();
    let browser = profile.browser();
    club.sign_in(&browser, "AV", "/field/SG-01");
    club.open_field(&browser, "/field/SG-01");
    let before = club.revision();
    browser.run(
        "window.before = window.fetch;
         window.fetch = (path, options) => path !== '/api/v1/facts' ? before(path, options) : Promise.resolve(new Response(
             JSON.stringify({ received_at: '2026-05-21T08:00:00Z', results: JSON.parse(options.body).facts.map(() =>
                 ({ status: 'try_again', problem: { detail: 'The service is busy.' } })) })));",
    );
    log_flight(&browser, "normal", "2026-05-21T05:30");
    browser.until("document.getElementById('queue').dataset.held === 'failed'");
    wait_for_waiting(&browser, 1);
    assert!(browser.text("#queue .counted").contains("The service is busy."));
    assert_eq!(club.revision(), before);
    browser.run("window.fetch = before");
    browser.click("#queue .now");
    wait_for_waiting(&browser, 0);
    assert_eq!(club.revision(), before + 1);
}

/// Whoever says when to be asked again is not asked before, but by hand.
pub fn told_to_wait(club: &DemoClub) {
    let profile = Profile::new();
    let browser = profile.browser();
    club.sign_in(&browser, "AV", "/field/SG-01");
    club.open_field(&browser, "/field/SG-01");
    browser.until("document.documentElement.dataset.kept");
    let before = club.revision();
    browser.run(
        "window.before = window.fetch;
         window.asked = 0;
         window.fetch = (path, options) => path !== '/api/v1/facts' ? before(path, options) : (asked += 1, Promise.resolve(
             new Response(JSON.stringify({ code: 'busy', detail: 'The service is busy.' }),
                 { status: 503, headers: { 'retry-after': '600', 'content-type': 'application/problem+json' } })));",
    );
    log_flight(&browser, "normal", "2026-05-21T04:30");
    browser.until("document.getElementById('queue').dataset.held === 'failed'");
    wait_for_waiting(&browser, 1);
    browser.run("window.dispatchEvent(new Event('online'))");
    log_flight(&browser, "normal", "2026-05-21T04:45");
    wait_for_waiting(&browser, 2);
    browser.run_async("setTimeout(arguments[arguments.length - 1], 300)");
    assert_eq!(browser.run("return asked"), 1);
    assert_eq!(club.revision(), before);
    browser.run("window.fetch = before");
    browser.click("#queue .now");
    wait_for_waiting(&browser, 0);
    assert_eq!(club.revision(), before + 2);
}

pub fn session_ended(club: &DemoClub) {
    let profile = Profile::new();
    let browser = profile.browser();
    club.sign_in(&browser, "BK", "/field/SG-03");
    club.open_field(&browser, "/field/SG-03");
    let before = club.flights("SG-03", "2026-05-21").len();
    club.set_password("BK");
    log_flight(&browser, "normal", "2026-05-21T07:30");
    browser.until("document.getElementById('queue').dataset.held === 'signed_out'");
    wait_for_waiting(&browser, 1);
    assert_eq!(browser.text("#queue .in"), "Sign in to send 1");
    assert_eq!(club.flights("SG-03", "2026-05-21").len(), before);
    browser.click("#queue .in");
    browser.until("location.pathname === '/sign-in'");
    fill_in(&browser, "BK", PASSWORD);
    browser.until("location.pathname === '/field/SG-03'");
    wait_for_waiting(&browser, 0);
    browser.until("document.querySelector('#queue .done')");
    assert_eq!(club.flights("SG-03", "2026-05-21").len(), before + 1);
}

pub fn two_tabs(club: &DemoClub) {
    let profile = Profile::new();
    let browser = profile.browser();
    club.sign_in(&browser, "BK", "/field/SG-03");
    club.open_field(&browser, "/field/SG-03");
    browser.until("document.documentElement.dataset.kept");
    let before = club.flights("SG-03", "2026-05-20").len();
    club.link.cut();
    log_flight(&browser, "soft", "2026-05-21T06:00");
    wait_for_waiting(&browser, 1);
    let page = club.at("/field/SG-03");
    browser.run(&format!("window.other = window.open({page:?})"));
    browser.until("other.document.documentElement.dataset.field === 'ready'");
    browser.until("other.document.getElementById('queue').dataset.waiting === '1'");
    club.link.mend();
    // Both are told at the same moment; the second sees what the first did.
    browser.run("for (const tab of [window, other]) tab.dispatchEvent(new Event('online'))");
    wait_for_waiting(&browser, 0);
    browser.until("other.document.getElementById('queue').dataset.waiting === '0'");
    assert_eq!(club.flights("SG-03", "2026-05-20").len(), before + 1);
    let sent = browser.requests().into_iter().filter(|url| url.ends_with("/api/v1/facts")).count();
    assert!(sent <= 3, "sent {sent} times");
}

pub fn with_photo(club: &DemoClub) {
    let profile = Profile::new();
    let browser = profile.browser();
    club.sign_in(&browser, "AV", "/field/SG-01");
    // Taller than it is wide, larger than what is kept, and no photo at all behind the second name.
    let (good, bad) = (profile.0.join("crack.png"), profile.0.join("notes.png"));
    image::RgbImage::from_fn(900, 2400, |x, y| image::Rgb([(x % 251) as u8, (y % 241) as u8, 80]))
        .save(&good)
        .unwrap();
    std::fs::write(&bad, "the crack is 3 mm long").unwrap();
    club.open_field(&browser, "/field/SG-01");
    let photos =
        || club.world.av.get("/photos?limit=500").expect(200).json()["items"].as_array().unwrap().clone();
    let before = photos().len();
    for (words, file) in [("crack at the root", &good), ("crack at the tip", &bad)] {
        browser.run("document.querySelectorAll('details').forEach((one) => { one.open = true; })");
        browser.run("document.querySelector('form[data-noun=defects] [name=subject]').selectedIndex = 1");
        browser.click("form[data-noun=defects] input[value=watch]");
        browser.fill("form[data-noun=defects] [name=text]", words);
        browser.fill("form[data-noun=defects] [name=photo]", file.to_str().unwrap());
        browser.click("form[data-noun=defects] button.main");
        browser.until(&format!(
            "[...document.querySelectorAll('.said')].some((one) => one.innerText.includes({words:?}))"
        ));
        wait_for_waiting(&browser, 0);
    }
    let known = photos();
    assert_eq!(known.len(), before + 1, "{known:?}");
    let photo = known.iter().find(|one| one["text"] == "crack at the root").unwrap();
    assert_eq!((photo["width_px"].as_u64(), photo["height_px"].as_u64()), (Some(768), Some(2048)));
    let defects = club.of("defects", "SG-01");
    let defect = |words: &str| defects.iter().find(|one| one["text"] == words).unwrap();
    assert_eq!(photo["defect"], defect("crack at the root")["id"]);
    // The defect is on record though its picture is none; that is said, and stays until it is taken away.
    assert_eq!(defect("crack at the tip")["severity"], "watch");
    browser.until("document.querySelector('#queue')?.innerText.includes('crack at the tip')");
    let kept = browser.run_async(
        "const done = arguments[arguments.length - 1];
         const open = indexedDB.open('preen-field');
         open.onsuccess = () => { const all = open.result.transaction('items').objectStore('items').getAll();
             all.onsuccess = () => done(all.result.map((one) => [one.state, one.noun, one.picture !== undefined])); };",
    );
    let kept = kept.as_array().unwrap();
    assert!(kept.contains(&json!(["done", "photos", false])), "a sent picture is not kept twice: {kept:?}");
    assert!(kept.contains(&json!(["refused", "photos", true])), "{kept:?}");
}
