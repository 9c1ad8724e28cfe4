//! The records on disk: migrations up and down, and files that cannot be used.

use std::path::PathBuf;

use diesel::connection::SimpleConnection;
use preen_api::db::conn::{Db, OpenError, Place, open};
use preen_api::db::migrate;
use preen_api::server::{Config, start};
use preen_api::state::Clock;
use preen_tests::cluster;
use preen_tests::on_both;
use preen_tests::world::{lines, model, new_id, scratch};
use serde_json::json;

/// Everything the catalogue knows of tables, columns, keys and indexes, as sorted lines.
fn catalogue(conn: &mut Db) -> Vec<String> {
    let query = match conn {
        Db::Sqlite(_) => {
            "SELECT type || ' ' || name || ' ' || COALESCE(sql, '') AS line FROM sqlite_master \
             WHERE name NOT LIKE '\\_\\_%' ESCAPE '\\' AND name NOT LIKE 'sqlite_%' ORDER BY 1"
        }
        Db::Postgres(_) => {
            "SELECT line FROM ( \
               SELECT table_name || '.' || column_name || ' ' || data_type || ' ' || is_nullable AS line \
                 FROM information_schema.columns WHERE table_schema = 'public' \
               UNION ALL SELECT indexdef FROM pg_indexes WHERE schemaname = 'public' \
               UNION ALL SELECT conrelid::regclass::text || ' ' || pg_get_constraintdef(oid) FROM pg_constraint \
                 WHERE connamespace = 'public'::regnamespace \
             ) AS known WHERE line NOT LIKE '%diesel%' ORDER BY 1"
        }
    };
    lines(conn, query)
}

#[test]
fn migrations_go_up_down_and_up_to_the_same_tables() {
    let folder = scratch("preen-migrate");
    for place in [Place::File(folder.join("preen.db")), Place::from_url(&cluster::new_database())] {
        let mut conn = open(&place).unwrap();
        let applied = migrate::up(&mut conn).unwrap();
        assert!(applied.len() >= 2);
        let first = catalogue(&mut conn);
        assert!(first.len() > 40, "{first:?}");
        assert_eq!(migrate::up(&mut conn).unwrap(), Vec::<String>::new());
        let mut taken_back = Vec::new();
        while let Some(version) = migrate::down(&mut conn).unwrap() {
            taken_back.push(version);
        }
        taken_back.reverse();
        assert_eq!(taken_back, applied);
        assert_eq!(catalogue(&mut conn), Vec::<String>::new());
        migrate::up(&mut conn).unwrap();
        assert_eq!(catalogue(&mut conn), first);
    }
    std::fs::remove_dir_all(folder).unwrap();
}

#[test]
fn both_databases_have_the_same_migrations() {
    let names = |database: &str| {
        let folder = PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("../migrations").join(database);
        let mut names: Vec<String> = std::fs::read_dir(folder)
            .unwrap()
            .map(|entry| entry.unwrap())
            .inspect(|entry| {
                for file in ["up.sql", "down.sql"] {
                    assert!(entry.path().join(file).is_file(), "{:?} has no {file}", entry.path());
                }
            })
            .map(|entry| entry.file_name().into_string().unwrap())
            .collect();
        names.sort();
        names
    };
    assert_eq!(names("sqlite"), names("postgres"));
    assert!(names("sqlite").len() >= 2);
}

#[test]
fn every_reference_between_rows_stays_in_its_club_and_has_an_index() {
    let mut conn = open(&Place::from_url(&cluster::new_database())).unwrap();
    migrate::up(&mut conn).unwrap();
    let query = "SELECT conrelid::regclass::text || ' ' || pg_get_constraintdef(oid) AS line FROM pg_constraint \
                 WHERE contype = 'f' AND connamespace = 'public'::regnamespace";
    let keys = lines(&mut conn, query);
    assert!(keys.len() > 40);
    for key in &keys {
        assert!(
            key.contains("FOREIGN KEY (club_id, ") || key.contains("FOREIGN KEY (club_id) REFERENCES clubs"),
            "{key:?}"
        );
    }
    // A foreign key's columns must lead some index of its table.
    let query = "SELECT c.conrelid::regclass::text || ' ' || pg_get_constraintdef(c.oid) AS line \
                 FROM pg_constraint c WHERE c.contype = 'f' AND c.connamespace = 'public'::regnamespace \
                 AND NOT EXISTS (SELECT 1 FROM pg_index i WHERE i.indrelid = c.conrelid \
                   AND (i.indkey::int2[])[0:array_length(c.conkey, 1) - 1] = c.conkey)";
    let bare = lines(&mut conn, query);
    assert_eq!(bare, Vec::<String>::new());
}

fn start_on(path: PathBuf) -> String {
    let config = Config {
        place: Place::File(path),
        listen: "127.0.0.1:0".parse().unwrap(),
        clock: Clock::System,
        photos: None,
        workers: Some(1),
        replica: None,
    };
    match start(&config) {
        Ok(running) => {
            running.stop();
            "it started".to_owned()
        }
        Err(error) => error.to_string(),
    }
}

#[test]
fn a_file_that_is_no_database_is_refused_and_left_alone() {
    let folder = scratch("preen-no-database");
    let path = folder.join("letter.db");
    let letter = "Dear club, this is a letter and no database at all. ".repeat(100);
    std::fs::write(&path, &letter).unwrap();
    assert!(start_on(path.clone()).contains("is not a database"), "{}", start_on(path.clone()));
    assert_eq!(std::fs::read_to_string(&path).unwrap(), letter);
    assert!(start_on(folder.clone()).contains("is not a database"));
    std::fs::remove_dir_all(folder).unwrap();
}

#[test]
fn a_read_only_file_is_refused() {
    let folder = scratch("preen-read-only");
    let path = folder.join("preen.db");
    assert_eq!(start_on(path.clone()), "it started");
    let mut permissions = std::fs::metadata(&path).unwrap().permissions();
    permissions.set_readonly(true);
    std::fs::set_permissions(&path, permissions).unwrap();
    assert!(start_on(path).contains("is read-only"));
    std::fs::remove_dir_all(folder).unwrap();
}

#[test]
fn records_of_a_newer_version_are_refused_on_both_databases() {
    let folder = scratch("preen-newer");
    for place in [Place::File(folder.join("preen.db")), Place::from_url(&cluster::new_database())] {
        let mut conn = open(&place).unwrap();
        migrate::up(&mut conn).unwrap();
        conn.batch_execute("INSERT INTO __diesel_schema_migrations (version) VALUES ('20991231000000')")
            .unwrap();
        let refused = migrate::up(&mut conn).unwrap_err();
        assert!(matches!(&refused, OpenError::TooNew(version) if version == "20991231000000"), "{refused}");
        assert!(refused.to_string().contains("newer version"), "{refused}");
        let config = Config {
            place: place.clone(),
            listen: "127.0.0.1:0".parse().unwrap(),
            clock: Clock::System,
            photos: None,
            workers: Some(1),
            replica: None,
        };
        assert!(start(&config).is_err());
    }
    std::fs::remove_dir_all(folder).unwrap();
}

on_both!(the_database_itself_keeps_a_part_in_one_place, |world| {
    world.small_fleet();
    world.add("models", model("SG-02", "AV"));
    for tag in ["PN-1", "PN-2"] {
        world.component(tag, "PANEL");
    }
    let first = world.fit("PN-1", json!({ "model": "SG-01" }), "W.C", "2026-05-01T08:00:00Z");
    world.fit("PN-2", json!({ "model": "SG-02" }), "W.C", "2026-05-01T08:00:00Z");
    let mut conn = world.conn();
    let second = "SELECT component FROM now_fitted WHERE installation <>";
    let there = "SELECT inside FROM now_fitted WHERE installation =";
    let refused = conn.batch_execute(&format!(
        "UPDATE now_fitted SET inside = ({there} '{first}') WHERE component = ({second} '{first}')"
    ));
    assert!(refused.is_err(), "two components in one position");
    let refused = conn.batch_execute(&format!(
        "INSERT INTO now_fitted SELECT club_id, component, inside, 'F', installation FROM now_fitted \
         WHERE installation = '{first}'"
    ));
    assert!(refused.is_err(), "one component in two positions");
});

on_both!(what_is_fitted_now_follows_removals_and_corrections, |world| {
    world.small_fleet();
    world.component("PN-1", "PANEL");
    let count = || preen_api::db::fitted::stored(&mut world.conn(), "quillmarsh").unwrap().len();
    let id = world.fit("PN-1", json!({ "model": "SG-01" }), "W.C", "2026-05-01T08:00:00Z");
    assert_eq!(count(), 1);
    let out = json!({ "id": new_id(), "occurred_at": "2026-05-02T08:00:00Z", "reason": "upgrade" });
    world.av.post("/components/PN-1/remove", &out).expect(201);
    assert_eq!(count(), 0);
    let void = json!({ "id": new_id(), "reason": "it stayed in", "is_void": true });
    let removal = out["id"].as_str().unwrap();
    world.av.post(&format!("/removals/{removal}/correction"), &void).expect(201);
    assert_eq!(count(), 1);
    let void = json!({ "id": new_id(), "reason": "it never was in", "is_void": true });
    world.av.post(&format!("/installations/{id}/correction"), &void).expect(201);
    assert_eq!(count(), 0);
});
