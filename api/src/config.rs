//! Settings: the one place where arguments and the environment are read.

use std::net::SocketAddr;
use std::path::PathBuf;

use clap::{Args, Parser, Subcommand};
use preen_domain::time::Instant;

/// Serves the fleet and maintenance records of clubs that fly competition model gliders.
#[derive(Debug, Parser)]
#[command(name = "preen-server", version, about, args_conflicts_with_subcommands = true)]
pub struct Cli {
    /// What to do; `serve` if nothing is said.
    #[command(subcommand)]
    pub command: Option<Command>,
    /// Settings of `serve`.
    #[command(flatten)]
    pub serve: ServeArgs,
}

/// What to do.
#[derive(Debug, Subcommand)]
pub enum Command {
    /// Serves the records until it is told to stop.
    Serve(ServeArgs),
    /// Creates a club and prints its one-time set-up code.
    Init(InitArgs),
    /// Brings the tables up to date, or takes the newest migration back.
    Migrate(MigrateArgs),
    /// Walks the trail of every club and compares it with the stored facts.
    Verify(DatabaseArgs),
    /// Prints the description of the interface (OpenAPI 3.1).
    Openapi,
    /// Serves a throw-away club to try things on, and shows what the service is for.
    Demo(DemoArgs),
}

/// Where the records are.
#[derive(Clone, Debug, Args)]
pub struct DatabaseArgs {
    /// A file of the embedded database, or a URL `postgres://…`.
    #[arg(long, env = "PREEN_DATABASE", default_value = "preen.db")]
    pub database: String,
}

/// Settings of the service.
#[derive(Clone, Debug, Args)]
pub struct ServeArgs {
    /// Where the records are.
    #[command(flatten)]
    pub database: DatabaseArgs,
    /// Where photos are kept: a folder, or `s3://BUCKET/PREFIX` with the usual `AWS_…` settings in the environment.
    /// Beside the file of the embedded database, in the folder `photos`, if nothing is said.
    #[arg(long, env = "PREEN_PHOTOS", value_name = "PLACE")]
    pub photos: Option<String>,
    /// Address and port to listen on.
    #[arg(long, env = "PREEN_LISTEN", default_value = "127.0.0.1:8026")]
    pub listen: SocketAddr,
    /// File with what the service shows of itself when it encrypts, and what that hangs on (PEM, X.509).
    #[arg(long, env = "PREEN_TLS_CERT", requires = "tls_key", value_name = "FILE")]
    pub tls_cert: Option<PathBuf>,
    /// File with the private key that belongs to it (PEM).
    #[arg(long, env = "PREEN_TLS_KEY", requires = "tls_cert", value_name = "FILE")]
    pub tls_key: Option<PathBuf>,
    /// Something before the service encrypts and names who asks in X-Forwarded-For. Allows listening beyond
    /// this machine without encryption.
    #[arg(long, env = "PREEN_BEHIND_TLS_PROXY", conflicts_with = "tls_cert")]
    pub behind_tls_proxy: bool,
}

/// What the environment says of buckets, by the names that are usual for that.
pub fn bucket_settings() -> Vec<(String, String)> {
    let named = std::env::vars_os()
        .filter_map(|(name, value)| Some((name.into_string().ok()?, value.into_string().ok()?)));
    named.filter(|(name, _)| name.starts_with("AWS_")).collect()
}

/// The club to create.
#[derive(Clone, Debug, Args)]
pub struct InitArgs {
    /// Where the records are.
    #[command(flatten)]
    pub database: DatabaseArgs,
    /// Short name of the club: 2 to 40 small letters, digits and `-`. Tokens carry it.
    #[arg(long)]
    pub club: String,
    /// Name of the club for people; the short name if absent.
    #[arg(long)]
    pub name: Option<String>,
    /// Time zone in which the club's days begin and end, such as Europe/London.
    #[arg(long)]
    pub time_zone: chrono_tz::Tz,
}

/// Settings of the demonstration.
#[derive(Clone, Debug, Args)]
pub struct DemoArgs {
    /// Address on this machine to listen on; port 0 takes a free one.
    #[arg(long, default_value = "127.0.0.1:8026")]
    pub listen: SocketAddr,
    /// Folder for the throw-away database and `demo.env`.
    #[arg(long, default_value = "demo-data")]
    pub data: PathBuf,
    /// Folder with another club in the same tables.
    #[arg(long)]
    pub from: Option<PathBuf>,
    /// The instant at which the demonstration's clock starts.
    #[arg(long, default_value = "2026-05-21T08:00:00Z")]
    pub now: Instant,
    /// Load, show, write `demo.env`, then stop instead of serving on.
    #[arg(long)]
    pub once: bool,
}

/// Which way to migrate.
#[derive(Clone, Debug, Args)]
pub struct MigrateArgs {
    /// `up` applies everything pending, `down` takes the newest migration back, `list` only says what is what.
    #[arg(value_enum, default_value_t = Way::Up)]
    pub way: Way,
    /// Where the records are.
    #[command(flatten)]
    pub database: DatabaseArgs,
}

/// Which way to migrate.
#[derive(Clone, Copy, Debug, PartialEq, Eq, clap::ValueEnum)]
pub enum Way {
    /// Apply everything pending.
    Up,
    /// Take the newest migration back.
    Down,
    /// Say what is applied and what is pending.
    List,
}
