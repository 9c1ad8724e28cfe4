//! One file a command: what it takes, what it asks of the service, how it shows the answer.

pub mod balance;
pub mod ballast;
pub mod bench;
pub mod bench_answer;
pub mod campaign;
pub mod changes;
pub mod class_check;
pub mod close;
pub mod completions;
pub mod condition;
pub mod copy;
pub mod cover;
pub mod defect;
pub mod defer;
pub mod due;
pub mod exchange;
pub mod export;
pub mod findings;
pub mod fit;
pub mod history;
pub mod import;
pub mod inspect;
pub mod joiner;
pub mod lend;
pub mod life;
mod life_repairs;
mod life_told;
pub mod limits_for;
pub mod linkage;
pub mod log;
pub mod login;
pub mod man;
pub mod may_fly;
pub mod measure;
pub mod nouns;
pub mod pack;
pub mod photo;
pub mod plan;
mod plan_told;
pub mod questions;
pub mod ready;
pub mod record;
pub mod release;
pub mod remove;
pub mod repair;
pub mod repair_sheet;
pub mod repair_step;
pub mod restriction;
pub mod return_loan;
pub mod rig;
pub mod sheet;
pub mod show;
pub mod sign;
pub mod spares;
pub mod standing;
pub mod stock;
pub mod subject;
pub mod swap;
pub mod sync;
pub mod trend;
pub mod type_exchange;
pub mod usage;
pub mod weigh;
pub mod whereabouts;
pub mod wire;

use chrono_tz::Tz;
use preen_domain::answers::Answer;
use preen_domain::facts::Noun;

use crate::Io;
use crate::args::{Command, Wanted};
use crate::client::{Client, Setting};
use crate::failure::Failure;
use crate::field::place::Folders;
use crate::moments::show_moment;
use crate::output::{Reply, say_notes};
use crate::{settings, suggest};

/// What a command works with.
pub struct Session<'a, 'io> {
    /// Streams and ids.
    pub io: &'a mut Io<'io>,
    /// The service.
    pub client: Client,
    /// Whether only the JSON will be printed, so that nothing has to be looked up for people.
    pub is_json: bool,
}

impl Session<'_, '_> {
    /// A new id, as text.
    pub fn new_id(&mut self) -> String {
        (self.io.new_id)().to_string()
    }
}

/// Does what is wanted.
pub fn run(wanted: &Wanted, io: &mut Io<'_>) -> Result<Reply, Failure> {
    if let Some(reply) = without_service(wanted, io) {
        return reply;
    }
    let (access, notes) = settings::find(&io.env, wanted.global.url.as_deref())?;
    say_notes(io, &notes);
    let setting = Setting {
        folders: Folders::find(&io.env),
        local: (io.now)(),
        is_offline: wanted.global.offline,
        falls_back: waits(&wanted.command),
    };
    let client = Client::with(&access, setting)?;
    let mut session = Session { io, client, is_json: wanted.global.json };
    let reply =
        dispatch(&wanted.command, &mut session).map_err(|failure| suggest::mend(&session.client, failure));
    say_notes(session.io, &session.client.age().into_iter().collect::<Vec<_>>());
    reply
}

/// Whether what a command records may wait until the service can be reached.
fn waits(command: &Command) -> bool {
    matches!(
        command,
        Command::Log(_) | Command::Rig(_) | Command::Inspect(_) | Command::Measure(_) | Command::Defect(_)
    )
}

/// What needs no service.
fn without_service(wanted: &Wanted, io: &mut Io<'_>) -> Option<Result<Reply, Failure>> {
    let reply = match &wanted.command {
        Command::Completions(args) => completions::run(args),
        Command::Man(args) => man::run(args),
        Command::Login(args) => login::run(args, &wanted.global, io),
        Command::Balance(args) if !balance::needs_service(args) => balance::on_bench(args, io),
        Command::Ballast(args) if !ballast::needs_service(args) => ballast::on_bench(args, io),
        Command::Weigh(args) if !weigh::needs_service(args) => weigh::on_bench(args, io),
        Command::Life(args) if life::is_bench(args) => life::on_bench(args, io),
        Command::Wire(args) => wire::run(args, io),
        Command::Joiner(args) => joiner::run(args, io),
        Command::Pack(args) => pack::run(args, io),
        Command::Plan(args) if plan::is_bench(args) => plan::on_bench(args, io),
        Command::Spares(args) if spares::is_bench(args) => spares::on_bench(args, io),
        Command::Linkage(args) => linkage::run(args, io),
        Command::Cover(args) => cover::run(args, io),
        _ => return None,
    };
    Some(reply)
}

fn dispatch(command: &Command, session: &mut Session<'_, '_>) -> Result<Reply, Failure> {
    let noun = |noun, command, session| nouns::run(noun, command, session);
    match command {
        Command::MayFly(args) => may_fly::run(args, session),
        Command::Due(args) => due::run(args, session),
        Command::LimitsFor(args) => limits_for::run(args, session),
        Command::Sheet(args) => sheet::run(args, session),
        Command::Findings(args) => findings::run(args, session),
        Command::Where(args) => whereabouts::run(args, session),
        Command::History(args) => history::run(args, session),
        Command::Standing(args) => standing::run(args, session),
        Command::Usage(args) => usage::run(args, session),
        Command::Life(args) => life::run(args, session),
        Command::Trend(args) => trend::run(args, session),
        Command::Plan(args) => plan::run(args, session),
        Command::Spares(args) => spares::run(args, session),
        Command::Stock(args) => stock::run(args, session),
        Command::Exchange(args) => type_exchange::run(args, session),
        Command::Ready(args) => ready::run(args, session),
        Command::ClassCheck(args) => class_check::run(args, session),
        Command::Campaign(command) => campaign::run(command, session),
        Command::Balance(args) => balance::run(args, session),
        Command::Ballast(args) => ballast::run(args, session),
        Command::Weigh(args) => weigh::run(args, session),
        Command::Log(args) => log::run(args, session),
        Command::Rig(args) => rig::run(args, session),
        Command::Inspect(args) => inspect::run(args, session),
        Command::Measure(args) => measure::run(args, session),
        Command::Defect(args) => defect::run(args, session),
        Command::Photo(args) => photo::run(args, session),
        Command::Defer(args) => defer::run(args, session),
        Command::Close(args) => close::run(args, session),
        Command::Repair(args) => repair::run(args, session),
        Command::Sign(args) => sign::run(args, session),
        Command::Release(args) => release::run(args, session),
        Command::Swap(args) => swap::run(args, session),
        Command::Fit(args) => fit::run(args, session),
        Command::Remove(args) => remove::run(args, session),
        Command::Lend(args) => lend::run(args, session),
        Command::Return(args) => return_loan::run(args, session),
        Command::Condition(args) => condition::run(args, session),
        Command::Members(command) => noun(Noun::Members, command, session),
        Command::Designs(command) => noun(Noun::Designs, command, session),
        Command::Models(command) => noun(Noun::Models, command, session),
        Command::Parts(command) => noun(Noun::Parts, command, session),
        Command::Components(command) => noun(Noun::Components, command, session),
        Command::Conditions(command) => noun(Noun::Conditions, command, session),
        Command::Installations(command) => noun(Noun::Installations, command, session),
        Command::Removals(command) => noun(Noun::Removals, command, session),
        Command::Flights(command) => noun(Noun::Flights, command, session),
        Command::Riggings(command) => noun(Noun::Riggings, command, session),
        Command::Programmes(command) => noun(Noun::Programmes, command, session),
        Command::Inspections(command) => noun(Noun::Inspections, command, session),
        Command::Measurements(command) => noun(Noun::Measurements, command, session),
        Command::Weighings(command) => noun(Noun::Weighings, command, session),
        Command::Defects(command) => noun(Noun::Defects, command, session),
        Command::Deferrals(command) => noun(Noun::Deferrals, command, session),
        Command::Closures(command) => noun(Noun::Closures, command, session),
        Command::Repairs(command) => noun(Noun::Repairs, command, session),
        Command::RepairSteps(command) => noun(Noun::RepairSteps, command, session),
        Command::Releases(command) => noun(Noun::Releases, command, session),
        Command::Campaigns(command) => noun(Noun::Campaigns, command, session),
        Command::CampaignWorks(command) => noun(Noun::CampaignWorks, command, session),
        Command::CampaignClosures(command) => noun(Noun::CampaignClosures, command, session),
        Command::Loans(command) => noun(Noun::Loans, command, session),
        Command::LoanReturns(command) => noun(Noun::LoanReturns, command, session),
        Command::Limits(command) => noun(Noun::Limits, command, session),
        Command::Contests(command) => noun(Noun::Contests, command, session),
        Command::Entries(command) => noun(Noun::Entries, command, session),
        Command::Classes(command) => noun(Noun::Classes, command, session),
        Command::Lots(command) => noun(Noun::Lots, command, session),
        Command::Slugs(command) => noun(Noun::Slugs, command, session),
        Command::MatchedSets(command) => noun(Noun::MatchedSets, command, session),
        Command::Pairings(command) => noun(Noun::Pairings, command, session),
        Command::Photos(command) => noun(Noun::Photos, command, session),
        Command::Charges(command) => noun(Noun::Charges, command, session),
        Command::Events(command) => noun(Noun::Events, command, session),
        Command::Settlements(command) => noun(Noun::Settlements, command, session),
        Command::Questions(args) => questions::run(args, session),
        Command::Changes(args) => changes::run(args, session),
        Command::Copy(args) => copy::run(args, session),
        Command::Import(args) => import::run(args, session),
        Command::Sync(args) => sync::run(args, session),
        Command::Export(args) => export::run(args, session),
        Command::Corrections(command) => nouns::read_only(Noun::Corrections, command, session),
        Command::Completions(_)
        | Command::Man(_)
        | Command::Login(_)
        | Command::Linkage(_)
        | Command::Cover(_)
        | Command::Wire(_)
        | Command::Joiner(_)
        | Command::Pack(_) => Err(Failure::bad_input("This command needs no service.")),
    }
}

/// What an answer rests on, in one line.
fn frame_line<T>(answer: &Answer<T>, zone: Tz) -> String {
    let newest = answer
        .inputs_newest_at
        .map(|at| format!(" · newest entry {}", show_moment(at, zone)))
        .unwrap_or_default();
    format!("as of {} · revision {}{newest}", show_moment(answer.as_of, zone), answer.revision)
}
