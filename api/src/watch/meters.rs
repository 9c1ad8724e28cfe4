//! What is counted of requests and backups. What the door counts is its own business (`db/meters.rs`).
//!
//! A request is counted under the template of its route, never under its path, so that there are as many lines as
//! there are routes, whatever is asked.

use std::time::Duration;

use actix_web::http::Method;
use prometheus_client::encoding::EncodeLabelSet;
use prometheus_client::metrics::counter::Counter;
use prometheus_client::metrics::family::Family;
use prometheus_client::metrics::gauge::Gauge;
use prometheus_client::metrics::histogram::Histogram;
use prometheus_client::registry::{Registry, Unit};

/// Under which route everything is counted that fits none.
pub const NO_ROUTE: &str = "none";

/// Upper ends of the buckets for the time until an answer begins, s.
const ANSWER_S: [f64; 10] = [0.001, 0.0025, 0.005, 0.01, 0.025, 0.1, 0.25, 1.0, 2.5, 10.0];

/// One operation.
#[derive(Clone, Debug, PartialEq, Eq, Hash, EncodeLabelSet)]
struct Operation {
    method: &'static str,
    route: String,
}

/// One operation and how it ended.
#[derive(Clone, Debug, PartialEq, Eq, Hash, EncodeLabelSet)]
struct Ended {
    method: &'static str,
    route: String,
    status: &'static str,
}

/// What is counted of backups.
#[derive(Clone, Debug, Default)]
pub struct BackupMeters {
    last_good_s: Gauge,
    made: Counter,
    failed: Counter,
}

impl BackupMeters {
    /// A good backup is there, made at this moment (s since 1970).
    pub fn found(&self, at_s: i64) {
        self.last_good_s.set(at_s);
    }

    /// One was made.
    pub fn made(&self, at_s: i64) {
        self.found(at_s);
        self.made.inc();
    }

    /// One was to be made and was not.
    pub fn failed(&self) {
        self.failed.inc();
    }
}

/// What is counted of one running service.
pub struct Meters {
    started_s: Gauge,
    requests: Family<Ended, Counter>,
    times: Family<Operation, Histogram, fn() -> Histogram>,
    in_flight: Gauge,
    /// Backups that the service makes by itself.
    pub backups: BackupMeters,
}

fn times() -> Histogram {
    Histogram::new(ANSWER_S)
}

impl Meters {
    /// Of a service that starts at this moment (s since 1970).
    #[must_use]
    pub fn new(started_s: i64) -> Self {
        let meters = Self {
            started_s: Gauge::default(),
            requests: Family::default(),
            times: Family::new_with_constructor(times),
            in_flight: Gauge::default(),
            backups: BackupMeters::default(),
        };
        meters.started_s.set(started_s);
        meters
    }

    /// A request came in.
    pub fn begin(&self) {
        self.in_flight.inc();
    }

    /// Its answer was sent, or nobody waits for it any more.
    pub fn end(&self) {
        self.in_flight.dec();
    }

    /// Requests that are not answered yet.
    #[must_use]
    pub fn in_flight(&self) -> i64 {
        self.in_flight.get()
    }

    /// It is known how a request ends; `None` where whoever asked has gone before.
    pub fn ended(&self, method: &'static str, route: &str, status: Option<u16>, took: Duration) {
        let route = route.to_owned();
        self.times.get_or_create(&Operation { method, route: route.clone() }).observe(took.as_secs_f64());
        self.requests.get_or_create(&Ended { method, route, status: class_of(status) }).inc();
    }

    /// Puts all of it among the numbers that are shown.
    pub fn show(&self, numbers: &mut Registry) {
        let seconds = || Unit::Seconds;
        numbers.register_with_unit(
            "started_timestamp",
            "When the service started, since 1970",
            seconds(),
            self.started_s.clone(),
        );
        numbers.register(
            "requests",
            "Requests answered, by operation and class of status",
            self.requests.clone(),
        );
        numbers.register_with_unit(
            "request_duration",
            "Time until an answer began, by operation",
            seconds(),
            self.times.clone(),
        );
        numbers.register("requests_in_flight", "Requests not answered yet", self.in_flight.clone());
        let backups = &self.backups;
        numbers.register_with_unit(
            "backup_last_good_timestamp",
            "When the newest good backup was made, since 1970; 0 if the service knows of none",
            seconds(),
            backups.last_good_s.clone(),
        );
        numbers.register("backups_made", "Backups made by the service", backups.made.clone());
        numbers.register("backups_failed", "Backups that the service could not make", backups.failed.clone());
    }
}

/// The class of a status.
const fn class_of(status: Option<u16>) -> &'static str {
    match status {
        Some(100..=199) => "1xx",
        Some(200..=299) => "2xx",
        Some(300..=399) => "3xx",
        Some(400..=499) => "4xx",
        Some(_) => "5xx",
        None => "gone",
    }
}

/// A method by its name, if it is one that the service knows.
#[must_use]
pub fn name_of(method: &Method) -> &'static str {
    ["GET", "HEAD", "POST", "PUT", "DELETE", "OPTIONS", "PATCH"]
        .into_iter()
        .find(|known| *known == method.as_str())
        .unwrap_or("other")
}
