//! The test harness: real servers on free ports over real databases, and factories through the API.
//!
//! * [`cluster`]: a private PostgreSQL server for the test process.
//! * [`locality`]: whether statements stay with one club.
//! * [`pair`]: a primary and its streaming replica.
//! * [`world`]: a club on a running service, with a clock the test sets and checks at its end.
//! * [`http`]: requests and what came back; every answer is held against the [`description`].
//! * [`browser`], [`link`]: a real browser, and a radio link to the service that can be cut.
//! * [`copied`]: what a copy of the feed answers.
//! * [`everything`]: all answers of a service, to be compared.
//! * [`exposition`]: the numbers of a service, read strictly.
//! * [`demo_fleet`]: the Fleet of the demo tables, without a service.
//! * [`process`]: a service in a process of its own. [`command_line`]: a test program as `preen`.
//! * [`runner`]: the tests of a program that brings its own `main`. [`waiting`]: for something, or for time to pass.

pub mod browser;
pub mod cluster;
pub mod command_line;
pub mod copied;
pub mod demo_fleet;
pub mod description;
pub mod everything;
pub mod exposition;
pub mod http;
pub mod link;
pub mod locality;
pub mod pair;
pub mod process;
pub mod runner;
pub mod waiting;
pub mod world;

pub use http::Reply;
pub use world::{Database, World};

/// Runs a test on embedded SQLite and on PostgreSQL, as two tests of a module of its name.
#[macro_export]
macro_rules! on_both {
    ($(#[$meta:meta])* $name:ident, $body:expr) => {
        $(#[$meta])*
        mod $name {
            #[allow(unused_imports)]
            use super::*;

            #[test]
            fn on_sqlite() {
                let body: fn(&$crate::World) = $body;
                body(&$crate::World::begin($crate::Database::Sqlite));
            }

            #[test]
            fn on_postgres() {
                let body: fn(&$crate::World) = $body;
                body(&$crate::World::begin($crate::Database::Postgres));
            }
        }
    };
}
