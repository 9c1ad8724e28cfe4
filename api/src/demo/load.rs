//! Records the facts of a club's tables one by one through the public REST API.

use futures_util::{StreamExt, stream};
use serde_json::Value;

use super::{
    progress::Progress,
    rest::{Rest, RestError},
};
use crate::exchange::tables::{Fault, Faults, Row, waves};

/// Requests under way at the same time.
const ABREAST: usize = 16;

/// Records rows that stand in order; returns how many. The same rows again record nothing twice.
///
/// # Errors
/// Every row of the first wave in which one was refused, by file and line, with what the service said.
pub async fn load(rest: &Rest, rows: &[Row], progress: &Progress) -> Result<usize, Faults> {
    let mut recorded = 0;
    for wave in waves(rows) {
        let mut faults = Faults::default();
        let requests = wave.iter().map(|row| async move { (row, record(rest, row).await) });
        let mut answers = stream::iter(requests).buffer_unordered(ABREAST);
        while let Some((row, answer)) = answers.next().await {
            match answer {
                Ok(_) => recorded += 1,
                Err(error) => faults.push(Fault::of_row(row.file, row.line, error.to_string())),
            }
            progress.step();
        }
        if !faults.is_empty() {
            return Err(faults.sorted());
        }
    }
    Ok(recorded)
}

async fn record(rest: &Rest, row: &Row) -> Result<Value, RestError> {
    let body = serde_json::to_value(&row.fact)?;
    rest.post(row.fact.noun().as_str(), &body).await
}
