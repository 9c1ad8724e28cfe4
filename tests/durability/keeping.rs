//! Kept safe, whatever comes between: backups, restoring, taking in an archive and migrating are killed at moments
//! nobody chose; disks are full or cannot be written; the end of the write-ahead log is missing. What is there
//! afterwards is whole, and the same command again does what it was to do.

use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Output, Stdio};
use std::time::Duration;

use preen_api::audit::verify::{Verdict, verify};
use preen_api::backup::label::{Label, sha256_of};
use preen_api::db::conn::{Place, open};
use preen_api::db::migrate;
use preen_api::resources::nouns;
use preen_api::resources::setup::store::list_clubs;
use preen_tests::Database;
use preen_tests::waiting::rest;
use preen_tests::world::{CLUB, scratch};

use crate::load::{Acknowledged, Chance, until_killed};
use crate::record;

/// Kills of each command.
const KILLS: u64 = 12;

/// A command of the service in a process of its own.
fn preen_server(arguments: &[&str]) -> Command {
    let mut command = Command::new(std::env::current_exe().unwrap());
    command.args(arguments).env("PREEN_LOG", "off").stdin(Stdio::null());
    command
}

fn run(arguments: &[&str]) -> Output {
    preen_server(arguments).output().unwrap()
}

#[track_caller]
fn done(arguments: &[&str]) -> String {
    let output = run(arguments);
    let text = String::from_utf8_lossy(&output.stdout).into_owned();
    assert!(output.status.success(), "{arguments:?}: {text}{}", String::from_utf8_lossy(&output.stderr));
    text
}

#[track_caller]
fn refused(arguments: &[&str], wanted: &str) {
    let output = run(arguments);
    let said = String::from_utf8_lossy(&output.stderr).into_owned();
    assert_eq!(output.status.code(), Some(3), "{arguments:?}: {said}");
    assert!(said.contains(wanted), "{arguments:?} says {said}, not {wanted}");
}

/// Runs a command and kills it after a while; whether it had ended before.
fn kill_after(arguments: &[&str], wait: Duration) -> bool {
    let mut child = preen_server(arguments).stdout(Stdio::null()).stderr(Stdio::null()).spawn().unwrap();
    rest(wait);
    let had_ended = child.try_wait().unwrap().is_some();
    let _ = child.kill();
    child.wait().unwrap();
    had_ended
}

/// Moments to kill at, spread over what a whole run takes.
fn moments(arguments: &[&str], chance: &mut Chance) -> Vec<Duration> {
    let begun = std::time::Instant::now();
    done(arguments);
    let whole = u64::try_from(begun.elapsed().as_micros()).unwrap();
    (0..KILLS).map(|_| Duration::from_micros(chance.below(whole.max(1)))).collect()
}

fn verdict(database: &Path) -> Verdict {
    let mut conn = open(&Place::File(database.to_owned())).unwrap();
    let verdict = verify(&mut conn, nouns::TABLES, CLUB).unwrap();
    assert_eq!(verdict.broken, None, "{}", database.display());
    verdict
}

/// The backups of a folder, each of which must be whole.
fn backups(folder: &Path) -> Vec<PathBuf> {
    let mut list: Vec<PathBuf> = fs::read_dir(folder)
        .unwrap()
        .map(|entry| entry.unwrap().path())
        .filter(|path| path.extension().is_some_and(|end| end == "zip" || end == "age"))
        .collect();
    list.sort();
    for path in &list {
        let label = Label::read(path).unwrap().expect("a backup has its label");
        assert_eq!(sha256_of(path).unwrap(), (label.sha256, label.bytes), "{}", path.display());
    }
    list
}

fn text(path: &Path) -> &str {
    path.to_str().unwrap()
}

/// A record of some hundred facts, left by a service that was killed.
fn lived(seed: u64) -> (PathBuf, String, Acknowledged) {
    let (place, token) = record::begin(Database::Sqlite);
    let mut acknowledged = Acknowledged::default();
    let mut chance = Chance::new(seed);
    for _ in 0..2 {
        until_killed(&mut crate::start(&place, &token), &mut chance, &mut acknowledged);
    }
    (PathBuf::from(place), token, acknowledged)
}

/// Backups, restoring, taking in and migrating are killed.
pub fn kills(seed: u64) -> String {
    let mut chance = Chance::new(seed);
    let (database, token, acknowledged) = lived(seed);
    let folder = database.parent().unwrap().to_owned();
    let to = folder.join("backups");
    // While a service serves the same file.
    let service = crate::start(text(&database), &token);
    let backup = ["backup", "--database", text(&database), "--to", text(&to)];
    let waits = moments(&backup, &mut chance);
    let mut ended = 0;
    for wait in waits {
        ended += u64::from(kill_after(&backup, wait));
        backups(&to);
    }
    let told = done(&["backup", "--database", text(&database), "--to", text(&to), "--keep", "1"]);
    assert!(told.contains("its trail holds in the copy"), "{told}");
    let left = backups(&to);
    assert_eq!(left.len(), 1, "{told}");
    let passing = fs::read_dir(&to)
        .unwrap()
        .filter(|entry| entry.as_ref().unwrap().file_name().to_string_lossy().starts_with(".making-"));
    assert_eq!(passing.count(), 0, "nothing is left of what was killed");
    record::look(&service, text(&database), &acknowledged);
    let archive = folder.join("club.zip");
    fs::write(&archive, service.caller.get("/export").expect(200).bytes).unwrap();
    drop(service);
    let wanted = verdict(&database).head;

    let target = folder.join("again");
    let into = target.join("preen.db");
    let restore = ["restore", "--from", text(&left[0]), "--database", text(&into)];
    let waits = moments(&restore, &mut chance);
    refused(&restore, "is there already: nothing is ever written over");
    for wait in waits {
        fs::remove_dir_all(&target).unwrap();
        kill_after(&restore, wait);
        fs::create_dir_all(&target).unwrap();
        if into.exists() {
            assert_eq!(verdict(&into).head, wanted, "what has its name is whole");
        }
    }
    if !into.exists() {
        done(&restore);
    }
    assert_eq!(verdict(&into).head, wanted);

    let taken = folder.join("taken");
    let fresh = taken.join("preen.db");
    fs::create_dir_all(&taken).unwrap();
    let import = ["import", text(&archive), "--database", text(&fresh)];
    let waits = moments(&import, &mut chance);
    refused(&import, "there is a club `quillmarsh` with a record of its own already");
    for wait in waits {
        fs::remove_dir_all(&taken).unwrap();
        fs::create_dir_all(&taken).unwrap();
        kill_after(&import, wait);
        if is_taken_in(&fresh) {
            assert_eq!(verdict(&fresh).head, wanted, "all of it or nothing");
        }
    }
    if !is_taken_in(&fresh) {
        done(&import);
    }
    assert_eq!(verdict(&fresh).head, wanted);

    let bare = folder.join("bare.db");
    let migrate = ["migrate", "up", "--database", text(&bare)];
    for wait in moments(&migrate, &mut chance) {
        for end in ["", "-wal", "-shm"] {
            let _ = fs::remove_file(format!("{}{end}", bare.display()));
        }
        kill_after(&migrate, wait);
        done(&migrate);
        let standing = migrate::standing(&mut open(&Place::File(bare.clone())).unwrap()).unwrap();
        assert_eq!(standing.pending, Vec::<String>::new());
    }
    fs::remove_dir_all(folder).unwrap();
    format!("{KILLS} kills of each command, {ended} backups had ended before")
}

fn is_taken_in(database: &Path) -> bool {
    database.exists()
        && open(&Place::File(database.to_owned()))
            .is_ok_and(|mut conn| list_clubs(&mut conn).is_ok_and(|clubs| !clubs.is_empty()))
}

fn mount(folder: &Path, bytes: u64) -> bool {
    let mut command = Command::new("mount");
    command.args(["-t", "tmpfs", "-o", &format!("size={bytes}"), "preen-keeping"]).arg(folder);
    command.stderr(Stdio::null()).status().is_ok_and(|status| status.success())
}

/// A disk that is taken away at the end.
struct Disk(PathBuf);

impl Drop for Disk {
    fn drop(&mut self) {
        let _ = Command::new("umount").arg("--lazy").arg(&self.0).stderr(Stdio::null()).status();
        let _ = fs::remove_dir_all(&self.0);
    }
}

/// There is no room for a backup, or none for what is restored; a disk cannot be written.
pub fn disks(seed: u64) -> String {
    let (database, _, _) = lived(seed);
    let head = verdict(&database).head;
    let folder = scratch("preen-keeping");
    if !mount(&folder, 24 << 20) {
        fs::remove_dir_all(folder).unwrap();
        return "may not mount a disk here".to_owned();
    }
    let disk = Disk(folder.clone());
    let backup = ["backup", "--database", text(&database), "--to", text(&folder), "--keep", "1"];
    done(&backup);
    let first = backups(&folder);
    fs::write(folder.join("filler"), vec![0_u8; 23 << 20]).unwrap_or_default();
    let output = run(&backup);
    let said = String::from_utf8_lossy(&output.stderr).into_owned();
    assert_eq!(output.status.code(), Some(3), "{said}");
    assert!(said.contains("disk is full") || said.contains("No space left"), "{said}");
    assert_eq!(backups(&folder), first, "what was there is still there");
    let into = folder.join("again.db");
    let restore = ["restore", "--from", text(&first[0]), "--database", text(&into)];
    let output = run(&restore);
    let said = String::from_utf8_lossy(&output.stderr).into_owned();
    assert_eq!(output.status.code(), Some(3), "{said}");
    assert!(said.contains("full") || said.contains("No space left"), "{said}");
    assert!(!into.exists());
    fs::remove_file(folder.join("filler")).unwrap();
    done(&restore);
    assert_eq!(verdict(&into).head, head);
    let second = done(&backup);
    assert!(second.contains("Removed"), "{second}");

    // Read-only: nothing can be kept there, and a record that lies there is not served.
    let remounted = Command::new("mount").args(["-o", "remount,ro"]).arg(&folder).status().unwrap();
    assert!(remounted.success());
    let before = backups(&folder);
    refused(&backup, "ead-only");
    assert_eq!(backups(&folder), before);
    refused(&["serve", "--listen", "127.0.0.1:0", "--database", text(&into)], "ead-only");
    refused(
        &["restore", "--from", text(&before[0]), "--database", text(&folder.join("more.db"))],
        "ead-only",
    );
    drop(disk);
    fs::remove_dir_all(database.parent().unwrap()).unwrap();
    "full and read-only, each told and nothing lost".to_owned()
}

/// The end of the write-ahead log is missing or is something else, as after a power cut: what is left is a whole record,
/// an earlier one at most.
pub fn power_cut(seed: u64) -> String {
    let mut chance = Chance::new(seed);
    let (database, token, mut acknowledged) = lived(seed);
    let mut service = crate::start(text(&database), &token);
    let said = crate::load::Said::default();
    for _ in 0..60 {
        crate::load::write_one(2, &service.caller, &said).expect("the service answers");
    }
    service.kill();
    acknowledged.facts.extend(said.into_inner().unwrap().0);
    let wal = PathBuf::from(format!("{}-wal", database.display()));
    let (file, log) = (fs::read(&database).unwrap(), fs::read(&wal).unwrap());
    assert!(log.len() > 100_000, "the service was killed with its log: {} bytes", log.len());
    let folder = scratch("preen-cut");
    let cut = folder.join("preen.db");
    let mut revisions = std::collections::BTreeSet::new();
    for round in 0..30_u64 {
        let length = usize::try_from(chance.below(u64::try_from(log.len()).unwrap() + 1)).unwrap();
        let mut left = log[..if round == 0 { log.len() } else { length }].to_vec();
        if round % 3 == 2 {
            // The disk had room for it, and something else stands there.
            left.resize(log.len(), 0xa5);
        }
        fs::write(&cut, &file).unwrap();
        fs::write(folder.join("preen.db-wal"), left).unwrap();
        let _ = fs::remove_file(folder.join("preen.db-shm"));
        if !is_taken_in(&cut) {
            // Cut before the club was.
            continue;
        }
        let verdict = verdict(&cut);
        revisions.insert(verdict.revision);
        let told = done(&["verify", "--database", text(&cut)]);
        assert!(told.contains(&format!("revision {}", verdict.revision)), "{told}");
    }
    assert!(revisions.len() > 5, "{revisions:?}");
    fs::remove_dir_all(folder).unwrap();
    fs::remove_dir_all(database.parent().unwrap()).unwrap();
    format!(
        "30 cuts, {} different revisions of {} facts, each whole",
        revisions.len(),
        acknowledged.facts.len()
    )
}
