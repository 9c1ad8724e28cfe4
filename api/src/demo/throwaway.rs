//! A club for one run: a new database, a service in this process, and all rows recorded through its REST API.

use std::{
    net::SocketAddr,
    path::{Path, PathBuf},
};

use preen_domain::{facts::Fact, time::Instant};
use serde_json::json;

use super::{access::Tokens, error::DemoError, load::load, progress::Progress, rest::Rest};
use crate::{
    db::{
        conn::{Place, open},
        migrate,
    },
    exchange::tables::{Club, Faults, is_keeper},
    photos::place::PhotoPlace,
    resources::setup::store::create_club,
    server::{self, Config, Running},
    state::Clock,
    tls::Shield,
    watch::Upkeep,
};

/// A club in a database of its own, served by this process.
pub struct Throwaway {
    /// The service.
    pub running: Running,
    code: String,
    file: PathBuf,
}

/// Access to a club that was loaded.
pub struct Loaded {
    /// The keeper's access, with every scope.
    pub keeper: Rest,
    /// A token of each member.
    pub tokens: Tokens,
}

impl Throwaway {
    /// Makes an empty club in a new database, in the place of an earlier one of that name, and serves it with a
    /// clock that starts at `now` and ticks.
    ///
    /// # Errors
    /// The folder, the database or the address cannot be used.
    pub fn start(club: &Club, file: &Path, now: Instant, listen: SocketAddr) -> Result<Self, DemoError> {
        if let Some(folder) = file.parent() {
            std::fs::create_dir_all(folder).map_err(|error| DemoError::Folder(folder.to_owned(), error))?;
        }
        throw_away(file)?;
        let place = Place::File(file.to_owned());
        let mut conn = open(&place)?;
        migrate::up(&mut conn)?;
        let named = &club.club;
        let short = named.short_name.as_str();
        let code = create_club(&mut conn, short, &named.title, named.time_zone, now)?;
        drop(conn);
        let config = Config {
            place,
            listen,
            clock: Clock::starting_at(now),
            photos: Some(PhotoPlace::Folder(pictures_of(file))),
            workers: None,
            replica: None,
        };
        // Ctrl-C is how a demonstration ends.
        let upkeep = Upkeep { takes_signals: true, ..Upkeep::default() };
        let running = server::start_kept(&config, &Shield::default(), upkeep)?;
        Ok(Self { running, code: code.unwrap_or_default(), file: file.to_owned() })
    }

    /// Lets the keeper in with the set-up code, who then records all rows and makes a token for each member.
    ///
    /// # Errors
    /// The service refuses a row, or does not answer.
    pub async fn fill(&self, club: &Club, progress: &Progress) -> Result<Loaded, DemoError> {
        let rest = Rest::new(&self.running.url(), "");
        let keeper = club.rows.iter().find(|row| is_keeper(&row.fact));
        let Some(Fact::Member(member)) = keeper.map(|row| &row.fact) else {
            return Err(Faults::of_file("members.csv", "nobody is keeper").into());
        };
        let wanted = json!({ "club": club.club.short_name, "code": self.code, "member": member });
        let begun = rest.post("setup", &wanted).await?;
        let token = begun.pointer("/token/token").and_then(|token| token.as_str()).unwrap_or_default();
        let keeper = rest.with_token(token);
        load(&keeper, &club.rows, progress).await?;
        let tokens = Tokens::make(&keeper, &club.rows).await?;
        Ok(Loaded { keeper, tokens })
    }

    /// Stops it and throws its database away.
    ///
    /// # Errors
    /// The database cannot be removed.
    pub fn end(self) -> Result<(), DemoError> {
        self.running.stop();
        throw_away(&self.file)
    }
}

/// The folder for pictures, whose name says whose it is.
fn pictures_of(file: &Path) -> PathBuf {
    let mut name = file.as_os_str().to_owned();
    name.push("-photos");
    PathBuf::from(name)
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
    let pictures = pictures_of(file);
    if pictures.exists() {
        std::fs::remove_dir_all(&pictures).map_err(|error| DemoError::Folder(pictures, error))?;
    }
    Ok(())
}
