//! The demo club on a running service, reached over a link that can be cut; what is on record of a model.

use std::path::PathBuf;

use preen_tests::browser::Browser;
use preen_tests::link::Link;
use preen_tests::world::{CLUB, items, scratch};
use preen_tests::{Database, World};
use serde_json::{Value, json};

/// The password of every member here.
pub const PASSWORD: &str = "thermal over the quarry";

/// The club, and how a phone reaches it.
pub struct DemoClub {
    pub world: World,
    pub link: Link,
}

/// A folder for what a browser keeps, gone with it.
pub struct Profile(pub PathBuf);

impl Profile {
    pub fn new() -> Self {
        Self(scratch("preen-browser"))
    }

    pub fn browser(&self) -> Browser {
        Browser::start(&self.0)
    }
}

impl Drop for Profile {
    fn drop(&mut self) {
        let _ = std::fs::remove_dir_all(&self.0);
    }
}

impl DemoClub {
    pub fn begin() -> Self {
        let world = World::demo(Database::Sqlite);
        let link = Link::to(&world.url());
        let club = Self { world, link };
        for member in ["AV", "BK", "CM", "HT"] {
            club.set_password(member);
        }
        club
    }

    /// Sets a member's password; every session of theirs ends.
    pub fn set_password(&self, member: &str) {
        let own = self.world.token_of(member, &["read", "write"], None);
        own.put(&format!("/members/{member}/password"), None, &json!({ "new_password": PASSWORD }))
            .expect(200);
    }

    /// Where a page is.
    pub fn at(&self, path: &str) -> String {
        format!("{}{path}", self.link.url())
    }

    /// Signs in, to a page.
    pub fn sign_in(&self, browser: &Browser, member: &str, to: &str) {
        browser.open(&self.at(&format!("/sign-in?to={to}")));
        fill_in(browser, member, PASSWORD);
        browser.until(&format!("location.pathname === {to:?} && document.readyState === 'complete'"));
    }

    /// Opens a field page and waits until its script is at work.
    pub fn open_field(&self, browser: &Browser, path: &str) {
        browser.open(&self.at(path));
        browser.until("document.documentElement.dataset.field === 'ready'");
    }

    /// Flights of a model on record since a moment, the oldest first.
    pub fn flights(&self, model: &str, since: &str) -> Vec<Value> {
        self.of("flights", model).into_iter().filter(|one| at(one) >= since).collect()
    }

    /// Everything of a noun on record for a model, the oldest first.
    pub fn of(&self, noun: &str, model: &str) -> Vec<Value> {
        let mut found = items(self.world.av.get(&format!("/{noun}?model={model}&limit=500")));
        found.sort_by(|a, b| at(a).cmp(at(b)));
        found
    }

    /// The revision of the club.
    pub fn revision(&self) -> i64 {
        self.world.av.get("/may-fly").expect(200).json()["revision"].as_i64().unwrap()
    }

    /// Id of a member.
    pub fn member(&self, tag: &str) -> Value {
        self.world.av.get(&format!("/members/{tag}")).expect(200).json()["id"].clone()
    }
}

/// When something happened, as it is on record.
pub fn at(fact: &Value) -> &str {
    fact["occurred_at"].as_str().unwrap()
}

/// Fills in the form for signing in and sends it.
pub fn fill_in(browser: &Browser, member: &str, password: &str) {
    browser.run("document.querySelector('[name=club]').value = ''; document.querySelector('[name=member]').value = ''");
    browser.fill("[name=club]", CLUB);
    browser.fill("[name=member]", member);
    browser.fill("[name=password]", password);
    browser.click("form button");
}

/// Logs a flight on the card that is open, landed at a time by the club's clock.
pub fn log_flight(browser: &Browser, landing: &str, landed_at: &str) {
    browser.click(&format!("#flights input[value={landing}]"));
    browser.run(&format!("document.querySelector('[name=landed_at]').value = {landed_at:?}"));
    browser.click("#flights button.main");
}

/// How much waits on the device, once it is this much.
pub fn wait_for_waiting(browser: &Browser, count: usize) {
    browser.until(&format!("document.getElementById('queue').dataset.waiting === '{count}'"));
}
