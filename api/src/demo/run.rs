//! `preen-server demo`: two throw-away clubs of the same tables, one to serve and one to try things on.

use std::{
    io::{ErrorKind, Write},
    net::{SocketAddr, TcpListener},
    path::PathBuf,
    process::ExitCode,
    time::Duration,
};

use futures_util::future;
use preen_domain::time::day_of;

use super::{
    error::DemoError,
    progress::Progress,
    show, tables,
    throwaway::{Loaded, Throwaway},
};
use crate::{
    access::tokens::is_club_name,
    config::DemoArgs,
    exchange::tables::{Club, Source, read_club},
};

/// The database that is served.
const SERVED: &str = "demo.db";
/// The database on which the demonstration tries things; gone when it has.
const TRIAL: &str = "demo-trial.db";

/// Loads, shows and serves; ends quietly when nobody reads on, as behind `head`.
///
/// # Errors
/// The arguments or tables are wrong, or something fails on the way.
pub fn run(args: &DemoArgs, out: &mut impl Write) -> Result<ExitCode, DemoError> {
    match show_and_serve(args, out) {
        Err(DemoError::Say(error)) if error.kind() == ErrorKind::BrokenPipe => Ok(ExitCode::SUCCESS),
        ended => ended,
    }
}

fn show_and_serve(args: &DemoArgs, out: &mut impl Write) -> Result<ExitCode, DemoError> {
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
    let served = Throwaway::start(&club, &args.data.join(SERVED), args.now, args.listen)?;
    let free = SocketAddr::new(args.listen.ip(), 0);
    let trial = Throwaway::start(&club, &args.data.join(TRIAL), args.now, free)?;
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
    let progress = Progress::new("loading two clubs through the REST API", 2 * club.rows.len());
    let (served_loaded, trial_loaded) =
        future::try_join(served.fill(club, &progress), trial.fill(club, &progress)).await?;
    let mut served_tokens = served_loaded.tokens;
    served_tokens.set_password(&served_loaded.keeper).await?;
    let env = served_tokens.write_env(&args.data, &served.running.url())?;
    writeln!(out, "{}", loaded_line(club, started.elapsed()))?;
    let Loaded { keeper, tokens } = &trial_loaded;
    let today = day_of(args.now, club.club.time_zone);
    let stage = show::Stage { rest: keeper, tokens, now: args.now, today };
    stage.board(out).await?;
    if args.from.is_none() {
        stage.main_job(out).await?;
    }
    stage.overdue(out).await?;
    let pages = show::Pages {
        url: served.running.url(),
        club: club.club.short_name.to_string(),
        member: served_tokens.usual_member().unwrap_or_default().to_owned(),
        password: served_tokens.password().unwrap_or_default().to_owned(),
    };
    show::what_to_try(out, &env, args.from.is_none(), &pages)?;
    Ok(env)
}

fn loaded_line(club: &Club, took: Duration) -> String {
    let (rows, title) = (club.rows.len(), &club.club.title);
    format!("{title}: {rows} facts recorded through the REST API, twice, in {:.1} s.", took.as_secs_f64())
}
