//! Lists in pages: what may be asked in the query string, and the cursor to the next page.
//!
//! Pages go by key and not by offset: what is recorded meanwhile neither repeats nor hides a row.

use preen_domain::facts::{Noun, Recorded};
use preen_domain::time::{Instant, end_of_day, start_of_day};

use super::rows::{Filter, Rows};
use crate::access::sight::Finds;
use crate::problem::Problem;

/// The value a column must have.
#[derive(Clone, Debug, PartialEq)]
pub enum Wanted {
    /// This text.
    Text(String),
    /// Yes or no.
    Flag(bool),
    /// This number.
    Count(i64),
}

/// What a list is ordered by.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Sort {
    /// The revision at which it was recorded.
    Revision,
    /// The moment it happened.
    OccurredAt,
}

/// One page that is asked for.
#[derive(Clone, Debug, PartialEq)]
pub struct Page {
    /// Rows at most.
    pub limit: i64,
    /// Key and id of the last row of the page before.
    pub after: Option<(i64, String)>,
    /// What it is ordered by.
    pub sort: Sort,
    /// Newest first.
    pub is_descending: bool,
    /// What columns must be equal to.
    pub filters: Vec<(&'static str, Wanted)>,
    /// Happened at or after this moment, in microseconds.
    pub occurred_from: Option<i64>,
    /// Happened before this moment, in microseconds.
    pub occurred_to: Option<i64>,
}

/// Rows of a page if nothing is said.
pub const USUAL_LIMIT: i64 = 100;
/// Rows of a page at most.
pub const MOST: i64 = 500;

impl Page {
    /// The first rows whose column has a value, as many as a page may have at most.
    pub fn all_with(column: &'static str, wanted: Wanted) -> Self {
        Self {
            limit: MOST,
            after: None,
            sort: Sort::Revision,
            is_descending: false,
            filters: vec![(column, wanted)],
            occurred_from: None,
            occurred_to: None,
        }
    }

    /// The rows after a key and id, in the order of recording, as many as a page may have at most.
    pub fn from_key(after: Option<(i64, String)>) -> Self {
        Self {
            limit: MOST,
            after,
            sort: Sort::Revision,
            is_descending: false,
            filters: Vec::new(),
            occurred_from: None,
            occurred_to: None,
        }
    }

    /// Reads the query string of a list. A parameter that the noun does not have is refused by name.
    pub fn parse<F: Rows>(
        pairs: &[(String, String)],
        names: &dyn Finds,
        zone: chrono_tz::Tz,
    ) -> Result<Self, Problem> {
        let mut page = Self {
            limit: USUAL_LIMIT,
            after: None,
            sort: Sort::Revision,
            is_descending: false,
            filters: Vec::new(),
            occurred_from: None,
            occurred_to: None,
        };
        for (name, value) in pairs {
            match name.as_str() {
                "limit" => page.limit = parse_limit(value)?,
                "cursor" => page.after = Some(parse_cursor(value)?),
                "sort" => (page.sort, page.is_descending) = parse_sort::<F>(value)?,
                "occurred_from" if F::HAS_MOMENT => {
                    page.occurred_from = Some(parse_moment(name, value, |day| start_of_day(day, zone))?);
                }
                "occurred_to" if F::HAS_MOMENT => {
                    page.occurred_to = Some(parse_moment(name, value, |day| end_of_day(day, zone))?);
                }
                _ => page.filters.push(parse_filter::<F>(name, value, names)?),
            }
        }
        Ok(page)
    }

    /// The cursor to the page behind this one, if there are more rows than fit.
    pub fn cut<F: Rows>(&self, rows: &mut Vec<Recorded<F>>) -> Option<String> {
        let limit = usize::try_from(self.limit).unwrap_or(usize::MAX);
        if rows.len() <= limit {
            return None;
        }
        rows.truncate(limit);
        rows.last().map(|last| {
            let key = match self.sort {
                Sort::Revision => last.revision,
                Sort::OccurredAt => last.fact.occurred_at().map_or(0, Instant::micros),
            };
            format!("{key}_{}", last.fact.id())
        })
    }
}

fn parse_limit(value: &str) -> Result<i64, Problem> {
    value.parse().ok().filter(|limit| (1..=MOST).contains(limit)).ok_or_else(|| {
        Problem::bad_parameter("limit", format!("`{value}` is not a number from 1 to {MOST}."))
    })
}

fn parse_cursor(value: &str) -> Result<(i64, String), Problem> {
    value
        .split_once('_')
        .and_then(|(key, id)| Some((key.parse().ok()?, uuid::Uuid::parse_str(id).ok()?.to_string())))
        .ok_or_else(|| {
            Problem::bad_parameter(
                "cursor",
                "It is not a cursor of this service. Take it from the `Link` header of the page before."
                    .into(),
            )
        })
}

fn parse_sort<F: Rows>(value: &str) -> Result<(Sort, bool), Problem> {
    let (word, is_descending) = value.strip_prefix('-').map_or((value, false), |word| (word, true));
    match word {
        "revision" => Ok((Sort::Revision, is_descending)),
        "occurred_at" if F::HAS_MOMENT => Ok((Sort::OccurredAt, is_descending)),
        _ => {
            let choices = if F::HAS_MOMENT { "revision or occurred_at" } else { "revision" };
            Err(Problem::bad_parameter(
                "sort",
                format!(
                    "`{value}` is not something to sort by: use {choices}, with `-` before it for newest first."
                ),
            ))
        }
    }
}

fn parse_moment(
    name: &str,
    value: &str,
    of_day: impl Fn(chrono::NaiveDate) -> Instant,
) -> Result<i64, Problem> {
    if let Ok(day) = value.parse::<chrono::NaiveDate>() {
        return Ok(of_day(day).micros());
    }
    value.parse::<Instant>().map(Instant::micros).map_err(|error| {
        Problem::bad_parameter(name, format!("{error}; a day such as 2026-05-23 also does."))
    })
}

fn parse_filter<F: Rows>(
    name: &str,
    value: &str,
    names: &dyn Finds,
) -> Result<(&'static str, Wanted), Problem> {
    let Some((column, filter)) =
        F::COLUMNS.iter().find(|(column, filter)| *column == name && *filter != Filter::None)
    else {
        return Err(Problem::bad_parameter(
            name,
            format!(
                "The list of {} knows no such parameter. It knows: {}.",
                F::NOUN,
                parameters::<F>().join(", ")
            ),
        ));
    };
    let wanted = match filter {
        Filter::Text => Wanted::Text(name_to_key::<F>(column, value, names)?),
        Filter::Flag => Wanted::Flag(value.parse().map_err(|_not_a_flag| {
            Problem::bad_parameter(name, format!("`{value}` is neither true nor false."))
        })?),
        Filter::Count => Wanted::Count(value.parse().map_err(|_not_whole| {
            Problem::bad_parameter(name, format!("`{value}` is not a whole number."))
        })?),
        Filter::None => {
            return Err(Problem::bad_parameter(name, "The list cannot be narrowed by it.".into()));
        }
    };
    Ok((column, wanted))
}

/// What stands in the column for an id or a tag in the query.
fn name_to_key<F: Rows>(column: &str, value: &str, names: &dyn Finds) -> Result<String, Problem> {
    let direct = format!("/{column}");
    let nested = format!("/{column}/");
    let mut targets = F::REFERENCES.iter().filter_map(|(pointer, noun)| {
        (*pointer == direct).then_some((None, *noun)).or_else(|| {
            pointer.strip_prefix(&nested).filter(|tail| !tail.contains('/')).map(|tail| (Some(tail), *noun))
        })
    });
    let all: Vec<(Option<&str>, Noun)> = targets.by_ref().collect();
    if all.is_empty() {
        return Ok(value.to_owned());
    }
    for (part, noun) in &all {
        if let Some(id) = names.find(*noun, value) {
            return Ok(part.map_or_else(|| id.to_string(), |part| format!("{part}:{id}")));
        }
    }
    let nouns: Vec<&str> = all.iter().map(|(_, noun)| noun.as_str()).collect();
    Err(Problem::bad_parameter(column, format!("There is no `{value}` among the {}.", nouns.join(" and "))))
}

/// The parameters that the list of a noun knows.
pub fn parameters<F: Rows>() -> Vec<&'static str> {
    let mut known = vec!["limit", "cursor", "sort"];
    if F::HAS_MOMENT {
        known.extend(["occurred_from", "occurred_to"]);
    }
    known.extend(F::COLUMNS.iter().filter(|(_, filter)| *filter != Filter::None).map(|(column, _)| *column));
    known
}

/// The same, each with how it narrows the list, for the description of the interface.
pub fn described_parameters<F: Rows>() -> Vec<(&'static str, Filter)> {
    let filter =
        |name: &str| F::COLUMNS.iter().find(|(column, _)| *column == name).map(|(_, filter)| *filter);
    parameters::<F>().into_iter().map(|name| (name, filter(name).unwrap_or(Filter::None))).collect()
}

/// The header `Link` to the next page: the same question with another cursor.
pub fn next_link(path: &str, pairs: &[(String, String)], cursor: &str) -> String {
    let mut query = String::new();
    for (name, value) in pairs.iter().filter(|(name, _)| name != "cursor") {
        query.push_str(&format!("{}={}&", escape(name), escape(value)));
    }
    format!("<{path}?{query}cursor={cursor}>; rel=\"next\"")
}

fn escape(text: &str) -> String {
    text.bytes().fold(String::new(), |mut escaped, byte| {
        if byte.is_ascii_alphanumeric() || b"-_.".contains(&byte) {
            escaped.push(char::from(byte));
        } else {
            escaped.push_str(&format!("%{byte:02X}"));
        }
        escaped
    })
}

/// One page of a list, as it is answered.
#[derive(serde::Serialize, utoipa::ToSchema)]
pub struct Listed<T> {
    /// The items of this page, at most as many as asked for.
    pub items: Vec<T>,
    /// The cursor to the next page; null on the last.
    pub next: Option<String>,
}

/// The query string as pairs, in the order they came.
pub struct Pairs(pub Vec<(String, String)>);

impl actix_web::FromRequest for Pairs {
    type Error = Problem;
    type Future = std::future::Ready<Result<Self, Problem>>;

    fn from_request(request: &actix_web::HttpRequest, _: &mut actix_web::dev::Payload) -> Self::Future {
        let pairs = actix_web::web::Query::<Vec<(String, String)>>::from_query(request.query_string())
            .map(|query| Self(query.into_inner()))
            .map_err(|error| Problem::bad_parameter("", format!("The query string cannot be read: {error}.")))
            .and_then(|pairs| match pairs.0.iter().find(|(_, value)| value.contains('\0')) {
                // No text on record holds one, and not every database can be asked for it.
                Some((name, _)) => Err(Problem::bad_parameter(name, "It holds a NUL character.".to_owned())),
                None => Ok(pairs),
            });
        std::future::ready(pairs)
    }
}
