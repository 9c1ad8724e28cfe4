//! Marks 4 and 9: the programs themselves, started anew over a large club: how soon the first answer is there, how much
//! memory is in use, how long a question to a copy takes.

use std::io::{BufRead as _, BufReader, Read as _};
use std::net::SocketAddr;
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::time::Instant as Stopwatch;

use preen_api::db::conn::Place;

use crate::club::Extent;
use crate::fleet::median;
use crate::load::{Connection, request};
use crate::marks::{Mark, Sense};
use crate::service::{How, Served};

/// The programs beside this one.
pub struct Programs {
    folder: PathBuf,
}

impl Programs {
    /// Those in a folder, such as `target/measure`.
    pub fn in_folder(folder: &Path) -> Self {
        Self { folder: folder.to_owned() }
    }

    fn command(&self, name: &str) -> Command {
        let path = self.folder.join(name);
        assert!(path.exists(), "{} is not built", path.display());
        let mut command = Command::new(path);
        command.stdin(Stdio::null()).stdout(Stdio::piped()).stderr(Stdio::null());
        command
    }
}

/// Memory of a process, bytes.
#[derive(Clone, Copy, Debug)]
pub struct Memory {
    /// What it has written, which nobody else can have.
    pub own: f64,
    /// The same, and what it has read of its program, which the system may take back.
    pub now: f64,
    /// The most of that since the start.
    pub most: f64,
}

/// A service in a process of its own.
pub struct Process {
    child: Child,
    /// Where it listens.
    pub address: SocketAddr,
}

impl Process {
    /// Starts it over records that are somewhere, with pictures in a folder.
    pub fn start(programs: &Programs, database: &str, photos: &Path) -> Self {
        let mut command = programs.command("preen-server");
        command.args(["serve", "--listen", "127.0.0.1:0", "--database", database, "--photos"]).arg(photos);
        let mut child = command.spawn().unwrap();
        let mut line = String::new();
        BufReader::new(child.stdout.as_mut().unwrap()).read_line(&mut line).unwrap();
        let address =
            line.rsplit("http://").next().unwrap().trim().parse().unwrap_or_else(|_| panic!("said: {line}"));
        Self { child, address }
    }

    /// Memory that is in use.
    pub fn memory(&self) -> Memory {
        let text = std::fs::read_to_string(format!("/proc/{}/status", self.child.id())).unwrap();
        let bytes = |name: &str| -> f64 {
            let line = text.lines().find(|line| line.starts_with(name)).unwrap();
            let kilobytes: f64 = line.split_whitespace().nth(1).unwrap().parse().unwrap();
            kilobytes * 1024.0
        };
        Memory { own: bytes("RssAnon:"), now: bytes("VmRSS:"), most: bytes("VmHWM:") }
    }

    fn ask(&self, path: &str, token: &str) {
        let reply =
            Connection::open(self.address).unwrap().ask(&request("GET", path, token, &[], None)).unwrap();
        assert_eq!(reply.status, 200, "{}", String::from_utf8_lossy(&reply.body));
    }
}

impl Drop for Process {
    fn drop(&mut self) {
        // It is ours, and nothing waits in it.
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

/// Records of a club in a file, closed again.
struct Stored {
    file: PathBuf,
    token: String,
    served: Option<Served>,
}

impl Stored {
    fn make(extent: Extent) -> Self {
        let served = Served::start(extent, How { workers: Some(1), changes_a_commit: None });
        let Place::File(file) = served.place.clone() else { panic!("it is a file") };
        Self { file, token: served.token().to_owned(), served: Some(served) }
    }
}

impl Stored {
    fn start(&self, programs: &Programs) -> Process {
        let photos = self.file.with_file_name("photos");
        Process::start(programs, &self.file.to_string_lossy(), &photos)
    }
}

/// Mark 4: the first board after starting, and what a club takes in memory.
pub fn starting(programs: &Programs, quick: Extent, large: Extent, rounds: usize) -> Vec<Mark> {
    let mut marks = Vec::new();
    let stored = Stored::make(quick);
    let times = (0..rounds).map(|_| {
        let started = Stopwatch::now();
        let process = stored.start(programs);
        process.ask("/api/v1/may-fly", &stored.token);
        started.elapsed().as_secs_f64()
    });
    let seconds = median(times.collect());
    marks.push(Mark::figure(
        "4",
        "first may-fly board after starting the service",
        seconds,
        "s",
        Sense::AtMost(1.0),
        format!("{} models, {} rows of usage, embedded database", quick.models, quick.models * quick.usage),
    ));
    drop(stored);
    let resident = |extent: Extent| {
        let stored = Stored::make(extent);
        let process = stored.start(programs);
        process.ask("/api/v1/models/L-0/usage", &stored.token);
        let Memory { now, most, .. } = process.memory();
        drop(stored.served);
        (now, most)
    };
    let without = Extent { usage: large.usage / 10, ..large };
    let ((few, _), (all, most)) = (resident(without), resident(large));
    let rows = f64::from(large.models) * f64::from(large.usage - without.usage);
    marks.push(Mark::figure(
        "4",
        "resident memory of the service with the large club",
        all / 1e6,
        "MB",
        Sense::AtMost(200.0),
        format!(
            "{} models, {} rows of usage; at most {:.0} MB while reading",
            large.models,
            large.models * large.usage,
            most / 1e6
        ),
    ));
    marks.push(Mark::figure(
        "4",
        "resident memory for each row of usage",
        (all - few) / rows,
        "bytes",
        Sense::AtMost(64.0),
        format!("from {:.0} MB with a tenth of the rows", few / 1e6),
    ));
    marks
}

/// Mark 9: the command line asks a copy, and starts at all.
pub fn offline(programs: &Programs, extent: Extent, rounds: usize) -> Vec<Mark> {
    let stored = Stored::make(extent);
    let served = stored.served.as_ref().unwrap();
    let home = served.folder().join("home");
    std::fs::create_dir_all(&home).unwrap();
    let preen = |words: &[&str]| {
        let mut command = programs.command("preen");
        command.args(words).env_clear();
        command.env("HOME", &home).env("PREEN_URL", served.running.url()).env("PREEN_TOKEN", &stored.token);
        let started = Stopwatch::now();
        let mut child = command.spawn().unwrap();
        let mut said = Vec::new();
        child.stdout.take().unwrap().read_to_end(&mut said).unwrap();
        let status = child.wait().unwrap();
        // 1 and 2 say that something is due or overdue.
        assert!(status.code().is_some_and(|code| code <= 2), "{words:?}: {status}");
        assert!(!said.is_empty(), "{words:?} says something");
        started.elapsed().as_secs_f64() * 1e3
    };
    let copy_ms = preen(&["copy"]);
    let due_ms = median((0..rounds).map(|_| preen(&["due", "--offline"])).collect());
    let version_ms = median((0..rounds * 5).map(|_| preen(&["--version"])).collect());
    vec![
        Mark::figure(
            "9",
            "`preen due --offline`, from start to end",
            due_ms,
            "ms",
            Sense::AtMost(250.0),
            format!(
                "{} models, {} rows of usage; `preen copy` before it {copy_ms:.0} ms",
                extent.models,
                extent.models * extent.usage
            ),
        ),
        Mark::figure(
            "9",
            "`preen --version`",
            version_ms,
            "ms",
            Sense::AtMost(10.0),
            "process start to end".to_owned(),
        ),
    ]
}

/// The programs that the tests of this package start: beside them, built if they are not there.
#[cfg(test)]
pub fn built() -> Programs {
    let own = std::env::current_exe().unwrap();
    let folder = own.parent().and_then(Path::parent).unwrap().to_owned();
    if !["preen", "preen-server"].iter().all(|name| folder.join(name).exists()) {
        let mut cargo = Command::new(env!("CARGO"));
        cargo.args(["build", "--quiet", "--locked", "--workspace", "--bins", "--target-dir"]);
        assert!(cargo.arg(folder.parent().unwrap()).status().unwrap().success());
    }
    Programs::in_folder(&folder)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_small_club_is_measured() {
        assert_eq!(starting(&built(), Extent::TINY, Extent::TINY, 1).len(), 3);
        assert_eq!(offline(&built(), Extent::TINY, 1).len(), 2);
    }
}
