//! Pages that everybody can use: WCAG 2.2 AA by an independent checker (axe-core) in light and dark, nothing wider than
//! 320 px, nothing that shifts, little to transfer, and the whole of a page within reach of the keyboard.

use std::path::PathBuf;

use preen_tests::browser::Browser;
use serde_json::{Value, json};

use crate::club::{DemoClub, Profile};

/// Every page there is, on the demo club, with something on it.
pub const PAGES: &[&str] = &[
    "/",
    "/?state=grounded",
    "/models/SG-03",
    "/models/SG-02",
    "/components/JN-SG-01-L",
    "/components/SV08-B011",
    "/models/SG-03/swap?path=W.C/FS.L&on_part=SV08-C004&reason=over_limit",
    "/models/SG-03/checks",
    "/models/SG-03/checks/PF",
    "/models/SG-03/balance",
    "/models/SG-03/repair?component=JN-SG-03-R",
    "/repairs/RE-014",
    "/findings",
    "/shelf",
    "/campaigns",
    "/campaigns/CA-2026-1",
    "/campaigns/CA-2026-1/close",
    "/contests",
    "/contests/CT-2026-1",
    "/contests/CT-2026-1/plan?models=SG-01",
    "/questions",
    "/bench/linkage",
    "/club",
    "/password",
    "/sign-in",
    "/field",
    "/field/SG-01",
    "/field/part/SV08-B011",
];

/// Bytes that a page may transfer, photos apart.
const MOST_BYTES: f64 = 100_000.0;

const ASKED: &str = "
    const done = arguments[arguments.length - 1];
    const tags = ['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa', 'wcag22aa'];
    axe.run(document, { runOnly: { type: 'tag', values: tags } }).then((found) => done({
        passed: found.passes.length,
        broken: found.violations.map((rule) => `${rule.id}: ${rule.nodes.map((node) => node.html).join(' ')}`),
    }), (fault) => done({ passed: 0, broken: [String(fault)] }));";

/// The checker, as `.ci/tools` has put it there.
fn checker() -> String {
    let venv = PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("../target/page-checker/lib");
    let versions = std::fs::read_dir(&venv).expect("run .ci/tools: it fetches the checker of pages");
    let found = versions
        .filter_map(Result::ok)
        .map(|version| version.path().join("site-packages/axe_playwright_python/axe.min.js"))
        .find(|path| path.exists());
    std::fs::read_to_string(found.expect("the checker is in its place")).unwrap()
}

fn show(browser: &Browser, scheme: &str, width: u32) {
    let features = json!([{ "name": "prefers-color-scheme", "value": scheme }]);
    browser.tell("Emulation.setEmulatedMedia", &json!({ "features": features }));
    let size = json!({ "width": width, "height": 700, "deviceScaleFactor": 1, "mobile": width < 500 });
    browser.tell("Emulation.setDeviceMetricsOverride", &size);
}

pub fn the_checker_finds_nothing(club: &DemoClub) {
    let profile = Profile::new();
    let browser = profile.browser();
    let checker = checker();
    club.sign_in(&browser, "AV", "/");
    let mut broken = Vec::new();
    for page in PAGES {
        for (scheme, width) in [("light", 320), ("dark", 1100)] {
            show(&browser, scheme, width);
            browser.open(&club.at(page));
            browser.run(&checker);
            let found = browser.run_async(ASKED);
            assert!(found["passed"].as_u64().unwrap() > 5, "{page}: the checker looked at nothing: {found}");
            let list = found["broken"].as_array().unwrap().iter();
            broken.extend(list.map(|rule| format!("{page} ({scheme}, {width} px): {rule}")));
        }
    }
    assert!(broken.is_empty(), "{}", broken.join("\n"));
}

pub fn pages_fit_a_narrow_screen_and_stay_small(club: &DemoClub) {
    let profile = Profile::new();
    let browser = profile.browser();
    club.sign_in(&browser, "AV", "/");
    show(&browser, "light", 320);
    browser.tell("Network.setCacheDisabled", &json!({ "cacheDisabled": true }));
    for page in PAGES {
        browser.open(&club.at(page));
        let told = browser.run(
            "const loads = performance.getEntriesByType('resource').concat(performance.getEntriesByType('navigation'));
             return { wide: document.documentElement.scrollWidth,
                      bytes: loads.reduce((sum, one) => sum + one.encodedBodySize, 0) }",
        );
        assert!(told["wide"].as_f64().unwrap() <= 320.0, "{page} is {} px wide", told["wide"]);
        let bytes = told["bytes"].as_f64().unwrap();
        assert!(bytes > 500.0 && bytes <= MOST_BYTES, "{page} transfers {bytes} bytes");
    }
}

pub fn nothing_shifts_when_a_page_has_come(club: &DemoClub) {
    let profile = Profile::new();
    let browser = profile.browser();
    club.sign_in(&browser, "AV", "/");
    for page in ["/", "/models/SG-03", "/field", "/field/SG-01", "/contests/CT-2026-1"] {
        browser.open(&club.at(page));
        if page.starts_with("/field") {
            browser.until("document.documentElement.dataset.kept");
        }
        let shifted = browser.run_async(
            "const done = arguments[arguments.length - 1];
             let sum = 0;
             new PerformanceObserver((list) => { for (const one of list.getEntries()) sum += one.value; })
                 .observe({ type: 'layout-shift', buffered: true });
             requestAnimationFrame(() => requestAnimationFrame(() => done(sum)));",
        );
        // The mark of the web's own measure for a page that does not shift is 0.1.
        assert!(shifted.as_f64().unwrap() <= 0.02, "{page} shifts by {shifted}");
    }
}

/// What the Tab key reaches on a page, one after another.
fn reached(browser: &Browser, presses: usize) -> Vec<Value> {
    let mut list = Vec::new();
    for _ in 0..presses {
        browser.press_tab();
        list.push(browser.run(
            "const at = document.activeElement; const box = at.getBoundingClientRect();
             const style = getComputedStyle(at);
             return [at.tagName, at.innerText || at.name || '', style.outlineStyle !== 'none', box.width > 0]",
        ));
    }
    list
}

pub fn the_keyboard_reaches_everything(club: &DemoClub) {
    let profile = Profile::new();
    let browser = profile.browser();
    club.sign_in(&browser, "AV", "/models/SG-03");
    browser.open(&club.at("/models/SG-03"));
    let count = browser.run(
        "return document.querySelectorAll('main a[href], main button, main input, main select, main summary, main [tabindex]').length",
    );
    let count = usize::try_from(count.as_u64().unwrap()).unwrap();
    assert!(count > 20, "{count}");
    let list = reached(&browser, count + 12);
    assert_eq!(list[0][1], "To the content", "the first press offers to skip the bar");
    assert!(list.iter().all(|one| one[2] == true || one[0] == "BODY"), "focus is seen everywhere: {list:?}");
    for wanted in ["At the field", "Exchange parts", "JN-SG-03-R", "N25"] {
        assert!(list.iter().any(|one| one[1] == wanted), "{wanted} is never reached");
    }
}
