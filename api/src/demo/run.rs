//! `preen-server demo`: two throw-away clubs of the same tables, one to serve and one to try things on.

use std::{
    io::Write,
    net::{SocketAddr, TcpListener},
    path::{Path, PathBuf},
    process::ExitCode,
    time::Duration,
};

use preen_domain::{facts::Fact, time::day_of};
use serde_json::json;

use super::{
    access::Tokens,
    load::load,
    progress::Progress,
    rest::{Rest, RestError},
    show, tables,
};
use crate::{
    access::tokens::is_club_name,
    config::DemoArgs,
    db::{
        conn::{OpenError, Place, open},
        door::DoorError,
        migrate,
    },
    exchange::tables::{Club, Faults, Source, is_keeper, read_club},
    resources::setup::store::create_club,
    server::{self, Config, Running, StartError},
    state::Clock,
};

/// The database that is served.
const SERVED: &str = "demo.db";
/// The database on which the demonstration tries things; gone when it has.
const TRIAL: &str = "demo-trial.db";

/// Why there is no demonstration.
#[derive(Debug, thiserror::Error)]
pub enum DemoError {
    /// It must not be reachable from elsewhere.
    #[error(
        "{0} can be reached from other machines: the demonstration listens on this one only, as on 127.0.0.1:8026"
    )]
    NotLoopback(SocketAddr),
    /// Something else listens there.
    #[error("cannot listen on {0}: {1}. Choose another with --listen, such as 127.0.0.1:0 for a free one")]
    Listen(SocketAddr, std::io::Error),
    /// The tables are wrong.
    #[error("the tables cannot be loaded:\n{0}")]
    Tables(#[from] Faults),
    /// The short name is none.
    #[error(
        "club.csv: `{0}` cannot be a club's short name: 2 to 40 small letters, digits and `-`, a letter first"
    )]
    ShortName(String),
    /// The service refused or did not answer.
    #[error(transparent)]
    Rest(#[from] RestError),
    /// The folder cannot be used.
    #[error("{0}: {1}")]
    Folder(PathBuf, std::io::Error),
    /// The database cannot be used.
    #[error(transparent)]
    Open(#[from] OpenError),
    /// The club cannot be made.
    #[error(transparent)]
    Door(#[from] DoorError),
    /// The service does not start.
    #[error(transparent)]
    Start(#[from] StartError),
    /// What was to be said could not be.
    #[error(transparent)]
    Say(#[from] std::io::Error),
}

/// Loads, shows and serves.
///
/// # Errors
/// The arguments or tables are wrong, or something fails on the way.
pub fn run(args: &DemoArgs, out: &mut impl Write) -> Result<ExitCode, DemoError> {
    if !args.listen.ip().is_loopback() {
        return Err(DemoError::NotLoopback(args.listen));
    }
    let club = match &args.from {
        None => tables::read()?,
        Some(folder) => read_club(&Source::of_folder(folder)?)?,
    };
    if !is_club_name(club.club.short_name.as_str()) {
        return Err(DemoError::ShortName(club.club.short_name.to_string()));
    }
    // Before anything of an earlier run is thrown away: is that run over?
    drop(TcpListener::bind(args.listen).map_err(|error| DemoError::Listen(args.listen, error))?);
    let served = Throwaway::start(&club, args, SERVED, args.listen)?;
    let free = SocketAddr::new(args.listen.ip(), 0);
    let trial = Throwaway::start(&club, args, TRIAL, free)?;
    let asked = actix_web::rt::System::new().block_on(tell(&club, args, (&served, &trial), out));
    let env = trial.end().and(asked)?;
    if args.once {
        served.running.stop();
        return Ok(ExitCode::SUCCESS);
    }
    writeln!(out, "\n{} serves {} until you stop it (Ctrl-C).", served.running.url(), club.club.title)?;
    writeln!(out, "Access for another terminal: source {}", env.display())?;
    out.flush()?;
    served.running.wait()?;
    Ok(ExitCode::SUCCESS)
}

/// Loads both clubs, writes the file of tokens and shows what the service is for.
async fn tell(
    club: &Club,
    args: &DemoArgs,
    (served, trial): (&Throwaway, &Throwaway),
    out: &mut impl Write,
) -> Result<PathBuf, DemoError> {
    let started = std::time::Instant::now();
    let mut progress = Progress::new("loading two clubs through the REST API", 2 * club.rows.len());
    let keeper = served.fill(club, &mut progress).await?;
    let loaded = started.elapsed();
    let tokens = Tokens::make(&keeper, &club.rows).await?;
    let env = tokens.write_env(&args.data, &served.running.url())?;
    let trial_keeper = trial.fill(club, &mut progress).await?;
    writeln!(out, "{}", loaded_line(club, loaded))?;
    let trial_tokens = Tokens::make(&trial_keeper, &club.rows).await?;
    let today = day_of(args.now, club.club.time_zone);
    let stage = show::Stage { rest: &trial_keeper, tokens: &trial_tokens, now: args.now, today };
    stage.board(out).await?;
    if args.from.is_none() {
        stage.main_job(out).await?;
    }
    stage.overdue(out).await?;
    show::what_to_try(out, &env, args.from.is_none())?;
    Ok(env)
}

fn loaded_line(club: &Club, took: Duration) -> String {
    let (rows, title) = (club.rows.len(), &club.club.title);
    format!("{title}: {rows} facts recorded through the REST API in {:.1} s.", took.as_secs_f64())
}

/// A club in a database of its own, served by this process.
struct Throwaway {
    running: Running,
    code: String,
    file: PathBuf,
}

impl Throwaway {
    fn start(club: &Club, args: &DemoArgs, name: &str, listen: SocketAddr) -> Result<Self, DemoError> {
        std::fs::create_dir_all(&args.data).map_err(|error| DemoError::Folder(args.data.clone(), error))?;
        let file = args.data.join(name);
        throw_away(&file)?;
        let place = Place::File(file.clone());
        let mut conn = open(&place)?;
        migrate::up(&mut conn)?;
        let named = &club.club;
        let short = named.short_name.as_str();
        let code = create_club(&mut conn, short, &named.title, named.time_zone, args.now)?;
        drop(conn);
        let workers = (name == TRIAL).then_some(1);
        let running = server::start(&Config { place, listen, clock: Clock::starting_at(args.now), workers })?;
        Ok(Self { running, code: code.unwrap_or_default(), file })
    }

    /// Lets the keeper in with the set-up code, who then records all rows.
    async fn fill(&self, club: &Club, progress: &mut Progress) -> Result<Rest, DemoError> {
        let rest = Rest::new(&self.running.url(), "");
        let keeper = club.rows.iter().find(|row| is_keeper(&row.fact));
        let member = match keeper.map(|row| &row.fact) {
            Some(Fact::Member(member)) => member,
            _ => return Err(Faults::of_file("members.csv", "nobody is keeper").into()),
        };
        let wanted = json!({ "club": club.club.short_name, "code": self.code, "member": member });
        let begun = rest.post("setup", &wanted).await?;
        let token = begun.pointer("/token/token").and_then(|token| token.as_str()).unwrap_or_default();
        let rest = rest.with_token(token);
        load(&rest, &club.rows, progress).await?;
        Ok(rest)
    }

    /// Stops it and throws its database away.
    fn end(self) -> Result<(), DemoError> {
        self.running.stop();
        throw_away(&self.file)
    }
}

/// Removes a database of an earlier run with what stands beside it.
fn throw_away(file: &Path) -> Result<(), DemoError> {
    for suffix in ["", "-wal", "-shm"] {
        let mut name = file.as_os_str().to_owned();
        name.push(suffix);
        let path = PathBuf::from(name);
        if path.exists() {
            std::fs::remove_file(&path).map_err(|error| DemoError::Folder(path, error))?;
        }
    }
    Ok(())
}
