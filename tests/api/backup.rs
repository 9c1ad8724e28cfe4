//! Backups: whole while the service writes, locked, rotated, and had again only where nothing is; and a server's own
//! tools for PostgreSQL.

use std::fs;
use std::path::{Path, PathBuf};
use std::time::Duration;

use preen_api::audit::rebuild::Until;
use preen_api::audit::verify::verify;
use preen_api::backup::BackupError;
use preen_api::backup::label::Label;
use preen_api::backup::make::{Made, make};
use preen_api::backup::restore::{Target, restore};
use preen_api::backup::rotate::list;
use preen_api::backup::schedule::{Job, Schedule, start};
use preen_api::backup::seal::{Key, Seal, new_keys};
use preen_api::commands::taken_in::take_in;
use preen_api::db::conn::{Place, open};
use preen_api::photos::place::PhotoPlace;
use preen_api::photos::store::{Store, Which};
use preen_api::resources::nouns;
use preen_api::state::Clock;
use preen_api::watch::meters::BackupMeters;
use preen_domain::time::Instant;
use preen_tests::cluster;
use preen_tests::everything::{everything, unlike};
use preen_tests::waiting::rest;
use preen_tests::world::{BEGINNING, CLUB, flight, scratch};
use preen_tests::{Database, World};
use serde_json::json;

use super::access_table::picture;

fn back_up(
    world: &World,
    to: &Path,
    seal: &Seal,
    keep: Option<usize>,
    hour: u32,
) -> Result<Made, BackupError> {
    let runtime = actix_web::rt::Runtime::new().unwrap();
    let store = Store::open(&world.photos).unwrap();
    let mut fetch = |club: &str, digest: &_| runtime.block_on(store.get(club, digest, Which::Whole));
    let now: Instant = format!("2026-05-22T{hour:02}:00:00Z").parse().unwrap();
    make(&world.place, to, seal, keep, now, &mut fetch)
}

fn have_again(
    from: &Path,
    key: &Key,
    into: &Place,
    photos: &PhotoPlace,
    until: Until,
) -> Result<(), BackupError> {
    let runtime = actix_web::rt::Runtime::new().unwrap();
    let now = BEGINNING.parse().unwrap();
    let mut keep = |club: &str, digest: &_, which, bytes| {
        runtime.block_on(Store::open(photos).unwrap().put(club, digest, which, bytes))
    };
    let mut take = |archive: &Path, place: &Place| {
        take_in(archive, place, photos, until, now).map(drop).map_err(|error| error.to_string())
    };
    restore(from, key, &Target { records: into, until, now }, &mut keep, &mut take).map(drop)
}

/// A place for what is restored.
fn fresh() -> (PathBuf, Place, PhotoPlace) {
    let folder = scratch("preen-again");
    (folder.clone(), Place::File(folder.join("preen.db")), PhotoPlace::Folder(folder.join("photos")))
}

fn club() -> (World, PathBuf) {
    let world = World::begin(Database::Sqlite);
    world.small_fleet();
    let kept = world.av.post_file("/photos/files", "image/jpeg", &picture()).expect(201).json();
    let mut photo = kept.clone();
    photo["subject"] = json!({ "model": "SG-01" });
    photo["occurred_at"] = json!("2026-05-20T10:00:00Z");
    world.add("photos", photo);
    (world, scratch("preen-backups"))
}

#[test]
fn what_is_restored_answers_the_same_and_lets_the_same_people_in() {
    let (world, to) = club();
    let made = back_up(&world, &to, &Seal::Open, None, 8).unwrap();
    assert_eq!(
        made.file.file_name().unwrap(),
        format!("preen-20260522T080000Z-r{}.zip", made.label.contents.clubs[0].revision).as_str()
    );
    assert_eq!((made.label.contents.pictures, made.label.contents.pictures_lost), (1, 0));
    world.add("flights", flight("SG-01", "AV", "2026-05-20T10:00:00Z"));
    let other = World::nothing(Database::Sqlite);
    let (folder, place, photos) = fresh();
    have_again(&made.file, &Key::None, &place, &photos, Until::Newest).unwrap();
    let restored = other.serving(&place, &photos, &world);
    let (here, there) = (world.av.get("/facts").expect(200).text, restored.av.get("/facts").expect(200).text);
    assert!(here.starts_with(&there) && here.lines().count() == there.lines().count() + 1);
    let of_then = everything(&restored.av, &["2026-05-20"], &[3]);
    assert!(of_then.keys().any(|path| path.contains("/image")), "the picture is there");
    assert!(
        of_then.iter().filter(|(path, _)| path.contains("/image")).all(|(_, (status, _))| *status == 200)
    );
    let again = everything(&restored.av, &["2026-05-20"], &[3]);
    assert_eq!(unlike(&of_then, &again), Vec::<String>::new());
    drop(restored);
    // Nothing is ever written over, not even what is left of a database.
    let refused = have_again(&made.file, &Key::None, &place, &photos, Until::Newest).unwrap_err();
    assert!(matches!(refused, BackupError::Exists(_)), "{refused}");
    let Place::File(file) = &place else { unreachable!() };
    for end in ["", "-shm"] {
        let _ = fs::remove_file(format!("{}{end}", file.display()));
    }
    fs::write(format!("{}-wal", file.display()), "left").unwrap();
    let refused = have_again(&made.file, &Key::None, &place, &photos, Until::Newest).unwrap_err();
    assert!(refused.to_string().contains("preen.db-wal is there already"), "{refused}");
    for folder in [folder, to] {
        fs::remove_dir_all(folder).unwrap();
    }
}

#[test]
fn a_point_can_be_had_in_either_database() {
    let (world, to) = club();
    for hour in 8..12 {
        world.add("flights", flight("SG-01", "AV", &format!("2026-05-20T{hour:02}:00:00Z")));
    }
    let made = back_up(&world, &to, &Seal::Open, None, 8).unwrap();
    let newest = made.label.contents.clubs[0].revision;
    let (folder, place, photos) = fresh();
    have_again(&made.file, &Key::None, &place, &photos, Until::Revision(newest - 3)).unwrap();
    let server = Place::from_url(&cluster::new_database());
    have_again(&made.file, &Key::None, &server, &photos, Until::Revision(newest - 3)).unwrap();
    for place in [&place, &server] {
        let verdict = verify(&mut open(place).unwrap(), nouns::TABLES, CLUB).unwrap();
        assert_eq!((verdict.broken, verdict.revision), (None, newest - 3));
    }
    let beyond =
        have_again(&made.file, &Key::None, &fresh().1, &photos, Until::Revision(newest + 1)).unwrap_err();
    assert!(beyond.to_string().contains("there is no revision"), "{beyond}");
    fs::remove_dir_all(folder).unwrap();
    fs::remove_dir_all(to).unwrap();
}

#[test]
fn a_locked_one_opens_by_its_key_alone_and_shows_nothing() {
    let (world, to) = club();
    world.add("members", json!({ "tag": "XY", "name": "Xaver Ypsilon", "roles": ["pilot"] }));
    let (secret, public) = new_keys();
    let file = |name: &str, text: &str| {
        fs::write(to.join(name), text).unwrap();
        to.join(name)
    };
    let (ours, theirs) = (file("public", &public), file("secret", &secret));
    let other = file("other", &new_keys().0);
    let words = file("words", "a heron over the marsh\n");
    let wrong_words = file("wrong", "a heron over the hills\n");
    let by_key = Seal::from_files(Some(&ours), None).unwrap();
    let by_words = Seal::from_files(None, Some(&words)).unwrap();
    let cases = [
        (
            by_key,
            Key::from_files(Some(&theirs), None).unwrap(),
            Key::from_files(Some(&other), None).unwrap(),
            8,
        ),
        (
            by_words,
            Key::from_files(None, Some(&words)).unwrap(),
            Key::from_files(None, Some(&wrong_words)).unwrap(),
            9,
        ),
    ];
    for (seal, right, wrong, hour) in cases {
        let made = back_up(&world, &to, &seal, None, hour).unwrap();
        let bytes = fs::read(&made.file).unwrap();
        assert!(bytes.starts_with(b"age-encryption.org/v1") && made.label.is_sealed);
        for word in ["Xaver", "preen.db", "SQLite format"] {
            assert!(!bytes.windows(word.len()).any(|part| part == word.as_bytes()), "{word} can be read");
        }
        let (folder, place, photos) = fresh();
        for key in [&Key::None, &wrong] {
            let refused = have_again(&made.file, key, &place, &photos, Until::Newest).unwrap_err();
            assert!(matches!(refused, BackupError::Key(_)), "{refused}");
        }
        let left = fs::read_dir(&folder).unwrap().count();
        assert_eq!(left, 0, "nothing is left of what was refused");
        have_again(&made.file, &right, &place, &photos, Until::Newest).unwrap();
        assert_eq!(verify(&mut open(&place).unwrap(), nouns::TABLES, CLUB).unwrap().broken, None);
        fs::remove_dir_all(folder).unwrap();
    }
    assert!(Seal::from_files(None, Some(&file("short", "too short"))).is_err());
    fs::remove_dir_all(to).unwrap();
}

#[test]
fn a_damaged_one_is_refused_and_never_pushes_out_a_good_one() {
    let (world, to) = club();
    let first = back_up(&world, &to, &Seal::Open, Some(2), 8).unwrap();
    let second = back_up(&world, &to, &Seal::Open, Some(2), 9).unwrap();
    let third = back_up(&world, &to, &Seal::Open, Some(2), 10).unwrap();
    assert_eq!(third.rotated.removed, [first.file]);
    // One that lost its end is no good one: two good ones stay beside it.
    let whole = fs::read(&third.file).unwrap();
    fs::write(&third.file, &whole[..whole.len() / 2]).unwrap();
    let fourth = back_up(&world, &to, &Seal::Open, Some(2), 11).unwrap();
    assert_eq!((fourth.rotated.removed, fourth.rotated.damaged), (vec![], vec![third.file.clone()]));
    assert!(second.file.exists() && Label::read(&second.file).unwrap().is_some());
    let (folder, place, photos) = fresh();
    let mut changed = whole.clone();
    changed[whole.len() / 2] ^= 1;
    for bytes in [&whole[..whole.len() / 2], &changed, &whole[..0]] {
        fs::write(&third.file, bytes).unwrap();
        let refused = have_again(&third.file, &Key::None, &place, &photos, Until::Newest).unwrap_err();
        assert!(refused.to_string().contains("is not the file that was written"), "{refused}");
        // Without its label, what it says of itself inside tells.
        let bare = to.join("bare.zip");
        fs::write(&bare, bytes).unwrap();
        let refused = have_again(&bare, &Key::None, &place, &photos, Until::Newest).unwrap_err();
        assert!(matches!(refused, BackupError::Damaged(_)), "{refused}");
    }
    fs::remove_dir_all(folder).unwrap();
    fs::remove_dir_all(to).unwrap();
}

#[test]
fn a_record_that_does_not_hold_makes_no_backup() {
    use diesel::connection::SimpleConnection as _;
    let (world, to) = club();
    let good = back_up(&world, &to, &Seal::Open, Some(1), 8).unwrap();
    world.conn().batch_execute("UPDATE models SET tag = 'SG-09'").unwrap();
    let refused = back_up(&world, &to, &Seal::Open, Some(1), 9).unwrap_err();
    assert!(refused.to_string().contains("does not hold at revision"), "{refused}");
    assert!(good.file.exists());
    world.conn().batch_execute("UPDATE models SET tag = 'SG-01'").unwrap();
    fs::remove_dir_all(to).unwrap();
}

#[test]
fn after_an_erasure_neither_backup_nor_archive_holds_what_was_erased() {
    let (world, to) = club();
    world.add("members", json!({ "tag": "XY", "name": "Xaver Ypsilon", "roles": ["pilot"] }));
    let find = |bytes: &[u8]| bytes.windows(5).any(|part| part == b"Xaver");
    let database_of = |made: &Made| {
        let mut zip = zip::ZipArchive::new(fs::File::open(&made.file).unwrap()).unwrap();
        let mut bytes = Vec::new();
        std::io::Read::read_to_end(&mut zip.by_name("preen.db").unwrap(), &mut bytes).unwrap();
        bytes
    };
    assert!(find(&database_of(&back_up(&world, &to, &Seal::Open, None, 8).unwrap())), "before, it is there");
    world.av.post("/members/XY/erasure", &json!({})).expect(200);
    // Not even in what the database has free of its file.
    assert!(!find(&database_of(&back_up(&world, &to, &Seal::Open, None, 9).unwrap())));
    let archive = world.export();
    for name in super::archive::names(&archive).iter().filter(|name| !name.starts_with("photos/")) {
        assert!(!super::archive::text_of(&archive, name).contains("Xaver"), "{name}");
    }
    fs::remove_dir_all(to).unwrap();
}

#[test]
fn a_servers_own_tools_keep_a_record_whole() {
    let world = World::begin(Database::Postgres);
    world.small_fleet();
    world.add("flights", flight("SG-01", "AV", "2026-05-20T10:00:00Z"));
    let Place::Server(from) = &world.place else { unreachable!() };
    let folder = scratch("preen-dump");
    let refused = back_up(&world, &folder, &Seal::Open, None, 8).unwrap_err().to_string();
    assert!(refused.contains("pg_dump --format=custom") && refused.contains("pg_restore"), "{refused}");
    let dump = folder.join("preen.dump");
    let made = cluster::program("pg_dump")
        .args(["--format=custom", "--file"])
        .arg(&dump)
        .arg(from)
        .output()
        .unwrap();
    assert!(made.status.success(), "{}", String::from_utf8_lossy(&made.stderr));
    let into = cluster::new_database();
    let restored = cluster::program("pg_restore")
        .args(["--exit-on-error", "--no-owner", &format!("--dbname={into}")])
        .arg(&dump)
        .output()
        .unwrap();
    assert!(restored.status.success(), "{}", String::from_utf8_lossy(&restored.stderr));
    let verdict = verify(&mut open(&Place::from_url(&into)).unwrap(), nouns::TABLES, CLUB).unwrap();
    let here = verify(&mut world.conn(), nouns::TABLES, CLUB).unwrap();
    assert_eq!((verdict.broken, verdict.head, verdict.revision), (None, here.head, here.revision));
    let (other, photos) = (World::nothing(Database::Postgres), world.photos.clone());
    let served = other.serving(&Place::from_url(&into), &photos, &world);
    let (one, two) = (everything(&world.av, &[], &[2]), everything(&served.av, &[], &[2]));
    assert_eq!(unlike(&one, &two), Vec::<String>::new());
    fs::remove_dir_all(folder).unwrap();
}

/// What backups of a folder are waited for.
type Wanted<'a> = dyn Fn(&[(PathBuf, Instant)]) -> bool + 'a;

#[test]
fn the_service_makes_backups_by_itself_and_keeps_the_newest() {
    let (world, to) = club();
    let job = |records: Place| Job {
        records,
        photos: world.photos.clone(),
        folder: to.clone(),
        seal: Seal::Open,
        keep: Some(2),
        clock: Clock::System,
    };
    let schedule =
        |every: Duration| Schedule { job: job(world.place.clone()), every, meters: BackupMeters::default() };
    let good = || list(&to).map(|(good, _)| good).unwrap_or_default();
    let first_of = |wanted: &Wanted<'_>| {
        // A slow machine takes longer, a broken one forever.
        for _ in 0..1_200 {
            let made = good();
            if wanted(&made) {
                return made;
            }
            rest(Duration::from_millis(100));
        }
        panic!("no backup in two minutes: {:?}", good());
    };
    let running = start(schedule(Duration::from_millis(20))).unwrap();
    let first = first_of(&|made| !made.is_empty())[0].0.clone();
    world.add("flights", flight("SG-01", "AV", "2026-05-20T10:00:00Z"));
    let rotated = first_of(&|made| made.len() == 2 && made.iter().all(|(path, _)| *path != first));
    // It ends with what it is making, and leaves nothing half.
    drop(running);
    let last = good();
    assert!(last.len() <= 3 && last[last.len() - 1].1 >= rotated[1].1, "{last:?}");
    // One that is young enough is not made again at the start.
    let idle = start(schedule(Duration::from_secs(86_400))).unwrap();
    rest(Duration::from_millis(500));
    drop(idle);
    assert_eq!(good(), last);
    let postgres = Schedule {
        job: job(Place::from_url("postgres://127.0.0.1/x")),
        every: Duration::ZERO,
        meters: BackupMeters::default(),
    };
    assert!(start(postgres).is_err(), "a server has tools of its own");
}
