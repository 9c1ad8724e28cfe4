//! Why the door did not open.

use diesel::result::{DatabaseErrorKind, Error as DieselError};

use super::conn::OpenError;

/// Why the door did not open.
#[derive(Debug, thiserror::Error)]
pub enum DoorError {
    /// Too many changes wait, or the service is stopping.
    #[error("too many changes are waiting")]
    Busy,
    /// The disk is full.
    #[error("the disk is full")]
    Full,
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
            Self::Busy => Self::Busy,
            Self::Full => Self::Full,
            Self::NoClub(club) => Self::NoClub(club.clone()),
            Self::PlaceTaken(place) => Self::PlaceTaken(place.clone()),
            Self::Database(_) | Self::Broken(_) => Self::Broken(error.to_string()),
        }
    }
}

impl From<DieselError> for DoorError {
    fn from(error: DieselError) -> Self {
        if let DieselError::DatabaseError(DatabaseErrorKind::Unknown, info) = &error {
            let text = info.message();
            if text.contains("disk is full") || text.contains("No space left") {
                return Self::Full;
            }
            if text.contains("database is locked") {
                return Self::Busy;
            }
        }
        Self::Database(error)
    }
}

impl From<OpenError> for DoorError {
    fn from(error: OpenError) -> Self {
        Self::Broken(error.to_string())
    }
}

impl From<diesel::r2d2::PoolError> for DoorError {
    fn from(_error: diesel::r2d2::PoolError) -> Self {
        Self::Busy
    }
}
