//! Settings: the one place where arguments and the environment are read.

use std::net::SocketAddr;
use std::path::PathBuf;
use std::time::Duration;

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
    /// Makes a checked copy of the embedded database and its pictures, while the service runs.
    Backup(BackupArgs),
    /// Puts a backup where nothing is yet, whole or up to a point.
    Restore(RestoreArgs),
    /// Makes a pair of keys for locked backups: the private one goes into a file, the public one is shown.
    BackupKey(BackupKeyArgs),
    /// Puts the archive of a club (`preen export`) into a database that does not have it yet.
    Import(ImportArgs),
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
    /// A read replica of the PostgreSQL server, `postgres://…`: answers and lists come from it, and say in the header
    /// `Preen-Behind-Ms` how far behind they may be.
    #[arg(long, env = "PREEN_REPLICA", value_name = "URL")]
    pub replica: Option<String>,
    /// When the replica is further behind than this, the server itself is asked: a number with s, m, h or d.
    #[arg(long, env = "PREEN_REPLICA_MAX_LAG", value_name = "SPAN", default_value = "10s", value_parser = parse_span)]
    pub replica_max_lag: Duration,
    /// Makes backups of the embedded database into this folder, again and again; what became of each is in the log.
    #[arg(long, env = "PREEN_BACKUP_TO", value_name = "FOLDER")]
    pub backup_to: Option<PathBuf>,
    /// How often: a number with s, m, h or d.
    #[arg(long, env = "PREEN_BACKUP_EVERY", value_name = "SPAN", default_value = "24h", value_parser = parse_span)]
    pub backup_every: Duration,
    /// How many are kept.
    #[arg(long, env = "PREEN_BACKUP_KEEP", value_name = "N", default_value = "14", value_parser = clap::value_parser!(u16).range(1..))]
    pub backup_keep: u16,
    /// How backups are locked.
    #[command(flatten)]
    pub seal: SealArgs,
    /// Memory for the records of clubs, by estimate: a number with KiB, MiB or GiB. Beyond it the club that nobody has
    /// asked for the longest is let go and read anew when it is asked for.
    #[arg(long, env = "PREEN_FLEET_MEMORY", value_name = "BYTES", default_value = "1GiB", value_parser = parse_bytes)]
    pub fleet_memory: u64,
    /// Room that is to be free on the disks of records and photos: below it the service says that it is not ready.
    #[arg(long, env = "PREEN_MIN_FREE", value_name = "BYTES", default_value = "256MiB", value_parser = parse_bytes)]
    pub min_free: u64,
    /// File whose first line lets whoever sends it as a bearer token read `/metrics`. Without it only this machine
    /// itself may, past any proxy.
    #[arg(long, env = "PREEN_METRICS_TOKEN_FILE", value_name = "FILE")]
    pub metrics_token_file: Option<PathBuf>,
}

/// Reads a number of bytes such as `256MiB`.
fn parse_bytes(text: &str) -> Result<u64, String> {
    let wrong =
        || format!("`{text}` is no number of bytes: write a number with KiB, MiB or GiB, such as 256MiB");
    let units = [("KiB", 1_u64 << 10), ("MiB", 1 << 20), ("GiB", 1 << 30)];
    let found = units.into_iter().find_map(|(unit, bytes)| Some((text.strip_suffix(unit)?, bytes)));
    let (number, unit) = found.ok_or_else(wrong)?;
    let number: u64 = number.trim_end().parse().map_err(|_not_a_number| wrong())?;
    number.checked_mul(unit).ok_or_else(wrong)
}

/// Reads a span such as `24h`.
fn parse_span(text: &str) -> Result<Duration, String> {
    let wrong = || format!("`{text}` is no span: write a number with s, m, h or d, such as 24h");
    let unit = text.chars().last().ok_or_else(wrong)?;
    let seconds: u64 = match unit {
        's' => 1,
        'm' => 60,
        'h' => 3_600,
        'd' => 86_400,
        _ => return Err(wrong()),
    };
    let number: u64 = text.trim_end_matches(unit).parse().map_err(|_not_a_number| wrong())?;
    match number.checked_mul(seconds) {
        Some(seconds @ 1..=31_536_000) => Ok(Duration::from_secs(seconds)),
        Some(_) | None => Err(format!("`{text}` is not between a second and a year")),
    }
}

/// How a backup is locked.
#[derive(Clone, Debug, Args)]
pub struct SealArgs {
    /// File with public keys (one a line) of those who may open the backups.
    #[arg(long, env = "PREEN_BACKUP_RECIPIENTS", value_name = "FILE", conflicts_with = "passphrase_file")]
    pub recipient_file: Option<PathBuf>,
    /// File with a passphrase (its first line, 12 letters at least) that opens the backups.
    #[arg(long, env = "PREEN_BACKUP_PASSPHRASE", value_name = "FILE")]
    pub passphrase_file: Option<PathBuf>,
}

/// What to make a backup of.
#[derive(Clone, Debug, Args)]
pub struct BackupArgs {
    /// Where the records are.
    #[command(flatten)]
    pub database: DatabaseArgs,
    /// Where photos are kept, as for `serve`.
    #[arg(long, env = "PREEN_PHOTOS", value_name = "PLACE")]
    pub photos: Option<String>,
    /// Folder for backups; made if it is not there.
    #[arg(long, value_name = "FOLDER")]
    pub to: PathBuf,
    /// How many good ones are kept there, this one among them; all if nothing is said.
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u16).range(1..))]
    pub keep: Option<u16>,
    /// How it is locked.
    #[command(flatten)]
    pub seal: SealArgs,
}

/// What to have again.
#[derive(Clone, Debug, Args)]
pub struct RestoreArgs {
    /// The backup.
    #[arg(long, value_name = "FILE")]
    pub from: PathBuf,
    /// Where the records go; nothing may be there yet.
    #[command(flatten)]
    pub database: DatabaseArgs,
    /// Where photos go, as for `serve`.
    #[arg(long, env = "PREEN_PHOTOS", value_name = "PLACE")]
    pub photos: Option<String>,
    /// File with the private key that opens it.
    #[arg(long, value_name = "FILE", conflicts_with = "passphrase_file")]
    pub identity_file: Option<PathBuf>,
    /// File with the passphrase that opens it.
    #[arg(long, value_name = "FILE")]
    pub passphrase_file: Option<PathBuf>,
    /// How far to go. Passwords and tokens come along only with the whole.
    #[command(flatten)]
    pub point: PointArgs,
}

/// Where a private key goes.
#[derive(Clone, Debug, Args)]
pub struct BackupKeyArgs {
    /// File for the private key; keep it away from the backups.
    pub file: PathBuf,
}

/// Names in the environment that begin as settings do.
pub fn names_in_environment() -> Vec<String> {
    let names = std::env::vars_os().filter_map(|(name, _)| name.into_string().ok());
    names.filter(|name| name.starts_with("PREEN_")).collect()
}

/// What the environment says that is to be logged.
pub fn log_filter() -> Option<std::ffi::OsString> {
    std::env::var_os("PREEN_LOG")
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

/// How far to go.
#[derive(Clone, Copy, Debug, Args)]
#[group(multiple = false)]
pub struct PointArgs {
    /// Up to and including this revision, not to the newest.
    #[arg(long, value_name = "REVISION")]
    pub up_to: Option<i64>,
    /// Up to and including what was recorded at this instant, such as 2026-05-21T08:00:00Z.
    #[arg(long, value_name = "INSTANT")]
    pub at: Option<Instant>,
}

/// What to take in.
#[derive(Clone, Debug, Args)]
pub struct ImportArgs {
    /// The archive.
    pub archive: PathBuf,
    /// Where the records are.
    #[command(flatten)]
    pub database: DatabaseArgs,
    /// Where photos are kept, as for `serve`.
    #[arg(long, env = "PREEN_PHOTOS", value_name = "PLACE")]
    pub photos: Option<String>,
    /// How far to go.
    #[command(flatten)]
    pub point: PointArgs,
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
    /// Splits the tables of an empty PostgreSQL database into so many parts, by the hash of the club.
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u16).range(2..=1024))]
    pub partitions: Option<u16>,
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
