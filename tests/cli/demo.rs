//! The demo club, served with a clock that stands still: shared by all that only read, or one's own to change.

use std::path::PathBuf;
use std::sync::OnceLock;

use preen_api::db::conn::{Place, open};
use preen_api::db::migrate;
use preen_api::demo::access::Tokens;
use preen_api::demo::load::load;
use preen_api::demo::progress::Progress;
use preen_api::demo::rest::Rest;
use preen_api::demo::tables;
use preen_api::resources::setup::store::create_club;
use preen_api::server::{Config, Running, start};
use preen_api::state::Clock;
use preen_domain::facts::Fact;
use preen_domain::words::Role;
use serde_json::json;

use crate::preen::Preen;

/// The demo club on a running service.
pub struct Demo {
    /// Its clock, at Thursday 2026-05-21, 08:00 UTC.
    pub clock: Clock,
    tokens: Tokens,
    running: Running,
    folder: PathBuf,
}

impl Demo {
    /// The one that nobody changes.
    pub fn shared() -> &'static Self {
        static SHARED: OnceLock<Demo> = OnceLock::new();
        SHARED.get_or_init(Self::own)
    }

    /// One that several change, each its own models.
    pub fn changed() -> &'static Self {
        static CHANGED: OnceLock<Demo> = OnceLock::new();
        CHANGED.get_or_init(Self::own)
    }

    /// One to change alone.
    pub fn own() -> Self {
        let club = tables::read().unwrap();
        let folder = std::env::temp_dir().join(format!("preen-cli-{}", uuid::Uuid::now_v7().simple()));
        std::fs::create_dir_all(&folder).unwrap();
        let place = Place::File(folder.join("demo.db"));
        let clock = Clock::held_at("2026-05-21T08:00:00Z".parse().unwrap());
        let mut conn = open(&place).unwrap();
        migrate::up(&mut conn).unwrap();
        let short = club.club.short_name.as_str();
        let code = create_club(&mut conn, short, &club.club.title, club.club.time_zone, clock.now()).unwrap();
        drop(conn);
        let listen = "127.0.0.1:0".parse().unwrap();
        let config =
            Config { place, listen, clock: clock.clone(), photos: None, workers: Some(1), replica: None };
        let running = start(&config).unwrap();
        let keeper = club.rows.iter().find_map(|row| match &row.fact {
            Fact::Member(member) if member.roles.contains(&Role::Keeper) => Some(member.clone()),
            _ => None,
        });
        let tokens = actix_web::rt::System::new().block_on(async {
            let rest = Rest::new(&running.url(), "");
            let begun = rest
                .post(
                    "setup",
                    &json!({ "club": club.club.short_name, "code": code, "member": keeper.unwrap() }),
                )
                .await
                .unwrap();
            let rest = rest.with_token(begun["token"]["token"].as_str().unwrap());
            load(&rest, &club.rows, &Progress::new("loading", club.rows.len())).await.unwrap();
            Tokens::make(&rest, &club.rows).await.unwrap()
        });
        Self { clock, tokens, running, folder }
    }

    /// Where it listens.
    pub fn url(&self) -> String {
        self.running.url()
    }

    /// The token of a member.
    pub fn token(&self, member: &str) -> &str {
        self.tokens.of(member).unwrap()
    }

    /// The program as a member runs it.
    pub fn preen(&self, member: &str) -> Preen {
        Preen::at(&self.url(), self.token(member))
    }
}

impl Drop for Demo {
    fn drop(&mut self) {
        let _ = std::fs::remove_dir_all(&self.folder);
    }
}
