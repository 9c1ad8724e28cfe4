//! A service in this process over a large club, for what is measured over HTTP on this machine.

use std::net::{SocketAddr, TcpListener};
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicU32, Ordering};

use actix_web::{App, HttpResponse, HttpServer, web};
use preen_api::db::conn::{Place, open};
use preen_api::db::door::{DoorError, Kept};
use preen_api::photos::place::PhotoPlace;
use preen_api::resources::setup::store::create_club;
use preen_api::server::{Config, Running, start_kept};
use preen_api::state::Clock;
use preen_api::tls::Shield;
use preen_api::watch::Upkeep;
use preen_domain::facts::{Fact, Noun};
use preen_tests::http::Caller;
use serde_json::json;

use crate::club::{self, Extent};

/// Short name of the club.
pub const CLUB: &str = "bench";
/// Facts recorded in one change while a club is loaded.
const AT_ONCE: usize = 1_000;

static FOLDERS: AtomicU32 = AtomicU32::new(0);

/// A folder that is gone when this is.
pub struct Folder(pub PathBuf);

impl Folder {
    /// Makes one.
    pub fn new() -> Self {
        let number = FOLDERS.fetch_add(1, Ordering::Relaxed);
        let path = std::env::temp_dir().join(format!("preen-bench-{}-{number}", std::process::id()));
        std::fs::create_dir_all(&path).unwrap();
        Self(path)
    }
}

impl Drop for Folder {
    fn drop(&mut self) {
        // What cannot be removed is left to the system.
        let _ = std::fs::remove_dir_all(&self.0);
    }
}

/// A running service with its clubs.
pub struct Served {
    /// The service.
    pub running: Running,
    /// Where its records are.
    pub place: Place,
    /// Tokens of its clubs, in their order.
    pub tokens: Vec<String>,
    folder: Option<Folder>,
}

/// How a service is to run.
#[derive(Clone, Copy, Debug)]
pub struct How {
    /// Threads that answer; absent: one for each core.
    pub workers: Option<usize>,
    /// Changes that share one COMMIT at most; absent: as many as usual.
    pub changes_a_commit: Option<usize>,
}

impl Served {
    /// Starts it on a file of its own, with one club of that size.
    pub fn start(extent: Extent, how: How) -> Self {
        let folder = Folder::new();
        let place = Place::File(folder.0.join("preen.db"));
        let mut served = Self::on(place, folder, how);
        served.begin_club(CLUB);
        served.record(CLUB, everything(extent));
        served
    }

    /// Starts it on records that are somewhere.
    pub fn on(place: Place, folder: Folder, how: How) -> Self {
        let running = run(&place, &folder.0, how);
        Self { running, place, tokens: Vec::new(), folder: Some(folder) }
    }

    /// Where it listens.
    pub fn address(&self) -> SocketAddr {
        self.running.address
    }

    /// The first token.
    pub fn token(&self) -> &str {
        &self.tokens[0]
    }

    /// Its folder.
    pub fn folder(&self) -> &Path {
        &self.folder.as_ref().expect("it has one until it is closed").0
    }

    /// Stops it and leaves its folder.
    pub fn close(mut self) -> Folder {
        self.folder.take().expect("it has one until it is closed")
    }

    /// Begins a club whose keeper is member 0.
    pub fn begin_club(&mut self, name: &str) {
        let zone = "Europe/London".parse().unwrap();
        let now = club::end();
        let code = create_club(&mut open(&self.place).unwrap(), name, "Bench", zone, now).unwrap().unwrap();
        let keeper = club::beginning(Extent { models: 0, usage: 0, checks: 0 }).into_iter().next().unwrap();
        let body = json!({ "club": name, "code": code, "member": keeper });
        let said = Caller::new(&self.running.url(), "").post("/setup", &body).expect(201).json();
        self.tokens.push(said["token"]["token"].as_str().unwrap().to_owned());
    }

    /// Puts facts on record through the door, many in one change; rules were obeyed when they were made.
    pub fn record(&self, name: &str, facts: impl Iterator<Item = Fact>) {
        let mut facts = facts.peekable();
        let door = &self.running.state.door;
        actix_web::rt::System::new().block_on(async {
            while facts.peek().is_some() {
                let parcel: Vec<Fact> = facts.by_ref().take(AT_ONCE).collect();
                door.write(name, club::member(0), move |change| -> Result<_, DoorError> {
                    for fact in parcel {
                        change.record("load", fact)?;
                    }
                    Ok(Kept::Recorded(()))
                })
                .await
                .unwrap();
            }
        });
    }
}

/// Everything of a club but the member with whom it began.
pub fn everything(extent: Extent) -> impl Iterator<Item = Fact> {
    let beginning = club::beginning(extent).into_iter();
    beginning
        .filter(|fact| fact.noun() != Noun::Members || fact.id() != club::member(0).0)
        .chain(club::usage(extent))
}

fn run(place: &Place, folder: &Path, how: How) -> Running {
    let config = Config {
        place: place.clone(),
        listen: "127.0.0.1:0".parse().unwrap(),
        clock: Clock::starting_at(club::end()),
        photos: Some(PhotoPlace::Folder(folder.join("photos"))),
        workers: Some(how.workers.unwrap_or_else(cores)),
        replica: None,
    };
    let upkeep = Upkeep { changes_a_commit: how.changes_a_commit, ..Upkeep::default() };
    start_kept(&config, &Shield::default(), upkeep).unwrap()
}

/// Cores of this machine.
pub fn cores() -> usize {
    std::thread::available_parallelism().map_or(1, usize::from)
}

/// The smallest thing that the same server can answer, on a port of its own.
pub struct Hello {
    /// Where it listens.
    pub address: SocketAddr,
    handle: actix_web::dev::ServerHandle,
    thread: Option<std::thread::JoinHandle<()>>,
}

impl Hello {
    /// Starts it.
    pub fn start(workers: usize) -> Self {
        let listener = TcpListener::bind("127.0.0.1:0").unwrap();
        let address = listener.local_addr().unwrap();
        let (send, receive) = std::sync::mpsc::channel();
        let thread = std::thread::spawn(move || {
            actix_web::rt::System::new().block_on(async move {
                let hello = || async { HttpResponse::Ok().json(json!({ "hello": "world" })) };
                let server = HttpServer::new(move || App::new().route("/", web::get().to(hello)));
                let server = server.workers(workers).disable_signals().listen(listener).unwrap().run();
                send.send(server.handle()).unwrap();
                server.await.unwrap();
            });
        });
        Self { address, handle: receive.recv().unwrap(), thread: Some(thread) }
    }
}

impl Drop for Hello {
    fn drop(&mut self) {
        drop(self.handle.stop(false));
        if let Some(thread) = self.thread.take() {
            let _ = thread.join();
        }
    }
}
