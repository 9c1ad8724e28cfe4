//! `preen log`: logs a flight, or a session of hand launches.

use preen_domain::facts::Noun;
use preen_domain::words::Landing;
use serde_json::json;

use super::Session;
use super::record::{Draft, record};
use crate::args::When;
use crate::failure::Failure;
use crate::moments::parse_minutes;
use crate::output::Reply;

/// The flight.
#[derive(Debug, clap::Args)]
pub struct Args {
    /// The model
    model: String,
    /// Time in the air: 9.5 or 9:30 minutes
    #[arg(value_parser = parse_minutes)]
    airtime: f64,
    /// How you grade the landing: soft, normal, firm, hard
    landing: Landing,
    /// The after-flight check was made
    #[arg(long)]
    checked: bool,
    /// The landing flap was used
    #[arg(long)]
    landing_flap: bool,
    /// Motor time, s
    #[arg(long, value_name = "S", default_value_t = 0)]
    motor: u32,
    /// Launches, for a session of hand launches
    #[arg(long, value_name = "NUMBER", default_value_t = 1)]
    launches: u32,
    /// Who flew it [default: you]
    #[arg(long, value_name = "MEMBER")]
    pilot: Option<String>,
    #[command(flatten)]
    when: When,
    /// Number in the club's own log
    #[arg(long)]
    tag: Option<String>,
    /// Anything else worth knowing
    #[arg(long, value_name = "TEXT")]
    note: Option<String>,
}

/// Logs it.
pub fn run(args: &Args, session: &mut Session<'_, '_>) -> Result<Reply, Failure> {
    let at = args.when.moment(&session.client)?;
    let pilot = match &args.pilot {
        Some(pilot) => pilot.clone(),
        None => session.client.club()?.member.clone(),
    };
    let draft = Draft::new(session)
        .with("model", args.model.as_str())
        .with("pilot", pilot)
        .with("occurred_at", json!(at))
        .with("launches", args.launches)
        .with("airtime_min", args.airtime)
        .with("motor_s", args.motor)
        .with("is_landing_flap_used", args.landing_flap)
        .with("landing", json!(args.landing))
        .with("is_post_flight_logged", args.checked)
        .maybe("tag", args.tag.clone())
        .maybe("note", args.note.clone());
    let what = format!("flight of {}, {:.1} min, landing {}", args.model, args.airtime, args.landing);
    let mut reply = record(session, Noun::Flights, draft, &what)?;
    if args.landing == Landing::Hard {
        reply.hint(format!(
            "A hard landing opens a check at once: `preen may-fly {}` says what clears it.",
            args.model
        ));
    } else {
        reply.hint(format!("`preen due --model {}` says what is due.", args.model));
    }
    Ok(reply)
}
