//! `preen sheet`: fetches a printed sheet and keeps it as a file.

use std::fs::OpenOptions;
use std::io::Write as _;
use std::path::PathBuf;

use preen_domain::facts::Noun;

use super::Session;
use crate::args::Asked;
use crate::client::Query;
use crate::failure::Failure;
use crate::output::Reply;

/// Which sheet.
#[derive(Debug, clap::Subcommand)]
pub enum SheetCommand {
    /// The record of one model for a buyer: parts with their own life, defects, readings, weighings, repairs
    Record(OfModel),
    /// A card to fill in by hand on the field
    FieldCard(OfModel),
    /// The items of a check with room for readings
    Check(OfCheck),
    /// What is still to be done for a campaign, place by place
    Campaign(OfCampaign),
    /// The work sheet of a repair with its cautions
    Repair(OfRepair),
    /// What a team has to do before a contest, entry by entry
    Readiness(OfContest),
    /// What a model measures against its class, with every step of ballast, for scrutineers
    Scrutineering(OfClass),
    /// Labels with a square code and the tag, to cut out
    Labels(OfLabels),
}

/// What is asked about every sheet.
#[derive(Debug, clap::Args)]
pub struct Printing {
    /// Paper: a4 or letter
    #[arg(long, default_value = "a4", value_parser = ["a4", "letter"])]
    paper: String,
    /// File to write; named after the sheet if not given
    #[arg(long, value_name = "FILE")]
    out: Option<PathBuf>,
    /// Write over a file that is there
    #[arg(long)]
    force: bool,
    #[command(flatten)]
    asked: Asked,
}

/// A sheet about a model.
#[derive(Debug, clap::Args)]
pub struct OfModel {
    /// The model
    model: String,
    #[command(flatten)]
    printing: Printing,
}

/// A sheet about a check of a model.
#[derive(Debug, clap::Args)]
pub struct OfCheck {
    /// The model
    model: String,
    /// Code of the check, such as N25
    group: String,
    #[command(flatten)]
    printing: Printing,
}

/// A sheet about a campaign.
#[derive(Debug, clap::Args)]
pub struct OfCampaign {
    /// The campaign
    campaign: String,
    #[command(flatten)]
    printing: Printing,
}

/// A sheet about a repair.
#[derive(Debug, clap::Args)]
pub struct OfRepair {
    /// The repair
    repair: String,
    #[command(flatten)]
    printing: Printing,
}

/// A sheet about a contest.
#[derive(Debug, clap::Args)]
pub struct OfContest {
    /// The contest
    contest: String,
    /// Only the entries of this member
    #[arg(long)]
    pilot: Option<String>,
    #[command(flatten)]
    printing: Printing,
}

/// A sheet about a model in a class.
#[derive(Debug, clap::Args)]
pub struct OfClass {
    /// The model
    model: String,
    /// The class, such as F5J; the one its design is built for if not given
    #[arg(long)]
    class: Option<String>,
    #[command(flatten)]
    printing: Printing,
}

/// Labels.
#[derive(Debug, clap::Args)]
pub struct OfLabels {
    /// Models; every model if nothing at all is named
    models: Vec<String>,
    /// A part; may be said again
    #[arg(long = "part", value_name = "PART")]
    parts: Vec<String>,
    /// Every part that is fitted to this model
    #[arg(long, value_name = "MODEL")]
    fitted_to: Option<String>,
    /// Large labels for models, small ones for parts
    #[arg(long, default_value = "large", value_parser = ["large", "small"])]
    size: String,
    /// What the codes lead to: the address under which members reach the service
    #[arg(long, value_name = "URL")]
    address: Option<String>,
    #[command(flatten)]
    printing: Printing,
}

/// Fetches and writes.
pub fn run(command: &SheetCommand, session: &mut Session<'_, '_>) -> Result<Reply, Failure> {
    let client = &session.client;
    let mut query = Query::new();
    let (path, printing, name) = match command {
        SheetCommand::Record(of) => {
            let model = client.name(Noun::Models, &of.model)?;
            (vec!["models", model, "record.pdf"], &of.printing, format!("record-{model}.pdf"))
        }
        SheetCommand::FieldCard(of) => {
            let model = client.name(Noun::Models, &of.model)?;
            (vec!["models", model, "field-card.pdf"], &of.printing, format!("field-card-{model}.pdf"))
        }
        SheetCommand::Check(of) => {
            let model = client.name(Noun::Models, &of.model)?;
            query.push(("group", of.group.clone()));
            (
                vec!["models", model, "check-sheet.pdf"],
                &of.printing,
                format!("check-{}-{model}.pdf", of.group),
            )
        }
        SheetCommand::Campaign(of) => {
            let campaign = client.name(Noun::Campaigns, &of.campaign)?;
            (vec!["campaigns", campaign, "work-list.pdf"], &of.printing, format!("work-list-{campaign}.pdf"))
        }
        SheetCommand::Repair(of) => {
            let repair = client.name(Noun::Repairs, &of.repair)?;
            (vec!["repairs", repair, "sheet.pdf"], &of.printing, format!("repair-{repair}.pdf"))
        }
        SheetCommand::Readiness(of) => {
            let contest = client.name(Noun::Contests, &of.contest)?;
            if let Some(pilot) = &of.pilot {
                query.push(("pilot", client.name(Noun::Members, pilot)?.to_owned()));
            }
            (vec!["contests", contest, "readiness.pdf"], &of.printing, format!("readiness-{contest}.pdf"))
        }
        SheetCommand::Scrutineering(of) => {
            let model = client.name(Noun::Models, &of.model)?;
            query.extend(of.class.clone().map(|class| ("class", class)));
            (vec!["models", model, "scrutineering.pdf"], &of.printing, format!("scrutineering-{model}.pdf"))
        }
        SheetCommand::Labels(of) => {
            if !of.models.is_empty() {
                query.push(("models", named(session, Noun::Models, &of.models)?));
            }
            if !of.parts.is_empty() {
                query.push(("components", named(session, Noun::Components, &of.parts)?));
            }
            if let Some(model) = &of.fitted_to {
                query.push(("fitted_to", client.name(Noun::Models, model)?.to_owned()));
            }
            query.push(("size", of.size.clone()));
            query.extend(of.address.clone().map(|address| ("address", address)));
            (vec!["labels.pdf"], &of.printing, "labels.pdf".to_owned())
        }
    };
    query.push(("paper", printing.paper.clone()));
    query.extend(printing.asked.query(client)?);
    let file = printing.out.clone().unwrap_or_else(|| PathBuf::from(file_name(&name)));
    if file.exists() && !printing.force {
        return Err(Failure::is_there(&file, "--out"));
    }
    let pdf = client.download(&path, &query, "application/pdf")?;
    let mut options = OpenOptions::new();
    options.write(true);
    if printing.force {
        options.create(true).truncate(true)
    } else {
        options.create_new(true)
    };
    let written =
        options.open(&file).and_then(|mut open| open.write_all(&pdf).and_then(|()| open.sync_all()));
    written.map_err(|error| match error.kind() {
        std::io::ErrorKind::AlreadyExists => Failure::is_there(&file, "--out"),
        _ => Failure::bad_input(format!("{} cannot be written: {error}.", file.display())),
    })?;
    let mut reply = Reply {
        json: serde_json::json!({ "file": file.display().to_string(), "bytes": pdf.len() }).to_string(),
        ..Reply::default()
    };
    reply.line(format!("{}, {} kB", file.display(), pdf.len().div_ceil(1000)));
    Ok(reply)
}

/// Names with commas between, each looked at.
fn named(session: &Session<'_, '_>, noun: Noun, names: &[String]) -> Result<String, Failure> {
    let named: Result<Vec<&str>, Failure> =
        names.iter().map(|name| session.client.name(noun, name)).collect();
    Ok(named?.join(","))
}

/// A name that every file system takes, and that stays in the folder.
fn file_name(name: &str) -> String {
    name.chars()
        .map(|one| if one.is_alphanumeric() || matches!(one, '.' | '-') { one } else { '-' })
        .collect()
}
