//! Facts as rows: one macro makes a noun's table, its row and the queries that every noun needs.
//!
//! Columns are portable: text, whole number, number, flag; moments are microseconds UTC, days and ids are
//! text, nested lists are JSON that no query looks into. A row is never changed but for `superseded`, a
//! pointer to the revision that replaced it: a newer version of master data, or a correction. A correction
//! also gets a row of its own here (`is_correction`), so that lists and filters see the corrected content;
//! the Fleet reads the correction itself and skips such rows.

use diesel::QueryResult;
use preen_domain::facts::{FactShape, Recorded};
use uuid::Uuid;

use super::page::Page;
use crate::db::conn::Db;
use crate::db::door::{DoorError, Span};
use crate::db::kinds::OddCell;
use crate::db::stored::{StoredRow, Way};
use crate::db::written::{self, NewRow};

/// What may be asked of a column in a list.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Filter {
    /// Equal text.
    Text,
    /// Equal flag.
    Flag,
    /// Equal whole number.
    Count,
    /// Not to be filtered by.
    None,
}

/// What every noun can do with its table.
pub trait Rows: FactShape + PartialEq + Send + 'static {
    /// Its columns and how each may be filtered by.
    const COLUMNS: &'static [(&'static str, Filter)];
    /// Whether it can be sorted by the moment it happened.
    const HAS_MOMENT: bool;

    /// One row, to be written.
    fn row(club: &str, fact: &Recorded<Self>, is_correction: bool) -> Result<NewRow, DoorError>;
    /// Writes one row.
    fn insert(
        conn: &mut Db,
        club: &str,
        fact: &Recorded<Self>,
        is_correction: bool,
    ) -> Result<(), DoorError> {
        Ok(written::insert(conn, &[Self::row(club, fact, is_correction)?])?)
    }
    /// Marks the current row of an id as replaced at a revision.
    fn supersede(conn: &mut Db, club: &str, id: Uuid, revision: i64) -> Result<(), DoorError>;
    /// The current content of an id; nothing once it was voided.
    fn find(conn: &mut Db, club: &str, id: Uuid) -> Result<Option<Recorded<Self>>, DoorError>;
    /// All rows of an id, oldest first: the original, later versions, corrections.
    fn find_versions(conn: &mut Db, club: &str, id: Uuid) -> Result<Vec<Recorded<Self>>, DoorError>;
    /// One page of current rows, and one row more if there are further pages.
    fn list(conn: &mut Db, club: &str, page: &Page) -> Result<Vec<Recorded<Self>>, DoorError>;
    /// Hands over the facts of a span of revisions one by one, oldest first, rows of corrections left out.
    fn each(
        conn: &mut Db,
        club: &str,
        span: Span,
        take: &mut dyn FnMut(Recorded<Self>),
    ) -> Result<(), DoorError>;
    /// All rows as they lie in the table, past its indexes, whether they can be read or not.
    fn scan(conn: &mut Db, club: &str) -> QueryResult<Vec<StoredRow>>;
    /// One row likewise.
    fn look(conn: &mut Db, club: &str, id: &str, revision: i64, way: Way) -> QueryResult<Option<StoredRow>>;
    /// Its cells that hold another kind of value than their column says.
    fn odd_cells(conn: &mut Db, club: &str) -> QueryResult<Vec<OddCell>>;
}

/// Puts a field into a column.
macro_rules! put_cell {
    (Json, $value:expr) => {
        $crate::resources::cells::put_json($value)?
    };
    (MaybeJson, $value:expr) => {
        $value.as_ref().map($crate::resources::cells::put_json).transpose()?
    };
    (Pointer, $value:expr) => {
        $crate::resources::cells::put_pointer($value)?
    };
    ($kind:ident, $value:expr) => {
        $crate::resources::cells::Cell::put($value)
    };
}

/// Takes a field out of a column.
macro_rules! take_cell {
    (Json, $raw:expr) => {
        $crate::resources::cells::take_json(&$raw)
    };
    (MaybeJson, $raw:expr) => {
        $raw.as_deref().map($crate::resources::cells::take_json).transpose()
    };
    (Pointer, $raw:expr) => {
        $crate::resources::cells::take_pointer(&$raw)
    };
    ($kind:ident, $raw:expr) => {
        $crate::resources::cells::Cell::take($raw)
    };
}

/// Whether a column holds just what would be written now.
macro_rules! same_cell {
    (Json, $stored:expr, $written:expr) => {
        $crate::resources::cells::same_json(Some(&$stored), Some(&$written))
    };
    (MaybeJson, $stored:expr, $written:expr) => {
        $crate::resources::cells::same_json($stored.as_deref(), $written.as_deref())
    };
    ($kind:ident, $stored:expr, $written:expr) => {
        $stored == $written
    };
}

/// How a kind of column may be filtered by.
macro_rules! filter_of {
    (Text) => {
        $crate::resources::rows::Filter::Text
    };
    (MaybeText) => {
        $crate::resources::rows::Filter::Text
    };
    (Pointer) => {
        $crate::resources::rows::Filter::Text
    };
    (Flag) => {
        $crate::resources::rows::Filter::Flag
    };
    (Count) => {
        $crate::resources::rows::Filter::Count
    };
    ($other:ident) => {
        $crate::resources::rows::Filter::None
    };
}

/// Narrows a query by one column.
macro_rules! narrow {
    (Text, $query:ident, $column:expr, $wanted:expr) => {
        narrow!(@ Text, $query, $column, $wanted)
    };
    (MaybeText, $query:ident, $column:expr, $wanted:expr) => {
        narrow!(@ Text, $query, $column, $wanted)
    };
    (Pointer, $query:ident, $column:expr, $wanted:expr) => {
        narrow!(@ Text, $query, $column, $wanted)
    };
    (Flag, $query:ident, $column:expr, $wanted:expr) => {
        narrow!(@ Flag, $query, $column, $wanted)
    };
    (Count, $query:ident, $column:expr, $wanted:expr) => {
        narrow!(@ Count, $query, $column, $wanted)
    };
    (@ $wants:ident, $query:ident, $column:expr, $wanted:expr) => {
        if let $crate::resources::page::Wanted::$wants(value) = $wanted {
            $query = $query.filter($column.eq(value.clone()));
        }
    };
    ($other:ident, $query:ident, $column:expr, $wanted:expr) => {};
}

/// Narrows by the moment and puts a page in order.
macro_rules! in_order {
    (none, $query:ident, $page:ident) => {
        in_order!(@ $query, $page, revision)
    };
    (some, $query:ident, $page:ident) => {
        if let Some(from) = $page.occurred_from {
            $query = $query.filter(columns::occurred_at.ge(from));
        }
        if let Some(to) = $page.occurred_to {
            $query = $query.filter(columns::occurred_at.lt(to));
        }
        match $page.sort {
            $crate::resources::page::Sort::Revision => in_order!(@ $query, $page, revision),
            $crate::resources::page::Sort::OccurredAt => in_order!(@ $query, $page, occurred_at),
        }
    };
    (@ $query:ident, $page:ident, $key:ident) => {{
        if let Some((key, id)) = $page.after.clone() {
            $query = if $page.is_descending {
                $query.filter(columns::$key.lt(key).or(columns::$key.eq(key).and(columns::id.lt(id))))
            } else {
                $query.filter(columns::$key.gt(key).or(columns::$key.eq(key).and(columns::id.gt(id))))
            };
        }
        $query = if $page.is_descending {
            $query.order((columns::$key.desc(), columns::id.desc()))
        } else {
            $query.order((columns::$key.asc(), columns::id.asc()))
        };
    }};
}

/// Makes a noun's table, row and queries from the list of its fields.
///
/// `fact_rows! { flights: Flight, moment: some, { model: Text, launches: Count, … } }`: every field of the
/// fact but `id` is named with the kind of its column; a field forgotten or misspelt does not compile.
macro_rules! fact_rows {
    ($table:ident: $fact:ident, moment: $moment:ident, { $($field:ident: $kind:ident),* $(,)? }) => {
        diesel::table! {
            use $crate::resources::cells::kinds::*;

            /// Rows of the noun.
            $table (club_id, id, revision) {
                /// The club.
                club_id -> Text,
                /// The fact.
                id -> Text,
                /// The revision at which this row was written.
                revision -> BigInt,
                /// When it was written.
                recorded_at -> BigInt,
                /// By whom.
                recorded_by -> Text,
                /// The revision at which another row took its place.
                superseded -> MaybeMoment,
                /// Whether the row shows a corrected content.
                is_correction -> Bool,
                $(
                    /// A field of the fact.
                    $field -> $kind,
                )*
            }
        }

        /// What a row says of its fact.
        #[derive(Clone, diesel::Queryable, diesel::Selectable)]
        #[diesel(table_name = $table)]
        struct Said {
            id: String,
            revision: i64,
            recorded_at: i64,
            recorded_by: String,
            $($field: <$crate::resources::cells::kinds::$kind as $crate::resources::cells::Column>::Raw,)*
        }

        /// All of a row.
        #[derive(Clone, diesel::Queryable, diesel::Selectable)]
        #[diesel(table_name = $table)]
        struct Row {
            club_id: String,
            superseded: Option<i64>,
            is_correction: bool,
            #[diesel(embed)]
            said: Said,
        }

        impl Row {
            fn of(
                club: &str,
                recorded: &preen_domain::facts::Recorded<$fact>,
                is_correction: bool,
            ) -> Result<Self, $crate::db::door::DoorError> {
                let $fact { id, $($field,)* } = &recorded.fact;
                Ok(Self {
                    club_id: club.to_owned(),
                    superseded: None,
                    is_correction,
                    said: Said {
                        id: id.to_string(),
                        revision: recorded.revision,
                        recorded_at: recorded.recorded_at.micros(),
                        recorded_by: recorded.recorded_by.to_string(),
                        $($field: put_cell!($kind, $field),)*
                    },
                })
            }

            fn new_row(self) -> $crate::db::written::NewRow {
                $crate::db::written::NewRow {
                    insert: concat!(
                        "INSERT INTO ", stringify!($table),
                        " (club_id, id, revision, recorded_at, recorded_by, superseded, is_correction",
                        $(", \"", stringify!($field), "\"",)*
                        ") VALUES ",
                    ),
                    values: vec![
                        self.club_id.into(),
                        self.said.id.into(),
                        self.said.revision.into(),
                        self.said.recorded_at.into(),
                        self.said.recorded_by.into(),
                        self.superseded.into(),
                        self.is_correction.into(),
                        $(self.said.$field.into(),)*
                    ],
                }
            }
        }

        impl Said {
            fn read(self) -> Result<preen_domain::facts::Recorded<$fact>, $crate::db::door::DoorError> {
                let shown = self.id;
                let broken = |field: &str, error: String| {
                    $crate::db::door::DoorError::Broken(format!(
                        concat!(stringify!($table), " {}: {} cannot be read back: {}"),
                        shown, field, error
                    ))
                };
                Ok(preen_domain::facts::Recorded {
                    recorded_at: preen_domain::time::Instant::from_micros(self.recorded_at),
                    recorded_by: $crate::resources::cells::Cell::take(self.recorded_by)
                        .map_err(|error| broken("recorded_by", error))?,
                    revision: self.revision,
                    fact: $fact {
                        id: shown.parse().map_err(|error: uuid::Error| broken("id", error.to_string()))?,
                        $($field: take_cell!($kind, self.$field)
                            .map_err(|error| broken(stringify!($field), error))?,)*
                    },
                })
            }
        }

        impl Row {
            /// The row as it lies there, with what it says or why that cannot be read.
            fn stored(self) -> $crate::db::stored::StoredRow {
                let raw = self.said.clone();
                let fact = self.said.read().map_err(|error| error.to_string()).and_then(|recorded| {
                    let written = Row::of(&self.club_id, &recorded, self.is_correction)
                        .map_err(|error| error.to_string())?
                        .said;
                    // The same may be written in several ways; the database tells them apart.
                    let fields: &[(&str, bool)] = &[
                        ("id", raw.id == written.id),
                        $((stringify!($field), same_cell!($kind, raw.$field, written.$field)),)*
                    ];
                    match fields.iter().find(|(_, is_same)| !is_same) {
                        None => Ok(recorded.fact.into()),
                        Some((field, _)) => Err(format!(
                            concat!(stringify!($table), " {}: {} is written otherwise than it was recorded"),
                            raw.id, field
                        )),
                    }
                });
                $crate::db::stored::StoredRow {
                    noun: <$fact as preen_domain::facts::FactShape>::NOUN,
                    id: raw.id,
                    revision: raw.revision,
                    recorded_at: raw.recorded_at,
                    recorded_by: raw.recorded_by,
                    superseded: self.superseded,
                    is_correction: self.is_correction,
                    fact,
                }
            }
        }

        impl $crate::resources::rows::Rows for $fact {
            const COLUMNS: &'static [(&'static str, $crate::resources::rows::Filter)] =
                &[$((stringify!($field), filter_of!($kind)),)*];
            const HAS_MOMENT: bool = has_moment!($moment);

            fn row(
                club: &str,
                fact: &preen_domain::facts::Recorded<Self>,
                is_correction: bool,
            ) -> Result<$crate::db::written::NewRow, $crate::db::door::DoorError> {
                Ok(Row::of(club, fact, is_correction)?.new_row())
            }

            fn supersede(
                conn: &mut $crate::db::conn::Db,
                club: &str,
                id: uuid::Uuid,
                revision: i64,
            ) -> Result<(), $crate::db::door::DoorError> {
                use diesel::prelude::*;
                use $table::columns;
                diesel::update(
                    $table::table
                        .filter(columns::club_id.eq(club))
                        .filter(columns::id.eq(id.to_string()))
                        .filter(columns::superseded.is_null()),
                )
                .set(columns::superseded.eq(Some(revision)))
                .execute(conn)?;
                Ok(())
            }

            fn find(
                conn: &mut $crate::db::conn::Db,
                club: &str,
                id: uuid::Uuid,
            ) -> Result<Option<preen_domain::facts::Recorded<Self>>, $crate::db::door::DoorError> {
                use diesel::prelude::*;
                use $table::columns;
                $table::table
                    .filter(columns::club_id.eq(club))
                    .filter(columns::id.eq(id.to_string()))
                    .filter(columns::superseded.is_null())
                    .select(Said::as_select())
                    .get_result(conn)
                    .optional()?
                    .map(Said::read)
                    .transpose()
            }

            fn find_versions(
                conn: &mut $crate::db::conn::Db,
                club: &str,
                id: uuid::Uuid,
            ) -> Result<Vec<preen_domain::facts::Recorded<Self>>, $crate::db::door::DoorError> {
                use diesel::prelude::*;
                use $table::columns;
                $table::table
                    .filter(columns::club_id.eq(club))
                    .filter(columns::id.eq(id.to_string()))
                    .order(columns::revision.asc())
                    .select(Said::as_select())
                    .load(conn)?
                    .into_iter()
                    .map(Said::read)
                    .collect()
            }

            fn list(
                conn: &mut $crate::db::conn::Db,
                club: &str,
                page: &$crate::resources::page::Page,
            ) -> Result<Vec<preen_domain::facts::Recorded<Self>>, $crate::db::door::DoorError> {
                use diesel::prelude::*;
                use $table::columns;
                let mut query = $table::table
                    .filter(columns::club_id.eq(club.to_owned()))
                    .filter(columns::superseded.is_null())
                    .select(Said::as_select())
                    .into_boxed();
                for (column, wanted) in &page.filters {
                    $(
                        if *column == stringify!($field) {
                            narrow!($kind, query, columns::$field, wanted);
                        }
                    )*
                    let _ = (column, wanted);
                }
                in_order!($moment, query, page);
                query.limit(page.limit + 1).load(conn)?.into_iter().map(Said::read).collect()
            }

            fn each(
                conn: &mut $crate::db::conn::Db,
                club: &str,
                span: $crate::db::door::Span,
                take: &mut dyn FnMut(preen_domain::facts::Recorded<Self>),
            ) -> Result<(), $crate::db::door::DoorError> {
                use diesel::connection::DefaultLoadingMode;
                use diesel::prelude::*;
                use $table::columns;
                let rows = $table::table
                    .filter(columns::club_id.eq(club))
                    .filter(columns::is_correction.eq(false))
                    .filter(columns::revision.gt(span.after))
                    .filter(columns::revision.le(span.up_to.unwrap_or(i64::MAX)))
                    .order(columns::revision.asc());
                // Here every row of a club passes: each database hands them over in its own form, not in that of both.
                match conn {
                    $crate::db::conn::Db::Sqlite(conn) => {
                        for row in rows.select(Said::as_select()).load_iter::<Said, DefaultLoadingMode>(conn)? {
                            take(row?.read()?);
                        }
                    }
                    $crate::db::conn::Db::Postgres(conn) => {
                        for row in rows.select(Said::as_select()).load_iter::<Said, DefaultLoadingMode>(conn)? {
                            take(row?.read()?);
                        }
                    }
                }
                Ok(())
            }

            fn odd_cells(
                conn: &mut $crate::db::conn::Db,
                club: &str,
            ) -> diesel::QueryResult<Vec<$crate::db::kinds::OddCell>> {
                $crate::db::kinds::odd_cells(conn, stringify!($table), ["id", "revision"], club)
            }

            fn scan(
                conn: &mut $crate::db::conn::Db,
                club: &str,
            ) -> diesel::QueryResult<Vec<$crate::db::stored::StoredRow>> {
                use diesel::prelude::*;
                use $table::columns;
                let rows =
                    $crate::db::stored::of_club_as_they_lie!(conn, $table::table, columns::club_id, club);
                let rows = rows.select(Row::as_select()).load(conn)?;
                Ok(rows.into_iter().map(Row::stored).collect())
            }

            fn look(
                conn: &mut $crate::db::conn::Db,
                club: &str,
                id: &str,
                revision: i64,
                way: $crate::db::stored::Way,
            ) -> diesel::QueryResult<Option<$crate::db::stored::StoredRow>> {
                use diesel::prelude::*;
                use $table::columns;
                let row = match way {
                    $crate::db::stored::Way::ByIndex => $table::table
                        .select(Row::as_select())
                        .filter(columns::club_id.eq(club))
                        .filter(columns::id.eq(id))
                        .filter(columns::revision.eq(revision))
                        .first(conn),
                    $crate::db::stored::Way::PastIndexes =>
                        $crate::db::stored::of_club_as_they_lie!(conn, $table::table, columns::club_id, club)
                        .select(Row::as_select())
                        .filter(columns::id.concat("").eq(id))
                        .filter((columns::revision + 0).eq(revision))
                        .first(conn),
                };
                Ok(row.optional()?.map(Row::stored))
            }
        }
    };
}

/// Whether a noun has a moment, as a constant.
macro_rules! has_moment {
    (some) => {
        true
    };
    (none) => {
        false
    };
}
