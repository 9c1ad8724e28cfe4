//! What pages ask for: nothing from elsewhere; and what the browser complains of: nothing.

use crate::club::{DemoClub, Profile};

const PAGES: &[&str] = &[
    "/",
    "/field",
    "/field/SG-01",
    "/field/SG-04",
    "/field/part/SV08-B011",
    "/models/SG-01",
    "/components/SV08-B011",
    "/password",
];

pub fn nothing_from_elsewhere(club: &DemoClub) {
    let profile = Profile::new();
    let browser = profile.browser();
    club.sign_in(&browser, "AV", "/");
    for page in PAGES {
        browser.open(&club.at(page));
        if page.starts_with("/field") {
            browser.until("document.documentElement.dataset.kept");
        }
        let complaints = browser.complaints();
        assert!(complaints.is_empty(), "{page}: {complaints:?}");
    }
    let own = club.link.url();
    let asked = browser.requests();
    assert!(asked.iter().any(|url| url.ends_with("/preen.css")), "{asked:?}");
    let foreign: Vec<&String> =
        asked.iter().filter(|url| !url.starts_with(&own)).filter(|url| !is_empty_page(url)).collect();
    assert!(foreign.is_empty(), "{foreign:?}");
}

/// What a new window shows before anything is opened in it.
fn is_empty_page(url: &str) -> bool {
    url.starts_with("data:") || url.starts_with("about:") || url.starts_with("chrome:")
}
