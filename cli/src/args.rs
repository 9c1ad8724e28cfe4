//! What can be typed: the tree of commands. What each takes stands in its own file under `commands`.

use std::ffi::OsString;

use chrono::NaiveDate;
use clap::{Args, CommandFactory, FromArgMatches, Parser, Subcommand};

use crate::Io;
use crate::client::{Client, Query};
use crate::commands as c;
use crate::failure::Failure;
use crate::moments::{parse_moment, parse_moment_or_day};
use crate::output::HELP;
use preen_domain::facts::Noun;
use preen_domain::time::Instant;

/// Fleet and maintenance records of a club that flies competition model gliders
///
/// This is a club record. It does not make a model legal or safe to fly. The pilot decides and is responsible,
/// every flight.
#[derive(Debug, Parser)]
#[command(name = "preen", version, after_help = HELP, disable_help_subcommand = true, max_term_width = 110)]
pub struct Wanted {
    /// What holds for every command.
    #[command(flatten)]
    pub global: Global,
    /// What to do.
    #[command(subcommand)]
    pub command: Command,
}

/// What holds for every command.
#[derive(Debug, Clone, Args)]
#[command(next_help_heading = "Everywhere")]
pub struct Global {
    /// Address of the service
    #[arg(long, global = true, value_name = "URL")]
    pub url: Option<String>,
    /// Print the answer as JSON, as the service gives it
    #[arg(long, global = true, conflicts_with = "csv")]
    pub json: bool,
    /// Print the rows as CSV
    #[arg(long, global = true)]
    pub csv: bool,
    /// Ask the copy that `preen copy` keeps, not the service; what is recorded waits for `preen sync`
    #[arg(long, global = true)]
    pub offline: bool,
    /// Never ask back: what is missing is an error
    #[arg(long, global = true)]
    pub no_input: bool,
}

/// When a question is asked about.
#[derive(Debug, Clone, Default, Args)]
pub struct Asked {
    /// Count what had happened by then: a time, or a day meaning its end [default: now]
    #[arg(long, value_name = "TIME")]
    pub as_of: Option<String>,
    /// Count what was known at that revision of the record [default: the newest]
    #[arg(long, value_name = "NUMBER")]
    pub at_revision: Option<u64>,
}

/// A coming day that is asked about, and who means to fly on it.
#[derive(Debug, Clone, Default, Args)]
pub struct Coming {
    /// The day asked about [default: today]
    #[arg(long, value_name = "DAY")]
    pub on: Option<NaiveDate>,
    /// Who means to fly: what is lent to them is no obstacle [default: who asks]
    #[arg(long, value_name = "MEMBER")]
    pub pilot: Option<String>,
}

/// When something happened.
#[derive(Debug, Clone, Default, Args)]
pub struct When {
    /// When it happened: 14:10, "2026-05-23 14:10" (club time) or with a zone [default: now, by the service]
    #[arg(long, value_name = "TIME")]
    pub at: Option<String>,
}

impl Asked {
    /// As parameters of the question.
    pub fn query(&self, client: &Client) -> Result<Query, Failure> {
        let mut query = Query::new();
        if let Some(as_of) = &self.as_of {
            query.push(("as_of", parse_moment_or_day(as_of, client.zone()?, client.now()?)?));
        }
        query.extend(self.at_revision.map(|revision| ("at_revision", revision.to_string())));
        Ok(query)
    }
}

impl Coming {
    /// As parameters of the question.
    pub fn query(&self, client: &Client) -> Result<Query, Failure> {
        let mut query = Query::new();
        query.extend(self.on.map(|on| ("on", on.to_string())));
        if let Some(pilot) = &self.pilot {
            query.push(("pilot", client.name(Noun::Members, pilot)?.to_owned()));
        }
        Ok(query)
    }
}

impl When {
    /// The moment.
    pub fn moment(&self, client: &Client) -> Result<Instant, Failure> {
        match &self.at {
            Some(text) => parse_moment(text, client.zone()?, client.now()?),
            None => client.now(),
        }
    }
}

/// What to do.
#[derive(Debug, Subcommand)]
pub enum Command {
    /// Say which models may fly, and why the others may not
    MayFly(c::may_fly::Args),
    /// List checks that are due or overdue; made for cron
    Due(c::due::Args),
    /// Audit the record of the whole club: all that a careful reader would point at
    Findings(c::findings::Args),
    /// List the limits by which readings on a model are judged, and where each comes from
    LimitsFor(c::limits_for::Args),
    /// Say where parts are
    Where(c::whereabouts::Args),
    /// Tell what reads differently since the last look, and which entries did it
    Changes(c::changes::Args),
    /// Tell what happened to a part
    History(c::history::Args),
    /// Say how a defect stands: its class, its terms and their limit, who may put it off
    Standing(c::standing::Args),
    /// Count the usage of a part or a model
    Usage(c::usage::Args),
    /// Say how long parts last, batch against batch, by failures and by measured wear
    Life(c::life::Args),
    /// Show how a part wears, and when its limits will be reached
    Trend(c::trend::Args),
    /// Say what there is of part types: fitted, on which shelf, lent, wanted by campaigns
    Stock(c::stock::Args),
    /// Say what the exchange of a part type across the fleet would do to each model
    Exchange(c::type_exchange::Args),
    /// Say which entries can go to a contest, and what must be done first
    Ready(c::ready::Args),
    /// Check a model against a contest class, in every combination and with every ballast
    ClassCheck(c::class_check::Args),
    /// Say what spares a team should take, against the shelf, and what to pack
    Spares(c::spares::Args),
    /// Show how far campaigns are, print their work list, open and close them
    #[command(subcommand)]
    Campaign(c::campaign::CampaignCommand),
    /// Print paper as PDF: record, field card, check, work list, repair sheet, labels
    #[command(subcommand)]
    Sheet(c::sheet::SheetCommand),
    /// Give mass and centre of gravity of a model, or of a list on the bench
    Balance(c::balance::Args),
    /// Choose ballast slugs for cells, for a model or with the numbers of the bench
    Ballast(c::ballast::Args),
    /// Compute mass and centre of gravity from scales, and record it if wanted
    Weigh(c::weigh::Args),
    /// Compute what a lead drops, the smallest gauge, the supply's margin, contacts and slack
    Wire(Box<c::wire::Args>),
    /// Compute a joiner's section, what sanding takes of it, stress, and rock of the tip
    Joiner(Box<c::joiner::Args>),
    /// Compute fitness of a pack, launches for each charge, and limits of carriers
    Pack(Box<c::pack::Args>),
    /// Plan work backwards from check-in: who does what when, begun as late as it goes
    Plan(Box<c::plan::Args>),
    /// Compute what a linkage does to its surface: throws, play, torque, left against right, sizes
    Linkage(Box<c::linkage::Args>),
    /// Compute whether a servo's arm clears its cover, and what helps where it does not
    Cover(c::cover::Args),

    /// Store the address of the service and a token
    Login(c::login::Args),
    /// Log a flight
    Log(c::log::Args),
    /// Log an assembly of a model
    Rig(c::rig::Args),
    /// Record a check that was done
    Inspect(c::inspect::Args),
    /// Record a reading
    Measure(c::measure::Args),
    /// Report a defect
    Defect(c::defect::Args),
    /// Send a picture and record a photo of a model, a part, a defect
    Photo(c::photo::Args),
    /// Put a defect off on terms, or extend that once; or say beforehand what that would do
    Defer(c::defer::Args),
    /// Close a defect without a repair
    Close(c::close::Args),
    /// Record a repair that was started
    Repair(c::repair::Args),
    /// Sign the sheet of a repair as its second person, who did none of the work
    Sign(c::sign::Args),
    /// Release a repair: a named person says fit after work
    Release(c::release::Args),
    /// Exchange parts of a model, or say beforehand what that would do
    Swap(c::swap::Args),
    /// Put a part into an empty position
    Fit(c::fit::Args),
    /// Take a part out of its position
    Remove(c::remove::Args),
    /// Lend a part or a model
    Lend(c::lend::Args),
    /// Record the return of a loan
    Return(c::return_loan::Args),
    /// Change the kept state of a part, or its shelf
    Condition(c::condition::Args),

    /// Members of the club
    #[command(subcommand)]
    Members(c::nouns::NounCommand),
    /// What models are built to
    #[command(subcommand)]
    Designs(c::nouns::NounCommand),
    /// Model aircraft
    #[command(subcommand)]
    Models(c::nouns::NounCommand),
    /// Part types
    #[command(subcommand)]
    Parts(c::nouns::NounCommand),
    /// Individual parts
    #[command(subcommand)]
    Components(c::nouns::NounCommand),
    /// Changes of the kept state of parts
    #[command(subcommand)]
    Conditions(c::nouns::NounCommand),
    /// Parts put into positions
    #[command(subcommand)]
    Installations(c::nouns::NounCommand),
    /// Parts taken out of positions
    #[command(subcommand)]
    Removals(c::nouns::NounCommand),
    /// Flights
    #[command(subcommand)]
    Flights(c::nouns::NounCommand),
    /// Assemblies of models
    #[command(subcommand)]
    Riggings(c::nouns::NounCommand),
    /// Inspection programmes
    #[command(subcommand)]
    Programmes(c::nouns::NounCommand),
    /// Checks that were done
    #[command(subcommand)]
    Inspections(c::nouns::NounCommand),
    /// Readings
    #[command(subcommand)]
    Measurements(c::nouns::NounCommand),
    /// Weighings of models
    #[command(subcommand)]
    Weighings(c::nouns::NounCommand),
    /// Defects
    #[command(subcommand)]
    Defects(c::nouns::NounCommand),
    /// Terms on which defects are flown with
    #[command(subcommand)]
    Deferrals(c::nouns::NounCommand),
    /// Defects closed without a repair
    #[command(subcommand)]
    Closures(c::nouns::NounCommand),
    /// Repairs
    #[command(subcommand)]
    Repairs(c::nouns::NounCommand),
    /// Work done on repairs, as ticked on their sheets
    #[command(subcommand)]
    RepairSteps(c::nouns::NounCommand),
    /// Releases after repairs
    #[command(subcommand)]
    Releases(c::nouns::NounCommand),
    /// Actions over all parts of a kind
    #[command(subcommand)]
    Campaigns(c::nouns::NounCommand),
    /// Parts looked at for campaigns
    #[command(subcommand)]
    CampaignWorks(c::nouns::NounCommand),
    /// Closings of campaigns
    #[command(subcommand)]
    CampaignClosures(c::nouns::NounCommand),
    /// Loans
    #[command(subcommand)]
    Loans(c::nouns::NounCommand),
    /// Returns of loans
    #[command(subcommand)]
    LoanReturns(c::nouns::NounCommand),
    /// Limits of the club's own, in the place of the programme's
    #[command(subcommand)]
    Limits(c::nouns::NounCommand),
    /// Contests that pilots of the club go to
    #[command(subcommand)]
    Contests(c::nouns::NounCommand),
    /// Entries of the club's pilots to contests
    #[command(subcommand)]
    Entries(c::nouns::NounCommand),
    /// Contest classes of the club's own: limits with their edition and who confirmed it
    #[command(subcommand)]
    Classes(c::nouns::NounCommand),
    /// Lots of consumables
    #[command(subcommand)]
    Lots(c::nouns::NounCommand),
    /// Ballast slugs in stock
    #[command(subcommand)]
    Slugs(c::nouns::NounCommand),
    /// Parts that belong together
    #[command(subcommand)]
    MatchedSets(c::nouns::NounCommand),
    /// Accepted pairings outside a matched set
    #[command(subcommand)]
    Pairings(c::nouns::NounCommand),
    /// Photos; `preen photo` sends a picture and records one
    #[command(subcommand)]
    Photos(c::nouns::NounCommand),
    /// Charges of packs
    #[command(subcommand)]
    Charges(c::nouns::NounCommand),
    /// Transport, lay-up and return, radio change, sale, loss
    #[command(subcommand)]
    Events(c::nouns::NounCommand),
    /// How questions were settled
    #[command(subcommand)]
    Settlements(c::nouns::NounCommand),
    /// What the record could not take in and waits for a person to settle
    Questions(c::questions::Args),
    /// Corrections; made by `preen NOUN correct`
    #[command(subcommand)]
    Corrections(c::nouns::ReadCommand),

    /// Bring rows of a spreadsheet into the record, tried first
    Import(c::import::Args),
    /// Keep a copy of the club's record here, for questions without signal (--offline)
    Copy(c::copy::Args),
    /// Send what was logged without signal, and say what became of it
    Sync(c::sync::Args),
    /// Take the club's record away as one file, or one model for a buyer, or what is on record about a member
    Export(c::export::Args),
    /// Print completions for a shell
    Completions(c::completions::Args),
    /// Print a manual page, or write all of them
    Man(c::man::Args),
}

/// The whole tree, for completions and for the tests of the help.
pub fn command() -> clap::Command {
    Wanted::command()
}

/// Reads the arguments. Help and version come back as errors that are none.
pub fn parse(args: impl IntoIterator<Item = OsString>, io: &Io<'_>) -> Result<Wanted, clap::Error> {
    let args = std::iter::once(OsString::from("preen")).chain(args);
    let mut command = command().term_width(io.width.unwrap_or(100).min(110));
    let matches = command.try_get_matches_from_mut(args)?;
    Wanted::from_arg_matches(&matches).map_err(|error| error.format(&mut command))
}
