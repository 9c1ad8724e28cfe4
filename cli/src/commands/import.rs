//! `preen import`: rows of a spreadsheet into the record, tried first.
//!
//! Each row becomes a fact whose id is made of what it says, so that a file that is sent again records nothing twice:
//! an import that broke off is taken up by the same command.

mod file;
mod send;

use std::path::PathBuf;

use preen_domain::facts::Noun;
use serde_json::json;

use super::Session;
use crate::failure::Failure;
use crate::output::{Block, Cell, Reply, Table, left, progress, right};
use file::{Columns, Verdicts};
use send::{Parcels, TOGETHER};

/// Rows with something wrong that are shown; --report writes all.
const SHOWN: usize = 30;

/// What to read, and how.
#[derive(Debug, clap::Args)]
#[command(
    after_help = "The first row names the columns: fields of the noun (`preen flights fields`), or others with --map.\n\
    As in: preen import flights log-2026.xlsx --map Date=occurred_at --map Plane=model --set pilot=AV"
)]
pub struct Args {
    /// What the rows are: models, components, installations, flights, measurements, weighings, …
    noun: Noun,
    /// The file: .csv, .tsv, .xlsx or .ods
    file: PathBuf,
    /// Sheet of a workbook [default: the first]
    #[arg(long, value_name = "NAME")]
    sheet: Option<String>,
    /// A column of the file and the field it fills; `COLUMN=` leaves the column out
    #[arg(long, value_name = "COLUMN=FIELD")]
    map: Vec<String>,
    /// A field that has this value in every row that does not say otherwise
    #[arg(long, value_name = "FIELD=VALUE")]
    set: Vec<String>,
    /// Numbers are written with a comma, as in 10,4
    #[arg(long)]
    decimal_comma: bool,
    /// Record it; without this it is only tried
    #[arg(long)]
    record: bool,
    /// Record each row that can be, whatever becomes of the others [default: all rows or none]
    #[arg(long)]
    each: bool,
    /// Write the verdict on every row to this CSV file
    #[arg(long, value_name = "FILE")]
    report: Option<PathBuf>,
}

/// Tries or records it.
pub fn run(args: &Args, session: &mut Session<'_, '_>) -> Result<Reply, Failure> {
    session.client.club()?;
    let mut rows = crate::rows::open(&args.file, args.sheet.as_deref())?;
    let head = rows.next().ok_or_else(|| {
        Failure::bad_input(format!("{} holds no row.", args.file.display()))
            .hint("Its first row names the columns.")
    })??;
    let columns = Columns::read(args, &head, &session.client)?;
    let mut verdicts = Verdicts::begin(args.report.as_deref(), SHOWN)?;
    let mut parcels = Parcels::new(args.noun, args.record, args.each);
    for row in rows {
        let row = row?;
        match columns.fact(&row, &session.client) {
            Ok(fact) => parcels.push(row.number, fact),
            Err(why) => {
                verdicts.add(row.number, "refused", &why)?;
                parcels.miss();
            }
        }
        if parcels.is_full()? {
            parcels.send(&session.client, &mut verdicts)?;
            progress(session.io, &format!("{} rows", verdicts.count()));
        }
    }
    // Where all stand or fall together, one row that cannot be read keeps the others from being recorded.
    parcels.send(&session.client, &mut verdicts)?;
    progress(session.io, "");
    verdicts.end()?;
    Ok(tell(args, &verdicts, session.is_json))
}

fn tell(args: &Args, verdicts: &Verdicts, is_json: bool) -> Reply {
    let counts = verdicts.counts();
    let bad = verdicts.bad();
    let said = json!({
        "is_recorded": args.record, "rows": verdicts.count(), "counts": counts, "refused": verdicts.shown(),
    });
    let mut reply = Reply { json: said.to_string(), code: u8::from(bad > 0), ..Reply::default() };
    let mut table = Table::new([right("row"), left("verdict"), left("why")]);
    for shown in verdicts.shown() {
        table.push([
            Cell::of(shown.row),
            Cell::plain(shown.verdict.as_str()),
            Cell::plain(shown.why.as_str()),
        ]);
    }
    if !is_json {
        let told: Vec<String> =
            counts.iter().map(|(verdict, count)| format!("{count} {}", word(verdict))).collect();
        let way = if args.record { "Imported" } else { "Tried, nothing is recorded" };
        reply.line(format!("{way}: {} rows of {}: {}.", verdicts.count(), args.noun, told.join(", ")));
        if !verdicts.shown().is_empty() {
            reply.blocks.push(Block::Table(table.clone()));
        }
    }
    reply.csv = table;
    let shown = u64::try_from(verdicts.shown().len()).unwrap_or_default();
    if bad > shown {
        reply.hint(format!("{} more rows are refused: --report FILE writes all of them.", bad - shown));
    }
    match (args.record, bad) {
        (false, 0) => reply.hint("The same with --record records it."),
        (false, _) => reply.hint("Mend the rows and try again, or record the others with --record --each."),
        (true, 0) => {}
        (true, _) if args.each => {
            reply.hint("Mend the rows and run it again: what is on record stays as it is.");
        }
        (true, _) => reply.hint("Nothing is recorded: all rows or none. --each records those that can be."),
    }
    if verdicts.count() > u64::try_from(TOGETHER).unwrap_or(u64::MAX) && !args.record {
        reply.hint(
            "The file is long: rows were tried in parts, so that none could rest on one far before it.",
        );
    }
    reply
}

/// A verdict in words.
fn word(verdict: &str) -> &str {
    match verdict {
        "possible" => "can be recorded",
        "recorded" => "recorded",
        "known" => "on record already",
        "refused" => "refused",
        other => other,
    }
}
