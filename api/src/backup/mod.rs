//! Backups of an embedded database and its pictures: made while the service runs, checked before they count, locked if
//! wanted, and had again whole or up to a point.
//!
//! * [`make`]: a copy of one moment, walked by its trail, packed with its pictures. [`label`]: what stands beside it.
//! * [`seal`]: locking it by the keys of others or by a passphrase. [`rotate`]: which ones are thrown away.
//! * [`restore`]: puts one where nothing is. [`schedule`]: makes them inside the service.
//!
//! A PostgreSQL server has tools of its own for this; see [`FOR_SERVERS`].

pub mod label;
pub mod make;
pub mod restore;
pub mod rotate;
pub mod schedule;
pub mod seal;

/// What is said where the records are on a server.
pub const FOR_SERVERS: &str = "the records are on a PostgreSQL server, which is backed up by its own tools, while it runs: \
     `pg_dump --format=custom --file=preen.dump URL`, and into an empty database `pg_restore --exit-on-error \
     --no-owner --dbname=URL preen.dump`, then `preen-server verify --database URL`. Copy the photos after the dump";

/// Why no backup was made or had again.
#[derive(Debug, thiserror::Error)]
pub enum BackupError {
    /// Another is being made there.
    #[error("another backup is being made in {0}: wait for it")]
    Underway(String),
    /// A file or folder cannot be used.
    #[error("{0}: {1}")]
    File(String, std::io::Error),
    /// The records cannot be read, or are not what the trail says.
    #[error("{0}")]
    Records(String),
    /// The keys do not fit, or the backup is locked and none is given.
    #[error("{0}")]
    Key(String),
    /// The backup is damaged, or none.
    #[error("{0}")]
    Damaged(String),
    /// Something is there already.
    #[error("{0} is there already: nothing is ever written over. Name another place, or move it away")]
    Exists(String),
}

impl BackupError {
    fn of(path: &std::path::Path) -> impl Fn(std::io::Error) -> Self + '_ {
        move |error| Self::File(path.display().to_string(), error)
    }

    fn records(error: impl std::fmt::Display) -> Self {
        Self::Records(error.to_string())
    }
}
