//! The service that is attacked: a process of its own with short limits, whose memory is measured from outside.

use std::io::{BufRead as _, BufReader};
use std::net::SocketAddr;
use std::path::{Path, PathBuf};
use std::process::{Child, Command, ExitCode, Stdio};
use std::time::{Duration, Instant};

use preen_api::db::conn::Place;
use preen_api::edge::lines::Limits;
use preen_api::photos::place::PhotoPlace;
use preen_api::server::{Config, start_kept};
use preen_api::state::Clock;
use preen_api::tls::{Shield, TlsFiles};
use preen_api::watch::Upkeep;
use preen_tests::http::Caller;
use preen_tests::{Database, World};

/// The command by which this program is the service: `WORD DATABASE PHOTOS`, and any word more where it encrypts.
pub const WORD: &str = "be-service";
/// Files of the encryption, beside the folder of photos.
const CERT: &str = "cert.pem";
const KEY: &str = "key.pem";
/// For the head of a first request: a worker that comes back to an honest one after that tells it 408.
pub const HEAD: Duration = AT_ONCE;
/// For the next request on a line.
pub const IDLE: Duration = Duration::from_secs(3);
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
    let file = |name: &str| Path::new(&given[1]).with_file_name(name);
    let tls = TlsFiles { cert: file(CERT), key: file(KEY) };
    let shield = Shield { tls: given.get(2).is_some().then_some(tls), is_behind_proxy: false };
    let running = start_kept(&config, &shield, Upkeep { lines, ..Upkeep::default() }).unwrap();
    println!("{}", running.url());
    // Ends with the one who started it.
    let _ = std::io::stdin().lock().read_line(&mut String::new());
    running.stop();
    ExitCode::SUCCESS
}

/// A client with a line of its own.
fn caller_of(url: &str, token: &str, cert: Option<&Path>) -> Caller {
    match cert {
        Some(cert) => Caller::trusting(url, token, &std::fs::read(cert).unwrap()),
        None => Caller::new(url, token),
    }
}

/// Makes a certificate that vouches for itself beside a folder, and its key.
fn certificate(beside: &Path) -> PathBuf {
    let names = vec!["localhost".to_owned(), "127.0.0.1".to_owned()];
    let made = rcgen::generate_simple_self_signed(names).unwrap();
    let (cert, key) = (beside.with_file_name(CERT), beside.with_file_name(KEY));
    std::fs::write(&cert, made.cert.pem()).unwrap();
    std::fs::write(key, made.signing_key.serialize_pem()).unwrap();
    cert
}

/// A club on a service that is attacked.
pub struct Target {
    child: Child,
    world: World,
    /// Where it answers.
    pub address: SocketAddr,
    /// Its certificate, where it encrypts.
    pub cert: Option<PathBuf>,
    /// An honest client with the keeper's token.
    pub caller: Caller,
    before_kib: u64,
}

impl Target {
    /// A small club.
    pub fn begin() -> Self {
        Self::begin_as(false)
    }

    /// The same behind encryption.
    pub fn begin_shielded() -> Self {
        Self::begin_as(true)
    }

    fn begin_as(is_shielded: bool) -> Self {
        let world = World::begin(Database::Sqlite);
        world.small_fleet();
        let (Place::File(file), PhotoPlace::Folder(photos)) = (&world.place, &world.photos) else {
            panic!("an embedded database and a folder")
        };
        let cert = is_shielded.then(|| certificate(photos));
        let mut child = Command::new(std::env::current_exe().unwrap())
            .arg(WORD)
            .args([file, photos])
            .args(is_shielded.then_some("encrypted"))
            .stdin(Stdio::piped())
            .stdout(Stdio::piped())
            .spawn()
            .unwrap();
        let mut line = String::new();
        BufReader::new(child.stdout.take().unwrap()).read_line(&mut line).unwrap();
        let url = line.trim();
        let address = url.rsplit('/').next().and_then(|address| address.parse().ok());
        let address = address.unwrap_or_else(|| panic!("it said {line}"));
        let caller = caller_of(url, &world.av.token, cert.as_deref());
        let mut target = Self { child, world, address, cert, caller, before_kib: 0 };
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
        let (base, token) = (self.caller.base(), &self.caller.token);
        caller_of(base, token, self.cert.as_deref()).get("/club").expect(200);
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
