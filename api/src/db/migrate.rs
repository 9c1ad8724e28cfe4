//! Migrations: the same names for both databases, compiled into the binary, applied up and down.

use diesel::RunQueryDsl as _;
use diesel::migration::{Migration, MigrationSource, MigrationVersion};
use diesel::{pg::Pg, sqlite::Sqlite};
use diesel_migrations::{EmbeddedMigrations, MigrationHarness, embed_migrations};

use super::conn::{Db, OpenError};

const SQLITE: EmbeddedMigrations = embed_migrations!("../migrations/sqlite");
const POSTGRES: EmbeddedMigrations = embed_migrations!("../migrations/postgres");

/// How far the records are.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Standing {
    /// Versions applied, oldest first.
    pub applied: Vec<String>,
    /// Versions this binary knows that are not applied yet, oldest first.
    pub pending: Vec<String>,
}

/// Which migrations are applied and which are not. Refuses records that carry one this binary does not know.
pub fn standing(conn: &mut Db) -> Result<Standing, OpenError> {
    let applied = match conn {
        Db::Sqlite(inner) => inner.applied_migrations().map_err(other)?,
        Db::Postgres(inner) => inner.applied_migrations().map_err(other)?,
    };
    compare(conn, applied.iter().map(MigrationVersion::to_string).collect())
}

#[derive(diesel::QueryableByName)]
struct Applied {
    #[diesel(sql_type = diesel::sql_types::Text)]
    version: String,
}

/// The same without writing anything, where the tables are there: for whoever looks often.
pub fn told(conn: &mut Db) -> Result<Standing, OpenError> {
    let query = diesel::sql_query("SELECT version FROM __diesel_schema_migrations");
    let applied: Vec<Applied> = match conn {
        Db::Sqlite(inner) => query.load(inner),
        Db::Postgres(inner) => query.load(inner),
    }
    .map_err(|error| OpenError::Other(error.to_string()))?;
    compare(conn, applied.into_iter().map(|row| row.version).collect())
}

/// What this program knows beside what is applied.
fn compare(conn: &Db, mut applied: Vec<String>) -> Result<Standing, OpenError> {
    let known = match conn {
        Db::Sqlite(_) => names::<Sqlite>(&SQLITE)?,
        Db::Postgres(_) => names::<Pg>(&POSTGRES)?,
    };
    applied.sort();
    if let Some(unknown) = applied.iter().rfind(|version| !known.contains(version)) {
        return Err(OpenError::TooNew(unknown.clone()));
    }
    let pending = known.into_iter().filter(|version| !applied.contains(version)).collect();
    Ok(Standing { applied, pending })
}

/// Applies all pending migrations and returns their versions.
pub fn up(conn: &mut Db) -> Result<Vec<String>, OpenError> {
    let pending = standing(conn)?.pending;
    match conn {
        Db::Sqlite(inner) => inner.run_pending_migrations(SQLITE).map(drop),
        Db::Postgres(inner) => inner.run_pending_migrations(POSTGRES).map(drop),
    }
    .map_err(other)?;
    Ok(pending)
}

/// Takes back the newest migration and returns its version; `None` when none is applied.
pub fn down(conn: &mut Db) -> Result<Option<String>, OpenError> {
    let Some(newest) = standing(conn)?.applied.pop() else { return Ok(None) };
    match conn {
        Db::Sqlite(inner) => inner.revert_last_migration(SQLITE).map(drop),
        Db::Postgres(inner) => inner.revert_last_migration(POSTGRES).map(drop),
    }
    .map_err(other)?;
    Ok(Some(newest))
}

fn names<B: diesel::backend::Backend>(source: &EmbeddedMigrations) -> Result<Vec<String>, OpenError>
where
    EmbeddedMigrations: MigrationSource<B>,
{
    let migrations: Vec<Box<dyn Migration<B>>> = source.migrations().map_err(other)?;
    let mut names: Vec<String> =
        migrations.iter().map(|migration| migration.name().version().to_string()).collect();
    names.sort();
    Ok(names)
}

// Taken by value because `map_err` hands it over so.
#[expect(clippy::needless_pass_by_value, reason = "the shape `map_err` asks for")]
fn other(error: Box<dyn std::error::Error + Send + Sync>) -> OpenError {
    OpenError::Other(error.to_string())
}
