//! The service in a process of its own: how it is started, what it says, how it ends.

use std::io::{BufRead as _, BufReader, Read as _};
use std::path::{Path, PathBuf};
use std::process::{Child, Command, ExitStatus, Stdio};
use std::sync::mpsc::{Receiver, channel};
use std::thread::JoinHandle;
use std::time::Duration;

use preen_api::db::conn::{Place, open};
use preen_api::db::migrate;
use preen_api::resources::setup;
use preen_tests::Database;
use preen_tests::http::Caller;
use preen_tests::world::{CLUB, new_id, scratch};
use serde_json::json;

/// Records of a club, in a folder for everything that goes with them.
pub struct Records {
    /// What `--database` says.
    pub database: String,
    /// The folder.
    pub folder: PathBuf,
    /// What `--photos` says.
    pub photos: PathBuf,
    /// What `--listen` says.
    pub listen: String,
}

impl Records {
    /// A database without tables.
    pub fn bare(database: Database) -> Self {
        let folder = scratch("preen-watched");
        let database = match database {
            Database::Sqlite => folder.join("preen.db").display().to_string(),
            Database::Postgres => preen_tests::cluster::new_database(),
        };
        let (photos, listen) = (folder.join("photos"), "127.0.0.1:0".to_owned());
        Self { database, folder, photos, listen }
    }

    /// A club, and the code for its first member.
    pub fn with_club(database: Database) -> (Self, String) {
        let records = Self::bare(database);
        let mut conn = open(&Place::from_url(&records.database)).unwrap();
        migrate::up(&mut conn).unwrap();
        let now = "2025-04-05T06:00:00Z".parse().unwrap();
        let zone = "Europe/London".parse().unwrap();
        let code = setup::store::create_club(&mut conn, CLUB, "A club", zone, now).unwrap();
        (records, code.expect("the club is new"))
    }

    /// Settings of a service on it.
    pub fn serve(&self) -> Command {
        let mut command = Command::new(std::env::current_exe().unwrap());
        command.args(["serve", "--database", &self.database, "--listen", &self.listen]);
        command.arg("--photos").arg(&self.photos);
        command
    }
}

impl Drop for Records {
    fn drop(&mut self) {
        let _ = std::fs::remove_dir_all(&self.folder);
    }
}

/// A service that runs.
pub struct Process {
    child: Child,
    /// A client of it.
    pub caller: Caller,
    /// The line with which it began to serve.
    pub said: String,
    log: Option<JoinHandle<String>>,
    /// Told once standard output has ended.
    over: Receiver<()>,
}

impl Process {
    /// Starts one and waits until it serves.
    pub fn start(mut command: Command) -> Self {
        let mut child = command.stdout(Stdio::piped()).stderr(Stdio::piped()).spawn().unwrap();
        let mut errors = child.stderr.take().unwrap();
        let log = std::thread::spawn(move || {
            let mut text = Vec::new();
            errors.read_to_end(&mut text).unwrap();
            String::from_utf8(text).unwrap()
        });
        let mut said = BufReader::new(child.stdout.take().unwrap());
        let mut line = String::new();
        said.read_line(&mut line).unwrap();
        let url = line.trim().rsplit(' ').next().unwrap_or_default().to_owned();
        if !url.starts_with("http") {
            panic!("the service said `{line}` and {}", log.join().unwrap());
        }
        let (sender, over) = channel();
        std::thread::spawn(move || {
            let _ = said.read_to_end(&mut Vec::new());
            let _ = sender.send(());
        });
        Self { child, caller: Caller::new(&url, ""), said: line, log: Some(log), over }
    }

    /// Begins the club with a first member who may do everything.
    pub fn begin(&mut self, code: &str) {
        let roles = json!(["pilot", "builder", "stores", "inspector", "keeper"]);
        let member = json!({ "id": new_id(), "tag": "AV", "roles": roles });
        let made =
            self.caller.post("/setup", &json!({ "club": CLUB, "code": code, "member": member })).expect(201);
        self.caller.token = made.json()["token"]["token"].as_str().unwrap().to_owned();
    }

    /// Sends it a signal by its name.
    pub fn signal(&self, name: &str) {
        let sent = Command::new("kill").args(["-s", name, &self.child.id().to_string()]).status().unwrap();
        assert!(sent.success());
    }

    /// Waits until it has ended, and says how and what it had logged.
    #[track_caller]
    pub fn wait(&mut self, within: Duration) -> (ExitStatus, String) {
        let over = self.over.recv_timeout(within);
        assert!(over.is_ok(), "it did not end within {within:?}");
        let status = self.child.wait().unwrap();
        (status, self.log.take().unwrap().join().unwrap())
    }
}

/// Nothing is left running where a check fails.
impl Drop for Process {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

/// Waits a little; nobody ever sends anything here.
pub fn pause(millis: u64) {
    let (_never, moment) = channel::<()>();
    let _passed = moment.recv_timeout(Duration::from_millis(millis));
}

/// Asks again and again until it holds, for some seconds.
#[track_caller]
pub fn until(what: &str, mut holds: impl FnMut() -> bool) {
    let begun = std::time::Instant::now();
    while !holds() {
        assert!(begun.elapsed() < Duration::from_secs(30), "{what} does not come");
        pause(20);
    }
}

/// A file that only its owner reads.
pub fn private_file(path: &Path, text: &str) {
    use std::os::unix::fs::PermissionsExt as _;
    std::fs::write(path, text).unwrap();
    std::fs::set_permissions(path, std::fs::Permissions::from_mode(0o600)).unwrap();
}
