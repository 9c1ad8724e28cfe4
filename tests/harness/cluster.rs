//! A private PostgreSQL server: made in a temporary folder, reached by a socket in it, gone with the process.
//!
//! A small shell waits for the end of the test process (its input closes), stops the server and removes the
//! folder. The server refuses to run as root, so root runs it as the user `postgres` or `nobody`.

use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::sync::{Mutex, OnceLock};

use diesel::connection::SimpleConnection;
use diesel::{Connection, PgConnection};
use preen_api::db::conn::{Place, open};
use preen_api::db::{migrate, partition};

use crate::locality;

/// Who owns its databases.
const USER: &str = "preen";

pub(crate) struct Cluster {
    folder: PathBuf,
    /// User and group of the server, where they are not ours.
    owner: Option<(u32, u32)>,
    /// Beside the socket, where it also listens on this machine.
    port: Option<u16>,
    _watch: Child,
}

static CLUSTER: OnceLock<Cluster> = OnceLock::new();
static ENCRYPTED: OnceLock<Cluster> = OnceLock::new();
static NARROW: OnceLock<Cluster> = OnceLock::new();
static IN_PARTS: OnceLock<Cluster> = OnceLock::new();
static MAKING: Mutex<u32> = Mutex::new(0);

/// Makes an empty database in the cluster and returns its URL.
pub fn new_database() -> String {
    CLUSTER.get_or_init(|| Cluster::start(None, 16)).make_database("")
}

/// Makes a database for a service and returns its URL. Where `PREEN_PARTITIONS` is set its tables are there, in parts by
/// club.
pub fn new_database_to_serve() -> String {
    if std::env::var_os("PREEN_PARTITIONS").is_some() { new_database_in_parts() } else { new_database() }
}

/// Drops a database that nobody is to look at any more: many of them fill the memory in which they lie.
pub fn drop_database(url: &str) {
    let name = name_of(url);
    let Some(cluster) = cluster_of(url) else { return };
    let mut admin = PgConnection::establish(&cluster.url("postgres")).unwrap();
    admin.batch_execute(&format!("DROP DATABASE IF EXISTS {name} WITH (FORCE)")).unwrap();
    if IN_PARTS.get().is_some_and(|cluster| cluster.has(url)) {
        locality::forget(&cluster.folder.join("log"), name);
    }
}

/// Makes a database whose tables are there, in parts by club, on a server that tells the plan of each statement.
pub fn new_database_in_parts() -> String {
    let cluster = IN_PARTS.get_or_init(|| Cluster::start_with(None, 16, locality::SETTINGS));
    let url = cluster.make_database("");
    let mut conn = open(&Place::from_url(&url)).unwrap();
    migrate::up(&mut conn).unwrap();
    partition::split(&mut conn, locality::PARTS).unwrap();
    // Making the tables looks at all parts.
    locality::forget(&cluster.folder.join("log"), name_of(&url));
    url
}

/// How many statements the server ran in a database in parts, all of which stayed with one club; `None` where it is in
/// none.
pub fn statements_of_one_club(url: &str) -> Option<usize> {
    let cluster = IN_PARTS.get().filter(|cluster| cluster.has(url))?;
    let (count, beyond) = locality::beyond_a_club(&cluster.folder.join("log"), name_of(url));
    assert!(beyond.is_empty(), "statements that look at several clubs:\n{}", beyond.join("\n"));
    Some(count)
}

/// Makes an empty database whose tables lie in this folder, and returns its URL.
pub fn new_database_in(folder: &Path) -> String {
    let cluster = CLUSTER.get_or_init(|| Cluster::start(None, 16));
    if let Some((uid, gid)) = cluster.owner {
        std::os::unix::fs::chown(folder, Some(uid), Some(gid)).unwrap();
    }
    let mut admin = PgConnection::establish(&cluster.url("postgres")).unwrap();
    let place = format!("CREATE TABLESPACE elsewhere LOCATION '{}'", folder.display());
    admin.batch_execute(&place).unwrap();
    cluster.make_database("TABLESPACE elsewhere")
}

/// Drops that database again, whoever is connected to it, and leaves the folder.
pub fn drop_database_in_folder(url: &str) {
    let (mut admin, name) = (admin(url), name_of(url));
    admin.batch_execute(&format!("DROP DATABASE {name} WITH (FORCE)")).unwrap();
    admin.batch_execute("DROP TABLESPACE elsewhere").unwrap();
}

/// What a database held at a moment, to which it can be set back whoever is connected to it.
pub struct Kept {
    url: String,
}

/// Keeps what a database of the cluster holds now. Everybody who is connected to it is thrown out.
pub fn keep(url: &str) -> Kept {
    let name = name_of(url);
    let mut admin = admin(url);
    admin.batch_execute(&format!("ALTER DATABASE {name} ALLOW_CONNECTIONS false")).unwrap();
    let copy = format!("CREATE DATABASE {name}_kept TEMPLATE {name}");
    let throw_out =
        format!("SELECT pg_terminate_backend(pid) FROM pg_stat_activity WHERE datname = '{name}'");
    while admin.batch_execute(&throw_out).and_then(|()| admin.batch_execute(&copy)).is_err() {
        std::thread::yield_now();
    }
    admin.batch_execute(&format!("ALTER DATABASE {name} ALLOW_CONNECTIONS true")).unwrap();
    Kept { url: url.to_owned() }
}

impl Kept {
    /// Sets the database back: what came since never was.
    pub fn set_back(self) {
        let (mut admin, name) = (admin(&self.url), name_of(&self.url));
        admin.batch_execute(&format!("DROP DATABASE {name} WITH (FORCE)")).unwrap();
        admin.batch_execute(&format!("ALTER DATABASE {name}_kept RENAME TO {name}")).unwrap();
    }
}

/// What the server told of waits for a lock in a database, a line each.
pub fn lock_waits(url: &str) -> Vec<String> {
    let cluster = cluster_of(url).expect("it was made here");
    let of_database = format!(" {}/", name_of(url));
    let log = log_of(&cluster.folder);
    let told = log.lines().filter(|line| line.contains(&of_database) && line.contains("still waiting for"));
    told.map(ToOwned::to_owned).collect()
}

/// The name of a database of the cluster.
pub fn name_of(url: &str) -> &str {
    url.trim_start_matches("postgres:///").split('?').next().unwrap()
}

/// The cluster that has a database.
fn cluster_of(url: &str) -> Option<&'static Cluster> {
    [&CLUSTER, &IN_PARTS].into_iter().filter_map(OnceLock::get).find(|one| one.has(url))
}

fn admin(url: &str) -> PgConnection {
    let cluster = cluster_of(url).expect("it was made here");
    PgConnection::establish(&cluster.url("postgres")).unwrap()
}

/// A database of a server of its own, whose files may be forbidden to grow.
pub struct Narrow {
    /// Its URL.
    pub url: String,
    data: PathBuf,
    owner: Option<(u32, u32)>,
}

/// Makes one. Its write-ahead log comes in segments smaller than what the tables grow to.
pub fn new_narrow_database() -> Narrow {
    let cluster = NARROW.get_or_init(|| Cluster::start(None, 1));
    Narrow { url: cluster.make_database(""), data: cluster.folder.join("data"), owner: cluster.owner }
}

impl Narrow {
    /// The size of its largest file.
    pub fn largest(&self) -> u64 {
        fn largest(folder: &Path) -> u64 {
            // Files come and go while it works.
            let entries: Vec<_> =
                std::fs::read_dir(folder).map(|entries| entries.flatten().collect()).unwrap_or_default();
            let sizes = entries.iter().map(|entry| match entry.file_type() {
                Ok(kind) if kind.is_dir() => largest(&entry.path()),
                _ => entry.metadata().map_or(0, |data| data.len()),
            });
            sizes.max().unwrap_or(0)
        }
        largest(&self.data)
    }

    /// Makes a table its largest file, by rows that belong to no club, so that the table is what cannot grow.
    pub fn make_largest(&self, table: &str, row: &str) {
        let mut owner = PgConnection::establish(&self.url).unwrap();
        let fill = format!(
            "SET session_replication_role = 'replica'; \
             INSERT INTO {table} SELECT {row} FROM generate_series(1, 3000) AS number"
        );
        owner.batch_execute(&fill).unwrap();
    }

    /// Kills one of its processes, so that it throws everybody out, recovers from its log and takes them in again; back
    /// when it does.
    pub fn break_down(&self) {
        let pids = std::fs::read_to_string(self.data.join("postmaster.pid")).unwrap();
        let server = pids.lines().next().unwrap().to_owned();
        let children = std::fs::read_to_string(format!("/proc/{server}/task/{server}/children")).unwrap();
        let victim = children.split_whitespace().next().unwrap();
        let killed = Command::new("kill").args(["-KILL", victim]).status().unwrap();
        assert!(killed.success(), "a process of the server could not be killed");
        for _ in 0..400 {
            if PgConnection::establish(&self.url).is_ok() {
                return;
            }
            Command::new("sh").args(["-c", "sleep 0.05"]).status().unwrap();
        }
        panic!("the server did not come back");
    }

    /// Lets none of its files grow beyond so many bytes, or lets them grow as they like: the server, what it has
    /// started, and so what it will start.
    pub fn limit(&self, bytes: Option<u64>) {
        let limit =
            bytes.map_or_else(|| "--fsize=unlimited:".to_owned(), |bytes| format!("--fsize={bytes}:"));
        let pids = std::fs::read_to_string(self.data.join("postmaster.pid")).unwrap();
        let server = pids.lines().next().unwrap().to_owned();
        let set = |pid: &str| {
            // Everybody may limit their own; root only with a right that not every machine gives it.
            let mut command = match self.owner {
                Some((uid, gid)) => {
                    let mut command = Command::new("setpriv");
                    command.args([
                        &format!("--reuid={uid}"),
                        &format!("--regid={gid}"),
                        "--clear-groups",
                        "prlimit",
                    ]);
                    command
                }
                None => Command::new("prlimit"),
            };
            command.args(["--pid", pid, &limit]).stderr(Stdio::null()).status().unwrap().success()
        };
        assert!(set(&server), "the server's own limit could not be set");
        let children = std::fs::read_to_string(format!("/proc/{server}/task/{server}/children")).unwrap();
        for pid in children.split_whitespace() {
            // One that has ended meanwhile needs none.
            set(pid);
        }
    }
}

/// Starts a second server, which is reached over the network of this machine and encrypts with a key of its own,
/// and returns the URL of its first database. One for the process: the key of the first call counts.
pub fn with_tls(cert: &Path, key: &Path) -> String {
    let cluster = ENCRYPTED.get_or_init(|| Cluster::start(Some((cert, key)), 16));
    let port = cluster.port.expect("it listens");
    format!("postgres://{USER}@localhost:{port}/postgres?hostaddr=127.0.0.1")
}

/// One of the programs that come with the server, such as `pg_dump`.
pub fn program(name: &str) -> Command {
    let folder = folders().into_iter().rev().find(|folder| folder.join(name).exists());
    Command::new(folder.unwrap_or_else(|| panic!("these tests need {name}")).join(name))
}

/// Folders in which programs may be.
fn folders() -> Vec<PathBuf> {
    let mut found: Vec<PathBuf> = std::fs::read_dir("/usr/lib/postgresql")
        .map(|folder| folder.flatten().map(|entry| entry.path().join("bin")).collect())
        .unwrap_or_default();
    found.extend(std::env::split_paths(&std::env::var_os("PATH").unwrap_or_default()));
    found.sort();
    found
}

/// The folder with the server's programs.
fn programs() -> PathBuf {
    folders()
        .into_iter()
        .rev()
        .find(|folder| folder.join("initdb").exists() && folder.join("postgres").exists())
        .expect("these tests need the programs of a PostgreSQL server (initdb, postgres)")
}

fn is_root() -> bool {
    let id = Command::new("id").arg("-u").output().unwrap();
    String::from_utf8_lossy(&id.stdout).trim() == "0"
}

fn id_of(user: &str, what: &str) -> Option<u32> {
    let id = Command::new("id").args([what, user]).output().ok()?;
    String::from_utf8_lossy(&id.stdout).trim().parse().ok()
}

impl Cluster {
    fn has(&self, url: &str) -> bool {
        url.contains(&self.folder.display().to_string())
    }

    pub(crate) fn url(&self, database: &str) -> String {
        let port = self.port.unwrap_or(5432);
        format!("postgres:///{database}?host={}&port={port}&user={USER}", self.folder.display())
    }

    pub(crate) fn make_database(&self, how: &str) -> String {
        let name = {
            let mut number = MAKING.lock().unwrap();
            *number += 1;
            format!("test_{number}")
        };
        let mut admin = PgConnection::establish(&self.url("postgres")).unwrap();
        admin.batch_execute(&format!("CREATE DATABASE {name} TEMPLATE template0 {how}")).unwrap();
        self.url(&name)
    }

    /// A folder for a server, and who is to own it.
    pub(crate) fn folder() -> (PathBuf, Option<(u32, u32)>) {
        let folder = crate::world::scratch("preen-pg");
        let owner = is_root().then(|| {
            let ids = |user: &&str| Some((id_of(user, "-u")?, id_of(user, "-g")?));
            let found = ["postgres", "nobody"].iter().find_map(ids);
            found.expect("root needs a user `postgres` or `nobody` to run the server as")
        });
        if let Some((uid, gid)) = owner {
            std::os::unix::fs::chown(&folder, Some(uid), Some(gid)).unwrap();
        }
        (folder, owner)
    }

    /// What a command of the shell begins with to run as that owner.
    pub(crate) fn as_user(owner: Option<(u32, u32)>) -> String {
        owner.map_or_else(String::new, |(uid, gid)| {
            format!("setpriv --reuid={uid} --regid={gid} --clear-groups ")
        })
    }

    pub(crate) fn start(tls: Option<(&Path, &Path)>, wal_segment_mb: u32) -> Self {
        Self::start_with(tls, wal_segment_mb, "")
    }

    fn start_with(tls: Option<(&Path, &Path)>, wal_segment_mb: u32, settings: &str) -> Self {
        let (folder, owner) = Self::folder();
        let (data, programs) = (folder.join("data"), programs());
        let made = Command::new("sh")
            .arg("-c")
            .arg(format!(
                "{}{}/initdb -D {} -U {USER} -A trust -E UTF8 --locale=C.UTF-8 --no-sync \
                 --wal-segsize={wal_segment_mb}",
                Self::as_user(owner),
                programs.display(),
                data.display()
            ))
            .current_dir("/")
            .output()
            .unwrap();
        assert!(made.status.success(), "initdb: {}", String::from_utf8_lossy(&made.stderr));
        Self::launch(folder, owner, tls, settings)
    }

    /// Starts a server on a data folder that is there.
    pub(crate) fn launch(
        folder: PathBuf,
        owner: Option<(u32, u32)>,
        tls: Option<(&Path, &Path)>,
        settings: &str,
    ) -> Self {
        let (data, programs, as_user) = (folder.join("data"), programs(), Self::as_user(owner));
        let mut port = None;
        let mut listening = "-c listen_addresses=''".to_owned();
        if let Some((cert, key)) = tls {
            // The server wants to own its key.
            for (from, to) in [(cert, "server.crt"), (key, "server.key")] {
                let to = data.join(to);
                std::fs::copy(from, &to).unwrap();
                if let Some((uid, gid)) = owner {
                    std::os::unix::fs::chown(&to, Some(uid), Some(gid)).unwrap();
                }
            }
            // In its file and not on its command line: there a test can take it back.
            let mut text = std::fs::read_to_string(data.join("postgresql.conf")).unwrap();
            text.push_str("ssl = on\n");
            std::fs::write(data.join("postgresql.conf"), text).unwrap();
            let free = std::net::TcpListener::bind("127.0.0.1:0").unwrap().local_addr().unwrap().port();
            listening = format!("-c listen_addresses=127.0.0.1 -c port={free}");
            port = Some(free);
        }
        let watch = Command::new("sh")
            .arg("-c")
            .arg(format!(
                "{as_user}{}/postgres -D {} -k {} {listening} -c fsync=off -c track_commit_timestamp=on -c log_line_prefix='%m [%p] %d/%a ' -c max_connections=400 \
                 {settings} -c shared_buffers=32MB >{folder}/log 2>&1 & server=$!; read end; kill -INT $server 2>/dev/null; \
                 wait $server; rm -rf {folder}",
                programs.display(),
                data.display(),
                folder.display(),
                folder = folder.display(),
            ))
            .current_dir("/")
            .stdin(Stdio::piped())
            .spawn()
            .unwrap();
        let cluster = Self { folder, owner, port, _watch: watch };
        cluster.wait();
        cluster
    }

    /// Ends the server as a crash would.
    pub(crate) fn crash(&self) {
        let note = self.folder.join("data/postmaster.pid");
        let pids = std::fs::read_to_string(&note).unwrap();
        let ended = Command::new("kill").args(["-QUIT", pids.lines().next().unwrap()]).status().unwrap();
        assert!(ended.success(), "the server could not be ended");
        crate::waiting::until("the server ended", || !note.exists());
    }

    /// Where its socket is.
    pub(crate) fn at(&self) -> &Path {
        &self.folder
    }

    pub(crate) fn user(&self) -> &'static str {
        USER
    }

    /// Tries to connect until the server answers. Each try blocks on a short query of a helper program.
    fn wait(&self) {
        let ready = Command::new(programs().join("pg_isready"))
            .args(["-h", &self.folder.display().to_string(), "-t", "10"])
            .output();
        for _ in 0..400 {
            if PgConnection::establish(&self.url("postgres")).is_ok() {
                return;
            }
            std::thread::yield_now();
            // `sleep` of the shell, so that waiting does not burn a core meant for the server.
            Command::new("sh").args(["-c", "sleep 0.05"]).status().unwrap();
        }
        panic!("the server did not start: {ready:?}; {}", log_of(&self.folder));
    }
}

fn log_of(folder: &Path) -> String {
    std::fs::read_to_string(folder.join("log")).unwrap_or_default()
}
