//! How things get into the record, for every noun alike: add, revise, correct; and how one is found again.
//!
//! Everything that decides happens inside the door, where nothing can change meanwhile: is the id known, is
//! the tag free, may this member do it, do the rules allow it.

use actix_web::HttpResponse;
use actix_web::http::{StatusCode, header};
use preen_domain::facts::{Correction, Fact, Noun, Recorded};
use preen_domain::fleet::Fleet;
use preen_domain::rules;
use preen_domain::rules::may::{Act, Asker, may, may_read_names, may_see};
use preen_domain::time::Instant;
use preen_domain::words::Scope;
use serde::Serialize;
use serde_json::Value;
use uuid::Uuid;

use super::body::{fill_in, parse_fact, resolve};
use super::page::{Listed, Page, Wanted, next_link};
use super::photos::pictures::check_kept;
use super::rows::Rows;
use crate::access::actor::Actor;
use crate::access::sight::{Finds as _, sight_of};
use crate::audit;
use crate::db::conn::Db;
use crate::db::door::{Change, DoorError, Kept};
use crate::db::names;
use crate::problem::Problem;
use crate::state::State;

/// What became of an entry.
pub struct Entered<F> {
    /// As it stands in the record.
    pub stored: Recorded<F>,
    /// Whether it is new.
    pub is_new: bool,
}

/// The validator of one item: its own last revision, and when that was. After a server came back without its newest
/// changes, the same revision may be another.
fn etag<F>(stored: &Recorded<F>) -> String {
    format!("\"r{}-{:x}\"", stored.revision, stored.recorded_at.micros())
}

fn respond<F: Rows>(entered: &Entered<F>) -> HttpResponse {
    let status = if entered.is_new { StatusCode::CREATED } else { StatusCode::OK };
    HttpResponse::build(status)
        .insert_header((header::LOCATION, format!("/api/v1/{}/{}", F::NOUN, entered.stored.fact.id())))
        .insert_header((header::ETAG, etag(&entered.stored)))
        .json(&entered.stored)
}

/// Adds a fact or the first version of master data. The same again answers with what is stored.
pub async fn add<F: Rows>(
    state: &State,
    actor: &Actor,
    act: &'static str,
    mut body: Value,
) -> Result<HttpResponse, Problem> {
    let held = actor.fleet(state).await?;
    resolve(F::NOUN, "", &mut body, &sight_of(actor, &held, state.now()))?;
    let fact: F = parse_fact("", body)?;
    let id = fact.id();
    let payload = audit::payload_of(&fact.clone().into())?;
    let has_history = actor.scopes.contains(&Scope::History);
    let work =
        move |change: &mut Change<'_>| add_prepared(change, act, fact.clone(), Some(&payload), has_history);
    let entered = state.door.write_one(&actor.club, actor.member, id, work).await?;
    Ok(respond(&entered))
}

/// The part of [`add`] inside the door; commands that record several facts use it too.
pub fn add_in_door<F: Rows>(
    change: &mut Change<'_>,
    act: &'static str,
    fact: F,
    has_history: bool,
) -> Result<Kept<Entered<F>>, Problem> {
    add_prepared(change, act, fact, None, has_history)
}

/// The same with the text of the fact's payload, where it was made before its turn.
pub fn add_prepared<F: Rows>(
    change: &mut Change<'_>,
    act: &'static str,
    fact: F,
    payload: Option<&str>,
    has_history: bool,
) -> Result<Kept<Entered<F>>, Problem> {
    let club = change.club().id.clone();
    let known = if change.is_fresh(fact.id()) {
        Vec::new()
    } else {
        F::find_versions(change.conn(), &club, fact.id())?
    };
    if let Some(first) = known.into_iter().next() {
        if first.fact == fact {
            return Ok(Kept::Unchanged(Entered { stored: first, is_new: false }));
        }
        return Err(Problem::IdTaken(format!(
            "{} {} was recorded at revision {} with other content. Make a new id, or correct the record.",
            F::NOUN,
            fact.id(),
            first.revision
        )));
    }
    let written = fact.clone();
    let fact: Fact = fact.into();
    check_rules(change, Act::Record(&fact), &fact, has_history)?;
    let recorded = match payload {
        Some(payload) => change.record_as(act, fact, payload.to_owned())?,
        None => change.record(act, fact)?,
    };
    Ok(Kept::Recorded(Entered { stored: recorded.with(written), is_new: true }))
}

/// Replaces master data by a new version, if the caller has seen the one before.
pub async fn revise<F: Rows>(
    state: &State,
    actor: &Actor,
    act: &'static str,
    name: &str,
    if_match: Option<String>,
    mut body: Value,
) -> Result<HttpResponse, Problem> {
    let held = actor.fleet(state).await?;
    let sight = sight_of(actor, &held, state.now());
    let id = sight.find(F::NOUN, name).ok_or_else(|| not_found(F::NOUN, name))?;
    fill_in(&mut body, "id", &id.to_string())?;
    resolve(F::NOUN, "", &mut body, &sight)?;
    let fact: F = parse_fact("", body)?;
    let if_match = if_match.ok_or(Problem::PreconditionMissing)?;
    let entered = state
        .door
        .write(&actor.club, actor.member, move |change| {
            let club = change.club().id.clone();
            let current =
                F::find(change.conn(), &club, id)?.ok_or_else(|| not_found(F::NOUN, &id.to_string()))?;
            if current.fact == fact {
                return Ok(Kept::Unchanged(Entered { stored: current, is_new: false }));
            }
            if if_match != "*" && if_match != etag(&current) {
                return Err(Problem::PreconditionFailed(format!(
                    "It was changed at revision {} by somebody else. Read it again, and send its new ETag.",
                    current.revision
                )));
            }
            let fact: Fact = fact.into();
            check_rules(change, Act::Revise(&fact), &fact, false)?;
            let revision = change.revision();
            F::supersede(change.conn(), &club, id, revision)?;
            change.record(act, fact)?;
            let stored = F::find(change.conn(), &club, id)?
                .ok_or_else(|| Problem::Internal("a fact could not be read back".to_owned()))?;
            Ok(Kept::Recorded(Entered { stored, is_new: false }))
        })
        .await?;
    Ok(respond(&entered))
}

/// Corrects a fact: a new fact that takes its place, or says that it never was.
pub async fn correct<F: Rows>(
    state: &State,
    actor: &Actor,
    act: &'static str,
    name: &str,
    mut body: Value,
) -> Result<HttpResponse, Problem> {
    let held = actor.fleet(state).await?;
    let original = find_seen::<F>(state, actor, name).await?;
    fill_in(&mut body, "noun", F::NOUN.as_str())?;
    fill_in(&mut body, "original", &original.to_string())?;
    if let Some(fact) = body.get_mut("fact").filter(|fact| !fact.is_null()) {
        fill_in(fact, "id", &original.to_string())?;
        resolve(F::NOUN, "/fact", fact, &sight_of(actor, &held, state.now()))?;
    }
    let mut correction: Correction = parse_fact("", body)?;
    let corrected: Option<F> = match (correction.is_void, correction.fact.take()) {
        (true, None) => None,
        (false, Some(json)) => Some(parse_fact("/fact", json)?),
        (true, Some(_)) => {
            return Err(Problem::field(
                "/fact",
                "A fact that never was has no corrected content: leave one out.",
            ));
        }
        (false, None) => {
            return Err(Problem::field(
                "/fact",
                "Send the whole corrected fact here, or `is_void`: true if it never was.",
            ));
        }
    };
    let has_history = actor.scopes.contains(&Scope::History);
    let entered = state
        .door
        .write(&actor.club, actor.member, move |change| {
            correct_in_door(change, act, correction, corrected, has_history)
        })
        .await?;
    Ok(respond(&entered))
}

fn correct_in_door<F: Rows>(
    change: &mut Change<'_>,
    act: &'static str,
    mut correction: Correction,
    mut corrected: Option<F>,
    has_history: bool,
) -> Result<Kept<Entered<Correction>>, Problem> {
    let club = change.club().id.clone();
    let versions = F::find_versions(change.conn(), &club, correction.original)?;
    let (Some(original), Some(latest)) = (versions.first(), versions.last()) else {
        return Err(not_found(F::NOUN, &correction.original.to_string()));
    };
    // Who corrects an entry has not thereby done what it tells: the one who did it stays named.
    let did_it = latest.fact.signed_by().or(original.fact.signed_by()).unwrap_or(original.recorded_by);
    if let Some(corrected) = &mut corrected {
        match corrected.signed_by() {
            None if did_it != change.by() => corrected.sign(did_it),
            Some(signer) if signer != did_it && !has_history => {
                return Err(Problem::ScopeMissing(Scope::History.as_str()));
            }
            None | Some(_) => {}
        }
    }
    correction.fact = corrected
        .as_ref()
        .map(serde_json::to_value)
        .transpose()
        .map_err(|error| Problem::Internal(error.to_string()))?;
    if let Some(first) = Correction::find(change.conn(), &club, correction.id.0)? {
        if first.fact == correction {
            return Ok(Kept::Unchanged(Entered { stored: first, is_new: false }));
        }
        return Err(Problem::IdTaken(format!(
            "The correction {} was recorded at revision {} with other content. Make a new id.",
            correction.id, first.revision
        )));
    }
    let original_fact: Fact = original.fact.clone().into();
    let corrected_fact: Option<Fact> = corrected.clone().map(Into::into);
    let act_of = Act::Correct {
        original: &original_fact,
        corrected: corrected_fact.as_ref(),
        recorded_by: original.recorded_by,
        recorded_at: original.recorded_at,
    };
    check_may(change, act_of, has_history)?;
    if let Some(corrected) = &corrected_fact {
        check_names(change, corrected)?;
        check_kept(change, "/fact", corrected)?;
    }
    let stamped = Recorded {
        fact: correction,
        recorded_at: change.now(),
        recorded_by: change.by(),
        revision: change.revision(),
    };
    let broken = rules::check_correction(change.fleet(), &stamped, change.now());
    if !broken.is_empty() {
        return Err(Problem::broken_rules(&broken));
    }
    let (revision, id) = (change.revision(), stamped.fact.id.0);
    F::supersede(change.conn(), &club, stamped.fact.original, revision)?;
    let recorded = change.record(act, Fact::Correction(stamped.fact))?;
    if let Some(corrected) = corrected {
        let row = recorded.with(corrected);
        F::insert(change.conn(), &club, &row, true)?;
        names::keep(change.conn(), &club, &row.fact.into())?;
    }
    let stored = Correction::find(change.conn(), &club, id)?
        .ok_or_else(|| Problem::Internal("a correction could not be read back".to_owned()))?;
    Ok(Kept::Recorded(Entered { stored, is_new: true }))
}

/// Refuses an id that another noun uses and a tag that another item of the noun has.
pub fn check_names(change: &mut Change<'_>, fact: &Fact) -> Result<(), Problem> {
    let (club, noun, id) = (change.club().id.clone(), fact.noun(), fact.id());
    if !change.is_fresh(id)
        && let Some(other) = names::noun_of(change.conn(), &club, id)?
        && other != noun
    {
        return Err(Problem::IdTaken(format!("{id} is one of the {other} already. Make a new id.")));
    }
    if let Some(tag) = fact.tag()
        && let Some(other) = change.find_by_tag(noun, tag.as_str())?
        && other != id
    {
        return Err(Problem::TagTaken(format!(
            "Another of the {noun} has the tag {tag}. Choose another tag."
        )));
    }
    Ok(())
}

/// Asks who may do it, for whom, whether its name is free, and whether the record allows it; in that order, so
/// that nobody learns from a refusal what they may not see.
fn check_rules(change: &mut Change<'_>, act: Act<'_>, fact: &Fact, has_history: bool) -> Result<(), Problem> {
    check_signer(change, fact, has_history)?;
    check_may(change, act, has_history)?;
    check_names(change, fact)?;
    check_kept(change, "", fact)?;
    let broken = rules::check_by(change.fleet(), fact, change.by(), change.now());
    if broken.is_empty() { Ok(()) } else { Err(Problem::broken_rules(&broken)) }
}

/// Asks who may do it and for whom, where the rules of the record were asked already.
pub fn check_allowed(change: &Change<'_>, fact: &Fact, has_history: bool) -> Result<(), Problem> {
    check_signer(change, fact, has_history)?;
    check_may(change, Act::Record(fact), has_history)
}

/// Asks who may do it and for whom, where nothing is recorded.
pub fn check_allowed_to(fleet: &Fleet, actor: &Actor, fact: &Fact, now: Instant) -> Result<(), Problem> {
    let has_history = actor.scopes.contains(&Scope::History);
    if fact.signed_by().is_some_and(|signer| signer != actor.member) && !has_history {
        return Err(Problem::ScopeMissing(Scope::History.as_str()));
    }
    let asker = Asker { member: actor.member, has_history };
    may(fleet, asker, Act::Record(fact), now).map_err(Problem::NotAllowed)
}

/// The Fleet as it would be with a fact, if its author may record it and nothing stands against it.
pub fn tried_out(fleet: &Fleet, actor: &Actor, fact: &Fact, now: Instant) -> Result<Fleet, Problem> {
    check_allowed_to(fleet, actor, fact, now)?;
    let broken = rules::check_by(fleet, fact, actor.member, now);
    if !broken.is_empty() {
        return Err(Problem::broken_rules(&broken));
    }
    let mut with = fleet.clone();
    with.apply(&Recorded {
        fact: fact.clone(),
        recorded_at: now,
        recorded_by: actor.member,
        revision: fleet.revision().saturating_add(1),
    });
    Ok(with)
}

/// A command that records one fact and answers with what then holds, or says beforehand what would. `shown` makes the
/// answer of the Fleet with the fact, at a moment.
pub async fn command<F: Rows, A: Serialize + Send + 'static>(
    state: &State,
    actor: &Actor,
    act: &'static str,
    is_preview: bool,
    fact: F,
    shown: impl Fn(&Fleet, Instant) -> Result<A, Problem> + Send + 'static,
) -> Result<HttpResponse, Problem> {
    if is_preview {
        let (held, now) = (actor.fleet(state).await?, state.now());
        let with = tried_out(&held.fleet, actor, &fact.into(), now)?;
        return Ok(HttpResponse::Ok().json(shown(&with, now)?));
    }
    let has_history = actor.scopes.contains(&Scope::History);
    let id = fact.id();
    let work = move |change: &mut Change<'_>| {
        let kept = add_in_door(change, act, fact.clone(), has_history)?;
        let answer = shown(change.fleet(), change.now())?;
        Ok::<_, Problem>(match kept {
            Kept::Recorded(_) => Kept::Recorded((answer, true)),
            Kept::Unchanged(_) => Kept::Unchanged((answer, false)),
        })
    };
    let (answer, is_new) = state.door.write_one(&actor.club, actor.member, id, work).await?;
    let mut response = if is_new { HttpResponse::Created() } else { HttpResponse::Ok() };
    Ok(response.json(answer))
}

/// Nobody speaks for another, unless their token is for entering history.
fn check_signer(change: &Change<'_>, fact: &Fact, has_history: bool) -> Result<(), Problem> {
    match fact.signed_by() {
        Some(signer) if signer != change.by() && !has_history => {
            Err(Problem::ScopeMissing(Scope::History.as_str()))
        }
        Some(_) | None => Ok(()),
    }
}

fn check_may(change: &Change<'_>, act: Act<'_>, has_history: bool) -> Result<(), Problem> {
    let asker = Asker { member: change.by(), has_history };
    may(change.fleet(), asker, act, change.now()).map_err(Problem::NotAllowed)
}

/// The id behind a name in a path.
pub async fn find_id(state: &State, actor: &Actor, noun: Noun, name: &str) -> Result<Uuid, Problem> {
    let held = actor.fleet(state).await?;
    if let Some(id) = held.names.find(noun, name) {
        return Ok(id);
    }
    if let Ok(id) = Uuid::parse_str(name) {
        return Ok(id);
    }
    let (club, tag) = (actor.club.clone(), name.to_owned());
    let found = state.door.read(move |_, conn| names::find_by_tag(conn, &club, noun, &tag)).await?;
    found.ok_or_else(|| not_found(noun, name))
}

/// The same for an item that the asker may see; whoever may not is told that there is none, before anything else
/// about the request is looked at.
pub async fn find_seen<F: Rows>(state: &State, actor: &Actor, name: &str) -> Result<Uuid, Problem> {
    let id = find_id(state, actor, F::NOUN, name).await?;
    let (held, now) = (actor.fleet(state).await?, state.now());
    let asker = Asker { member: actor.member, has_history: false };
    if may(&held.fleet, asker, Act::ReadFleet, now).is_ok() {
        return Ok(id);
    }
    let club = actor.club.clone();
    let stored: Option<Recorded<F>> =
        state.door.read_at(&actor.club, held.revision, move |_, conn| F::find(conn, &club, id)).await?;
    stored
        .filter(|stored| may_see(&held.fleet, actor.member, &stored.fact.clone().into(), now))
        .map(|_seen| id)
        .ok_or_else(|| not_found(F::NOUN, name))
}

/// There is no such item, or none that the asker may know of.
pub fn not_found(noun: Noun, name: &str) -> Problem {
    Problem::NotFound(format!("There is no `{name}` among the {noun}."))
}

/// What the asker may see of a stored fact.
#[derive(Serialize)]
#[serde(untagged)]
enum Shown<F> {
    /// All of it.
    Whole(Recorded<F>),
    /// Without what is personal.
    Partly(Value),
}

fn shown<F: Rows>(actor: &Actor, fleet: &Fleet, now: Instant, stored: Recorded<F>) -> Option<Shown<F>> {
    let fact: Fact = stored.fact.clone().into();
    if !may_see(fleet, actor.member, &fact, now) {
        return None;
    }
    match &fact {
        Fact::Member(member) if member.id != actor.member && !may_read_names(fleet, actor.member) => {
            let mut json = serde_json::to_value(&stored).ok()?;
            json.as_object_mut()?.remove("name");
            Some(Shown::Partly(json))
        }
        _ => Some(Shown::Whole(stored)),
    }
}

/// Finds one item by id or tag, as it stands or stood at a revision.
pub async fn find<F: Rows>(
    state: &State,
    actor: &Actor,
    name: &str,
    pairs: &[(String, String)],
) -> Result<HttpResponse, Problem> {
    let id = find_id(state, actor, F::NOUN, name).await?;
    let held = actor.fleet(state).await?;
    let at = asked_revision(pairs, held.revision)?;
    let club = actor.club.clone();
    let stored = state
        .door
        .read_at(&actor.club, held.revision, move |_, conn| match at {
            None => F::find(conn, &club, id),
            Some(revision) => find_at::<F>(conn, &club, id, revision),
        })
        .await?;
    let stored = stored.ok_or_else(|| not_found(F::NOUN, name))?;
    let etag = etag(&stored);
    let json = shown(actor, &held.fleet, state.now(), stored).ok_or_else(|| not_found(F::NOUN, name))?;
    Ok(HttpResponse::Ok()
        .insert_header((header::ETAG, etag))
        .insert_header((header::VARY, "Authorization, Cookie"))
        .json(json))
}

/// The revision that the query asks about.
fn asked_revision(pairs: &[(String, String)], newest: i64) -> Result<Option<i64>, Problem> {
    let mut at = None;
    for (name, value) in pairs {
        if name != "at_revision" {
            let text = "An item is asked for with `at_revision` only.".to_owned();
            return Err(Problem::bad_parameter(name, text));
        }
        at = value.parse().ok().filter(|revision| (0..=newest).contains(revision));
        if at.is_none() {
            let text = format!("`{value}` is not a revision from 0 to {newest}, the newest.");
            return Err(Problem::bad_parameter(name, text));
        }
    }
    Ok(at)
}

/// An item as it stood at a revision; nothing before its first and after its voiding.
fn find_at<F: Rows>(
    conn: &mut Db,
    club: &str,
    id: Uuid,
    revision: i64,
) -> Result<Option<Recorded<F>>, DoorError> {
    let versions = F::find_versions(conn, club, id)?;
    let last = versions.into_iter().filter(|version| version.revision <= revision).last();
    let Some(last) = last else { return Ok(None) };
    let of_item = Page::all_with("original", Wanted::Text(id.to_string()));
    let corrections = Correction::list(conn, club, &of_item)?;
    let is_void = corrections
        .iter()
        .any(|known| known.fact.is_void && (last.revision..=revision).contains(&known.revision));
    Ok((!is_void).then_some(last))
}

/// Lists items, a page at a time.
pub async fn list<F: Rows>(
    state: &State,
    actor: &Actor,
    path: &str,
    pairs: Vec<(String, String)>,
) -> Result<HttpResponse, Problem> {
    let held = actor.fleet(state).await?;
    let sight = sight_of(actor, &held, state.now());
    let page = Page::parse::<F>(&pairs, &sight, held.fleet.club().zone)?;
    let club = actor.club.clone();
    let asked = page.clone();
    let mut rows =
        state.door.read_at(&actor.club, held.revision, move |_, conn| F::list(conn, &club, &asked)).await?;
    let next = page.cut(&mut rows);
    let now = state.now();
    let items: Vec<Shown<F>> =
        rows.into_iter().filter_map(|row| shown(actor, &held.fleet, now, row)).collect();
    let mut response = HttpResponse::Ok();
    response.insert_header((header::VARY, "Authorization, Cookie"));
    if let Some(next) = &next {
        response.insert_header((header::LINK, next_link(path, &pairs, next)));
    }
    Ok(response.json(Listed { items, next }))
}
