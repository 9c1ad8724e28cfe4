//! What `preen-server` does for each of its commands. The only room besides the demonstration that prints.

mod backups;
mod settings;
pub mod taken_in;

use std::io::Write as _;
use std::process::ExitCode;

use clap::Parser as _;
use preen_domain::time::Instant;
use tracing_subscriber::EnvFilter;

use self::settings::Wrong;
use crate::access::tokens::is_club_name;
use crate::audit::verify;
use crate::config::{
    Cli, Command, DatabaseArgs, InitArgs, MigrateArgs, ServeArgs, Way, bucket_settings, log_filter,
};
use crate::db::conn::{Db, OpenError, Place, open};
use crate::db::replica::ReplicaPlace;
use crate::db::upgrade::upgrade;
use crate::db::{migrate, partition};
use crate::demo;
use crate::openapi;
use crate::photos::place::PhotoPlace;
use crate::resources::{nouns, setup};
use crate::server::{self, Config};
use crate::state::Clock;
use crate::tls::{Shield, TlsFiles};
use crate::watch::Upkeep;

type Outcome = Result<ExitCode, Box<dyn std::error::Error>>;

/// Reads the arguments and does what they say.
pub fn run() -> ExitCode {
    let cli = Cli::parse();
    let command = cli.command.unwrap_or(Command::Serve(cli.serve));
    // The demonstration talks to people: thousands of logged requests would drown it.
    let usual = if matches!(command, Command::Demo(_)) { "warn" } else { "warn,preen_api=info" };
    let outcome = start_logging(usual).map_err(Into::into).and_then(|()| carry_out(command));
    outcome.unwrap_or_else(|error| {
        let _ = writeln!(std::io::stderr(), "preen-server: {error}");
        ExitCode::from(3)
    })
}

fn carry_out(command: Command) -> Outcome {
    match command {
        Command::Serve(args) => serve(&args),
        Command::Init(args) => init(&args),
        Command::Migrate(args) => migrate_tables(&args),
        Command::Backup(args) => backups::backup(&args),
        Command::Restore(args) => backups::restore(&args),
        Command::BackupKey(args) => backups::new_key(&args),
        Command::Import(args) => taken_in::import(&args),
        Command::Verify(args) => verify_trails(&args),
        Command::Demo(args) => demo::run::run(&args, &mut std::io::stdout()).map_err(Into::into),
        Command::Openapi => say(openapi::describe_as_json().trim_end()).map(|()| ExitCode::SUCCESS),
    }
}

fn start_logging(usual: &str) -> Result<(), Wrong> {
    let wished = log_filter().unwrap_or_else(|| usual.into());
    let read = wished.to_str().ok_or("it is not UTF-8".to_owned());
    let read = read.and_then(|text| {
        settings::check_log(text)?;
        EnvFilter::builder().parse(text).map_err(|error| error.to_string())
    });
    let filter = read.map_err(|error| {
        let advice = "Write error, warn, info or debug, or such a word for one part: preen_api=debug.";
        Wrong::new("PREEN_LOG", format!("{error}. {advice}"))
    })?;
    // A second subscriber in one process is refused; the first one stays.
    let _ = tracing_subscriber::fmt().json().with_env_filter(filter).with_writer(std::io::stderr).try_init();
    // The usual words of a panic hold values, and are no JSON.
    std::panic::set_hook(Box::new(|panic| {
        let place = panic.location().map(ToString::to_string);
        tracing::error!(place, "a defect of the program ended what was under way");
    }));
    Ok(())
}

fn say(text: &str) -> Result<(), Box<dyn std::error::Error>> {
    Ok(writeln!(std::io::stdout(), "{text}")?)
}

fn serve(args: &ServeArgs) -> Outcome {
    settings::check_names()?;
    let files = args.tls_cert.clone().zip(args.tls_key.clone());
    let shield = Shield {
        tls: files.map(|(cert, key)| TlsFiles { cert, key }),
        is_behind_proxy: args.behind_tls_proxy,
    };
    shield.check(args.listen).map_err(|error| Wrong::new(settings::LISTEN, error))?;
    let place = Place::from_url(&args.database.database);
    settings::check_backups(args, &place)?;
    let job = backups::job(args, &place)?;
    let photos = args.photos.as_deref().map(|place| PhotoPlace::from_setting(place, bucket_settings()));
    let replica = args.replica.as_deref().map(|url| ReplicaPlace::of(&place, url, args.replica_max_lag));
    let config = Config {
        place,
        replica: replica.transpose().map_err(|error| Wrong::new(settings::REPLICA, error))?,
        photos: photos.transpose().map_err(|error| Wrong::new(settings::PHOTOS, error))?,
        listen: args.listen,
        clock: Clock::System,
        workers: None,
    };
    let upkeep = Upkeep {
        fleet_bytes: args.fleet_memory,
        min_free_bytes: args.min_free,
        takes_signals: true,
        metrics_token: settings::metrics_token(args)?,
        ..Upkeep::default()
    };
    let running = server::start_kept(&config, &shield, upkeep)
        .map_err(|error| settings::of_start(&error, &config.place))?;
    say(&format!("Preen serves {} at {}", config.place, running.url()))?;
    let schedule = backups::schedule(args, job, running.state.watch.meters.backups.clone())?;
    running.wait()?;
    // A backup under way may break off at any moment; the next one clears up behind it.
    if let Some(schedule) = schedule {
        schedule.leave();
    }
    Ok(ExitCode::SUCCESS)
}

fn init(args: &InitArgs) -> Outcome {
    if !is_club_name(&args.club) {
        return Err(format!(
            "`{}` cannot be a club's short name: 2 to 40 small letters, digits and `-`, a letter first",
            args.club
        )
        .into());
    }
    let mut conn = open(&Place::from_url(&args.database.database))?;
    upgrade(&mut conn, nouns::TABLES)?;
    let name = args.name.as_deref().unwrap_or(&args.club);
    let code = setup::store::create_club(&mut conn, &args.club, name, args.time_zone, Clock::System.now())?;
    let Some(code) = code else {
        let place = Place::from_url(&args.database.database);
        return Err(format!("there is a club `{}` in {place} already", args.club).into());
    };
    say(&format!("Created the club {} ({name}, {}).", args.club, args.time_zone))?;
    say(&format!("Set-up code, good for one use: {code}"))?;
    say(
        "Start `preen-server serve`, then send it with the first member (the keeper) to POST /api/v1/setup.",
    )?;
    Ok(ExitCode::SUCCESS)
}

/// Opens records that must exist already.
fn open_existing(args: &DatabaseArgs) -> Result<Db, OpenError> {
    let place = Place::from_url(&args.database);
    if let Place::File(path) = &place
        && !path.exists()
    {
        return Err(OpenError::Missing(path.display().to_string()));
    }
    open(&place)
}

fn migrate_tables(args: &MigrateArgs) -> Outcome {
    match args.way {
        Way::Up => {
            let mut conn = open(&Place::from_url(&args.database.database))?;
            let applied = upgrade(&mut conn, nouns::TABLES)?;
            if applied.is_empty() {
                say("Up to date: nothing to apply.")?;
            }
            for version in applied {
                say(&format!("applied {version}"))?;
            }
            if let Some(parts) = args.partitions {
                partition::split(&mut conn, parts)?;
                say(&format!("Split into {parts} parts by club."))?;
            }
        }
        Way::Down => match migrate::down(&mut open_existing(&args.database)?)? {
            Some(version) => say(&format!("took back {version}"))?,
            None => say("No migration is applied.")?,
        },
        Way::List => {
            let standing = migrate::standing(&mut open_existing(&args.database)?)?;
            for version in standing.applied {
                say(&format!("applied {version}"))?;
            }
            for version in standing.pending {
                say(&format!("pending {version}"))?;
            }
        }
    }
    Ok(ExitCode::SUCCESS)
}

fn verify_trails(args: &DatabaseArgs) -> Outcome {
    let mut conn = open_existing(args)?;
    let standing = migrate::standing(&mut conn)?;
    if !standing.pending.is_empty() {
        return Err("the tables are not up to date; run `preen-server migrate up` first".into());
    }
    let mut is_whole = true;
    for club in setup::store::list_clubs(&mut conn)? {
        let verdict = verify::verify(&mut conn, nouns::TABLES, &club)?;
        match &verdict.broken {
            None => say(&format!(
                "{club}: {} entries hold, revision {}, head {}",
                verdict.entries, verdict.revision, verdict.head
            ))?,
            Some(found) => {
                is_whole = false;
                say(&format!(
                    "{club}: BROKEN at revision {} entry {} ({} {}): {}. {} entries before it hold.",
                    found.revision, found.ordinal, found.noun, found.fact_id, found.text, verdict.entries
                ))?;
            }
        }
    }
    Ok(if is_whole { ExitCode::SUCCESS } else { ExitCode::from(2) })
}

/// The clock that a start instant asks for.
#[must_use]
pub fn clock_from(start: Option<Instant>) -> Clock {
    start.map_or(Clock::System, Clock::starting_at)
}
