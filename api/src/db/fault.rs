//! Why the door did not open.

use diesel::result::{DatabaseErrorKind, Error as DieselError};

use super::conn::OpenError;

/// Why the door did not open.
#[derive(Debug, thiserror::Error)]
pub enum DoorError {
    /// Too many changes wait, the database does not answer, or the service is stopping: the same again may well
    /// succeed.
    #[error("busy: {0}")]
    Busy(String),
    /// Somebody else holds the lock.
    #[error("locked: {0}")]
    Locked(String),
    /// The disk is full or cannot be written.
    #[error("no room: {0}")]
    Full(String),
    /// There is no such club in this database.
    #[error("there is no club {0}")]
    NoClub(String),
    /// The database itself refused a component in two places or a position with two components.
    #[error("the place is taken: {0}")]
    PlaceTaken(String),
    /// The database refused or failed.
    #[error("database: {0}")]
    Database(#[source] DieselError),
    /// What is stored cannot be read back, or the service itself is at fault.
    #[error("{0}")]
    Broken(String),
}

impl DoorError {
    /// The same trouble for another change of the same transaction.
    pub fn again(error: &Self) -> Self {
        match error {
            Self::Busy(text) => Self::Busy(text.clone()),
            Self::Locked(text) => Self::Locked(text.clone()),
            Self::Full(text) => Self::Full(text.clone()),
            Self::NoClub(club) => Self::NoClub(club.clone()),
            Self::PlaceTaken(place) => Self::PlaceTaken(place.clone()),
            Self::Database(_) | Self::Broken(_) => Self::Broken(error.to_string()),
        }
    }

    /// The trouble of a transaction that the database took back by itself, or that can no longer be steered:
    /// nothing of it was kept, and on a new connection the same may well succeed.
    pub fn lost(error: Self) -> Self {
        match error {
            Self::Full(text) => Self::Full(text),
            other => Self::Busy(format!("the transaction was lost: {other}")),
        }
    }
}

/// What a change may end by.
pub trait Failure: From<DoorError> {
    /// Whether it is that there is no room.
    fn is_full(&self) -> bool;
    /// Whether the same is to be sent again, so that what may rest on it must wait.
    fn is_to_be_sent_again(&self) -> bool;
}

impl Failure for DoorError {
    fn is_full(&self) -> bool {
        matches!(self, Self::Full(_))
    }

    fn is_to_be_sent_again(&self) -> bool {
        matches!(self, Self::Full(_) | Self::Busy(_) | Self::Locked(_))
    }
}

/// What SQLite and PostgreSQL say when there is no room, or when the disk does not take what is written. A limit
/// on the size of files speaks as an "I/O error" too. The last is PostgreSQL's for whatever keeps a table from growing.
const FULL: [&str; 4] = ["disk is full", "No space left", "disk I/O error", "could not extend file"];

/// What PostgreSQL's client library says when the other end is gone.
const GONE: &str = "server closed the connection unexpectedly";

fn is_full(text: &str) -> bool {
    FULL.iter().any(|words| text.contains(words))
}

impl From<DieselError> for DoorError {
    fn from(error: DieselError) -> Self {
        match &error {
            DieselError::DatabaseError(DatabaseErrorKind::Unknown, info) => {
                let text = info.message();
                if is_full(text) {
                    return Self::Full(text.to_owned());
                }
                if text.contains("database is locked") || text.contains("lock timeout") {
                    return Self::Locked(text.to_owned());
                }
                // Its client library has not always noticed by then that the line is dead.
                if text.contains(GONE) {
                    return Self::Busy(text.to_owned());
                }
            }
            DieselError::DatabaseError(
                // A server that takes no changes is one of those that wait to take over, or that others have given up. One
                // that broke down is noticed by what it no longer answers, or already by what it no longer takes.
                DatabaseErrorKind::ClosedConnection
                | DatabaseErrorKind::UnableToSendCommand
                | DatabaseErrorKind::SerializationFailure
                | DatabaseErrorKind::ReadOnlyTransaction,
                info,
            ) => return Self::Busy(info.message().to_owned()),
            DieselError::BrokenTransactionManager => return Self::Busy(error.to_string()),
            _ => {}
        }
        Self::Database(error)
    }
}

impl From<OpenError> for DoorError {
    fn from(error: OpenError) -> Self {
        match error {
            OpenError::Other(text) if is_full(&text) => Self::Full(text),
            OpenError::Other(text) | OpenError::Refused(text) => Self::Busy(text),
            other => Self::Broken(other.to_string()),
        }
    }
}

impl From<diesel::r2d2::PoolError> for DoorError {
    fn from(error: diesel::r2d2::PoolError) -> Self {
        Self::Busy(error.to_string())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_server_that_is_gone_is_asked_again_however_that_was_noticed() {
        let text = "server closed the connection unexpectedly\n\tThis probably means the server terminated abnormally";
        for kind in [
            DatabaseErrorKind::Unknown,
            DatabaseErrorKind::ClosedConnection,
            DatabaseErrorKind::UnableToSendCommand,
        ] {
            let error = DieselError::DatabaseError(kind, Box::new(text.to_owned()));
            assert!(DoorError::from(error).is_to_be_sent_again());
        }
        let other =
            DieselError::DatabaseError(DatabaseErrorKind::Unknown, Box::new("no such column".to_owned()));
        assert!(!DoorError::from(other).is_to_be_sent_again());
    }
}
