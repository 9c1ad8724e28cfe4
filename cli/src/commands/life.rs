//! `preen life`: how long parts last, batch against batch, by the club's record; or lives from a file, on the bench.
//! How it is shown is in `life_told`.

use preen_domain::answers::compute::{SurvivalQuestion, compute_survival};
use preen_domain::answers::{Answer, PartLife};
use preen_domain::facts::Noun;

use super::life_told::{tell_bench, tell_record};
use super::{Session, bench, frame_line};
use crate::Io;
use crate::args::Asked;
use crate::failure::Failure;
use crate::output::Reply;

/// Which parts, how counted.
#[derive(Debug, clap::Args)]
#[command(
    after_help = "As in: preen life SV08 --batch A --batch B --position-kind \"flap servo\"\nOn the bench: \
                        preen life --from lives.json, with {\"lives\": [{\"group\": \"A\", \"failed_at\": 96}, \
                        {\"running_at\": 120}, {\"good_at\": 50, \"found_at\": 75}]}\n\
                        or, for repairs of whole systems, {\"systems\": [{\"system\": \"SG-01\", \"repaired_at\": [40, 95, 130], \
                        \"watched_until\": 160}]}"
)]
pub struct Args {
    /// The part type
    #[arg(required_unless_present = "from", conflicts_with = "from")]
    part: Option<String>,
    /// Lives, or repairs of systems, as JSON, as the service takes them; `-` is the input. Needs no service
    #[arg(long, value_name = "FILE")]
    from: Option<String>,
    /// This batch; again for another [default: every batch that was in use]
    #[arg(long, conflicts_with = "from")]
    batch: Vec<String>,
    /// Only this kind of position, such as "flap servo" [default: each kind by itself]
    #[arg(long, value_name = "KIND", conflicts_with = "from")]
    position_kind: Option<String>,
    /// What is counted: flights, launches, airtime_h, motor_s, riggings, charges of packs [default: flights]
    #[arg(long, value_name = "COUNTER", conflicts_with = "from")]
    by: Option<String>,
    /// Only wear of this quantity [default: every quantity that has limits]
    #[arg(long, conflicts_with = "from")]
    quantity: Option<String>,
    /// What the quantity reads on a new part [default: the best reading of a part before its first use]
    #[arg(long, value_name = "VALUE", requires = "quantity", allow_hyphen_values = true)]
    as_new: Option<f64>,
    /// Two-sided confidence of all bounds [default: 0.9]
    #[arg(long, value_name = "SHARE", conflicts_with = "from")]
    confidence: Option<f64>,
    /// List every part with how its life stands
    #[arg(long, conflicts_with = "from")]
    parts: bool,
    #[command(flatten)]
    asked: Asked,
}

/// Whether the lives come from a file.
pub fn is_bench(args: &Args) -> bool {
    args.from.is_some()
}

/// Computes from a file, without a service.
pub fn on_bench(args: &Args, io: &mut Io<'_>) -> Result<Reply, Failure> {
    let question: SurvivalQuestion = bench::read_question(io, args.from.as_deref().unwrap_or("-"))?;
    let (answer, json) = bench::compute(&question, compute_survival)?;
    Ok(tell_bench(json, &answer))
}

/// Asks and shows.
pub fn run(args: &Args, session: &mut Session<'_, '_>) -> Result<Reply, Failure> {
    let client = &session.client;
    let mut query = args.asked.query(client)?;
    if let Some(part) = &args.part {
        query.push(("part", client.name(Noun::Parts, part)?.to_owned()));
    }
    if !args.batch.is_empty() {
        query.push(("batches", args.batch.join(",")));
    }
    query.extend(args.position_kind.clone().map(|kind| ("position_kind", kind)));
    query.extend(args.by.clone().map(|counter| ("counter", counter)));
    query.extend(args.quantity.clone().map(|quantity| ("quantity", quantity)));
    query.extend(args.as_new.map(|value| ("as_new", value.to_string())));
    query.extend(args.confidence.map(|share| ("confidence", share.to_string())));
    let received = client.get(&["life"], &query)?;
    let answer: Answer<PartLife> = received.read()?;
    let frame = if session.is_json { String::new() } else { frame_line(&answer, session.client.zone()?) };
    Ok(tell_record(received.text, &answer.answer, frame, args.parts))
}
