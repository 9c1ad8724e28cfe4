//! A club on a running service, with a clock the test sets.
//!
//! At the end of each test the world checks itself: the trail holds and knows every change, the Fleet in
//! memory is the one that a rebuild from nothing gives, and no transaction was left open.

use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::sync::atomic::{AtomicU64, Ordering};

use diesel::RunQueryDsl as _;
use preen_api::access::tokens::{TokenRow, tokens};
use preen_api::audit::rebuild::Until;
use preen_api::audit::verify::verify;
use preen_api::commands::taken_in::take_in;
use preen_api::db::conn::{Db, Place, open};
use preen_api::db::door::{Door, bring_up};
use preen_api::db::fitted;
use preen_api::photos::place::PhotoPlace;
use preen_api::resources::{nouns, setup};
use preen_api::server::{Config, Running, start_kept};
use preen_api::state::{Clock, Shared};
use preen_api::steady::SteadyClock;
use preen_api::tls::Shield;
use preen_api::watch::Upkeep;
use preen_domain::facts::Fact;
use preen_domain::ids::MemberId;
use preen_domain::time::Instant;
use serde_json::{Value, json};

use crate::cluster;
use crate::http::{Caller, Reply};
use crate::locality;

/// Which database a world stands on.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Database {
    /// A file in a temporary folder.
    Sqlite,
    /// A fresh database of the process's own server.
    Postgres,
}

/// What the clock of a new world shows.
pub const BEGINNING: &str = "2026-05-21T08:00:00Z";
/// The short name of its club.
pub const CLUB: &str = "quillmarsh";

static NUMBER: AtomicU64 = AtomicU64::new(1);

/// A new id, in the order of asking.
pub fn new_id() -> String {
    let number = NUMBER.fetch_add(1, Ordering::Relaxed);
    format!("01970a3c-5d00-7000-8000-{number:012x}")
}

/// A club on a running service.
pub struct World {
    /// The keeper `AV`, who holds every role but visitor and helper, with every scope.
    pub av: Caller,
    /// The clock of the service.
    pub clock: Clock,
    /// Where the records are.
    pub place: Place,
    /// Where its pictures are.
    pub photos: PhotoPlace,
    upkeep: Upkeep,
    running: Option<Running>,
    folder: PathBuf,
    /// The place that was made for it, whatever it serves by now.
    own: Place,
}

impl World {
    /// A new club with its first member.
    pub fn begin(database: Database) -> Self {
        Self::begin_with_photos(database, None)
    }

    /// The same on PostgreSQL tables in parts by club, on a server that tells the plan of each statement.
    pub fn in_parts() -> Self {
        let folder = scratch("preen-test");
        let mut world =
            Self::at(Place::from_url(&cluster::new_database_in_parts()), None, folder, |_place| {});
        world.admit_keeper();
        world
    }

    /// The same with the pictures of photos in another place.
    pub fn begin_with_photos(database: Database, photos: Option<PhotoPlace>) -> Self {
        let mut world = Self::empty(database, photos);
        world.admit_keeper();
        world
    }

    fn admit_keeper(&mut self) {
        let roles =
            json!(["pilot", "builder", "stores", "team_manager", "inspector", "safety_officer", "keeper"]);
        self.av.token = self.begin_club(CLUB, &json!({ "id": new_id(), "tag": "AV", "roles": roles }));
    }

    /// A service on records that are made beforehand, in a database without any table; nobody's token is shown.
    pub fn over(database: Database, make: impl FnOnce(&Place)) -> Self {
        Self::on(database, None, cluster::new_database, make)
    }

    /// A service without any club, for what is put into its database.
    pub fn nothing(database: Database) -> Self {
        Self::empty(database, None)
    }

    /// A service without any club.
    fn empty(database: Database, photos: Option<PhotoPlace>) -> Self {
        Self::on(database, photos, cluster::new_database_to_serve, |_place| {})
    }

    fn on(
        database: Database,
        photos: Option<PhotoPlace>,
        on_server: impl FnOnce() -> String,
        make: impl FnOnce(&Place),
    ) -> Self {
        let folder = scratch("preen-test");
        let place = match database {
            Database::Sqlite => Place::File(folder.join("preen.db")),
            Database::Postgres => Place::from_url(&on_server()),
        };
        Self::at(place, photos, folder, make)
    }

    fn at(place: Place, photos: Option<PhotoPlace>, folder: PathBuf, make: impl FnOnce(&Place)) -> Self {
        let clock = Clock::held_at(BEGINNING.parse().unwrap());
        let photos = photos.unwrap_or_else(|| PhotoPlace::Folder(folder.join("photos")));
        make(&place);
        let upkeep = Upkeep::default();
        let running = serve(&place, &photos, &clock, &upkeep);
        let av = Caller::new(&running.url(), "");
        Self { av, clock, own: place.clone(), place, photos, upkeep, running: Some(running), folder }
    }

    /// The demo club with every row of its tables, entered by its keeper; `av` is that keeper.
    pub fn demo(database: Database) -> Self {
        let tables = preen_api::demo::tables::read().unwrap();
        let keeper = tables.rows.iter().find(|row| preen_api::exchange::tables::is_keeper(&row.fact));
        let Some(Fact::Member(member)) = keeper.map(|row| &row.fact) else { panic!("nobody is keeper") };
        let mut world = Self::empty(database, None);
        world.av.token = world.begin_club(tables.club.short_name.as_str(), &json!(member));
        for row in &tables.rows {
            let reply = world.av.post(&format!("/{}", row.fact.noun()), &json!(row.fact));
            assert!(matches!(reply.status, 200 | 201), "{} line {}: {}", row.file, row.line, reply.text);
        }
        world
    }

    /// The archive of its club, as a file in the folder of this world.
    pub fn export(&self) -> PathBuf {
        let reply = self.av.get("/export").expect(200);
        let file = self.folder.join(format!("{}.zip", new_id()));
        std::fs::write(&file, reply.bytes).unwrap();
        file
    }

    /// A service on what an archive of this world gives, with this world's clock and access tokens.
    pub fn taken_over(&self, archive: &Path, database: Database, until: Until) -> Self {
        let mut world = Self::empty(database, None);
        let photos = world.photos.clone();
        take_in(archive, &world.place, &photos, until, self.clock.now()).unwrap();
        let mine: Vec<TokenRow> = tokens::table.load(&mut self.conn()).unwrap();
        for row in mine {
            diesel::insert_into(tokens::table).values(row).execute(&mut world.conn()).unwrap();
        }
        world.clock = self.clock.clone();
        world.av.token = self.av.token.clone();
        world.restart();
        world
    }

    /// This world's service on other records, with the clock and the keeper's token of another.
    pub fn serving(mut self, place: &Place, photos: &PhotoPlace, of: &Self) -> Self {
        (self.place, self.photos, self.clock) = (place.clone(), photos.clone(), of.clock.clone());
        self.av.token = of.av.token.clone();
        self.restart();
        self
    }

    /// What its service shares.
    pub fn state(&self) -> &Shared {
        &self.running.as_ref().expect("it runs").state
    }

    /// Where the service answers.
    pub fn url(&self) -> String {
        self.running.as_ref().map(Running::url).unwrap_or_default()
    }

    /// Makes one more club on the same service and returns the token of its first member.
    pub fn begin_club(&self, club: &str, member: &Value) -> String {
        let zone = "Europe/London".parse().unwrap();
        let code = setup::store::create_club(&mut self.conn(), club, "A club", zone, self.clock.now())
            .unwrap()
            .expect("the club is new");
        let done = self
            .av
            .with_token("")
            .post("/setup", &json!({ "club": club, "code": code, "member": member }))
            .expect(201)
            .json();
        done["token"]["token"].as_str().unwrap().to_owned()
    }

    /// A connection of the test's own.
    pub fn conn(&self) -> Db {
        match &self.place {
            Place::Server(url) => {
                open(&Place::Server(format!("{url}&application_name={}", locality::BY_TESTS))).unwrap()
            }
            Place::File(_) => open(&self.place).unwrap(),
        }
    }

    /// Another door to the same records, as a process beside the service has, and the first member to go through it.
    pub fn another_door(&self) -> (Arc<Door>, MemberId) {
        let by = items(self.av.get("/members"))[0]["id"].as_str().unwrap().parse().unwrap();
        let clock = SteadyClock::new(self.clock.clone(), None);
        (Arc::new(Door::open(&self.place, None, nouns::TABLES, clock, None).unwrap()), by)
    }

    /// Sets the clock.
    pub fn set_clock(&self, at: &str) {
        self.clock.set(at.parse::<Instant>().unwrap());
    }

    /// Stops the service and starts it anew on the same records.
    pub fn restart(&mut self) {
        if let Some(running) = self.running.take() {
            running.stop();
        }
        let running = serve(&self.place, &self.photos, &self.clock, &self.upkeep);
        self.av = Caller::new(&running.url(), &self.av.token);
        self.running = Some(running);
    }

    /// Starts the service anew with what it is to keep to.
    pub fn restart_with(&mut self, upkeep: Upkeep) {
        self.upkeep = upkeep;
        self.restart();
    }

    /// Admits a member and returns a caller with a token of theirs.
    pub fn member(&self, tag: &str, roles: &[&str], scopes: &[&str]) -> Caller {
        let id = new_id();
        self.av.post("/members", &json!({ "id": id, "tag": tag, "roles": roles })).expect(201);
        self.token_of(tag, scopes, None)
    }

    /// Makes a token for a member.
    pub fn token_of(&self, tag: &str, scopes: &[&str], expires_at: Option<&str>) -> Caller {
        let mut wanted = json!({ "id": new_id(), "member": tag, "label": "test", "scopes": scopes });
        if let Some(end) = expires_at {
            wanted["expires_at"] = json!(end);
        }
        let made = self.av.post("/tokens", &wanted).expect(201).json();
        self.av.with_token(made["token"].as_str().unwrap())
    }

    /// Adds an item, which must be accepted, and returns its id.
    #[track_caller]
    pub fn add(&self, noun: &str, mut body: Value) -> String {
        if body.get("id").is_none() {
            body["id"] = json!(new_id());
        }
        self.av.post(&format!("/{noun}"), &body).expect(201);
        body["id"].as_str().unwrap().to_owned()
    }

    /// A design with a centre panel that carries two flap servos, a fuselage and a receiver; a model of it
    /// that first flew on 2025-04-05; part types. Nothing is fitted yet.
    pub fn small_fleet(&self) {
        self.add("designs", design("SEDGE"));
        for (tag, kind) in [("SV08", "servo"), ("RX7", "receiver"), ("PANEL", "panel"), ("FUSE", "fuselage")]
        {
            self.add("parts", part(tag, kind));
        }
        self.add("models", model("SG-01", "AV"));
    }

    /// Adds a component of a part type.
    pub fn component(&self, tag: &str, part: &str) -> String {
        let mut body = json!({ "tag": tag, "part": part, "mass_g": 10.4, "state": "serviceable" });
        if part == "PANEL" || part == "FUSE" {
            body["seat"] = json!(part);
            body["design"] = json!("SEDGE");
        }
        self.add("components", body)
    }

    /// Fits a component.
    #[track_caller]
    pub fn fit(&self, component: &str, inside: Value, position: &str, at: &str) -> String {
        self.add(
            "installations",
            json!({ "component": component, "inside": inside, "position": position, "occurred_at": at }),
        )
    }

    /// The records as the trail and a rebuild see them must be what the service holds.
    pub fn check(&self) {
        if let Place::Server(url) = &self.place {
            cluster::statements_of_one_club(url);
        }
        let mut conn = self.conn();
        for club in setup::store::list_clubs(&mut conn).unwrap() {
            let verdict = verify(&mut conn, nouns::TABLES, &club).unwrap();
            assert_eq!(verdict.broken, None, "the trail of {club}");
            let rebuilt = bring_up(&mut conn, nouns::TABLES, &club, None, None).unwrap();
            assert_eq!(rebuilt.head, verdict.head, "the head of the trail of {club}");
            let fitted = fitted::stored(&mut conn, &club).unwrap();
            assert_eq!(fitted, fitted::expected(&club, &rebuilt.fleet), "what is fitted now in {club}");
            let held = self.running.as_ref().and_then(|running| running.state.door.in_memory(&club));
            if let Some(held) = held {
                assert_eq!(held.revision, rebuilt.revision, "the revision in memory of {club}");
                assert_eq!(held.head, rebuilt.head, "the head in memory of {club}");
                assert!(
                    *held.fleet == *rebuilt.fleet,
                    "the Fleet in memory of {club} is not the recorded one"
                );
            }
        }
        // A transaction left open would hold the lock that this one takes.
        conn.begin_write().unwrap();
        conn.roll_back().unwrap();
    }
}

impl Drop for World {
    fn drop(&mut self) {
        if !std::thread::panicking() {
            self.check();
        }
        drop(self.running.take());
        if let (Place::Server(url), false) = (&self.own, std::thread::panicking()) {
            cluster::drop_database(url);
        }
        let _ = std::fs::remove_dir_all(&self.folder);
    }
}

/// A new folder for the files of one test, in memory where the machine has such a place.
pub fn scratch(name: &str) -> PathBuf {
    let memory = Path::new("/dev/shm");
    let parent = if memory.is_dir() { memory.to_owned() } else { std::env::temp_dir() };
    let folder = parent.join(format!("{name}-{}", uuid::Uuid::now_v7().simple()));
    std::fs::create_dir_all(&folder).unwrap();
    folder
}

fn serve(place: &Place, photos: &PhotoPlace, clock: &Clock, upkeep: &Upkeep) -> Running {
    let config = Config {
        place: place.clone(),
        photos: Some(photos.clone()),
        listen: "127.0.0.1:0".parse().unwrap(),
        clock: clock.clone(),
        workers: Some(1),
        replica: None,
    };
    start_kept(&config, &Shield::default(), upkeep.clone()).unwrap()
}

/// The body of a design.
pub fn design(tag: &str) -> Value {
    let position = |path: &str, inside: Option<&str>, kind: &str, accepts: &str, seat: Option<&str>| {
        let mut position = json!({
            "path": path, "name": kind, "kind": kind, "accepts": accepts, "is_required": true,
            "x_mm": 62.0, "y_mm": 0.0, "z_mm": 0.0
        });
        if let Some(inside) = inside {
            position["inside"] = json!(inside);
        }
        if let Some(seat) = seat {
            position["seat"] = json!(seat);
        }
        position
    };
    json!({
        "tag": tag, "datum": "wing root leading edge", "class_use": "F5J",
        "span_m": 3.9, "wing_area_dm2": 70.89, "tail_area_dm2": 5.9, "mac_mm": 193.7,
        "mac_leading_edge_x_mm": 16.7, "cg_min_mm": 92.0, "cg_max_mm": 99.0, "nose_weight_x_mm": -335.0,
        "positions": [
            position("W.C", None, "centre panel", "panel", Some("PANEL")),
            position("F", None, "fuselage", "fuselage", Some("FUSE")),
            position("FS.L", Some("PANEL"), "flap servo", "servo", None),
            position("FS.R", Some("PANEL"), "flap servo", "servo", None),
            position("RX", Some("FUSE"), "receiver", "receiver", None),
        ]
    })
}

/// The body of a part type.
pub fn part(tag: &str, kind: &str) -> Value {
    json!({ "tag": tag, "kind": kind, "tracking": "serial", "nominal_mass_g": 10.4 })
}

/// The body of a model.
pub fn model(tag: &str, owner: &str) -> Value {
    json!({
        "tag": tag, "design": "SEDGE", "owner": owner, "ownership": "member", "first_flight_on": "2025-04-05"
    })
}

/// The body of a flight.
pub fn flight(model: &str, pilot: &str, at: &str) -> Value {
    json!({
        "id": new_id(), "model": model, "pilot": pilot, "occurred_at": at, "airtime_min": 6.5,
        "landing": "normal", "is_post_flight_logged": true
    })
}

/// The items of a list, which must be answered.
#[track_caller]
pub fn items(reply: Reply) -> Vec<Value> {
    reply.expect(200).json()["items"].as_array().unwrap().clone()
}

#[derive(diesel::QueryableByName)]
struct Line {
    #[diesel(sql_type = diesel::sql_types::Text)]
    line: String,
}

/// What a query finds in a column `line`.
pub fn lines(conn: &mut Db, query: &str) -> Vec<String> {
    let found: Vec<Line> = diesel::sql_query(query).load(conn).unwrap();
    found.into_iter().map(|found| found.line).collect()
}
