//! Why there is no demonstration.

use std::{net::SocketAddr, path::PathBuf};

use super::rest::RestError;
use crate::{
    db::{conn::OpenError, door::DoorError},
    exchange::tables::Faults,
    server::StartError,
};

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
