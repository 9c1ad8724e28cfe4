//! A club on a running service, for a program that is no part of this workspace to try: starts both, hands the
//! program address and token, and looks after it whether the record still holds.
//!
//! `served DATABASE CLUB COMMAND…`, with `sqlite` or `postgres`, and `demo` (the demo club with all its rows) or
//! `ordinary` (a small fleet). The command finds `PREEN_URL`, `PREEN_TOKEN` and `PREEN_TOKEN_ID` in its
//! environment. What it did must leave the access it was given, a trail that holds, and a Fleet in memory that a
//! rebuild from nothing gives; the status is then the command's own.

use std::process::{Command, ExitCode};

use preen_tests::{Database, World};

const USAGE: &str = "usage: served sqlite|postgres demo|ordinary COMMAND [ARGUMENT…]";

fn main() -> ExitCode {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    let [database, club, program, rest @ ..] = arguments.as_slice() else {
        eprintln!("{USAGE}");
        return ExitCode::from(3);
    };
    let database = match database.as_str() {
        "sqlite" => Database::Sqlite,
        "postgres" => Database::Postgres,
        _ => {
            eprintln!("{USAGE}");
            return ExitCode::from(3);
        }
    };
    let world = match club.as_str() {
        "demo" => World::demo(database),
        "ordinary" => {
            let world = World::begin(database);
            world.small_fleet();
            world.component("PN-1", "PANEL");
            world.component("SV-1", "SV08");
            world
        }
        _ => {
            eprintln!("{USAGE}");
            return ExitCode::from(3);
        }
    };
    let before = world.av.get("/session").expect(200).json();
    let token_id = world.av.get("/tokens").expect(200).json()["items"][0]["id"].clone();
    let status = Command::new(program)
        .args(rest)
        .env("PREEN_URL", world.url())
        .env("PREEN_TOKEN", &world.av.token)
        .env("PREEN_TOKEN_ID", token_id.as_str().unwrap())
        .status()
        .unwrap_or_else(|error| panic!("{program}: {error}"));
    // A program that took its own access away was told 401 from then on, and tried nothing.
    let after = world.av.get("/session").expect(200).json();
    assert_eq!(after["roles"], before["roles"], "the command lost what it may do");
    assert_eq!(after["scopes"], before["scopes"], "the command lost what it may do");
    let revision = world.av.get("/club").expect(200).json()["revision"].clone();
    // Looks whether the record holds.
    drop(world);
    eprintln!("{database:?}, {club}: the record holds at revision {revision}");
    status.code().map_or(ExitCode::FAILURE, |code| ExitCode::from(u8::try_from(code).unwrap_or(1)))
}
