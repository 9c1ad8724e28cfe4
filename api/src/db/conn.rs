//! One connection type over embedded SQLite and PostgreSQL, picked by the URL at run time.
//!
//! The only place (with `migrate`) where a statement is written for one of the two databases. Queries of the
//! nouns are in their `store.rs` and run unchanged on both.

use std::path::{Path, PathBuf};
use std::time::Duration;

use diesel::connection::{AnsiTransactionManager, SimpleConnection, TransactionManager};
use diesel::r2d2::{ManageConnection, R2D2Connection};
use diesel::result::{DatabaseErrorKind, Error};
use diesel::{Connection, ConnectionError, PgConnection, QueryResult, RunQueryDsl as _, SqliteConnection};

use super::fault::DoorError;

/// How a PostgreSQL writer begins.
const BEGIN_WITH_WAIT: &str = "BEGIN; SET LOCAL lock_timeout = '1s'";
/// The same for one club.
const BEGIN_WITH_SHORT_WAIT: &str = "BEGIN; SET LOCAL lock_timeout = '250ms'";

/// A connection to either database.
#[derive(diesel::MultiConnection)]
pub enum Db {
    /// Embedded SQLite.
    Sqlite(SqliteConnection),
    /// PostgreSQL.
    Postgres(PgConnection),
}

/// The dialect-free backend every query is written for.
pub type Backend = <Db as Connection>::Backend;

/// Where the records are kept.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Place {
    /// A file of the embedded database.
    File(PathBuf),
    /// A PostgreSQL server, by URL.
    Server(String),
}

impl Place {
    /// Reads a database URL: `postgres://…` and `postgresql://…` name a server, anything else a file
    /// (with or without `sqlite:` before it).
    #[must_use]
    pub fn from_url(url: &str) -> Self {
        if url.starts_with("postgres://") || url.starts_with("postgresql://") {
            return Self::Server(url.to_owned());
        }
        // What else looks like a URL is refused when it is opened.
        let path = url.strip_prefix("sqlite://").or_else(|| url.strip_prefix("sqlite:")).unwrap_or(url);
        Self::File(PathBuf::from(path))
    }

    /// A text about it without the password of its URL.
    #[must_use]
    pub fn without_secrets(&self, text: &str) -> String {
        let Self::Server(url) = self else { return text.to_owned() };
        let authority = url.split_once("://").map_or("", |(_, rest)| rest);
        let authority = authority.split(['/', '?']).next().unwrap_or_default();
        let of_user = authority.rsplit_once('@').and_then(|(user, _)| Some(user.split_once(':')?.1));
        let parameters = url.split_once('?').map_or("", |(_, rest)| rest);
        let named = parameters.split('&').filter_map(|part| part.split_once('='));
        let of_query = named.filter(|(name, _)| *name == "password" || *name == "sslpassword");
        let secrets = of_user.into_iter().chain(of_query.map(|(_, secret)| secret));
        secrets
            .filter(|secret| !secret.is_empty())
            .fold(text.to_owned(), |text, secret| text.replace(secret, "…"))
    }
}

impl std::fmt::Display for Place {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::File(path) => path.display().fmt(f),
            Self::Server(url) => f.write_str(&self.without_secrets(url)),
        }
    }
}

/// Why a database cannot be used. Every text says what to do about it.
#[derive(Debug, thiserror::Error)]
pub enum OpenError {
    /// The file holds something else.
    #[error("{0} is not a database. Name another file with --database, or move this one away.")]
    NotADatabase(String),
    /// The file may not be written.
    #[error("{0} is read-only. Preen must be able to write it and its folder; check the file's permissions.")]
    ReadOnly(String),
    /// There is no such file, and the command does not create one.
    #[error("{0} does not exist. Create it with `preen-server init`.")]
    Missing(String),
    /// A URL of something else.
    #[error("{0} names no database that is known: name a file, or postgres://USER@HOST/DATABASE")]
    Unknown(String),
    /// The folder of the file is not there.
    #[error("{0} would lie in a folder that does not exist. Create the folder, or name another file.")]
    NoFolder(String),
    /// The server does not let in or is not there.
    #[error(
        "{0}. See that the server runs and can be reached from here, and that host, port, database, user and password \
         in the URL are right."
    )]
    Refused(String),
    /// The records were written by a newer version.
    #[error(
        "the records carry the migration {0}, which this preen-server does not know: they were written by a \
         newer version. Use that version, or restore a backup made before it."
    )]
    TooNew(String),
    /// The database cannot be reached or does not answer as it should.
    #[error("the database cannot be opened: {0}")]
    Other(String),
}

impl From<ConnectionError> for OpenError {
    fn from(error: ConnectionError) -> Self {
        Self::Other(error.to_string())
    }
}

/// Opens a connection and sets it up (SQLite: foreign keys on, write-ahead log, full synchronous, busy timeout).
pub fn open(place: &Place) -> Result<Db, OpenError> {
    match place {
        Place::Server(url) => {
            let refused =
                |error: ConnectionError| OpenError::Refused(error.to_string().trim_end().to_owned());
            Ok(Db::Postgres(PgConnection::establish(&bounded(url)).map_err(refused)?))
        }
        Place::File(path) => open_file(path),
    }
}

/// Opens a connection of a writer. In a file it keeps more pages at hand: what a group of changes has altered would
/// otherwise be written before its COMMIT, and read again. How savepoints are taken back it keeps in memory too. The
/// log is put into the file elsewhere (`checkpoint`) unless it has grown to 64 MB.
pub fn open_to_write(place: &Place) -> Result<Db, OpenError> {
    let mut conn = open(place)?;
    if let Db::Sqlite(inner) = &mut conn {
        let enlarged = inner.batch_execute(
            "PRAGMA cache_size = -16384; PRAGMA temp_store = MEMORY; PRAGMA wal_autocheckpoint = 16384;",
        );
        enlarged.map_err(|error| OpenError::Other(error.to_string()))?;
    }
    Ok(conn)
}

/// The URL with a limit on how long it may take to get a connection, unless it says one: without it, a host that
/// answers nothing is waited for as long as the system likes.
fn bounded(url: &str) -> String {
    if url.contains("connect_timeout=") {
        return url.to_owned();
    }
    let sign = if url.contains('?') { '&' } else { '?' };
    format!("{url}{sign}connect_timeout=5")
}

fn open_file(path: &Path) -> Result<Db, OpenError> {
    let shown = path.display().to_string();
    if let Ok(facts) = std::fs::metadata(path) {
        if facts.is_dir() {
            return Err(OpenError::NotADatabase(shown));
        }
        if facts.permissions().readonly() {
            return Err(OpenError::ReadOnly(shown));
        }
    }
    if shown.contains("://") {
        return Err(OpenError::Unknown(shown));
    }
    let folder = path.parent().filter(|folder| !folder.as_os_str().is_empty());
    if folder.is_some_and(|folder| !folder.is_dir()) {
        return Err(OpenError::NoFolder(shown));
    }
    let Some(name) = path.to_str() else {
        return Err(OpenError::Other(format!("the name {shown} is not UTF-8")));
    };
    let mut sqlite = SqliteConnection::establish(name).map_err(|error| told(path, error.to_string()))?;
    let pragmas = "PRAGMA busy_timeout = 10000; PRAGMA journal_mode = WAL; PRAGMA synchronous = FULL; \
                   PRAGMA foreign_keys = ON; PRAGMA wal_autocheckpoint = 4000;";
    sqlite.batch_execute(pragmas).map_err(|error| told(path, error.to_string()))?;
    Ok(Db::Sqlite(sqlite))
}

/// What a failure to open a file means for people.
fn told(path: &Path, text: String) -> OpenError {
    let shown = path.display().to_string();
    if text.contains("not a database") || text.contains("malformed") {
        return OpenError::NotADatabase(shown);
    }
    // On a disk that cannot be written the database cannot even open what stands beside its file.
    let written = std::fs::OpenOptions::new().write(true).open(path);
    let is_forbidden = written.is_err_and(|error| {
        matches!(error.kind(), std::io::ErrorKind::ReadOnlyFilesystem | std::io::ErrorKind::PermissionDenied)
    });
    if is_forbidden || text.contains("readonly") || text.contains("read-only") {
        return OpenError::ReadOnly(shown);
    }
    OpenError::Other(text)
}

impl Db {
    /// Opens a transaction that may write at once. SQLite takes its write lock here rather than at the first
    /// write, so two writers wait for each other instead of failing half-way. On PostgreSQL a row that somebody
    /// else holds is waited for no longer than a second.
    pub fn begin_write(&mut self) -> QueryResult<()> {
        match self {
            Self::Sqlite(inner) => AnsiTransactionManager::begin_transaction_sql(inner, "BEGIN IMMEDIATE"),
            Self::Postgres(inner) => AnsiTransactionManager::begin_transaction_sql(inner, BEGIN_WITH_WAIT),
        }
    }

    /// Opens a transaction that may write to one club. On PostgreSQL it holds the club's lock from the start, or
    /// fails soon if somebody else holds it: who waits for one club must not keep others from theirs.
    pub fn begin_write_of(&mut self, club: &str) -> Result<(), DoorError> {
        match self {
            Self::Sqlite(_) => Ok(self.begin_write()?),
            Self::Postgres(inner) => {
                AnsiTransactionManager::begin_transaction_sql(inner, BEGIN_WITH_SHORT_WAIT)?;
                let locked = diesel::sql_query("SELECT id FROM clubs WHERE id = $1 FOR NO KEY UPDATE")
                    .bind::<diesel::sql_types::Text, _>(club)
                    .execute(inner);
                let Err(error) = locked else { return Ok(()) };
                let is_refused = matches!(&error, Error::DatabaseError(DatabaseErrorKind::Unknown, _));
                AnsiTransactionManager::rollback_transaction(inner)?;
                // Whatever its words, in whatever language: this statement has nothing else to fail by.
                Err(if is_refused { DoorError::Locked(error.to_string()) } else { error.into() })
            }
        }
    }

    /// Opens a transaction in which every read sees one and the same state.
    pub fn begin_read(&mut self) -> QueryResult<()> {
        match self {
            Self::Sqlite(inner) => AnsiTransactionManager::begin_transaction(inner),
            Self::Postgres(inner) => AnsiTransactionManager::begin_transaction_sql(
                inner,
                "BEGIN TRANSACTION ISOLATION LEVEL REPEATABLE READ READ ONLY",
            ),
        }
    }

    /// Opens a savepoint inside the running transaction.
    pub fn begin_savepoint(&mut self) -> QueryResult<()> {
        match self {
            Self::Sqlite(inner) => AnsiTransactionManager::begin_transaction(inner),
            Self::Postgres(inner) => AnsiTransactionManager::begin_transaction(inner),
        }
    }

    /// Ends the innermost transaction or savepoint, keeping its changes.
    pub fn commit(&mut self) -> QueryResult<()> {
        match self {
            Self::Sqlite(inner) => AnsiTransactionManager::commit_transaction(inner),
            Self::Postgres(inner) => AnsiTransactionManager::commit_transaction(inner),
        }
    }

    /// Ends the innermost transaction or savepoint, dropping its changes.
    pub fn roll_back(&mut self) -> QueryResult<()> {
        match self {
            Self::Sqlite(inner) => AnsiTransactionManager::rollback_transaction(inner),
            Self::Postgres(inner) => AnsiTransactionManager::rollback_transaction(inner),
        }
    }

    /// What the database finds wrong with its own file, indexes included. Only SQLite is asked: a PostgreSQL server
    /// has its own tools for that (`amcheck`, checksums).
    pub fn fault_of_file(&mut self) -> QueryResult<Option<String>> {
        match self {
            Self::Sqlite(inner) => {
                let said: String = diesel::sql_query("PRAGMA integrity_check(1)")
                    .get_result::<Said>(inner)
                    .map(|said| said.integrity_check)?;
                Ok(Some(said).filter(|said| said != "ok"))
            }
            Self::Postgres(_) => Ok(None),
        }
    }

    /// How far a server that takes changes has written its log, as a number that grows.
    pub fn written_up_to(&mut self) -> Result<i64, DoorError> {
        let far = self.far("SELECT (pg_current_wal_lsn() - '0/0'::pg_lsn)::bigint AS up_to")?;
        far.ok_or_else(|| DoorError::Broken("a server does not say how far it is".to_owned()))
    }

    /// How far a replica has replayed that log; `None` where the server is no replica.
    pub fn replayed_up_to(&mut self) -> Result<Option<i64>, DoorError> {
        self.far(
            "SELECT CASE WHEN pg_is_in_recovery() THEN (pg_last_wal_replay_lsn() - '0/0'::pg_lsn)::bigint END \
             AS up_to",
        )
    }

    fn far(&mut self, query: &str) -> Result<Option<i64>, DoorError> {
        match self {
            Self::Postgres(inner) => Ok(diesel::sql_query(query).get_result::<Far>(inner)?.up_to),
            Self::Sqlite(_) => Ok(None),
        }
    }

    /// Puts what the log of an embedded database holds into its file, as far as nobody reads what it would replace.
    pub fn put_log_into_file(&mut self) -> QueryResult<()> {
        match self {
            Self::Sqlite(inner) => inner.batch_execute("PRAGMA wal_checkpoint(PASSIVE);"),
            Self::Postgres(_) => Ok(()),
        }
    }

    /// Copies an embedded database, as it is at one moment, into a file that must not be there yet; writers go on.
    pub fn copy_into(&mut self, path: &Path) -> QueryResult<()> {
        match self {
            Self::Sqlite(inner) => {
                let path = path.to_str().ok_or_else(|| unusable("the name of the copy is not UTF-8"))?;
                diesel::sql_query("VACUUM INTO ?")
                    .bind::<diesel::sql_types::Text, _>(path)
                    .execute(inner)
                    .map(drop)
            }
            Self::Postgres(_) => Err(unusable("a server is not copied file by file")),
        }
    }

    /// Runs `read` in a savepoint, so that what comes after it can still be read where it fails.
    pub fn read_in_savepoint<T>(&mut self, read: impl FnOnce(&mut Self) -> QueryResult<T>) -> QueryResult<T> {
        self.begin_savepoint()?;
        let result = read(self);
        self.roll_back()?;
        result
    }

    /// Runs `read` so that all its queries see one state of the records.
    pub fn read_steady<T, E: From<Error>>(
        &mut self,
        read: impl FnOnce(&mut Self) -> Result<T, E>,
    ) -> Result<T, E> {
        self.begin_read()?;
        let result = read(self);
        // Nothing was written: dropping the transaction is as good as keeping it.
        self.roll_back()?;
        result
    }
}

fn unusable(text: &str) -> Error {
    Error::QueryBuilderError(text.into())
}

#[derive(diesel::QueryableByName)]
struct Said {
    #[diesel(sql_type = diesel::sql_types::Text)]
    integrity_check: String,
}

#[derive(diesel::QueryableByName)]
struct Far {
    #[diesel(sql_type = diesel::sql_types::Nullable<diesel::sql_types::BigInt>)]
    up_to: Option<i64>,
}

/// Hands connections to the pool.
#[derive(Clone, Debug)]
pub struct Opener {
    place: Place,
}

impl ManageConnection for Opener {
    type Connection = Db;
    type Error = OpenError;

    fn connect(&self) -> Result<Db, OpenError> {
        open(&self.place)
    }

    fn is_valid(&self, conn: &mut Db) -> Result<(), OpenError> {
        conn.ping().map_err(|error| OpenError::Other(error.to_string()))
    }

    fn has_broken(&self, conn: &mut Db) -> bool {
        conn.is_broken()
    }
}

/// The pool of connections that reads use.
pub type Pool = diesel::r2d2::Pool<Opener>;

/// Opens the pool of reading connections.
pub fn open_pool(place: &Place, size: u32) -> Result<Pool, OpenError> {
    pool_of(place, size)
        .build(Opener { place: place.clone() })
        .map_err(|error| OpenError::Other(error.to_string()))
}

/// The same to a server that need not answer yet.
pub fn open_pool_later(place: &Place, size: u32) -> Pool {
    pool_of(place, size).build_unchecked(Opener { place: place.clone() })
}

fn pool_of(place: &Place, size: u32) -> diesel::r2d2::Builder<Opener> {
    diesel::r2d2::Pool::builder()
        .max_size(size)
        .min_idle(Some(1))
        .test_on_check_out(matches!(place, Place::Server(_)))
        .connection_timeout(Duration::from_secs(10))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_url_picks_the_database() {
        assert_eq!(Place::from_url("preen.db"), Place::File("preen.db".into()));
        assert_eq!(Place::from_url("sqlite:///srv/preen.db"), Place::File("/srv/preen.db".into()));
        let secret = Place::from_url("postgres://u:p%40ss@h:5/preen?sslmode=require&password=hush");
        assert_eq!(secret.to_string(), "postgres://u:…@h:5/preen?sslmode=require&password=…");
        assert_eq!(bounded("postgres://h/p?a=b"), "postgres://h/p?a=b&connect_timeout=5");
        assert_eq!(Place::from_url("postgres://u@h/preen"), Place::Server("postgres://u@h/preen".into()));
    }
}
