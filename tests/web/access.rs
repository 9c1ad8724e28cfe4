//! Signing in and out by hand.

use preen_tests::world::CLUB;

use crate::club::{DemoClub, Profile, fill_in};

pub fn signing_in_and_out(club: &DemoClub) {
    let profile = Profile::new();
    let browser = profile.browser();
    // Whoever is not signed in is led there, and back to where they wanted to go.
    browser.open(&club.at("/models/SG-01"));
    assert!(browser.url().contains("/sign-in?to=%2Fmodels%2FSG-01"), "{}", browser.url());
    fill_in(&browser, "AV", crate::club::PASSWORD);
    browser.until("location.pathname === '/models/SG-01'");
    assert_eq!(browser.text(".who .member"), "AV");
    browser.click(".who button");
    browser.until("location.pathname === '/sign-in'");
    browser.open(&club.at("/models/SG-01"));
    assert!(browser.url().contains("/sign-in"), "{}", browser.url());
}

pub fn a_wrong_password_is_told(club: &DemoClub) {
    let profile = Profile::new();
    let browser = profile.browser();
    browser.open(&club.at("/sign-in?to=/field"));
    fill_in(&browser, "AV", "not this one either");
    browser.until("document.getElementById('fault')");
    let kept = browser.run("return ['club', 'member', 'password', 'to'].map((name) => document.querySelector(`[name=${name}]`).value)");
    assert_eq!(kept, serde_json::json!([CLUB, "AV", "", "/field"]));
    fill_in(&browser, "AV", crate::club::PASSWORD);
    browser.until("location.pathname === '/field'");
}
