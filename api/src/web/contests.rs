//! Contests: all that are entered, and the board of one with what each entry still needs.

use actix_web::web::{Path, ServiceConfig};
use actix_web::{HttpResponse, get};
use askama::Template;
use preen_domain::answers::{ContestReadiness, Readiness, contest_readiness};
use preen_domain::facts::Noun;
use preen_domain::ids::ContestId;

use super::fault::PageFault;
use super::frame::{Frame, Room};
use super::guest::Visit;
use super::words::Word;
use crate::access::sight::Finds as _;
use crate::answers::ask::Ask;
use crate::resources::entry::not_found;
use crate::told::moment;

/// A contest in short.
struct Row {
    tag: String,
    title: String,
    class: String,
    check_in: String,
    days: String,
    is_over: bool,
}

#[derive(Template)]
#[template(path = "pages/contests.html")]
struct ContestsPage {
    frame: Frame,
    rows: Vec<Row>,
}

#[derive(Template)]
#[template(path = "pages/contest.html")]
struct ContestPage {
    frame: Frame,
    board: ContestReadiness,
    check_in: String,
    tag: String,
}

/// How ready something is, as a word with its sign.
pub fn readiness(one: impl std::borrow::Borrow<Readiness>) -> Word {
    let (sign, text, tone) = match one.borrow() {
        Readiness::Ready => ("disc", "ready", "good"),
        Readiness::Limited => ("half", "limited", "care"),
        Readiness::WorkToDo => ("block", "work to do", "stop"),
    };
    Word { sign, text, tone }
}

/// The contest that a name means, if the asker may know of it.
pub fn find_contest(ask: &Ask, name: &str) -> Result<ContestId, PageFault> {
    let id = ask.sight().find(Noun::Contests, name).filter(|_| ask.sees_all);
    Ok(ContestId(id.ok_or_else(|| not_found(Noun::Contests, name))?))
}

/// Lists the contests, the next one first, then what is over.
#[get("/contests")]
async fn show_contests(visit: Visit) -> Result<HttpResponse, PageFault> {
    let ask = visit.ask(&[]).await?;
    visit.answer(&ask, || {
        let zone = ask.held.fleet.club().zone;
        let mut all: Vec<_> =
            ask.held.fleet.contests().map(|(_, contest)| &contest.fact).filter(|_| ask.sees_all).collect();
        let is_over = |last: chrono::NaiveDate| last < ask.moment.on;
        all.sort_by_key(|fact| (is_over(fact.last_on), fact.first_on, fact.tag.clone()));
        let rows = all.into_iter().map(|fact| Row {
            tag: fact.tag.to_string(),
            title: fact.title.to_string(),
            class: fact.class.to_string(),
            check_in: moment(fact.check_in_at, zone),
            days: format!("{} to {}", fact.first_on, fact.last_on),
            is_over: is_over(fact.last_on),
        });
        Ok(ContestsPage {
            frame: Frame::of(&ask, &visit.actor, Room::Contests, "Contests"),
            rows: rows.collect(),
        })
    })
}

/// Shows how ready the team is.
#[get("/contests/{tag}")]
async fn show_contest(visit: Visit, tag: Path<String>) -> Result<HttpResponse, PageFault> {
    let ask = visit.ask(&[]).await?;
    let contest = find_contest(&ask, &tag)?;
    visit.answer(&ask, || {
        let board = contest_readiness(&ask.held.fleet, contest, None, ask.moment);
        let board = board.ok_or_else(|| not_found(Noun::Contests, &tag))?;
        Ok(ContestPage {
            frame: Frame::of(
                &ask,
                &visit.actor,
                Room::Contests,
                format!("{} · {}", board.contest, board.title),
            ),
            check_in: moment(board.check_in_at, ask.held.fleet.club().zone),
            tag: board.contest.clone(),
            board,
        })
    })
}

/// Registers the routes.
pub fn routes(config: &mut ServiceConfig) {
    config.service(show_contests).service(show_contest);
}
