//! `preen repair`: records a repair that was started; and its work sheet: `sheet`, `show`, `step`. It stays open until
//! it is released.

use preen_domain::facts::Noun;
use preen_domain::words::RepairKind;
use serde_json::json;

use super::Session;
use super::record::{Draft, record};
use crate::args::When;
use crate::failure::Failure;
use crate::moments::parse_moment;
use crate::output::Reply;

/// A repair that was started, or something about its sheet.
#[derive(Debug, clap::Args)]
#[command(args_conflicts_with_subcommands = true, subcommand_negates_reqs = true)]
pub struct Args {
    #[command(subcommand)]
    command: Option<Command>,
    #[command(flatten)]
    start: Start,
}

/// What can be done about a work sheet.
#[derive(Debug, clap::Subcommand)]
enum Command {
    /// Show the work sheet of a kind of repair: steps, cautions, tools, material, who signs
    Sheet(super::repair_sheet::SheetArgs),
    /// Show the sheet of a repair as it stands: what is ticked, what cures, what blocks the release
    Show(super::repair_sheet::ShowArgs),
    /// Record work on a repair: steps ticked, material, cure, mass, what its sheet keeps
    Step(Box<super::repair_step::Args>),
}

/// Does it.
pub fn run(args: &Args, session: &mut Session<'_, '_>) -> Result<Reply, Failure> {
    match &args.command {
        Some(Command::Sheet(args)) => super::repair_sheet::sheet(args, session),
        Some(Command::Show(args)) => super::repair_sheet::show(args, session),
        Some(Command::Step(args)) => super::repair_step::run(args, session),
        None => start_repair(&args.start, session),
    }
}

/// The repair.
#[derive(Debug, clap::Args)]
struct Start {
    /// The model it is done for
    #[arg(required = true)]
    model: Option<String>,
    /// Its kind: R1 joiner tight, R2 joiner loose, R3 connector, R4 servo cover, R5 servo screwed, R6 servo bonded,
    /// R7 horn, R8 hinge, R9 leading edge, R10 boom or fuselage, R11 spar or socket, R12 pack, R13 motor and propeller
    #[arg(required = true)]
    kind: Option<RepairKind>,
    /// What was done
    #[arg(required = true)]
    text: Option<String>,
    /// A part it is done on
    #[arg(long = "part", value_name = "PART")]
    parts: Vec<String>,
    /// The defect it mends
    #[arg(long)]
    defect: Option<String>,
    /// Not to be released before this time; the data sheet of the resin wins
    #[arg(long, value_name = "TIME")]
    cure_until: Option<String>,
    /// Material added, weighed, g; negative: taken off
    #[arg(long, value_name = "G", allow_hyphen_values = true)]
    material: Option<f64>,
    /// Place of that material, mm aft of the datum
    #[arg(long, value_name = "MM", requires = "material", allow_hyphen_values = true)]
    x: Option<f64>,
    /// Place of that material, mm right of the centreline
    #[arg(long, value_name = "MM", requires = "material", allow_hyphen_values = true)]
    y: Option<f64>,
    /// Place of that material, mm above the datum
    #[arg(long, value_name = "MM", requires = "material", allow_hyphen_values = true)]
    z: Option<f64>,
    /// Lead used up by a re-termination, mm
    #[arg(long, value_name = "MM")]
    slack_used: Option<f64>,
    #[command(flatten)]
    when: When,
    /// Who does the work, if not you
    #[arg(long, value_name = "MEMBER")]
    by: Option<String>,
    /// Number in the club's own record
    #[arg(long)]
    tag: Option<String>,
}

/// Records it.
fn start_repair(args: &Start, session: &mut Session<'_, '_>) -> Result<Reply, Failure> {
    // Only a command in their place lets them be absent.
    let (Some(model), Some(kind), Some(text)) = (&args.model, args.kind, &args.text) else {
        return Err(Failure::bad_input("Say which model, what kind of repair and what was done."));
    };
    let numbers = [args.material, args.x, args.y, args.z, args.slack_used];
    if numbers.iter().flatten().any(|number| !number.is_finite()) {
        return Err(Failure::bad_input("Masses and places are finite numbers."));
    }
    if args.material.is_some() && args.x.is_none() {
        return Err(Failure::bad_input("Material needs its place: it moves the centre of gravity.")
            .hint("Give --x, and --y and --z where they are not 0."));
    }
    let at = args.when.moment(&session.client)?;
    let cure_until = match &args.cure_until {
        Some(text) => Some(json!(parse_moment(text, session.client.zone()?, session.client.now()?)?)),
        None => None,
    };
    let draft = Draft::new(session)
        .with("model", model.as_str())
        .with("components", args.parts.clone())
        .with("kind", json!(kind))
        .with("text", text.as_str())
        .with("occurred_at", json!(at))
        .with("material_mass_g", args.material.unwrap_or(0.0))
        .with("x_mm", args.x.unwrap_or(0.0))
        .with("y_mm", args.y.unwrap_or(0.0))
        .with("z_mm", args.z.unwrap_or(0.0))
        .maybe("cure_until_at", cure_until)
        .maybe("defect", args.defect.clone())
        .maybe("slack_used_mm", args.slack_used)
        .maybe("done_by", args.by.clone())
        .maybe("tag", args.tag.clone());
    let mut reply = record(session, Noun::Repairs, draft, &format!("{kind} on {model} is open"))?;
    reply.hint(format!("`preen repair sheet {kind}` says how it is done; `preen repair step` ticks it off."));
    reply.hint("`preen release REPAIR --second-person MEMBER` ends it, when it is cured and checked.");
    Ok(reply)
}
