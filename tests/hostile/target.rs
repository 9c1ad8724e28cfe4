//! The service that is attacked: a process of its own with short limits, whose memory is measured from outside.

use std::io::{BufRead as _, BufReader};
use std::net::SocketAddr;
use std::process::{Child, Command, ExitCode, Stdio};
use std::time::{Duration, Instant};

use preen_api::db::conn::Place;
use preen_api::edge::lines::Limits;
use preen_api::photos::place::PhotoPlace;
use preen_api::server::{Config, start_kept};
use preen_api::state::Clock;
use preen_api::tls::Shield;
use preen_api::watch::Upkeep;
use preen_tests::http::Caller;
use preen_tests::{Database, World};

/// The command by which this program is the service: `WORD DATABASE PHOTOS`.
pub const WORD: &str = "be-service";
/// For the head of a first request.
pub const HEAD: Duration = Duration::from_secs(1);
/// For the next request on a line.
pub const IDLE: Duration = Duration::from_secs(2);
/// For the next piece of an answer.
pub const STALLED: Duration = Duration::from_secs(2);
/// For a body that does not keep its pace.
pub const BODY: Duration = Duration::from_secs(2);
/// Lines of one address.
pub const LINES: usize = 64;
/// What an honest request may take meanwhile, of a test build on a busy machine.
pub const AT_ONCE: Duration = Duration::from_secs(3);
/// What comes on top of each limit: rounds of sweeping, a busy machine.
pub const SLACK: Duration = Duration::from_secs(6);
/// How much the process may ever have grown beyond what it took before the attack.
const GROWTH_KIB: u64 = 192 << 10;

/// Serves until it is ended.
pub fn be_service() -> ExitCode {
    let given: Vec<String> = std::env::args().skip(2).collect();
    let config = Config {
        place: Place::from_url(&given[0]),
        photos: Some(PhotoPlace::Folder(given[1].clone().into())),
        listen: "127.0.0.1:0".parse().unwrap(),
        clock: Clock::held_at(preen_tests::world::BEGINNING.parse().unwrap()),
        workers: Some(1),
        replica: None,
    };
    let lines = Limits {
        head: HEAD,
        idle: IDLE,
        stalled: STALLED,
        body: BODY,
        most_of_one: LINES,
        ..Limits::default()
    };
    let running = start_kept(&config, &Shield::default(), Upkeep { lines, ..Upkeep::default() }).unwrap();
    println!("{}", running.url());
    // Ends with the one who started it.
    let _ = std::io::stdin().lock().read_line(&mut String::new());
    running.stop();
    ExitCode::SUCCESS
}

/// A club on a service that is attacked.
pub struct Target {
    child: Child,
    world: World,
    /// Where it answers.
    pub address: SocketAddr,
    /// An honest client with the keeper's token.
    pub caller: Caller,
    before_kib: u64,
}

impl Target {
    /// A small club.
    pub fn begin() -> Self {
        let world = World::begin(Database::Sqlite);
        world.small_fleet();
        let (Place::File(file), PhotoPlace::Folder(photos)) = (&world.place, &world.photos) else {
            panic!("an embedded database and a folder")
        };
        let mut child = Command::new(std::env::current_exe().unwrap())
            .arg(WORD)
            .args([file, photos])
            .stdin(Stdio::piped())
            .stdout(Stdio::piped())
            .spawn()
            .unwrap();
        let mut line = String::new();
        BufReader::new(child.stdout.take().unwrap()).read_line(&mut line).unwrap();
        let url = line.trim();
        let address = url.trim_start_matches("http://").parse().unwrap_or_else(|_| panic!("it said {line}"));
        let caller = Caller::new(url, &world.av.token);
        let mut target = Self { child, world, address, caller, before_kib: 0 };
        // What any use of it takes once.
        for path in ["/club", "/may-fly", "/models/SG-01/sheet.pdf", "/openapi.json", "/parts"] {
            target.caller.get(path);
        }
        target.before_kib = target.peak_kib();
        target
    }

    /// The most memory that the process ever had, KiB.
    pub fn peak_kib(&self) -> u64 {
        let told = std::fs::read_to_string(format!("/proc/{}/status", self.child.id())).unwrap();
        let line = told.lines().find_map(|line| line.strip_prefix("VmHWM:")).unwrap();
        line.split_whitespace().next().unwrap().parse().unwrap()
    }

    /// An honest request, by a line of its own, which must be answered at once.
    #[track_caller]
    pub fn is_well(&self) -> Duration {
        let began = Instant::now();
        Caller::new(self.caller.base(), &self.caller.token).get("/club").expect(200);
        let took = began.elapsed();
        assert!(took < AT_ONCE, "an honest request took {took:?}");
        took
    }

    /// Ends it, and looks whether it kept within its memory and the record holds.
    pub fn end(mut self) -> String {
        self.is_well();
        let grown = self.peak_kib().saturating_sub(self.before_kib);
        assert!(grown < GROWTH_KIB, "the process grew by {grown} KiB");
        let peak = self.peak_kib();
        drop(self.child.stdin.take());
        assert!(self.child.wait().unwrap().success(), "it did not end well");
        // Its own service has seen nothing of all this.
        self.world.restart();
        format!("peak {} MiB, {} MiB by the attack", peak >> 10, grown >> 10)
    }
}
