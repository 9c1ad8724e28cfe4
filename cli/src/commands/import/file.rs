//! What the columns of a file mean, and what became of each of its rows.

use std::collections::BTreeMap;
use std::fs::File;
use std::path::Path;

use preen_domain::facts::Noun;
use serde::Serialize;
use serde_json::{Map, Value};
use sha2::{Digest as _, Sha256};
use uuid::Builder;

use super::Args;
use crate::client::Client;
use crate::failure::Failure;
use crate::fields::Target;
use crate::rows::Row;

/// The columns of a file as fields of a noun.
pub struct Columns {
    noun: Noun,
    club: String,
    fields: Vec<Option<Target>>,
    preset: Map<String, Value>,
    has_decimal_comma: bool,
}

impl Columns {
    /// Reads the first row with what was said of columns.
    ///
    /// # Errors
    /// A column that is no field and was not mapped, a field that two columns fill.
    pub fn read(args: &Args, head: &Row, client: &Client) -> Result<Self, Failure> {
        let mut mapped: BTreeMap<&str, &str> = BTreeMap::new();
        for pair in &args.map {
            let (column, field) = pair
                .split_once('=')
                .ok_or_else(|| Failure::bad_input(format!("`{pair}` is not COLUMN=FIELD.")))?;
            mapped.insert(column.trim(), field.trim());
        }
        let mut names = Vec::new();
        for cell in &head.cells {
            let name = cell.clone().map_err(|why| Failure::bad_input(format!("The first row: {why}.")))?;
            names.push(name);
        }
        if let Some(unknown) = mapped.keys().find(|column| !names.iter().any(|name| name == *column)) {
            return Err(Failure::bad_input(format!("The file has no column `{unknown}`."))
                .hint(format!("It has: {}.", names.join(", "))));
        }
        let mut fields: Vec<Option<Target>> = Vec::new();
        for name in &names {
            let field = match mapped.get(name.as_str()) {
                Some(&"") => None,
                Some(field) => Some(Target::find(args.noun, field)?),
                None if name.is_empty() => None,
                None => Some(Target::find(args.noun, name).map_err(|failure| {
                    failure
                        .hint(format!("--map '{name}=FIELD' says what it is, --map '{name}=' leaves it out."))
                })?),
            };
            if let Some(field) = &field
                && fields.iter().flatten().any(|known| known.path == field.path)
            {
                return Err(Failure::bad_input(format!("Two columns fill the field `{}`.", field.path)));
            }
            fields.push(field);
        }
        let mut preset = Map::new();
        for pair in &args.set {
            crate::fields::assign(client, args.noun, &mut preset, pair)?;
        }
        Ok(Self {
            noun: args.noun,
            club: client.club()?.club_id.to_string(),
            fields,
            preset,
            has_decimal_comma: args.decimal_comma,
        })
    }

    /// The fact that a row says.
    ///
    /// # Errors
    /// Which cell cannot be read, and why.
    pub fn fact(&self, row: &Row, client: &Client) -> Result<Map<String, Value>, String> {
        let mut fact = self.preset.clone();
        for (place, cell) in row.cells.iter().enumerate() {
            let field = self.fields.get(place);
            if field.is_none() && cell.as_ref().is_ok_and(|text| !text.is_empty()) {
                return Err(format!(
                    "it has more cells than the first row: {} instead of {}",
                    row.cells.len(),
                    self.fields.len()
                ));
            }
            let Some(Some(field)) = field else { continue };
            let text = cell.as_ref().map_err(|why| format!("{}: {why}", field.path))?;
            if text.is_empty() {
                continue;
            }
            let is_decimal = self.has_decimal_comma && field.is_number();
            let put = if is_decimal {
                field.put(client, &mut fact, &text.replacen(',', ".", 1))
            } else {
                field.put(client, &mut fact, text)
            };
            put.map_err(|failure| failure.text)?;
        }
        if !fact.contains_key("id") {
            let id = self.id_of(&fact);
            fact.insert("id".to_owned(), Value::String(id));
        }
        Ok(fact)
    }

    /// An id made of what a row says (UUIDv8, RFC 9562): the same row has the same id whenever it is sent.
    fn id_of(&self, fact: &Map<String, Value>) -> String {
        let mut sha = Sha256::new();
        for part in
            ["preen import 1", &self.club, self.noun.as_str(), &Value::Object(fact.clone()).to_string()]
        {
            sha.update(part.len().to_be_bytes());
            sha.update(part.as_bytes());
        }
        let mut bytes = [0_u8; 16];
        for (to, from) in bytes.iter_mut().zip(sha.finalize()) {
            *to = from;
        }
        Builder::from_custom_bytes(bytes).into_uuid().to_string()
    }
}

/// What became of a row.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Verdict {
    /// Its number in the file.
    pub row: u64,
    /// `possible`, `recorded`, `known` or `refused`.
    pub verdict: String,
    /// Why it was refused.
    pub why: String,
}

/// What became of all rows: counts, the first refusals, and a report of all where one is wanted.
pub struct Verdicts {
    counts: BTreeMap<String, u64>,
    shown: Vec<Verdict>,
    most: usize,
    report: Option<csv::Writer<File>>,
}

impl Verdicts {
    /// Begins the report, if there is to be one.
    ///
    /// # Errors
    /// It cannot be written.
    pub fn begin(report: Option<&Path>, most: usize) -> Result<Self, Failure> {
        let begin = |path: &Path| -> Result<csv::Writer<File>, Failure> {
            let mut writer = csv::Writer::from_path(path).map_err(|error| no_report(&error))?;
            writer.write_record(["row", "verdict", "why"]).map_err(|error| no_report(&error))?;
            Ok(writer)
        };
        Ok(Self { counts: BTreeMap::new(), shown: Vec::new(), most, report: report.map(begin).transpose()? })
    }

    /// Notes what became of a row.
    ///
    /// # Errors
    /// The report cannot be written.
    pub fn add(&mut self, row: u64, verdict: &str, why: &str) -> Result<(), Failure> {
        *self.counts.entry(verdict.to_owned()).or_default() += 1;
        if verdict == "refused" && self.shown.len() < self.most {
            self.shown.push(Verdict { row, verdict: verdict.to_owned(), why: why.to_owned() });
        }
        if let Some(report) = &mut self.report {
            report.write_record([&row.to_string(), verdict, why]).map_err(|error| no_report(&error))?;
        }
        Ok(())
    }

    /// Finishes the report.
    ///
    /// # Errors
    /// It cannot be written.
    pub fn end(&mut self) -> Result<(), Failure> {
        self.report.as_mut().map_or(Ok(()), |report| report.flush().map_err(|error| no_report(&error)))
    }

    /// Rows so far.
    pub fn count(&self) -> u64 {
        self.counts.values().sum()
    }

    /// Rows by what became of them.
    pub fn counts(&self) -> &BTreeMap<String, u64> {
        &self.counts
    }

    /// How many rows were refused.
    pub fn bad(&self) -> u64 {
        self.counts.get("refused").copied().unwrap_or_default()
    }

    /// The first ones that were refused.
    pub fn shown(&self) -> &[Verdict] {
        &self.shown
    }
}

fn no_report(error: &dyn std::fmt::Display) -> Failure {
    Failure::bad_input(format!("The report cannot be written: {error}."))
}
