//! `preen campaign`: how far the club's campaigns are, the work list to print, and opening and closing one. What is
//! sent stands in `acts`, how the answers are shown in `show`.

mod acts;
mod show;

use clap::Subcommand;
use preen_domain::answers::{Answer, CampaignList, CampaignProgress};
use preen_domain::facts::Noun;

use super::{Session, frame_line};
use crate::args::{Asked, Coming};
use crate::failure::Failure;
use crate::output::Reply;

/// What can be done with campaigns.
#[derive(Debug, Subcommand)]
pub enum CampaignCommand {
    /// Say what each campaign covers and how many parts stand how
    List(ListArgs),
    /// Show each part that a campaign covers, what is done on it, and stock against need
    Progress(ProgressArgs),
    /// Print what is to be done, model by model
    WorkList(WorkListArgs),
    /// Open a campaign, or say beforehand what it would cover
    Open(acts::OpenArgs),
    /// Record that a part was looked at for an action that asks for an inspection
    Done(acts::DoneArgs),
    /// Close a campaign, or say what stands against it
    Close(acts::CloseArgs),
}

/// When it is asked about.
#[derive(Debug, clap::Args)]
pub struct ListArgs {
    #[command(flatten)]
    coming: Coming,
    #[command(flatten)]
    asked: Asked,
}

/// Which campaign.
#[derive(Debug, clap::Args)]
#[command(
    after_help = "Exit code: 2 if something is overdue or a part has to come off, 1 if something is open, 0 if \
                        not."
)]
pub struct ProgressArgs {
    /// The campaign
    campaign: String,
    /// Models whose own need of parts is asked about, such as the entries of a contest: SG-01,SG-03
    #[arg(long, value_name = "MODELS", value_delimiter = ',')]
    models: Vec<String>,
    #[command(flatten)]
    coming: Coming,
    #[command(flatten)]
    asked: Asked,
}

/// Which campaign.
#[derive(Debug, clap::Args)]
pub struct WorkListArgs {
    /// The campaign
    campaign: String,
    #[command(flatten)]
    coming: Coming,
    #[command(flatten)]
    asked: Asked,
}

/// Asks or does it, and shows.
pub fn run(command: &CampaignCommand, session: &mut Session<'_, '_>) -> Result<Reply, Failure> {
    match command {
        CampaignCommand::List(args) => list(args, session),
        CampaignCommand::Progress(args) => {
            let (mut reply, answer) = ask(&args.campaign, &args.models, &args.coming, &args.asked, session)?;
            reply.code = show::code(&answer.answer.counts);
            if !session.is_json {
                let frame = frame_line(&answer, session.client.zone()?);
                show::progress(&mut reply, &answer.answer, Some(&frame));
                reply
                    .hint(format!("`preen campaign work-list {}` prints what is to be done.", args.campaign));
            }
            Ok(reply)
        }
        CampaignCommand::WorkList(args) => {
            let (mut reply, answer) = ask(&args.campaign, &[], &args.coming, &args.asked, session)?;
            if !session.is_json {
                let frame = frame_line(&answer, session.client.zone()?);
                show::work_list(&mut reply, &answer.answer, &frame);
            }
            Ok(reply)
        }
        CampaignCommand::Open(args) => acts::open(args, session),
        CampaignCommand::Done(args) => acts::done(args, session),
        CampaignCommand::Close(args) => acts::close(args, session),
    }
}

fn ask(
    campaign: &str,
    models: &[String],
    coming: &Coming,
    asked: &Asked,
    session: &Session<'_, '_>,
) -> Result<(Reply, Answer<CampaignProgress>), Failure> {
    let client = &session.client;
    let name = client.name(Noun::Campaigns, campaign)?;
    let mut query = coming.query(client)?;
    query.extend(asked.query(client)?);
    for model in models {
        client.mention(Noun::Models, model);
    }
    if !models.is_empty() {
        query.push(("models", models.join(",")));
    }
    let received = client.get(&[Noun::Campaigns.as_str(), name, "progress"], &query)?;
    let answer = received.read()?;
    Ok((Reply { json: received.text, ..Reply::default() }, answer))
}

fn list(args: &ListArgs, session: &mut Session<'_, '_>) -> Result<Reply, Failure> {
    let mut query = args.coming.query(&session.client)?;
    query.extend(args.asked.query(&session.client)?);
    let received = session.client.get(&["campaign-progress"], &query)?;
    let answer: Answer<CampaignList> = received.read()?;
    let mut reply = Reply { json: received.text, ..Reply::default() };
    if !session.is_json {
        let zone = session.client.zone()?;
        let frame = frame_line(&answer, zone);
        show::list(&mut reply, &answer.answer, &frame, zone);
    }
    Ok(reply)
}
